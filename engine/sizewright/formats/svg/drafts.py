"""Pieces in the making, and what is set aside and found meanwhile."""

from __future__ import annotations

from dataclasses import dataclass, field

from ...findings import Finding, Level
from ..reading import SetAside
from .drawn import Drawn, Group
from .loops import Region
from .names import clean, name_of
from .xml_tree import Node


@dataclass(eq=False)
class Draft:
    """What is known of one piece before its lines are settled.

    `nodes` bear its attributes, the foremost first. `shapes` are unmarked shapes in its
    group, `marks` everything marked. `region` is set where one closed path alone is the
    piece. `position` is its place in the drawing.
    """

    name: str
    size: str | None
    nodes: list[Node]
    group: Group | None = None
    shapes: list[Drawn] = field(default_factory=list)
    marks: list[Drawn] = field(default_factory=list)
    region: Region | None = None
    position: int = 0

    def get(self, attribute: str) -> str | None:
        """An attribute of the piece; None where no element of it has one."""
        for node in self.nodes:
            if attribute in node.attributes:
                return node.attributes[attribute]
        return None

    @property
    def title(self) -> str:
        """Name and size, as messages show them."""
        return f"{self.name} {self.size}" if self.size else self.name


@dataclass(slots=True)
class Gathered:
    """The drafts in document order, with what was set aside and found."""

    drafts: list[Draft] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def aside(self, drawn: Drawn, reason: str) -> None:
        """List a shape as set aside."""
        name = name_of(drawn.node) or (name_of(drawn.via) if drawn.via is not None else "")
        self.set_aside.append(SetAside(name, drawn.kind, reason))

    def find(
        self,
        code: str,
        level: Level,
        text: str,
        *,
        cure: str = "",
        draft: Draft | None = None,
        place: str = "",
    ) -> None:
        """Add a finding."""
        piece, size = (draft.name, draft.size or "") if draft else ("", "")
        self.findings.append(Finding(code, level, text, piece, size, place, cure))

    def cleaned(self, name: str) -> str:
        """A piece name that references can use, with a note where it had to be changed."""
        done = clean(name) or "piece"
        if done != name:
            self.find(
                "name-changed",
                "note",
                f'the piece name "{name}" was changed to "{done}"',
                cure='Names go without : ; = + , " since references use these.',
            )
        return done
