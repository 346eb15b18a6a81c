"""Entities that bear Sizewright's attributes, as the shapes that they were drawn from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ...findings import Finding
from ...geometry.path import Path
from ..drawing.marking import marking_of
from ..drawing.shapes import Element, Group, Shape
from .entities import Entity

#: Parts of one line this close, in mm, still meet.
_MEET = 1e-3


@dataclass
class Marked:
    """Shapes with their groups, what is said of the pattern, and what was found."""

    drawn: list[Shape] = field(default_factory=list)
    root: dict[str, str] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)


def marked_shapes(entities: Iterable[Entity], root: Element) -> Marked:
    """The shapes that marked entities make up. `root` is the element of the whole drawing.

    A piece that an editor has copied is a piece of its own, with a number after its name.
    """
    out = Marked()
    seen: Counter[tuple[str, ...]] = Counter()
    groups: dict[tuple[str, int], dict[str, list[Entity]]] = {}
    for entity in entities:
        a = entity.attributes
        if "sizewright" in a:
            out.root = dict(a)
        elif a.get("data-role") != "picture" and "group" in a:
            key = (a["group"], a.get("id", ""), a.get("part", ""))
            group = groups.setdefault((a["group"], seen[key]), {})
            seen[key] += 1
            group.setdefault(a.get("id", ""), []).append(entity)
    for (ident, copy), shapes in groups.items():
        around = Group(_piece_element(ident, copy, shapes, root, out), Group(root, None))
        out.drawn += [_drawn(name, parts, around) for name, parts in shapes.items()]
    return out


def _piece_element(
    key: str,
    copy: int,
    shapes: Mapping[str, list[Entity]],
    root: Element,
    out: Marked,
) -> Element:
    """What is said of a piece, gathered from all its entities."""
    about: dict[str, str] = {}
    for parts in shapes.values():
        for entity in parts:
            for name, value in entity.attributes.items():
                if name.startswith("piece:"):
                    about.setdefault(name.removeprefix("piece:"), value)
    place = f"the piece {about.get('piece', key)}"
    element = Element("g", {}, root, ident=key, place=place)
    story = about.pop("story", "")
    name = about.setdefault("piece", key)
    if copy:
        about["piece"] = f"{name}-{copy + 1}"
        out.findings.append(
            Finding(
                "name-twice",
                "warn",
                f'"{name}" is there more than once; a copy is called "{about["piece"]}"',
                about["piece"],
                cure="Give the copy a name of its own.",
            )
        )
    element.attributes |= {f"data-{k}": v for k, v in about.items()}
    element.story = tuple(line.strip() for line in story.splitlines() if line.strip())
    return element


def _drawn(ident: str, parts: list[Entity], group: Group) -> Shape:
    first = next((e for e in parts if _part(e)[1] == 0), parts[0])
    a = first.attributes
    attributes = {k: v for k, v in a.items() if k.startswith("data-")}
    kind = {"TEXT": "text", "MTEXT": "text", "CIRCLE": "circle"}.get(first.kind, "path")
    element = Element(kind, attributes, group.element, ident=ident, place=first.shown())
    drawn = Shape(element, group, marking_of(element), style=first.style)
    by_path: dict[int, list[Entity]] = {}
    for entity in parts:
        if entity.text is not None:
            shows = entity.attributes.get("shows", entity.attributes.get("text"))
            same = entity.text.text == shows
            words = entity.attributes.get("text", "") if same else entity.text.text
            drawn.texts.append(entity.text._replace(text=words))
        elif entity.path is not None:
            by_path.setdefault(_part(entity)[0], []).append(entity)
    for number in sorted(by_path):
        drawn.paths += _joined(sorted(by_path[number], key=_part))
    return drawn


def _part(entity: Entity) -> tuple[int, int]:
    """Number of the path in its shape, and of the entity in its path."""
    words = entity.attributes.get("part", "").split()
    if len(words) < 2 or not (words[0].isdecimal() and words[1].isdecimal()):
        return 0, 0
    return int(words[0]), int(words[1])


def _joined(parts: list[Entity]) -> list[Path]:
    """The path that entities make up; they stay apart where they do not meet any more."""
    paths = [e.path for e in parts if e.path is not None]
    words = parts[0].attributes.get("part", "0 0 1 open").split()
    closed = words[-1] == "closed"
    if len(paths) == 1 and paths[0].closed:
        return paths
    ends = np.array([p.end for p in paths])
    starts = np.array([p.start for p in paths])
    wanted = ends if closed else ends[:-1]
    following = np.roll(starts, -1, axis=0)[: len(wanted)]
    gaps = np.hypot(*(wanted - following).T) if len(wanted) else np.zeros(0)
    whole = words[2:3] == [str(len(paths))]
    if not whole or any(p.closed for p in paths) or (gaps > _MEET).any():
        return paths
    return [Path.join(paths, closed=closed)] if closed or len(paths) > 1 else paths
