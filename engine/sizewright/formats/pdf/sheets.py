"""The pages of a PDF put together to sheets, as they would be taped."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ...errors import InputError
from ...findings import Finding
from ...geometry.types import Floats
from ..drawing.shapes import Box
from ..reading import SetAside
from .cells import Step, put_in_cells
from .cuts import Axis, Grid, Lines, found_along, joined
from .items import Item, Known, Page, furniture, number_shapes
from .layout import Layout
from .shared import NEAR, Vote, votes, window_of

#: Sheets stand so far apart, mm.
_BETWEEN = 50.0
#: A step at a joint above this, mm, is told as a warning.
_STEP = 0.5


@dataclass(frozen=True, slots=True)
class Taping:
    """What a user says of how pages go together; None is found out.

    `columns`: pages in a row, 0 for no putting together; `trim` and `overlap` in mm.
    """

    columns: int | None = None
    trim: float | None = None
    overlap: float | None = None


@dataclass(slots=True)
class Sheets:
    """Everything on its sheet, mm, y up; `boxes` are the pages that were put together."""

    items: list[Item] = field(default_factory=list)
    boxes: dict[int, Box] = field(default_factory=dict)
    set_aside: list[SetAside] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    pages: dict[int, Box] = field(default_factory=dict)

    def border(self, page: int) -> Box:
        """The box of a whole page."""
        return self.pages[page]


def put_together(pages: list[Page], taping: Taping) -> Sheets:
    """The pages as one drawing."""
    out = Sheets()
    lined = [k for k, page in enumerate(pages) if page.lined]
    gone = furniture(pages) if len(pages) > 1 else set()
    kept = [[i for i in page.items if id(i) not in gone] for page in pages]
    windows = [window_of(page, items) for page, items in zip(pages, kept, strict=True)]
    layout = Layout(windows)
    steps: list[Step] = []
    grid: Grid | None = None
    if len(lined) > 1 and taping.columns != 0:
        if taping.columns is None:
            steps = _by_shapes(pages, gone, layout)
        if not steps:
            grid = _by_cuts(pages, kept, layout, taping)
    sheets = [s for s in layout.sheets() if len(s) > 1 or s[0] in lined]
    together = {k for s in sheets if len(s) > 1 for k in s}
    left = 0.0
    for sheet in sheets:
        many = len(sheet) > 1
        boxes = {k: layout.window(k) if many else (0.0, 0.0, *pages[k].size) for k in sheet}
        x0, y0 = (min(b[a] for b in boxes.values()) for a in (0, 1))
        x1 = max(b[2] for b in boxes.values())
        base = np.array([left - x0, -y0])
        held = kept if many else [page.items for page in pages]
        items = [i.moved(layout.at(k) + base) for k in sheet for i in held[k]]
        boxes = {k: _moved(b, base) for k, b in boxes.items()}
        for k in sheet:
            out.pages[k] = _moved((0.0, 0.0, *pages[k].size), layout.at(k) + base)
        if many and grid is not None:
            items, more, loose = put_in_cells(items, boxes)
            steps += more
            if loose:
                out.findings.append(_loose(loose))
        elif many:
            items = _once(items)
        out.items += items
        if many:
            out.boxes.update(boxes)
        left += x1 - x0 + _BETWEEN
    if together:
        for page in pages:
            for item in page.items:
                if id(item) in gone and item.page in together:
                    kind = "path" if item.chains else "text"
                    out.set_aside.append(SetAside("", kind, "alike on many pages"))
        out.findings += _told(pages, layout, sheets, steps, lined)
    elif len(lined) > 1:
        out.findings.append(_apart(len(lined)))
    _without_lines(pages, lined, out)
    return out


def _without_lines(pages: list[Page], lined: list[int], out: Sheets) -> None:
    """Set pages that hold nothing but words aside."""
    wordy = [k for k, page in enumerate(pages) if page.items and k not in lined]
    for k in wordy:
        for item in pages[k].items:
            words = item.words["text"][:30]
            out.set_aside.append(SetAside("", "text", f'text "{words}" on a page without lines'))
    if wordy and lined:
        names = ", ".join(str(k + 1) for k in wordy)
        text = f"page {names} holds words and no lines, and was set aside"
        if len(wordy) > 1:
            text = f"pages {names} hold words and no lines, and were set aside"
        out.findings.append(Finding("text-pages", "note", text))


def _moved(box: Box, by: Floats) -> Box:
    x, y = float(by[0]), float(by[1])
    return box[0] + x, box[1] + y, box[2] + x, box[3] + y


# --- whole objects --------------------------------------------------------------------------


def _by_shapes(pages: list[Page], gone: set[int], layout: Layout) -> list[Step]:
    number_shapes(pages, lambda i: (i.style, i.fill, i.words.get("text")))
    followed = layout.vote(votes(pages, gone))
    return [_step(v, layout) for v in followed]


def _step(vote: Vote, layout: Layout) -> Step:
    away = layout.at(vote.second) - layout.at(vote.first) - vote.by
    x, y = (float(v) for v in layout.at(vote.second))
    return Step(max(vote.off, float(np.hypot(*away))), vote.first, vote.second, (x, y))


def _once(items: list[Item]) -> list[Item]:
    """Of the same thing at the same place one, shown wherever any page shows it."""
    known = Known(NEAR)
    found: dict[int, list[Item]] = {}
    for item in items:
        found.setdefault(known.number(item.same, item.points[0]), []).append(item)
    return [_best(copies) for copies in found.values()]


def _best(copies: list[Item]) -> Item:
    """The copy that is shown best; whole where all of them together show all of it."""
    rank = {"": 0, "part": 1, "whole": 2}
    best = min(copies, key=lambda i: rank[i.cut])
    if best.cut != "part" or len(copies) == 1:
        return best
    import shapely

    shown = shapely.union_all([shapely.box(*i.visible) for i in copies if i.visible])
    x0, y0, x1, y1 = best.box
    # A page that shows it up to its very edge lacks nothing.
    whole = shapely.box(x0, y0, x1, y1).difference(shown.buffer(0.1, cap_style="square"))
    if whole.area <= 1.0:
        best.cut = ""
    return best


# --- lines that were cut ----------------------------------------------------------------------


def _by_cuts(
    pages: list[Page], kept: list[list[Item]], layout: Layout, taping: Taping
) -> Grid | None:
    kinds: dict[object, int] = {}
    paths = []
    for items in kept:
        lined = [i for i in items if i.chains and i.cut != "whole"]
        paths.append([(p, kinds.setdefault(i.style, len(kinds))) for i in lined for p in i.paths()])
    lines = Lines(paths, [page.size for page in pages])
    axes: list[Axis | None] = []
    for number in (0, 1):
        low, high = None, None
        if taping.trim is not None:
            low = taping.trim
            high = max(page.size[number] for page in pages) - taping.trim
        axes.append(found_along(lines.along(number), low, high, taping.overlap))
    both = (axes[0], axes[1])
    for k, (x0, y0, x1, y1) in enumerate(layout.windows):
        if both[0] is not None:
            x0, x1 = both[0].low, both[0].high
        if both[1] is not None:
            y0, y1 = both[1].low, both[1].high
        layout.windows[k] = (x0, y0, x1, y1)
    if taping.columns is not None:
        return _in_columns(pages, lines, both, layout, taping)
    if not any(both):
        return None
    return joined(both, layout)


def _in_columns(
    pages: list[Page],
    lines: Lines,
    axes: tuple[Axis | None, Axis | None],
    layout: Layout,
    taping: Taping,
) -> Grid:
    raise InputError("not yet")


# --- what is told -------------------------------------------------------------------------


def _told(
    pages: list[Page],
    layout: Layout,
    sheets: list[list[int]],
    steps: list[Step],
    lined: list[int],
) -> list[Finding]:
    findings = []
    for sheet in sheets:
        if len(sheet) < 2:
            continue
        own = [s for s in steps if s.first in sheet]
        worst = max(own, key=lambda s: s.off, default=None)
        text = f"{len(sheet)} pages were put together"
        if worst is not None:
            text += (
                f"; the largest step left at a joint is {worst.off:.2f} mm"
                f" (pages {worst.first + 1} and {worst.second + 1})"
            )
        level = "warn" if worst is not None and worst.off > _STEP else "note"
        cure = "Measure a long edge that goes over a joint, and the test square, with a ruler."
        findings.append(Finding("pages-together", level, text, cure=cure))
    alone = [s[0] for s in sheets if len(s) == 1]
    if alone:
        findings.append(_unplaced(alone))
    return findings


def _unplaced(pages: list[int]) -> Finding:
    names = ", ".join(str(k + 1) for k in pages)
    text = f"nothing tells where page {names} belongs; it was read as a sheet of its own"
    if len(pages) > 1:
        text = f"nothing tells where pages {names} belong; each was read as a sheet of its own"
    cure = "Say how the pages lie (--set columns=4), or leave it where it holds whole pieces."
    return Finding("pages-apart", "warn", text, cure=cure)


def _apart(count: int) -> Finding:
    text = f"{count} pages hold lines, and nothing tells how they go together; each was read as a "
    text += "sheet of its own"
    cure = "If the pattern goes on over their edges, say how many pages lie side by side (--set "
    cure += "columns=4), and the trim and overlap where these are not found."
    return Finding("pages-apart", "warn", text, cure=cure)


def _loose(count: int) -> Finding:
    text = f"{count} line ends at joints of pages go on nowhere"
    cure = "Look at the joints in the picture of show."
    return Finding("joint-open", "warn", text, cure=cure)
