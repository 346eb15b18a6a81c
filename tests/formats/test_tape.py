"""Tables of points measured by tape and ruler."""

from __future__ import annotations

import itertools
import math
from pathlib import Path as File

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError
from sizewright.formats import claims_tape, read_svg, read_tape, write_svg
from sizewright.jobs.files import open_pattern
from sizewright.model import Piece
from sizewright.units import Unit

ROOT = File(__file__).resolve().parents[2]
SQUARE = """piece,point,x,y,kind,unit
pocket,a,0,0,corner,cm
pocket,b,16,0,corner,cm
pocket,c,16,18,corner,cm
pocket,d,0,18,corner,cm
"""


def one(text: str, **options: Unit) -> Piece:
    (piece,) = read_tape(text.encode(), **options).pattern.pieces
    return piece


def quarter(step: int, radius: float = 200.0) -> str:
    """A quarter of a disc, its arc measured every so many degrees."""
    rows = ["piece,point,x,y,kind,unit", "disc,centre,0,0,corner,mm"]
    for angle in range(0, 91, step):
        kind = "corner" if angle in (0, 90) else "curve"
        x, y = (radius * f(math.radians(angle)) for f in (math.cos, math.sin))
        rows.append(f"disc,at {angle},{x:.6f},{y:.6f},{kind},mm")
    return "\n".join(rows) + "\n"


def test_straight_lines_run_between_corners() -> None:
    piece = one(SQUARE)
    assert piece.area == pytest.approx(160 * 180)
    assert [piece.outline.vertex(n) for n in "abcd"] == [0, 1, 2, 3]
    assert piece.outline.corners == (0, 1, 2, 3)
    assert piece.outline.path.lines.all()


def test_a_curve_is_fair_through_its_points() -> None:
    # The arc of a circle is known: a quarter of 2 pi r.
    piece = one(quarter(15))
    edge = piece.run("at 0..at 90")
    assert piece.sewn_length(edge) == pytest.approx(math.pi * 100, abs=0.1)
    for angle in range(15, 90, 15):
        place = piece.outline.vertex_at(piece.outline.vertex(f"at {angle}"))
        assert np.hypot(*place) == pytest.approx(200, abs=1e-5)
    # More points come nearer, by about the fourth power.
    close = one(quarter(5))
    assert abs(close.area - math.pi * 10_000) < abs(piece.area - math.pi * 10_000) / 10


def test_an_outline_without_corners_is_smooth_all_round() -> None:
    rows = [
        f"ring,,{150 * math.cos(a):.9f},{150 * math.sin(a):.9f},curve,mm"
        for a in np.arange(16) * math.pi / 8
    ]
    piece = one("\n".join(["piece,point,x,y,kind,unit", *rows]))
    assert np.abs(piece.outline.path.turns).max() < 1e-5
    assert piece.outline.path.length == pytest.approx(2 * math.pi * 150, abs=0.05)


@given(
    st.lists(st.floats(20, 300), min_size=3, max_size=12),
    st.booleans(),
    st.integers(0, 11),
)
def test_the_way_round_and_the_first_point_do_not_matter(
    radii: list[float], backwards: bool, start: int
) -> None:
    n = len(radii)
    angles = 2 * math.pi * np.arange(n) / n
    points = np.array(radii)[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    rows = [f"star,p{k},{float(x)!r},{float(y)!r},corner,mm" for k, (x, y) in enumerate(points)]
    rows = rows[start % n :] + rows[: start % n]
    rows = rows[::-1] if backwards else rows
    piece = one("\n".join(["piece,point,x,y,kind,unit", *rows]))
    assert piece.area == pytest.approx(shapely.Polygon(points).area, rel=1e-9)
    for k, place in enumerate(points):
        at = piece.outline.vertex_at(piece.outline.vertex(f"p{k}"))
        assert np.hypot(*(at - place)) < 1e-9


def test_along_and_out_are_x_and_y() -> None:
    assert one(SQUARE.replace("x,y", "along,out")).outline == one(SQUARE).outline


def test_units_may_be_inches_commas_or_said_beside() -> None:
    inches = one(SQUARE.replace(",cm", ",in"))
    assert inches.area == pytest.approx(16 * 18 * 25.4**2)
    bare = SQUARE.replace(",unit", "").replace(",cm", "").replace(",16,18", ",16.5,18")
    german = bare.replace(",", ";").replace("16.5", "16,5")
    assert one(german, units=Unit.CM).outline == one(bare, units=Unit.CM).outline
    fraction = one(SQUARE.replace(",16,", ",6 1/4 in,"))
    assert fraction.bounds[2] == pytest.approx(6.25 * 25.4)


def test_an_empty_cell_means_the_piece_or_unit_above() -> None:
    rows = SQUARE.splitlines()
    bare = [row.replace("pocket,", ",").removesuffix("cm") for row in rows[2:]]
    assert one("\n".join([*rows[:2], *bare])).outline == one(SQUARE).outline


def test_lengths_by_the_tape_are_held_against_the_line() -> None:
    tape = "disc,at 0..at 90,314,,length,mm\ndisc,at 90..at 0,330,,length,mm\n"
    findings = read_tape((quarter(15) + tape).encode()).findings
    assert [(f.code, f.level) for f in findings] == [("tape-misfit", "warn")]
    assert findings[0].text.startswith("the largest misfit: at 90..at 0 is 31.42 cm")
    assert "15.8 mm shorter" in findings[0].text
    fits = read_tape((quarter(15) + tape.partition("\n")[0]).encode()).findings
    assert [(f.code, f.level) for f in fits] == [("tape-fits", "note")]


def test_it_is_read_like_a_drawing_and_kept_as_one(tmp_path: File) -> None:
    table = tmp_path / "pocket.csv"
    table.write_text("# measured at the kitchen table\n" + SQUARE, "utf-8")
    pattern = open_pattern(table).pattern
    back = read_svg(write_svg(pattern).data).pattern
    assert back.pieces[0].area == pytest.approx(160 * 180)
    assert back.pieces[0].outline.vertex("c") == 2


def test_only_our_tables_are_claimed() -> None:
    assert all(claims_tape(SQUARE.encode(code)) for code in ("utf-8", "utf-8-sig", "utf-16"))
    assert not any(
        claims_tape(head) for head in (b"", b"\x89PNG\r\n\x1a\n", b"name,colour\nx,red\n")
    )


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("b,16,0,corner", "b,16,0,bend", '"bend" is no kind of point'),
        ("b,16,0", "b,,0", "line 3, column C (x)"),
        ("b,16,0", "b,wide,0", '"wide" is not a number'),
        ("b,16,0", "b,1e9,0", "beyond all measure"),
        ("b,16,0", "a,16,0", '"a" is there twice'),
        ("b,16,0", "b,0,0", "lies where the next point lies"),
        ("pocket,a", ",a", "no piece is named"),
        ("corner,cm\npocket,c", "corner,furlong\npocket,c", "line 3, column F (unit)"),
        ("d,0,18,corner", "a..z,5,,length", 'has no point "z"'),
        ("d,0,18,corner", "a,5,,length", "does not say from where to where"),
        ("pocket,c,16,18,corner,cm\npocket,d,0,18,corner,cm\n", "", "2 points, too few"),
        ("x,y", "x,x", 'the column "x" is there twice'),
        ("x,y", "x,height", "no column x and y, or along and out"),
        ("kind,unit", "kind,unit,along,out", "both x, y and along, out"),
    ],
)
def test_what_cannot_be_meant_is_told_with_its_place(old: str, new: str, told: str) -> None:
    assert old in SQUARE
    with pytest.raises(InputError) as caught:
        read_tape(SQUARE.replace(old, new).encode(), name="pocket.csv")
    assert told in str(caught.value)
    assert "pocket.csv" in str(caught.value)


def test_a_table_without_a_unit_asks_for_one() -> None:
    with pytest.raises(InputError, match="--units"):
        read_tape(SQUARE.replace(",unit", "").replace(",cm", "").encode())


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ("pocket,a,0,0,corner,cm\npocket,b,16,0,corner,\n", "line 1: this is a point, where"),
        ("piece,point,along,kind,unit\npocket,a,0,corner,cm\n", "no column x and y, or along"),
        ("piece;point;x;y\npocket;a;0;0\n", "no column kind"),
    ],
)
def test_a_table_without_its_header_or_a_column_is_told_so(rows: str, told: str) -> None:
    assert claims_tape(rows.encode())
    with pytest.raises(InputError, match=told):
        read_tape(rows.encode(), name="pocket.csv")


@pytest.mark.parametrize(
    ("header", "told"),
    [
        ("rule,axis,unit,8,10", "a table of grade rules, not a pattern"),
        ("Measure;Unit;8;10", "a size chart, not a pattern"),
        ("piece,point,rule", "a table of points and their rules, not a pattern"),
    ],
)
def test_another_table_is_called_by_its_name(header: str, told: str) -> None:
    assert claims_tape(header.encode() + b"\n")
    with pytest.raises(InputError, match=told):
        read_tape(header.encode() + b"\na,b,c\n")


def test_points_out_of_order_are_refused_with_the_place() -> None:
    """Two sides of a bow tie; the place where they cross by shapely."""
    b, c = (160, 0), (160, 180)
    swapped = SQUARE.replace("16,0,", "?").replace("16,18,", "16,0,").replace("?", "16,18,")
    cross = shapely.LineString([(0, 0), c]).intersection(shapely.LineString([b, (0, 180)]))
    with pytest.raises(InputError, match=f"crosses itself at {cross.x:.0f}, {cross.y:.0f} mm"):
        read_tape(swapped.encode())


def test_cells_beyond_the_columns_are_refused() -> None:
    with pytest.raises(InputError, match="more cells than the header has columns"):
        read_tape(SQUARE.replace("16,18,", "16,18,5,").encode())


def test_a_length_that_fits_is_not_told_to_be_off() -> None:
    first, second = [line.split(",")[1] for line in SQUARE.splitlines()[1:3]]
    (told,) = read_tape(f"{SQUARE}pocket,{first}..{second},16,,length,cm\n".encode()).findings
    assert told.code == "tape-fits"
    assert told.text.endswith("by the tape")


def test_pieces_from_corners_of_their_own_are_laid_side_by_side() -> None:
    again = SQUARE.split("\n", 1)[1]
    far = "far,a,500,0,corner,cm\n,b,510,0,corner,\n,c,510,10,corner,\n"
    text = SQUARE + far + again.replace("pocket", "second") + again.replace("pocket", "third")
    pieces = read_tape(text.replace("pocket", "first").encode()).pattern.pieces
    shapes = [shapely.Polygon(p.outline.path.vertices) for p in pieces]
    assert [p.name for p in pieces] == ["first", "far", "second", "third"]
    assert all(a.disjoint(b) for a, b in itertools.combinations(shapes, 2))
    assert shapes[0].equals(shapely.box(0, 0, 160, 180))
    assert shapes[1].bounds == (5000.0, 0.0, 5100.0, 100.0)
    moved = shapely.affinity.translate(shapes[2], -5200.0)
    assert moved.equals_exact(shapes[0], 1e-9, normalize=True)
