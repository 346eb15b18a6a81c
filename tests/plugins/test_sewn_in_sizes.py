"""Pockets, closures, hems and shaped bands in five sizes: as steps, under `[[before]]` and by
`apply`. The outlines are walked here by numpy and shapely alone."""

from __future__ import annotations

from functools import cache
from pathlib import Path as File
from tempfile import TemporaryDirectory

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from shapely.affinity import affine_transform

from sizewright.cli.main import main
from sizewright.findings import Finding
from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import perform
from sizewright.model import Pattern, Piece, Side
from sizewright.shipped import shipped
from tests.operations import plugins

Points = npt.NDArray[np.float64]

DRAWN = str(shipped("examples/basic-set/basic-set.svg"))
SIZES = ("8", "10", "12", "14", "16")
INCH = 25.4
#: Both pieces are marked alike within this, mm.
ALIKE = 0.05
WAYS = ("steps", "before", "apply")
ZIP = """do = "closure"
along = ["skirt-front:side"]
kind = "zip"
first = "1 cm"
length = "20 cm"
"""
INSEAM = """do = "pocket"
at = "skirt-front: 4 cm down side from side-waist"
kind = "inseam"
width = "13 cm"
depth = "22 cm"
opening = "15 cm"
"""
PATCH = """do = "pocket"
at = "skirt-front: 2 cm inside 20 cm along side from side-waist"
width = "12 cm"
depth = "14 cm"
"""
BUTTONS = """do = "closure"
along = ["back:centre-back"]
size = "12 mm"
count = 7
first = "2 cm"
last = "3 cm"
"""
HEM = """do = "hem"
along = ["skirt-front:hem", "skirt-back:hem"]
depth = "4 cm"
turn-in = "1 cm"
"""
BAND = """do = "band"
for = "skirt-front:waist + skirt-back:waist"
height = "4 cm"
on-fold = true
shaped = true
"""


UPPER = ("front", "back", "sleeve")
SKIRT = ("skirt-front", "skirt-back")


def head(source: str, pieces: tuple[str, ...]) -> str:
    every = (*UPPER, *SKIRT, "trousers-front", "trousers-back")
    left = "".join(f"[pieces.{one}]\nleave-out = true\n" for one in every if one not in pieces)
    sizes = '", "'.join(SIZES)
    rules = 'rules = "shipped:grade_tables/basic-set-steps.csv"\n'
    return f'source = "{source}"\nbase = "12"\n{left}[grade]\nto = ["{sizes}"]\n{rules}'


@cache
def made(
    way: str, step: str, *, width: str = "", more: str = ""
) -> tuple[Pattern, tuple[Finding, ...]]:
    """The skirt (or upper part) of the basic set in five sizes with one step done to it, one way
    or another. `width`: of the allowance that it has before, under `[[before]]` drawn as a
    cutting line."""
    with TemporaryDirectory() as folder:
        return made_in(File(folder), way, step, width, more)


def made_in(
    folder: File, way: str, step: str, width: str, more: str
) -> tuple[Pattern, tuple[Finding, ...]]:
    pieces = SKIRT if "skirt-" in step else UPPER
    allow = f'[[steps]]\ndo = "seam-allowance"\nwidth = "{width}"\n' if width else ""
    if way == "apply":
        (folder / "nest.svg").write_bytes(nest(pieces, allow))
        given = [f"{key}={one}" for key, value in settings(step) for one in value]
        name = given.pop(0).removeprefix("do=")
        call("apply", name, folder / "nest.svg", folder / "done.svg", *given)
        # Read by a job that does nothing, so that what the file says is looked at.
        text = f'source = "{folder / "done.svg"}"\n'
    elif way == "before":
        drawn = DRAWN
        if width:
            drawn = str(folder / "allowed.svg")
            File(drawn).write_bytes(allowed(width))
        text = head(drawn, pieces) + f"[[before]]\n{step}"
    else:
        text = head(DRAWN, pieces) + allow + f"[[steps]]\n{step}"
    (folder / "job.toml").write_text(text + more)
    done = perform(read_job(folder / "job.toml"), plugins(), write=False)
    return done.pattern, done.findings


@cache
def nest(pieces: tuple[str, ...], allow: str) -> bytes:
    """The file of a job that grades these pieces."""
    with TemporaryDirectory() as name:
        job = File(name, "nest.toml")
        job.write_text(head(DRAWN, pieces) + allow + '[[outputs]]\nfile = "nest.svg"\n')
        call("run", job, "--into", name)
        return File(name, "nest.svg").read_bytes()


@cache
def allowed(width: str) -> bytes:
    """The file of the basic set with seam allowance."""
    with TemporaryDirectory() as name:
        file = File(name, "allowed.svg")
        call("apply", "seam-allowance", DRAWN, file, f"width={width}")
        return file.read_bytes()


def settings(step: str) -> list[tuple[str, list[str]]]:
    found = []
    for line in step.strip().splitlines():
        key, _, value = line.partition(" = ")
        texts = value.strip("[]").split(", ") if value.startswith("[") else [value]
        found.append((key, [text.strip('"') for text in texts]))
    return found


def call(*words: object) -> None:
    assert main([str(word) for word in words]) == 0


# --- walking an outline, without the product's own functions --------------------------------


def dense(controls: Points, steps: int = 400) -> Points:
    """Points along cubic segments, (n, 4, 2), by Bernstein's polynomials."""
    t = np.linspace(0.0, 1.0, steps)[:, None]
    weights = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3
    lines = [sum(w * p for w, p in zip(weights, one, strict=True)) for one in controls]
    return np.vstack([lines[0], *(line[1:] for line in lines[1:])])


def stretch(piece: Piece, run: str) -> shapely.LineString:
    """A run by its vertices, from one to the other counter-clockwise."""
    controls = piece.outline.path.controls
    (named,) = [r for r in piece.outline.runs if r.name == run]
    n = len(controls)
    long = (named.end - named.start) % n or n
    return shapely.LineString(dense(controls[[(named.start + k) % n for k in range(long)]]))


def area(piece: Piece, *, cut: bool = False) -> shapely.Polygon:
    if not cut:
        return shapely.Polygon(dense(piece.outline.path.controls))
    assert piece.cut_line is not None
    return shapely.Polygon(dense(piece.cut_line.path.controls))


def corner(piece: Piece, name: str) -> Points:
    (vertex,) = [p.vertex for p in piece.outline.points if p.name == name]
    return piece.outline.path.controls[vertex, 0]


def notch(piece: Piece, name: str) -> Points:
    """Where a notch lies: counter-clockwise from its vertex, so far along."""
    (one,) = [n for n in piece.notches if n.name == name]
    controls = piece.outline.path.controls
    n = len(controls)
    line = dense(controls[[(one.at.start + k) % n for k in range(n)]])
    return np.array(shapely.LineString(line).interpolate(one.at.distance).coords[0])


def from_waist(piece: Piece, run: str, point: Points) -> float:
    """How far along the side a point lies below the waist, and that it lies on the side."""
    line = stretch(piece, run)
    assert line.distance(shapely.Point(point)) < 0.01
    high = line.project(shapely.Point(corner(piece, "side-waist")))
    return abs(line.project(shapely.Point(point)) - high)


def skirts(pattern: Pattern, size: str) -> tuple[Piece, Piece]:
    return pattern.piece("skirt-front", size), pattern.piece("skirt-back", size)


# --- closures -------------------------------------------------------------------------------


@pytest.mark.parametrize("way", WAYS)
def test_buttons_are_even_from_first_to_last(way: str) -> None:
    pattern, _ = made(way, BUTTONS)
    for size in SIZES:
        back = pattern.piece("back", size)
        edge = stretch(back, "centre-back")
        low, high = (p[1] for p in sorted(edge.coords, key=lambda p: p[1])[:: len(edge.coords) - 1])
        heights = sorted((d.at[1] for d in back.drills if "button" in str(d.name)), reverse=True)
        assert len(heights) == 7
        assert np.diff(heights) == pytest.approx([-(high - low - 50) / 6] * 6, abs=1e-3)
        assert [high - heights[0], heights[-1] - low] == pytest.approx([20, 30], abs=1e-3)
        # As many holes, as high as their buttons: on the wearer's other side.
        holes = [m for m in back.marks if m.kind == "buttonhole"]
        tops = sorted((m.path.controls[0, 0, 1] for m in holes), reverse=True)
        assert tops == pytest.approx(heights, abs=1e-3)
        assert {m.side for m in holes} == {"right"}
        assert {d.side for d in back.drills if "button" in str(d.name)} == {"left"}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("side", ["both", "left"])
def test_a_zip_ends_alike_on_both_sides_and_its_allowance_steps(way: str, side: Side) -> None:
    step = ZIP + (f'side = "{side}"\n' if side != "both" else "")
    pattern, findings = made(way, step, width="1 cm")
    for size in SIZES:
        for piece in skirts(pattern, size):
            end = notch(piece, "zip-end")
            assert from_waist(piece, "side", end) == pytest.approx(210, abs=ALIKE)
            assert stretch(piece, "zip").length == pytest.approx(200, abs=ALIKE)
            (stop,) = [m for m in piece.marks if m.kind == "zip stop"]
            assert np.hypot(*(stop.path.controls[0, 0] - end)) < ALIKE
            assert stop.side == side
            # Workroom rule (Threads 200): 3/4 in beside a zip, stepping to 1/2 in past its end.
            outside = shapely.LinearRing(area(piece, cut=True).exterior.coords)
            side_line = stretch(piece, "side")
            high = side_line.project(shapely.Point(corner(piece, "side-waist")))
            way_down = 1 if high < side_line.length / 2 else -1
            for d, wide in ((100, 0.75), (195, 0.75), (225, 0.5), (400, 0.5)):
                point = side_line.interpolate(high + way_down * d)
                assert outside.distance(point) == pytest.approx(wide * INCH, abs=0.03), (size, d)
    told = {f.code for f in findings}
    assert ("zip-cut-for-both" in told) == (side != "both" and way != "apply")


CENTRE = """[[steps]]
do = "closure"
along = ["skirt-back:centre-back"]
kind = "zip"
length = { "8" = "16 cm", "10" = "17 cm", "12" = "18 cm", "14" = "19 cm", "16" = "20 cm" }
"""


def test_a_zip_in_a_centre_seam_has_the_length_of_each_size() -> None:
    pattern, _ = made("steps", CENTRE.removeprefix("[[steps]]\n"), width="1 cm")
    for size, long in zip(SIZES, (160, 170, 180, 190, 200), strict=True):
        back = pattern.piece("skirt-back", size)
        edge = stretch(back, "centre-back")
        top = max(y for _, y in edge.coords)
        assert top - notch(back, "zip-end")[1] == pytest.approx(long, abs=1e-3)
        assert stretch(back, "zip").length == pytest.approx(long, abs=1e-3)


def test_one_side_of_a_pair_with_underlap_buttons_only_there() -> None:
    step = BUTTONS + 'side = "left"\n'
    pattern, _ = made("steps", step)
    for size in SIZES:
        back = pattern.piece("back", size)
        assert not [m for m in back.marks if m.kind == "buttonhole"]
        assert {d.side for d in back.drills if "button" in str(d.name)} == {"left"}


# --- pockets --------------------------------------------------------------------------------


@pytest.mark.parametrize("way", WAYS)
def test_an_inseam_opening_is_the_same_on_both_pieces(way: str) -> None:
    pattern, _ = made(way, INSEAM)
    for size in SIZES:
        bag = stretch(pattern.piece("pocket", size), "opening")
        for piece in skirts(pattern, size):
            assert stretch(piece, "pocket-opening").length == pytest.approx(150, abs=ALIKE)
            ends = [notch(piece, f"pocket-opening-{word}") for word in ("begins", "ends")]
            found = [from_waist(piece, "side", end) for end in ends]
            assert found == pytest.approx([40, 190], abs=ALIKE)
        assert bag.length == pytest.approx(150, abs=ALIKE)
        assert area(pattern.piece("pocket", size)).is_valid


@pytest.mark.parametrize("way", WAYS)
def test_a_patch_over_the_side_is_matched_on_both_pieces(way: str) -> None:
    pattern, _ = made(way, PATCH)
    for size in SIZES:
        ends = []
        for piece in skirts(pattern, size):
            (line,) = [dense(m.path.controls) for m in piece.marks if m.kind == "place of"]
            ends.append(sorted(from_waist(piece, "side", end) for end in (line[0], line[-1])))
            drawn = shapely.LineString(line)
            assert area(piece).buffer(0.01).contains(drawn)
        assert ends[0] == pytest.approx(ends[1], abs=ALIKE)
        assert area(pattern.piece("pocket", size)).area == pytest.approx(120 * (140 + INCH))


def test_laid_together_the_two_parts_of_a_patch_are_the_pocket() -> None:
    pattern, _ = made("steps", PATCH)
    for size in SIZES:
        parts = []
        ends = []
        for piece in skirts(pattern, size):
            (line,) = [dense(m.path.controls) for m in piece.marks if m.kind == "place of"]
            parts.append(shapely.Polygon(line))
            high, low = sorted((line[0], line[-1]), key=lambda p: from_waist(piece, "side", p))
            ends.append((high, low))
        # The back turned and moved so that its two ends meet the front's.
        (a, b), (c, d) = ends
        turn = np.arctan2(*(b - a)[::-1]) - np.arctan2(*(d - c)[::-1])
        cos, sin = np.cos(turn), np.sin(turn)
        x, y = (a + b) / 2 - np.array([[cos, -sin], [sin, cos]]) @ ((c + d) / 2)
        back = affine_transform(parts[1], [cos, -sin, sin, cos, x, y])
        whole = shapely.union(parts[0], back)
        # The sides bow apart between the ends by what both are curved: a few square millimetres.
        assert parts[0].intersection(back).area < 1
        assert whole.area == pytest.approx(120 * 140, rel=1e-3)


# --- hems -----------------------------------------------------------------------------------


@pytest.mark.parametrize("way", WAYS)
def test_hems_are_as_deep_in_every_size_and_lie_on_the_piece(way: str) -> None:
    pattern, _ = made(way, HEM, width="1 cm")
    for size in SIZES:
        for piece in skirts(pattern, size):
            hem, cut = stretch(piece, "hem"), area(piece, cut=True)
            y = hem.coords[0][1]
            assert np.ptp(np.array(hem.coords)[:, 1]) < 1e-6
            assert y - cut.bounds[1] == pytest.approx(50, abs=0.01)
            below = cut.intersection(shapely.box(-1e4, -1e4, 1e4, y))
            turned = affine_transform(below, [1, 0, 0, -1, 0, 2 * y])
            assert turned.difference(cut.buffer(0.02)).area == pytest.approx(0, abs=0.1)


# --- shaped bands ---------------------------------------------------------------------------


def sewn(piece: Piece, run: str) -> float:
    """A run less its darts' mouths, which the outline goes round by the tip."""
    line = stretch(piece, run).length
    controls = piece.outline.path.controls
    n = len(controls)
    for dart in piece.darts:
        legs = controls[[(dart.a + k) % n for k in range((dart.b - dart.a) % n)]]
        line -= shapely.LineString(dense(legs)).length
    return float(line)


@pytest.mark.parametrize("way", WAYS)
def test_a_shaped_band_is_the_edge_as_sewn_and_shorter_above(way: str) -> None:
    pattern, _ = made(way, BAND)
    for size in SIZES:
        band = pattern.piece("band", size)
        lower, upper = stretch(band, "lower"), stretch(band, "upper")
        edges = sum(sewn(piece, "waist") for piece in skirts(pattern, size))
        assert lower.length == pytest.approx(edges, abs=ALIKE)
        # Parallel curves: the lengths differ by the distance times the angle turned in all, here
        # by the tangents of the lower edge; kinks within it, at darts and sides, go round too.
        way_along = np.diff(np.array(lower.coords), axis=0)
        angles = np.unwrap(np.arctan2(way_along[:, 1], way_along[:, 0]))
        angle = float(angles[-1] - angles[0])
        assert angle > 0.1
        assert lower.length - upper.length == pytest.approx(40 * angle, abs=0.6)
        drawn = lower.offset_curve(40, join_style="mitre")
        assert shapely.hausdorff_distance(drawn, upper) < 0.6
        assert upper.length == pytest.approx(drawn.length, abs=0.6)


# --- later steps ----------------------------------------------------------------------------

CURVE = """
[[steps]]
do = "redraw"
pieces = ["skirt-front", "skirt-back"]
from = "side-waist"
to = "hem-side"
through = ["11% along side", "22% along side", "33% along side", "66% along side"]
line = "curve"
"""


@pytest.mark.parametrize("step", [INSEAM, ZIP, PATCH])
def test_an_edge_that_changes_later_has_them_anew(step: str) -> None:
    early, findings = made("steps", step, more=CURVE)
    late, _ = made("steps", CURVE.removeprefix("\n[[steps]]\n"), more=f"[[steps]]\n{step}")
    told = [f for f in findings if f.code == "redrafted"]
    assert [f.level for f in told] == ["note"]
    assert not [f for f in findings if f.level != "note" and f.code != "joint-kink"]
    for size in SIZES:
        for one, other in zip(skirts(early, size), skirts(late, size), strict=True):
            for names in ("notches", "marks"):
                here, there = ([x.name for x in getattr(p, names)] for p in (one, other))
                assert sorted(map(str, here)) == sorted(map(str, there))
            for there in other.notches:
                if there.name:
                    gone = notch(one, there.name) - notch(other, there.name)
                    assert np.hypot(*gone) < ALIKE
    assert [s.name for s in early.seams] == [s.name for s in late.seams]


def test_the_allowance_beside_a_zip_follows_too() -> None:
    redrawn = CURVE.removeprefix("\n[[steps]]\n")
    early, _ = made("steps", ZIP, width="1 cm", more=CURVE)
    late, _ = made("steps", redrawn, width="1 cm", more=f"[[steps]]\n{ZIP}")
    for size in SIZES:
        for one, other in zip(skirts(early, size), skirts(late, size), strict=True):
            apart = area(one, cut=True).symmetric_difference(area(other, cut=True))
            assert apart.area == pytest.approx(0, abs=1.0)


def test_places_at_the_end_of_a_zip_are_known_to_later_steps() -> None:
    below = """
[[steps]]
do = "redraw"
piece = "skirt-front"
from = "zip-end"
to = "hem-side"
line = "curve"
"""
    pattern, _ = made("steps", ZIP, more=below)
    for size in SIZES:
        assert stretch(skirts(pattern, size)[0], "zip").length == pytest.approx(200, abs=ALIKE)
