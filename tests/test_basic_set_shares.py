"""The shares of the basic set: bodies that no column holds, from petite to tall.

Body figures of this test are invented; what the seams must do is measured on the graded pieces.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from sizewright.geometry import flatten
from sizewright.grading import Asked, ShareRule, grade, read_chart, read_rules, true_seams
from sizewright.model import Pattern, match_seam
from sizewright.shipped import shipped
from tests.operations import drawn, steps

from .basic_set_shares import solved
from .drawn import length

PATTERN = drawn("basic-set")
SHARES = read_rules(shipped("grade_tables/basic-set-shares.csv"))
STEPS = steps("basic-set")
CHART = read_chart(shipped("grade_tables/misses-1967-body.csv"))
SIZED = read_chart(shipped("grade_tables/misses-1967.csv"))
#: What each body has more than size 12, mm.
BODIES = {
    "petite": ("8", {"back-waist-length": -25, "arm-length": -45, "scye-depth": -9, "rise": -15}),
    "tall": ("14", {"back-waist-length": 35, "arm-length": 60, "scye-depth": 12, "rise": 20}),
    "pear": ("12", {"hip": 80, "waist": 20}),
    "strong arm": ("12", {"upper-arm": 20}),
    "slight arm": ("12", {"upper-arm": -20}),
    "full bust": ("12", {"bust": 50}),
}
#: Seams of these bodies are that true, mm: the workroom's tolerance of 1/16 in (Threads 200).
TRUE = 1.6


def body(size: str, more: dict[str, int]) -> dict[str, float]:
    return {m: CHART.value(m, size) + more.get(m, 0) for m in CHART.measures}


def made(measures: dict[str, float]) -> Pattern:
    asked = Asked(measures=measures, label="own")
    return grade(PATTERN, SHARES, ["12"], chart=CHART, asked=asked, allow_far=True).pattern


def half_girth(pattern: Pattern, size: str, point: str, pieces: tuple[str, ...]) -> float:
    """The widths of pieces from their centre to a point, together."""
    total = 0.0
    for name in pieces:
        piece = pattern.piece(name, size)
        x = piece.outline.vertex_at(piece.outline.vertex(point))[0]
        total += abs(x - piece.outline.vertex_at(piece.outline.vertex("waist-centre"))[0])
    return total


@pytest.mark.parametrize("name", BODIES)
def test_seams_are_true_for_bodies_that_no_column_holds(name: str) -> None:
    pattern = made(body(*BODIES[name]))
    for seam in pattern.seams:
        match = match_seam(pattern, seam, "own")
        assert abs(match.surplus - match.wanted) < TRUE, seam.name


@pytest.mark.parametrize("name", BODIES)
def test_bust_and_hip_grow_as_the_body_does(name: str) -> None:
    measures = body(*BODIES[name])
    pattern = made(measures)
    for measure, point, pieces in [
        ("bust", "underarm", ("front", "back")),
        ("hip", "side-hip", ("skirt-front", "skirt-back")),
    ]:
        grown = half_girth(pattern, "own", point, pieces) - half_girth(PATTERN, "12", point, pieces)
        assert 2 * grown == pytest.approx(measures[measure] - CHART.value(measure, "12"), abs=0.02)


def moves(pattern: Pattern, name: str, points: tuple[str, ...]) -> np.ndarray:
    """How far points went from the base, mm; length counts up."""
    new, old = (p.outline for p in (pattern.piece(name, "own"), PATTERN.piece(name)))
    return np.array([new.vertex_at(new.vertex(p)) - old.vertex_at(old.vertex(p)) for p in points])


def test_a_bust_that_grows_alone_goes_to_the_front_and_its_dart() -> None:
    pattern = made(body("12", {"bust": 50}))
    points = ("neck-side", "neck-centre", "shoulder-tip", "underarm", "side-waist")
    np.testing.assert_allclose(moves(pattern, "back", points), 0.0, atol=1e-9)
    front = moves(pattern, "front", points)
    # All of it on the fold's half, longer by 3/16; neck and shoulder keep their shape.
    assert front[3, 0] == pytest.approx(25.0)
    for point in (0, 1, 2):
        np.testing.assert_allclose(np.abs(front[point]), (0.0, 0.1875 * 50), atol=1e-9)
    mouths = []
    for piece in (PATTERN.piece("front"), pattern.piece("front", "own")):
        dart = next(d for d in piece.darts if d.name == "bust")
        a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
        mouths.append(float(np.hypot(*(a - b))))
    assert mouths[1] - mouths[0] == pytest.approx(0.24 * 50, abs=1.5)


def test_the_derived_rows_are_what_their_making_gives() -> None:
    for given, again in zip(SHARES.rules, solved(SHARES).rules, strict=True):
        assert isinstance(given, ShareRule)
        assert isinstance(again, ShareRule)
        np.testing.assert_allclose(given.shares, again.shares, atol=2e-5, err_msg=given.rule)


def along(pattern: Pattern, name: str, start: str, end: str) -> float:
    """The shorter way along an outline between two named points, by quadrature."""
    path = pattern.piece(name, "own").outline
    a, b = sorted((path.vertex(start), path.vertex(end)))
    lengths = [length(s) for s in path.path.controls]
    return min(sum(lengths[a:b]), sum(lengths) - sum(lengths[a:b]))


@pytest.mark.parametrize("name", ["size 12", "petite", "tall", "full bust"])
@pytest.mark.parametrize("arm", [-30, 20, 40, 60])
def test_a_cap_follows_its_armhole_for_arms_of_all_girths(name: str, arm: int) -> None:
    """Each half as long as its armhole and the ease that is drawn into it (1/2 and 5/8 in)."""
    size, more = (BODIES | {"size 12": ("12", {})})[name]
    before = made(body(size, more | {"upper-arm": more.get("upper-arm", 0) + arm}))
    after, told = true_seams(before, most=12.0)
    assert [f.code for f in told if f.place == "cap"] == ["seam-trued"]
    for half, ease in (("front", 12.7), ("back", 15.875)):
        armhole = along(after, half, "underarm", "shoulder-tip")
        cap = along(after, "sleeve", f"underarm-{half}", "cap-top")
        # A bust that grew alone changes the front armhole's bow: the top stays where it was.
        assert cap - armhole == pytest.approx(ease, abs=1.8 if name == "full bust" else 0.06)
    # Nothing else of the sleeve moves: its seams, hem, elbow and arm width stay.
    old, new = (p.piece("sleeve", "own") for p in (before, after))
    still = [
        v for v in range(len(old.outline.path)) if not old.outline.point(v).name.startswith("cap")
    ]
    assert np.array_equal(old.outline.path.vertices[still], new.outline.path.vertices[still])
    top = old.outline.vertex("cap-top")
    shoulder = next(n for n in new.notches if n.name == "shoulder")
    place = new.outline.path.at(new.outline.arc_length_of(shoulder.at))
    np.testing.assert_allclose(place, new.outline.vertex_at(top), atol=1e-6)


def test_arms_of_5_cm_more_need_no_bound_of_their_own() -> None:
    for arm in (-30, 50, 60):
        after, told = true_seams(made(body("12", {"upper-arm": arm})))
        assert [f.level for f in told if f.place == "cap"] == ["note"]
        cap = match_seam(after, next(s for s in after.seams if s.name == "cap"), "own")
        assert abs(cap.off) < 0.05


#: Bodies far from any column, mm: a very large one, and hips wide for their waist.
FAR = {
    "large": {"bust": 1240.0, "waist": 1100.0, "hip": 1280.0},
    "hips": {"bust": 880.0, "waist": 720.0, "hip": 1120.0},
}


@pytest.mark.parametrize("name", FAR)
def test_far_bodies_have_true_seams_and_lines_that_end_where_they_did(name: str) -> None:
    """Shares are straight lines and seams are not, so far off the seams are to be trued: by
    the darts where no end is free. Lengths by quadrature, what sticks out by shapely."""
    asked = Asked(measures=FAR[name], label="own")
    before = grade(PATTERN, SHARES, [], chart=CHART, asked=asked, allow_far=True).pattern
    assert max(abs(match_seam(before, s, "own").off) for s in before.seams) > 2.0
    after, told = true_seams(before)
    assert {f.code for f in told} == {"seam-trued"}
    assert any("the dart" in f.text for f in told)
    for seam in after.seams:
        assert abs(match_seam(after, seam, "own").off) < 0.1, seam.name
    inseams = [along(after, f"trousers-{n}", "crotch-point", "hem-inner") for n in FRONT_BACK]
    assert inseams[0] == pytest.approx(inseams[1], abs=0.1)
    legs = [along(after, "front", f"bust-dart-{n}", "bust-dart-tip") for n in ("lower", "upper")]
    sides = [along(after, n, "side-waist", "underarm") for n in FRONT_BACK]
    assert sides[0] - sum(legs) == pytest.approx(sides[1], abs=0.1)
    assert legs[0] == pytest.approx(legs[1], abs=0.05)
    for piece in after.pieces:
        cloth = shapely.Polygon(flatten(piece.outline.path, 0.001)).buffer(0.005)
        base = PATTERN.piece(piece.name)
        for was, mark in zip(base.marks, piece.marks, strict=True):
            assert cloth.covers(shapely.LineString(mark.path.vertices)), (piece.name, mark.name)
            gaps = [
                [
                    shapely.Polygon(flatten(p.outline.path, 0.001)).exterior.distance(
                        shapely.Point(e)
                    )
                    for e in (m.path.start, m.path.end)
                ]
                for p, m in ((base, was), (piece, mark))
            ]
            for old, new in zip(*gaps, strict=True):
                if old < 1.0:
                    assert new == pytest.approx(old, abs=0.05)


FRONT_BACK = ("front", "back")


def test_a_body_past_the_charts_ends_is_made_with_a_warning() -> None:
    measures = body("20", {"bust": 60, "waist": 60, "hip": 60})
    asked = Asked(measures=measures, label="own")
    out = grade(PATTERN, SHARES, ["20"], chart=CHART, asked=asked)
    (past,) = [f for f in out.findings if f.code == "beyond-table"]
    assert "bust" in past.text
    girth = half_girth(out.pattern, "own", "side-hip", ("skirt-front", "skirt-back"))
    grown = girth - half_girth(PATTERN, "12", "side-hip", ("skirt-front", "skirt-back"))
    assert 2 * grown == pytest.approx(measures["hip"] - CHART.value("hip", "12"), abs=0.02)


def test_the_chart_holds_the_sizes_that_the_steps_were_made_for() -> None:
    assert CHART.sizes == SIZED.sizes
    for measure in SIZED.measures:
        np.testing.assert_allclose(CHART.values[measure], SIZED.values[measure], atol=1e-9)


@pytest.mark.parametrize("size", ["10", "14"])
def test_shares_and_steps_agree_on_a_size(size: str) -> None:
    own = made(body(size, {}))
    plain = grade(PATTERN, STEPS, [size]).pattern
    for piece in PATTERN.names:
        a, b = own.piece(piece, "own"), plain.piece(piece, size)
        away = np.hypot(*(a.outline.path.vertices - b.outline.path.vertices).T)
        # Crotch points go by the hip alone; the steps add a fixed amount in each size.
        crotch = [p.vertex for p in a.outline.points if p.name == "crotch-point"]
        assert away[crotch].max(initial=0.0) < 5.0, piece
        # The neck goes by a fifth of its girth and the dart's height by the bust alone: each
        # is 2 mm and less from the steps, which settle them size by size.
        assert np.delete(away, crotch).max() < 2.3, piece
