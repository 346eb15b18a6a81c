"""Blocks laid in rows, and how large letters are in a picture of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..geometry.chords import median

# Width to height that the rows are made for.
_ASPECT = 1.35
# A block smaller than so many letter heights, and than this share of the largest one, is
# drawn larger, to at least the second figure.
_TINY, _ENOUGH = 9.0, 12.0
_SHARE = 0.2
_STEPS = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 20.0, 50.0, 100.0)
# Half of the blocks are at least so many letters long, and letters at least so many pixels.
_SMALLEST = 14.0
_READABLE = 11.0
#: Room between blocks, letter heights.
GAP = 3.0


@dataclass(frozen=True, slots=True)
class Rows:
    """Blocks laid in rows: places of their lower left corners, and the whole size."""

    places: tuple[tuple[float, float], ...]
    width: float
    height: float


def letter_size(
    spans: Sequence[tuple[float, float]], share: float
) -> tuple[float, tuple[float, ...]]:
    """Letter height, mm, that is `share` of the whole picture, and how large each block is drawn.

    `spans` are widths and heights of the blocks, mm. With very many of them the letters stay
    in measure with the blocks, and the picture grows.
    """
    longest = [max(span) for span in spans]
    most = median(longest) / _SMALLEST
    times = tuple(1.0 for _ in spans)
    for _ in range(2):
        size = max(longest) * share
        for _ in range(12):
            blocks = [
                (w * k + 9 * size, h * k + 8 * size) for k, (w, h) in zip(times, spans, strict=True)
            ]
            rows = in_rows(blocks, GAP * size)
            size = max(rows.width + 4 * size, rows.height + 14 * size) * share
            size = min(size, max(most, max(longest) * share))
        times = tuple(_enlarged(one, size, max(longest)) for one in longest)
    return size, times


def _enlarged(longest: float, size: float, largest: float) -> float:
    """How many times larger than the others a tiny piece is drawn."""
    if longest >= min(_TINY * size, _SHARE * largest):
        return 1.0
    return next((k for k in _STEPS if longest * k >= _ENOUGH * size), _STEPS[-1])


def in_rows(blocks: Sequence[tuple[float, float]], gap: float) -> Rows:
    """Blocks in their order in rows, so many that the whole comes near to the aspect."""
    total = sum(w for w, _ in blocks) + gap * (len(blocks) - 1)
    widest = max(w for w, _ in blocks)
    best: Rows | None = None
    # Enough rows for blocks of ordinary shapes, and few tries where there are very many.
    for count in range(1, min(len(blocks), 4 * math.isqrt(len(blocks)) + 4) + 1):
        for share in (1.0, 1.12, 1.25):
            limit = max(widest, total / count * share)
            rows = _fill(blocks, limit, gap)
            if best is None or _badness(rows) < _badness(best) - 1e-9:
                best = rows
    assert best is not None
    return best


def opening_pixels(width: float, height: float, letters: float, pixels: int) -> int:
    """How large a picture opens, pixels of its larger side: `pixels`, or more to be legible."""
    return max(pixels, round(max(width, height) * _READABLE / letters))


def _badness(rows: Rows) -> float:
    return max(rows.width / _ASPECT, rows.height)


def _fill(blocks: Sequence[tuple[float, float]], limit: float, gap: float) -> Rows:
    lines: list[list[int]] = [[]]
    x = 0.0
    for i, (w, _) in enumerate(blocks):
        if lines[-1] and x + w > limit + 1e-9:
            lines.append([])
            x = 0.0
        lines[-1].append(i)
        x += w + gap
    places: dict[int, tuple[float, float]] = {}
    widths = [sum(blocks[i][0] for i in line) + gap * (len(line) - 1) for line in lines]
    whole = max(widths)
    y = 0.0
    for line, wide in zip(reversed(lines), reversed(widths), strict=True):
        x = (whole - wide) / 2
        tall = max(blocks[i][1] for i in line)
        for i in line:
            places[i] = (x, y + (tall - blocks[i][1]) / 2)
            x += blocks[i][0] + gap
        y += tall + gap
    return Rows(tuple(places[i] for i in range(len(blocks))), whole, y - gap)
