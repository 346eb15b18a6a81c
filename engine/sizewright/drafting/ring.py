"""An outline told as a ring: stretches of old outlines and new lines, in order.

Dividing, redrawing, opening a half at its fold, slashing, joining: each says the new outline
as such a ring. What lies on a stretch comes along with it; see `bearing`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Any, Literal, TypeVar

import numpy as np

from ..errors import GeometryError
from ..findings import Finding
from ..geometry import affine
from ..geometry.crossings import self_crossings
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model.features import Dart, Drill, Mark, Pleat
from ..model.outline import CORNER_ANGLE, in_corner_order
from ..model.piece import Piece
from ..model.place import Located, Place, locate
from ..model.rule_weights import RuleWeights
from ..model.vec import Side

#: Ends that follow each other in a ring lie within this of each other, mm.
_MEET = 1e-6

T = TypeVar("T")
Slides = Literal["first", "last", "either"]


@dataclass(frozen=True, eq=False)
class Zone:
    """A part of a piece that lies still, moves rigidly, or is mirrored, with all that it bears.

    `move` is an affine map (2, 3). `region`: what lies inside this closed line, on the piece
    as it was, goes with the zone; None: everything. `side`: only features of that side go.
    `ending` is put to every name that comes with it; without one a name keeps its words.
    """

    piece: Piece
    move: Floats = field(default_factory=affine.identity)
    region: Path | None = None
    edge: Path | None = None
    side: Side = "both"
    ending: str = ""

    @cached_property
    def mirrored(self) -> bool:
        """Whether the zone is turned over."""
        return affine.determinant(self.move) < 0

    @cached_property
    def still(self) -> bool:
        """Whether the zone stays where it is, to the bit."""
        return bool(np.array_equal(self.move, affine.identity()))


@dataclass(frozen=True, eq=False)
class Span:
    """The old outline from vertex `start` to vertex `end`, counter-clockwise on its piece.

    Equal vertices mean once round. In a mirrored zone it is walked from its end to its start.
    """

    zone: Zone
    start: int
    end: int


@dataclass(frozen=True, eq=False)
class Line:
    """A new line of the outline, as an open path in the new piece's place.

    `name` names the run that it makes. `goes_on`: runs of old outlines that go on over it, as
    a hem does over a slash; "fold" is the fold. `stands_for`: runs of the piece that stays which
    are gone, and in whose place it is: seams, notches and allowance follow. `fold`: it is laid on
    the fold. `mouth`: a dart or pleat of which it is the mouth; `points` name its vertices, a
    span's name at a joint going before, `rules` are theirs. All count vertices from its start.
    """

    path: Path
    name: str | None = None
    goes_on: tuple[str, ...] = ()
    stands_for: tuple[str, ...] = ()
    fold: bool = False
    mouth: Dart | Pleat | None = None
    points: Mapping[int, str] = field(default_factory=dict)
    rules: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FairEdge:
    """An edge that is faired as a whole (see `edges`): `joints` are elements by number, at whose
    start it was cut, in order round the outline. `slides`: the end that slides, at the last
    joint's side or the first's, or either where it is a free corner, so that its length stays;
    None where both ends stay.
    """

    joints: tuple[int, ...]
    slides: Slides | None = None


@dataclass(frozen=True, eq=False)
class Ring:
    """A new piece: its outline counter-clockwise, and what stays.

    `stays` is the zone whose piece gives quantity, kind, grain and axis; by default that of
    the first span. `stands_for`: old runs that are gone, each with the run that stands for it
    (the other half of a closed piece). `marks` and `drills` are put on, `step` goes into the
    story. `taken`: features that the edit has used up, of which nothing is said. `fair`: elements
    by number, at whose start the outline is faired (see `fairing`); `edges`: edges faired whole
    (see `edges`). `bridged`: marks and adjust lines that cross an opening run on over it, straight.
    """

    elements: Sequence[Span | Line]
    step: str
    stays: Zone | None = None
    stands_for: Mapping[str, str] = field(default_factory=dict)
    marks: tuple[Mark, ...] = ()
    drills: tuple[Drill, ...] = ()
    taken: tuple[Any, ...] = ()
    fair: tuple[int, ...] = ()
    edges: tuple[FairEdge, ...] = ()
    bridged: bool = False

    @property
    def spans(self) -> tuple[Span, ...]:
        """Its stretches of old outlines."""
        return tuple(e for e in self.elements if isinstance(e, Span))

    @property
    def zones(self) -> tuple[Zone, ...]:
        """Its zones, each once, in ring order."""
        return tuple(dict.fromkeys(s.zone for s in self.spans))

    @property
    def staying(self) -> Zone:
        """The zone that stays."""
        return self.stays or self.spans[0].zone


class Settled:
    """What an edit decides on the base, and does alike in every other size."""

    def __init__(self) -> None:
        self._kept: dict[str, Any] = {}
        #: The places that were looked for, by piece and words.
        self.places: dict[tuple[str, str], Place] = {}
        self._found: dict[tuple[str, str], tuple[Finding, ...]] = {}

    def once(self, what: str, decide: Callable[[], T]) -> T:
        """What was decided the first time that `what` was asked; decided now if never."""
        if what not in self._kept:
            self._kept[what] = decide()
        kept: T = self._kept[what]
        return kept

    def place(self, piece: Piece, place: Place) -> Located:
        """Where a place lies (see `model.locate`); which of several is decided on the base.

        Raises GeometryError where there are fewer or more to choose from than on the base.
        """

        def pick(text: str, away: Sequence[float]) -> int:
            nearest = int(np.argmin(away))
            chosen, of = self.once(f"{piece.name}: {text}", lambda: (nearest, len(away)))
            if of != len(away):
                raise GeometryError(
                    f"it is there {len(away)} times, and {of} times on the base",
                    cure="Say the place by a length or a share along the run.",
                )
            return int(chosen)

        key = piece.name, place.text
        self.places[key] = place
        found = locate(piece, place, pick)
        self._found.setdefault(key, found.findings)
        return found

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was chosen of several."""
        return tuple(f for found in self._found.values() for f in found)


@dataclass(frozen=True, eq=False)
class Placed:
    """A span as it stands in a new outline of `around` vertices: from vertex `at`, `count` long.

    Vertices and arc lengths of the old outline are looked up on the new one.
    """

    zone: Zone
    start: int
    count: int
    at: int
    around: int

    @property
    def old(self) -> int:
        """How many vertices the old outline has."""
        return len(self.zone.piece.outline.path)

    def vertex(self, old: int) -> int | None:
        """The new number of an old vertex; None where it does not lie on the span."""
        k = (old - self.start) % self.old
        if k > self.count:
            return None
        return (self.at + (self.count - k if self.zone.mirrored else k)) % self.around

    def stretches(self, start: int, end: int) -> Iterator[tuple[int, int, int, bool]]:
        """What of an old stretch lies on the span: new ends (unwrapped), where on the old
        stretch it begins, in segments, and whether it is the whole stretch."""
        long = (end - start) % self.old or self.old
        first = (start - self.start) % self.old
        for begin in (first, first - self.old):
            low, high = max(begin, 0), min(begin + long, self.count)
            if high <= low:
                continue
            a, b = (self.count - high, self.count - low) if self.zone.mirrored else (low, high)
            yield self.at + a, self.at + b, low - begin, high - low == long

    def arc_length(self, old: float, path: Path) -> float | None:
        """Arc length on the new `path` of one on the old outline; None where it is not on it."""
        was = self.zone.piece.outline.path
        begin = float(was.cumulative[self.start])
        long = float(was.cumulative[(self.start + self.count) % self.old]) - begin
        long = long if long > 0 else long + was.length
        along = (old - begin) % was.length
        if was.length - along < _MEET:
            along = 0.0
        if along > long + _MEET:
            return None
        here = float(path.cumulative[self.at % self.around])
        return (here + (long - along if self.zone.mirrored else along)) % path.length


@dataclass(frozen=True, eq=False)
class Drawn:
    """A ring drawn: the closed path, its corners, and where each element stands.

    `joints`: the vertex at which each element starts. `final`: its outline after fairing, where
    that changed it. `weights` tell what its control points
    take of each grade rule, where the old ones do.
    """

    ring: Ring
    path: Path
    corners: tuple[int, ...]
    placed: tuple[Placed, ...]
    lines: tuple[tuple[Line, int, int], ...]
    joints: tuple[int, ...] = ()
    weights: RuleWeights | None = None
    final: Path | None = None

    def at(self, s: float) -> float:
        """Where arc length `s` of `path` lies on the outline after fairing, mm.

        Between vertices that stayed where they were it keeps its share of the way.
        """
        if self.final is None:
            return s
        now = {tuple(v): k for k, v in enumerate(self.final.vertices.tolist())}
        here = {
            k: now[at] for k, v in enumerate(self.path.vertices.tolist()) if (at := tuple(v)) in now
        }
        if not here:
            return s / self.path.length * self.final.length
        c, d, n = self.path.cumulative, self.final.cumulative, self.path.length
        before = min(here, key=lambda k: (s - float(c[k])) % n)
        after = min(here, key=lambda k: (float(c[k]) - s) % n or n)
        long = (float(c[after]) - float(c[before])) % n or n
        new = (float(d[here[after]]) - float(d[here[before]])) % self.final.length
        share = (s - float(c[before])) % n / long
        return (float(d[here[before]]) + share * (new or self.final.length)) % self.final.length


def draw(name: str, ring: Ring, settled: Settled) -> Drawn:
    """The outline that a ring tells, for the piece `name`.

    Raises GeometryError where elements do not meet, or where the outline turns inside out or
    crosses itself, with the place.
    """
    parts: list[Path] = []
    still: list[bool] = []
    for element in ring.elements:
        if isinstance(element, Line):
            parts.append(element.path)
            still.append(False)
            continue
        zone = element.zone
        old = zone.piece.outline.path.segments(element.start, element.end)
        if not zone.still:
            old = old.transformed(zone.move)
        parts.append(old.reversed() if zone.mirrored else old)
        still.append(zone.still)
    path = _closed(name, parts, still)
    at = np.cumsum([0, *(len(p) for p in parts)])
    placed, lines = [], []
    for k, element in enumerate(ring.elements):
        if isinstance(element, Line):
            lines.append((element, int(at[k]), int(at[k + 1])))
        else:
            count = len(parts[k])
            placed.append(Placed(element.zone, element.start, count, int(at[k]), len(path)))
    joints = tuple(int(a) for a in at[:-1])
    corners = _corners(name, ring, path, joints, placed, settled)
    return Drawn(ring, path, corners, tuple(placed), tuple(lines), joints, _weights(ring))


def _weights(ring: Ring) -> RuleWeights | None:
    """The old weights of rules, cut and turned as the outline was."""
    known = [zone.piece.weights for zone in ring.zones]
    if any(weights is None for weights in known):
        return None
    rules = tuple(rule for weights in known if weights for rule in weights.rules)
    parts = []
    for element in ring.elements:
        if isinstance(element, Line):
            parts.append(_on_line(element, ring, rules[:1]))
            continue
        zone = element.zone
        assert zone.piece.weights is not None
        part = zone.piece.weights.segments(element.start, element.end)
        part = part if zone.still else part.turned(zone.move[:, :2])
        parts.append(part.reversed() if zone.mirrored else part)
    return RuleWeights.joined(parts)


def _on_line(line: Line, ring: Ring, rules: tuple[str, ...]) -> RuleWeights:
    """What the vertices within a new line take of the rules: known where the line goes through
    a point, a drill hole or the tip of a dart of an old piece."""
    weights = RuleWeights.unknown(rules, len(line.path))
    for zone in ring.zones:
        piece, old = zone.piece, zone.piece.weights
        assert old is not None
        known = [
            (piece.outline.vertex_at(p.vertex), old.controls[p.vertex, 0])
            for p in piece.outline.points
        ]
        free = [(d.at, f"drill {d.name}") for d in piece.drills]
        free += [(d.apex, f"dart {d.name}") for d in piece.darts]
        known += [(np.array(at), old.free[what]) for at, what in free if what in old.free]
        for k in range(1, len(line.path)):
            for at, taken in known:
                off = affine.apply(zone.move, at) - line.path.vertices[k]
                if float(np.hypot(*off)) < _MEET and not np.isnan(taken).any():
                    weights = weights.with_vertex(k, old.rules, zone.move[:, :2] @ taken)
                    break
    return weights


def _closed(name: str, parts: Sequence[Path], still: Sequence[bool]) -> Path:
    """The parts as one closed path; where two meet, what lies still keeps its bits."""
    controls = [p.controls.copy() for p in parts]
    for k in range(len(parts)):
        n = (k + 1) % len(parts)
        end, start = controls[k][-1, 3], controls[n][0, 0]
        apart = float(np.hypot(*(end - start)))
        if apart > _MEET:
            raise GeometryError(
                f"its outline is broken: two parts are {apart:.3f} mm apart "
                f"near ({end[0]:.1f}, {end[1]:.1f})",
                where=name,
            )
        meet = start.copy() if still[n] else end.copy()
        controls[k][-1, 3] = controls[n][0, 0] = meet
    path = Path(np.concatenate(controls), np.concatenate([p.lines for p in parts]), True)
    if path.area <= 0:
        raise GeometryError(
            "its outline would be turned inside out",
            where=name,
            cure="Take other places, or a smaller amount.",
        )
    crossed = next((c for c in self_crossings(path) if c.kind != "touch"), None)
    if crossed is not None:
        x, y = crossed.point
        raise GeometryError(
            f"its outline would cross itself near ({x:.0f}, {y:.0f})",
            where=name,
            cure="Take other places, or a smaller amount.",
        )
    return path


def _corners(
    name: str,
    ring: Ring,
    path: Path,
    joints: Sequence[int],
    placed: Sequence[Placed],
    settled: Settled,
) -> tuple[int, ...]:
    """Corners in order: the old ones, and the joints whose tangents turn, as the base has it."""
    n = len(path)
    found: set[int] = set()
    for one in placed:
        for old in one.zone.piece.outline.corners:
            new = one.vertex(old)
            inside = (old - one.start) % one.old
            if new is not None and 0 < inside < one.count:
                found.add(new)
    for k, vertex in enumerate(joints):
        before, after = ring.elements[k - 1], ring.elements[k]
        kept = _runs_on(before, after)
        if kept is None:
            turns = settled.once(f"{name}: joint {k}", partial(_turns, path, vertex))
        else:
            turns = kept
        if turns:
            found.add(vertex % n)
    for k, first, last in _line_ends(ring, joints, n):
        # A vertex within a new line is a corner by its own turn.
        for v in range(first + 1, last):
            corner = settled.once(f"{name}: line {k} {v - first}", partial(_turns, path, v))
            if corner:
                found.add(v % n)
    order = sorted(found)
    if not order:
        return ()
    first = settled.once(f"{name}: corner 1", lambda: order.index(in_corner_order(path, order)[0]))
    return tuple(order[first:] + order[:first])


def _turns(path: Path, vertex: int) -> bool:
    return bool(abs(path.turns[vertex % len(path)]) > CORNER_ANGLE)


def _runs_on(before: Span | Line, after: Span | Line) -> bool | None:
    """Whether the vertex is a corner where one old stretch runs on into the next; else None."""
    if not (isinstance(before, Span) and isinstance(after, Span)) or before.zone is not after.zone:
        return None
    outline = before.zone.piece.outline
    a, b = (before.start, after.end) if before.zone.mirrored else (before.end, after.start)
    if a % len(outline.path) != b % len(outline.path):
        return None
    return a % len(outline.path) in outline.corners


def _line_ends(ring: Ring, joints: Sequence[int], n: int) -> Iterator[tuple[int, int, int]]:
    for k, element in enumerate(ring.elements):
        if isinstance(element, Line):
            yield k, joints[k], joints[k + 1] if k + 1 < len(joints) else n
