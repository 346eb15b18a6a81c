"""What is put right after the map: legs, corners, fold, and what each reports."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.geometry.path import Path
from sizewright.grading import Truing, grade
from sizewright.model import Dart, Fold, Notch, Pattern, Piece, Spot

from .outlines import ruled
from .test_laws import dart_front, table


def graded(
    piece: Piece, steps: dict[str, tuple[float, float]], truing: Truing
) -> tuple[Piece, list]:
    out = grade(Pattern((piece,), "10"), table(steps), ["12"], truing=truing)
    return out.pattern.piece(piece.name, "12"), [f for f in out.findings if f.size == "12"]


def legs(piece: Piece) -> tuple[float, float]:
    dart = piece.darts[0]
    assert dart.tip is not None
    path = piece.outline.path
    return path.segments(dart.a, dart.tip).length, path.segments(dart.tip, dart.b).length


STILL = {"a": (0.0, 0.0), "b": (0.0, 0.0), "c": (0.0, 0.0), "d": (0.0, 0.0)}


@given(st.floats(-6, 6), st.floats(-6, 6))
def test_dart_legs_are_evened_and_told(width: float, length: float) -> None:
    assume(abs(width) > 0.2)
    steps = STILL | {"tip": (width, length)}
    piece, found = graded(dart_front("tip"), steps, Truing())
    a, b = legs(piece)
    assert a == pytest.approx(b, abs=1e-7)
    rough, _ = graded(dart_front("tip"), steps, Truing(darts=False))
    one, two = legs(rough)
    assert abs(one - two) > 0.05
    (note,) = [f for f in found if f.code == "dart-evened"]
    assert f"{abs(one - two):.2f} mm" in note.text
    assert a == pytest.approx((one + two) / 2, abs=1e-7)


def test_curved_dart_legs_are_evened() -> None:
    path = Path.of(
        [
            [[0, 0], [300, 0]],
            [[300, 0], [300, 400]],
            [[300, 400], [170, 400]],
            [[170, 400], [172, 350], [160, 320], [150, 290]],
            [[150, 290], [140, 320], [128, 350], [130, 400]],
            [[130, 400], [0, 400]],
            [[0, 400], [0, 0]],
        ],
        closed=True,
    )
    piece = ruled(path, {0: "a", 1: "b", 2: "c", 6: "d", 4: "tip"})
    piece = replace(piece, darts=(Dart("waist", 3, 5, (150.0, 290.0), 4),))
    out, found = graded(piece, STILL | {"tip": (5.0, 3.0)}, Truing())
    assert legs(out)[0] == pytest.approx(legs(out)[1], abs=1e-6)
    assert "dart-evened" in {f.code for f in found}
    assert out.darts[0].apex == pytest.approx((155.0, 293.0))


def side_panel(curved: bool) -> Piece:
    hem: list = [[0, 0], [100, -4], [200, 0], [300, 0]] if curved else [[0, 0], [300, 0]]
    path = Path.of(
        [hem, [[300, 0], [300, 400]], [[300, 400], [0, 400]], [[0, 400], [0, 0]]], closed=True
    )
    return ruled(path, {0: "a", 1: "b", 2: "c", 3: "d"})


@pytest.mark.parametrize("curved", [True, False])
def test_a_declared_corner_is_squared_by_its_curve(curved: bool) -> None:
    piece = side_panel(curved)
    steps = STILL | {"b": (12.0, 0.0)}
    rough, _ = graded(piece, steps, Truing())
    off = 90 - abs(rough.outline.path.turns[1])
    assert abs(off) > 1
    out, found = graded(piece, steps, Truing(square=("piece:p1",)))
    assert abs(out.outline.path.turns[1]) == pytest.approx(90.0, abs=1e-9)
    (note,) = [f for f in found if f.code == "corner-squared"]
    assert f"{abs(off):.2f} degrees" in note.text
    # Only the hem bends, and only by a handle.
    assert np.array_equal(out.outline.path.vertices, rough.outline.path.vertices)
    assert np.array_equal(out.outline.path.controls[1:], rough.outline.path.controls[1:])


def test_a_corner_far_from_square_is_left_and_told() -> None:
    path = Path.polyline([[0, 0], [300, 0], [150, 400], [0, 400]], closed=True)
    piece = ruled(path, {0: "a", 1: "b", 2: "c", 3: "d"})
    out, found = graded(piece, STILL | {"b": (5.0, 0.0)}, Truing(square=("piece:p1",)))
    assert "not-squared" in {f.code for f in found}
    assert out.outline.path.lines.all()


def test_squares_must_name_corners() -> None:
    piece = side_panel(True)
    pattern = Pattern((piece,), "10")
    for reference, error in [
        ("piece", InputError),
        ("other:p1", LookupFailed),
        ("piece:nothing", LookupFailed),
    ]:
        with pytest.raises(error):
            grade(pattern, table(STILL), ["12"], truing=Truing(square=(reference,)))
    outline, k = piece.outline.with_vertex(150.0)
    smooth = replace(piece, outline=outline.with_point(k, name="middle"))
    with pytest.raises(InputError, match="lies on a curve"):
        grade(
            Pattern((smooth,), "10"), table(STILL), ["12"], truing=Truing(square=("piece:middle",))
        )


def test_a_fold_whose_ends_gain_unequally_is_told() -> None:
    piece = replace(side_panel(False), fold=Fold(3, 0))
    out, found = graded(piece, STILL | {"d": (4.0, 0.0)}, Truing())
    assert "fold-turned" in {f.code for f in found}
    assert out.outline.path.lines[3]


def test_notches_are_placed_after_truing() -> None:
    piece = replace(side_panel(True), notches=(Notch(Spot(0, 250.0)),))
    out, _ = graded(piece, STILL | {"b": (12.0, 0.0)}, Truing(square=("piece:p1",)))
    edge = out.outline.edge_from(0)
    before = piece.outline.edge_from(0)
    assert edge.length - out.notches[0].at.distance == pytest.approx(before.length - 250.0)


def test_the_base_size_is_not_trued() -> None:
    piece = side_panel(True)
    tilted = replace(piece, outline=piece.outline.with_path(
        Path(piece.outline.path.controls * [1.0, 1.0] + [0.0, 0.0], piece.outline.path.lines, True)
    ))  # fmt: skip
    pattern = Pattern((tilted,), "10")
    out = grade(pattern, table(STILL), ["10"], truing=Truing(square=("piece:p0",)))
    assert out.pattern.piece("piece").outline is tilted.outline


def test_a_size_without_growth_keeps_the_bits() -> None:
    piece = side_panel(True)
    out, found = graded(piece, STILL, Truing(square=("piece:p0",)))
    assert out.outline is piece.outline
    assert found == []
    assert out.size == "12"
    assert out.base is not None


def test_an_outline_turned_inside_out_is_refused() -> None:
    piece = side_panel(False)
    steps = STILL | {"b": (-700.0, 0.0), "c": (-700.0, 0.0)}
    with pytest.raises(GeometryError, match="inside out"):
        graded(piece, steps, Truing())
