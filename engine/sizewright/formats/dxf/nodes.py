"""Nodes for what has no XML element: entities, as the readers of marks want them."""

from __future__ import annotations

from ..svg.xml_tree import Node


class EntityNode(Node):
    """A node that messages show by its entity (`LINE on layer CUT (#2F)`)."""

    __slots__ = ("says",)

    def __init__(
        self, tag: str, attributes: dict[str, str], parent: Node | None, says: str
    ) -> None:
        super().__init__(tag, attributes, 0, parent)
        self.says = says

    def shown(self) -> str:
        """The entity as messages show it."""
        return self.says
