"""How colours look: contrast, in grey, and to people who are colour-blind.

Sources, recalled: contrast ratio and relative luminance, WCAG 2.2 (W3C); cone responses and
the reduction for protan and deutan vision, Viénot, Brettel and Mollon, "Digital video
colourmaps for checking the legibility of displays by dichromats", Color Research and
Application 24 (1999); the tritan reduction is the one-plane form of Brettel, Viénot and
Mollon, J. Opt. Soc. Am. A 14 (1997); CIE 1976 L*a*b* with white D65.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_TO_LMS = np.array(
    [
        [17.8824, 43.5161, 4.11935],
        [3.45565, 27.1554, 3.86714],
        [0.0299566, 0.184309, 1.46709],
    ]
)
VISION = {
    "protan": np.array([[0, 2.02344, -2.52581], [0, 1, 0], [0, 0, 1]]),
    "deutan": np.array([[1, 0, 0], [0.494207, 0, 1.24827], [0, 0, 1]]),
    "tritan": np.array([[1, 0, 0], [0, 1, 0], [-0.395913, 0.801109, 0]]),
}
_TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)


def linear(colour: str) -> Array:
    """Linear RGB of `#rrggbb`."""
    values = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1."""
    return float(linear(colour) @ (0.2126, 0.7152, 0.0722))


def contrast(a: str, b: str) -> float:
    """Contrast ratio, 1 to 21."""
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


def lab(rgb: Array) -> Array:
    """L*a*b* of linear RGB."""
    scaled = (_TO_XYZ @ np.clip(rgb, 0, 1)) / _TO_XYZ.sum(axis=1)
    f = np.where(scaled > 216 / 24389, np.cbrt(scaled), (24389 / 27 * scaled + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def distance(a: str, b: str, vision: str | None = None) -> float:
    """CIE 1976 colour difference as seen with that vision; None is full colour vision."""
    seen = []
    for colour in (a, b):
        rgb = linear(colour)
        if vision is not None:
            lms = VISION[vision] @ (_TO_LMS @ rgb)
            rgb = np.linalg.solve(_TO_LMS, lms)
        seen.append(lab(rgb))
    return float(np.hypot.reduce(seen[0] - seen[1]))
