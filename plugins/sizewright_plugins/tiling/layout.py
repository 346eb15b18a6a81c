"""The sheet: every item in its place, and the pages that it is cut into."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np

from sizewright.errors import UsageError
from sizewright.findings import Finding
from sizewright.model import Pattern
from sizewright.pictures import Box, Pages, Sketch
from sizewright.plugin import Values

from .items import Item, items_of, words_outside
from .packing import pack
from .paper import LONGEST, PAPERS, Paper, check_room, parse_page
from .plan import Grid, Place, Plan, Shape, plan_of
from .squares import SQUARES_SIZE

_TURNS = {"none": (0,), "half": (0, 180), "quarter": (0, 90, 180, 270)}
# Step in which the length of a roll is counted while packing, mm.
_ROLL_STEP = 9.0
#: Half the width of a diamond, mm.
DIAMOND = 5.5
# Words keep off a joint by half of this, mm, even where pages do not overlap.
_LEAST_STRIP = 3.0
# More pages than this are refused; of a roll, more lengths of 5 m.
_MOST, _MOST_ROLLS = 1000, 20


@dataclass(frozen=True)
class Page:
    """One printed page: its row and column on the sheet, counted from the upper left."""

    row: int
    column: int

    @property
    def label(self) -> str:
        """A letter for the row, a number for the column: `B2`."""
        return f"{_letters(self.row)}{self.column + 1}"


@dataclass(frozen=True)
class Diamond:
    """A sign on a joint, and its middle on the sheet; `level`: its pages lie side by side."""

    number: int
    x: float
    y: float
    level: bool


@dataclass(frozen=True)
class Layout:
    """All that the pages show. Coordinates in mm, y up, from the sheet's lower left.

    `drawings` has for each item its drawing and how far that is to be moved.
    """

    title: str
    paper: Paper
    margin: float
    overlap: float
    grid: Grid
    rows: int
    columns: int
    pages: tuple[Page, ...]
    items: tuple[Item, ...]
    drawings: tuple[tuple[Sketch, float, float], ...]
    squares: tuple[float, float] | None

    @property
    def width(self) -> float:
        """Width of the sheet."""
        return self.columns * self.grid.step_x + self.overlap

    @property
    def height(self) -> float:
        """Height of the sheet."""
        return self.rows * self.grid.step_y + self.overlap

    @property
    def tile(self) -> tuple[float, float]:
        """Width and height of what one page shows, within its margins."""
        return self.grid.step_x + self.overlap, self.grid.step_y + self.overlap

    def window(self, page: Page) -> tuple[float, float, float, float]:
        """Box (x0, y0, x1, y1) of the sheet that a page shows."""
        wide, tall = self.tile
        x0 = page.column * self.grid.step_x
        y1 = self.height - page.row * self.grid.step_y
        return x0, y1 - tall, x0 + wide, y1

    def printed(self, row: int, column: int) -> Page | None:
        """The page at a row and column; None where it is blank and so left out."""
        page = Page(row, column)
        return page if page in self._every else None

    @cached_property
    def _every(self) -> frozenset[Page]:
        return frozenset(self.pages)

    @cached_property
    def joints(self) -> Mapping[tuple[str, int, int], int]:
        """A number for each joint, counted row by row.

        Under `beside` and `under` by the page at the left, or above.
        """
        numbers: dict[tuple[str, int, int], int] = {}
        for page in self.pages:
            row, column = page.row, page.column
            if self.printed(row, column + 1):
                numbers["beside", row, column] = len(numbers) + 1
            if self.printed(row + 1, column):
                numbers["under", row, column] = len(numbers) + 1
        return numbers

    @cached_property
    def diamonds(self) -> tuple[Diamond, ...]:
        """Two diamonds on each joint."""
        found = []
        for (side, row, column), number in self.joints.items():
            for share in (0.2, 0.8):
                beside = side == "beside"
                x = column + (1.0 if beside else share)
                y = row + (share if beside else 1.0)
                at = (x * self.grid.step_x, self.height - y * self.grid.step_y)
                found.append(Diamond(number, *at, level=beside))
        return tuple(found)

    @property
    def joined(self) -> Pages:
        """Joints, diamonds and what each page shows clear of its joints, on the sheet."""
        if len(self.pages) < 2:
            return Pages()
        room = self.overlap
        windows = []
        for page in self.pages:
            x0, y0, x1, y1 = self.window(page)
            windows.append((x0 + room, y0 + room, x1 - room, y1 - room))
        strips = []
        wide, tall = self.tile
        strip = max(room, _LEAST_STRIP)
        for side, row, column in self.joints:
            x, y = column * self.grid.step_x, self.height - row * self.grid.step_y
            if side == "beside":
                strips.append(Box(x + wide - room / 2, y - tall / 2, strip, tall))
            else:
                strips.append(Box(x + wide / 2, y - tall + room / 2, wide, strip))
        across = DIAMOND * 2**0.5
        signs = tuple(Box(d.x, d.y, across, across, 45.0) for d in self.diamonds)
        return Pages(tuple(windows), tuple(strips), signs)


def lay_out(pattern: Pattern, values: Values) -> tuple[Layout, list[Finding]]:
    """The sheet for a pattern by the settings of the writer."""
    if not pattern.pieces:
        raise UsageError("there is no piece to print", cure="Give a pattern with pieces.")
    paper = parse_page(values["page"]) if values["page"] else PAPERS[values["paper"]]
    margin, overlap = values["margin"], values["overlap"]
    check_room(paper, margin, overlap)
    items = items_of(pattern, nest=values["nest"])
    _check_size(items, paper, values)
    drawings = [item.drawing() for item in items]
    findings: list[Finding] = []
    papers = _orientations(paper, values["orientation"])
    if values["pack"]:
        shapes = _shapes(items, drawings, _TURNS[values["turn"]], values["gap"])
    else:
        shapes = _shapes(items, drawings, (0,), 0.0)
    if paper.large:
        wide, tall = SQUARES_SIZE
        corners = np.array([[0, 0], [wide, 0], [wide, tall], [0, tall]])
        shapes.append(Shape([corners], (0,), values["gap"]))
    grids = [_grid(p, margin, overlap) for p in papers]
    if values["pack"]:
        plan = pack(shapes, grids)
    else:
        plan = min((_as_drawn(items, shapes, grid) for grid in grids), key=lambda p: p.rank)
        findings += _overlaps(items)
    paper = papers[grids.index(plan.grid)]
    if paper.roll:
        paper, plan = _cut_roll(paper, plan, shapes, margin, overlap)
    height = plan.rows * plan.grid.step_y + overlap
    laid = []
    for item, shape, place, drawing in zip(items, shapes, plan.places, drawings, strict=False):
        x0, _, _, y1 = shape.at(place).bounds
        dx, dy = _within(item, drawing)
        laid.append(item.moved(place.turn, x0 + dx, height - y1 + dy))
    squares = None
    if paper.large:
        x0, _, _, y1 = shapes[-1].at(plan.places[-1]).bounds
        squares = (x0, height - y1)
    layout = Layout(
        title=pattern.title or "Pattern", paper=paper, margin=margin, overlap=overlap,
        grid=plan.grid, rows=plan.rows, columns=plan.columns,
        pages=tuple(Page(r, c) for r, c in plan.pages),
        items=tuple(laid), drawings=(), squares=squares,
    )  # fmt: skip
    turns = [place.turn for place in plan.places]
    return replace(layout, drawings=_in_place(layout, items, drawings, turns)), findings


def _in_place(
    layout: Layout, items: Sequence[Item], drawings: Sequence[Sketch], turns: Sequence[int]
) -> tuple[tuple[Sketch, float, float], ...]:
    """Drawings as they lie on the sheet: made anew where they are turned or pages are joined.

    Words beside a piece stay where room was kept for them.
    """
    pages = layout.joined
    placed = []
    for moved, item, drawing, turn in zip(layout.items, items, drawings, turns, strict=False):
        a, b = moved.bounds, item.bounds
        as_it_was = (drawing, a[0] - b[0], a[1] - b[1])
        if words_outside(drawing, item.bounds) or not (turn or pages.joints):
            placed.append(as_it_was)
            continue
        anew = moved.drawing(pages)
        if pages.joints and words_outside(anew, moved.bounds):
            anew = moved.drawing()
        placed.append((anew, 0.0, 0.0))
    return tuple(placed)


def _check_size(items: Sequence[Item], paper: Paper, values: Values) -> None:
    """UsageError for pieces that nobody would stick together, as of a wrong unit."""
    boxes = np.array([item.bounds for item in items])
    wide, tall = (boxes[:, 2:] - boxes[:, :2]).T
    area = float((wide * tall).sum())
    if not values["pack"]:
        area = float(np.ptp(boxes[:, ::2]) * np.ptp(boxes[:, 1::2]))
    pages = area / (paper.width * (paper.height or LONGEST))
    if pages > (_MOST_ROLLS if paper.roll else _MOST):
        raise UsageError(
            f"the pieces would take some {pages:.0f} pages of {paper.name}",
            cure="Check the units of the drawing, or take larger paper.",
        )


def _orientations(paper: Paper, wanted: str) -> list[Paper]:
    if paper.roll or paper.width == paper.height:
        return [paper]
    every = {"portrait": [paper], "landscape": [paper.turned()]}
    return every.get(wanted, [paper, paper.turned()])


def _grid(paper: Paper, margin: float, overlap: float) -> Grid:
    step_x = paper.width - 2 * margin - overlap
    step_y = _ROLL_STEP if paper.roll else paper.height - 2 * margin - overlap
    return Grid(step_x, step_y, overlap, roll=paper.roll)


def _shapes(
    items: Sequence[Item], drawings: Sequence[Sketch], turns: tuple[int, ...], gap: float
) -> list[Shape]:
    shapes = []
    for item, drawing in zip(items, drawings, strict=True):
        outside = words_outside(drawing, item.bounds)
        # Words beside a piece have their place only while it stays upright.
        shapes.append(Shape([*item.rings(), *outside], (0,) if outside else turns, gap))
    return shapes


def _within(item: Item, drawing: Sketch) -> tuple[float, float]:
    """How far a piece's lower left lies within its shape's box, where words stand outside."""
    x, y = item.bounds[:2]
    outside = words_outside(drawing, item.bounds)
    left = min((float(c[:, 0].min()) for c in outside), default=x)
    low = min((float(c[:, 1].min()) for c in outside), default=y)
    return max(x - left, 0.0), max(y - low, 0.0)


def _as_drawn(items: Sequence[Item], shapes: Sequence[Shape], grid: Grid) -> Plan:
    """Pieces where the drawing has them; the test squares, if any, under them."""
    boxes = [shape.turned(0).bounds for shape in shapes[: len(items)]]
    left, top = min(b[0] for b in boxes), min(b[1] for b in boxes)
    places = [Place(0, b[0] - left + 1.0, b[1] - top + 1.0) for b in boxes]
    if len(shapes) > len(items):
        bottom = max(b[3] for b in boxes) - top
        places.append(Place(0, 1.0, bottom + 10.0))
    return plan_of(shapes, places, grid)


def _overlaps(items: Sequence[Item]) -> list[Finding]:
    from shapely import Polygon, union_all

    areas = [union_all([Polygon(ring).buffer(0) for ring in item.rings()]) for item in items]
    return [
        Finding(
            "pieces-overlap", "warn", f'"{a.title}" and "{b.title}" lie on each other',
            piece=a.name, cure="Draw them apart, or set pack = true.",
        )
        for (a, x), (b, y) in combinations(zip(items, areas, strict=True), 2)
        if x.intersection(y).area > 1.0
    ]  # fmt: skip


def _cut_roll(
    paper: Paper, plan: Plan, shapes: Sequence[Shape], margin: float, overlap: float
) -> tuple[Paper, Plan]:
    """A roll cut to the length that is used, in equal parts where that is beyond a page."""
    lying = [s.at(p).bounds[3] for s, p in zip(shapes, plan.places, strict=True)]
    used = max(lying) + shapes[0].half_gap
    most = LONGEST - 2 * margin - overlap
    parts = max(1, math.ceil((used - overlap) / most))
    step = math.ceil(max((used - overlap) / parts, 1.0))
    plan = plan_of(shapes, plan.places, replace(plan.grid, step_y=float(step)))
    return replace(paper, height=step + overlap + 2 * margin), plan


def _letters(number: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text
