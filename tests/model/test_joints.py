"""Kinks and steps of edges as sewn, against the pieces laid together with shapely and by hand."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString

from sizewright.geometry import Path, affine
from sizewright.model import (
    Dart,
    Grain,
    Outline,
    Pattern,
    Piece,
    Run,
    dart_joints,
    parse_seams,
    sewn_joints,
)


def panel(name: str, angle: float, height: float = 200.0) -> Piece:
    """A panel 100 wide whose hem, at the lower end of an upright side, meets it at `angle`."""
    drop = 100.0 / math.tan(math.radians(angle))
    points = [(0, drop), (100, 0), (100, height), (0, height)]
    runs = [Run(0, 1, "hem"), Run(1, 2, "side"), Run(2, 3, "top")]
    outline = Outline.of(Path.polyline(points, closed=True), runs=runs)
    return Piece(name, outline, kind="sew", grain=Grain((50, 20), (50, 150), ends=1))


def sewn(front: Piece, back: Piece) -> Pattern:
    return Pattern((front, back), seams=parse_seams("side: front:side = back:side"))


def turn_as_sewn(front: Piece, back: Piece) -> float:
    """The back turned over and laid along the side: the turn of the hem, by shapely."""
    one = LineString(front.outline.run_path(front.run("hem")).vertices)
    other = affinity.scale(
        LineString(back.outline.run_path(back.run("hem")).vertices), -1, 1, origin=(100, 0)
    )
    (a, b), (d, c) = np.array(one.coords), np.array(other.coords)
    before, after = b - a, d - c
    cross = before[0] * after[1] - before[1] * after[0]
    return math.degrees(math.atan2(cross, before @ after))


@given(st.floats(70, 110), st.floats(70, 110), st.floats(0, 360), st.booleans())
def test_a_hem_turns_over_the_side_as_shapely_has_it(
    front: float, back: float, turned: float, over: bool
) -> None:
    pieces = panel("front", front), panel("back", back)
    m = affine.rotation(turned, (30, 40))
    if over:
        m = affine.compose(m, affine.mirror((0, 0), (3, 100)))
    pattern = sewn(pieces[0], pieces[1].transformed(m))
    (hem,) = [j for j in sewn_joints(pattern) if j.first.line == "hem"]
    assert hem.kink == pytest.approx(turn_as_sewn(*pieces), abs=1e-9)
    assert hem.kink == pytest.approx(180 - front - back, abs=1e-9)
    assert (str(hem.first), str(hem.second)) == ("front:hem", "back:hem")


def test_sides_of_unlike_length_part_at_the_lower_end() -> None:
    up = panel("front", 90), panel("back", 90, 190.0)
    top, hem = sorted(sewn_joints(sewn(*up)), key=lambda j: j.step)
    assert (top.first.line, top.step) == ("top", 0.0)
    assert (hem.first.line, hem.step) == ("hem", pytest.approx(10.0))


def test_facings_slits_and_other_edges_are_not_meant_to_run_on() -> None:
    front, facing = panel("front", 60), panel("front-facing", 60)
    faced = Pattern((front, facing), seams=parse_seams("in: front:side = front-facing:side"))
    assert [j.kink for j in sewn_joints(faced)] == [None]
    # A side that is sewn half way down: the line runs smoothly on into the slit.
    slit = [p.with_vertex(230.0, name="slit")[0] for p in (panel("front", 90), panel("back", 90))]
    half = Pattern(tuple(slit), seams=parse_seams("side: front:slit..#3 = back:slit..#3"))
    assert [j.first.line for j in sewn_joints(half) if j.kink is not None] == ["top"]
    # Edges of other names that meet at a clear angle, as a collar's end and a front edge.
    other = panel("back", 60)
    runs = [dataclasses.replace(r, name=f"its-{r.name}") for r in other.outline.runs]
    other = dataclasses.replace(other, outline=dataclasses.replace(other.outline, runs=tuple(runs)))
    apart = Pattern((panel("front", 60), other), seams=parse_seams("s: front:side = back:its-side"))
    assert [j.first.line for j in sewn_joints(apart) if j.kink is not None] == ["top"]


def test_what_is_settled_on_the_first_size_holds_for_all() -> None:
    sizes = []
    for size, angle in (("10", 60.0), ("12", 89.0)):
        for name in ("front", "back"):
            sizes.append(dataclasses.replace(panel(name, angle), size=size))
    pattern = Pattern(tuple(sizes), "10", parse_seams("side: front:side = back:side"))
    hems = [j for j in sewn_joints(pattern) if j.first.line == "hem"]
    assert [(j.size, round(j.kink or 0, 6)) for j in hems] == [("10", 60.0), ("12", 2.0)]


@pytest.mark.parametrize("cut_out", [True, False])
def test_a_waist_kinks_over_a_closed_dart_by_its_angle(cut_out: bool) -> None:
    """On a straight waist a dart of 3 1/4 by 9 in leaves its own angle: 2 atan(1.625 / 9)."""
    half, long = 3.25 * 25.4 / 2, 9 * 25.4
    points = [(0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (200 + half, 300.0)]
    if cut_out:
        points.append((200.0, 300 - long))
    points += [(200 - half, 300.0), (0.0, 300.0)]
    outline = Outline.of(
        Path.polyline(points, closed=True), runs=[Run(2, len(points) - 1, "waist")]
    )
    dart = Dart("waist", 3, 5 if cut_out else 4, (200.0, 300 - long), 4 if cut_out else None)
    (joint,) = dart_joints(Piece("skirt", outline, kind="sew", darts=(dart,)))
    assert joint.kink == pytest.approx(-2 * math.degrees(math.atan(1.625 / 9)))
    assert joint.step == pytest.approx(0.0, abs=1e-9)
    assert joint.legs is not None
    assert joint.legs[0] == pytest.approx(9.1455 * 25.4, abs=0.01)  # drafting: 9.146 in


def test_seams_that_meet_within_a_seam_step_by_what_they_miss() -> None:
    """A waist of two pieces on a band of two: their side seams miss each other by 4 mm."""

    def box(name: str, wide: float) -> Piece:
        points = [(0, 0), (wide, 0), (wide, 50), (0, 50)]
        runs = [Run(0, 1, "edge")]
        return Piece(name, Outline.of(Path.polyline(points, closed=True), runs=runs), kind="sew")

    pieces = [box("a", 100), box("b", 104), box("c", 104), box("d", 100)]
    for ease, steps in (("", [-4.0]), (", ease 0 mm", [])):
        seam = parse_seams(f"waist: a:edge + b:edge = c:edge + d:edge{ease}")
        joints = sewn_joints(Pattern(tuple(pieces), seams=seam))
        assert [j.step for j in joints if not j.ends] == pytest.approx(steps)
