"""What a drawing shows: shapes in mm with the groups that they stand in."""

from __future__ import annotations

from dataclasses import dataclass, field

from ...findings import Finding
from ...geometry.path import Path
from .marking import Marking
from .names import id_of
from .text import TextLine
from .xml_tree import Node


@dataclass(eq=False, slots=True)
class Group:
    """One group as drawn: its element, the group round it, and the `use` that brought it in."""

    node: Node
    parent: Group | None
    via: Node | None = None

    def chain(self) -> list[Group]:
        """This group and all round it, innermost first."""
        found: list[Group] = []
        at: Group | None = self
        while at is not None:
            found.append(at)
            at = at.parent
        return found


@dataclass(eq=False, slots=True)
class Drawn:
    """A shape, or a marked group of shapes, as drawn.

    `position` counts in document order. `paths` in mm, y up. `via` is the outermost `use`
    that brought it in. `unpainted`: fill and stroke are both said to be none.
    """

    node: Node
    group: Group
    marking: Marking | None
    position: int = 0
    via: Node | None = None
    hidden: bool = False
    unpainted: bool = False
    paths: list[Path] = field(default_factory=list)
    texts: list[TextLine] = field(default_factory=list)

    @property
    def kind(self) -> str:
        """What the element is: its tag."""
        return self.node.tag


@dataclass(slots=True)
class Scene:
    """All that is drawn, in document order, and what was found on the way."""

    drawn: list[Drawn] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def shown(drawn: Drawn) -> str:
    """The element as messages show it, by the `use` that brought it in where it has no id."""
    if drawn.via is not None and not id_of(drawn.node):
        return drawn.via.shown()
    return drawn.node.shown()
