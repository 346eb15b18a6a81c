"""The ring of two pieces that are one: the first lies still, the second is moved to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sizewright.drafting import Ring, Span, Zone
from sizewright.errors import GeometryError, InputError
from sizewright.geometry import Floats, Path, affine
from sizewright.model import Adjust, ChainPart, Mark, Pattern, Piece, Seam, walk
from sizewright.units import both

#: A move within this of none at all, mm, is none.
_STILL = 1e-9
#: A corner this near to where it meets is left alone, mm.
_MEETS = 1e-7
#: Lines whose ends are this near to each other are one, mm.
LINES_MEET = 0.01
#: Places on a side that are compared.
_SAMPLES = 129


@dataclass(frozen=True, eq=False)
class _Side:
    """One side of the seam: the outline from vertex `start` to `end`, counter-clockwise, and
    `path`, the same line as the seam walks it; `forward` where that is counter-clockwise."""

    piece: Piece
    start: int
    end: int
    forward: bool
    path: Path

    @property
    def ends(self) -> tuple[int, int]:
        """The vertices where the seam begins and ends on it."""
        return (self.start, self.end) if self.forward else (self.end, self.start)


def joined(
    pattern: Pattern,
    pieces: Mapping[str, Piece],
    names: tuple[str, str],
    seam: Seam,
    tolerance: float,
) -> tuple[Ring, float]:
    """The ring of both pieces of a seam, and by how much corners of the second were moved, mm.

    Raises GeometryError where the sides differ by more than `tolerance` mm, with the place, or
    where two folds would not fall in line; InputError where the pieces cannot be one.
    """
    one, other = (pieces[name] for name in names)
    _check_alike(one, other)
    first, second = _side(one, seam.first), _side(other, seam.second)
    move = _placed(first, second)
    _check_sides(first, second, move, tolerance, seam)
    other, most = _met(first, second, move, tolerance)
    other = _own_names(other, one, move)
    taken = tuple(n for p in (one, other) for n in p.notches if n.seam == seam.name)
    zones = Zone(one), Zone(other, move)
    spans = [
        Span(zones[0], first.end, first.start),
        Span(zones[1], second.end, second.start),
    ]
    stays = zones[1] if one.fold is None and other.fold is not None else zones[0]
    step = f"{names[1]} joined to {names[0]} along {seam.name}"
    return Ring(spans, step, stays, taken=taken), most


def _check_alike(one: Piece, other: Piece) -> None:
    """Raises InputError where two pieces are not lines of a kind, or not there equally often."""
    if one.kind != other.kind:
        raise InputError(
            f"the outline of {one.name} is a {one.kind} line, that of {other.name} "
            f"a {other.kind} line",
            cure='Say outline = "sew" of both.',
        )
    counts = [
        {q.material: q.count * (2 if p.fold is not None else 1) for q in p.quantity}
        for p in (one, other)
    ]
    for material in counts[0].keys() & counts[1].keys():
        a, b = (count[material] for count in counts)
        if a != b:
            raise InputError(
                f"the garment has {a} of {one.name} in {material} and {b} of {other.name} "
                "(a piece on the fold counts twice)",
                cure="Only pieces that are there equally often can be one.",
            )


def _side(piece: Piece, chain: tuple[ChainPart, ...]) -> _Side:
    """One side of a seam. Raises InputError where it is not one stretch without mouths."""
    outline = piece.outline
    n = len(outline.path)
    found: _Side | None = None
    for part in chain:
        run = piece.run(part.run)
        if piece.mouths(run):
            raise InputError(
                f'there is a dart or pleat in "{part.run}"',
                where=piece.title,
                cure="Only plain edges can be joined: move the dart elsewhere first.",
            )
        forward = walk(piece, run).backward == part.reverse
        path = outline.run_path(run)
        path = path if forward else path.reversed()
        here = _Side(piece, run.start % n, run.end % n, forward, path)
        if found is None:
            found = here
        elif found.ends[1] != here.ends[0] or found.forward != forward:
            raise InputError(
                f'"{part.run}" does not go on from the run before it',
                where=piece.title,
                cure="Only a seam along one stretch of each piece can be joined.",
            )
        else:
            start, end = (found.start, here.end) if forward else (here.start, found.end)
            found = _Side(piece, start, end, forward, Path.join([found.path, path]))
    assert found is not None
    return found


def _placed(first: _Side, second: _Side) -> Floats:
    """The rigid move (2, 3) of the second piece: the middles of both sides meet, and the sides
    lie on each other as nearly as they can. It is turned over where both run the same way."""
    turn = affine.identity()
    if first.forward == second.forward:
        turn = affine.scaling(-1.0, 1.0)
    a, b = first.path, second.path.transformed(turn)
    if np.array_equal(a.lines, b.lines):
        to, of = a.controls.reshape(-1, 2), b.controls.reshape(-1, 2)
        move = _turned_onto(of, to, of.mean(axis=0), to.mean(axis=0))
        if float(np.hypot(*(affine.apply(move, of) - to).T).max()) <= _MEETS:
            return _tidy(affine.compose(move, turn))
    to, of = _compared(a, b)
    middle = len(to) // 2
    return _tidy(affine.compose(_turned_onto(of, to, of[middle], to[middle]), turn))


def _tidy(move: Floats) -> Floats:
    still = affine.identity()
    return still if np.abs(move - still).max() <= _STILL / 1000.0 else move


def _turned_onto(of: Floats, to: Floats, about: Floats, onto: Floats) -> Floats:
    """The move that brings `about` onto `onto`, turned so that `of` lies nearest to `to`."""
    p, q = of - about, to - onto
    cross = float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum())
    size = float(np.hypot(cross, (p * q).sum()))
    cos, sin = (float((p * q).sum()) / size, cross / size) if size else (1.0, 0.0)
    linear = np.array([[cos, -sin], [sin, cos]])
    return np.column_stack([linear, onto - linear @ about])


def _compared(a: Path, b: Path) -> tuple[Floats, Floats]:
    """Places on both sides that meet, from the middles outwards: (m, 2) each."""
    reach = min(a.length, b.length) / 2
    away = np.linspace(-reach, reach, _SAMPLES)
    return a.at(a.length / 2 + away), b.at(b.length / 2 + away)


def _check_sides(first: _Side, second: _Side, move: Floats, tolerance: float, seam: Seam) -> None:
    a, b = first.path, second.path.transformed(move)
    longer = abs(a.length - b.length)
    to, of = _compared(a, b)
    off = np.hypot(*(of - to).T)
    k = int(off.argmax())
    if max(longer, float(off[k])) <= tolerance + 1e-9:
        return
    names = f"{first.piece.name} and {second.piece.name}"
    if longer >= float(off[k]):
        told = f"they are {both(a.length)} and {both(b.length)} long, {longer:.2f} mm apart"
    else:
        along = a.length / 2 + min(a.length, b.length) * (k / (_SAMPLES - 1) - 0.5)
        x, y = to[k]
        told = f"they lie {off[k]:.2f} mm apart {both(along)} along it, near ({x:.0f}, {y:.0f})"
    raise GeometryError(
        f"the sides on {names} are not alike: {told}",
        where=f'seam "{seam.name}"',
        cure=f"Sides may differ by {tolerance:g} mm: make them alike first, or set tolerance.",
    )


def _met(first: _Side, second: _Side, move: Floats, tolerance: float) -> tuple[Piece, float]:
    """The second piece with its corners at the seam, and the far end of its fold, where the
    first piece wants them; and by how much one was moved at most, mm."""
    one, other = first.piece, second.piece
    wanted = {b: one.outline.vertex_at(a) for a, b in zip(first.ends, second.ends, strict=True)}
    if one.fold is not None and other.fold is not None:
        wanted |= _in_line(one, second, move, wanted, tolerance)
    back = np.linalg.inv(move[:, :2])
    outline, most = other.outline, 0.0
    for vertex, place in wanted.items():
        to = back @ (place - move[:, 2])
        off = float(np.hypot(*(to - outline.vertex_at(vertex))))
        most = max(most, off)
        if off > _MEETS:
            step = to - outline.vertex_at(vertex)
            outline = outline.with_path(outline.path.with_moved(vertex, step))
    return replace(other, outline=outline), most


def _in_line(
    one: Piece, second: _Side, move: Floats, wanted: Mapping[int, Floats], tolerance: float
) -> dict[int, Floats]:
    """Where the far end of the second piece's fold lies on the line of the first one's fold."""
    outline, fold, goes_on = second.piece.outline, one.fold, second.piece.fold
    assert fold is not None
    assert goes_on is not None
    a, b = (one.outline.vertex_at(v) for v in (fold.start, fold.end))
    along = (b - a) / np.hypot(*(b - a))
    moved = {v: affine.apply(move, outline.vertex_at(v)) for v in (goes_on.start, goes_on.end)}
    off = {v: abs(float((at - a) @ np.array([-along[1], along[0]]))) for v, at in moved.items()}
    near = [
        v for v in moved if v in wanted and min(np.hypot(*(wanted[v] - e)) for e in (a, b)) == 0
    ]
    far = [v for v in moved if v not in near]
    if len(near) != 1 or off[far[0]] > tolerance:
        raise GeometryError(
            "both have a fold, and these would not fall in line but lie "
            f"{max(off.values()):.1f} mm apart",
            cure="Open one of them out at its fold first, or make the fold one straight line.",
        )
    return {far[0]: a + along * float((moved[far[0]] - a) @ along)}


def _own_names(piece: Piece, beside: Piece, move: Floats) -> Piece:
    """The piece with its own name before the names of features that `beside` bears too, but for
    lines that go on from a line of that name there."""

    def named(one: Any) -> Any:
        name = getattr(one, "name", None)
        alike = [
            f for f in beside.features if type(f) is type(one) and getattr(f, "name", None) == name
        ]
        if name is None or not alike or any(_goes_on(one, f, move) for f in alike):
            return one
        return replace(one, name=f"{piece.name}-{name}")

    return piece.with_features(named)


def _goes_on(one: Any, other: Any, move: Floats) -> bool:
    """Whether a line, moved, begins or ends where another does."""
    if not isinstance(one, Mark | Adjust) or one.path.closed or other.path.closed:
        return False
    ends = [affine.apply(move, at) for at in (one.path.start, one.path.end)]
    others = (other.path.start, other.path.end)
    return any(float(np.hypot(*(a - b))) <= LINES_MEET for a in ends for b in others)
