"""The few style properties that matter here: attributes, style sheets, style attributes."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from ...budget import spend
from ...errors import InputError
from .xml_tree import Node

#: Properties that say whether and how a shape is seen; all but `opacity` are inherited.
PAINT = (
    *("fill", "fill-opacity", "stroke", "stroke-opacity", "stroke-width", "stroke-dasharray"),
    "opacity",
)
_WANTED = frozenset(
    {
        "display",
        "visibility",
        "transform",
        "transform-origin",
        "transform-box",
        "font-size",
        *PAINT,
        *("clip-path", "mask"),
        # Geometry that SVG 2 lets a style give; seen, so that it is never missed in silence.
        *("d", "x", "y", "cx", "cy", "r", "rx", "ry", "width", "height"),
    }
)
_PRESENTATION = (
    *("display", "visibility", "font-size", "transform-origin", "clip-path", "mask"),
    *PAINT,
)

#: A style attribute with none of these parts at semicolons and colons.
_INVOLVED = re.compile(r"""[\\"'({[]|/\*""")
#: What compiling a selector costs of the budget of the file.
_SELECTOR_STEPS = 400

#: Property -> (value, whether it is important).
_Declared = dict[str, tuple[str, bool]]


class Styles:
    """Declared values of elements of one drawing, by the cascade of CSS.

    `imports` tells whether a style sheet asks for another file (never fetched).
    """

    def __init__(self, root: Node) -> None:
        self.imports = False
        self._sheet: dict[int, list[_Declared]] = {}
        texts = [
            node.text()
            for node in root.below()
            if node.kind == "style" and node.get("type", "text/css") in ("", "text/css")
        ]
        if any(text.strip() for text in texts):
            try:
                self._read_sheets(root, texts)
            except RecursionError:
                raise _too_large() from None

    def of(self, node: Node) -> dict[str, str]:
        """Values declared for one element itself, nothing inherited."""
        found: dict[str, str] = {
            name: node.attributes[name].strip() for name in _PRESENTATION if name in node.attributes
        }
        important: dict[str, str] = {}
        layers = list(self._sheet.get(id(node), ()))
        style = node.attributes.get("style")
        if style and ":" in style:
            layers.append(_inline(style))
        for layer in layers:
            for name, (value, weighty) in layer.items():
                if weighty:
                    important[name] = value
                found[name] = value
        return found | important

    def _read_sheets(self, root: Node, texts: Iterable[str]) -> None:
        """Match every rule to the elements that it speaks of."""
        import cssselect2
        import tinycss2

        matcher = cssselect2.Matcher()
        rules = 0
        spend(sum(map(len, texts)), _ON)
        for text in texts:
            for rule in tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True):
                if rule.type == "at-rule" and rule.lower_at_keyword == "import":
                    self.imports = True
                for plain in _plain_rules(rule, tinycss2):
                    spend(_SELECTOR_STEPS, _ON)
                    declared = _declared(plain.content, tinycss2)
                    if not declared:
                        continue
                    try:
                        selectors = cssselect2.compile_selector_list(plain.prelude)
                    except cssselect2.SelectorError:
                        continue
                    for selector in selectors:
                        if selector.pseudo_element is None and not selector.never_matches:
                            matcher.add_selector(selector, declared)
                            rules += 1
        if not rules:
            return
        tree, nodes = _as_etree(root)
        spend(rules * len(nodes), _ON)
        wrapped = _counted(cssselect2.ElementWrapper).from_xml_root(tree)
        for element, node in zip(wrapped.iter_subtree(), nodes, strict=True):
            matches = matcher.match(element)
            if matches:
                self._sheet[id(node)] = [payload for *_order, payload in matches]


_ON = "its style sheet"


def _counted(wrapper: Any) -> Any:
    """Elements as selectors see them, whose every look at others is taken from the budget."""

    class Counted(wrapper):  # type: ignore[misc]
        def __init__(self, *args: Any, **options: Any) -> None:
            spend(40, _ON)
            super().__init__(*args, **options)

        @property
        def ancestors(self) -> Any:
            found = super().ancestors
            spend(len(found), _ON)
            return found

        @property
        def previous_siblings(self) -> Any:
            found = super().previous_siblings
            spend(len(found), _ON, held=8 * len(found))
            return found

    return Counted


def _too_large() -> InputError:
    return InputError(
        "the style sheet or attribute is too large, or nested too deep",
        cure="Save as plain SVG with styles as attributes.",
    )


def _plain_rules(rule: Any, tinycss2: Any) -> list[Any]:
    """Style rules, those for the screen or all media among them."""
    kind = getattr(rule, "type", "")
    if kind == "qualified-rule":
        return [rule]
    if kind == "at-rule" and rule.lower_at_keyword == "media" and rule.content is not None:
        media = tinycss2.serialize(rule.prelude).lower()
        if media.strip() in ("", "all", "screen"):
            inner = tinycss2.parse_rule_list(
                rule.content,
                skip_comments=True,
                skip_whitespace=True,
            )
            return [r for r in inner if r.type == "qualified-rule"]
    return []


def _declared(content: Any, tinycss2: Any) -> _Declared:
    found: _Declared = {}
    for item in tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True):
        if item.type == "declaration" and item.lower_name in _WANTED:
            value = tinycss2.serialize(item.value).strip()
            _declare(found, item.lower_name, value, bool(item.important))
    return found


def _inline(style: str) -> _Declared:
    """A style attribute: parted plainly, or read as sheets are where it holds more."""
    if _INVOLVED.search(style):
        import tinycss2

        spend(len(style), "its style attributes")
        try:
            return _declared(style, tinycss2)
        except RecursionError:
            raise _too_large() from None
    found: _Declared = {}
    for part in style.split(";"):
        name, _, value = part.partition(":")
        name = name.strip().lower()
        if name in _WANTED:
            value, bang, _ = value.partition("!")
            _declare(found, name, value.strip(), bool(bang))
    return found


def _declare(found: _Declared, name: str, value: str, important: bool) -> None:
    """The last word on a property counts, but for one that was important."""
    if important or not found.get(name, ("", False))[1]:
        found[name] = (value, important)


def _as_etree(root: Node) -> tuple[Any, list[Node]]:
    """The drawing as the standard library's elements, with its nodes in the same order.

    Selectors see local names; namespaces other than SVG's stay part of the name.
    """
    from xml.etree.ElementTree import Element, SubElement

    tree = Element(root.kind, root.attributes)
    nodes: list[Node] = []
    stack = [(root, tree)]
    while stack:
        node, element = stack.pop()
        nodes.append(node)
        below = [(child, SubElement(element, child.kind, child.attributes)) for child in node.nodes]
        stack.extend(reversed(below))
    return tree, nodes
