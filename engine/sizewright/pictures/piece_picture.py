"""One piece as a drawing that can be read: its lines, and words that stay clear of them."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from ..findings import Finding
from ..geometry.path import Path
from ..geometry.regions import contains
from ..geometry.types import Floats
from ..model import Edge, Piece, Side, says_dart
from ..model.drawn import drawn_named, named_points
from ..palette import FAULT, FOLDING, GRAIN, INK, MARKING, PAPER, QUIET, Line
from ..units import Unit, both, format_length
from . import symbols
from .labels import (
    LEADING,
    Candidate,
    Style,
    Text,
    along_edge,
    beside,
    beside_point,
    cheapest_first,
    choose,
    upright,
    with_leader,
    write,
)
from .piece_lines import draw_lines, fold_path, notch_places, scaled
from .room import Box, Room
from .sketch import Sketch, Words
from .symbols import left_of, unit
from .text import width

# Sizes of text in letter heights of the picture.
_TITLE = 1.55
_NUMBER = 0.92
_SMALL = 0.88
# Radius of the ring round a corner's number.
_RING = 0.82
_CLEAR = 0.28
# What is wrong at a place is told in lines of so many letters.
_ACROSS = 34
# What it costs a word to lie in a dart that is not meant.
_IN_DART = 6.0
# Points, ways out from them, and what each costs.
_Places = tuple[tuple[Floats, Floats, float], ...]


def piece_picture(
    piece: Piece, size: float, *, scale: float = 1.0, faults: Iterable[Finding] = ()
) -> Sketch:
    """The drawing of one piece, with letters `size` mm high.

    `scale` is for a piece drawn larger than the rest, which the drawing then says. `faults`
    are ringed where they lie.
    """
    return _Drawing(piece, size, scale).done(faults)


class _Drawing:
    def __init__(self, piece: Piece, size: float, scale: float) -> None:
        self.true = piece
        self.piece = scaled(piece, scale)
        self.named = drawn_named(self.piece)
        self.size = size
        self.scale = scale
        self.sketch = Sketch()
        self.room = Room(0.22 * size)
        self.plain = Style(size, colour=INK)
        self.left_over: list[tuple[str, Style]] = []
        last = str(len(self.named.corners))
        self._ring = max(2 * _RING * size, width(last, _NUMBER * size, bold=True) + 0.7 * size)

    def done(self, faults: Iterable[Finding]) -> Sketch:
        """The sketch, with rings round `faults`."""
        draw_lines(self.sketch, self.room, self.piece, self.size)
        self._faults(faults)
        fold_bar = self._fold_bracket()
        self._fold_words(fold_bar)
        self._grain_words()
        self._own_labels()
        titled = self._title_inside()
        self._corners()
        self._edges()
        self._points()
        self._features()
        self._notes(titled)
        return self.sketch

    # --- words within the piece -----------------------------------------------

    def _own_labels(self) -> None:
        """The texts that the pattern itself bears, where it has them or as near as is free.

        One that finds no room in the piece is left for the title to take up.
        """
        for label in self.piece.labels:
            tall = min(max(label.height, 0.6 * self.size), 1.2 * self.size)
            lines = label.text.splitlines() or [""]
            style = Style(tall, italic=True, colour=QUIET)
            text = Text(tuple((line, style) for line in lines))
            turn = np.radians(label.angle)
            along = np.array([np.cos(turn), np.sin(turn)])
            # The label's place is the start of its first baseline.
            down = text.height / 2 - (0.36 + LEADING / 2) * tall
            middle = np.array(label.at) + along * text.width / 2 - left_of(along) * down
            steps = [(right, up) for right in range(-6, 7) for up in range(-8, 9)]
            for right, up in sorted(steps, key=lambda step: (math.hypot(*step), step)):
                x, y = middle + (2 * right * along + up * left_of(along)) * self.size
                box = Box(float(x), float(y), text.width, text.height, float(label.angle))
                if self.room.free(box, _CLEAR * self.size) and self._inside(box):
                    write(self.sketch, self.room, Candidate(text, box, 0.0))
                    break
            else:
                small = Style(self.size, italic=True, colour=QUIET)
                self.left_over += [(line, small) for line in lines]

    def _title(self) -> Text:
        piece, size = self.piece, self.size
        lines = [(piece.name, Style(_TITLE * size, bold=True))]
        facts = [f"size {piece.size}"] if piece.size else []
        if piece.side != "both":
            facts.append(f"{piece.side} only")
        if facts:
            lines.append((", ".join(facts), self.plain))
        if piece.quantity:
            cut = ", ".join(f"{q.count} {q.material}" for q in piece.quantity)
            lines.append((f"cut {cut}", self.plain))
        if piece.pair:
            lines.append(("a pair: turn half of them over", self.plain))
        return Text(tuple(lines))

    def _title_inside(self) -> bool:
        """Put the title where the piece is empty; False where it has no such place."""
        text = self._title()
        x0, y0, x1, y1 = self.piece.bounds
        across = np.linspace(x0, x1, 17)[1:-1]
        up = np.linspace(y0, y1, 23)[1:-1]
        grid = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
        middle = np.array([(x0 + x1) / 2, y0 + 0.56 * (y1 - y0)])
        off = np.hypot(*((grid - middle) / (x1 - x0, y1 - y0)).T)
        for at in grid[np.argsort(off, kind="stable")]:
            box = Box(float(at[0]), float(at[1]), text.width, text.height)
            # Room is left round it for the numbers and lengths at the edge.
            if self.room.free(box, 1.7 * self.size) and self._inside(box):
                write(self.sketch, self.room, Candidate(text, box, 0.0))
                return True
        return False

    def _inside(self, box: Box) -> bool:
        return bool(contains(self.piece.drawn.path, box.corners).all())

    def _fold_bracket(self) -> tuple[Floats, Floats] | None:
        fold = fold_path(self.piece)
        if fold is None:
            return None
        return symbols.fold_bracket(self.sketch, self.room, fold[0], self.size)

    def _fold_words(self, bar: tuple[Floats, Floats] | None) -> None:
        # A label of the piece's own may say it already.
        said = any("place on" in one.text for one in self.piece.labels)
        if bar is not None and not said:
            self._beside_line(*bar, "place on the fold", FOLDING, sides=(1.0,))

    def _grain_words(self) -> None:
        grain = self.piece.grain
        if grain is not None:
            words = "grain, one way" if grain.ends == 1 else "grain"
            self._beside_line(np.array(grain.start), np.array(grain.end), words, GRAIN)
        axis = self.piece.axis
        if axis is not None and axis.given:
            start, end = np.array(axis.start), np.array(axis.end)
            self._beside_line(start, end, "grade axis", QUIET)

    def _beside_line(
        self,
        a: Floats,
        b: Floats,
        words: str,
        colour: str,
        *,
        sides: Sequence[float] = (1.0, -1.0),
        gap: float = 0.3,
        from_ends: bool = False,
    ) -> None:
        """Words along a straight line, a little off it; else led to its middle, or to an end."""
        along = unit(b - a)
        turn = upright(float(np.degrees(np.arctan2(along[1], along[0]))))
        text = Text(((words, Style(_SMALL * self.size, colour=colour)),))
        found = []
        for share in (0.5, 0.36, 0.64, 0.24, 0.76, 0.12, 0.88):
            for side in sides:
                for k in (0.0, 0.6, 1.3):
                    off = (gap + k) * self.size + text.height / 2
                    at = a + share * (b - a) + left_of(along) * side * off
                    box = Box(float(at[0]), float(at[1]), text.width, text.height, turn)
                    cost = abs(share - 0.5) + (0.1 if side < 0 else 0) + 0.4 * k
                    found.append(Candidate(text, box, cost))
        if from_ends:
            ends = (
                *with_leader(a, -along, text, self.size),
                *with_leader(b, along, text, self.size),
            )
            self._place(found, ends)
            return
        middle = (a + b) / 2
        self._place(found, with_leader(middle, left_of(along), text, self.size))

    # --- corners, edges, points -----------------------------------------------

    def _corners(self) -> None:
        for number, vertex in enumerate(self.named.corners, start=1):
            self.sketch.dot(self.named.vertex_at(vertex), 0.2 * self.size, None, INK)
            self._corner(vertex, str(number), self.named.point(vertex).name)

    def _ways(self, vertex: int, *, outside: float = 1.5) -> list[tuple[Floats, float, float]]:
        """Into the piece from a vertex, halving its angle, and out of it at a cost."""
        path = self.named.path
        before, after = path.tangents_in[vertex - 1], path.tangents_out[vertex]
        inward = unit(left_of(before) + left_of(after))
        half = (180.0 - float(path.turns[vertex])) / 2
        return [
            (inward, min(half - 8.0, 85.0), 0.0),
            (-inward, min(180.0 - half - 8.0, 85.0), outside),
        ]

    def _corner(self, vertex: int, number: str, name: str | None) -> None:
        """A corner's number in a ring, its name on the far side of the ring."""
        size, ring = self.size, self._ring
        at = self.named.vertex_at(vertex)
        span = width(name, size) if name else 0.0
        text = Text((), ring + (0.3 * size + span if name else 0.0), ring)
        others = self.named.path.vertices[[v for v in self.named.corners if v != vertex]]

        def away(box: Box) -> float:
            return 1.0 if box.x >= at[0] else -1.0

        def ring_at(box: Box) -> Floats:
            return np.array([box.x - away(box) * (box.width - ring) / 2, box.y])

        found = list(beside_point(at, self._ways(vertex), text, size))
        rings = np.array([ring_at(one.box) for one in found])
        own = np.hypot(*(rings - at).T)
        apart = np.hypot(*(rings[:, None] - others[None]).transpose(2, 0, 1))
        # A number nearer to another corner than to its own would be read as that one's,
        # and so would one that has jumped over a narrow piece to its other side.
        doubtful = apart.min(axis=1, initial=np.inf) <= 1.25 * own
        inside = np.arange(len(found)) < len(found) / 2
        doubtful |= inside != contains(self.named.path, rings)
        judged = (
            replace(one, cost=one.cost + 3.0, leader=True) if doubt else one
            for one, doubt in zip(found, doubtful, strict=True)
        )
        chosen = choose(self.room, cheapest_first(judged), margin=_CLEAR * size)
        if chosen is None:
            return
        write(self.sketch, self.room, chosen)
        x, y = ring_at(chosen.box)
        side = away(chosen.box)
        self.sketch.dot((x, y), ring / 2, Line(INK, 0.3), PAPER)
        disc = Box(float(x), float(y), ring, ring)
        self.sketch.words(Words(number, disc, _NUMBER * size, bold=True))
        if name:
            middle = float(x) + side * (ring / 2 + 0.3 * size + span / 2)
            self.sketch.words(Words(name, Box(middle, float(y), span, size * LEADING), size))

    def _edges(self) -> None:
        edges = sorted(self.named.edges, key=lambda e: -e.length)
        for edge in edges:
            self._edge(edge)

    def _edge(self, edge: Edge) -> None:
        path = self.named.path.segments(edge.start, edge.end)
        length = edge.length / self.scale
        metric = format_length(length, Unit.CM)
        imperial = format_length(length, Unit.IN)
        bold = Style(self.size, bold=True)
        named = [(edge.name, bold)] if edge.name else []
        one = both(length)
        texts = [
            Text((*named, (one, self.plain))),
            Text((*named, (metric, self.plain), (imperial, self.plain))),
        ]
        middle = np.array([path.length / 2])
        at, out = path.at(middle)[0], -left_of(path.tangents(middle)[0])

        def led(way: Floats) -> Iterator[Candidate]:
            for extra, text in enumerate(texts):
                yield from with_leader(at, way, text, self.size, cost=4.0 + 0.4 * extra)

        # Within the piece only where there is no way out, as in a narrow dart.
        self._place(along_edge(path, texts, 0.5 * self.size), led(out), led(-out))

    def _points(self) -> None:
        style = Style(self.size, italic=True, colour=INK)
        for point, x, y in named_points(self.piece):
            at = np.array([x, y])
            self.sketch.dot(at, 0.24 * self.size, Line(INK, 0.3), PAPER)
            text = Text(((point.name or "", style),))
            drawn = self.named.point(point.vertex).name == point.name
            ways = self._ways(point.vertex) if drawn else [(np.array([1.0, 0.0]), 180.0, 0.0)]
            self._place(beside_point(at, ways, text, self.size))

    def _faults(self, faults: Iterable[Finding]) -> None:
        """A ring and a cross at each place, and beside it what is wrong there."""
        style = Style(_SMALL * self.size, bold=True, colour=FAULT)
        line, reach = Line(FAULT, 0.6), _RING * self.size
        for fault in faults:
            if fault.at is None:
                continue
            at = self.scale * np.array(fault.at)
            self.sketch.dot(at, reach, line)
            for way in (np.array([0.6, 0.6]), np.array([0.6, -0.6])):
                self.sketch.polyline([at - reach * way, at + reach * way], line)
            self.room.add_box(Box(float(at[0]), float(at[1]), 2 * reach, 2 * reach))
            words = textwrap.wrap(fault.text, _ACROSS, max_lines=3, placeholder=" ...")
            text = Text(tuple((word, style) for word in words))
            ways = [(np.array([1.0, 0.0]), 180.0, 0.0)]
            self._place(beside_point(at, ways, text, 1.6 * self.size))

    # --- features -------------------------------------------------------------

    def _features(self) -> None:
        for adjust in self.piece.adjusts:
            ends = adjust.path.start, adjust.path.end
            self._beside_line(*ends, "lengthen or shorten here", QUIET, gap=0.5, from_ends=True)
        for places, words in self._feature_words():
            style = Style(_SMALL * self.size, colour=MARKING)
            text = Text(((words, style),))
            found: list[Candidate] = []
            for at, way, cost in places:
                found += beside_point(at, [(way, 70.0, cost)], text, self.size)
            self._place(self._out_of_darts(places[0][0], found))

    def _out_of_darts(self, at: Floats, found: Sequence[Candidate]) -> list[Candidate]:
        """The candidates, dearer where they lie in a dart whose point is not at `at`.

        The word there would be read as that dart's.
        """
        others = []
        for dart in self.piece.darts:
            apex = np.array(dart.apex)
            if np.hypot(*(apex - at)) > 1e-6:
                a, b = (self.piece.outline.vertex_at(v) for v in (dart.a, dart.b))
                others.append(Path.polyline([a, b, apex], closed=True))
        middles = np.array([[one.box.x, one.box.y] for one in found])
        inside = np.zeros(len(found), dtype=bool)
        for wedge in others:
            inside |= contains(wedge, middles)
        return [
            replace(one, cost=one.cost + _IN_DART) if there else one
            for one, there in zip(found, inside, strict=True)
        ]

    def _feature_words(self) -> Iterator[tuple[_Places, str]]:
        """Where the word for each feature may go, best first, and the word."""
        piece = self.piece
        up = np.array([0.0, 1.0])
        for dart in piece.darts:
            apex = np.array(dart.apex)
            a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
            words = dart.name if says_dart(dart.name) else f"dart {dart.name}"
            yield _round(apex, unit(apex - (a + b) / 2)), words
        for pleat in piece.pleats:
            a, b = (piece.outline.vertex_at(v) for v in (pleat.a, pleat.b))
            inward = left_of(unit(b - a))
            yield _round((a + b) / 2 + 3 * self.size * inward, inward), f"pleat {pleat.name}"
        for hole in piece.drills:
            yield _round(np.array(hole.at), up), _sided(hole.name or "drill hole", hole.side)
        for mark in piece.marks:
            words = mark.words or "mark"
            yield _beside_all(mark.path.bounds), _sided(words, mark.side)
        for cutout in piece.cutouts:
            words = f"cut out {cutout.name}" if cutout.name else "cut out"
            yield _beside_all(cutout.path.bounds), _sided(words, cutout.side)
        for notch, (at, along) in zip(piece.notches, notch_places(piece), strict=True):
            if notch.name or notch.side != "both":
                inward = left_of(along)
                depth = max(notch.depth, 0.95 * self.size)
                words = _sided(notch.name or "notch", notch.side)
                # Outside, too, from the edge itself.
                outside = (at - 0.2 * self.size * inward, -inward, 0.9)
                yield (*_round(at + inward * depth, inward), outside), words

    # --- at the end -----------------------------------------------------------

    def _notes(self, titled: bool) -> None:
        """The title where it found no room inside, and how much larger the piece is drawn."""
        lines = () if titled else self._title().lines
        lines = (*lines, *self.left_over)
        if self.scale != 1.0:
            lines = (*lines, (f"drawn {self.scale:g} times larger", Style(self.size, bold=True)))
        if not lines:
            return
        x0, _, x1, _ = self.piece.bounds
        text = Text(lines)
        at = np.array([(x0 + x1) / 2, self.sketch.bounds[3]])
        box = beside(at, np.array([0.0, 1.0]), 0.8 * self.size, text)
        write(self.sketch, self.room, Candidate(text, box, 0.0))

    def _place(self, *stages: Iterable[Candidate]) -> None:
        chosen = choose(self.room, *map(cheapest_first, stages), margin=_CLEAR * self.size)
        if chosen is not None:
            write(self.sketch, self.room, chosen)


def _sided(words: str, side: Side) -> str:
    return words if side == "both" else f"{words} ({side} only)"


def _round(at: Floats, first: Floats) -> _Places:
    """A point, and the ways to go from it, `first` best."""
    across = left_of(first)
    return ((at, first, 0.0), (at, -first, 0.4), (at, across, 0.8), (at, -across, 0.8))


def _beside_all(bounds: tuple[float, float, float, float]) -> _Places:
    """The middles of a box's sides, the upper one best, and the ways out from them."""
    x0, y0, x1, y1 = bounds
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    sides = (((x, y1), (0, 1), 0.0), ((x, y0), (0, -1), 0.4))
    ends = (((x1, y), (1, 0), 0.8), ((x0, y), (-1, 0), 0.8))
    return tuple(
        (np.array(at, dtype=np.float64), np.array(way, dtype=np.float64), cost)
        for at, way, cost in (*sides, *ends)
    )
