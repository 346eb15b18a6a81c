"""Which size a shape belongs to: by attribute, or by a group or layer named after a size."""

from __future__ import annotations

from .names import size_in_words, size_of_layer
from .shapes import Element, Group, Shape

_NAMED = ("g", "layer")


class Sizes:
    """Sizes of the groups of one drawing."""

    def __init__(self) -> None:
        self._among: dict[int, dict[int, str]] = {}

    def of(self, shape: Shape) -> str | None:
        """The size of a shape: its own, else that of the nearest group that has one."""
        # A clone belongs where it stands, not where its original is defined.
        for one in (shape.element, shape.via):
            if one is not None and one.get("data-size").strip():
                return one.get("data-size").strip()
        return self.of_group(shape.group)

    def of_group(self, group: Group) -> str | None:
        """The size of a group or of the nearest group round it; None where none is sized."""
        sizes = (self.of_element(one.element) for one in group.chain())
        return next(filter(None, sizes), None)

    def of_element(self, element: Element) -> str | None:
        """The size that one group says; sizes alone count where siblings are named so too."""
        said = element.get("data-size").strip()
        if said or element.kind not in _NAMED or element.get("data-piece"):
            return said or None
        worded = size_in_words(element.name)
        if worded is not None or element.parent is None or not _sized(element):
            return worded
        among = self._among.get(id(element.parent))
        if among is None:
            found = {id(child): _sized(child) for child in element.parent.children}
            among = {key: size for key, size in found.items() if size}
            among = among if len(set(among.values())) > 1 else {}
            self._among[id(element.parent)] = among
        return among.get(id(element))


def _sized(element: Element) -> str | None:
    if element.kind not in _NAMED or element.get("data-piece"):
        return None
    if element.kind == "layer" and element.name == "0":
        return None  # the layer that every DXF drawing has
    return size_of_layer(element.name) or size_in_words(element.name)
