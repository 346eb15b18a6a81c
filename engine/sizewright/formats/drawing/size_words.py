"""Size words beside lines: which line each of them speaks of."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.types import Floats
from .kinds import is_grey, same_colour
from .names import bare_size, size_in_words
from .shapes import Shape, Text

#: A word speaks of a line within so many mm, or letter heights; the next line of another size
#: must be so many times as far off, and by so many mm.
_NEAR, _LETTERS = 8.0, 2.0
_TIMES, _FARTHER = 1.4, 0.4
#: So large a share of what says a size must agree.
_AGREE = 0.6
#: A sample line in a key is so long, mm; it is level with the middle of its word within so many
#: letter heights, and ends so many before or behind it.
_SAMPLE, _LEVEL, _BEFORE = (8.0, 150.0), 0.9, 4.0

Line = TypeVar("Line", bound=Hashable)


def size_words(shapes: Iterable[Shape]) -> list[tuple[Shape, Text, str]]:
    """Texts that are a size and nothing else, each with its shape and the size."""
    found = []
    for shape in shapes:
        for text in shape.texts:
            size = size_in_words(text.text) or bare_size(text.text)
            if size is not None and text.height > 0:
                found.append((shape, text, size))
    return found


def named_by_words(
    words: Sequence[tuple[Shape, Text, str]],
    lines: Mapping[Line, Sequence[Path]],
    colours: Mapping[Line, str],
) -> dict[Line, str]:
    """The size of each of `lines` by the words that have its colour, or stand beside it.

    `colours` are those of lines, where all differ. A word at the end of a sample line in a key
    speaks of that alone. Empty where the words contradict one another.
    """
    votes: dict[Line, Counter[str]] = {line: Counter() for line in lines}
    for line, size in _said(words, lines, colours):
        votes[line][size] += 1
    named: dict[Line, str] = {}
    for line, counted in votes.items():
        if counted:
            size, count = counted.most_common(1)[0]
            if count < _AGREE * counted.total() or size in named.values():
                return {}
            named[line] = size
    return named


def sizes_beside(
    words: Sequence[tuple[Shape, Text, str]], lines: Mapping[Line, Sequence[Path]]
) -> dict[Line, set[str]]:
    """All sizes that stand beside each of `lines`, or at the end of its sample in a key."""
    found: dict[Line, set[str]] = {}
    for line, size in _said(words, lines, {}):
        found.setdefault(line, set()).add(size)
    return found


def _said(
    words: Sequence[tuple[Shape, Text, str]],
    lines: Mapping[Line, Sequence[Path]],
    colours: Mapping[Line, str],
) -> Iterator[tuple[Line, str]]:
    """Each line that a word speaks of, with the size that it says."""
    key = _key(words, lines)
    for shape, text, size in words:
        line = _by_colour(shape, colours)
        if line is None:
            line = key[id(text)] if id(text) in key else _beside(text, lines)
        if line is not None:
            yield line, size


def _by_colour(shape: Shape, colours: Mapping[Line, str]) -> Line | None:
    # Most programs fill letters and draw no line round them.
    said = (shape.style.fill, shape.style.colour)
    colour = next((colour for colour in said if not is_grey(colour)), None)
    if colour is None:
        return None
    same = [line for line, own in colours.items() if same_colour(colour, own)]
    return same[0] if len(same) == 1 else None


def _key(
    words: Sequence[tuple[Shape, Text, str]], lines: Mapping[Line, Sequence[Path]]
) -> dict[int, Line]:
    """The lines whose samples words stand beside, by the `id` of the word; a key has several."""
    samples = [
        (line, np.array([path.start, path.end]))
        for line, paths in lines.items()
        for path in paths
        if _SAMPLE[0] <= path.length <= _SAMPLE[1] and not path.closed
        if path.length < 1.0001 * float(np.hypot(*(path.end - path.start)))
    ]
    key: dict[int, Line] = {}
    for _, text, _ in words:
        along, up, wide = _axes(text)
        found: list[tuple[float, float, int, Line]] = []
        for line, ends in samples:
            u, v = (ends - text.at) @ along, (ends - text.at) @ up - 0.35 * text.height
            gap = max(float(u.min()) - wide, -float(u.max())) / text.height
            if np.abs(v).max() <= _LEVEL * text.height and -0.5 <= gap <= _BEFORE:
                found.append((float(np.abs(v).max()), gap, len(found), line))
        if found:
            key[id(text)] = min(found, key=lambda one: one[:3])[3]
    return key if len(set(key.values())) > 1 else {}


def _beside(text: Text, lines: Mapping[Line, Sequence[Path]]) -> Line | None:
    """The line that a word stands beside, if no other is nearly as near."""
    places = _places(text)
    reach = max(_NEAR, _LETTERS * text.height)
    (x0, y0), (x1, y1) = places.min(axis=0) - 3 * reach, places.max(axis=0) + 3 * reach
    away: list[tuple[float, int, Line]] = []
    for number, (line, paths) in enumerate(lines.items()):
        least = np.inf
        for path in paths:
            u0, v0, u1, v1 = path.bounds
            if u0 <= x1 and u1 >= x0 and v0 <= y1 and v1 >= y0:
                least = min(least, float(nearest(path, places).distance.min()))
        away.append((least, number, line))
    away.sort(key=lambda item: item[:2])
    if not away or away[0][0] > reach:
        return None
    if len(away) > 1 and away[1][0] < _TIMES * away[0][0] + _FARTHER:
        return None
    return away[0][2]


def _places(text: Text) -> Floats:
    """Places on the box of a word, (15, 2) mm."""
    along, up, wide = _axes(text)
    up = up * text.height
    return np.array(
        [np.array(text.at) + a * wide * along + b * up for a in np.linspace(0, 1, 5)
         for b in (0.0, 0.35, 0.7)]
    )  # fmt: skip


def _axes(text: Text) -> tuple[Floats, Floats, float]:
    """Unit vectors along a word and up from it, and its width, mm."""
    turn = np.radians(text.angle)
    along = np.array([np.cos(turn), np.sin(turn)])
    wide = 0.6 * text.height * max(len(line) for line in text.text.split("\n"))
    return along, np.array([-along[1], along[0]]), wide
