"""Levels of a pattern (bust, waist, hip ...): which points of a piece lie on which."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from ..errors import LookupFailed
from ..geometry.types import Floats
from ..model.piece import Piece

#: Levels that are looked for whether asked for or not, from the top down, and the words in
#: the names of points that stand for each; a later word counts where no earlier one is found.
LEVELS: Mapping[str, tuple[str, ...]] = {
    "neck": ("neck",),
    "shoulder": ("shoulder",),
    "bust": ("bust", "chest", "underarm"),
    "waist": ("waist",),
    "hip": ("hip", "seat"),
    "knee": ("knee",),
    "hem": ("hem",),
}
#: Other names of a level.
_SAME = {"chest": "bust", "underarm": "bust", "seat": "hip"}
#: Levels below the hip go with it where it is asked for and they are not.
BELOW_HIP = ("knee", "hem")


class LevelPoint(NamedTuple):
    """A vertex of a piece that lies on a level; `length` is its place along the grade axis, mm."""

    level: str
    vertex: int
    length: float


def level_name(name: str) -> str:
    """A level's name as levels are compared: `Chest` is `bust`, `Hip ` is `hip`."""
    plain = "-".join(_words(name))
    return _SAME.get(plain, plain)


def level_points(piece: Piece, level: str, local: Floats) -> tuple[LevelPoint, ...]:
    """The points of a piece that lie on a level, in outline order; none where none is named.

    They are those with just the level's name; else those whose name has it as a word
    (`side-waist` for `waist`), points of darts left out; else those with another word for
    it (see `LEVELS`). `local` (n, 2) are the vertices as (width, length).
    """
    darts = {v for d in piece.darts for v in (d.a, d.b, d.tip) if v is not None}
    named = [(p.vertex, _words(p.name)) for p in piece.outline.points if p.name]
    # So are those of darts that went into a seam.
    darts |= {v for v, words in named if "dart" in words}
    for word in LEVELS.get(level, (level,)):
        wanted = _words(word)
        found = [v for v, words in named if words == wanted]
        if not found:
            found = [v for v, words in named if v not in darts and _holds(words, wanted)]
        if found:
            return tuple(LevelPoint(level, v, float(local[v, 1])) for v in found)
    return ()


def level_names(pieces: Iterable[Piece]) -> str:
    """The named points of all pieces, for messages."""
    names = {p.name for piece in pieces for p in piece.outline.points if p.name}
    return ", ".join(sorted(names)) or "none"


def no_level(level: str, pieces: Iterable[Piece]) -> LookupFailed:
    """That no piece has a level."""
    named = level_names(pieces)
    cure = (
        f"Name a point {level}, or one with that word in it, such as side-{level}; or give "
        f"a piece by its name. Points that are named: {named}."
    )
    if named == "none":
        cure = (
            f"A level is a word ({', '.join(LEVELS)}) in the name of a point, and no point of this "
            "pattern has a name: number and place do not do. Name points in the drawing, or under "
            "[pieces.NAME] in a job; sizewright show --marked names those that it recognises. A "
            "piece can be given by its name instead."
        )
    return LookupFailed(f'no piece has a point at the level "{level}"', cure=cure)


def _words(name: str) -> list[str]:
    return [w for w in re.split(r"[\W_]+", name.casefold()) if w]


def _holds(words: list[str], wanted: list[str]) -> bool:
    n = len(wanted)
    return n > 0 and any(words[k : k + n] == wanted for k in range(len(words) - n + 1))
