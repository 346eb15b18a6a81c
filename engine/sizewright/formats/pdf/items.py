"""What stands on the pages of a PDF, and which of it is the same thing shown more than once."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Any

import numpy as np

from ...budget import spend
from ...errors import InputError
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.types import Floats
from ..drawing.loops import cleaned
from ..drawing.shapes import Box

#: Nothing lies farther from its page than this, mm.
_FARTHEST = 1e6
#: What a shape costs of the budget of its file.
_STEPS = 200
#: Two shapes are the same where all their points are within this of one another, mm.
SAME = 0.25
#: Words that are alike on many pages begin within this of one another, mm.
_WORDS = 5.0
#: Marks of a page stand within this share of its sides.
_BORDER = 0.12


@dataclass(eq=False, slots=True)
class Item:
    """A path or words as they stand on one page, mm, y up from the page's lower left.

    `chains` are controls (n, 4, 2), which of them are straight (n,), and whether they close.
    `cut` is "part" or "whole" where the page's edge or a clip leaves it so far unseen, and
    `seen` then the box within which it is shown. `words` holds what a text says. `same` is the
    number that it shares with all that look the same, wherever they stand.
    """

    page: int
    number: int
    layer: str
    points: Floats
    chains: list[tuple[Floats, np.ndarray, bool]] = field(default_factory=list)
    colour: str = ""
    fill: str = ""
    width: float | None = None
    dashes: tuple[float, ...] = ()
    cut: str = ""
    seen: Box | None = None
    words: dict[str, Any] = field(default_factory=dict)
    same: int = -1
    _paths: tuple[Path, ...] | None = field(default=None, init=False, repr=False)

    @property
    def box(self) -> Box:
        """The box of all its control points."""
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @property
    def visible(self) -> Box | None:
        """The box of what is shown of it; None for nothing."""
        if self.cut == "whole":
            return None
        return self.box if self.seen is None else common(self.box, self.seen)

    @property
    def style(self) -> tuple[Any, ...]:
        """What a line that goes on elsewhere has in common with it."""
        width = None if self.width is None else round(self.width, 1)
        return self.layer, self.colour, width, tuple(round(d, 1) for d in self.dashes)

    def paths(self) -> list[Path]:
        """Its lines; those of no length left out."""
        if self._paths is None:
            spend(_STEPS * len(self.chains), "its shapes")
            made = (cleaned(c.copy(), lines.copy(), closed) for c, lines, closed in self.chains)
            self._paths = tuple(path for path in made if path is not None)
        return list(self._paths)

    def drawn(self, tolerance: float) -> list[Any]:
        """Its lines as shapely has them, in chords within `tolerance` mm."""
        import shapely

        paths = self.paths()
        points = [flatten(path, tolerance) for path in paths]
        return [
            shapely.linestrings(np.vstack([p, p[:1]]) if path.closed else p)
            for path, p in zip(paths, points, strict=True)
        ]

    def moved(self, by: Floats) -> Item:
        """The same elsewhere."""
        seen = self.seen
        if seen is not None:
            x, y = float(by[0]), float(by[1])
            seen = seen[0] + x, seen[1] + y, seen[2] + x, seen[3] + y
        chains = [(c + by, lines, closed) for c, lines, closed in self.chains]
        return replace(self, points=self.points + by, chains=chains, seen=seen)


@dataclass(slots=True)
class Page:
    """One page: its size in mm and what stands on it. `pictures` are only counted."""

    size: tuple[float, float]
    items: list[Item]
    pictures: int

    @property
    def lined(self) -> bool:
        """Whether it holds any line."""
        return any(item.chains for item in self.items)


def common(a: Box, b: Box) -> Box:
    """What two boxes have in common; the wrong way round where that is nothing."""
    return max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3])


def pages_of(found: dict[str, Any], scale: float) -> list[Page]:
    """The pages of what the child process told, `scale` times as large."""
    pages = []
    for number, page in enumerate(found["pages"]):
        items = [_path(number, one, scale) for one in page["paths"]]
        items += [_words(number, one, scale) for one in _lines(page["words"])]
        for item in items:
            if not (np.abs(item.points) < _FARTHEST).all():
                what = f"page {number + 1}: a line goes on far beyond the page"
                raise InputError(what, cure="Take it out, or print the page to a new PDF.")
        width, height = (scale * v for v in page["size"])
        pages.append(Page((width, height), items, page["pictures"]))
    return pages


def _path(page: int, path: dict[str, Any], scale: float) -> Item:
    chains = []
    for chain in path["chains"]:
        segments = chain["segments"]
        lines = np.array([len(s) == 2 for s in segments])
        controls = np.array([s if len(s) == 4 else [s[0], s[0], s[1], s[1]] for s in segments])
        # What is filled and not lined has no open side.
        closed = chain["closed"] or not path["colour"]
        chains.append((controls * scale, lines, closed))
    seen = path["seen"]
    return Item(
        page,
        path["number"],
        path["layer"],
        np.concatenate([c.reshape(-1, 2) for c, _, _ in chains]),
        chains,
        path["colour"],
        path["fill"],
        None if path["width"] is None else path["width"] * scale,
        tuple(d * scale for d in path["dashes"]),
        path["cut"],
        None if seen is None else tuple(v * scale for v in seen),
    )


def _words(page: int, words: dict[str, Any], scale: float) -> Item:
    at = np.array(words["at"]) * scale
    said = {
        "text": " ".join(words["text"].split()),
        "height": words["height"] * scale,
        "angle": words["angle"],
    }
    fill = words["fill"]
    return Item(page, words["number"], words["layer"], at[None], fill=fill, words=said)


# --- the same thing, shown again --------------------------------------------------------


class Known:
    """Numbers for things with a key and some lengths; those nearly alike get the same one."""

    def __init__(self, near: float) -> None:
        self._near = near
        self._cells: dict[tuple[Any, ...], list[tuple[int, Floats]]] = {}
        self._count = 0

    def number(self, key: Any, values: Floats, full: Floats | None = None) -> int:
        """The number of a thing; `full` decides where `values`, a few of its lengths, agree."""
        full = values if full is None else full
        # The cell comes first, and those next to it that its point is near.
        cells = list(product(*(_steps(v / (4 * self._near)) for v in values.tolist())))
        for at in cells:
            for number, other in self._cells.get((key, at), ()):
                if float(np.abs(other - full).max()) <= self._near:
                    return number
        self._cells.setdefault((key, cells[0]), []).append((self._count, full))
        self._count += 1
        return self._count - 1


def _steps(value: float) -> list[int]:
    """The whole number below, and one that the value is near."""
    base = math.floor(value)
    share = value - base
    return [base] + [base - 1] * (share <= 0.25) + [base + 1] * (share >= 0.75)


def turned(page: Page, quarters: int) -> Page:
    """A page turned by so many quarters of a turn, counter-clockwise."""
    width, height = page.size
    way, start, size = {
        1: ([[0, 1], [-1, 0]], (height, 0.0), (height, width)),
        2: ([[-1, 0], [0, -1]], (width, height), (width, height)),
        3: ([[0, -1], [1, 0]], (0.0, width), (height, width)),
    }[quarters]
    turn, shift = np.array(way, dtype=float), np.array(start)
    items = []
    for item in page.items:
        seen = item.seen
        if seen is not None:
            (a, b), (c, d) = way
            x0, y0, x1, y1 = (
                x * along + y * up + by
                for x, y in (seen[:2], seen[2:])
                for along, up, by in ((a, c, start[0]), (b, d, start[1]))
            )
            seen = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
        words = dict(item.words)
        if words:
            words["angle"] += 90.0 * quarters
        chains = [(c @ turn + shift, lines, closed) for c, lines, closed in item.chains]
        points = item.points @ turn + shift
        items.append(replace(item, points=points, chains=chains, seen=seen, words=words))
    return Page(size, items, page.pictures)


class Shapes:
    """Numbers for shapes: those that look the same, and agree in `key`, have the same."""

    def __init__(self, key: Callable[[Item], Any]) -> None:
        self._key = key
        self._known = Known(SAME)

    def number(self, page: Page) -> None:
        """Set `same` of all that stands on a page."""
        for item in page.items:
            spend(20, "its shapes")
            kinds = tuple((len(c), lines.tobytes(), closed) for c, lines, closed in item.chains)
            full = item.points - item.points[0]
            size = np.concatenate([full.max(axis=0) - full.min(axis=0), full[-1]])
            item.same = self._known.number((kinds, self._key(item)), size, full)


def furniture(pages: list[Page], *, cut: bool = False) -> set[int]:
    """What is no pattern: the same shape at the same place of many pages. By `id` of the item.

    That is at least three pages and 40 % of those with lines (20 % for words); where there are
    two, what stands on both round nearly all of them or at their border. Page numbers count as
    the same. What stands at their border needs no more than two of up to eight pages. Where lines
    were `cut` at the edges of pages, a straight one that goes over several pages looks like their
    furniture: such a line must be on nearly all of them.
    """
    shapes = Shapes(lambda item: (item.colour, unnumbered(item.words.get("text", ""))))
    # Words in the middle of something begin elsewhere as their numbers are wider.
    drawings, words, held = Known(SAME), Known(_WORDS), dict[tuple[bool, int], list[Item]]()
    for page in pages:
        shapes.number(page)
        for item in page.items:
            if item.cut != "whole":
                known = drawings if item.chains else words
                place = known.number(item.same, item.points[0])
                held.setdefault((bool(item.chains), place), []).append(item)
    drawn = sum(page.lined for page in pages)
    gone: set[int] = set()
    for items in held.values():
        on = len({item.page for item in items})
        size = pages[items[0].page].size
        least = 0.4 if items[0].chains else 0.2
        if cut and _goes_over(items[0], size):
            least = 0.8
        many = on >= 3 and on >= least * drawn
        aside = on >= 2 and 4 * on >= drawn and not cut and _aside(items[0], size)
        if (
            many
            or aside
            or (on == drawn == 2 and (_is_frame(items[0], size) or _aside(items[0], size)))
        ):
            gone |= {id(item) for item in items}
    return gone


def unnumbered(text: str) -> str:
    """Words as they are on each page: numbers and single letters left out."""
    return re.sub(r"\d+|\b[A-Za-z]\b|\b[A-Z](?=\d)", "#", text)


def _goes_over(item: Item, size: tuple[float, float]) -> bool:
    """Whether it is a straight line along an axis over most of a page."""
    x0, y0, x1, y1 = item.box
    return min(x1 - x0, y1 - y0) < SAME and (x1 - x0 > 0.5 * size[0] or y1 - y0 > 0.5 * size[1])


def _aside(item: Item, size: tuple[float, float]) -> bool:
    """Whether all of it lies near the page's border."""
    x0, y0, x1, y1 = item.box
    wide, high = _BORDER * size[0], _BORDER * size[1]
    return x1 < wide or x0 > size[0] - wide or y1 < high or y0 > size[1] - high


def _is_frame(item: Item, size: tuple[float, float]) -> bool:
    x0, y0, x1, y1 = item.box
    if len(item.chains) != 1 or not item.chains[0][1].all() or len(item.chains[0][1]) != 4:
        return False
    return x1 - x0 >= 0.7 * size[0] and y1 - y0 >= 0.7 * size[1]


# --- words --------------------------------------------------------------------------------


def _lines(words: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Words that follow one another on one line put together: writers split them as they like."""
    lines: list[dict[str, Any]] = []
    for item in words:
        alike = lines and lines[-1]["fill"] == item["fill"]
        gap = _gap(lines[-1], item) if alike else None
        if gap is None:
            lines.append(dict(item))
            continue
        last, new = lines[-1], item["text"]
        last["text"] += new if gap < 0.15 else f" {new}"
        last["length"] = math.dist(last["at"], item["at"]) + item["length"]
    return lines


def _gap(last: dict[str, Any], item: dict[str, Any]) -> float | None:
    """How far `item` begins behind the end of `last`, in letter heights; None if elsewhere."""
    height = last["height"]
    turn = abs(last["angle"] - item["angle"]) % 360
    if last["layer"] != item["layer"] or abs(item["height"] / height - 1) > 0.02:
        return None
    if min(turn, 360 - turn) > 0.5:
        return None
    way = math.radians(last["angle"])
    dx, dy = (b - a for a, b in zip(last["at"], item["at"], strict=True))
    along = (dx * math.cos(way) + dy * math.sin(way) - last["length"]) / height
    aside = (dy * math.cos(way) - dx * math.sin(way)) / height
    return along if abs(aside) < 0.1 and -0.3 < along < 0.7 else None
