"""The first page: test squares, how to stick the pages together, the map, what to cut."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

from sizewright.geometry import Floats, flatten
from sizewright.palette import (
    CUT_LINE,
    FOLD_LINE,
    GRAIN_LINE,
    HAIR,
    INK,
    LINEN,
    PAPER,
    QUIET,
    SEW_LINE,
    Line,
)
from sizewright.pictures import Box, allowance_words, cutting_words
from sizewright.units import Unit

from .items import Item
from .layout import Layout
from .paper import PAPERS, Paper
from .pen import Pen, measure, wrap
from .squares import SQUARES_SIZE, draw_squares

_TEXT = 3.5
_LEADING = 1.42
_GAP = 6.0
# Largest and least radius of the ring round a piece's number on the map, mm.
_RINGS = 2.6, 1.7
_LEAST_MARGIN = 12.0
# Height of the smallest map that can be read, with its heading, mm.
_LEAST_MAP = 42.0
# A figure, or the sign before it, and what no line may begin with.
_TOGETHER = re.compile(r"(?<=[\d≈]) (?=(?:\d|cm|in)\b)")
_CUT = Line(INK, 0.3)
_PAGE = Line(QUIET, 0.2)
_BLANK = Line("#c9ced3", 0.15)

_CAUTION = "Sew a trial garment before you cut the only cloth."


def draw_cover(pen: Pen, layout: Layout) -> None:
    """The cover, on as many pages as it takes."""
    paper = layout.paper
    if paper.large:
        paper = PAPERS["Letter" if paper.inches else "A4"]
    elif paper.width > paper.height:
        paper = paper.turned()
    flow = _Flow(pen, paper, max(layout.margin, _LEAST_MARGIN))
    with flow.running():
        _heading(flow, layout)
        _squares(flow, layout)
        _steps(flow, layout)
        _pieces(flow, layout)
        _lines(flow, layout)
        if len(layout.pages) > 1:
            _map(flow, layout)


class _Flow:
    """A column of blocks, going on to a new page where one is full."""

    def __init__(self, pen: Pen, paper: Paper, margin: float) -> None:
        self.pen, self.paper, self.margin = pen, paper, margin
        self.x0, self.x1 = margin, paper.width - margin
        self.y = paper.height - margin
        self._open: list[object] = []

    @property
    def width(self) -> float:
        """Width of the column."""
        return self.x1 - self.x0

    @property
    def left(self) -> float:
        """Height that is left on this page."""
        return self.y - self.margin

    @contextmanager
    def running(self) -> Iterator[None]:
        """The first page opened, and the last one closed."""
        self._turn()
        yield
        self._context.__exit__(None, None, None)

    def _turn(self) -> None:
        self._context = self.pen.page(self.paper.width, self.paper.height)
        self._context.__enter__()
        self.y = self.paper.height - self.margin

    def need(self, height: float) -> None:
        """A new page unless this one has room for `height`."""
        if self.left < height and self.y < self.paper.height - self.margin:
            self._context.__exit__(None, None, None)
            self._turn()

    def down(self, height: float) -> None:
        """Leave room."""
        self.y -= height

    def heading(self, text: str) -> None:
        """The heading of a block."""
        self.need(20.0)
        self.down(4.6)
        self.pen.text(text, (self.x0, self.y), 4.4, anchor="start", bold=True)
        self.down(2.6)

    def paragraph(
        self, text: str, x: float, width: float, *, bold: bool = False, size: float = _TEXT
    ) -> None:
        """Lines of text."""
        for line in wrap(text, size, width, bold=bold):
            self.need(size * _LEADING)
            self.down(size * _LEADING)
            self.pen.text(line, (x, self.y), size, anchor="start", bold=bold)


def _heading(flow: _Flow, layout: Layout) -> None:
    wide = measure(layout.title, 9.0, bold=True)
    size = max(5.5, min(9.0, 9.0 * flow.width / max(wide, 1.0)))
    flow.down(-size * (_LEADING - 0.8))
    flow.paragraph(layout.title, flow.x0, flow.width, bold=True, size=size)
    flow.down(1.5)
    flow.paragraph(" · ".join(_facts(layout)), flow.x0, flow.width)
    flow.down(3.0)
    flow.pen.polyline([(flow.x0, flow.y), (flow.x1, flow.y)], _CUT)
    flow.down(_GAP)


def _facts(layout: Layout) -> list[str]:
    sizes = list(dict.fromkeys(s for item in layout.items for s in item.sizes))
    facts = []
    if sizes:
        facts.append(f"size {sizes[0]}" if len(sizes) == 1 else f"sizes {', '.join(sizes)}")
    names = len({item.name for item in layout.items})
    facts.append(f"{names} pieces" if names > 1 else "1 piece")
    return [*facts, pages_words(layout)]


def pages_words(layout: Layout) -> str:
    """How many pages of what: `12 pages of A4`."""
    count = len(layout.pages)
    paper = layout.paper
    lying = ", lying" if paper.width > paper.height and not paper.name.startswith("roll") else ""
    return f"{count} page{'s' if count > 1 else ''} of {paper.name}{lying}"


def _squares(flow: _Flow, layout: Layout) -> None:
    wide, tall = SQUARES_SIZE
    beside = flow.width - wide - 8.0
    top = flow.y
    if layout.squares is None:
        flow.need(tall)
        top = flow.y
        draw_squares(flow.pen, flow.x0, flow.y - tall)
    else:
        beside, wide = flow.width, -8.0
    if beside > 50.0:
        x, column = flow.x0 + wide + 8.0, beside
    else:
        flow.down(tall + 2.0)
        x, column = flow.x0, flow.width
    flow.down(-0.8)
    flow.paragraph("Before you cut", x, column, bold=True, size=4.4)
    flow.down(1.2)
    flow.paragraph("Print at 100 % (true size), without fitting to the page.", x, column)
    flow.down(1.2)
    where = "both squares" if layout.squares is None else "both squares on the sheet"
    flow.paragraph(f"Check {where} with a ruler: every side 5 cm, or 2 in.", x, column)
    flow.down(1.2)
    flow.paragraph(_CAUTION, x, column, bold=True)
    if beside > 50.0 and layout.squares is None:
        flow.y = min(flow.y, top - tall)
    flow.down(_GAP)


def _steps(flow: _Flow, layout: Layout) -> None:
    if len(layout.pages) < 2:
        return
    flow.heading("Stick the pages together")
    steps = [
        "Lay the pages out as the map shows. A letter stands for the row, a number for the column.",
        "Cut each page along its line on the left and at the top, where there is one.",
        f"Work along row {layout.pages[0].label[0]} from left to right: lay the cut edge on the "
        "dashed line of the page before, so that the halves of the diamonds meet, and stick it.",
        "Do each row so. Then stick row under row in the same way.",
    ]
    for number, step in enumerate(steps, start=1):
        flow.need(_TEXT * _LEADING * 2)
        at = flow.x0, flow.y - _TEXT * _LEADING
        flow.pen.text(f"{number}.", at, _TEXT, anchor="start", bold=True)
        flow.paragraph(step, flow.x0 + 6.0, flow.width - 6.0)
        flow.down(0.8)
    flow.down(_GAP)


def _pieces(flow: _Flow, layout: Layout) -> None:
    flow.heading("Pieces")
    unit = Unit.IN if layout.paper.inches else Unit.CM
    # The heading has told a size that all pieces have.
    same = len({piece.size for item in layout.items for piece in item.pieces}) == 1
    for item in layout.items:
        one = item.pieces[len(item.pieces) // 2]
        facts = [cutting_words(one), allowance_words(one, unit)]
        if len(item.pieces) == 1 and one.size and not same:
            facts.insert(0, f"size {one.size}")
        told = _TOGETHER.sub("\u00a0", ", ".join(f for f in facts if f))
        flow.need(_TEXT * _LEADING * len(wrap(told, _TEXT, flow.width * 0.74)))
        y = flow.y - _TEXT * _LEADING
        flow.pen.text(str(item.number), (flow.x0 + 4.0, y), _TEXT, anchor="end", bold=True)
        _fitted(flow, item.name, flow.x0 + 7.0, y, flow.width * 0.26 - 10.0)
        flow.paragraph(told, flow.x0 + flow.width * 0.26, flow.width * 0.74)
    flow.down(_GAP)


def _fitted(flow: _Flow, text: str, x: float, y: float, width: float) -> None:
    wide = measure(text, _TEXT)
    size = _TEXT * min(1.0, width / wide) if wide else _TEXT
    flow.pen.text(text, (x, y), size, anchor="start")


def _lines(flow: _Flow, layout: Layout) -> None:
    """What each kind of line means; of a nest, which line is which size."""
    nested = {
        size: line
        for item in layout.items
        if len(item.pieces) > 1
        for size, line in zip(item.sizes, item.lines, strict=False)
    }
    kinds: dict[str, Line] = {f"size {size}": line for size, line in nested.items()}
    pieces = [item.pieces[0] for item in layout.items if len(item.pieces) == 1]
    if any(p.cut_line or p.kind == "cut" for p in pieces):
        kinds["cutting line"] = CUT_LINE
    if any(p.kind == "sew" for p in pieces):
        kinds["sewing line"] = SEW_LINE
    if any(p.fold for item in layout.items for p in item.pieces):
        kinds["fold"] = FOLD_LINE
    if any(p.grain for item in layout.items for p in item.pieces):
        kinds["grain"] = GRAIN_LINE
    x, row = flow.x0, 6.2
    flow.need(row)
    flow.down(row)
    for name, line in kinds.items():
        wide = 26.0 + measure(name, _TEXT) + 8.0
        if x > flow.x0 and x + wide - 8.0 > flow.x1:
            flow.need(row)
            flow.down(row)
            x = flow.x0
        flow.pen.polyline([(x, flow.y + 1.2), (x + 23.0, flow.y + 1.2)], line)
        flow.pen.text(name, (x + 26.0, flow.y), _TEXT, anchor="start")
        x += wide
    flow.down(_GAP)


def _map(flow: _Flow, layout: Layout) -> None:
    """The whole sheet, small: pieces by number, pages by name, blank ones crossed out."""
    flow.need(_LEAST_MAP)
    flow.heading("Map")
    flow.down(1.5)
    scale = min(flow.width / layout.width, max(flow.left, 30.0) / layout.height, 0.25)
    wide, tall = layout.width * scale, layout.height * scale
    x0, y0 = flow.x0 + (flow.width - wide) / 2, flow.y - tall
    draw_map(flow.pen, layout, x0, y0, scale)
    flow.down(tall + _GAP)


def draw_map(pen: Pen, layout: Layout, x0: float, y0: float, scale: float) -> None:
    """The map at `scale`, its lower left at (x0, y0)."""
    _cells(pen, layout, x0, y0, scale)
    for item in layout.items:
        for path in [p.drawn.path for p in item.pieces]:
            shown = [(x0 + x * scale, y0 + y * scale) for x, y in flatten(path, 1.0)]
            pen.polyline(shown, None, closed=True, fill=LINEN)
        for path in [p.drawn.path for p in item.pieces]:
            shown = [(x0 + x * scale, y0 + y * scale) for x, y in flatten(path, 1.0)]
            pen.polyline(shown, _CUT, closed=True)
    _page_lines(pen, layout, x0, y0, scale)
    ring = max(_RINGS[1], min(_RINGS[0], 0.2 * min(layout.tile) * scale))
    names = _page_names(pen, layout, x0, y0, scale)
    for item in layout.items:
        names.append(_key(pen, item, names, np.array([x0, y0]), scale, ring))


def _cells(pen: Pen, layout: Layout, x0: float, y0: float, scale: float) -> None:
    for row in range(layout.plan.rows):
        for column in range(layout.plan.columns):
            box = layout.cell(row, column)
            a, b, c, d = (x0 + box[0] * scale, y0 + box[1] * scale,
                          x0 + box[2] * scale, y0 + box[3] * scale)  # fmt: skip
            if layout.printed(row, column):
                pen.box(a, b, c, d, None, PAPER)
                continue
            with pen.clipped((a, b, c, d)):
                step = 2.5
                for k in range(int(((c - a) + (d - b)) / step) + 1):
                    pen.polyline([(a + k * step, b), (a + k * step - (d - b), d)], _BLANK)
            pen.box(a, b, c, d, _BLANK)


def _page_lines(pen: Pen, layout: Layout, x0: float, y0: float, scale: float) -> None:
    for page in layout.pages:
        a, b, c, d = layout.cell(page.row, page.column)
        pen.box(x0 + a * scale, y0 + b * scale, x0 + c * scale, y0 + d * scale, _PAGE)


def _page_names(pen: Pen, layout: Layout, x0: float, y0: float, scale: float) -> list[Box]:
    """The pages' names in their upper left; the boxes that they take."""
    size = min(3.4, 0.24 * min(layout.tile) * scale)
    boxes = []
    for page in layout.pages:
        a, _, _, d = layout.cell(page.row, page.column)
        x, y = x0 + a * scale + 0.8, y0 + d * scale - size - 0.3
        pen.text(page.label, (x, y), size, anchor="start", colour=QUIET)
        wide = measure(page.label, size)
        boxes.append(Box(x + wide / 2, y + 0.36 * size, wide, size))
    return boxes


def _key(pen: Pen, item: Item, taken: list[Box], place: Floats, scale: float, r: float) -> Box:
    """The number of a piece in a ring of radius `r` well inside it, clear of other words."""
    smallest = min((p.drawn.path for p in item.pieces), key=lambda p: p.area)
    places = _inner(place + flatten(smallest, 1.0) * scale)
    boxes = (Box(float(x), float(y), 2 * r, 2 * r) for x, y in places)
    free = (b for b in boxes if not any(b.grown(0.2).overlaps(t) for t in taken))
    box = next(free, None) or Box(float(places[0, 0]), float(places[0, 1]), 2 * r, 2 * r)
    size = 1.15 * r
    pen.circle((box.x, box.y), r, HAIR, fill=PAPER)
    pen.text(str(item.number), (box.x, box.y - 0.36 * size), size, bold=True)
    return box


def _inner(ring: Floats) -> Floats:
    """Points inside a closed polygon, the one furthest inside first, then those round it."""
    from shapely import Polygon, contains_xy, distance, points

    area = Polygon(ring).buffer(0)
    largest = max(getattr(area, "geoms", [area]), key=lambda part: part.area)
    middle = np.array([[largest.centroid.x, largest.centroid.y]])
    left, low, right, high = largest.bounds
    steps = np.arange(left, right, 0.8), np.arange(low, high, 0.8)
    grid = np.stack(np.meshgrid(*steps), axis=-1).reshape(-1, 2)
    grid = grid[contains_xy(largest, grid[:, 0], grid[:, 1])]
    if not len(grid):
        return middle
    # Of places that are equally far inside, that nearest the middle.
    inside = np.round(distance(points(grid), largest.boundary), 1)
    best = grid[np.lexsort((np.round(np.hypot(*(grid - middle).T), 3), -inside))[:1]]
    order = np.argsort(np.hypot(*(grid - best).T), kind="stable")
    found: Floats = np.concatenate([best, grid[order]])
    return found
