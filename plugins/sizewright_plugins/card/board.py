"""The board: all pieces to one scale, every size over the others, one of them in front."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sizewright.drafting import edge_allowances
from sizewright.errors import SizewrightError
from sizewright.geometry import Path, affine
from sizewright.jobs import summarise_piece
from sizewright.model import Edge, Pattern, Piece, match_seam, unjudged
from sizewright.palette import LINEN, QUIET, Line
from sizewright.pictures import (
    LETTERS,
    Canvas,
    Sketch,
    in_rows,
    laid_over,
    letter_size,
    nested,
    printed_piece,
    scaled,
    size_lines,
    sizes_in_order,
)
from sizewright.units import both

from .html import Html, el, joined, name

# Letters are this share of the whole board's longer side.
_LETTER = 1 / 120
# Lines keep their width on the screen while the board is zoomed: pixels for 1 mm of the palette.
_WEIGHT = 2.6
_GAP = 4 * LETTERS
# Heights of the names of pieces.
_TITLES = (1.9 * LETTERS, 1.5 * LETTERS, 1.1 * LETTERS)
_BEFORE = Line(QUIET, 0.5, (1.0, 1.6))
# Farther from a piece than this, mm, is no place of it.
_NEAR = 30.0
# An edge is sewn where at least so much of it lies on a seam, mm.
_SEWN = 1.0


@dataclass(frozen=True)
class Sewn:
    """One side of a seam along an edge: the seam's number, and `a` or `b`."""

    seam: int
    side: str

    def __str__(self) -> str:
        return f"{self.seam}{self.side}"


@dataclass(frozen=True)
class _Laid:
    """The drawings of all pieces and sizes, where they lie, and the size of the whole."""

    sketches: list[list[Sketch]]
    places: list[tuple[float, float]]
    width: float
    height: float


class Board:
    """The pieces of a pattern laid out, and what is to be told of each of their edges."""

    def __init__(self, pattern: Pattern, front: str, drawn: Pattern | None) -> None:
        self.as_given = pattern
        self.pattern = laid_over(pattern)
        self.sizes = sizes_in_order(pattern) or ("",)
        self.front = front
        self.drawn = drawn
        self.lines = dict(zip(self.sizes, size_lines(len(self.sizes)), strict=True))
        self.groups = nested(self.pattern)
        self._rows: dict[tuple[str, str | None], tuple[EdgeRow, ...]] = {}
        spans = []
        for group in self.groups:
            boxes = np.array([p.bounds for p in group])
            spans.append(tuple(boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0)))
        self.scale = LETTERS / letter_size(spans, _LETTER)[0]

    @cached_property
    def sewn(self) -> dict[tuple[str, str, int], list[Sewn]]:
        """The sides of seams on each edge, by piece, size and number of the edge."""
        found: dict[tuple[str, str, int], list[Sewn]] = {}
        for number, seam in enumerate(self.pattern.seams):
            if unjudged(self.pattern, seam):
                continue
            for size in self.sizes:
                try:
                    match = match_seam(self.pattern, seam, size or None)
                except SizewrightError:
                    continue  # the table of seams tells it
                for side, chain in (("a", match.first), ("b", match.second)):
                    for step in chain.steps:
                        for edge in _along(step.walk.piece, step.walk.stretches):
                            key = step.walk.piece.name, size, edge.number
                            one = Sewn(number, side)
                            if one not in found.setdefault(key, []):
                                found[key].append(one)
        return found

    @cached_property
    def _laid(self) -> _Laid:
        sketches = [[self._sketch(piece) for piece in group] for group in self.groups]
        boxes = []
        for row in sketches:
            bounds = np.array([sketch.bounds for sketch in row])
            boxes.append((*bounds[:, :2].min(axis=0), *bounds[:, 2:].max(axis=0)))
        rows = in_rows([(float(b[2] - b[0]), float(b[3] - b[1])) for b in boxes], _GAP)
        places = [
            (_GAP + x - float(box[0]), _GAP + y - float(box[1]))
            for (x, y), box in zip(rows.places, boxes, strict=True)
        ]
        return _Laid(sketches, places, rows.width + 2 * _GAP, rows.height + 2 * _GAP)

    def spot(self, name: str, size: str | None, at: tuple[float, float]) -> str:
        """Where a place of a piece, in mm as the piece was given, lies in the drawing: `x,y`.

        Empty where the piece does not reach there.
        """
        for group, (x, y) in zip(self.groups, self._laid.places, strict=True):
            for piece in group:
                if piece.name != name or size not in (None, piece.size):
                    continue
                given = self.as_given.piece(name, piece.size)
                x0, y0, x1, y1 = given.bounds
                if not (x0 - _NEAR < at[0] < x1 + _NEAR and y0 - _NEAR < at[1] < y1 + _NEAR):
                    continue
                move = piece.outline.vertex_at(0) - given.outline.vertex_at(0)
                right, up = (np.array(at) + move) * self.scale + (x, y)
                return f"{right:.2f},{self._laid.height - up:.2f}"
        return ""

    def svg(self) -> Html:
        """The drawing, with a template for each size that is not in front."""
        wide, tall = self._laid.width, self._laid.height
        groups, kept = [], []
        for number, (group, row) in enumerate(zip(self.groups, self._laid.sketches, strict=True)):
            at = self._laid.places[number]
            nests = [self._nest(piece, at, tall) for piece in group]
            parts = list(nests)
            for piece, sketch in zip(group, row, strict=True):
                ground, drawing = self._front(number, piece, sketch, at, tall)
                if piece.size in (self.front, None) or not self.front:
                    parts = [ground, *nests, drawing]
                else:
                    size = str(self.sizes.index(piece.size or ""))
                    svg = el("svg", ground, drawing)
                    kept.append(el("template", svg, data_piece=str(number), data_size=size))
            parts += self._before(group, at, tall)
            title = el("title", group[0].name)
            groups.append(el("g", title, *parts, class_="piece", data_piece=str(number)))
        svg = el(
            "svg",
            el("g", *groups, id="drawing"),
            id="board",
            viewBox=f"0 0 {wide:.2f} {tall:.2f}",
            tabindex="0",
            role="group",
            aria_label="All pieces, to one scale",
            aria_describedby="keys",
        )
        return joined(svg, *kept)

    def _sketch(self, piece: Piece) -> Sketch:
        small = scaled(replace(piece, labels=()), self.scale)
        return printed_piece(small, titles=_TITLES)

    def _canvas(self, tall: float) -> Canvas:
        return Canvas(1.0, tall, weight=_WEIGHT)

    def _nest(self, piece: Piece, at: tuple[float, float], tall: float) -> Html:
        canvas = self._canvas(tall)
        canvas.path(self._put(piece.drawn.path, at), self.lines[piece.size or self.sizes[0]])
        size = str(self.sizes.index(piece.size)) if piece.size in self.sizes else "0"
        return el("g", Html(canvas.elements), class_="nest", data_size=size)

    def _put(self, path: Path, at: tuple[float, float]) -> Path:
        return path.transformed(affine.scaling(self.scale)).transformed(affine.translation(*at))

    def _front(
        self, number: int, piece: Piece, sketch: Sketch, at: tuple[float, float], tall: float
    ) -> tuple[Html, Html]:
        """The ground of a piece, which lies under the other sizes, and all that lies over them."""
        ground, canvas = self._canvas(tall), self._canvas(tall)
        ground.path(self._put(piece.drawn.path, at), None, fill=LINEN)
        sketch.put(canvas, *at)
        edges = [self._edge(number, piece, row, at, tall) for row in self.edge_rows(piece)]
        words = el("g", Html(canvas.elements), aria_hidden="true")
        front = el("g", words, el("g", *edges, class_="edges"), class_="front")
        return el("g", Html(ground.elements), class_="ground"), front

    def _edge(
        self, number: int, piece: Piece, row: EdgeRow, at: tuple[float, float], tall: float
    ) -> Html:
        outline = piece.outline
        whole = row.edge.start == row.edge.end
        path = (
            outline.path.opened() if whole else outline.path.segments(row.edge.start, row.edge.end)
        )
        canvas = self._canvas(tall)
        canvas.path(self._put(path, at), None)
        shape = canvas.elements.split(' d="', 1)[1].split('"', 1)[0]
        return el(
            "path",
            d=shape,
            class_="edge",
            role="button",
            tabindex="-1",
            aria_label=f"{piece.name}, {row.words}",
            aria_pressed="false",
            data_piece=str(number),
            data_edge=str(row.edge.number),
            data_name=row.name,
            data_length=row.length,
            data_allowance=row.allowance,
            data_seams=" ".join(map(str, row.seams)),
        )

    def edge_rows(self, piece: Piece) -> tuple[EdgeRow, ...]:
        """What there is to tell of each edge of the sewing line."""
        key = piece.name, piece.size
        if key not in self._rows:
            self._rows[key] = tuple(self._edge_rows(piece))
        return self._rows[key]

    def _edge_rows(self, piece: Piece) -> Iterator[EdgeRow]:
        told = summarise_piece(piece)
        facts = told["sew"] or told
        widths = {one.name: one for one in edge_allowances(piece)}
        for edge, fact in zip(piece.outline.edges, facts["edges"], strict=True):
            title = fact["name"] or f"edge {edge.number}"
            width = widths.get(fact["name"] or f"#{edge.number}")
            allowance = ""
            if width is not None:
                ends = dict.fromkeys((both(round(width.w0, 1)), both(round(width.w1, 1))))
                allowance = " to ".join(ends)
            seams = self.sewn.get((piece.name, piece.size or self.front, edge.number), [])
            yield EdgeRow(edge, title, both(fact["sewn"]), allowance, tuple(seams))

    def _before(
        self, group: Sequence[Piece], at: tuple[float, float], tall: float
    ) -> Iterator[Html]:
        """The piece as it was drawn, where it has changed since otherwise than by grading."""
        if self.drawn is None or group[0].name not in self.drawn.names:
            return
        before = self.drawn.piece(group[0].name)
        now = next((p for p in group if p.size == self.pattern.base_size), group[len(group) // 2])
        move = _meeting(now, before)
        canvas = self._canvas(tall)
        moved = before.outline.path.transformed(affine.translation(*move))
        canvas.path(self._put(moved, at), _BEFORE)
        yield el("g", Html(canvas.elements), class_="before")

    def story(self, number: int) -> Html:
        """What was done to a piece, step by step."""
        steps = self.groups[number][len(self.groups[number]) // 2].story
        for piece in self.groups[number]:
            if piece.size == self.front:
                steps = piece.story
        if not steps:
            return el("p", "As it was drawn.")
        return el("ol", *(el("li", step) for step in steps))

    def edge_table(self, piece: Piece) -> Html:
        """The edges of a piece in the size in front, for reading and for print."""
        rows = []
        for row in self.edge_rows(piece):
            seams = dict.fromkeys(self.pattern.seams[one.seam].name for one in row.seams)
            rows.append(
                el(
                    "tr",
                    el("th", name(row.name), scope="row"),
                    el("td", row.length),
                    el("td", row.allowance or "–"),
                    el("td", name(", ".join(seams) or "–")),
                )
            )
        return el("tbody", *rows)


@dataclass(frozen=True)
class EdgeRow:
    """What there is to tell of one edge."""

    edge: Edge
    name: str
    length: str
    allowance: str
    seams: tuple[Sewn, ...]

    @property
    def words(self) -> str:
        """Name, length and allowance in one phrase."""
        allowance = f"; allowance {self.allowance}" if self.allowance else ""
        return f"{self.name}: {self.length} as sewn{allowance}"


def _along(piece: Piece, stretches: Sequence[tuple[float, float]]) -> Iterator[Edge]:
    """The edges that lie on stretches (arc lengths, which may pass the outline's whole length)."""
    total = piece.outline.path.length
    for edge in piece.outline.edges:
        a, b = edge.offset, edge.offset + edge.length
        shared = sum(
            max(0.0, min(b + turn, max(ends)) - max(a + turn, min(ends)))
            for ends in stretches
            for turn in (-total, 0.0, total)
        )
        if shared > min(_SEWN, edge.length / 2):
            yield edge


def _meeting(now: Piece, before: Piece) -> tuple[float, float]:
    """How far a piece as it was drawn is moved so that a corner of both meets."""
    names = {p.name: p.vertex for p in before.outline.points if p.name}
    for point in now.outline.points:
        if point.name in names:
            to = now.outline.vertex_at(point.vertex)
            move = to - before.outline.vertex_at(names[point.name])
            return float(move[0]), float(move[1])
    (x1, y1), (x0, y0) = now.outline.path.bounds[:2], before.outline.path.bounds[:2]
    return x1 - x0, y1 - y0
