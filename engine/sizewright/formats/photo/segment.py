"""Pieces against their background: where they lie, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ...geometry.types import Bools, Floats

#: Long side of the picture in which pieces are told from the background, px.
_SMALL = 1200
#: Colours this many deviations off the background's are a piece's.
_OFF = 5.0
#: A background is plain where this much of the picture's border suits it.
_PLAIN = 0.8
#: Two ways of telling pieces agree where this much of their areas is common.
_COMMON = 0.94


@dataclass(frozen=True)
class Found:
    """One piece: its rough outlines (n, 2) in pixels, the outer one first; whether the two
    ways of telling it from the background agree; and whether the picture's border cuts it off."""

    outlines: list[Floats]
    agreed: bool
    cut_off: bool


@dataclass(frozen=True)
class Segmented:
    """The pieces, largest first, whether the background is plain, and where in a small copy of
    the picture (`doubtful`, h by w) the two ways differ."""

    pieces: list[Found]
    plain: bool
    doubtful: Bools


def find_pieces(picture: Any, sheets: list[Floats], least: float) -> Segmented:
    """Pieces of at least `least` square pixels in a picture (h, w, 3), outside of sheets.

    `sheets` are outlines (n, 2) of what is no piece, in pixels.
    """
    import cv2

    shrink = min(1.0, _SMALL / max(picture.shape[:2]))
    small = cv2.resize(picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    colours = cv2.cvtColor(small.astype(np.float32) / 255, cv2.COLOR_BGR2Lab)
    paper = np.zeros(small.shape[:2], dtype=np.uint8)
    for sheet in sheets:
        cv2.fillPoly(paper, [np.rint(sheet * shrink).astype(np.int32)], 1)
    paper = cv2.dilate(paper, np.ones((9, 9), np.uint8))
    coloured, plain = _by_border(colours, paper > 0)
    smooth = _by_regions(colours, paper > 0)
    mask = coloured if plain else smooth
    other = smooth if plain else coloured
    count, labels, facts, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    _, others = cv2.connectedComponents(other, connectivity=4)
    pieces = []
    for number in range(1, count):
        x, y, w, h, area = facts[number]
        if area < least * shrink**2:
            continue
        own = labels == number
        edge = x <= 1 or y <= 1 or x + w >= own.shape[1] - 1 or y + h >= own.shape[0] - 1
        agreed = plain and _common(own, others) >= _COMMON
        outlines = _outlines(own[y : y + h, x : x + w], least * shrink**2)
        moved = [((o + (x, y)) + 0.5) / shrink - 0.5 for o in outlines]
        pieces.append((area, Found(moved, agreed, edge)))
    pieces.sort(key=lambda item: -item[0])
    differ = cv2.morphologyEx((coloured != smooth).astype(np.uint8), cv2.MORPH_OPEN,
                              np.ones((7, 7), np.uint8)) > 0  # fmt: skip
    return Segmented([found for _, found in pieces], plain, differ)


def _by_border(colours: Floats, paper: Bools) -> tuple[Any, bool]:
    """What is unlike the colours of the picture's border, which may change evenly over it."""
    import cv2

    height, width = paper.shape
    strip = max(4, int(0.03 * max(height, width)))
    border = np.ones_like(paper)
    border[strip:-strip, strip:-strip] = False
    border &= ~paper
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1).astype(np.float32)
    at, seen = terms[border], colours[border]
    kept: Any = np.ones(len(at), dtype=bool)
    spread = np.full(3, 2.0)
    found: Any = None
    for _ in range(4):
        found, *_ = np.linalg.lstsq(at[kept], seen[kept], rcond=None)
        off = np.abs(seen - at @ found)
        spread = np.maximum(1.4826 * np.median(off[kept], axis=0), (1.2, 0.8, 0.8))
        kept = (off < 4 * spread).all(axis=1)
        if kept.sum() < 50:
            break
    plain = bool(kept.mean() >= _PLAIN and spread[0] < 6.0)
    far = np.sqrt((((colours - terms @ found) / spread) ** 2).sum(axis=-1))
    mask = ((far > _OFF) & ~paper).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    return cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)), plain


def _by_regions(colours: Floats, paper: Bools) -> Any:
    """Large even areas that do not touch the picture's border, grown back to their edges."""
    import cv2

    soft = cv2.GaussianBlur(colours, (0, 0), 1.5)
    steep = np.zeros(paper.shape, dtype=np.float32)
    for k in range(3):
        across = cv2.Sobel(soft[..., k], cv2.CV_32F, 1, 0, ksize=3) / 8
        down = cv2.Sobel(soft[..., k], cv2.CV_32F, 0, 1, ksize=3) / 8
        steep += across**2 + down**2
    steep = np.sqrt(steep)
    even = ((steep < max(0.5, 3 * float(np.quantile(steep, 0.2)))) & ~paper).astype(np.uint8)
    even = cv2.morphologyEx(even, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    count, labels, facts, _ = cv2.connectedComponentsWithStats(even, connectivity=4)
    height, width = paper.shape
    grown = np.zeros(paper.shape, dtype=np.uint8)
    for number in range(1, count):
        x, y, w, h, area = facts[number]
        if (
            area < 0.001 * paper.size
            or x <= 1
            or y <= 1
            or x + w >= width - 1
            or y + h >= height - 1
        ):
            continue
        one = cv2.dilate((labels == number).astype(np.uint8), np.ones((9, 9), np.uint8))
        grown |= cv2.morphologyEx(one, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    return grown & ~paper.astype(np.uint8)


def _common(own: Bools, others: Any) -> float:
    """The share that an area has in common with the one of another kind which suits it best."""
    numbers = np.bincount(others[own])
    numbers[0] = 0
    if len(numbers) < 2 or not numbers.any():
        return 0.0
    best = int(numbers.argmax())
    return float(numbers[best] / (own.sum() + (others == best).sum() - numbers[best]))


def _outlines(own: Bools, least: float) -> list[Floats]:
    """The outer loop of an area and those of its holes, through the outermost pixels."""
    import cv2

    padded = np.pad(own.astype(np.uint8), 1)
    loops, nested = cv2.findContours(padded, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    found = []
    for loop, (_, _, _, parent) in zip(loops, nested[0], strict=True):
        if cv2.contourArea(loop) < (0.05 * least if parent >= 0 else 0.5 * least):
            continue
        points = loop[:, 0].astype(np.float64) - 1.0
        found.append((parent >= 0, points))
    return [points for _, points in sorted(found, key=lambda item: item[0])]
