"""What is made where: darts on the pieces asked for, and what answers them over seams."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from sizewright.drafting import Settled
from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.geometry import Path, crossings
from sizewright.model import (
    Amount,
    Pattern,
    Piece,
    Place,
    Pressed,
    SeamMatch,
    counts_backward,
    match_seam,
    on_outline,
)
from sizewright.plugin import Values, pieces_asked

from .making import Wanted

#: Between the mouths of several darts at one place where nothing else is said, mm.
_BETWEEN = 25.4
#: A band is no deeper than this, mm, and its edges are parallel within this, degrees.
_DEEPEST = 150.0
_PARALLEL = 10.0
#: Two places nearer than this are one, mm.
_SAME = 0.01


@dataclass(frozen=True)
class Asked:
    """The settings of `dart`, checked against each other."""

    at: tuple[Place, ...]
    count: int
    take: Amount | None
    excess: Amount | None
    apart: Amount | None
    length: Amount | None
    tip: Place | None
    pressed: Pressed | None
    name: str | None
    across: tuple[str, ...]
    across_length: Amount | None
    pieces: tuple[str, ...]

    @classmethod
    def of(cls, pattern: Pattern, values: Values) -> Asked:
        """Raises InputError where they contradict each other, LookupFailed for a piece or seam
        that is not there."""
        at: Sequence[Place] = values["at"]
        names = [*values["pieces"], *([values["piece"]] if values["piece"] else [])]
        names = names or [place.piece for place in at if place.piece]
        if names or len(pattern.names) > 1:
            names = [*pieces_asked(pattern, {"piece": None, "pieces": names})]
        else:
            names = [*pattern.names]
        for place in at:
            if place.piece is not None and place.piece not in names:
                raise InputError(
                    f'the place "{place.text}" is on another piece', cure="Say that piece too."
                )
        if (values["take"] is None) == (values["excess"] is None):
            raise InputError(
                "one of take and excess tells how wide a dart is",
                cure='Say take = "3 cm" (each dart), or excess = "6 1/2 in" (the whole garment).',
            )
        if values["kind"] == "single" and (values["tip"] is None) == (values["length"] is None):
            raise InputError(
                "one of length and tip tells where a dart ends",
                cure='Say length = "12 cm", or tip = "PLACE".',
            )
        if values["tip"] is not None and len(at) * values["count"] > 1:
            raise InputError(
                "several darts cannot end at one tip", cure="Say length, or make them one by one."
            )
        known = {seam.name for seam in pattern.seams}
        for name in values["across"]:
            if name not in known:
                raise LookupFailed(
                    f'no seam "{name}"', cure=f"Seams: {', '.join(sorted(known)) or 'none'}."
                )
        if values["across"] and values["across-length"] is None and values["length"] is None:
            raise InputError(
                "nothing says how long the darts across are", cure='Say across-length = "12 cm".'
            )
        keys = ("take", "excess", "apart", "length", "tip", "pressed", "name")
        return cls(
            at=tuple(at),
            count=values["count"],
            across=tuple(values["across"]),
            across_length=values["across-length"] or values["length"],
            pieces=tuple(names),
            **{key: values[key] for key in keys},
        )

    def places(self, piece: str) -> list[Place]:
        """The places that speak of a piece."""
        return [place for place in self.at if place.piece in (None, piece)]

    def each(self, pattern: Pattern, piece: Piece) -> float:
        """The take of one dart, mm. The excess is of the whole garment."""
        if self.take is not None:
            return self.take.of(pattern, piece)
        assert self.excess is not None
        darts = sum(
            pattern.piece(name).times * len(self.places(name)) * self.count for name in self.pieces
        )
        return self.excess.of(pattern, piece) / darts


@dataclass
class Plan:
    """What is to be done to each piece in one size: darts, and places where a band is shortened.

    `gathers`: by how much more each seam is gathered, mm.
    """

    darts: dict[str, list[Wanted]] = field(default_factory=dict)
    bands: dict[str, list[tuple[float, float, float]]] = field(default_factory=dict)
    gathers: dict[str, float] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """All pieces that it touches."""
        return tuple(dict.fromkeys([*self.darts, *self.bands]))


def as_seen(pattern: Pattern, pieces: Mapping[str, Piece]) -> Pattern:
    """The pattern with one piece of each name: those of one size, or their bases."""
    size = next((p.size for p in pieces.values() if p.size is not None), None)
    are_base = any(p.base is q for p in pattern.pieces for q in pieces.values())
    out = []
    for name in pattern.names:
        one = pattern.piece(name, size if size in pattern.sizes else None)
        out.append(pieces.get(name, one.base if are_base and one.base is not None else one))
    return pattern.with_pieces(out)


def planned(pattern: Pattern, pieces: Mapping[str, Piece], asked: Asked, settled: Settled) -> Plan:
    """The darts of one size, on the pieces asked for and across their seams."""
    plan = Plan()
    seen = as_seen(pattern, pieces)
    for name in asked.pieces:
        piece = seen.piece(name)
        for wanted in _own(pattern, piece, asked, settled):
            _add(plan, piece, wanted, settled)
    taken = [(seen.piece(name), one) for name, found in plan.darts.items() for one in found]
    for piece, wanted in taken:
        _follow(seen, asked, plan, piece, wanted, settled)
    return plan


def _own(pattern: Pattern, piece: Piece, asked: Asked, settled: Settled) -> list[Wanted]:
    take = asked.each(pattern, piece)
    apart = take + _BETWEEN if asked.apart is None else asked.apart.of(pattern, piece)
    length = None if asked.length is None else asked.length.of(pattern, piece)
    tip = None if asked.tip is None else settled.place(piece, asked.tip).point
    if take <= 0 or (length is not None and length <= 0):
        raise InputError("a dart needs a take and a length above nothing", where=piece.title)
    places = asked.places(piece.name)
    if not places:
        raise InputError("no place is said for a dart on it", where=piece.title)
    found: list[Wanted] = []
    for place in places:
        s = on_outline(piece, place, settled.place(piece, place))
        run = _run_at(piece, s)
        way = -1 if run and counts_backward(piece, piece.run(run)) else 1
        for k in range(asked.count):
            at = s + way * apart * (k - (asked.count - 1) / 2)
            number = len(places) * asked.count
            words = asked.name or run or "dart"
            words = f"{words}-{len(found) + 1}" if number > 1 else words
            found.append(Wanted(words, at, take, length, tip, asked.pressed, place.text))
    return found


def _run_at(piece: Piece, s: float) -> str | None:
    """The shortest named run that a place of the outline lies on."""
    outline = piece.outline
    on = [
        (outline.run_length(run), run.name)
        for run in outline.runs
        if run.name
        and (s - float(outline.path.cumulative[run.start])) % outline.path.length
        < outline.run_length(run)
    ]
    return min(on)[1] if on else None


def _add(plan: Plan, piece: Piece, wanted: Wanted, settled: Settled) -> None:
    """One more dart on a piece; its name is one that no other dart there has."""
    on = plan.darts.setdefault(piece.name, [])
    there = {d.name for d in piece.darts} | {w.name for w in on}
    taken = {n for d in there for n in (d, f"{d}-dart", d.removesuffix("-dart"))}

    def free() -> str:
        name, number = wanted.name, 2
        while name in taken:
            name, number = f"{wanted.name}-{number}", number + 1
        return name

    name = settled.once(f"{piece.name}: dart {len(on)} {wanted.name}", free)
    on.append(replace(wanted, name=name))


# --- over the seams -------------------------------------------------------------------------


def _follow(
    seen: Pattern, asked: Asked, plan: Plan, piece: Piece, wanted: Wanted, settled: Settled
) -> None:
    """What the other sides of the seams asked for do about one dart."""
    seams = [next(s for s in seen.seams if s.name == name) for name in asked.across]
    ends, reached = [(piece, wanted.s % piece.outline.path.length)], False
    for k, seam in enumerate(seams):
        match = match_seam(seen, seam)
        further = seams[k + 1 :]
        onward = []
        for here, s in ends:
            more = wanted.take * len(list(match.second.distances(here.name, s)))
            if more and seam.ease is not None and seam.ease.kind == "gather":
                plan.gathers[seam.name] = plan.gathers.get(seam.name, 0.0) + more
                reached = True
                continue
            met = _met(match, here, s)
            reached = reached or bool(met)
            if not met:
                onward.append((here, s))
            for mate, there in met:
                opposite = _opposite(mate, there)
                length = asked.across_length.of(seen, mate) if asked.across_length else 0.0
                between = any(mate.name in later.pieces() for later in further)
                shallow = _is_shallow(mate, there, opposite, length)
                band = settled.once(
                    f"{seam.name}: {mate.name} is a band",
                    partial(bool, between or shallow),
                )
                if band:
                    known = plan.bands.setdefault(mate.name, [])
                    if all(abs(there - one[0]) > _SAME for one in known):
                        known.append((there, opposite, wanted.take))
                        onward.append((mate, opposite))
                elif not _known(plan, mate, there):
                    words = f"{wanted.place} on {piece.name}"
                    one = replace(wanted, s=there, length=length, tip=None, place=words)
                    _add(plan, mate, one, settled)
        ends = onward
    if seams and not reached:
        raise InputError(
            f'the dart "{wanted.name}" lies on none of the seams {", ".join(asked.across)}',
            where=piece.title,
            cure="Name the seam that its edge is sewn in.",
        )


def _met(match: SeamMatch, piece: Piece, s: float) -> list[tuple[Piece, float]]:
    """What meets a place over a seam: pieces, each with the arc length there."""
    found: list[tuple[Piece, float]] = []
    for on_second, own, other in (
        (False, match.first, match.second),
        (True, match.second, match.first),
    ):
        for distance in own.distances(piece.name, s):
            there = match.to_first(distance) if on_second else match.to_second(distance)
            mate, at = other.place(min(max(there, 0.0), other.length))
            if all(mate is not m or abs(at - t) > _SAME for m, t in found):
                found.append((mate, at))
    return found


def _known(plan: Plan, piece: Piece, s: float) -> bool:
    return any(abs(one.s - s) < _SAME for one in plan.darts.get(piece.name, ()))


def _is_shallow(piece: Piece, s: float, opposite: float, length: float) -> bool:
    """Whether a piece is a band at a place: not as deep as a dart is long, its edges parallel."""
    path = piece.outline.path
    depth = float(np.hypot(*(path.at(opposite) - path.at(s))))
    along = float(path.tangents(s) @ path.tangents(opposite))
    return depth <= min(length, _DEEPEST) and along < -math.cos(math.radians(_PARALLEL))


def _opposite(piece: Piece, s: float) -> float:
    """The arc length where a line square to the edge at `s` leaves the piece again."""
    path = piece.outline.path
    along = path.tangents(s)
    x0, y0, x1, y1 = path.bounds
    reach = float(np.hypot(x1 - x0, y1 - y0))
    start = path.at(s)
    line = Path.polyline([start, start + reach * np.array([-along[1], along[0]])])
    found = [c.s1 for c in crossings(line, path) if c.s0 > _SAME]
    if not found:
        raise GeometryError("nothing lies opposite its edge", where=piece.title)
    return float(found[0])
