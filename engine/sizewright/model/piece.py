"""A pattern piece: its outline, what it bears, and the story of what made it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from ..errors import InputError
from ..geometry import affine
from ..geometry.path import Path
from ..geometry.types import Floats
from .allowances import Allowances
from .features import (
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
from .outline import Outline, Run, Spot
from .vec import Side, Vec

OutlineKind = Literal["sew", "cut", "unknown"]


@dataclass(frozen=True)
class Piece:
    """One piece in one size. Frozen: every change gives a new one.

    `outline` is the line that operations work on: the sewing line when it is known
    (`kind` "sew"), a cutting line ("cut", with the `allowance` it includes, mm) or
    "unknown". `cut_line` is the cutting line that goes with a sewing outline, `allowances`
    what is meant by it where that is known.
    `base` is the piece that this one was graded from.
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

    def transformed(self, m: Floats) -> Piece:
        """Moved whole by an affine map (2, 3); mirrored pieces stay counter-clockwise."""
        moved = self.mapped(lambda points: affine.apply(m, points))
        if affine.determinant(m) < 0:
            n = len(self.outline.path)
            moved = moved._turned_over(lambda v: (n - v) % n, self.outline)
        cut = None if self.cut_line is None else self.cut_line.transformed(m)
        return replace(moved, outline=self.outline.transformed(m), cut_line=cut)

    def mapped(self, move: Callable[[Floats], Floats]) -> Piece:
        """Everything that lies free on the piece moved by `move` ((m, 2) to (m, 2)).

        Outline and cutting line stay: the caller gives new ones. Notches stay where they
        are on their edge.
        """

        def vec(v: Vec) -> Vec:
            x, y = move(np.array([v]))[0]
            return float(x), float(y)

        def path(p: Path) -> Path:
            return p.with_controls(move(p.controls.reshape(-1, 2)).reshape(-1, 4, 2))

        def label(one: Label) -> Label:
            angle = np.radians(one.angle)
            tip = vec((one.at[0] + float(np.cos(angle)), one.at[1] + float(np.sin(angle))))
            at = vec(one.at)
            turn = float(np.degrees(np.arctan2(tip[1] - at[1], tip[0] - at[0])))
            return replace(one, at=at, angle=turn)

        return replace(
            self,
            axis=self.axis
            and replace(self.axis, start=vec(self.axis.start), end=vec(self.axis.end)),
            grain=self.grain
            and replace(self.grain, start=vec(self.grain.start), end=vec(self.grain.end)),
            drills=tuple(replace(d, at=vec(d.at)) for d in self.drills),
            marks=tuple(replace(k, path=path(k.path)) for k in self.marks),
            cutouts=tuple(replace(c, path=path(c.path)) for c in self.cutouts),
            labels=tuple(label(t) for t in self.labels),
            adjusts=tuple(replace(a, path=path(a.path)) for a in self.adjusts),
            darts=tuple(replace(d, apex=vec(d.apex)) for d in self.darts),
        )

    def _turned_over(self, to: Callable[[int], int], old: Outline) -> Piece:
        """Vertex numbers and edge distances after the outline was turned over."""

        def notch(one: Notch) -> Notch:
            edge = old.edge_from(one.at.start)
            keep = {"start": "end", "end": "start"}.get(one.keep, one.keep)
            at = Spot(to(edge.end), edge.length - one.at.distance)
            return replace(one, at=at, keep=keep)  # type: ignore[arg-type]

        return replace(
            self,
            fold=self.fold and Fold(to(self.fold.end), to(self.fold.start)),
            notches=tuple(notch(x) for x in self.notches),
            darts=tuple(
                replace(d, a=to(d.b), b=to(d.a), tip=None if d.tip is None else to(d.tip))
                for d in self.darts
            ),
            pleats=tuple(replace(p, a=to(p.b), b=to(p.a)) for p in self.pleats),
            holds=tuple(replace(h, vertices=tuple(map(to, h.vertices[::-1]))) for h in self.holds),
            allowances=self.allowances and self.allowances.turned_over(to),
        )

    def renumbered(self, outline: Outline, to: Callable[[int], int]) -> Piece:
        """With another outline whose vertices are the old ones by the map `to`.

        For operations that put vertices in or take unmarked ones out; the map raises where a
        marked vertex is gone. Notches keep their place by the edge that they are on.
        """
        return replace(
            self,
            outline=outline,
            fold=self.fold and Fold(to(self.fold.start), to(self.fold.end)),
            notches=tuple(replace(x, at=replace(x.at, start=to(x.at.start))) for x in self.notches),
            darts=tuple(
                replace(d, a=to(d.a), b=to(d.b), tip=None if d.tip is None else to(d.tip))
                for d in self.darts
            ),
            pleats=tuple(replace(p, a=to(p.a), b=to(p.b)) for p in self.pleats),
            holds=tuple(replace(h, vertices=tuple(to(v) for v in h.vertices)) for h in self.holds),
            allowances=self.allowances and self.allowances.renumbered(to),
        )

    def with_vertex(self, s: float, *, name: str | None = None) -> Piece:
        """With a (named) vertex at arc length `s` of the outline; the line stays the same."""
        outline, k = self.outline.with_vertex(s)
        piece = self
        if len(outline.path) > len(self.outline.path):
            piece = self.renumbered(outline, lambda v: v + 1 if v >= k else v)
        if name:
            piece = replace(piece, outline=piece.outline.with_point(k, name=name))
        return piece

    # --- measures that close darts and pleats ---------------------------------

    def mouths(self, run: Run) -> tuple[Run, ...]:
        """Dart and pleat mouths that lie within a run, in the run's order."""
        n = len(self.outline.path)
        span = (run.end - run.start) % n or n

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
