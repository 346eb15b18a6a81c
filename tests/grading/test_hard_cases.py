"""Outlines that are hard to grade well: each curve must stay fair."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given

from sizewright.geometry.crossings import is_simple
from sizewright.geometry.path import Path
from sizewright.geometry.types import Floats
from sizewright.grading import grade_map
from sizewright.grading.curves import follow
from sizewright.model import Outline, Piece, Point

from .outlines import UP, amounts, ruled


def bends(path: Path, segments: list[int]) -> int:
    """How often the curvature changes sign along a stretch, sampled densely."""
    t = np.linspace(0.02, 0.98, 60)
    signs = []
    for k in segments:
        p0, p1, p2, p3 = path.controls[k]
        d = 3 * (
            np.outer((1 - t) ** 2, p1 - p0)
            + np.outer(2 * t * (1 - t), p2 - p1)
            + np.outer(t**2, p3 - p2)
        )
        e = 6 * (np.outer(1 - t, p2 - 2 * p1 + p0) + np.outer(t, p3 - 2 * p2 + p1))
        cross = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]
        signs.append(np.sign(cross[np.abs(cross) > 1e-6]))
    each = np.concatenate(signs)
    return int((np.diff(each) != 0).sum())


def sleeve() -> Piece:
    """A sleeve whose cap is one S-curve up and one down, its top a smooth point with a rule."""
    cap = [
        [[350, 300], [330, 305], [310, 330], [290, 360]],
        [[290, 360], [260, 405], [230, 450], [180, 450]],
        [[180, 450], [120, 450], [90, 405], [65, 360]],
        [[65, 360], [45, 324], [20, 310], [0, 300]],
    ]
    path = Path.of(
        [[[60, 0], [290, 0]], [[290, 0], [350, 300]], *cap, [[0, 300], [60, 0]]], closed=True
    )
    return ruled(path, {0: "w0", 1: "w1", 2: "back", 4: "top", 6: "front"})


@pytest.mark.parametrize("k", [-3, -1, 1, 4])
def test_a_sleeve_cap_keeps_its_two_bends(k: int) -> None:
    piece = sleeve()
    assert piece.outline.corners == (0, 1, 2, 6)
    one = grade_map(piece)
    growth = {
        "w0": {"width": -2.0 * k},
        "w1": {"width": 2.0 * k},
        "back": {"width": 6.0 * k, "length": -1.0 * k},
        "top": {"length": 4.0 * k},
        "front": {"width": -6.0 * k, "length": -1.0 * k},
    }
    after, _ = one.apply(one.amounts(growth))
    path = after.outline.path
    assert bends(piece.outline.path, [2, 3, 4, 5]) == 2
    assert bends(path, [2, 3, 4, 5]) == 2
    # The top stays level, as it was drawn.
    assert abs(path.tangents_out[4][1]) <= 1e-12
    smooth = [3, 4, 5]
    assert (np.abs(path.turns[smooth]) <= np.abs(piece.outline.path.turns[smooth]) + 1e-9).all()


@given(amounts(14, 6.0))
def test_an_armhole_and_a_neckline_do_not_wave(given_: Floats) -> None:
    from .outlines import bodice_half

    piece = bodice_half()
    after, _ = grade_map(piece).apply(given_)
    path = after.outline.path
    assert bends(path, [3]) == 0
    assert bends(path, [5]) == 0


def test_a_hip_on_a_smooth_side_seam_takes_very_unequal_steps() -> None:
    """Waist 0, hip 30, hem 2: the hip's bulge is fair, and nothing runs past it."""
    path = Path.of(
        [
            [[0, 0], [230, 0]],
            [[230, 0], [240, 150], [250, 300], [250, 400]],
            [[250, 400], [250, 480], [230, 540], [200, 600]],
            [[200, 600], [0, 600]],
            [[0, 600], [0, 0]],
        ],
        closed=True,
    )
    piece = ruled(path, {0: "a", 1: "hem", 2: "hip", 3: "waist", 4: "b"})
    one = grade_map(piece)
    growth = {"hem": {"width": 2.0}, "hip": {"width": 30.0}}
    after = one.apply(one.amounts(growth))[0].outline.path
    assert abs(after.turns[2]) <= 1e-9
    assert is_simple(after)
    move = (after.at(np.linspace(0, after.length, 3000))[:, 0]).max()
    assert move <= 280.5


def test_a_nearly_flat_curve_follows_its_ends() -> None:
    """A waist that rises 3 mm in 300 mm: its ends gain 8 mm apart, and it does not swing."""
    path = Path.of(
        [
            [[0, 0], [300, 0]],
            [[300, 0], [300, 400]],
            [[300, 400], [240, 394], [100, 397], [0, 397]],
            [[0, 397], [0, 0]],
        ],
        closed=True,
    )
    one = grade_map(ruled(path, {0: "a", 1: "b", 2: "side", 3: "centre"}))
    after = one.apply(one.amounts({"side": {"length": 8.0}}))[0].outline.path
    gain = (after.controls - path.controls)[2, :, 1]
    assert (gain >= -1e-12).all()
    assert (gain <= 8 + 1e-12).all()
    assert (np.diff(gain) <= 0).all()
    assert gain[1] == pytest.approx(8 * (1 - 60.3 / 300.4), abs=0.1)
    # It meets the centre square, as it did.
    assert abs(after.tangents_in[2][1]) <= 1e-12


def test_handles_without_length() -> None:
    """Nodes with a handle drawn in: the other side follows, and stays smooth."""
    path = Path.of(
        [
            [[0, 0], [230, 0]],
            [[230, 0], [240, 150], [250, 300], [250, 400]],
            # The handle at the joint lies in the vertex; its tangent is that to the far handle.
            [[250, 400], [250, 400], [250, 520], [200, 600]],
            [[200, 600], [0, 600]],
            [[0, 600], [0, 0]],
        ],
        closed=True,
    )
    piece = ruled(path, {0: "a", 1: "hem", 2: "hip", 3: "waist", 4: "b"})
    assert abs(path.turns[2]) < 1e-9
    one = grade_map(piece)
    after = one.apply(one.amounts({"hip": {"width": 12.0}, "waist": {"width": 3.0}}))[
        0
    ].outline.path
    assert np.array_equal(after.controls[2, 0], after.controls[2, 1])
    assert abs(after.turns[2]) <= 1e-9


def test_a_corner_with_a_bare_handle_keeps_its_tangent_along_the_axis() -> None:
    path = Path.of(
        [
            [[0, 0], [300, 0]],
            [[300, 0], [300, 400]],
            [[300, 400], [300, 400], [150, 400], [0, 380]],
            [[0, 380], [0, 0]],
        ],
        closed=True,
    )
    one = grade_map(ruled(path, {0: "a", 1: "b", 2: "c", 3: "d"}))
    after = one.apply(one.amounts({"d": {"length": 9.0}, "c": {"width": 5.0}}))[0].outline.path
    assert abs(after.tangents_out[2][1]) <= 1e-12


def test_an_outline_without_corners_goes_with_its_points() -> None:
    k = 0.5522847498307935
    circle = [
        [[100, 0], [100, 100 * k], [100 * k, 100], [0, 100]],
        [[0, 100], [-100 * k, 100], [-100, 100 * k], [-100, 0]],
        [[-100, 0], [-100, -100 * k], [-100 * k, -100], [0, -100]],
        [[0, -100], [100 * k, -100], [100, -100 * k], [100, 0]],
    ]
    path = Path.of(circle, closed=True)
    piece = Piece(
        "round", Outline.of(path, points=[Point(v, None, f"r{v}") for v in range(4)]), axis=UP
    )
    assert piece.outline.corners == ()
    one = grade_map(piece)
    after = one.apply(one.amounts({"r0": {"width": 10.0}, "r2": {"width": -10.0}}))[0].outline.path
    # A circle stretched along width is the ellipse of the stretched control points.
    assert np.abs(after.controls - path.controls * [1.1, 1.0]).max() <= 1e-9
    alone = Piece("round", Outline.of(path, points=[Point(1, None, "r")]), axis=UP)
    one = grade_map(alone)
    moved = one.apply(one.amounts({"r": {"length": 4.0}}))[0].outline.path
    assert np.abs(moved.controls - path.controls - [0.0, 4.0]).max() <= 1e-12


def test_far_from_the_origin_nothing_is_lost() -> None:
    piece = sleeve()
    from sizewright.geometry import affine

    far = piece.transformed(affine.translation(9000.0, -7000.0))
    growth = {"back": {"width": 6.0, "length": -1.0}, "top": {"length": 4.0}}
    one, other = grade_map(piece), grade_map(far)
    assert np.abs(one.moves(one.amounts(growth)) - other.moves(other.amounts(growth))).max() <= 1e-8


def test_weights_of_what_is_known_are_kept() -> None:
    piece = sleeve()
    n = len(piece.outline.path)
    rng = np.random.default_rng(4)
    weights = rng.normal(size=(n, 2, 3))
    known = np.ones(n, dtype=bool)
    corners = np.zeros(n, dtype=bool)
    corners[list(piece.outline.corners)] = True
    out = follow(piece.outline.path, corners, weights, known, ~known)
    assert np.array_equal(out[:, 0], weights)
