"""Darts with a point at each end, which lie within a piece: closed marks of the kind `dart`."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ..geometry.flatten import flatten
from ..geometry.path import Path
from ..geometry.types import Floats
from .features import Mark
from .vec import Vec

if TYPE_CHECKING:
    from .piece import Piece

_WORD = re.compile(r"(?<![a-z])darts?(?![a-z])")
#: Sides that bulge are followed within this, mm.
_CHORD = 0.01
#: A diamond is so many times as long as wide, at least so long and at most so wide in mm, and
#: its two lines from corner to corner cross within so many degrees of square.
_LONG, _LEAST, _WIDEST, _SQUARE = 3.0, 30.0, 80.0, 10.0


class EyeDart(NamedTuple):
    """A dart that lies within its piece.

    `path` is its closed line, `mouth` the two places between which it is widest, `take` how
    wide it is there in mm, `tips` its ends, the lower first.
    """

    name: str
    path: Path
    mouth: tuple[Vec, Vec]
    tips: tuple[Vec, Vec]
    take: float


def says_dart(words: str) -> bool:
    """Whether words (a kind, a name, a layer) say that something is a dart."""
    return _WORD.search(words.casefold()) is not None


def is_eye_dart(mark: Mark) -> bool:
    """Whether a mark is a dart with a point at each end: closed, and of the kind `dart`."""
    return mark.path.closed and says_dart(mark.kind)


def eye_darts(piece: Piece) -> tuple[EyeDart, ...]:
    """The darts that lie within a piece, in the order of its marks.

    >>> from sizewright.geometry import Path
    >>> from sizewright.model import Mark, Outline, Piece
    >>> line = Path.polyline([(0, 0), (300, 0), (300, 500), (0, 500)], closed=True)
    >>> eye = Path.polyline([(100, 200), (110, 290), (100, 400), (90, 290)], closed=True)
    >>> piece = Piece("back", Outline.of(line), marks=(Mark(eye, "dart", "waist"),))
    >>> [(dart.name, dart.take) for dart in eye_darts(piece)]
    [('waist', 20.0)]
    """
    return tuple(_eye(mark) for mark in piece.marks if is_eye_dart(mark))


def _eye(mark: Mark) -> EyeDart:
    points = flatten(mark.path, _CHORD)
    away = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    far = points[list(np.unravel_index(int(away.argmax()), away.shape))]
    low, high = far[np.lexsort((far[:, 0], far[:, 1]))]
    along = (high - low) / float(np.hypot(*(high - low)))
    off = (points - low) @ np.array([-along[1], along[0]])
    left, right = int(off.argmax()), int(off.argmin())
    mouth, tips = ((_vec(a), _vec(b)) for a, b in ((points[left], points[right]), (low, high)))
    return EyeDart(mark.name or "dart", mark.path, mouth, tips, float(off[left] - off[right]))


def _vec(point: Floats) -> Vec:
    return float(point[0]), float(point[1])


def is_diamond(path: Path) -> bool:
    """Whether a closed line has the shape of such a dart: four corners, long and narrow.

    A pocket or a welt has not: its lines from corner to corner do not cross squarely.
    """
    if not path.closed or len(path) != 4:
        return False
    corners = path.vertices
    one, other = corners[2] - corners[0], corners[3] - corners[1]
    short, long = sorted((float(np.hypot(*one)), float(np.hypot(*other))))
    if not 0 < short <= _WIDEST or long < max(_LONG * short, _LEAST):
        return False
    return abs(float(one @ other)) <= short * long * float(np.sin(np.radians(_SQUARE)))
