"""The cutting line of each piece, from its sewing line (or the other way round)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.findings import Finding
from sizewright.geometry import Floats, Path, merged_lines, self_crossings
from sizewright.grading import without_allowance
from sizewright.model import MIRRORED, Dart, Outline, Pattern, Piece
from sizewright.plugin import Outcome, Values, working_on
from sizewright.units import both

from .corners import Corner, Join, join
from .dart_caps import cap
from .sides import Side, sides_of
from .widths import Changing, check_references, parse_changing, segment_widths, with_changing


def allow(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with cutting lines; see the settings of the operation."""
    only = frozenset(values["pieces"])
    for name in only:
        pattern.piece(name)
    check_references(pattern, values["widths"])
    changing = tuple(parse_changing(text) for text in values["changing"])
    for one in changing:
        pattern.piece(one.piece)
    _check_points(pattern, values["corner-kinds"])
    findings: list[Finding] = []

    def allowed(piece: Piece) -> Piece:
        if only and piece.name not in only:
            return piece
        with working_on(piece):
            mine = tuple(c for c in changing if c.piece == piece.name)
            return _allowed(pattern, piece, mine, values, findings)

    return Outcome(pattern.replacing(allowed), tuple(findings))


def _allowed(
    pattern: Pattern,
    piece: Piece,
    changing: Sequence[Changing],
    values: Values,
    findings: list[Finding],
) -> Piece:
    inward = values["inward"]
    if not inward and piece.kind == "cut":
        raise InputError(
            "its outline is a cutting line, so it has its allowance already",
            cure="Take it out of the pieces, or draw the sewing line with inward = true.",
        )
    if inward and piece.kind == "sew":
        raise InputError(
            "its outline is a sewing line, so there is nothing to draw inside it",
            cure="Leave inward out to add allowance.",
        )
    if piece.kind == "unknown":
        line = "cutting" if inward else "sewing"
        findings.append(
            Finding(
                "line-assumed",
                "warn",
                f"it is not said what the outline is; it is taken for the {line} line",
                piece.name,
                piece.size or "",
                cure="Say so in the drawing or the job: outline sew or cut.",
            )
        )
    if inward:
        return _sewn_inside(piece, values)
    work = with_changing(piece, changing)
    widths = segment_widths(work, values["width"], values["widths"], changing)
    around = parallel_line(
        pattern, work, widths, values["corners"], values["corner-kinds"], values["mitre-limit"]
    )
    own = len(values["widths"]) + len(changing)
    step = f"allowance of {both(values['width'])}" + (", some edges otherwise" if own else "")
    return piece.with_changes(step, kind="sew", allowance=None, cut_line=Outline.of(around))


def parallel_line(
    pattern: Pattern,
    piece: Piece,
    widths: Floats,
    kind: str,
    kinds: Mapping[str, str],
    limit: float,
) -> Path:
    """The whole parallel outside a piece's outline, closed, corners joined.

    `widths` (n, 2) at the ends of each segment, mm. Raises
    GeometryError, with the place, where the parallel cannot be made one simple line.
    """
    sides = sides_of(piece, widths)
    if len(sides) == 1 and sides[0].parallel.closed:
        return _checked(sides[0].parallel, piece)
    reach = limit * float(np.abs(widths).max()) * 2 + 1.0
    carried = [_carried_on(side, reach) for side in sides]
    joins: list[Join] = []
    for k, side in enumerate(sides):
        following = sides[(k + 1) % len(sides)]
        corner = Corner(
            piece.outline.vertex_at(side.end),
            carried[k],
            carried[(k + 1) % len(sides)],
            reach,
            side.line.tangents_in[-1],
            following.line.tangents_out[0],
            side.out_at_end,
            following.out_at_start,
            side.w1,
            following.w0,
        )
        dart = _dart_at(piece, side.end)
        joined = None
        if dart is not None and dart.tip is not None:
            a, tip, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.tip, dart.b))
            joined = cap(corner, tip, a, b) or Join(corner.end, (), corner.begin)
        if joined is None:
            mine = _kind_at(piece, side.end, kinds, kind)
            joined = join(corner, mine, _first(pattern, piece, side, following, mine), limit)
        joins.append(joined)
    return _checked(_assembled(carried, joins), piece)


def _carried_on(side: Side, reach: float) -> Path:
    """A side's parallel, carried straight on by `reach` mm at both ends."""
    line = side.parallel
    before = Path.polyline(np.array([line.start - line.tangents_out[0] * reach, line.start]))
    after = Path.polyline(np.array([line.end, line.end + line.tangents_in[-1] * reach]))
    return Path.join([before, line, after])


def _assembled(carried: Sequence[Path], joins: Sequence[Join]) -> Path:
    parts: list[Path] = []
    for k, line in enumerate(carried):
        low, high = joins[k - 1].begin, joins[k].end
        if high - low > 1e-6:
            _append(parts, line.part(low, high))
        for between in joins[k].between:
            _append(parts, between)
    if parts and float(np.hypot(*(parts[-1].end - parts[0].start))) > 1e-6:
        _append(parts, Path.polyline(np.array([parts[-1].end, parts[0].start])))
    return merged_lines(Path.join(parts, closed=True))


def _append(parts: list[Path], path: Path) -> None:
    """Put a path at the end of the chain, with a straight step to it where it begins apart."""
    if parts and float(np.hypot(*(parts[-1].end - path.start))) > 1e-6:
        parts.append(Path.polyline(np.array([parts[-1].end, path.start])))
    parts.append(path)


def _checked(path: Path, piece: Piece) -> Path:
    """The line without the loops that swallowed edges leave, proved simple."""
    for _ in range(len(path)):
        crossed = [c for c in self_crossings(path) if c.kind != "touch"]
        if not crossed:
            break
        total = path.length
        best = min(crossed, key=lambda c: min(c.s1 - c.s0, total - (c.s1 - c.s0)))
        inner = best.s1 - best.s0 <= total / 2
        low, high = (best.s1, best.s0) if inner else (best.s0, best.s1)
        path = Path.join([path.part(low, high)], closed=True)
    else:
        x, y = path.start
        raise GeometryError(
            f"the allowance crosses itself near ({x:.0f}, {y:.0f})",
            cure="Make it narrower there.",
        )
    if path.area < piece.outline.path.area:
        raise GeometryError("no allowance of that width fits the outline", cure="Make it narrower.")
    return path


# --- which corner is what ---------------------------------------------------------


def _check_points(pattern: Pattern, kinds: Mapping[str, str]) -> None:
    for key in kinds:
        if not any(_is_point(piece, key) for piece in pattern.pieces):
            names = sorted({p.name for i in pattern.pieces for p in i.outline.points if p.name})
            raise LookupFailed(
                f'no corner is named "{key}"',
                cure=f"Write piece:point. Points: {', '.join(names) or 'none'}.",
            )


def _is_point(piece: Piece, key: str) -> bool:
    return any(_means(piece, v, key) for v in piece.outline.corners)


def _means(piece: Piece, vertex: int, key: str) -> bool:
    name, colon, point = key.partition(":")
    if colon and name.strip() != piece.name:
        return False
    text = (point if colon else key).strip()
    number = piece.outline.corner_number(vertex)
    known = piece.outline.point(vertex).name
    return text == known or (bool(colon) and number is not None and text == f"#{number}")


def _kind_at(piece: Piece, vertex: int, kinds: Mapping[str, str], default: str) -> str:
    # What is said of a corner holds for its mirror image too, unless that has its own.
    for key, kind in [*kinds.items(), *((k + MIRRORED, v) for k, v in kinds.items())]:
        if _means(piece, vertex, key):
            return kind
    return default


def _first(pattern: Pattern, piece: Piece, before: Side, after: Side, kind: str) -> bool:
    """Whether a corner's shape belongs to the edge before it.

    Folded back is the wider allowance (the hem). Squared is the seam that is sewn first:
    the one that the pattern lists first, else the longer edge.
    """
    if kind == "fold-back" and abs(before.w1 - after.w0) > 1e-6:
        return before.w1 > after.w0
    rank = [_sewn_when(pattern, piece, side) for side in (before, after)]
    if rank[0] != rank[1]:
        return rank[0] < rank[1]
    return before.line.length >= after.line.length


def _sewn_when(pattern: Pattern, piece: Piece, side: Side) -> int:
    n = len(piece.outline.path)
    for number, seam in enumerate(pattern.seams):
        for part in (*seam.first, *seam.second):
            if part.piece != piece.name:
                continue
            runs = []
            for name in (part.run, part.run + MIRRORED):
                with suppress(LookupFailed):
                    runs.append(piece.run(name))
            if any((side.start - run.start) % n < ((run.end - run.start) % n or n) for run in runs):
                return number
    return len(pattern.seams)


def _dart_at(piece: Piece, vertex: int) -> Dart | None:
    for dart in piece.darts:
        if dart.tip is not None and dart.a == vertex:
            return dart
    return None


# --- inward -----------------------------------------------------------------------


def _sewn_inside(piece: Piece, values: Values) -> Piece:
    """A piece whose outline is the cutting line, with its sewing line drawn inside."""
    if values["widths"] or values["changing"]:
        raise InputError(
            "inward takes one width for the whole piece",
            cure="Leave widths and changing out, or draw the sewing line.",
        )
    width = values["width"]
    sewn, _ = without_allowance(replace(piece, kind="cut", allowance=width, cut_line=None))
    step = f"sewing line drawn {both(width)} inside"
    return replace(sewn, cut_line=piece.outline, story=(*piece.story, step))
