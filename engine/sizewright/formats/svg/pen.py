"""What all parts of the SVG writer share while one piece is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ...findings import Finding, Level
from ...geometry.path import Path
from ...model import Outline, Piece, Vec
from ...palette import Line
from .numbers_out import Frame, number
from .xml_out import Ids, Tag, can_hold, without_forbidden

#: Straight neighbours that turn less than this, in degrees, might pass for a flattened curve.
_GENTLE = 60.0


@dataclass
class Pen:
    """One piece being drawn: the page, the ids used so far, and what was found.

    `suffix` stands behind each id, so that one file can hold the piece in several sizes.
    """

    piece: Piece
    frame: Frame
    ids: Ids
    suffix: str = ""
    findings: list[Finding] = field(default_factory=list)

    @cached_property
    def outline(self) -> Outline:
        """The working outline as it comes back from the written numbers."""
        return self.piece.outline.with_path(self.frame.settled(self.piece.outline.path))

    @cached_property
    def drawn(self) -> Path:
        """The outermost line as it comes back from the written numbers."""
        cut = self.piece.cut_line
        return self.outline.path if cut is None else self.frame.settled(cut.path)

    def found(
        self, code: str, text: str, *, place: str = "", cure: str = "", level: Level = "warn"
    ) -> None:
        """Record that something of the piece cannot be held as it is."""
        piece = self.piece
        self.findings.append(Finding(code, level, text, piece.name, piece.size or "", place, cure))

    def held(self, text: str | None, what: str) -> str | None:
        """`text` as XML can hold it; a finding where that is not all of it."""
        if not text or can_hold(text):
            return text
        self.found("name-changed", f"{what} has characters that XML cannot hold", place=what)
        return without_forbidden(text)

    def tag(
        self,
        element: str,
        role: str,
        attributes: dict[str, str | None],
        *,
        name: str | None = None,
        text: str | None = None,
    ) -> Tag:
        """An element whose id and label say the piece, the role and the name with dots."""
        label = ".".join(x for x in (self.piece.name, role, name) if x)
        return Tag(element, self.named(label) | attributes, text)

    def named(self, label: str) -> dict[str, str | None]:
        """The id for `label`, and the label too where the id cannot be the same."""
        label = without_forbidden(label)
        taken = self.ids.take(label + self.suffix)
        return {"id": taken, "inkscape:label": None if taken == label else label}

    def shape(
        self,
        path: Path,
        role: str,
        attributes: dict[str, str | None],
        *,
        name: str | None = None,
    ) -> Tag:
        """A path as a `line` element where it is one straight segment, else as a `path`."""
        if not path.closed and len(path) == 1 and path.lines[0]:
            return self.tag("line", role, attributes | line_ends(self.frame, path), name=name)
        refit = {"data-refit": "no"} if _might_be_refitted(path) else {}
        return self.tag(
            "path", role, {**attributes, **refit, "d": self.frame.data(path)}, name=name
        )

    def dot(
        self,
        place: Vec,
        role: str,
        attributes: dict[str, str | None],
        *,
        name: str | None,
        r: float,
    ) -> Tag:
        """A small circle at a place of the model."""
        x, y = self.frame.xy(place)
        circle: dict[str, str | None] = {"cx": x, "cy": y, "r": number(r)}
        return self.tag("circle", role, attributes | circle, name=name)

    def vertex(self, v: int) -> Vec:
        """Where a vertex of the working outline comes back from the written numbers."""
        x, y = self.outline.vertex_at(v)
        return float(x), float(y)

    def through(self, places: Sequence[Vec]) -> str:
        """Path data of straight lines through settled places."""
        return self.frame.data(Path.polyline(np.array(places)))


def line_ends(frame: Frame, path: Path) -> dict[str, str | None]:
    """The four numbers of a `line` element."""
    (x1, y1), (x2, y2) = frame.xy(path.start), frame.xy(path.end)
    return {"x1": x1, "y1": y1, "x2": x2, "y2": y2}


def stroke(line: Line) -> dict[str, str | None]:
    """A line of the palette as presentation attributes (any program takes those)."""
    dashes = " ".join(number(d) for d in line.dashes) or None
    width = number(line.width)
    return {"stroke": line.colour, "stroke-width": width, "stroke-dasharray": dashes}


def group(line: Line, children: Sequence[Tag]) -> list[Tag]:
    """One group in the style of `line`; nothing where there are no children."""
    return [Tag("g", stroke(line), children=list(children))] if children else []


def _might_be_refitted(path: Path) -> bool:
    straight = path.lines & np.roll(path.lines, 1)
    turns = path.turns[: len(path)]
    if not path.closed:
        straight[0] = False
    return bool((straight & (np.abs(turns) < _GENTLE)).any())
