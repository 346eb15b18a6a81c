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
#: Powers of x and y by which light changes over the ground: along the border the first few.
_TERMS = sorted(((i, j) for i in range(5) for j in range(5 - i)), key=sum)
_BORDER = 6
#: A ground's colours are fitted to about so many places, and to this share of a picture at least.
_PLACES, _ENOUGH = 12_000, 0.02
#: A background is plain where this much of the picture's border suits it.
_PLAIN = 0.8
#: Two ways of telling pieces agree where their outlines lie within so many pixels of the small
#: picture, but for this share of them.
_WITHIN, _BUT = 4.0, 0.02
#: A piece's own colour, just within its outline, is no farther from that of its middle (Lab).
_OWN = 4.0
#: Of even areas, those smaller than this share of the largest are the ground's pattern.
_PATTERN = 0.15


@dataclass(frozen=True, eq=False)
class Found:
    """One piece: its rough outlines (n, 2) in pixels, the outer one first; its outlines told in
    another way, where that does not agree; and whether the picture's border cuts it off."""

    outlines: list[Floats]
    otherwise: list[Floats] | None
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
    _, by_colour = cv2.connectedComponents(coloured, connectivity=4)
    by_region = _by_regions(colours, paper > 0)
    labels, others = (by_colour, by_region) if plain else (by_region, by_colour)
    pieces = []
    for number in range(1, int(labels.max()) + 1):
        own = labels == number
        area = int(own.sum())
        if area < least * shrink**2:
            continue
        loops = _outlines(own, least * shrink**2)
        if not loops:
            continue
        low, high = loops[0].min(axis=0), loops[0].max(axis=0)
        cut_off = bool((low <= 1).any() or (high >= np.array(own.shape[::-1]) - 2).any())
        agreed, other = plain, None
        if plain and not cut_off:
            alike = _alike(own, others)
            agreed = _agree(loops[0], alike) or _rimmed(own, alike, colours)
            if not agreed and alike.sum() >= 0.5 * area:
                other = _outlines(alike, least * shrink**2)
        loops, other = ([(o + 0.5) / shrink - 0.5 for o in of or ()] for of in (loops, other))
        pieces.append((area, Found(loops, other or None, agreed, cut_off)))
    pieces.sort(key=lambda item: -item[0])
    differ = ((by_colour > 0) != (by_region > 0)).astype(np.uint8)
    differ = cv2.morphologyEx(differ, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8)) > 0
    return Segmented([found for _, found in pieces], plain, differ)


def _by_border(colours: Floats, paper: Bools) -> tuple[Any, bool]:
    """What is unlike the ground, whose colours are those of the picture's border and of all that
    goes on evenly from it; and whether that ground is plain."""
    import cv2

    height, width = paper.shape
    strip = max(4, int(0.03 * max(height, width)))
    border = np.ones_like(paper)
    border[strip:-strip, strip:-strip] = False
    border &= ~paper
    x, y = (np.linspace(-1, 1, size, dtype=np.float32) for size in (width, height))
    terms = np.stack([np.outer(y**j, x**i) for i, j in _TERMS], axis=-1)
    found, spread, kept = _evenly_lit(terms[border][:, :_BORDER], colours[border])
    plain = bool(kept >= _PLAIN and spread[0] < 6.0)
    far = _unlike(colours, terms[..., :_BORDER] @ found, spread)
    for size in (_BORDER, len(_TERMS), len(_TERMS)):
        # Light from the border inwards is guessed at best: what is ground there corrects it.
        _, labels = cv2.connectedComponents(
            ((far <= _OFF) & ~paper).astype(np.uint8), connectivity=4
        )
        seen = np.unique(labels[border])
        joined = np.isin(labels, seen[seen > 0])
        joined[::2], joined[:, ::2] = False, False
        if joined.sum() < _ENOUGH * joined.size:
            break
        found, spread, _ = _evenly_lit(terms[joined][:, :size], colours[joined])
        far = _unlike(colours, terms[..., :size] @ found, spread)
    mask = ((far > _OFF) & ~paper).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    return cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)), plain


def _evenly_lit(at: Any, seen: Floats) -> tuple[Floats, Floats, float]:
    """Colours as they change evenly over a picture: what each term counts, how far they spread,
    and the share of places that suit. Others pull less than they would by squares."""
    step = max(1, len(at) // _PLACES)
    at, seen = at[::step].astype(np.float64), seen[::step]
    weights = np.ones(len(at))
    for _ in range(20):
        found = _least(at, seen, weights)
        off = np.abs(seen - at @ found)
        weights = 1 / np.sqrt(np.maximum(off.sum(axis=1), 1.0))
    for _ in range(3):
        spread = np.maximum(1.4826 * np.median(off, axis=0), (1.2, 0.8, 0.8))
        kept = (off < 4 * spread).all(axis=1)
        if kept.sum() < 50:
            break
        found = _least(at, seen, kept)
        off = np.abs(seen - at @ found)
    return found.astype(np.float32), spread.astype(np.float32), float(kept.mean())


def _least(at: Floats, seen: Floats, weights: Any) -> Floats:
    """Least squares by one equation for each term: one for each place takes many times as long."""
    heavy = at.T * weights**2
    found: Floats = np.linalg.lstsq(heavy @ at, heavy @ seen, rcond=None)[0]
    return found


def _unlike(colours: Floats, ground: Floats, spread: Floats) -> Floats:
    """How many deviations colours are off the ground's."""
    off: Floats = np.sqrt((((colours - ground) / spread) ** 2).sum(axis=-1))
    return off


def _by_regions(colours: Floats, paper: Bools) -> Any:
    """Large even areas that do not touch the picture's border, numbered, grown to their edges."""
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
    _, labels, facts, _ = cv2.connectedComponentsWithStats(even, connectivity=4)
    height, width = paper.shape
    x, y, w, h, areas = facts.T
    inner = (x > 1) & (y > 1) & (x + w < width - 1) & (y + h < height - 1)
    inner[0] = False
    large = areas >= max(0.001 * paper.size, _PATTERN * float(areas[inner].max(initial=0)))
    grown = np.zeros(paper.shape, dtype=np.int32)
    for number, label in enumerate(np.flatnonzero(inner & large), 1):
        one = cv2.dilate((labels == label).astype(np.uint8), np.ones((9, 9), np.uint8))
        one = cv2.morphologyEx(one, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
        grown[(one > 0) & (grown == 0) & ~paper] = number
    return grown


def _alike(own: Bools, others: Any) -> Bools:
    """The area of another kind that has most in common with `own`."""
    numbers = np.bincount(others[own])
    numbers[0] = 0
    alike: Bools = others == numbers.argmax() if numbers.any() else np.zeros_like(own)
    return alike


def _agree(outline: Floats, alike: Bools) -> bool:
    """Whether an outline is that of an area told in another way."""
    import cv2

    rim = cv2.morphologyEx(alike.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    far = cv2.distanceTransform((rim == 0).astype(np.uint8), cv2.DIST_L2, 3)
    at = np.rint(outline).astype(int)
    off = far[np.clip(at[:, 1], 0, far.shape[0] - 1), np.clip(at[:, 0], 0, far.shape[1] - 1)]
    return bool(rim.any() and (off > _WITHIN).mean() <= _BUT)


def _rimmed(own: Bools, alike: Bools, colours: Floats) -> bool:
    """Whether an area is a smaller one within it and more of the same colour, up to the outline:
    a line printed on the piece bounds the even area, and a shadow has another colour."""
    import cv2

    def shrunk(area: Any, by: int) -> Any:
        size = 2 * by + 1
        return cv2.erode(area.astype(np.uint8), np.ones((size, size), np.uint8), borderValue=0)

    middle = shrunk(alike, 5)
    ring = (shrunk(own, 2) > 0) & (shrunk(own, 4) == 0)
    if (alike & ~own).any() or not middle.any() or not ring.any():
        return False
    _, near = cv2.distanceTransformWithLabels(
        1 - middle, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    of = np.zeros((int(near.max()) + 1, 3), dtype=colours.dtype)
    of[near[middle > 0]] = colours[middle > 0]
    off = np.sqrt(((colours[ring] - of[near[ring]]) ** 2).sum(axis=-1))
    return bool((off > _OWN).mean() <= _BUT)


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
