"""A drawing: shapes in mm, y up, in groups and layers, with the names and words they bear."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from ...findings import Finding
from ...geometry.path import Path
from ...model import Vec
from ..reading import SetAside

Box = tuple[float, float, float, float]


#: What is longer is no name, and is cut: characters.
LONGEST_NAME = 1000


class Element:
    """What can bear words: a shape, a group, a layer, a placed block, the drawing as a whole.

    `kind` is what the file calls it. `attributes` are those of docs/files.md (`data-piece`).
    `label` is a name that a person gave, `ident` one that may be a program's. `place` is
    where it stands, as messages show it. `story` tells what was done to a piece.
    """

    __slots__ = ("attributes", "children", "ident", "kind", "label", "parent", "place", "story")

    def __init__(
        self,
        kind: str,
        attributes: dict[str, str] | None = None,
        parent: Element | None = None,
        *,
        label: str = "",
        ident: str = "",
        place: str = "",
    ) -> None:
        self.kind = kind
        self.attributes = attributes or {}
        self.parent = parent
        self.label = label[:LONGEST_NAME]
        self.ident = ident[:LONGEST_NAME]
        self.place = place
        self.story: tuple[str, ...] = ()
        self.children: list[Element] = []
        if parent is not None:
            parent.children.append(self)

    @property
    def name(self) -> str:
        """Label, else ident."""
        return self.label or self.ident

    def get(self, name: str, default: str = "") -> str:
        """An attribute's value, `default` where it is missing."""
        return self.attributes.get(name, default)

    def iter(self) -> Iterator[Element]:
        """This element and all below it, in document order."""
        stack = [self]
        while stack:
            element = stack.pop()
            yield element
            stack.extend(reversed(element.children))


class Text(NamedTuple):
    """Text as drawn: baseline start in mm, letter height in mm, turn in degrees (y up).

    `tag` says what it is for, where the file tells that apart from the words.
    """

    text: str
    at: Vec
    height: float
    angle: float
    tag: str = ""


@dataclass(frozen=True, slots=True)
class Style:
    """How a line is drawn: its colour as the file says it, width in mm, dashes as it says them.

    `fill` is the colour of what it goes round, which tells no lines apart.
    """

    colour: str = ""
    width: float | None = None
    dashes: str = ""
    fill: str = field(default="", compare=False)


PLAIN = Style()


class Marking(NamedTuple):
    """What a shape says that it is.

    `piece` is set where a dotted name says it. `role` is "" or a word of `data-role`
    (which may be an unknown one). `point`, `edge`, `dart`, `pleat` are names given, None
    where the shape is no such mark; `vertex`: it stands at an outline vertex. `rule` is the
    grade rule of a point or notch. `hold` is
    "", "yes" or "point". `name` and `kind` describe the feature. `by_id`: all this is
    from a dotted id, which an editor may have lengthened.
    """

    piece: str | None = None
    role: str = ""
    point: str | None = None
    vertex: bool = False
    edge: str | None = None
    dart: str | None = None
    pleat: str | None = None
    hold: str = ""
    name: str | None = None
    kind: str = ""
    by_id: bool = False
    rule: str | None = None

    @property
    def picture(self) -> bool:
        """Drawn for the eye only."""
        return self.role == "picture"

    @property
    def outlining(self) -> bool:
        """Whether it is one of the piece's own lines."""
        return self.role in ("outline", "sew")

    def says(self) -> str:
        """What it is, in words: `point underarm`, `grain`."""
        words = ("point", "edge", "dart", "pleat")
        named = [f"{w} {getattr(self, w)}".strip() for w in words if getattr(self, w) is not None]
        if self.role:
            named.insert(0, f"{self.role} {self.name or ''}".strip())
        if self.hold:
            named.append("hold")
        return ", ".join(named) or "point"


@dataclass(eq=False, slots=True)
class Group:
    """One group as drawn: its element, the group round it, and the clone that brought it in."""

    element: Element
    parent: Group | None
    via: Element | None = None

    def chain(self) -> list[Group]:
        """This group and all round it, innermost first."""
        found: list[Group] = []
        at: Group | None = self
        while at is not None:
            found.append(at)
            at = at.parent
        return found


@dataclass(eq=False, slots=True)
class Shape:
    """A shape, or a marked group of shapes, as drawn.

    `position` counts in document order. `paths` in mm, y up. `dot` is a place alone. `via` is
    the outermost clone that brought it in. `unpainted`: neither filled nor stroked.
    """

    element: Element
    group: Group
    marking: Marking | None
    position: int = 0
    via: Element | None = None
    hidden: bool = False
    unpainted: bool = False
    paths: list[Path] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    dot: Vec | None = None
    style: Style = PLAIN

    @property
    def place(self) -> str:
        """Where it stands, by the clone that brought it in where it has no id."""
        if self.via is not None and not self.element.ident:
            return self.via.place
        return self.element.place

    @property
    def name(self) -> str:
        """Its name, else that of the clone that brought it in."""
        return self.element.name or (self.via.name if self.via is not None else "")

    def marked(
        self,
        role: str,
        kind: str = "",
        paths: list[Path] | None = None,
        texts: list[Text] | None = None,
    ) -> Shape:
        """The shape, or some of its lines or texts, as a mark of a role."""
        paths = self.paths if paths is None and texts is None else paths or []
        marking = Marking(role=role, kind=kind)
        return replace(self, marking=marking, paths=paths, texts=texts or [])


@dataclass(slots=True)
class Drawing:
    """All that is drawn, in document order, y up in mm.

    `page` is width and height, `border` the page's box where it has one. `findings` and
    `set_aside` are what the reader of the file found and left out. `scaled`: so many times as
    large as it was drawn.
    """

    root: Element
    shapes: list[Shape] = field(default_factory=list)
    page: tuple[float, float] | None = None
    border: Box | None = None
    title: str = ""
    findings: list[Finding] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    scaled: float = 1.0
