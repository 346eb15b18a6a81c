"""What an element says that it is: `data-` attributes, or a dotted name in their place."""

from __future__ import annotations

from dataclasses import dataclass

from .names import ROLES, dotted, dotted_of, label_of
from .xml_tree import Node

#: Names that a `data-role` may have.
DATA_ROLES = tuple(sorted(ROLES - {"point", "edge", "dart", "pleat", "hold"}))


@dataclass(frozen=True, slots=True)
class Marking:
    """The meaning of a marked element.

    `piece` is set where a dotted name says it. `role` is "" or a word of `data-role`
    (which may be an unknown one). `point`, `edge`, `dart`, `pleat` are names given, None
    where the element is no such mark; `vertex`: it stands at an outline vertex. `hold` is
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
        named = [
            f"{word} {name}".strip()
            for word, name in (
                ("point", self.point),
                ("edge", self.edge),
                ("dart", self.dart),
                ("pleat", self.pleat),
            )
            if name is not None
        ]
        if self.role:
            named.insert(0, f"{self.role} {self.name or ''}".strip())
        if self.hold:
            named.append("hold")
        return ", ".join(named) or "point"


def marking_of(node: Node, ident: str | None = None) -> Marking | None:
    """The marking of an element; None where it has none. `ident` stands for its id."""
    a = node.attributes
    name = a.get("data-name")
    role = a.get("data-role", "").strip()
    hold = a.get("data-hold", "").strip().lower()
    hold = "" if hold in ("no", "false") else hold
    found = dotted_of(node) if ident is None else dotted(ident)
    piece = found.piece if found else None
    point, edge = a.get("data-point"), a.get("data-edge")
    dart, pleat = a.get("data-dart"), a.get("data-pleat")
    vertex = point is not None or ("data-rule" in a and not role)
    if role or hold or vertex or edge is not None or dart is not None or pleat is not None:
        if "data-piece" in a and node.tag != "g":
            piece = a["data-piece"] or piece
        kind = a.get("data-kind", "")
        return Marking(piece, role, point, vertex, edge, dart, pleat, hold, name, kind)
    if found is None or "data-piece" in a:
        # A piece may well bear a dotted name of its own.
        return None
    by_id = ident is not None or (dotted(label_of(node)) is None and dotted(name or "") is None)
    rest, word = found.rest, found.role
    if word == "point":
        return Marking(piece, point=rest or None, vertex=True, by_id=by_id)
    if word in ("edge", "dart", "pleat"):
        return Marking(piece, **{word: rest}, by_id=by_id)  # type: ignore[arg-type]
    if word == "hold":
        return Marking(piece, hold="yes", name=rest or name, by_id=by_id)
    if name is not None and dotted(name):
        name = None
    kind = a.get("data-kind", rest if word == "mark" else "")
    name = name or (rest if word != "mark" else "") or None
    return Marking(piece, word, name=name, kind=kind, by_id=by_id)
