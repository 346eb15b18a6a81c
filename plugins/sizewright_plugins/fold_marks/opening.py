"""Opening a half out at its fold: the whole piece, its names, and the seams that meet it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

import numpy as np

from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding
from sizewright.geometry import Floats, Path, affine
from sizewright.laying import spread_apart
from sizewright.model import (
    MIRRORED,
    ChainPart,
    Dart,
    Hold,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Point,
    Run,
    Seam,
    Side,
)
from sizewright.plugin import working_on

#: A fold may bend by this much, mm; a place this near to it lies on it.
_STRAIGHT = 0.05
#: Room between an opened piece and another, mm: both may get allowance yet.
_APART = 60.0

Feature = TypeVar("Feature")


@dataclass(frozen=True)
class _Halves:
    """A half outline and its mirror image joined at the fold, and where each vertex went.

    The drawn half keeps vertices 0 to `m` (from the fold's end round to its start); its
    image follows, so that vertex i is mirrored by vertex 2 m - i.
    """

    path: Path
    mirror: Floats
    first: int
    m: int
    old: int
    old_side: Side

    def to(self, vertex: int) -> int | None:
        """The new number of a vertex of the half; None inside the fold."""
        i = (vertex - self.first) % self.old
        return i if i <= self.m else None

    def image(self, vertex: int) -> int | None:
        """The number of its mirror image; on the fold that is itself."""
        i = self.to(vertex)
        return None if i is None else (2 * self.m - i) % (2 * self.m)

    @property
    def new_side(self) -> Side:
        """The side of the fold, looking up, on which the image lies."""
        return "left" if self.old_side == "right" else "right"


def open_pieces(pattern: Pattern, names: frozenset[str], findings: list[Finding]) -> Pattern:
    """The pattern with the named halves opened out, in every size, and its seams to match.

    Raises InputError for a piece that has no fold, GeometryError for a fold that bends.
    """

    def opened(piece: Piece) -> Piece:
        if piece.name not in names:
            return piece
        with working_on(piece):
            return open_out(piece, findings)

    kinds = {p.name: _run_kinds(p) for p in pattern.pieces if p.name in names}
    pairs = frozenset(p.name for p in pattern.pieces if p.pair and p.name not in names)
    seams = tuple(new for seam in pattern.seams for new in _opened_seams(seam, kinds, pairs))
    whole = replace(pattern.replacing(opened), seams=seams)
    whole, moved = spread_apart(whole, pattern, _APART)
    findings += moved
    return whole


def open_out(piece: Piece, findings: list[Finding]) -> Piece:
    """The whole piece of a half cut on the fold.

    Names on the new half end in `-mirrored`; a run that ends at the fold becomes one run
    across it under its own name. The fold becomes an internal line named `centre`, from
    which grading counts widths both ways.
    """
    if piece.fold is None:
        raise InputError("it has no fold to open out at", cure="Mark the edge with data-role fold.")
    old = piece.outline
    halves = _halves(piece)
    total = halves.path.length

    def name(text: str | None) -> str | None:
        return None if text is None else text + MIRRORED

    points: dict[int, Point] = {}
    for point in old.points:
        to, across = halves.to(point.vertex), halves.image(point.vertex)
        if to is None or across is None:
            findings.append(_lost(piece, "fold-point-lost", f'point "{point.name or point.rule}"'))
            continue
        points[across] = Point(across, name(point.name), point.rule)
        points[to] = replace(point, vertex=to)
    outline = Outline.of(halves.path, points=[points[v] for v in sorted(points)])
    for run in old.runs:
        for start, end, words in _stretches(halves, run.start, run.end, run.name or ""):
            outline = outline.with_run(Run(start, end, words))

    begin = float(old.path.cumulative[halves.first])

    def notch_twins(notch: Notch) -> Iterator[Notch]:
        s = (old.arc_length_of(notch.at) - begin) % old.path.length
        if s > total / 2 + 1e-6:
            findings.append(_lost(piece, "fold-notch-lost", "a notch on the fold"))
            return
        if notch.side in ("both", halves.old_side):
            yield replace(notch, at=outline.spot(s))
        if notch.side in ("both", halves.new_side) and 1e-6 < s < total / 2 - 1e-6:
            yield replace(
                notch,
                at=outline.spot(total - s),
                name=name(notch.name),
                keep=_OTHER_END[notch.keep],
            )

    def twins(
        things: Iterable[Feature], mirrored: Callable[[Feature], Feature]
    ) -> tuple[Feature, ...]:
        result: list[Feature] = []
        for thing in things:
            side: Side = getattr(thing, "side", "both")
            if side in ("both", halves.old_side):
                result.append(thing)
            if side in ("both", halves.new_side):
                result.append(mirrored(thing))
        return tuple(result)

    image = replace(piece, outline=old, cut_line=None).mapped(
        lambda p: affine.apply(halves.mirror, p)
    )
    images = {id(a): b for a, b in _pairs(piece, image)}
    fold = Path.polyline([old.vertex_at(piece.fold.start), old.vertex_at(piece.fold.end)])

    def mirrored(thing: Feature) -> Feature:
        other: Feature = images[id(thing)]  # type: ignore[assignment]
        label = getattr(other, "name", None)
        return replace(other, name=name(label)) if label else other  # type: ignore[type-var]

    return piece.with_changes(
        "opened out at the fold",
        outline=outline,
        cut_line=None if piece.cut_line is None else _open_line(piece.cut_line, halves, fold),
        fold=None,
        notches=tuple(twin for notch in piece.notches for twin in notch_twins(notch)),
        drills=twins(piece.drills, mirrored),
        marks=(*twins(piece.marks, mirrored), Mark(fold, "centre", "centre")),
        cutouts=twins(piece.cutouts, mirrored),
        adjusts=twins(piece.adjusts, mirrored),
        darts=tuple(d for dart in piece.darts for d in _darts(halves, dart)),
        pleats=tuple(
            Pleat(words, start, end)
            for pleat in piece.pleats
            for start, end, words in _stretches(halves, pleat.a, pleat.b, pleat.name)
        ),
        holds=tuple(h for hold in piece.holds for h in _holds(halves, hold)),
    )


_Keep = Literal["nearer", "start", "end"]
_OTHER_END: dict[_Keep, _Keep] = {"nearer": "nearer", "start": "end", "end": "start"}


def _halves(piece: Piece) -> _Halves:
    assert piece.fold is not None
    old = piece.outline
    a, b = old.vertex_at(piece.fold.start), old.vertex_at(piece.fold.end)
    line = old.run_path(Run(piece.fold.start, piece.fold.end))
    _check_straight(line, a, b)
    n = len(old.path)
    half = old.path.segments(piece.fold.end, piece.fold.start)
    mirror = affine.mirror(a, b)
    path = Path.join([half, half.transformed(mirror).reversed()], closed=True)
    up = np.array(piece.up)
    # The cloth lies left of the way round, so a fold walked upward has it on its left.
    side: Side = "left" if float((b - a) @ up) > 0 else "right"
    return _Halves(path, mirror, piece.fold.end % n, len(half), n, side)


def _check_straight(line: Path, a: Floats, b: Floats) -> None:
    across = line.controls.reshape(-1, 2) - a
    step = (b - a) / np.hypot(*(b - a))
    off = float(np.abs(across[:, 0] * step[1] - across[:, 1] * step[0]).max())
    if off > _STRAIGHT:
        raise GeometryError(f"the fold bends by {off:.2f} mm", cure="Draw it as one straight line.")


def _stretches(halves: _Halves, start: int, end: int, name: str) -> Iterator[tuple[int, int, str]]:
    """A stretch of the half as one across the fold, or as two that mirror each other."""
    i, j = halves.to(start), halves.to(end)
    whole = 2 * halves.m
    if i is None or j is None or i >= j:
        return
    if i == 0 and j == halves.m:
        return
    if j == halves.m:
        yield i, whole - i, name
    elif i == 0:
        yield whole - j, j, name
    else:
        yield i, j, name
        yield whole - j, whole - i, name + MIRRORED


def _darts(halves: _Halves, dart: Dart) -> Iterator[Dart]:
    a, b = halves.to(dart.a), halves.to(dart.b)
    if a is None or b is None:
        return
    tip = None if dart.tip is None else halves.to(dart.tip)
    yield replace(dart, a=a, b=b, tip=tip)
    apex = affine.apply(halves.mirror, np.array([dart.apex]))[0]
    whole = 2 * halves.m
    yield Dart(
        dart.name + MIRRORED,
        (whole - b) % whole,
        (whole - a) % whole,
        (float(apex[0]), float(apex[1])),
        None if tip is None else (whole - tip) % whole,
    )


def _holds(halves: _Halves, hold: Hold) -> Iterator[Hold]:
    kept = [i for v in hold.vertices if (i := halves.to(v)) is not None]
    twins = [(2 * halves.m - i) % (2 * halves.m) for i in kept]
    if not kept:
        return
    if set(kept) & set(twins):
        yield Hold(tuple(sorted({*kept, *twins})), hold.name)
    else:
        yield Hold(tuple(kept), hold.name)
        yield Hold(tuple(twins[::-1]), hold.name and hold.name + MIRRORED)


def _open_line(cut: Outline, halves: _Halves, fold: Path) -> Outline:
    """A cutting line opened out along the same fold."""
    a, b = fold.start, fold.end
    step = (b - a) / np.hypot(*(b - a))
    off = np.abs((cut.path.vertices - a) @ np.array([step[1], -step[0]]))
    on = off <= _STRAIGHT
    n = len(cut.path)
    runs = [k for k in range(n) if on[k] and on[(k + 1) % n] and cut.path.lines[k]]
    if not runs:
        raise GeometryError("its cutting line does not follow the fold")
    k = max(runs, key=lambda i: float(cut.path.segment_lengths[i]))
    half = cut.path.segments((k + 1) % n, k)
    whole = Path.join([half, half.transformed(halves.mirror).reversed()], closed=True)
    return Outline.of(whole)


def _pairs(piece: Piece, image: Piece) -> Iterator[tuple[object, object]]:
    for field in ("drills", "marks", "cutouts", "adjusts"):
        yield from zip(getattr(piece, field), getattr(image, field), strict=True)


def _lost(piece: Piece, code: str, what: str) -> Finding:
    return Finding(
        code, "note", f"{what} is gone with the opened fold", piece.name, piece.size or ""
    )


# --- seams ------------------------------------------------------------------------


def _run_kinds(piece: Piece) -> dict[str, str]:
    """How each named run lies to the fold: it `crosses` when opened, or has a twin `aside`."""
    kinds: dict[str, str] = {}
    if piece.fold is None:
        return kinds
    for run in piece.outline.runs:
        touches = run.end == piece.fold.start or run.start == piece.fold.end
        kinds[run.name or ""] = "crosses" if touches else "aside"
    return kinds


def _opened_seams(
    seam: Seam, kinds: dict[str, dict[str, str]], pairs: frozenset[str]
) -> Iterator[Seam]:
    """The seam with its opened pieces; a second one where all of it stands on both sides.

    A piece of a pair does: its other copy is sewn to the mirror image.
    """
    parts = (*seam.first, *seam.second)

    def kind(part: ChainPart) -> str:
        return kinds.get(part.piece, {}).get(part.run, "")

    first = tuple(p for part in seam.first for p in _opened_part(part, kind(part)))
    second = tuple(p for part in seam.second for p in _opened_part(part, kind(part)))
    yield replace(seam, first=first, second=second)
    aside = [kind(part) == "aside" and part.count == 1 for part in parts]
    paired = [part.piece in pairs and part.count == 1 for part in parts]
    if any(aside) and all(a or b for a, b in zip(aside, paired, strict=True)):

        def other(part: ChainPart) -> ChainPart:
            # Walked as the sides mirror each other: the twin of a run goes the other way.
            return part if part.piece in pairs else _twin(part)

        yield replace(
            seam,
            name=seam.name + MIRRORED,
            first=tuple(map(other, seam.first)),
            second=tuple(map(other, seam.second)),
        )


def _opened_part(part: ChainPart, kind: str) -> Iterator[ChainPart]:
    if part.count == 2 and kind == "crosses":
        yield replace(part, count=1)
    elif part.count == 2 and kind == "aside":
        yield replace(part, count=1)
        yield _twin(part)
    else:
        yield part


def _twin(part: ChainPart) -> ChainPart:
    return replace(part, run=part.run + MIRRORED, reverse=not part.reverse, count=1)
