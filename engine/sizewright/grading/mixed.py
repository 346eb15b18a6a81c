"""Another size at another level: which size each point of each piece takes."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..errors import SizewrightError
from ..findings import Finding
from ..geometry.types import Floats
from ..model.frame import Frame, axis_frame
from ..model.matching import match_seam
from ..model.mixture import format_mixture, parse_mixture
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.seams import Seam
from ..model.walk import ChainWalk
from .fade import NEAREST, Anchor, Fade
from .levels import BELOW_HIP, LEVELS, level_name, level_points, no_level
from .sizes import size_at
from .tables import Growth

#: For each parted rule the one that it was, and the place (2,) of its point on the page.
Origin = Mapping[str, tuple[str, Floats]]
#: Sizes on the two sides of a seam may differ by this share of a step without a word.
_APART = 0.05


class SizedPiece(NamedTuple):
    """A piece with the size that it takes along its length."""

    piece: Piece
    frame: Frame
    fade: Fade

    def at(self, points: Floats) -> Floats:
        """Places in the order of sizes (m,) at page points (m, 2)."""
        return self.fade.at(self.frame.local(np.asarray(points))[..., 1])


class CapSize(NamedTuple):
    """A piece's size (a place in the order of sizes) from `length` mm along its axis upwards.

    `seam` is the one that it follows, `cap` its side of that.
    """

    piece: str
    seam: str
    cap: str
    length: float
    place: float

    def told(self, order: Sequence[str], label: str) -> Finding:
        """What is said of it."""
        size = size_at(order, self.place)
        return Finding(
            "cap-follows",
            "note",
            f"made in size {size} as far as its cap goes, so that {self.cap} goes on matching what "
            f"it is sewn to (--at {self.piece}=... gives it another)",
            self.piece,
            label,
            self.seam,
        )


def sized_pieces(
    pieces: Sequence[Piece],
    seams: Iterable[Seam],
    main: float,
    levels: Mapping[str, float],
    *,
    wanted: Iterable[str] = (),
    smooth: bool = False,
    caps: Sequence[CapSize] = (),
) -> tuple[tuple[SizedPiece, ...], tuple[Finding, ...]]:
    """The size along every piece, for a main size and other sizes at named levels.

    `main` and `levels` are places in the order of sizes; a level may also be the name of a
    piece, which then takes its size whole. Levels that are not named keep the main size,
    but those below the hip go with the hip. A piece without any of the named levels takes
    its size from the pieces that it is sewn to, else it is the main size; where only pieces are
    named, one with any level of its own keeps the main size. `smooth` as in `Fade`; `caps` as
    `caps_following` finds them. Raises
    LookupFailed for a level of `wanted` that no piece has, UsageError where levels lie
    across each other. Findings tell where two sides of a seam differ in size.
    """
    names = {p.name for p in pieces}
    whole = {k: v for k, v in levels.items() if k in names}
    asked = {level_name(k): v for k, v in levels.items() if k not in names}
    there = {k for k in asked if any(level_points(p, k, p.outline.path.vertices) for p in pieces)}
    for level in wanted:
        if level not in names and level_name(level) not in there:
            raise no_level(level_name(level), pieces)
    absent = [k for k in asked if k not in there]
    work = _Work(
        pieces, tuple(seams), main, whole, smooth, {k: v for k, v in asked.items() if k in there}
    )
    for cap in caps:
        work.follow(cap)
    work.settle()
    sized = tuple(work.sized(p.name) for p in pieces)
    findings = [_absent(absent)] if absent else []
    return sized, (*findings, *_apart(work, sized, {cap.seam for cap in caps}))


class _Work:
    def __init__(
        self,
        pieces: Sequence[Piece],
        seams: tuple[Seam, ...],
        main: float,
        whole: Mapping[str, float],
        smooth: bool,
        asked: Mapping[str, float],
    ) -> None:
        self.pattern = Pattern(tuple(pieces), seams=seams)
        self.main, self.whole, self.asked, self.smooth = main, whole, asked, smooth
        self.frames = {p.name: axis_frame(p)[0] for p in pieces}
        self.anchors: dict[str, list[Anchor]] = {}
        self.settled: set[str] = set(whole)
        for piece in pieces:
            self.anchors[piece.name] = list(self._own(piece))

    def _own(self, piece: Piece) -> Iterator[Anchor]:
        """The anchors of a piece's own points, or of the whole piece."""
        if piece.name in self.whole:
            yield Anchor(0.0, self.whole[piece.name], piece.name, True)
            return
        local = self.frames[piece.name].local(piece.outline.path.vertices)
        there = {level for level in LEVELS if level_points(piece, level, local)}
        # What hangs from the underarm and passes neither waist nor hip ends at no hip's hem.
        sleeve = "bust" in there and not there & {"waist", "hip"}
        for level in dict.fromkeys([*LEVELS, *self.asked]):
            points = level_points(piece, level, local)
            if points and (level in self.asked or not self.asked):
                # Where only pieces are named, one with levels of its own keeps its size.
                self.settled.add(piece.name)
            place = self.asked.get(level, self.main)
            if level in BELOW_HIP and level not in self.asked and not sleeve:
                place = self.asked.get("hip", self.main)
            for one in points:
                yield Anchor(one.length, place, level, level in self.asked)

    def follow(self, cap: CapSize) -> None:
        """A cap in a size of its own; what lies below it keeps its levels."""
        below = [a for a in self.anchors[cap.piece] if a.length < cap.length - NEAREST]
        self.anchors[cap.piece] = [*below, Anchor(cap.length, cap.place, f"cap {cap.seam}")]
        self.settled.add(cap.piece)

    def settle(self) -> None:
        """Sizes go over seams, from pieces that have a named level to those that have none."""
        waiting = [p.name for p in self.pattern.pieces if p.name not in self.settled]
        while waiting:
            news = {name: [*self._over_seams(name)] for name in waiting}
            news = {name: found for name, found in news.items() if found}
            if not news:
                return
            for name, found in news.items():
                near = [a.length for a in found]
                own = [
                    a
                    for a in self.anchors[name]
                    if min(abs(a.length - length) for length in near) >= NEAREST
                ]
                self.anchors[name] = _calmed([*own, *found])
                self.settled.add(name)
            waiting = [name for name in waiting if name not in news]

    def _over_seams(self, name: str) -> Iterator[Anchor]:
        for seam in self.pattern.seams:
            if name not in seam.pieces():
                continue
            try:
                match = match_seam(self.pattern, seam)
            except SizewrightError:
                continue  # a broken seam is for the check of seams to tell
            for own, other in ((match.first, match.second), (match.second, match.first)):
                yield from self._from(name, own, other, seam)

    def _from(self, name: str, own: ChainWalk, other: ChainWalk, seam: Seam) -> Iterator[Anchor]:
        done = 0.0
        for step in own.steps:
            if step.part.piece == name:
                for distance in (done, done + step.walk.length):
                    share = distance / own.length if own.length else 0.0
                    piece, s = other.place(share * other.length)
                    if piece.name not in self.settled:
                        continue
                    there = piece.outline.path.at(np.array([s]))
                    along = distance - done
                    if step.part.reverse:
                        along = step.walk.length - along
                    here = step.walk.arc_length(along)
                    at = step.walk.piece.outline.path.at(np.array([here]))
                    length = float(self.frames[name].local(at)[0, 1])
                    place = float(self.sized(piece.name).at(there)[0])
                    yield Anchor(length, place, f"seam {seam.name}")
            done += step.length

    def sized(self, name: str) -> SizedPiece:
        """A piece with what is known of its size so far."""
        piece = self.pattern.piece(name)
        anchors = self.anchors[name] or [Anchor(0.0, self.main, "main")]
        fade = Fade.through(anchors, piece=name, smooth=self.smooth)
        return SizedPiece(piece, self.frames[name], fade)


def _calmed(anchors: list[Anchor]) -> list[Anchor]:
    """Anchors of which those at one place along the length share their mean size."""
    groups: list[list[Anchor]] = []
    for one in sorted(anchors, key=lambda a: a.length):
        if groups and one.length - groups[-1][0].length < NEAREST:
            groups[-1].append(one)
        else:
            groups.append([one])
    out = []
    for group in groups:
        mean = float(np.mean([a.place for a in group]))
        out += [a._replace(length=group[0].length, place=mean) for a in group[:1]]
    return out


def _absent(levels: Sequence[str]) -> Finding:
    return Finding(
        "level-missing",
        "warn",
        f"no piece has a point at the level {', '.join(levels)}, so its measure changes nothing",
        cure="Name a point for it, such as side-hip for the hip.",
    )


def _apart(work: _Work, sized: Iterable[SizedPiece], matched: Collection[str]) -> Iterator[Finding]:
    """A warning for each seam whose two sides are not the same size at one of its ends, but for
    those that are matched in another way."""
    by_name = {one.piece.name: one for one in sized}
    for seam in work.pattern.seams:
        if seam.name in matched:
            continue
        try:
            match = match_seam(work.pattern, seam)
        except SizewrightError:
            continue
        worst = 0.0
        for share in (0.0, 1.0):
            ends = [chain.place(share * chain.length) for chain in (match.first, match.second)]
            places = [
                float(by_name[p.name].at(p.outline.path.at(np.array([s])))[0]) for p, s in ends
            ]
            worst = max(worst, abs(places[0] - places[1]))
        if worst > _APART:
            yield seam.finding(
                "sizes-apart",
                "warn",
                f"the two sides of the seam differ by {worst:.1f} sizes at an end of it",
                cure="Name the same levels on all of its pieces, or give a piece its size by name.",
            )


# --- the rules of one piece parted by points ------------------------------------------


def parted(piece: Piece) -> tuple[Piece, Origin]:
    """The piece with a rule name of its own at each ruled point and notch.

    So its grade map takes another size at each of them and stays linear. The mapping gives
    for each new name the old one and the place (2,) of the point on the page.
    """
    origin: dict[str, tuple[str, Floats]] = {}

    def own(rule: str, what: str, at: Floats) -> str:
        def name(one: str) -> str:
            origin[f"{one} {what}"] = (one, at)
            return f"{one} {what}"

        return format_mixture(parse_mixture(rule).renamed(name))

    outline = piece.outline
    for point in outline.points:
        if point.rule is not None:
            at = outline.vertex_at(point.vertex)
            rule = own(point.rule, f"at vertex {point.vertex}", at)
            outline = outline.with_point(point.vertex, rule=rule)
    notches = []
    for k, notch in enumerate(piece.notches):
        if notch.rule is not None:
            at = piece.outline.path.at(np.array([piece.outline.arc_length_of(notch.at)]))[0]
            notch = replace(notch, rule=own(notch.rule, f"at notch {k}", at))
        notches.append(notch)
    return replace(piece, outline=outline, notches=tuple(notches)), origin


def joined(piece: Piece, source: Piece) -> Piece:
    """A graded `parted` piece with the rule names of its `source` again."""
    outline = replace(piece.outline, points=source.outline.points)
    rules = [notch.rule for notch in source.notches]
    notches = tuple(replace(n, rule=r) for n, r in zip(piece.notches, rules, strict=True))
    return replace(piece, outline=outline, notches=notches)


def growth_by_point(
    sized: SizedPiece,
    origin: Origin,
    gains: Callable[[float], Growth],
) -> Growth:
    """What each parted rule gives: its old rule's amounts at the size of its place.

    `gains` tells what the rules give in going to a place in the order of sizes.
    """
    if not origin:
        return {}
    places = sized.at(np.array([at for _, at in origin.values()]))
    known: dict[float, Growth] = {float(p): gains(float(p)) for p in places}
    return {
        name: known[float(place)].get(rule, {})
        for (name, (rule, _)), place in zip(origin.items(), places, strict=True)
    }
