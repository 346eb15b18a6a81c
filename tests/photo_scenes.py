"""Photographs of invented patterns on a table, rendered with all of their truth known.

The projection is OpenCV's (`cv2.projectPoints`); areas are filled by exact coverage (signed
areas of the edges' parts within each pixel, summed along rows), since OpenCV's own anti-aliased
fill makes shapes grow. Plane: mm, y up, z towards the camera.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
from scipy import ndimage

from sizewright.formats.photo.marks import SIDE, Sheet
from sizewright.geometry import Path, flatten

Colour = tuple[float, float, float]
Lift = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Camera:
    """A camera above the table: `tilt` degrees off straight down, towards `heading` degrees.

    `look` is the place of the table in the middle of the picture, `away` its distance, mm.
    `focal` in widths of the picture. `k1`, `k2` are OpenCV's.
    """

    size: tuple[int, int] = (4000, 3000)
    tilt: float = 0.0
    heading: float = 0.0
    spin: float = 0.0
    away: float = 900.0
    look: tuple[float, float] = (0.0, 0.0)
    focal: float = 0.8
    k1: float = 0.0
    k2: float = 0.0

    def pixels(self, points: np.ndarray) -> np.ndarray:
        """Pixels (n, 2) of places (n, 2) or (n, 3) on the table; a pixel's middle is whole."""
        import cv2

        flat = np.zeros((len(points), 3))
        flat[:, : points.shape[1]] = points
        tilt, head, spin = np.deg2rad([self.tilt, self.heading, self.spin])
        back = np.array([np.sin(tilt) * np.cos(head), np.sin(tilt) * np.sin(head), np.cos(tilt)])
        middle = np.array([*self.look, 0.0])
        up = np.array([-np.sin(spin), np.cos(spin), 0.0])
        right = np.cross(up, back)
        right /= np.linalg.norm(right)
        turn = np.stack([right, -np.cross(back, right), -back])
        shift = -turn @ (middle + self.away * back)
        width, height = self.size
        f = self.focal * width
        matrix = np.array([[f, 0, (width - 1) / 2], [0, f, (height - 1) / 2], [0, 0, 1.0]])
        lens = np.array([self.k1, self.k2, 0.0, 0.0])
        shown, _ = cv2.projectPoints(flat, cv2.Rodrigues(turn)[0], shift, matrix, lens)
        return np.asarray(shown).reshape(-1, 2)


def coverage(loops: Sequence[np.ndarray], size: tuple[int, int]) -> tuple[Any, np.ndarray]:
    """How much of each pixel lies within closed loops (n, 2), even-odd by their turning.

    The part of the picture that they touch, and the shares there.
    """
    every = np.concatenate(loops)
    low = np.maximum(np.floor(every.min(axis=0) + 0.5).astype(int), 0)
    high = np.minimum(np.ceil(every.max(axis=0) + 0.5).astype(int) + 1, size)
    wide, tall = np.maximum(high - low, 0)
    window = np.s_[low[1] : low[1] + tall, low[0] : low[0] + wide]
    if not wide or not tall:
        return window, np.zeros((tall, wide), dtype=np.float32)
    cover = np.zeros(tall * (wide + 2))
    for loop in loops:
        points = loop + 0.5 - low
        points = _cut_at_rows(np.vstack([points, points[:1]]))
        steps = np.hypot(*np.diff(points, axis=0).T)
        parts = np.maximum(np.ceil(steps / 0.1).astype(int), 1)
        first = np.repeat(np.arange(len(parts)), parts)
        share = np.arange(len(first)) - np.repeat(np.cumsum(parts) - parts, parts)
        step = np.diff(points, axis=0)[first] / parts[first][:, None]
        middle = points[first] + step * (share[:, None] + 0.5)
        inside = (middle[:, 1] >= 0) & (middle[:, 1] < tall)
        middle, dy = middle[inside], step[inside, 1]
        x = np.clip(middle[:, 0], 0.0, wide)
        column = np.minimum(x.astype(int), wide)
        row = middle[:, 1].astype(int)
        into = x - column
        cell = row * (wide + 2) + column
        cover += np.bincount(cell, dy * (1 - into), minlength=len(cover))
        cover += np.bincount(cell + 1, dy * into, minlength=len(cover))
    shares = np.abs(np.cumsum(cover.reshape(tall, wide + 2), axis=1))[:, :wide]
    return window, np.clip(shares, 0.0, 1.0).astype(np.float32)


def _cut_at_rows(points: np.ndarray) -> np.ndarray:
    """A line (n, 2) with a point wherever it crosses a whole y."""
    made = [points[:1]]
    for a, b in pairwise(points):
        low, high = sorted((a[1], b[1]))
        rows = np.arange(np.floor(low) + 1, np.ceil(high))
        at = (rows - a[1]) / (b[1] - a[1]) if len(rows) else rows
        made += [a + (b - a) * np.sort(at)[:, None], b[None]]
    return np.concatenate(made)


@dataclass
class Scene:
    """A table to photograph: what lies on it is drawn in the order in which it is added."""

    camera: Camera
    table: Colour = (92.0, 74.0, 60.0)
    picture: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        width, height = self.camera.size
        self.picture = np.empty((height, width, 3), dtype=np.float32)
        self.picture[:] = self.table

    def area(self, loops: Sequence[np.ndarray], colour: Colour) -> None:
        """Something of one colour, by closed loops on the table."""
        shown = [self.camera.pixels(dense(loop)) for loop in loops]
        window, shares = coverage(shown, self.camera.size)
        part = self.picture[window]
        part += shares[..., None] * (np.array(colour, dtype=np.float32) - part)

    def paper(
        self,
        sheet: Sheet,
        at: tuple[float, float],
        turn: float = 0.0,
        *,
        marks: bool = True,
        bent: Lift | None = None,
        printed: float = 1.0,
        white: Colour = (235.0, 236.0, 232.0),
    ) -> np.ndarray:
        """A sheet of marks, or a plain one; its corners on the table (4, 2). `bent` (n, 2) to
        (n, 3) says where its places in mm from its own lower left really lie; `printed` is the
        share of their size that its marks have."""
        bent = bent or (lambda places: places)
        angle = np.deg2rad(turn)
        way = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

        def on_table(places: np.ndarray) -> np.ndarray:
            moved = bent(places)
            moved[:, :2] = (moved[:, :2] - np.array(sheet.size) / 2) @ way.T + at
            return moved

        width, height = sheet.size
        edge = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
        self.area([on_table(dense(edge))], white)
        for place in sheet.places(sheet.nodes) if marks else ():
            square = place + SIDE / 2 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
            square = np.array(sheet.size) / 2 * (1 - printed) + printed * square
            self.area([on_table(dense(square))], (28.0, 28.0, 30.0))
        return on_table(edge)[:, :2]

    def finished(
        self,
        *,
        noise: float = 3.0,
        blur: float = 0.7,
        shade: float = 0.0,
        from_: float = 30.0,
        seed: int = 1,
    ) -> np.ndarray:
        """The photograph, 8 bits, blue first; `shade` darkens the side away from the light."""
        height, width = self.picture.shape[:2]
        light = np.deg2rad(from_)
        x, y = np.linspace(-0.5, 0.5, width), np.linspace(0.5, -0.5, height)
        lit = 1 + shade * (np.cos(light) * x + np.sin(light) * y[:, None])
        shown = ndimage.gaussian_filter(self.picture, (blur, blur, 0)) * lit[..., None]
        shown += _noise(shown.shape, noise, seed)
        return np.clip(np.rint(shown[..., ::-1]), 0, 255).astype(np.uint8)


@cache
def _noise(shape: tuple[int, ...], noise: float, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, noise, shape).astype(np.float32)


def dense(loop: np.ndarray, step: float = 4.0) -> np.ndarray:
    """A closed loop with a point every `step` mm, since lines are curved by the lens."""
    ends = np.vstack([loop, loop[:1]])
    made = []
    for a, b in pairwise(ends):
        parts = max(int(np.ceil(np.hypot(*(b - a)[:2]) / step)), 1)
        made.append(a + (b - a) * np.arange(parts)[:, None] / parts)
    return np.concatenate(made)


def chords(path: Path) -> np.ndarray:
    """A closed path as a loop, within 0.002 mm."""
    loop = flatten(path, 0.002)
    return loop[:-1] if np.allclose(loop[0], loop[-1]) else loop


def bodice(tall: float = 600.0) -> Path:
    """An invented front, `tall` mm from hem to shoulder, its lower left at (0, 0)."""
    s = tall / 600.0

    def line(a: Sequence[float], b: Sequence[float]) -> list[Sequence[float]]:
        return [a, np.add(a, np.subtract(b, a) / 3), np.add(a, np.subtract(b, a) * 2 / 3), b]

    hem, side, under = (0.0, 0.0), (262.0, 14.0), (248.0, 402.0)
    tip, neck, throat = (186.0, 566.0), (76.0, 600.0), (0.0, 520.0)
    parts = [
        line(hem, side),
        [side, (250.0, 130.0), (214.0, 230.0), under],
        [under, (196.0, 410.0), (168.0, 470.0), tip],
        line(tip, neck),
        [neck, (72.0, 548.0), (44.0, 522.0), throat],
        line(throat, hem),
    ]
    lines = np.array([True, False, False, True, False, True])
    return Path(np.array(parts, dtype=np.float64) * s, lines, True)
