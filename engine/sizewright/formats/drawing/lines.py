"""Closed and open lines of a drawing that says nothing of itself, however they were drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np

from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.types import Floats
from .chains import Joined, join_ends
from .drafts import Gathered
from .loops import MOST_LOOPS, closed_within, regions_of, same_line, sides
from .names import given, hint
from .shapes import Group, Shape
from .sizes import Sizes

#: What lies inside is judged on chords this near to the line, mm.
_CHORD = 0.1
#: Roles of layers whose lines never are part of another layer's outline.
APART = frozenset({"notch", "mark", "grain", "axis", "drill", "label", "adjust", "aside", "frame"})


def layer_of(group: Group) -> str | None:
    """The name of the layer or group that a person has named; None where there is none."""
    for one in group.chain():
        if one.element.kind == "layer" or (one.parent is not None and given(one.element.name)):
            return one.element.name
    return None


def role_of(shape: Shape) -> str:
    """The role that the name of a line, or else of its layer, hints at."""
    name = shape.element.name
    return (given(name) and hint(name)) or hint(layer_of(shape.group) or "")


@dataclass(eq=False)
class Loop:
    """A closed line with the shapes that it is made of; the first one speaks for it.

    `holes` are loops directly inside it that were drawn in the same shape. `layer` is the
    one that most of it is on.
    """

    path: Path
    shapes: tuple[Shape, ...]
    size: str | None
    holes: tuple[Path, ...] = ()

    @cached_property
    def layer(self) -> str | None:
        """The layer that most of it is on."""
        lengths: dict[str | None, float] = {}
        for shape in self.shapes:
            layer = layer_of(shape.group)
            lengths[layer] = lengths.get(layer, 0.0) + sum(p.length for p in shape.paths)
        return max(lengths, key=lambda layer: lengths[layer])

    @cached_property
    def hint(self) -> str:
        """The role that its layer hints at."""
        return hint(self.layer or "")

    @cached_property
    def side(self) -> float:
        """The longer side of its box, mm."""
        return sides(self.path)[1]

    @cached_property
    def area(self) -> float:
        """The area within it, mm2."""
        return abs(self.path.area)

    @cached_property
    def samples(self) -> Floats:
        """Nine points along it, (9, 2) mm."""
        return samples(self.path)

    @cached_property
    def ring(self) -> Floats:
        """The line in chords within 0.1 mm, its first point repeated: (n, 2)."""
        chords = flatten(self.path, _CHORD)
        return chords if np.array_equal(chords[0], chords[-1]) else np.vstack([chords, chords[:1]])

    def holds_words(self, shape: Shape) -> bool:
        """Whether most of the words of a shape begin inside."""
        return self.holds(np.array([text.at for text in shape.texts]))

    def holds(self, points: Floats) -> bool:
        """Whether most of `points` (m, 2) lie inside, by the even-odd rule."""
        x0, y0, x1, y1 = self.path.bounds
        boxed = ((points >= (x0, y0)) & (points <= (x1, y1))).all(axis=1)
        if boxed.mean() <= 0.5:
            return False
        a, b = self.ring[:-1], self.ring[1:]
        x, y = points[:, :1], points[:, 1:]
        across = (a[:, 1] <= y) != (b[:, 1] <= y)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
        inside = (across & (at > x)).sum(axis=1) % 2 == 1
        return float(inside.mean()) > 0.5


class Strand(NamedTuple):
    """An open line with the shapes that it is made of."""

    path: Path
    parts: tuple[tuple[Shape, Path], ...]

    @property
    def first(self) -> Shape:
        """The shape that speaks for it."""
        return self.parts[0][0]


@dataclass
class Lines:
    """Closed lines, and the open ones that are left."""

    loops: list[Loop] = field(default_factory=list)
    open: list[Strand] = field(default_factory=list)


def lines_of(shapes: Iterable[Shape], sizes: Sizes, out: Gathered) -> Lines:
    """Lines joined end to end: first within each group, then across the groups of one group,
    then across all; the latter only where they close."""
    found, told = Lines(), Joined()
    tolerance = out.options.join_tolerance
    groups: dict[int, list[Strand]] = {}
    for shape in shapes:
        settled = [closed_within(p, tolerance, told.gaps) for p in shape.paths]
        closed = tuple(p for p in settled if p.closed)
        if len(closed) > MOST_LOOPS:
            out.aside(shape, f"{len(closed)} loops in one path")
            continue
        for region in regions_of(closed) if closed else ():
            found.loops.append(Loop(region.outer, (shape,), sizes.of(shape), region.holes))
        key = id(shape.group)
        strands = (Strand(p, ((shape, p),)) for p in settled if not p.closed)
        groups.setdefault(key, []).extend(strands)
    left: list[Strand] = []
    for strands_of_group in groups.values():
        left += _joined(strands_of_group, tolerance, sizes, found, told, out)
    for across in (_outer_group, _whole_drawing):
        left = _closing(left, across, sizes, found, told, out)
    found.open = left
    found.loops = _without_copies(found.loops, told, out)
    out.tell_joined(told)
    return found


def _joined(
    strands: list[Strand],
    tolerance: float,
    sizes: Sizes,
    found: Lines,
    told: Joined,
    out: Gathered,
) -> list[Strand]:
    """What stays open of lines joined; closed ones go to `found`."""
    joined = join_ends([s.path for s in strands], tolerance)
    told.gaps += joined.gaps
    told.trims += joined.trims
    told.branches += joined.branches
    told.copies += joined.copies
    for i in joined.copies:
        for shape, _ in strands[i].parts:
            out.aside(shape, "a copy exactly on another line")
    chains = [(c.path, [p for i in c.members for p in strands[i].parts]) for c in joined.closed]
    for path, parts in chains:
        shapes = tuple(dict.fromkeys(shape for shape, _ in parts))
        found.loops.append(Loop(path, shapes, sizes.of(shapes[0])))
    return [
        Strand(c.path, tuple(p for i in c.members for p in strands[i].parts)) for c in joined.open
    ]


def _outer_group(shape: Shape) -> int:
    return id(shape.group.parent or shape.group)


def _whole_drawing(shape: Shape) -> int:
    return 0


def _closing(
    strands: list[Strand],
    key: Callable[[Shape], int],
    sizes: Sizes,
    found: Lines,
    told: Joined,
    out: Gathered,
) -> list[Strand]:
    """Open lines joined across groups where that closes them; others stay as they were."""
    groups: dict[int, list[Strand]] = {}
    for strand in strands:
        if role_of(strand.first) not in APART:
            groups.setdefault(key(strand.first), []).append(strand)
    gone: set[int] = set()
    for members in groups.values():
        if len({id(s.first.group) for s in members}) < 2:
            continue
        joined = join_ends([s.path for s in members], out.options.join_tolerance)
        for chain in joined.closed:
            used = [members[m] for m in chain.members]
            shapes = tuple(dict.fromkeys(shape for s in used for shape, _ in s.parts))
            found.loops.append(Loop(chain.path, shapes, sizes.of(shapes[0])))
            gone |= {id(s) for s in used}
            told.gaps += chain.gaps
            told.trims += chain.trims
    return [s for s in strands if id(s) not in gone]


def _without_copies(loops: list[Loop], told: Joined, out: Gathered) -> list[Loop]:
    """Of closed lines exactly on one another (a fill and its stroke) one is kept: a labelled
    one, or the first. The same line in another size or with another role says that other thing.
    """
    kept: list[Loop] = []
    cells: dict[tuple[int, int, int], list[int]] = {}
    for loop in loops:
        # Cells of 1 mm of corner and length, with their neighbours: twins meet in one.
        x, y = (round(v) for v in loop.path.bounds[:2])
        length = round(loop.path.length)
        near = [
            k
            for i in (-1, 0, 1)
            for j in (-1, 0, 1)
            for n in (-1, 0, 1)
            for k in cells.get((x + i, y + j, length + n), ())
        ]
        for k in near:
            twin, gone = kept[k], loop
            apart = twin.hint and loop.hint and twin.hint != loop.hint
            if apart or twin.size != loop.size or not same_line(twin.path, loop.path):
                continue
            if (not _labelled(twin) and _labelled(loop)) or (loop.hint and not twin.hint):
                kept[k], gone = loop, twin
            of = kept[k].shapes[0].name or "another line"
            told.copies.append(k)
            for shape in gone.shapes:
                out.aside(shape, f"a copy exactly on {of}")
            break
        else:
            cells.setdefault((x, y, length), []).append(len(kept))
            kept.append(loop)
    return kept


def _labelled(loop: Loop) -> bool:
    """Whether a person has named the line, or its clone."""
    first = loop.shapes[0]
    return bool(first.element.label or (first.via is not None and first.via.label))


def samples(path: Path) -> Floats:
    """Nine points along a path, its ends left out, (9, 2) mm."""
    return path.at(np.linspace(0.05, 0.95, 9) * path.length)
