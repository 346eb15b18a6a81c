"""A curve between a riding corner and a ruled point gains no turn the other way."""

from __future__ import annotations

import random
from functools import cache

import numpy as np
import pytest

from sizewright.geometry import bezier
from sizewright.geometry.path import Path
from sizewright.geometry.types import Floats
from sizewright.grading import grade
from sizewright.grading.bows import keep_bows
from sizewright.grading.map import grade_map
from sizewright.model import Outline, Pattern, Piece, Point
from tests.operations import steps

RULES = steps("basic-set")
NAMES = ("waist-centre", "side-waist", "underarm", "armhole", "shoulder-tip", "neck-side")
#: Points without a rule: the shoulder; with the neck; with the middle of the armhole.
BARE = ({4}, {4, 5}, {3, 4})


def line(a: Floats, b: Floats) -> Floats:
    return np.array([a, a + (b - a) / 3, b - (b - a) / 3, b])


def cowl(seed: int) -> Piece:
    """A front with an armhole in two curves and a loose neck."""
    rnd = random.Random(seed)
    width, under = rnd.uniform(150, 190), rnd.uniform(200, 250)
    tip = rnd.uniform(0.6, 0.95) * width
    top, neck = under + rnd.uniform(120, 190), rnd.uniform(0.3, 0.8) * tip
    rise = rnd.uniform(10, 50)
    places = [
        (0, 0),
        (width, 0),
        (width + 20, under),
        (tip - rnd.uniform(-5, 25), under + rnd.uniform(40, 90)),
        (tip, top),
        (neck, top + rise),
        (0, top + rise - rnd.uniform(0, 80)),
    ]
    p = np.array(places, dtype=float)
    upright = np.array([rnd.uniform(-0.15, 0.15), 1.0])
    out = np.array([-rnd.uniform(15, 50), rnd.uniform(0, 8)])
    into = np.array([-rnd.uniform(0, 15), -rnd.uniform(15, 50)])
    controls = [line(p[k], p[(k + 1) % 7]) for k in range(7)]
    controls[2] = np.array([p[2], p[2] + out, p[3] - upright * rnd.uniform(15, 40), p[3]])
    controls[3] = np.array([p[3], p[3] + upright * rnd.uniform(15, 40), p[4] + into, p[4]])
    bare = BARE[seed % len(BARE)]
    points = tuple(Point(v, n, n) for v, n in enumerate(NAMES) if v not in bare)
    path = Path(np.array(controls), np.array([True, True, False, False, True, True, True]), True)
    return Piece("front", Outline(path, (0, 1, 2, 4, 5, 6), points), "sew")


def sides(four: Floats) -> Floats:
    """Which way a cubic turns at many of its places: derivatives by numpy's own polynomials."""
    power = np.polynomial.polynomial.polyfit(
        t := np.linspace(0, 1, 9), bezier.evaluate(np.repeat(four[None], 9, axis=0), t), 3
    )
    first = np.polynomial.polynomial.polyder(power)
    second = np.polynomial.polynomial.polyder(first)
    at = np.linspace(0.005, 0.995, 199)
    d, dd = (np.polynomial.polynomial.polyval(at, x) for x in (first, second))
    size = np.hypot(*d) ** 3
    found: Floats = (d[0] * dd[1] - d[1] * dd[0]) / size
    return found


@cache
def cases() -> tuple[tuple[Piece, Floats], ...]:
    """Fronts whose armhole turns one way, and how its upper curve does."""
    found = []
    for seed in range(1200):
        piece = cowl(seed)
        curves = [sides(piece.outline.path.controls[k]) for k in (2, 3)]
        if all(c.min() > 1e-4 or c.max() < -1e-4 for c in curves):
            found.append((piece, curves[1]))
    return tuple(found)


@pytest.mark.parametrize("size", ["8", "16"])
def test_two_sizes_off_no_armhole_turns_the_other_way(size: str) -> None:
    """The curve beside the riding shoulder; without the mend some of these do turn. Where the
    tangent of the ruled point in the middle turns past the chord it is told as a warning."""
    mended = kept = turned = 0
    for piece, before in cases():
        graded = grade(Pattern((piece,)), RULES, [size], base_size="12")
        told = {f.code for f in graded.findings}
        if "bow-turned" in told:
            turned += 1
            continue
        after = sides(graded.pattern.pieces[0].outline.path.controls[3])
        assert (after * np.sign(before[0])).min() > -1e-5
        mended += "bow-kept" in told
        kept += "bow-kept" not in told
    assert mended > 5 * turned
    assert kept > 10 * mended


def test_what_bows_as_it_did_is_left_to_the_bit() -> None:
    """And the ends, and every other line, of what is mended."""
    for piece, _ in cases():
        one = grade_map(piece)
        growth = {r: {"width": 9.0, "length": -4.0} for r in ("shoulder-tip", "underarm")}
        moved, _ = one.apply(one.amounts(growth))
        done, told = keep_bows(piece, moved, one.riding)
        old, new = moved.outline.path.controls, done.outline.path.controls
        if not told:
            assert done is moved
        assert np.array_equal(old[:, [0, 3]], new[:, [0, 3]])
        assert np.array_equal(old[[0, 1, 4, 5, 6]], new[[0, 1, 4, 5, 6]])
