"""A pattern piece: its outline, what it bears, and the story of what made it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from ..errors import InputError
from ..findings import Finding, Level
from ..geometry import affine
from ..geometry.types import Floats
from .allowances import Allowances
from .carrying import Move, To, moved, renumbered
from .features import (
    OTHER_END,
    Adjust,
    Axis,
    Cutout,
    Dart,
    Drill,
    Fold,
    Grain,
    Hold,
    Label,
    Mark,
    Notch,
    Pleat,
    Quantity,
)
from .outline import Outline, Point, Run, Spot
from .rule_weights import RuleWeights
from .vec import Side, Vec

#: What an outline is; "unknown" until someone says.
OutlineKind = Literal["sew", "cut", "unknown"]
#: Which side of the wearer a piece lies on.
Faces = Literal["front", "back"]

#: The fields of a piece that hold what it bears besides its lines.
FEATURES = (
    *("axis", "grain", "fold", "notches", "drills", "marks", "cutouts", "labels"),
    *("adjusts", "darts", "pleats", "holds"),
)


@dataclass(frozen=True)
class Piece:
    """One piece in one size. Frozen: every change gives a new one.

    `outline` is the line that operations work on: the sewing line when it is known
    (`kind` "sew"), a cutting line ("cut", with the `allowance` it includes, mm) or
    "unknown". `cut_line` is the cutting line that goes with a sewing outline, `allowances`
    what is meant by it where that is known.
    `base` is the piece that this one was graded from. `faces` tells where it lies on the
    wearer, for left and right (see `wearer.faces`). `weights`, there while a base is edited
    before grading, tell what each control point of the outline takes of each rule.

    >>> from sizewright.geometry import Path
    >>> path = Path.polyline([(0, 0), (80, 0), (80, 60), (0, 60)], closed=True)
    >>> pocket = Piece("pocket", Outline.of(path, runs=[Run(2, 3, "top")]), kind="sew")
    >>> pocket.title, pocket.area, pocket.sewn_length(pocket.run("top"))
    ('pocket', 4800.0, 80.0)
    >>> pocket, point = pocket.with_vertex(40.0, name="hem-middle")
    >>> point
    Point(vertex=1, name='hem-middle', rule=None)
    >>> pocket.with_changes("cut twice", quantity=(Quantity("main", 2),)).story
    ('cut twice',)
    """

    name: str
    outline: Outline
    kind: OutlineKind = "unknown"
    allowance: float | None = None
    cut_line: Outline | None = None
    size: str | None = None
    quantity: tuple[Quantity, ...] = ()
    pair: bool = False
    side: Side = "both"
    axis: Axis | None = None
    grain: Grain | None = None
    fold: Fold | None = None
    notches: tuple[Notch, ...] = ()
    drills: tuple[Drill, ...] = ()
    marks: tuple[Mark, ...] = ()
    cutouts: tuple[Cutout, ...] = ()
    labels: tuple[Label, ...] = ()
    adjusts: tuple[Adjust, ...] = ()
    darts: tuple[Dart, ...] = ()
    pleats: tuple[Pleat, ...] = ()
    holds: tuple[Hold, ...] = ()
    story: tuple[str, ...] = ()
    base: Piece | None = None
    allowances: Allowances | None = None
    faces: Faces | None = None
    weights: RuleWeights | None = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        if not self.name or any(c in self.name for c in ':;=+,"\n'):
            raise InputError(
                f'"{self.name}" cannot name a piece',
                cure='Use a name without any of : ; = + , " and line breaks.',
            )
        if self.kind == "sew" and self.allowance is not None:
            raise InputError(
                "a sewing line bears no allowance",
                where=self.name,
                cure='Say data-outline="cut", or leave the allowance out.',
            )

    def __hash__(self) -> int:
        # The line tells pieces apart well enough; all that they bear would take far longer.
        return hash((self.name, self.size, self.outline.path))

    # --- what it is -----------------------------------------------------------

    @property
    def key(self) -> tuple[str, str | None]:
        """Name and size, which together are unique in a pattern."""
        return self.name, self.size

    @property
    def title(self) -> str:
        """Name, with the size where there is one, as messages show it."""
        return f"{self.name} {self.size}" if self.size else self.name

    @property
    def drawn(self) -> Outline:
        """The outermost line: the cutting line where there is one, else the outline."""
        return self.cut_line or self.outline

    @property
    def drawn_kind(self) -> OutlineKind:
        """What `drawn` is."""
        return "cut" if self.cut_line else self.kind

    @property
    def area(self) -> float:
        """Area inside the outermost line less the cut-outs, mm2."""
        return self.drawn.path.area - sum(abs(c.path.area) for c in self.cutouts)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Box (x0, y0, x1, y1) of the outermost line, mm."""
        return self.drawn.path.bounds

    @property
    def times(self) -> int:
        """How often the garment has what is drawn: twice for a half on the fold, or for a pair."""
        return 2 if self.fold is not None or self.pair else 1

    @property
    def up(self) -> Vec:
        """Unit direction that counts as up: the grade axis, else the grain, else the page.

        A two-ended grain line points to the end nearer the top of the page, to the
        right where it lies level.
        """
        line: Axis | Grain | None = self.axis or self.grain
        if line is None:
            return (0.0, 1.0)
        dx, dy = line.end[0] - line.start[0], line.end[1] - line.start[1]
        size = float(np.hypot(dx, dy))
        if size == 0.0:
            return (0.0, 1.0)
        if isinstance(line, Grain) and line.ends == 2 and (dy, dx) < (0.0, 0.0):
            size = -size
        return dx / size, dy / size

    def finding(
        self, code: str, level: Level, text: str, place: str = "", cure: str = ""
    ) -> Finding:
        """What was found on it, in its size."""
        return Finding(code, level, text, self.name, self.size or "", place, cure)

    def on_fold(self, segment: int) -> bool:
        """Whether the segment of its outline that starts at a vertex lies on the fold."""
        fold = self.fold
        return fold is not None and self.outline.holds(Run(fold.start, fold.end), segment)

    def refuse_run(self, name: str, cure: str) -> None:
        """Raises InputError, with how to mend it, where the outline has a run of that name."""
        if any(run.name == name for run in self.outline.runs):
            raise InputError(f'it has an edge or run "{name}" already', where=self.title, cure=cure)

    def run(self, reference: str | int) -> Run:
        """A run by reference (see `Outline.run`); `fold` is the fold where there is one."""
        if reference == "fold" and self.fold and all(r.name != "fold" for r in self.outline.runs):
            return Run(self.fold.start, self.fold.end, "fold")
        return self.outline.run(reference)

    # --- new pieces -----------------------------------------------------------

    def with_changes(self, step: str | None = None, **changes: Any) -> Piece:
        """A copy with other fields; `step` is added to the story."""
        if step:
            changes["story"] = (*changes.get("story", self.story), step)
        return replace(self, **changes)

    @property
    def features(self) -> Iterator[Any]:
        """All that the piece bears, one after another, in the order of `FEATURES`."""
        for name in FEATURES:
            held = getattr(self, name)
            yield from held if isinstance(held, tuple) else () if held is None else (held,)

    def with_features(self, change: Callable[[Any], Any]) -> Piece:
        """Every feature run through `change`, which gives one of its kind."""
        new: dict[str, Any] = {}
        for name in FEATURES:
            held = getattr(self, name)
            if isinstance(held, tuple):
                new[name] = tuple(change(one) for one in held)
            elif held is not None:
                new[name] = change(held)
        return replace(self, **new)

    def transformed(self, m: Floats) -> Piece:
        """Moved whole by an affine map (2, 3); mirrored pieces stay counter-clockwise."""
        moved = self.mapped(lambda points: affine.apply(m, points))
        weights = self.weights and self.weights.turned(m[:, :2])
        if affine.determinant(m) < 0:
            moved = moved._turned_over()
            weights = weights and weights.reversed()
        cut = None if self.cut_line is None else self.cut_line.transformed(m)
        outline = self.outline.transformed(m)
        return replace(moved, outline=outline, cut_line=cut, weights=weights)

    def mapped(self, move: Move) -> Piece:
        """Everything that lies free on the piece moved by `move` ((m, 2) to (m, 2)).

        Outline and cutting line stay: the caller gives new ones. Notches stay where they
        are on their edge.
        """
        return self.with_features(lambda one: moved(one, move))

    def _turned_over(self) -> Piece:
        """Vertex numbers and edge distances after the outline was turned over."""
        old, n = self.outline, len(self.outline.path)

        def to(v: int) -> int:
            return (n - v) % n

        def turned(one: Any) -> Any:
            if isinstance(one, Notch):
                edge = old.edge_from(one.at.start)
                at = Spot(to(edge.end), edge.length - one.at.distance)
                return replace(one, at=at, keep=OTHER_END[one.keep])
            if isinstance(one, Axis) and one.away is not None:
                return replace(one, away="left" if one.away == "right" else "right")
            return renumbered(one, to, turned_over=True)

        allowances = self.allowances and self.allowances.turned_over(to)
        return replace(self.with_features(turned), allowances=allowances)

    def renumbered(self, outline: Outline, to: To) -> Piece:
        """With another outline whose vertices are the old ones by the map `to`.

        For operations that put vertices in or take unmarked ones out; the map raises where a
        marked vertex is gone. Notches keep their place by the edge that they are on. Weights
        of rules are not carried.
        """
        piece = self.with_features(lambda one: renumbered(one, to))
        allowances = self.allowances and self.allowances.renumbered(to)
        return replace(piece, outline=outline, weights=None, allowances=allowances)

    def with_vertex(self, s: float, *, name: str | None = None) -> tuple[Piece, Point]:
        """With a vertex at arc length `s` of the outline, and what is known of that vertex.

        The line stays the same. `name` is given to a vertex that has none; one that has a name
        keeps it, and the returned point says which.
        """
        outline, k = self.outline.with_vertex(s)
        piece = self
        if len(outline.path) > len(self.outline.path):
            segment, t = self.outline.path.locate(s)
            weights = self.weights and self.weights.split(int(segment), float(t))
            piece = self.renumbered(outline, lambda v: v + 1 if v >= k else v)
            piece = replace(piece, weights=weights)
        if name and outline.point(k).name is None:
            piece = replace(piece, outline=outline.with_point(k, name=name))
        return piece, piece.outline.point(k)

    # --- measures that close darts and pleats ---------------------------------

    def mouths(self, run: Run) -> tuple[Run, ...]:
        """Dart and pleat mouths that lie within a run, in the run's order."""
        n, span = len(self.outline.path), self.outline.count(run)

        def inside(a: int, b: int) -> bool:
            first, last = (a - run.start) % n, (b - run.start) % n
            return first < (last or n) <= span

        found = [Run(d.a, d.b, d.name) for d in self.darts if inside(d.a, d.b)]
        found += [Run(p.a, p.b, p.name) for p in self.pleats if inside(p.a, p.b)]
        return tuple(sorted(found, key=lambda r: (r.start - run.start) % n))

    def sewn_length(self, run: Run) -> float:
        """Length of a run with dart and pleat mouths closed, mm."""
        total = self.outline.run_length(run)
        return total - sum(self.outline.run_length(m) for m in self.mouths(run))
