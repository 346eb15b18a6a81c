"""Names drawn beside what they name, and of sizes on their lines in a nest.

For the eye only: readers leave these out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from ...geometry import bezier
from ...geometry.nearest import nearest
from ...geometry.path import Path, unit_tangents
from ...geometry.spread import widest_apart
from ...geometry.types import Floats, Ints
from ...model import Piece, Vec
from ...palette import INK, PAPER, QUIET, Line
from ..drawing.described_notches import stands
from ..drawing.scribe import Facts, without_forbidden
from ..drawing.settled import number
from .page_out import Frame
from .xml_out import Tag

_LARGEST, _SMALLEST = 4.0, 1.2
_TITLE = 2.0
#: Rough width of a letter and half the height of a line, as shares of the letter height.
_LETTER, _HALF = 0.6, 0.55
#: Points of a line are looked at this close, as a share of the letter height.
_STEP = 0.3
_MOST_POINTS = 4000

# Larger than the names of edges and points, as they tell the lines apart.
_SHARE = 1.25
# Rough width of a bold letter, height of the blank below it, and its baseline below its middle.
_BOLD, _TALL, _BASELINE = 0.66, 1.0, 0.35


class _Word(NamedTuple):
    """A text by the middle of its left end, its turn in degrees, and its letter height."""

    text: str
    start: Vec
    turn: float
    size: float
    colour: str | None = None

    @property
    def width(self) -> float:
        return len(self.text) * self.size * _LETTER


def letter_height(bounds: tuple[float, float, float, float]) -> float:
    """Height in mm of the letters of names on a piece within `bounds`."""
    x0, y0, x1, y1 = bounds
    return min(_LARGEST, max(_SMALLEST, 0.04 * min(x1 - x0, y1 - y0)))


def name_tags(piece: Piece, frame: Frame, taken_up: list[Floats]) -> tuple[list[Tag], Facts]:
    """Names of points, edges and the piece, and their style.

    Each name takes the first of several places near its thing where it meets no line, no other
    name and none of the points `taken_up` (m, 2), else the one where it meets least.
    """
    size = letter_height(piece.bounds)
    taken = np.vstack([_lines(piece, size * _STEP), *taken_up])
    tags = []
    every = *_titles(piece, size, taken), *_edge_names(piece, size), *_point_names(piece, size)
    for choices in every:
        word = choices[int(_hits(choices, taken).argmin())]
        taken = np.vstack([taken, _body(word)])
        tags.append(_tag(frame, word, size))
    return tags, {"font-size": number(size, 2), "fill": QUIET, "stroke": "none"}


def _lines(piece: Piece, step: float) -> Floats:
    """Points along all lines that a name should not cross."""
    path = piece.outline.path
    paths = [path, piece.drawn.path, *(m.path for m in piece.marks)]
    paths += [c.path for c in piece.cutouts] + [a.path for a in piece.adjusts]
    paths += [Path.polyline([x.start, x.end]) for x in (piece.grain, piece.axis) if x]
    for dart in piece.darts:
        ends = [path.vertices[dart.a], np.array(dart.apex), path.vertices[dart.b]]
        paths.append(Path.polyline(np.array(ends)))
    found = [_sampled(path, step) for path in paths]
    notches = stands(piece)
    if notches:
        segments, t = path.locate(np.array([stand.s for stand in notches]))
        along = unit_tangents(path.controls[segments], t)
        deep = np.array([stand.notch.depth or 5.0 for stand in notches])
        steps = np.linspace(0.0, 1.0, 5)[:, None, None] * deep[:, None]
        inward = np.column_stack([-along[:, 1], along[:, 0]])
        feet = bezier.evaluate(path.controls[segments], t)
        found.append((feet + steps * inward).reshape(-1, 2))
    return np.vstack(found)


def _sampled(path: Path, step: float) -> Floats:
    """Points along a path, no further apart than about `step` mm (within reason)."""
    reach = np.abs(np.diff(path.controls, axis=1)).sum(axis=(1, 2))
    counts = np.clip(np.round(reach / step, 6), 1, _MOST_POINTS / len(path)).astype(int) + 1
    index = np.repeat(np.arange(len(path)), counts)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    t = (np.arange(len(index)) - first) / np.repeat(counts, counts)
    return bezier.evaluate(path.controls[index], t)


def _titles(piece: Piece, size: float, lines: Floats) -> Iterator[list[_Word]]:
    """The piece's name, then size and quantity below it, where no label says them."""
    if piece.labels:
        return
    x0, y0, x1, y1 = piece.bounds
    about = ", ".join(
        [f"size {piece.size}"] * bool(piece.size)
        + [f"{q.material} {q.count}" for q in piece.quantity]
    )
    name = _Word(piece.name, (0.0, 0.0), 0.0, size * _TITLE, INK)
    below = _Word(about, (0.0, 0.0), 0.0, size)
    width, drop = max(name.width, below.width), -1.1 * name.size

    def both(x: float, y: float) -> tuple[_Word, _Word]:
        return (
            _Word(name.text, (x, y), 0.0, name.size, INK),
            _Word(about, (x, y + drop), 0.0, size),
        )

    across, up = (0.5, 0.6, 0.4, 0.7, 0.3, 0.2, 0.8), (0.5, 0.55, 0.45, 0.6, 0.4, 0.7, 0.3)
    places = [both(x0 + f * (x1 - x0) - width / 2, y0 + g * (y1 - y0)) for g in up for f in across]
    hits = sum(_hits(words, lines) for words in zip(*places, strict=True))
    best = places[int(np.argmin(hits))]
    yield [best[0]]
    if about:
        yield [best[1]]


def _edge_names(piece: Piece, size: float) -> Iterator[list[_Word]]:
    """Along each named edge, inside, upright, near its middle."""
    path = piece.outline.path
    edges = [
        (e, e.name)
        for e in piece.outline.edges
        if e.name is not None and e.length >= size * _LETTER * len(e.name)
    ]
    if not edges:
        return
    shares = np.array([0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8])
    segments, t = path.locate(np.concatenate([e.offset + e.length * shares for e, _ in edges]))
    places = bezier.evaluate(path.controls[segments], t).reshape(len(edges), -1, 2)
    tangents = unit_tangents(path.controls[segments], t).reshape(places.shape)
    for k, (_, name) in enumerate(edges):
        choices = []
        for (x, y), (u, v) in zip(places[k].tolist(), tangents[k].tolist(), strict=True):
            turn = turn_along((u, v))
            back, down = (c * len(name) * size * _LETTER / 2 for c in _along(turn))
            choices.append(_Word(name, (x - v * size - back, y + u * size - down), turn, size))
        yield choices


def _point_names(piece: Piece, size: float) -> Iterator[list[_Word]]:
    """Beside each named point, where the cloth lies if there is room."""
    path = piece.outline.path
    for point in piece.outline.points:
        if point.name is None:
            continue
        out, into = path.tangents_out[point.vertex], path.tangents_in[point.vertex - 1]
        way = np.array([-out[1] - into[1], out[0] + into[0]])
        length = float(np.hypot(*way))
        u, v = (way / length).tolist() if length > 1e-6 else (1.0, 0.0)
        x, y = path.vertices[point.vertex].tolist()
        width = len(point.name) * size * _LETTER
        choices = []
        for away in (1.2, 1.8, 2.6, -1.2, 3.6, -2.0):
            for share in (0.0, 0.5, 1.0) if u * away >= 0 else (1.0, 0.5, 0.0):
                start = x + u * size * away - width * share, y + v * size * away
                choices.append(_Word(point.name, start, 0.0, size))
        yield choices


def turn_along(along: Vec | Floats) -> float:
    """The turn of a text along a direction, degrees, never head down.

    Rounded first: noise in the last bits must not turn the text on an upright edge over.
    """
    turn = round(math.degrees(math.atan2(along[1], along[0])), 6)
    return (turn + 90.0) % 180.0 - 90.0


def _along(turn: float) -> Vec:
    angle = math.radians(turn)
    return math.cos(angle), math.sin(angle)


def _hits(words: Sequence[_Word], points: Floats) -> Ints:
    """How many of `points` (m, 2) lie under each word."""
    rows = [(*w.start, *_along(w.turn), w.width, w.size * _HALF) for w in words]
    x, y, c, s, width, half = np.array(rows).T[:, :, None]
    # Most points are near none of them.
    reach, (px, py) = width + half, points.T
    near = (px >= (x - reach).min()) & (px <= (x + reach).max())
    near &= (py >= (y - reach).min()) & (py <= (y + reach).max())
    off_x, off_y = px[near] - x, py[near] - y
    u = np.round(off_x * c + off_y * s, 6)
    v = np.round(off_y * c - off_x * s, 6)
    hits: Ints = ((u > 0) & (u < width) & (np.abs(v) < half)).sum(axis=1)
    return hits


def _body(word: _Word) -> Floats:
    """Points all over a word that has been placed."""
    c, s = along = np.array(_along(word.turn))
    across = np.array([-s, c]) * word.size * _HALF
    steps = np.linspace(0.0, word.width, 2 * len(word.text) + 1)[:, None] * along
    body: Floats = np.vstack([np.array(word.start) + steps + across * f for f in (-0.9, 0.0, 0.9)])
    return body


def _tag(frame: Frame, word: _Word, size: float) -> Tag:
    c, s = _along(word.turn)
    base = np.array(word.start) - 0.35 * word.size * np.array([-s, c])
    x, y = frame.xy(base, 2)
    rotation = number(-word.turn, 1)
    return Tag(
        "text",
        {
            "x": x,
            "y": y,
            "font-size": None if word.size == size else number(word.size, 2),
            "fill": word.colour,
            "transform": None if rotation == "0" else f"rotate({rotation} {x} {y})",
        },
        without_forbidden(word.text),
    )


# --- sizes of a nest ------------------------------------------------------------------


class SizeName(NamedTuple):
    """Where the name of a size stands: its middle, turn in degrees, letter height in mm."""

    at: Floats
    turn: float
    size: float
    width: float

    @property
    def body(self) -> Floats:
        """Points all over it, (m, 2)."""
        along = np.array(_along(self.turn))
        across = np.array([-along[1], along[0]]) * self.size * 0.5
        steps = np.linspace(-0.5, 0.5, 9)[:, None] * self.width * along
        rows: Floats = np.vstack([self.at + steps + across * f for f in (-1.0, 0.0, 1.0)])
        return rows


Key = tuple[str, str | None]


def size_names(pieces: Sequence[Piece]) -> dict[Key, SizeName]:
    """A place for the name of each size of each piece that has several.

    They stand side by side, each on its line, where the lines lie furthest apart.
    """
    found: dict[Key, SizeName] = {}
    for name in dict.fromkeys(piece.name for piece in pieces):
        group = [p for p in pieces if p.name == name and p.size]
        if len(group) < 2:
            continue
        paths = {p.key: p.drawn.path for p in group}
        order = sorted(group, key=lambda p: paths[p.key].area)
        outer = paths[order[-1].key]
        first = float(widest_apart([paths[p.key] for p in order], outer)[0])
        size = _SHARE * letter_height(outer.bounds)
        widths = [len(p.size or "") * size * _BOLD + 0.4 * size for p in order]
        stride = max(widths) + 0.6 * size
        # On a short line they stand closer, so that they do not run round a corner.
        stride = min(stride, outer.length / (2 * len(order)))
        for i, (piece, width) in enumerate(zip(order, widths, strict=True)):
            path = paths[piece.key]
            beside = outer.at(np.array([first + (i - (len(order) - 1) / 2) * stride]))
            s = nearest(path, beside).s
            turn = turn_along(path.tangents(s)[0])
            found[piece.key] = SizeName(path.at(s)[0], turn, size, width)
    return found


def size_tags(piece: Piece, place: SizeName, line: Line, frame: Frame) -> tuple[list[Tag], Facts]:
    """The name on its line, over a blank that interrupts the line; and their style."""
    x, y = frame.at(place.at)
    middle = f"rotate({number(-place.turn, 1)} {number(x, 2)} {number(y, 2)})"
    blank: Facts = {
        "x": number(x - place.width / 2, 2),
        "y": number(y - place.size * _TALL / 2, 2),
        "width": number(place.width, 2),
        "height": number(place.size * _TALL, 2),
        "fill": PAPER,
    }
    text: Facts = {
        "x": number(x, 2),
        "y": number(y + _BASELINE * place.size, 2),
        "font-size": number(place.size, 2),
        "font-weight": "bold",
        "text-anchor": "middle",
        "fill": line.colour,
    }
    turn = None if middle.startswith("rotate(0 ") else middle
    shown = without_forbidden(piece.size or "")
    return [Tag("rect", blank), Tag("text", text, shown)], {"stroke": "none", "transform": turn}
