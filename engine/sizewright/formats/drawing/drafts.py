"""Pieces in the making, and what is set aside and found meanwhile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ...errors import SizewrightError
from ...findings import Finding, Level
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import CORNER_ANGLE, Vec
from ..reading import LineKind, SetAside
from .chains import Chain, Joined
from .loops import Region
from .names import clean
from .overshoots import Gap
from .shapes import Element, Group, Shape

if TYPE_CHECKING:
    from ...geometry.refit import Refit

#: Greatest distance, in mm, of a refitted curve from the chords that it replaces.
REFIT_TOLERANCE = 0.05
#: Ends this close, in mm, meet.
JOIN_TOLERANCE = 0.1
#: More closed lines than this are a drawing, not a pattern.
MOST_PIECES = 1000
_SHOWN = 5


@dataclass(frozen=True, slots=True)
class Options:
    """`corner_angle` in degrees: a sharper turn is a corner. `refit_tolerance` in mm.

    `join_tolerance` in mm: ends of loose lines this close meet. `sizes` says which kind of line
    each size of a nest is (`line 3`). `square` is the side of the drawn test square, mm.
    """

    corner_angle: float = CORNER_ANGLE
    refit_tolerance: float = REFIT_TOLERANCE
    join_tolerance: float = JOIN_TOLERANCE
    sizes: Mapping[str, str] = field(default_factory=dict)
    square: float | None = None


def spot(place: Vec | Floats) -> str:
    """A place in mm as messages show it."""
    return f"({place[0]:.1f}, {place[1]:.1f}) mm"


def spelt(gaps: Sequence[Gap]) -> str:
    """The widest of some gaps, and where they are, as messages show them."""
    widest = sorted(gaps, reverse=True)
    more = f"; and {len(widest) - _SHOWN} more" if len(widest) > _SHOWN else ""
    return "; ".join(f"{g:.3g} mm at ({x:.1f}, {y:.1f})" for g, x, y in widest[:_SHOWN]) + more


@dataclass(eq=False)
class Draft:
    """What is known of one piece before its lines are settled; `out` takes what is found.

    `elements` bear its attributes, the foremost first. `shapes` are unmarked shapes in its
    group, `marks` everything marked. `region` is set where one closed path alone is the
    piece. `position` is its place in the drawing.
    """

    out: Gathered
    name: str
    size: str | None
    elements: list[Element] = field(default_factory=list)
    group: Group | None = None
    shapes: list[Shape] = field(default_factory=list)
    marks: list[Shape] = field(default_factory=list)
    region: Region | None = None
    position: int = 0

    def get(self, attribute: str) -> str | None:
        """An attribute of the piece; None where no element of it has one."""
        for element in self.elements:
            if attribute in element.attributes:
                return element.attributes[attribute]
        return None

    @property
    def title(self) -> str:
        """Name and size, as messages show them."""
        return f"{self.name} {self.size}" if self.size else self.name

    def take_in(self, shape: Shape) -> None:
        """Take a shape that says nothing of itself for a mark or label of the piece."""
        if shape.unpainted:
            self.out.aside(shape, "neither filled nor stroked")
            return
        if shape.paths:
            self.marks.append(shape.marked("mark"))
        if shape.texts:
            self.marks.append(shape.marked("label", texts=shape.texts))

    def find(
        self,
        code: str,
        level: Level,
        text: str,
        cure: str = "",
        *,
        place: str = "",
        at: Vec | Floats | None = None,
    ) -> None:
        """Add a finding about the piece, at a `place` as messages show it or `at` one in mm."""
        self.out.find(code, level, text, cure, draft=self, place=place, at=at)

    @contextmanager
    def guarded(self, at: Vec | Floats | None = None) -> Iterator[None]:
        """What goes wrong within is noted, with where it lies in mm, and reading goes on."""
        with self.out.guarded(self, at):
            yield


@dataclass(slots=True)
class Gathered:
    """The drafts in document order, with what was set aside, found, and went wrong.

    `refits` are paths that were refitted already.
    """

    options: Options = field(default_factory=Options)
    drafts: list[Draft] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    errors: list[SizewrightError] = field(default_factory=list)
    lines: list[LineKind] = field(default_factory=list)
    refits: dict[Path, Refit] = field(default_factory=dict)
    _aside: set[int] = field(default_factory=set)

    def aside(self, drawn: Shape, reason: str) -> None:
        """List a shape as set aside."""
        layer = drawn.group.element
        name = drawn.name or (layer.name if layer.kind == "layer" else "")
        self.set_aside.append(SetAside(name, drawn.element.kind, reason))
        self._aside.add(id(drawn))

    def is_aside(self, drawn: Shape) -> bool:
        """Whether a shape was set aside, or something of it."""
        return id(drawn) in self._aside

    def find(
        self,
        code: str,
        level: Level,
        text: str,
        cure: str = "",
        *,
        draft: Draft | None = None,
        place: str = "",
        at: Vec | Floats | None = None,
    ) -> None:
        """Add a finding, at a `place` as messages show it or `at` one in mm."""
        piece, size = (draft.name, draft.size or "") if draft else ("", "")
        there = None if at is None else (float(at[0]), float(at[1]))
        place = place or (spot(there) if there else "")
        self.findings.append(Finding(code, level, text, piece, size, place, cure, there))

    @contextmanager
    def guarded(self, draft: Draft | None = None, at: Vec | Floats | None = None) -> Iterator[None]:
        """What goes wrong within is kept as an error and told as a finding."""
        try:
            yield
        except SizewrightError as error:
            title = draft.title if draft else ""
            place = error.where.removeprefix(title).removeprefix(": ")
            self.find("wrong-mark", "fail", error.what, error.cure, draft=draft, place=place, at=at)
            if draft and not error.where.startswith(title):
                error.at(title)
            self.errors.append(error)

    def tell_joined(self, joined: Joined, draft: Draft | None = None) -> None:
        """Tell the gaps that were closed, what was cut off lines, and where lines branch."""
        if joined.gaps:
            text = f"{len(joined.gaps)} end(s) that were apart were joined: {spelt(joined.gaps)}"
            self.find("ends-joined", "note", text, draft=draft)
        if joined.trims:
            corners = {(round(x, 1), round(y, 1)): (mm, x, y) for mm, x, y in sorted(joined.trims)}
            text = f"lines that stuck out were cut off at {len(corners)} crossing(s)"
            self.find("ends-cut", "note", f"{text}: {spelt(list(corners.values()))}", draft=draft)
        if joined.copies:
            text = f"{len(joined.copies)} line(s) lie exactly on others and were left out"
            self.find("copies", "note", text, draft=draft)
        if joined.branches:
            places = ", ".join(f"({x:.1f}, {y:.1f})" for x, y in joined.branches[:_SHOWN])
            over = len(joined.branches) - _SHOWN
            more = f" and {over} more" if over > 0 else ""
            text = f"more than two lines meet at {places}{more} mm; "
            text += "the outermost line was taken for the outline"
            cure = "Put lines within a piece on a layer of their own."
            self.find("lines-branch", "warn", text, cure=cure, place=places, draft=draft)

    def tell_open(self, name: str, reach: float, chain: Chain, draft: Draft | None = None) -> None:
        """Tell lines that would close if ends up to `reach` mm apart were joined."""
        said = []
        if chain.gaps:
            said.append(f"its ends are {max(chain.gaps)[0]:.2f} mm apart")
        if chain.trims:
            said.append(f"lines stick out {max(chain.trims)[0]:.2f} mm beyond where they cross")
        text = f"{name} is open: {' and '.join(said)}; it was left out"
        cure = (
            f"Close it in the editor, or let ends so far apart be joined: --join {reach:g}mm "
            f'(in a job, join = "{reach:g}mm" in the table reading).'
        )
        x, y = max((*chain.gaps, *chain.trims))[1:]
        self.find("open-outline", "fail", text, cure, draft=draft, at=(x, y))

    def cleaned(self, name: str) -> str:
        """A piece name that references can use, with a note where it had to be changed."""
        done = clean(name) or "piece"
        if done != name:
            text = f'the piece name "{name}" was changed to "{done}"'
            cure = 'Names go without : ; = + , " since references use these.'
            self.find("name-changed", "note", text, cure)
        return done
