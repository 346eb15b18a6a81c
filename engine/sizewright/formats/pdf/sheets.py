"""The pages of a PDF put together to sheets, as they would be taped."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ...errors import InputError
from ...findings import Finding, Level
from ...geometry.types import Floats
from ..drawing.shapes import Box
from ..reading import SetAside
from .cells import Step, put_in_cells
from .cuts import Axes, Axis, Lines, edges_of, found_along, join_cut, step_of, usual_size
from .items import Item, Known, Page, furniture, turned
from .layout import WRONG, Layout
from .order import Rows, by_order
from .shared import NEAR, Vote, number_shapes, votes, windows_of
from .turning import turned_to_fit, upright

#: Sheets stand so far apart, mm.
_BETWEEN = 50.0
#: A step at a joint above this, mm, is told as a warning.
_STEP = 0.5
#: Lines are seen in whole where no more than this is lacking, mm.
_NEARLY = 0.1
#: Words so near a square, mm, may say how large it is.
_BESIDE = 15.0
#: A cover or a page of text has so many lines of words, and so many letters.
_COVER = (12, 150)
#: A page of running text has so many letters; the rules of its tables are level or upright, mm.
_TEXT, _LEVEL = 600, 0.05


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
    """Everything on its sheet, mm, y up.

    `boxes` is what is shown of the pages that were put together, `pages` all of each page.
    `alone` are covers of which only test squares are left.
    """

    items: list[Item] = field(default_factory=list)
    boxes: dict[int, Box] = field(default_factory=dict)
    set_aside: list[SetAside] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    pages: dict[int, Box] = field(default_factory=dict)
    alone: list[int] = field(default_factory=list)

    def border(self, page: int) -> Box:
        """The box of a whole page."""
        return self.pages[page]


def put_together(pages: list[Page], taping: Taping) -> Sheets:
    """The pages as one drawing."""
    if len(pages) == 1 or taping.columns == 0:
        return _together(pages, taping, {}, alone=True)
    return _together(pages, taping, upright(pages, furniture(pages)))


def _together(
    pages: list[Page], taping: Taping, turns: dict[int, int], *, alone: bool = False
) -> Sheets:
    """The pages as one drawing, some of them turned by so many quarters first."""
    out = Sheets()
    given = pages
    pages = [turned(page, turns[k]) if k in turns else page for k, page in enumerate(pages)]
    gone: set[int] = set() if alone else furniture(pages)
    said: list[Vote] = []
    if not alone:
        number_shapes(pages)
        said = votes(pages, gone)
        if not said:
            gone = furniture(pages, cut=True)
    kept = [[i for i in page.items if id(i) not in gone] for page in pages]
    lined = [k for k, items in enumerate(kept) if any(i.chains for i in items)]
    layout = Layout(windows_of(pages, kept))
    found = _Found()
    if len(lined) > 1 and not alone:
        found = _placed(pages, kept, lined, said, layout, taping, out)
        lone = [k for k in found.lone if k not in turns]
        if found.cut and lone:
            more = turned_to_fit(pages, kept, lone, found.axes, taping.overlap)
            if more:
                return _together(given, taping, turns | more)
    many = any(len(s) > 1 for s in layout.sheets())
    if many:
        # What is on every page proves the scale once.
        first = next((k for k in lined if any(id(i) in gone for i in pages[k].items)), 0)
        squares = _test_squares([i for i in pages[first].items if id(i) in gone])
        kept[first] = [*kept[first], *squares]
        gone -= {id(i) for i in squares}
    else:
        # Nothing was put together: what is alike on many pages may be what they show.
        kept = [page.items for page in pages]
        lined = [k for k, page in enumerate(pages) if page.lined]
        if not alone:
            drawn = {k for k in lined if not _is_text(kept[k])}
            _without_covers(kept, lined, drawn, out)
    left = 0.0
    for sheet in layout.sheets():
        if len(sheet) == 1 and sheet[0] not in (*lined, *out.alone):
            continue
        left = _lay(pages, kept, sheet, layout, found, left, out) + _BETWEEN
    if many:
        for item in (i for page in pages for i in page.items if id(i) in gone):
            kind = "path" if item.chains else "text"
            out.set_aside.append(SetAside("", kind, "alike on many pages"))
        out.findings += _told(layout, found, lined)
        out.findings += _shared_apart(said, layout)
        if turns:
            out.findings.append(_turned_upright(turns))
    elif len(lined) > 1 and not alone:
        out.findings.append(_apart(len(lined)))
    _without_lines(kept, out)
    return out


@dataclass(slots=True)
class _Found:
    """How pages were placed: by shapes that they share, whole, or by `cut` lines."""

    steps: list[Step] = field(default_factory=list)
    cut: bool = False
    ordered: list[int] = field(default_factory=list)
    axes: Axes = (None, None)
    lone: list[int] = field(default_factory=list)
    over: int = 0

    @property
    def gaps(self) -> tuple[float, float]:
        """How wide a strip no page shows between pages side by side, and one above another, mm."""
        x, y = (0.0 if a is None else max(0.0, -a.overlap) for a in self.axes)
        return x, y


def _placed(
    pages: list[Page],
    kept: list[list[Item]],
    lined: list[int],
    said: list[Vote],
    layout: Layout,
    taping: Taping,
    out: Sheets,
) -> _Found:
    """Place pages in the layout by what they show, or as it is said."""
    axes: Axes = (None, None)
    if not said or (taping.columns, taping.trim, taping.overlap) != (None, None, None):
        axes = _axes(pages, kept, layout, taping, out)
    if taping.columns is None:
        if said:
            layout.vote(said)
        else:
            join_cut(axes, layout)
        linked = {k for sheet in layout.sheets() if len(sheet) > 1 for k in sheet}
        _without_covers(kept, lined, linked, out)
        lone = [k for k in lined if len(layout.together(k)) == 1]
        # What is told by lines, though it does not fit, is not told by numbers.
        main = max(layout.sheets(), key=len)
        shown = {k for pair in _refused(said, layout) for k in pair}
        wanted = [k for k in lined if k in main or not shown.intersection(layout.together(k))]
        ordered = by_order(layout, wanted)
        steps = [_step(v, layout) for v in said if _follows(v, layout)]
        return _Found(steps, not said, ordered, axes, lone)
    linked = {k for vote in said for k in (vote.first, vote.second)}
    for axis in axes:
        if axis is not None:
            linked |= set(np.argwhere(axis.score > 0).ravel().tolist())
    _without_covers(kept, lined, linked, out)
    # Steps that votes give hold where nothing else is said.
    first, second = (_usual_step(said, a) for a in (0, 1))
    first = step_of(axes, 1, 0) if axes[0] is not None else first
    second = step_of(axes, 0, -1) if axes[1] is not None else second
    # Pages of words have no place; blank ones may.
    placed = [k for k, items in enumerate(kept) if k in lined or not items]
    ends = (placed[0], placed[-1])
    rows = _rows_said(taping.columns, first, second, ends, lined, said, axes)
    for k in lined[1:]:
        layout.join(lined[0], k, rows.place(k) - rows.place(lined[0]))
    return _Found([_step(v, layout) for v in said if _follows(v, layout)], not said, [], axes)


def _without_covers(
    kept: list[list[Item]], lined: list[int], linked: set[int], out: Sheets
) -> None:
    """Set pages of much text aside on which nothing goes on elsewhere, but for test squares."""
    if not linked:
        return
    for k in [k for k in lined if k not in linked]:
        words = [i for i in kept[k] if i.words]
        if len(words) < _COVER[0] or sum(len(i.words["text"]) for i in words) < _COVER[1]:
            continue
        left = _test_squares(kept[k])
        for item in kept[k]:
            if item not in left:
                kind = "path" if item.chains else "text"
                out.set_aside.append(SetAside("", kind, f"on page {k + 1}, a cover or text"))
        kept[k] = left
        lined.remove(k)
        if left:
            out.alone.append(k)
        text = f"page {k + 1} holds much text, and nothing on it goes on elsewhere"
        cure = "If it holds a piece, save that page as a file of its own and read that."
        out.findings.append(Finding("cover", "warn", f"{text}; it was set aside", cure=cure))


def _is_text(items: list[Item]) -> bool:
    """Whether a page holds running text, and no lines but those of tables and boxes."""
    letters = sum(len(item.words.get("text", "")) for item in items)
    return letters >= _TEXT and all(
        straight.all() and np.abs(np.diff(controls[:, [0, 3]], axis=1)).min(axis=2).max() < _LEVEL
        for item in items
        for controls, straight, _ in item.chains
    )


def _is_square(item: Item) -> bool:
    """Whether it may be a square to test the scale by."""
    if len(item.chains) != 1 or not item.chains[0][1].all() or len(item.chains[0][1]) != 4:
        return False
    x0, y0, x1, y1 = item.box
    return item.chains[0][2] and x1 - x0 >= 20 and abs((x1 - x0) - (y1 - y0)) < 0.02 * (x1 - x0)


def _test_squares(items: list[Item]) -> list[Item]:
    """Squares that may say how large they are, with all in them and the words beside them."""
    found: list[Item] = []
    for square in filter(_is_square, items):
        beside = _grown(square.box, _BESIDE)
        near = [i for i in items if _within(i.box, beside if i.words else square.box)]
        if any(map(str.isdigit, " ".join(i.words.get("text", "") for i in near))):
            found += [i for i in near if i not in found]
    return found


def _grown(box: Box, by: float) -> Box:
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def _within(box: Box, other: Box) -> bool:
    x0, y0, x1, y1 = _grown(other, 1.0)
    return x0 <= box[0] and y0 <= box[1] and box[2] <= x1 and box[3] <= y1


def _usual_step(said: list[Vote], axis: int) -> Floats | None:
    """The commonest step along an axis that votes tell: rightward, or downward."""
    way = np.array([1.0, 0.0]) if axis == 0 else np.array([0.0, -1.0])
    steps = [v.by * np.sign(v.by @ way) for v in said if abs(v.by[1 - axis]) < 5]
    steps = [s for s in steps if s @ way > 0]
    least = min((float(s @ way) for s in steps), default=0.0)
    near = [s for s in steps if float(s @ way) < least + 2]
    return np.median(near, axis=0) if near else None


def _rows_said(
    columns: int,
    across: Floats | None,
    down: Floats | None,
    pages: tuple[int, int],
    lined: list[int],
    said: list[Vote],
    axes: Axes,
) -> Rows:
    """Rows of so many pages, or columns where the pages say that they go down first.

    `pages` are the first and last that have a place, blank ones among them.
    """
    first, last = pages
    count, start = last - first + 1, first
    if (columns > 1 and across is None) or (count > columns and down is None):
        raise InputError(
            "nothing tells how far the pages lie from one another",
            cure="Say the trim and the overlap too (--set trim=10mm --set overlap=0mm).",
        )
    across = np.zeros(2) if across is None else across
    down = np.zeros(2) if down is None else down
    rows = Rows(columns, across, down, start)
    turned = Rows(-(-count // columns), down, across, start)
    return max(rows, turned, key=lambda r: _agreement(r, lined, said, axes))


def _agreement(rows: Rows, lined: list[int], said: list[Vote], axes: Axes) -> float:
    """How well what the pages show agrees with how they would lie."""
    total = 0.0
    for vote in said:
        off = rows.place(vote.second) - rows.place(vote.first) - vote.by
        total += vote.weight * (float(np.hypot(*off)) < 1)
    for number, axis in enumerate(axes):
        if axis is None:
            continue
        step = step_of(axes, number == 0, number == 1)
        for i in lined:
            for j in lined:
                off = rows.place(j) - rows.place(i) - step
                if i != j and float(np.hypot(*off)) < 1:
                    total += float(axis.score[i, j])
    return total


def _lay(
    pages: list[Page],
    kept: list[list[Item]],
    sheet: list[int],
    layout: Layout,
    found: _Found,
    left: float,
    out: Sheets,
) -> float:
    """Lay a sheet at `left` mm; where it ends comes back."""
    many = len(sheet) > 1
    boxes = {k: layout.window(k) if many else (0.0, 0.0, *pages[k].size) for k in sheet}
    x0, y0 = (min(b[a] for b in boxes.values()) for a in (0, 1))
    base = np.array([left - x0, -y0])
    items = [i.moved(layout.at(k) + base) for k in sheet for i in kept[k]]
    boxes = {k: _moved(b, base) for k, b in boxes.items()}
    for k in sheet:
        out.pages[k] = _moved((0.0, 0.0, *pages[k].size), layout.at(k) + base)
    if many and found.cut:
        done = put_in_cells(items, boxes, found.gaps, found.ordered)
        items = done.items
        found.steps += done.steps
        found.over += done.over
        if done.loose:
            out.findings.append(_loose(done.loose))
    elif many:
        items = _once(items)
    out.items += items
    if many:
        out.boxes.update(boxes)
    return max(b[2] for b in boxes.values())


def _without_lines(kept: list[list[Item]], out: Sheets) -> None:
    """Set pages that hold nothing but words aside."""
    wordy = [k for k, items in enumerate(kept) if items and not any(i.chains for i in items)]
    for k in wordy:
        for item in kept[k]:
            words = item.words["text"][:30]
            out.set_aside.append(SetAside("", "text", f'text "{words}" on a page without lines'))
    if wordy:
        names = ", ".join(str(k + 1) for k in wordy)
        text = f"page {names} holds words and no lines, and was set aside"
        if len(wordy) > 1:
            text = f"pages {names} hold words and no lines, and were set aside"
        out.findings.append(Finding("text-pages", "note", text))


def _moved(box: Box, by: Floats) -> Box:
    x, y = float(by[0]), float(by[1])
    return box[0] + x, box[1] + y, box[2] + x, box[3] + y


# --- whole objects --------------------------------------------------------------------------


def _follows(vote: Vote, layout: Layout) -> bool:
    """Whether the pages of a vote lie about as it says."""
    together = vote.second in layout.together(vote.first)
    away = layout.at(vote.second) - layout.at(vote.first) - vote.by
    return together and float(np.hypot(*away)) <= WRONG


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

    seen = np.array([i.visible for i in copies if i.visible]).reshape(-1, 4)
    shown = shapely.union_all(shapely.box(*(seen + _NEARLY * np.array([-1, -1, 1, 1])).T))
    # A page that shows it up to its very edge lacks nothing.
    if shapely.difference(shapely.union_all(best.drawn(_NEARLY)), shown).is_empty:
        best.cut = ""
    return best


# --- lines that were cut ----------------------------------------------------------------------


def _axes(
    pages: list[Page], kept: list[list[Item]], layout: Layout, taping: Taping, out: Sheets
) -> Axes:
    """What cut lines say along each axis; the windows of the layout become what pages show."""
    sizes = [page.size for page in pages]
    wide, high = usual_size(sizes)
    # A page that lies turned tells nothing of where the others are cut.
    straight = [wide == high or (round(w), round(h)) != (high, wide) for w, h in sizes]
    shown = [items if good else [] for items, good in zip(kept, straight, strict=True)]
    lines = Lines.of(shown, sizes)
    along = [lines.along(n) for n in (0, 1)]
    edges = [edges_of(one) for one in along]
    if taping.trim is not None:
        edges = [(taping.trim, side - taping.trim) for side in np.max(sizes, axis=0).tolist()]
    axes: list[Axis | None] = []
    for way, one in enumerate(along):
        one.without_corners(edges[way], edges[1 - way])
        found = edges[way]
        axis = None if found is None else found_along(one, found, taping.overlap)
        if axis is not None and axis.unsure is not None:
            out.findings.append(_overlap_open(way, *axis.unsure))
            axis = None
        axes.append(axis)
    x, y = axes
    for k, (x0, y0, x1, y1) in enumerate(layout.windows):
        if x is not None:
            x0, x1 = x.low, x.high
        if y is not None:
            y0, y1 = y.low, y.high
        layout.windows[k] = (x0, y0, x1, y1)
    return x, y


# --- what is told -------------------------------------------------------------------------


def _told(layout: Layout, found: _Found, lined: list[int]) -> list[Finding]:
    sheets = [s for s in layout.sheets() if len(s) > 1]
    count = sum(map(len, sheets))
    text = f"{count} pages were put together"
    if len(sheets) > 1:
        text += f" to {len(sheets)} sheets"
    worst = max(found.steps, key=lambda s: s.off, default=None)
    if worst is not None:
        text += (
            f"; the largest step left at a joint is {worst.off:.2f} mm"
            f" (pages {worst.first + 1} and {worst.second + 1})"
        )
    level: Level = "warn" if worst is not None and worst.off > _STEP else "note"
    cure = "Measure a long edge that goes over a joint, and the test square, with a ruler."
    findings = [Finding("pages-together", level, text, cure=cure)]
    for way, gap in enumerate(found.gaps):
        if gap:
            findings.append(_gap_told(way, gap, found.over))
    if found.ordered:
        names = ", ".join(str(k + 1) for k in found.ordered)
        text = f"nothing on page {names} goes on elsewhere; it was laid where its number says"
        if len(found.ordered) > 1:
            text = f"nothing on pages {names} goes on elsewhere; they were laid where their "
            text += "numbers say"
        findings.append(Finding("pages-by-order", "note", text))
    alone = [s[0] for s in layout.sheets() if len(s) == 1 and s[0] in lined]
    if alone:
        findings.append(_unplaced(alone))
    return findings


def _refused(said: list[Vote], layout: Layout) -> list[tuple[int, int]]:
    """Pairs of pages that show the same cut lines and were not put together."""
    pairs = [(v.first, v.second) for v in said if v.beyond]
    return [(a, b) for a, b in pairs if b not in layout.together(a)]


def _shared_apart(said: list[Vote], layout: Layout) -> list[Finding]:
    """Pages that show the same cut lines, but lie on different sheets."""
    apart = _refused(said, layout)
    if not apart:
        return []
    one, two = apart[0]
    text = f"pages {one + 1} and {two + 1} show the same lines, but would lie over one another by "
    text += "much; they are on different sheets, and pieces may be there twice"
    cure = "Compare the sheets in the picture, and take out what is there twice; or say how many "
    cure += "pages lie side by side (--set columns=4)."
    return [Finding("pages-twice", "warn", text, cure=cure)]


def _unplaced(pages: list[int]) -> Finding:
    names = ", ".join(str(k + 1) for k in pages)
    text = f"nothing tells where page {names} belongs; it was read as a sheet of its own"
    if len(pages) > 1:
        text = f"nothing tells where pages {names} belong; each was read as a sheet of its own"
    cure = "Say how the pages lie (--set columns=4), or leave it where it holds whole pieces. A "
    cure += "page that lies turned: turn it upright in a PDF viewer and save it."
    return Finding("pages-apart", "warn", text, cure=cure)


def _apart(count: int) -> Finding:
    text = f"{count} pages hold lines, and nothing tells how they go together; each was read as a "
    text += "sheet of its own"
    cure = "If the pattern goes on over their edges, say how many pages lie side by side (--set "
    cure += "columns=4), and the trim and overlap where these are not found."
    return Finding("pages-apart", "warn", text, cure=cure)


def _loose(ends: list[tuple[int, tuple[float, float]]]) -> Finding:
    pages = sorted({page + 1 for page, _ in ends})
    text = f"{len(ends)} line ends at joints of pages go on nowhere ({_pages(pages)})"
    cure = "Look at the joints in the picture of show, and draw on there what is missing."
    return Finding("joint-open", "warn", text, cure=cure)


def _pages(numbers: list[int]) -> str:
    more = f" and {len(numbers) - 8} more" if len(numbers) > 8 else ""
    return f"page{'s' * (len(numbers) > 1)} {', '.join(map(str, numbers[:8]))}{more}"


def _gap_told(way: int, gap: float, over: int) -> Finding:
    beside = ("side by side", "one above another")[way]
    text = f"between pages {beside} a strip of {gap:.1f} mm is on none of them"
    if over:
        text += f"; {over} lines in all were led on over such strips, straight or in their curve"
    cure = "Check these places in the picture. If pages do meet, say --set overlap=0mm; else the "
    cure += f"strip is missing on a print too: tape the pages {gap:.1f} mm apart."
    return Finding("page-gap", "warn", text, cure=cure)


def _turned_upright(turns: dict[int, int]) -> Finding:
    listed = ", ".join(f"page {k + 1} by {90 * turn} degrees" for k, turn in sorted(turns.items()))
    text = f"pages that lay turned against the rest were turned upright: {listed}"
    return Finding("pages-turned", "note", text)


def _overlap_open(number: int, low: float, high: float) -> Finding:
    way = ("from left to right", "from top to bottom")[number]
    text = f"pages go on in one another {way}, and any overlap from {low:.0f} to {high:.0f} mm "
    text += "would do"
    cure = "Say how far they lie over one another: --set overlap=10mm (0mm: not at all)."
    return Finding("overlap-open", "warn", text, cure=cure)
