"""How a flat table shows in a picture, lens and all.

Eight numbers of the projection and two of the lens: a place q on an ideal picture, seen from
the picture's middle in half diagonals, is shown at q (1 + k1 r2 + k2 r4), r its distance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...errors import InputError
from ...geometry.types import Floats

#: Unit of the plane within the fit, mm, so that its numbers are alike in size.
_UNIT = 100.0
#: How many numbers a view has.
VIEW = 10
#: Length of a camera's lens in half diagonals of its picture, as telephones have.
FOCAL = 1.3


@dataclass(frozen=True)
class View:
    """A picture of `width` by `height` pixels and its numbers (10,): projection, k1, k2."""

    width: int
    height: int
    numbers: Floats

    @property
    def half(self) -> float:
        """Half the picture's diagonal, px."""
        return float(np.hypot(self.width, self.height)) / 2

    def ideal(self, pixels: Floats) -> Floats:
        """Places (n, 2) in pixels from the picture's middle in half diagonals, y up."""
        middle = np.array([self.width - 1, self.height - 1]) / 2
        placed: Floats = (pixels - middle) / self.half * np.array([1.0, -1.0])
        return placed

    def pixels(self, plane: Floats) -> Floats:
        """Where places (n, 2) of the plane, mm, show."""
        matrix = _matrix(self.numbers)
        ahead = np.column_stack([plane / _UNIT, np.ones(len(plane))]) @ matrix.T
        q = ahead[:, :2] / ahead[:, 2:]
        r2 = (q * q).sum(axis=1, keepdims=True)
        k1, k2 = self.numbers[8:10]
        q = q * (1 + k1 * r2 + k2 * r2 * r2) * np.array([1.0, -1.0])
        shown: Floats = q * self.half + np.array([self.width - 1, self.height - 1]) / 2
        return shown

    def plane(self, pixels: Floats) -> Floats:
        """What places (n, 2) of the plane, mm, show at these pixels."""
        shown = self.ideal(pixels)
        k1, k2 = self.numbers[8:10]
        far = np.hypot(shown[:, 0], shown[:, 1])
        r = far.copy()
        for _ in range(6):  # Newton's method; distortion is slight
            r2 = r * r
            slope = 1 + 3 * k1 * r2 + 5 * k2 * r2 * r2
            r = r - (r * (1 + k1 * r2 + k2 * r2 * r2) - far) / np.maximum(slope, 0.2)
            r = np.clip(r, 0.5 * far, 2 * far)
        q = shown * (r / np.where(far > 0, far, 1.0))[:, None]
        back = np.column_stack([q, np.ones(len(q))]) @ np.linalg.inv(_matrix(self.numbers)).T
        places: Floats = back[:, :2] / back[:, 2:] * _UNIT
        return places

    def scale(self, plane: Floats) -> Floats:
        """Pixels for each mm (n,) at places of the plane, the mean over all directions."""
        half = np.array([0.5, 0.0])
        a = self.pixels(plane + half) - self.pixels(plane - half)
        b = self.pixels(plane + half[::-1]) - self.pixels(plane - half[::-1])
        found: Floats = np.sqrt(np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]))
        return found

    def camera(self, focal: float = FOCAL) -> Floats:
        """The camera's place (3,) over the plane, mm, its lens `focal` half diagonals long."""
        turned = _matrix(self.numbers) / np.array([[focal], [focal], [1.0]])
        turned = turned / float(np.mean(np.linalg.norm(turned[:, :2], axis=0)))
        x, y, shift = turned.T
        axes, _, others = np.linalg.svd(np.column_stack([x, y, np.cross(x, y)]))
        found: Floats = -(axes @ others).T @ shift * _UNIT
        found[2] = abs(found[2])
        return found

    def skew(self, focals: tuple[float, ...]) -> float:
        """How unlike in length and how far from square the plane's axes would be, as a share,
        with the likeliest of lenses."""
        found = []
        for focal in focals:
            x, y = (_matrix(self.numbers) / np.array([[focal], [focal], [1.0]])).T[:2]
            a, b = float(np.linalg.norm(x)), float(np.linalg.norm(y))
            found.append(abs(a / b - 1) + abs(float(x @ y) / (a * b)))
        return min(found)


def _matrix(numbers: Floats) -> Floats:
    return np.append(numbers[:8], 1.0).reshape(3, 3)


def first_view(width: int, height: int, plane: Floats, pixels: Floats) -> View:
    """A view without lens from at least four places and where they show, by linear equations."""
    blank = View(width, height, np.zeros(VIEW))
    q, p = blank.ideal(pixels), plane / _UNIT
    rows = []
    for (x, y), (u, v) in zip(p, q, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
    _, _, axes = np.linalg.svd(np.array(rows))
    found = axes[-1]
    if abs(found[8]) < 1e-9 * np.abs(found).max():
        raise InputError("the sheet is seen from its edge", cure="Take the photo from above.")
    return View(width, height, np.append(found[:8] / found[8], [0.0, 0.0]))
