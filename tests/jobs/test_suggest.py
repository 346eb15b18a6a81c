"""Names suggested for pieces without any: garments are known again, other shapes are not."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path as File

import numpy as np
import pytest

from sizewright.formats import read_svg
from sizewright.geometry import affine
from sizewright.geometry.path import Path
from sizewright.geometry.types import Floats
from sizewright.grading import grade, read_points
from sizewright.jobs.suggest import _named, suggestions
from sizewright.model import Outline, Pattern, Piece, Point
from sizewright.model.likeness import likenesses
from sizewright.shipped import shipped
from tests.cli.runs import run
from tests.operations import drawn, nest, steps


def bare(piece: Piece, m: Floats | None = None) -> Piece:
    """The outline alone, numbered anew, moved by `m`: as a drawing without a word would be."""
    path = piece.outline.path
    return Piece(piece.name, Outline.of(path if m is None else path.transformed(m)))


def said(piece: Piece) -> tuple[str, dict[int, set[str]]]:
    """What a piece is said to look like, and the names for each corner number."""
    found = suggestions(Pattern((piece,)))
    assert {f.code for f in found} <= {"names-suggested"}
    assert {f.level for f in found} <= {"note"}
    if not found:
        return "", {}
    (one,) = found
    text = one.text.replace(" may be", "")
    called, _, corners = text.removeprefix("looks like ").partition(": corner ")
    each = (re.fullmatch(r"(\d+) (.*)", part) for part in corners.split(", "))
    return called, {int(m[1]): set(re.findall("`(.*?)`", m[2])) for m in each if m}


def names_at(piece: Piece, known: Piece) -> dict[int, str]:
    """The true name of each corner of `piece`, which is `known` without its names."""
    places = {p.name: known.outline.vertex_at(p.vertex) for p in known.outline.points if p.name}
    found = {}
    for number, vertex in enumerate(piece.outline.corners, start=1):
        here = piece.outline.vertex_at(vertex)
        found[number] = min(places, key=lambda n: float(np.hypot(*(places[n] - here))))
    return found


MOVES = {
    "as it is": affine.identity(),
    "turned over": affine.affine(-1.0, 0.0, 0.0, 1.0, 900.0, 0.0),
    "on its side": affine.affine(0.0, 1.0, -1.0, 0.0, 0.0, 0.0),
    "a tenth larger": affine.affine(1.1, 0.0, 0.0, 1.1, 0.0, 0.0),
}


@pytest.mark.parametrize("move", MOVES)
@pytest.mark.parametrize("name", drawn("basic-set").names)
def test_the_basic_set_knows_itself(name: str, move: str) -> None:
    known = drawn("basic-set").piece(name)
    moved = bare(known, MOVES[move])
    called, corners = said(moved)
    assert name.replace("-", " ") in called
    truth = names_at(moved, known.transformed(np.array(MOVES[move])))
    assert set(corners) == set(truth)
    assert all(truth[number] in names for number, names in corners.items())
    # All but the sleeve, whose halves are alike, are told without a doubt.
    assert {len(names) for names in corners.values()} == ({2} if name == "sleeve" else {1})


@pytest.mark.parametrize("name", ["front", "back"])
def test_another_bodice_is_known_by_its_shape(name: str) -> None:
    known = drawn("supper-top").piece(name)
    called, corners = said(bare(known))
    assert called == f"a bodice {name}"
    truth = names_at(bare(known), known)
    # The back has a button stand: its ends stand where the centre would be.
    stand = {"waist-end": "waist-centre", "neck-end": "neck-centre"}
    assert corners == {n: {stand.get(name, name)} for n, name in truth.items()}


def test_other_pieces_of_that_garment_are_like_none() -> None:
    for piece in drawn("supper-top").pieces:
        if piece.name not in ("front", "back"):
            assert said(bare(piece)) == ("", {}), piece.name


@pytest.mark.parametrize("size", ["6", "20"])
def test_graded_pieces_are_known(size: str) -> None:
    for piece in nest("basic-set", size).pieces:
        assert piece.name.replace("-", " ") in said(bare(piece))[0], piece.name


def test_a_piece_with_any_name_gets_none_and_one_note_does_for_all_sizes() -> None:
    front = bare(drawn("basic-set").piece("front"))
    named = replace(front.outline, points=(Point(front.outline.corners[0], "mine"),))
    assert suggestions(Pattern((front.with_changes(outline=named),))) == ()
    sizes = tuple(front.with_changes(size=size) for size in ("10", "12"))
    (one,) = suggestions(Pattern(sizes))
    assert (one.piece, one.size) == ("front", "10")


def polygon(*points: tuple[float, float]) -> Path:
    return Path.polyline(np.array(points), closed=True)


def arch(width: float, height: float, rise: float) -> Path:
    """A window: straight sides and a round head, as wide and high as a sleeve may be."""
    w, c, top = width / 2, 0.5523, height + rise
    return Path.of(
        [
            [(-w, 0), (w, 0)],
            [(w, 0), (w, height)],
            [(w, height), (w * 0.9, height + c * rise), (w * c, top), (0, top)],
            [(0, top), (-w * c, top), (-w * 0.9, height + c * rise), (-w, height)],
            [(-w, height), (-w, 0)],
        ],
        closed=True,
    )


def bowed(width: float, height: float, bow: float) -> Path:
    """A rectangle whose upper side is a slight curve: a yoke, a board, a sail."""
    a, b = (width, height), (0.0, height)
    over = height + bow
    return Path.of(
        [
            [(0, 0), (width, 0)],
            [(width, 0), a],
            [a, (width * 0.7, over), (width * 0.3, over), b],
            [b, (0, 0)],
        ],
        closed=True,
    )


def star(points: int, inner: float) -> Path:
    turn = np.arange(2 * points) * np.pi / points
    reach = np.where(np.arange(2 * points) % 2, inner, 300.0)
    return polygon(*zip(reach * np.cos(turn), reach * np.sin(turn), strict=True))


SHAPES = {
    "rectangle": polygon((0, 0), (324, 0), (324, 590), (0, 590)),
    "house": polygon((0, 0), (324, 0), (324, 450), (162, 590), (0, 450)),
    "arch": arch(324, 450, 160),
    "low arch": arch(324, 550, 60),
    "board": bowed(324, 550, 90),
    "sail": bowed(216, 590, 20),
    "strip": bowed(900, 60, 20),
    "star of six": star(6, 150.0),
    "star of four": star(4, 200.0),
    "arrow": polygon((0, 0), (240, 0), (240, 400), (300, 400), (120, 600), (-60, 400), (0, 400)),
}


@pytest.mark.parametrize("name", SHAPES)
def test_what_is_no_garment_is_like_none(name: str) -> None:
    """As drawn, and with its sides given as curves, which alone lets it be compared."""
    path = SHAPES[name]
    curved = Path(path.controls, np.zeros(len(path), dtype=bool), True)
    for one in (path, curved):
        assert said(Piece(name, Outline.of(one))) == ("", {})


@pytest.mark.parametrize("seed", range(40))
def test_shapes_at_random_are_like_none(seed: int) -> None:
    """Star-shaped loops with as many corners as a piece has, their sides curves."""
    rng = np.random.default_rng(seed)
    n = int(rng.choice([4, 7, 8, 9, 12]))
    turn = np.sort(rng.uniform(0, 2 * np.pi, n))
    reach = rng.uniform(150, 500, n)
    path = polygon(*zip(reach * np.cos(turn), reach * np.sin(turn), strict=True))
    curved = Path(path.controls, np.zeros(n, dtype=bool), True)
    outline = Outline.of(curved)
    assert said(Piece("loop", outline)) == ("", {})


def test_a_toy_is_not_taken_for_a_garment() -> None:
    small = affine.affine(0.4, 0.0, 0.0, 0.4, 0.0, 0.0)
    for piece in drawn("basic-set").pieces:
        assert said(bare(piece, small)) == ("", {}), piece.name


def test_the_fit_is_that_of_a_similar_figure() -> None:
    """Turned by 30 degrees and twice as large it is off by nothing, and the scale is 2."""
    outline = drawn("basic-set").piece("front").outline
    s, c = 2 * np.sin(np.pi / 6), 2 * np.cos(np.pi / 6)
    best = likenesses(outline.transformed(affine.affine(c, s, -s, c, 7.0, -3.0)), outline)[0]
    assert best.off == pytest.approx(0.0, abs=1e-9)
    assert best.scale == pytest.approx(2.0)
    assert best.vertices == outline.corners
    assert not best.over


def bare_file(folder: File) -> File:
    """A drawing of the bodice front without a word."""
    path = bare(drawn("basic-set").piece("front")).outline.path
    places = [" ".join(f"{v:.4f}" for v in p) for p in (path.controls * [1, -1]).reshape(-1, 2)]
    d = f"M {places[0]} " + " ".join(
        "C " + ", ".join(places[k + 1 : k + 4]) for k in range(0, len(places), 4)
    )
    x0, _, _, y1 = path.bounds
    file = folder / "bare.svg"
    file.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="1300mm" '
        f'viewBox="{x0 - 20} {-y1 - 20} 900 1300"><path id="a" d="{d} Z"/></svg>'
    )
    return file


def test_show_tells_it_in_the_table_and_among_the_findings(
    capsys: pytest.CaptureFixture[str], tmp_path: File
) -> None:
    file = bare_file(tmp_path)
    table = run(capsys, "show", file)
    assert table.code == 0
    assert "looks like a bodice front: corner 1 may be" in " ".join(table.out.split())
    data = json.loads(run(capsys, "show", file, "--json").out)
    assert "names-suggested" in [f["code"] for f in data["findings"]]
    assert all(c["name"] is None for piece in data["pieces"] for c in piece["corners"])


def test_the_names_are_written_and_outlast_a_plain_save(
    capsys: pytest.CaptureFixture[str], tmp_path: File
) -> None:
    """Graded with both, the nest is that of the named front, but for points on its curves."""
    file = bare_file(tmp_path)
    points, marked = tmp_path / "points.csv", tmp_path / "marked.svg"
    told = run(capsys, "show", file, "--points", points, "--marked", marked)
    assert told.code == 0
    assert f"Table of points: {points}: 12 points of a" in told.out
    assert f"Marked drawing: {marked}: 12 points of a" in told.out
    known = drawn("basic-set").piece("front")
    rows = read_points(points)
    assert [r.rule for r in rows] == [
        known.outline.point(v).rule or known.outline.point(v).name for v in known.outline.corners
    ]
    plain = re.sub(r' (?:data-[\w-]+|inkscape:\w+|xmlns:inkscape)="[^"]*"', "", marked.read_text())
    assert "data-" not in plain
    saved = read_svg(plain.encode()).pattern.piece("a")
    assert names_at(saved, saved) == names_at(bare(known), known)
    rules = steps("basic-set")
    sizes = ["10", "12", "14"]
    by_marks = grade(read_svg(marked).pattern, rules, sizes, base_size="12").pattern
    by_table = grade(Pattern((saved,)), rules, sizes, base_size="12", points=rows).pattern
    for one, other in zip(by_marks.pieces, by_table.pieces, strict=True):
        assert one.outline.path.controls == pytest.approx(other.outline.path.controls, abs=1e-6)
    widths = [p.bounds[2] - p.bounds[0] for p in by_marks.pieces]
    assert widths == sorted(set(widths))


def test_nothing_is_written_where_nothing_is_alike(
    capsys: pytest.CaptureFixture[str], tmp_path: File
) -> None:
    named, out = shipped("examples/basic-set/basic-set.svg"), tmp_path / "p.csv"
    for args in (("--points", out), ("--marked", tmp_path / "m.dxf")):
        told = run(capsys, "show", named, *args)
        assert told.code == 2
        assert "none to write" in told.err or "written as SVG" in told.err
    assert not list(tmp_path.iterdir())


def test_of_two_names_the_better_fit_is_written_and_the_other_told(tmp_path: File) -> None:
    """A skirt's front and back are so alike that corners have two names."""
    piece = bare(drawn("basic-set").piece("trousers-back"))
    _, corners = said(piece)
    named, rules, doubts = _named(Pattern((piece,)))
    assert len(rules) == len(corners)
    got = names_at(named.piece("trousers-back"), named.piece("trousers-back"))
    assert all(got[k] in names for k, names in corners.items())
    assert len(doubts) == sum(len(names) - 1 for names in corners.values())


def test_looking_needs_no_scipy() -> None:
    code = (
        "import sys; from sizewright.jobs.show import looked_over; "
        "from sizewright.shipped import shipped; "
        "looked_over(shipped('examples/basic-set/basic-set.svg')); "
        "import sizewright.jobs.suggest as s; s._basic_set(); "
        "assert 'scipy' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
