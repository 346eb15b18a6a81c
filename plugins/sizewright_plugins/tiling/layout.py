"""The sheet: every item in its place, and the pages that it is cut into."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from sizewright.errors import UsageError
from sizewright.findings import Finding
from sizewright.laying import Grid, Place, Plan, Shape, overlapping, pack, plan_of
from sizewright.model import Pattern
from sizewright.pictures import Box, Pages, Sketch
from sizewright.plugin import Values

from .items import Item, items_of, words_outside
from .paper import LONGEST, PAPERS, Paper, check_room, parse_page
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

    `pieces` are the items as they come, which `plan` has laid.
    """

    title: str
    paper: Paper
    margin: float
    plan: Plan
    pieces: tuple[Item, ...]

    @property
    def overlap(self) -> float:
        """Strip that neighbouring pages share."""
        return self.plan.grid.overlap

    @property
    def width(self) -> float:
        """Width of the sheet."""
        return self.plan.width

    @property
    def height(self) -> float:
        """Height of the sheet."""
        return self.plan.height

    @property
    def step(self) -> tuple[float, float]:
        """From one page to the next, right and down."""
        return self.plan.grid.step_x, self.plan.grid.step_y

    @property
    def tile(self) -> tuple[float, float]:
        """Width and height of what one page shows, within its margins."""
        return self.step[0] + self.overlap, self.step[1] + self.overlap

    @cached_property
    def pages(self) -> tuple[Page, ...]:
        """The pages that bear anything, row by row."""
        return tuple(Page(row, column) for row, column in self.plan.pages)

    @cached_property
    def _places(self) -> tuple[Place, ...]:
        return tuple(replace(p, y=p.y + self.height) for p in self.plan.places)

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """The items in their places."""
        return tuple(i.moved(place) for i, place in zip(self.pieces, self._places, strict=False))

    @property
    def squares(self) -> tuple[float, float] | None:
        """Lower left of the test squares, where the sheet bears them itself."""
        last = self._places[-1]
        return (last.x, last.y) if self.paper.large else None

    @cached_property
    def drawings(self) -> tuple[tuple[Sketch, float, float], ...]:
        """Each item's drawing, and how far right and up that is to be moved.

        Made anew where a piece is turned or pages are joined. Words beside a piece stay
        where room was kept for them.
        """
        pages, drawings = self.joined, []
        for item, laid, at in zip(self.pieces, self.items, self._places, strict=False):
            if words_outside(item) or not (at.turn or pages.joints):
                drawings.append((item.drawing(), at.x, at.y))
            elif pages.joints and not words_outside(laid, pages):
                drawings.append((laid.drawing(pages), 0.0, 0.0))
            else:
                drawings.append((laid.drawing(), 0.0, 0.0))
        return tuple(drawings)

    def cell(self, row: int, column: int) -> tuple[float, float, float, float]:
        """Box (x0, y0, x1, y1) of what a page shows and its neighbours need not."""
        x0, y0, x1, y1 = self.plan.cell(row, column)
        return x0, y0 + self.height, x1, y1 + self.height

    def window(self, page: Page) -> tuple[float, float, float, float]:
        """Box (x0, y0, x1, y1) of the sheet that a page shows."""
        wide, tall = self.tile
        x0, y1 = page.column * self.step[0], self.height - page.row * self.step[1]
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
                at = (x * self.step[0], self.height - y * self.step[1])
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
            x, y = column * self.step[0], self.height - row * self.step[1]
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
    papers = {_grid(p, margin, overlap): p for p in _orientations(paper, values["orientation"])}
    findings: list[Finding] = []
    if values["pack"]:
        turns = _TURNS[values["turn"]]
        shapes, plan = _packed(tuple(items), turns, values["gap"], tuple(papers), paper.large)
    else:
        shapes = _shapes(items, (0,), 0.0, squares=paper.large)
        places = _as_drawn(shapes, squares=paper.large)
        plan = min((plan_of(shapes, places, grid) for grid in papers), key=lambda p: p.rank)
        findings = _overlaps(items)
    paper = papers[plan.grid]
    if paper.roll:
        paper, plan = _cut_roll(paper, plan, shapes, margin)
    return Layout(pattern.title or "Pattern", paper, margin, plan, tuple(items)), findings


# Pages and the map of them on the card are of one plan.
@lru_cache(maxsize=8)
def _packed(
    items: tuple[Item, ...], turns: tuple[int, ...], gap: float, grids: tuple[Grid, ...],
    squares: bool,
) -> tuple[list[Shape], Plan]:  # fmt: skip
    shapes = _shapes(items, turns, gap, squares=squares)
    return shapes, pack(shapes, grids)


def _shapes(
    items: Sequence[Item], turns: tuple[int, ...], gap: float, *, squares: bool
) -> list[Shape]:
    """What is laid of each item; then the test squares, where the sheet bears them."""
    shapes = [item.shape(turns, gap) for item in items]
    if squares:
        wide, tall = SQUARES_SIZE
        corners = np.array([[0, 0], [wide, 0], [wide, tall], [0, tall]])
        shapes.append(Shape([corners], (0,), gap))
    return shapes


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


def _as_drawn(shapes: Sequence[Shape], *, squares: bool) -> list[Place]:
    """Pieces where the drawing has them; the last shape, the test squares, under them."""
    boxes = np.array([shape.outline.bounds for shape in shapes[: -1 if squares else None]])
    left, low, _, top = np.concatenate([boxes.min(axis=0)[:2], boxes.max(axis=0)[2:]])
    places = [Place(0, 1.0 - float(left), -1.0 - float(top))] * len(boxes)
    if squares:
        places.append(Place(0, 1.0, float(low - top) - 10.0 - SQUARES_SIZE[1]))
    return places


def _overlaps(items: Sequence[Item]) -> list[Finding]:
    pairs = overlapping([item.shape((0,), 0.0).outline for item in items])
    return [
        Finding(
            "pieces-overlap", "warn", f'"{a.title}" and "{b.title}" lie on each other',
            piece=a.name, cure="Draw them apart, or set pack = true.",
        )
        for a, b in ((items[i], items[j]) for i, j in pairs)
    ]  # fmt: skip


def _cut_roll(
    paper: Paper, plan: Plan, shapes: Sequence[Shape], margin: float
) -> tuple[Paper, Plan]:
    """A roll cut to the length that is used, in equal parts where that is beyond a page."""
    overlap, lying = plan.grid.overlap, zip(shapes, plan.places, strict=True)
    used = max(-s.at(p).bounds[1] for s, p in lying) + shapes[0].half_gap
    most = LONGEST - 2 * margin - overlap
    parts = max(1, math.ceil((used - overlap) / most))
    step = math.ceil(max((used - overlap) / parts, 1.0))
    plan = plan_of(shapes, plan.places, replace(plan.grid, step_y=float(step)))
    return paper._replace(height=step + overlap + 2 * margin), plan


def _letters(number: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text
