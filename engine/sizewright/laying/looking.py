"""Looking for a lay: which searches are set to work, and the best proved lay of what they find."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from ..budget import cores
from ..errors import SizewrightError
from .cloth import Cloth
from .items import ON_FOLD, Item
from .lay import Laid, Lay, proved
from .on_fold import OnFold
from .on_length import Strip
from .on_panels import Comb, OnPanels, level
from .workers import working

#: The places that a find tells.
Reader = Callable[[Mapping[str, Any]], list[Laid]]
#: Told what was found so far and which share of the time has gone.
Told = Callable[[str, float], None]
# No lay at all yet: waited for it so many times longer than asked, and at least so long.
_GRACE, _PATIENCE = 3.0, 60.0
_POLL = 0.2
# So many finds are kept to be proved, the best ones.
_KEPT = 40
_MOST_WORKERS = 8


class SearchFailed(SizewrightError):
    """A search that could not be run at all."""

    exit_code = 3


def look(
    cloth: Cloth,
    items: Sequence[Item],
    seconds: float,
    *,
    seed: int = 1,
    start: Lay | None = None,
    told: Told = lambda _words, _share: None,
) -> Lay:
    """The best proved lay of the items that is found in so many seconds.

    `start` is a lay to do better than. Ends early where everything lies on a cloth of a given
    size. Interrupted (by Ctrl-C) it gives the best whole lay so far, where there is one. Raises
    SearchFailed where a search cannot be run.
    """
    fit = [item for item in items if fits_alone(cloth, item)]
    best = start if start is not None and start.cloth == cloth else None
    if best is None:
        best = Lay(cloth, (), tuple(items))
    if not fit or (_sized(cloth) and best.whole):
        return best
    try:
        for lay in _finds(cloth, fit, seconds, seed, told):
            lay = replace(lay, left=tuple(i for i in items if i.key not in _keys(lay)))
            best = min(best, lay, key=lambda one: one.rank)
            if _sized(cloth) and len(best.laid) == len(fit):
                break
    except KeyboardInterrupt:
        if not best.whole:
            raise
    return best


def _keys(lay: Lay) -> set[tuple[str, str, int]]:
    return {one.item.key for one in lay.laid}


def _sized(cloth: Cloth) -> bool:
    """Whether the cloth ends somewhere, so that a lay can be good enough."""
    return cloth.width is None or cloth.length is not None


def fits_alone(cloth: Cloth, item: Item) -> bool:
    """Whether an item would lie on an empty cloth, as far as its box tells."""
    wide, tall = np.ptp(item.turned(0.0), axis=0)
    if cloth.width is not None:
        low, high = cloth.band
        return bool(tall <= high - low + 1e-6 and wide <= (cloth.length or np.inf) + 1e-6)
    for panel in cloth.panels:
        x0, y0, x1, y1 = level(panel).bounds
        if wide <= x1 - x0 and tall <= y1 - y0 and item.area <= panel.whole:
            return True
    return False


def _finds(
    cloth: Cloth, items: Sequence[Item], seconds: float, seed: int, told: Told
) -> Iterator[Lay]:
    """Ever better proved lays. An interrupt ends the search and is raised when all are given."""
    hunts = _hunts(cloth, items, seconds, seed, min(cores(), _MOST_WORKERS))
    # A cloth without end only gets shorter lays: the best are proved when the time is up.
    waiting: list[tuple[float, list[Laid]]] = []
    best: Lay | None = None
    trouble = ""

    def words() -> str:
        if waiting:
            return f"{waiting[0][0] / 10:.1f} cm"
        return f"{len(best.laid)} of {len(items)} pieces" if best else "no lay yet"

    def some() -> bool:
        return bool(waiting or best)

    interrupt: KeyboardInterrupt | None = None
    with working([task for task, _ in hunts]) as next_find:
        for number, find in _heard(next_find, seconds, some, lambda share: told(words(), share)):
            if isinstance(find, KeyboardInterrupt):
                interrupt = find
                break
            if "trouble" in find:
                # Others may do without the one that failed.
                trouble = str(find["trouble"])[:200]
                continue
            laid = hunts[number][1](find)
            if not _sized(cloth):
                waiting = sorted([(find["width"], laid), *waiting], key=lambda w: w[0])[:_KEPT]
                continue
            lay = _within(cloth, items, laid)
            if lay is not None and (best is None or lay.rank < best.rank):
                best = lay
                yield lay
    for _, laid in waiting:
        best = _within(cloth, items, laid)
        if best is not None:
            yield best
            break
    if interrupt is not None:
        raise interrupt
    if best is None and trouble:
        raise SearchFailed(
            f"the search for a lay failed: {trouble}", cure="Try another seed, and tell its author."
        )


def _heard(
    next_find: Callable[[float], Any],
    seconds: float,
    some: Callable[[], bool],
    told: Callable[[float], None],
) -> Iterator[tuple[int, Any]]:
    """What the workers tell until the time is up, which counts from when the first is ready.

    While there is not `some` lay at all, longer. An interrupt is handed on as the last find.
    """
    begun, ready, said = time.monotonic(), False, 0.0
    try:
        while True:
            now = time.monotonic()
            gone = now - begun
            if gone >= seconds and (some() or gone >= max(_GRACE * seconds, _PATIENCE)):
                return
            if now - said > _POLL:
                said = now
                told(min(gone / seconds, 1.0))
            found = next_find(_POLL)
            if found is False:
                return
            if found is None:
                continue
            if "ready" not in found[1]:
                yield found
            elif not ready:
                begun, ready = time.monotonic(), True
    except KeyboardInterrupt as interrupt:
        yield -1, interrupt


def _hunts(
    cloth: Cloth, items: Sequence[Item], seconds: float, seed: int, count: int
) -> list[tuple[dict[str, Any], Reader]]:
    """Tasks for so many workers, and how the finds of each are read.

    Halves on a fold make rows, of which the strip library tries several. On a length without
    end it looks from several seeds. Where the cloth ends, it and the search by pixels take
    turns: one finds what the other does not.
    """
    seeds = [seed + 1000 * k for k in range(count)]
    if any(item.side == ON_FOLD for item in items):
        rows = [OnFold.of(cloth, items, s) for s in seeds]
        return [
            (on.task(cloth, seconds, s), partial(on.read, cloth=cloth))
            for on, s in zip(rows, seeds, strict=True)
        ]
    if not _sized(cloth):
        strip = Strip.of(cloth, items)
        return [(strip.task(seconds, s, None), partial(strip.read, cloth=cloth)) for s in seeds]
    panels = cloth.panels if cloth.width is None else (cloth.panel(""),)
    pixels = OnPanels(tuple(items), tuple(panels))
    found: list[tuple[dict[str, Any], Reader]] = []
    for s in seeds:
        if len(found) % 2 == 0:
            found.append((pixels.task(cloth, seconds, s), pixels.read))
        elif cloth.width is not None:
            strip = Strip.of(cloth, items)
            task = strip.task(seconds, s, cloth.length)
            found.append((task, partial(strip.read, cloth=cloth)))
        else:
            comb = Comb.of(cloth, items, panels)
            if comb is None:
                found.append((pixels.task(cloth, seconds, s), pixels.read))
            else:
                found.append((comb.task(cloth, seconds, s), comb.read))
    return found


def _within(cloth: Cloth, items: Sequence[Item], laid: Sequence[Laid]) -> Lay | None:
    """The proved lay of what lies on the cloth whole; the rest is left over."""
    end = cloth.length
    if end is not None:
        laid = [a for a in laid if a.x + float(np.ptp(a.item.turned(a.turn)[:, 0])) <= end]
    return proved(cloth, laid, items)
