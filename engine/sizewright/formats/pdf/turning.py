"""Pages that were put in turned, turned upright."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ...budget import spend
from ...geometry.types import Floats
from .cuts import Axes, Lines, edges_of, found_along, matched, usual_size
from .items import Item, Known, Page, Shapes, turned, unnumbered

#: Shapes of more points than this tell which way up a page is: rectangles look alike turned.
_TELLING = 16
#: A sign tells by its place where it is on so many pages at least, and on this share of them.
_MANY, _SHARE = 3, 0.3
#: Signs that more pages than this have alike tell nothing of any two.
_MOST = 40
#: Lines that were cut at an edge go on in a page that is turned so, by so many more than not.
_SURE = 2.0


def upright(pages: Sequence[Page], furniture: set[int]) -> dict[int, int]:
    """Which pages lie turned against most others, and by how many quarters they are turned back.

    That is told by the shapes that they share with others, and by what many pages have at one
    place; what turns into itself tells nothing.
    """
    shared: dict[tuple[int, int], Counter[int]] = defaultdict(Counter)
    for found in _signs(pages, furniture):
        spend(len(found), "pages that are turned")
        straight = sorted(page for page, quarters in found if quarters == 0)
        for i in straight:
            for j, quarters in found:
                if j != i:
                    shared[i, j][quarters] += 1
    links = []
    for (i, j), counts in shared.items():
        (best, most), *others = counts.most_common()
        surer = most - max((n for _, n in others), default=0)
        if i < j and surer:
            links.append((surer, i, j, best))
    groups = {k: {k: 0} for k in range(len(pages))}
    for _, i, j, quarters in sorted(links, key=lambda one: (-one[0], one[3] != 0, one[1:])):
        ours, theirs = groups[i], groups[j]
        if ours is not theirs:
            by = ours[i] + quarters - theirs[j]
            for k, turn in theirs.items():
                ours[k] = (turn + by) % 4
                groups[k] = ours
    found_turns: dict[int, int] = {}
    for group in {id(g): g for g in groups.values()}.values():
        ways = Counter(group[k] for k in sorted(group))
        usual = ways.most_common(1)[0][0]
        found_turns |= {k: (turn - usual) % 4 for k, turn in group.items() if turn != usual}
    return found_turns


def _signs(pages: Sequence[Page], furniture: set[int]) -> Iterator[set[tuple[int, int]]]:
    """For each sign the pages that show it, and after how many quarters of a turn they do."""
    looks = Shapes(lambda item: (item.style, item.fill, unnumbered(item.words.get("text", ""))))
    places = Known(5.0)
    shapes: dict[int, set[tuple[int, int]]] = defaultdict(set)
    marks: dict[Any, set[tuple[int, int]]] = defaultdict(set)
    for number, page in enumerate(pages):
        telling = [i for i in page.items if len(i.points) > _TELLING or i.words]
        bare = Page(page.size, [replace(i) for i in telling], 0)
        ours = [id(item) in furniture for item in telling]
        for quarters in range(4):
            other = turned(bare, quarters) if quarters else bare
            looks.number(other)
            for item, common in zip(other.items, ours, strict=True):
                if not item.words and not common:
                    shapes[item.same].add((number, quarters))
                at = places.number((item.same, _size(other)), item.points[0])
                marks[at].add((number, quarters))
    yield from (found for found in shapes.values() if len(found) <= 4 * _MOST)
    least = max(_MANY, _SHARE * len(pages))
    yield from (f for f in marks.values() if len({page for page, _ in f}) >= least)


def _size(page: Page) -> tuple[int, int]:
    return round(page.size[0]), round(page.size[1])


# --- lines that were cut ------------------------------------------------------------------


def turned_to_fit(
    pages: Sequence[Page],
    kept: Sequence[list[Item]],
    lone: Sequence[int],
    axes: Axes,
    overlap: float | None,
) -> dict[int, int]:
    """Which `lone` pages go on in others once they are turned, and by how many quarters.

    `axes` say where pages are cut and how far they lie over one another, where it is known from
    those that lie straight; `overlap` is what a user says of it, mm.
    """
    usual = usual_size([page.size for page in pages])
    shown = [items if _size(p) == usual else [] for p, items in zip(pages, kept, strict=True)]
    sizes = [page.size for page in pages]
    tried: list[tuple[int, int]] = [(k, 0) for k in range(len(pages))]
    for k in lone:
        for quarters in (1, 2, 3):
            page = turned(Page(pages[k].size, kept[k], 0), quarters)
            if _size(page) == usual:
                tried.append((k, quarters))
                shown.append(page.items)
                sizes.append(page.size)
    if len(tried) == len(pages):
        return {}
    lines = Lines.of(shown, sizes)
    fits = np.zeros((len(tried), len(tried)))
    for number, known in enumerate(axes):
        one = lines.along(number)
        if known is not None:
            score = matched(one, known)
        else:
            edges = edges_of(one)
            found = None if edges is None else found_along(one, edges, overlap)
            if found is None or found.unsure is not None:
                continue
            score = found.score
        score = np.maximum(score, 0.0)
        fits += score + score.T
    return _best_turns(tried, fits, lone)


def _best_turns(tried: list[tuple[int, int]], fits: Floats, lone: Sequence[int]) -> dict[int, int]:
    """The surest turns, one after the other, each page fitting those that lie straight by then.

    Pages that go on in others as they lie come first, and lone ones only then.
    """
    found: dict[int, int] = {}
    straight: list[int] = []
    for more in (False, True):
        straight += [
            n for n, (k, q) in enumerate(tried) if not q and (k in lone) == more and k not in found
        ]
        left = [n for n, (k, quarters) in enumerate(tried) if quarters and k not in found]
        while left and straight:
            others = {n: [m for m in straight if tried[m][0] != tried[n][0]] for n in left}
            fit = {n: float(max(fits[n, others[n]], default=0.0)) for n in left}
            best = max(left, key=lambda n: (fit[n], tried[n][0], -n))
            page, quarters = tried[best]
            next_best = max(
                (fit[n] for n in left if tried[n][0] == page and n != best), default=0.0
            )
            if fit[best] < max(_SURE, next_best + _SURE / 2):
                left.remove(best)
                continue
            found[page] = quarters
            straight = [*(m for m in straight if tried[m][0] != page), best]
            left = [n for n in left if tried[n][0] != page]
    return found
