"""Which size a shape belongs to: by attribute, or by a group named after a size."""

from __future__ import annotations

from .drawn import Drawn, Group
from .names import bare_size, name_of, size_in_words
from .xml_tree import Node


class Sizes:
    """Sizes of the groups of one drawing."""

    def __init__(self) -> None:
        self._among: dict[int, dict[int, str]] = {}

    def of(self, drawn: Drawn) -> str | None:
        """The size of a shape: its own, else that of the nearest group that has one."""
        own = drawn.node.get("data-size").strip()
        if own:
            return own
        # A clone belongs where it stands, not where its original is defined.
        if drawn.via is not None and drawn.via.get("data-size").strip():
            return drawn.via.get("data-size").strip()
        return self.of_group(drawn.group)

    def of_group(self, group: Group) -> str | None:
        """The size of a group or of the nearest group round it; None where none is sized."""
        for one in group.chain():
            size = one.node.get("data-size").strip() or self._by_name(one.node)
            if size:
                return size
        return None

    def _by_name(self, node: Node) -> str | None:
        if node.tag != "g" or node.get("data-piece"):
            return None
        name = name_of(node)
        worded = size_in_words(name)
        if worded is not None:
            return worded
        if bare_size(name) is None or node.parent is None:
            return None
        among = self._among.get(id(node.parent))
        if among is None:
            among = _sized(node.parent)
            self._among[id(node.parent)] = among
        return among.get(id(node))


def _sized(parent: Node) -> dict[int, str]:
    """Groups in `parent` named like sizes, where there are at least two of them."""
    found: dict[int, str] = {}
    for child in parent.children:
        if child.tag != "g" or child.get("data-piece"):
            continue
        size = bare_size(name_of(child)) or size_in_words(name_of(child))
        if size is not None:
            found[id(child)] = size
    return found if len(set(found.values())) > 1 else {}
