"""A nest that says no sizes: the outlines of each kind of line, and which kinds are sizes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations, pairwise

import numpy as np
from shapely.geometry import Polygon

from ...budget import spend
from ...geometry.nearest import nearest_point
from ...geometry.path import Path
from .chains import join_ends
from .frames import at_page
from .going_on import Closed, Web, box_area, enclosed
from .kinds import Kind
from .lines import APART, role_of
from .loops import closed_within, runs_beside, same_line, sides
from .shapes import Drawing, Shape

#: A bit of a drawing: a line, and the shape that it is drawn in.
Bit = tuple[Shape, Path]
#: Outlines lie on each other by this share of both where they are sizes of one piece.
_MATES = 0.4
#: A straight line from edge to edge that leaves less than this share of a piece is no size's.
_CUT_OFF = 0.85
#: One size of a piece is larger than the next by at least this.
_LARGER = 1.0005
#: Closed lines whose longer side is below this are no outlines, mm.
_SMALLEST = 20.0
#: Ends touch lines within this many times the tolerance for joining.
_REACH = 3.0
#: So much of an outline's length is a size too, and no line within the piece.
_MUCH = 0.4
_ON = "sizes within one another"


@dataclass(eq=False)
class Outline:
    """The outline of one piece in one kind of line.

    `bits` are what of it is drawn in its own kind, `own` the share of its length, `strands` the
    numbers of the strands. `along` are lines that it goes on along, each as the number of the
    strand and the part of it. `made`: its lines do not close where just two ends meet.
    """

    path: Path
    kind: Kind
    bits: list[Bit]
    along: tuple[tuple[int, Path], ...] = ()
    own: float = 1.0
    strands: tuple[int, ...] = ()
    made: bool = False

    @cached_property
    def polygon(self) -> Polygon:
        """It, in chords."""
        return enclosed(self.path)


@dataclass(eq=False)
class Strand:
    """An open line of one kind, joined where just two ends meet."""

    path: Path
    kind: Kind
    bits: list[Bit]


@dataclass
class Nest:
    """Kinds with their outlines and open strands; `mates` are outlines of one piece.

    `alike` are kinds of line that draw several sizes, so that these cannot be told apart.
    """

    kinds: list[Kind]
    outlines: list[Outline] = field(default_factory=list)
    strands: list[Strand] = field(default_factory=list)
    mates: list[list[Outline]] = field(default_factory=list)
    alike: list[Kind] = field(default_factory=list)

    @property
    def sized(self) -> list[Kind]:
        """Kinds whose outlines lie within one another, the smaller first."""
        areas: dict[int, list[float]] = {}
        for group in self.mates:
            mean = float(np.mean([one.polygon.area for one in group]))
            for one in group:
                areas.setdefault(one.kind.number, []).append(one.polygon.area / mean)
        order = sorted(areas, key=lambda number: (float(np.mean(areas[number])), number))
        by_number = {kind.number: kind for kind in self.kinds}
        return [by_number[number] for number in order]

    def unclosed(self) -> dict[Kind, Strand]:
        """Kinds that draw much of a piece as the sizes of it do, but no outline of it.

        Each with the longest of its lines there.
        """
        done = {k for one in self.outlines for k in one.strands}
        done |= {line for one in self.outlines for line, _ in one.along}
        found: dict[Kind, Strand] = {}
        for group in self.mates:
            least = _MUCH * float(np.median([one.path.length for one in group]))
            bounds = np.array([one.path.bounds for one in group])
            low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
            for kind in self.kinds:
                left = [
                    strand
                    for k, strand in enumerate(self.strands)
                    if strand.kind is kind and k not in done
                    if ((middle := strand.path.at(strand.path.length / 2)) >= low).all()
                    if (middle <= high).all()
                ]
                drawn = all(one.kind is not kind for one in group)
                if drawn and sum(strand.path.length for strand in left) >= least:
                    found.setdefault(kind, max(left, key=lambda strand: strand.path.length))
        return found

    def twice(self) -> list[Kind]:
        """Kinds that have several outlines of one piece of a nest of several kinds."""
        found = []
        for group in self.mates:
            counted = Counter(one.kind for one in group)
            found += [kind for kind, count in counted.items() if count > 1]
        return list(dict.fromkeys(found))


def nest_of(kinds: Sequence[Kind], drawing: Drawing, tolerance: float) -> Nest:
    """The outlines of each kind, each going on along lines of others where its own ends."""
    nest = Nest(list(kinds))
    loops: list[Outline] = []
    reach = _REACH * tolerance
    for kind in kinds:
        closed, strands = _of_kind(kind, tolerance)
        loops += closed
        nest.strands += strands
    # Closed lines may be gone along as well; they stand behind the strands.
    web = Web([s.path for s in nest.strands] + [one.path for one in loops], reach)
    for kind in kinds:
        touching = [len(nest.strands) + k for k, one in enumerate(loops) if one.kind is kind]
        own = []
        for k, strand in enumerate(nest.strands):
            if strand.kind is not kind:
                continue
            if (path := _closed_on_itself(strand.path, reach)) is not None:
                one = Outline(path, kind, strand.bits, strands=(k,), made=True)
                nest.outlines.append(one)
            elif _may_close(web, k, nest.strands, touching):
                own.append(k)
        nest.outlines += [_outline(one, kind, nest.strands) for one in web.closings(own)]
    nest.outlines = loops + nest.outlines
    _settle(nest, drawing)
    return nest


def _settle(nest: Nest, drawing: Drawing) -> None:
    """Keep what can be an outline, and find which are sizes of one piece."""
    boxes = [one.path.bounds for one in nest.outlines]
    nest.outlines = [
        one
        for one in nest.outlines
        if sides(one.path)[1] >= _SMALLEST and not at_page(one.path, boxes, drawing)
    ]
    nest.outlines = _without_twins(nest.outlines)
    nest.mates = mates_of(nest.outlines)


def _of_kind(kind: Kind, tolerance: float) -> tuple[list[Outline], list[Strand]]:
    """What closes by itself of one kind, and what stays open."""
    closed, loose = _parted(kind, tolerance)
    joined = join_ends([path for _, path in loose], tolerance)
    for chain in joined.closed:
        closed.append(Outline(chain.path, kind, [loose[m] for m in chain.members]))
    strands = [Strand(c.path, kind, [loose[m] for m in c.members]) for c in joined.open]
    return closed, strands


def _parted(kind: Kind, tolerance: float) -> tuple[list[Outline], list[Bit]]:
    """Closed lines of a kind, and the others."""
    closed: list[Outline] = []
    loose: list[Bit] = []
    for shape, path in kind.bits:
        if role_of(shape) in APART:
            continue
        whole = closed_within(path, tolerance)
        if whole.closed:
            closed.append(Outline(whole, kind, [(shape, path)]))
        else:
            loose.append((shape, path))
    return closed, loose


def _closed_on_itself(path: Path, reach: float) -> Path | None:
    """The loop of a line that comes back to itself and goes on, as an outline does that was
    joined with the line that all sizes share."""
    found: list[Path] = []
    if len(path) == 1 and path.lines[0]:
        return None
    most = path.length - 20 * reach
    for turned in (path, path.reversed()) if most > 20 * reach else ():
        foot = nearest_point(turned.part(20 * reach, path.length), turned.start)
        s = foot.s + 20 * reach
        if foot.distance <= reach and s < most:
            part = turned.part(0.0, s)
            controls = part.controls.copy()
            controls[0, 0] = part.end
            found.append(Path(controls, part.lines, True))
    found = [loop for loop in found if sides(loop)[0] >= _SMALLEST / 2]
    return max(found, key=lambda loop: abs(loop.area), default=None)


def _may_close(web: Web, k: int, strands: Sequence[Strand], closed: Sequence[int]) -> bool:
    """Whether a strand may be part of an outline: both ends touch lines, and not just those of
    its own kind that it lies in, as a dart does."""
    touched = [{line for line, _ in web.touched(k, end)} for end in (0, 1)]
    if not all(touched):
        return False
    for line in touched[0] & touched[1]:
        if line in closed:
            return False
        if line < len(strands) and strands[line].kind is strands[k].kind:
            a, b = (strands[n].path.bounds for n in (k, line))
            if 4 * box_area(a) < box_area(b):
                return False
    return True


def _outline(one: Closed, kind: Kind, strands: Sequence[Strand]) -> Outline:
    bits = [bit for k in one.strands for bit in strands[k].bits]
    return Outline(one.path, kind, bits, one.along, one.own, one.strands, True)


def _without_twins(outlines: list[Outline]) -> list[Outline]:
    """Without outlines that are another kind's, gone along from a stretch that all share."""
    gone: set[int] = set()
    for a, b in combinations(outlines, 2):
        if a.kind is b.kind or (a.own > 0.999 and b.own > 0.999) or {id(a), id(b)} & gone:
            continue
        if not same_line(a.path, b.path, 0.05):
            continue
        gone.add(id(min((a, b), key=lambda one: (-_followed(one, a, b, outlines), one.own))))
    return [one for one in outlines if id(one) not in gone]


def _followed(one: Outline, a: Outline, b: Outline, outlines: Iterable[Outline]) -> int:
    """How many other kinds go along the strands of an outline."""
    if not one.strands:
        return -1
    own = set(one.strands)
    kinds = {
        other.kind.number
        for other in outlines
        if other.kind not in (a.kind, b.kind) and own & {line for line, _ in other.along}
    }
    return len(kinds)


def mates_of(outlines: Sequence[Outline], sized: Collection[Kind] = ()) -> list[list[Outline]]:
    """Outlines that are one piece in several sizes, two or more in each list.

    Two that are cutting and sewing line of one piece are not, unless they are known as `sized`.
    """
    root = list(range(len(outlines)))
    # Of lines that are drawn several times one place each: the first that is alike.
    alike = list(root)

    def top(k: int) -> int:
        while root[k] != k:
            k = root[k]
        return k

    for i, j in combinations(range(len(outlines)), 2):
        a, b = outlines[i], outlines[j]
        if _apart(a, b) or top(i) == top(j):
            continue
        if a.kind is b.kind and (alike[i] == alike[j] or same_line(a.path, b.path, 0.05)):
            alike[j] = alike[i]
            continue
        if not sized and _cut_off(a, b):
            continue
        spend(100, _ON)
        shared = a.polygon.intersection(b.polygon).area
        if shared >= _MATES * max(a.polygon.area, b.polygon.area):
            root[top(i)] = top(j)
    groups: dict[int, list[Outline]] = {}
    for k, one in enumerate(outlines):
        groups.setdefault(top(k), []).append(one)
    several = [group for group in groups.values() if len(group) > 1]
    if not sized and len(groups) > 2 * len(several) and all(map(_is_crossed, several)):
        return []
    return [g for g in several if not _is_seamed(g) or all(one.kind in sized for one in g)]


def _is_crossed(group: Sequence[Outline]) -> bool:
    """Whether it is an outline with a straight line from edge to edge, as a fold is."""
    small = min(group, key=lambda one: one.polygon.area)
    return len(group) == 2 and _crosses(small)


def _crosses(one: Outline) -> bool:
    return len(one.bits) == 1 and len(path := one.bits[0][1]) == 1 and bool(path.lines.all())


def _cut_off(a: Outline, b: Outline) -> bool:
    """Whether one is what a fold or a band line, drawn across the other, leaves of it."""
    small, large = sorted((a, b), key=lambda one: one.polygon.area)
    return _crosses(small) and small.polygon.area < _CUT_OFF * large.polygon.area


def _apart(a: Outline, b: Outline) -> bool:
    (x0, y0, x1, y1), (u0, v0, u1, v1) = a.path.bounds, b.path.bounds
    shared = max(0.0, min(x1, u1) - max(x0, u0)) * max(0.0, min(y1, v1) - max(y0, v0))
    return shared < _MATES * max(box_area(a.path.bounds), box_area(b.path.bounds))


def _is_seamed(group: Sequence[Outline]) -> bool:
    """Whether two lines are the cutting and the sewing line of one piece."""
    if len(group) != 2:
        return False
    inner, outer = sorted(group, key=lambda one: one.polygon.area)
    return runs_beside(inner.path, outer.path)


# --- one kind of line for all sizes ---------------------------------------------------------


def in_rows(kind: Kind, drawing: Drawing, tolerance: float) -> Nest:
    """The outlines of a nest that is drawn in one kind of line alone.

    Lines go straight on where they cross. A line that ends on others is closed along what is no
    part of another size; where sizes run together otherwise, nothing tells whose line it is.
    """
    closed, loose = _parted(kind, tolerance)
    joined = join_ends([path for _, path in loose], tolerance, straight_on=True)
    for chain in joined.closed:
        closed.append(Outline(chain.path, kind, [loose[m] for m in chain.members], made=True))
    strands = [Strand(c.path, kind, [loose[m] for m in c.members]) for c in joined.open]
    web = Web([s.path for s in strands] + [one.path for one in closed], _REACH * tolerance)
    found = []
    for k, strand in enumerate(strands):
        # Where several sizes begin, the one that holds what all share comes back by itself.
        whole = closed_within(strand.path, tolerance)
        if whole.closed:
            closed.append(Outline(whole, kind, strand.bits, strands=(k,), made=True))
        elif _may_close(web, k, strands, ()):
            found += web.closings([k])
    closed += [_outline(one, kind, strands) for one in _owners(found, len(strands))]
    nest = Nest([kind], closed, strands)
    _settle(nest, drawing)
    return nest


def _owners(found: list[Closed], strands: int) -> list[Closed]:
    """Loops that go along nothing but lines that all share; none where they go along each other.

    A line that all share closes along the outermost of them, to the same outline.
    """
    kept, shared = list(found), []
    while True:
        followed = Counter(line for one in kept for line in {line for line, _ in one.along})
        worst = max(kept, key=lambda one: followed[one.strands[0]], default=None)
        if worst is None or not followed[worst.strands[0]]:
            break
        kept.remove(worst)
        shared.append(worst)
    twins = all(any(same_line(a.path, b.path, 0.05) for b in kept) for a in shared)
    loose = all(line < strands for one in kept for line, _ in one.along)
    return kept if twins and loose else []


def by_rank(nest: Nest) -> bool:
    """Tell the outlines of one kind of line apart by which lies within which, as new kinds.

    False where pieces have different numbers of them, or some are equally large.
    """
    counts = {len(group) for group in nest.mates}
    areas = (sorted(one.polygon.area for one in group) for group in nest.mates)
    if len(counts) != 1 or any(b < a * _LARGER for found in areas for a, b in pairwise(found)):
        return False
    old = nest.kinds[0]
    count = counts.pop()
    kinds = [Kind(k + 1, old.style, old.layer) for k in range(count)]
    for k, kind in enumerate(kinds):
        at = f"number {k + 1} from the inside" if k else "the innermost"
        kind.text = f"{old.text}, {at if k < count - 1 else 'the outermost'}"
    for group in nest.mates:
        for kind, one in zip(kinds, sorted(group, key=lambda o: o.polygon.area), strict=True):
            one.kind = kind
            kind.bits += one.bits
    nest.kinds = kinds
    return True
