"""What is meant by the settings, piece by piece; the engine draws the cutting lines from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

from sizewright.drafting import allowance_faults, tight_places, with_cutting_line
from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.findings import Finding
from sizewright.geometry import Floats
from sizewright.grading import without_allowance
from sizewright.model import MIRRORED, Allowances, CornerKind, CornerShape, Pattern, Piece
from sizewright.plugin import Outcome, Values, working_on
from sizewright.units import both

from .widths import Changing, check_references, parse_changing, segment_widths, with_changing

#: No seam allowance is wider all round, mm.
_WIDEST = 80.0


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
    findings = list(_doubtful(values["width"]))
    failed: list[GeometryError] = []

    def allowed(piece: Piece) -> Piece:
        if only and piece.name not in only:
            return piece
        with working_on(piece):
            mine = tuple(c for c in changing if c.piece == piece.name)
            try:
                made = _allowed(pattern, piece, mine, values, findings)
            except GeometryError as error:
                if piece.title not in error.where:
                    error.at(piece.title)
                failed.append(error)
                return piece
        if not values["inward"]:
            findings.extend((*tight_places(made), *allowance_faults(made)))
        return made

    made = pattern.replacing(allowed)
    if failed:
        raise _all_at_once(failed)
    return Outcome(made, tuple(findings))


def _doubtful(width: float) -> Iterator[Finding]:
    """A warning for a width that no seam has: mm, cm and inches are easily mistaken."""
    if width > _WIDEST:
        text = f"an allowance of {both(width)} all round is wider than any seam needs"
        cure = f"{both(width / 10)} was probably meant; a deep hem is a width of its own (widths)."
        yield Finding("wide-allowance", "warn", text, cure=cure)


def _all_at_once(failed: Sequence[GeometryError]) -> GeometryError:
    """One error that names every piece that cannot be made."""
    if len(failed) == 1:
        return failed[0]
    told = "; ".join(f"{error.where}: {error.what}" for error in failed)
    cure = failed[0].cure
    return GeometryError(f"{len(failed)} pieces cannot be given their allowance: {told}", cure=cure)


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
            piece.finding(
                "line-assumed",
                "warn",
                f"it is not said what the outline is; it is taken for the {line} line",
                cure="Say so in the drawing or the job: outline sew or cut.",
            )
        )
    if inward:
        return _sewn_inside(piece, values)
    if piece.allowances is not None:
        findings.append(
            piece.finding(
                "allowance-replaced",
                "warn",
                f"it had an allowance, of {both(piece.allowances.default)} where no edge says "
                "otherwise; this one stands instead of it",
                cure="Leave one of the two out; one allowance may have a width for each edge.",
            )
        )
    work = with_changing(piece, changing)
    widths = segment_widths(work, values["width"], values["widths"], changing)
    meant = Allowances.of(
        work.outline.path,
        widths,
        default=values["width"],
        corner=values["corners"],
        corners=_corners(pattern, work, widths, values["corners"], values["corner-kinds"]),
        limit=values["mitre-limit"],
    )
    own = len(values["widths"]) + len(changing)
    step = f"allowance of {both(values['width'])}" + (", some edges otherwise" if own else "")
    made = with_cutting_line(replace(work, kind="sew", allowance=None, allowances=meant))
    return made.with_changes(step)


# --- which corner is what ---------------------------------------------------------


def _corners(
    pattern: Pattern, piece: Piece, widths: Floats, default: CornerKind, kinds: Mapping[str, str]
) -> tuple[CornerShape, ...]:
    """The corners of another kind than the default, and all that belong to one of their edges."""
    found = []
    outline = piece.outline
    for edge in outline.edges:
        if edge.from_corner is None:
            continue
        vertex = edge.end
        kind = _kind_at(piece, vertex, kinds, default)
        if kind == default and kind not in ("square", "fold-back"):
            continue
        before = _belongs_before(pattern, piece, widths, vertex, kind)
        found.append(CornerShape(vertex, kind, before))
    return tuple(found)


def _belongs_before(
    pattern: Pattern, piece: Piece, widths: Floats, vertex: int, kind: CornerKind
) -> bool:
    """Whether a corner's shape belongs to the edge that comes to it.

    Folded back is the wider allowance (the hem). Squared is the seam that is sewn first:
    the one that the pattern lists first, else the longer edge.
    """
    w_before, w_after = float(widths[vertex - 1, 1]), float(widths[vertex, 0])
    if kind == "fold-back" and abs(w_before - w_after) > 1e-6:
        return w_before > w_after
    edges = piece.outline.edges
    after = piece.outline.edge_from(vertex)
    before = edges[after.number - 2]
    rank = [_sewn_when(pattern, piece, edge.start) for edge in (before, after)]
    if rank[0] != rank[1]:
        return rank[0] < rank[1]
    return before.length >= after.length


def _sewn_when(pattern: Pattern, piece: Piece, start: int) -> int:
    for number, seam in enumerate(pattern.seams):
        for part in (*seam.first, *seam.second):
            if part.piece != piece.name:
                continue
            runs = []
            for name in (part.run, part.run + MIRRORED):
                with suppress(LookupFailed):
                    runs.append(piece.run(name))
            if any(piece.outline.holds(run, start) for run in runs):
                return number
    return len(pattern.seams)


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


def _kind_at(
    piece: Piece, vertex: int, kinds: Mapping[str, str], default: CornerKind
) -> CornerKind:
    # What is said of a corner holds for its mirror image too, unless that has its own.
    for key, kind in [*kinds.items(), *((k + MIRRORED, v) for k, v in kinds.items())]:
        if _means(piece, vertex, key):
            return kind  # type: ignore[return-value]
    return default


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
