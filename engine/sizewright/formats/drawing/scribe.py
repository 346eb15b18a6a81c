"""Shapes with what they say, as any file draws them, and who writes them down for a piece."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from ...findings import Finding, Level
from ...geometry.path import Path
from ...model import Label, Piece, Vec
from .names import untaken

#: Characters that no text of a drawing can hold (XML 1.0 has no spelling for them). What it
#: can hold, put the other way round, takes twenty times as long to compile.
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
#: Straight neighbours that turn less than this, in degrees, might pass for a flattened curve.
_GENTLE = 60.0

#: Facts by name, in the order in which they are written; None: nothing to say.
Facts = dict[str, str | None]


def can_hold(text: str) -> bool:
    """Whether a drawing can hold every character of `text`."""
    return _FORBIDDEN.search(text) is None


def without_forbidden(text: str) -> str:
    """`text` with what a drawing cannot hold put as the replacement character."""
    return _FORBIDDEN.sub("\ufffd", text)


class Named(NamedTuple):
    """An id, and the name that it stands for where it cannot be the same."""

    id: str
    label: str | None


class Ids:
    """Hands out ids: valid XML names, each once in a file."""

    def __init__(self, *taken: str) -> None:
        self._taken = set(taken)

    def take(self, wanted: str) -> str:
        """An id as near to `wanted` as may be: `front.notch`, then `front.notch-2`."""
        found = untaken(_as_id(wanted), self._taken)
        self._taken.add(found)
        return found

    def named(self, label: str, suffix: str = "") -> Named:
        """An id for `label`, with `suffix` behind it."""
        label = without_forbidden(label)
        taken = self.take(label + suffix)
        return Named(taken, None if taken == label else label)


def _as_id(text: str) -> str:
    """Letters, digits, hyphen, dot and underline alone, so that any program takes it."""
    bare = unicodedata.normalize("NFKD", text)
    bare = "".join(c for c in bare if not unicodedata.combining(c))
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", bare) or "-"
    return plain if plain[0].isalpha() or plain[0] == "_" else f"_{plain}"


class Figure(NamedTuple):
    """One thing that a piece puts on paper, in mm, y up.

    `role` is what it is: `outline`, `sew`, `fold`, `grain`, `axis`, `adjust`, `notch`,
    `drill`, `mark`, `cutout`, `label`, `point`, `edge`, `dart`, `pleat` or `hold`. `says`
    are its facts. It is drawn as `paths`, as a `dot` (place and radius), or as a label.
    """

    role: str
    named: Named
    says: Facts
    paths: tuple[Path, ...] = ()
    dot: tuple[Vec, float] | None = None
    label: Label | None = None


@dataclass
class Scribe:
    """One piece being written down: its settled numbers, the ids taken, what was found.

    `suffix` stands behind each id, so that one file can hold the piece in several sizes.
    """

    piece: Piece
    ids: Ids
    suffix: str = ""
    findings: list[Finding] = field(default_factory=list)
    shapes: list[Figure] = field(default_factory=list)

    def found(
        self, code: str, text: str, *, place: str = "", cure: str = "", level: Level = "warn"
    ) -> None:
        """Record that something of the piece cannot be held as it is."""
        piece = self.piece
        self.findings.append(Finding(code, level, text, piece.name, piece.size or "", place, cure))

    def held(self, text: str | None, what: str) -> str | None:
        """`text` as a drawing can hold it; a finding where that is not all of it."""
        if not text or can_hold(text):
            return text
        self.found("name-changed", f"{what} has characters that XML cannot hold", place=what)
        return without_forbidden(text)

    def draw(self, role: str, says: Facts, *paths: Path, name: str | None = None) -> None:
        """A shape of lines."""
        self._add(role, says, name, paths=paths)

    def line(self, role: str, says: Facts, path: Path, name: str | None = None) -> None:
        """A line of the pattern, which stays as it is: no reader makes a curve of it."""
        refit: Facts = {"refit": "no"} if _might_be_refitted(path) else {}
        self._add(role, says | refit, name, paths=(path,))

    def through(self, role: str, says: Facts, vertices: list[Vec], name: str | None) -> None:
        """Straight lines through places."""
        self._add(role, says, name, paths=(Path.polyline(np.array(vertices)),))

    def dot(self, role: str, says: Facts, place: Vec, r: float, name: str | None) -> None:
        """A small circle."""
        self._add(role, says, name, dot=(place, r))

    def write(self, says: Facts, label: Label) -> None:
        """A text."""
        self._add("label", says, None, label=label)

    def vertex(self, v: int) -> Vec:
        """Where a vertex of the working outline lies."""
        x, y = self.piece.outline.vertex_at(v)
        return float(x), float(y)

    def _add(
        self,
        role: str,
        says: Facts,
        name: str | None,
        *,
        paths: tuple[Path, ...] = (),
        dot: tuple[Vec, float] | None = None,
        label: Label | None = None,
    ) -> None:
        says_all = ".".join(x for x in (self.piece.name, role, name) if x)
        named = self.ids.named(says_all, self.suffix)
        self.shapes.append(Figure(role, named, says, paths, dot, label))


def _might_be_refitted(path: Path) -> bool:
    straight = path.lines & np.roll(path.lines, 1)
    turns = path.turns[: len(path)]
    if not path.closed:
        straight[0] = False
    return bool((straight & (np.abs(turns) < _GENTLE)).any())
