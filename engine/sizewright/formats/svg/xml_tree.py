"""XML into a plain tree of nodes with line numbers, guarded against hostile files.

Nothing outside the file is ever fetched. External entities and DTDs are refused, and so
is entity expansion, save for the short namespace addresses that some editors declare.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from xml.parsers import expat

from ...budget import spend
from ...errors import InputError
from ..drawing.shapes import Element

SVG_NS = "http://www.w3.org/2000/svg"
#: Attributes of other namespaces that matter here, by the names they are kept under.
_KNOWN = {
    "http://www.inkscape.org/namespaces/inkscape label": "inkscape:label",
    "http://www.inkscape.org/namespaces/inkscape groupmode": "inkscape:groupmode",
    "http://www.serif.com/ id": "serif:id",
    "http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd role": "sodipodi:role",
    "http://www.w3.org/1999/xlink href": "xlink:href",
    "http://www.w3.org/XML/1998/namespace space": "xml:space",
}

#: Where editors keep the name that a person gave, whatever they made of the id.
_LABELS = ("inkscape:label", "serif:id")

MOST_BYTES = 64_000_000
MOST_ELEMENTS = 100_000
#: What an element costs of the budget of its file.
_NODE_STEPS, _NODE_BYTES = 20, 600
#: Deeper nesting would also run into the interpreter's own limit when walked.
DEEPEST = 120
_ENCODED = re.compile(r"_x([0-9A-Fa-f]{2,4})_")
_ADDRESS = re.compile(r"https?://[\w./#:~-]{0,200}")
_MOST_EXPANDED = 1_000_000


class Node(Element):
    """One XML element: `kind` is its local tag (`{namespace}tag` outside SVG).

    `content` mixes text and child nodes in document order.
    """

    __slots__ = ("content", "line")

    def __init__(
        self, kind: str, attributes: dict[str, str], line: int, parent: Node | None
    ) -> None:
        ident = attributes.get("id", "").strip()
        label = next((attributes[n].strip() for n in _LABELS if n in attributes), "")
        shown = f' id="{attributes["id"]}"' if attributes.get("id") else ""
        shown = f' "{label}"' if label else shown
        super().__init__(
            kind,
            attributes,
            parent,
            label=label,
            ident=_decoded(ident) if "_x" in ident else ident,
            place=f"line {line}, <{kind.rpartition('}')[2]}{shown}>",
        )
        self.line = line
        self.content: list[str | Node] = []
        if parent is not None:
            parent.content.append(self)

    @property
    def nodes(self) -> list[Node]:
        """Child nodes in order."""
        return self.children  # type: ignore[return-value]

    @property
    def href(self) -> str:
        """What a `use` refers to; the plain attribute beats the older xlink one."""
        return self.get("href") or self.get("xlink:href")

    def text(self) -> str:
        """All text inside, children's included, as it stands in the file."""
        parts: list[str] = []
        stack: list[str | Node] = [self]
        while stack:
            item = stack.pop()
            if isinstance(item, str):
                parts.append(item)
            else:
                stack.extend(reversed(item.content))
        return "".join(parts)

    def below(self) -> Iterator[Node]:
        """This node and all below it, in document order."""
        stack = [self]
        while stack:
            node = stack.pop()
            yield node
            stack.extend(reversed(node.nodes))


def _decoded(ident: str) -> str:
    """An id with the codes that editors put for blanks and such decoded."""
    return _ENCODED.sub(lambda m: chr(int(m[1], 16)), ident).lstrip("_")


def parse(data: bytes, where: str) -> Node:
    """The root node of an XML file. `where` names the file in messages.

    Raises InputError for what is no XML, is cut short, too large, too deep, or refers to
    entities or files.
    """
    if not data.strip():
        raise InputError("the file is empty", where=where, cure="Save the drawing again.")
    if len(data) > MOST_BYTES:
        raise InputError(
            f"the file has {len(data) // 1_000_000} MB, more than {MOST_BYTES // 1_000_000}",
            where=where,
            cure="Take pictures and everything but the pieces out of the drawing.",
        )
    if data[:2] == b"\x1f\x8b":
        raise InputError("the file is compressed (svgz)", where=where, cure="Save it as plain SVG.")
    builder = _Builder(data, where)
    try:
        builder.parser.Parse(data, True)
    except expat.ExpatError as error:
        raise _not_xml(error, where) from None
    except (ValueError, LookupError) as error:
        # An encoding that Python does not know, or one that it cannot hand to the parser.
        if isinstance(error, InputError):
            raise
        raise InputError(
            f"the text encoding cannot be read ({error})", where=where, cure="Save it as UTF-8."
        ) from None
    assert builder.root is not None  # the parser raises where there is no element
    return builder.root


def _not_xml(error: expat.ExpatError, where: str) -> InputError:
    text = expat.ErrorString(error.code) if error.code else str(error)
    place = f"{where}, line {error.lineno}"
    if error.code in (
        expat.errors.codes[expat.errors.XML_ERROR_NO_ELEMENTS],
        expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_TOKEN],
        expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION],
        expat.errors.codes[expat.errors.XML_ERROR_PARTIAL_CHAR],
    ):
        return InputError(
            f"the file ends before the drawing does ({text})",
            where=place,
            cure="It is cut short: fetch or save it again.",
        )
    return InputError(
        f"this is not well-formed XML, so no SVG ({text})",
        where=place,
        cure="Save the drawing again as SVG, or mend that line.",
    )


class _Builder:
    """Collects nodes as the parser meets them."""

    def __init__(self, data: bytes, where: str) -> None:
        self.where = where
        self._data = data
        self._encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"
        self.root: Node | None = None
        self._open: Node | None = None
        self._depth = 0
        self._count = 0
        self._expanded = 0
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.ordered_attributes = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters
        parser.StartDoctypeDeclHandler = self._doctype
        parser.EntityDeclHandler = self._entity
        parser.AttlistDeclHandler = self._attlist
        parser.XmlDeclHandler = self._declaration
        parser.ExternalEntityRefHandler = self._external
        self.parser = parser

    def _refused(self, what: str, cure: str) -> InputError:
        return InputError(
            what, where=f"{self.where}, line {self.parser.CurrentLineNumber}", cure=cure
        )

    def _doctype(self, _name: str, system: str | None, public: str | None, _internal: bool) -> None:
        standard = (public or "").startswith("-//W3C//DTD SVG") or re.match(
            r"https?://www\.w3\.org/", system or ""
        )
        if system and not standard:
            raise self._refused(
                f'the file asks for an outside document type "{system[:60]}"',
                "Take the DOCTYPE line out, or save as plain SVG.",
            )

    def _declaration(self, _version: str, encoding: str | None, _standalone: int) -> None:
        if encoding and self._encoding == "utf-8":
            self._encoding = encoding

    def _attlist(self, element: str, *_rest: Any) -> None:
        # What it declares would stand in every such element anew.
        raise self._refused(
            f"the file declares attributes of <{element[:40]}> (ATTLIST)",
            "Save as plain SVG, or take the ATTLIST lines out.",
        )

    def _entity(self, name: str, parameter: bool, value: str | None, *_rest: Any) -> None:
        cure = "Save as plain SVG, or take the ENTITY lines out."
        if parameter or value is None:
            raise self._refused(f'the entity "{name[:40]}" refers to outside the file', cure)
        uses = self._data.decode(self._encoding, "replace").count(f"&{name};")
        if uses and not _ADDRESS.fullmatch(value):
            raise self._refused(f'the file expands the entity "{name[:40]}"', cure)
        self._expanded += uses * len(value)
        if self._expanded > _MOST_EXPANDED:
            raise self._refused("the file expands entities too often", cure)

    def _external(self, *_args: Any) -> int:
        raise self._refused(
            "the file refers to an outside entity", "Save as plain SVG, without entities."
        )

    def _start(self, name: str, attributes: list[str]) -> None:
        self._count += 1
        self._depth += 1
        if self._depth > DEEPEST:
            raise self._refused(f"groups are nested deeper than {DEEPEST}", "Ungroup the drawing.")
        if self._count > MOST_ELEMENTS:
            raise self._refused(
                f"the drawing has more than {MOST_ELEMENTS} elements",
                "Take out everything but the pieces.",
            )
        held = _NODE_BYTES + sum(map(len, attributes))
        spend(_NODE_STEPS, "elements and attributes", held=held)
        kept: dict[str, str] = {}
        for key, value in zip(attributes[::2], attributes[1::2], strict=True):
            kept[_KNOWN.get(key, key)] = value
        node = Node(_local(name), kept, self.parser.CurrentLineNumber, self._open)
        self.root = self.root or node
        self._open = node

    def _end(self, _name: str) -> None:
        node = self._open
        assert node is not None
        self._open = node.parent  # type: ignore[assignment]
        if node.kind == "desc" and self._open is not None and not self._open.story:
            lines = (line.strip() for line in node.text().splitlines())
            self._open.story = tuple(line for line in lines if line)
        self._depth -= 1

    def _characters(self, text: str) -> None:
        spend(1, "text", held=len(text))
        if self._open is not None:
            self._open.content.append(text)


def _local(name: str) -> str:
    namespace, _, local = name.rpartition(" ")
    return local if namespace in ("", SVG_NS) else f"{{{namespace}}}{local}"
