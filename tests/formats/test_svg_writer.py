"""The SVG file itself: well formed, valid ids, the same to the byte, small, drawn by others."""

from __future__ import annotations

import re
import subprocess
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np
import pytest
from hypothesis import given, settings
from PIL import Image

from sizewright.formats.drawing.settled import number
from sizewright.formats.svg.page_out import Frame
from sizewright.formats.svg.writer import write_svg
from sizewright.geometry import affine
from sizewright.geometry.nearest import nearest
from sizewright.geometry.path import Path
from sizewright.model import (
    ChainPart,
    Fold,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Quantity,
    Run,
    Seam,
)
from sizewright.palette import CUT_LINE, FOLD_LINE, SEW_LINE
from tests.formats.full_pattern import full_pattern
from tests.programs import need
from tests.strategies import patterns

NS = {"svg": "http://www.w3.org/2000/svg"}
LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
# XML 1.0, production 5, for the letters that the writer lets through.
NAME = re.compile(r"[A-Za-z_][A-Za-z0-9._-]*")


def square(name: str = "p", x: float = 10.0, y: float = 10.0, size: float = 100.0) -> Piece:
    corners = [(x, y), (x + size, y), (x + size, y + size), (x, y + size)]
    return Piece(name, Outline.of(Path.polyline(corners, closed=True)))


def codes(pattern: Pattern) -> list[str]:
    return [f.code for f in write_svg(pattern).findings]


@settings(max_examples=settings.default.max_examples // 4)
@given(pattern=patterns())
def test_well_formed_with_valid_unique_ids(pattern: Pattern) -> None:
    written = write_svg(pattern)
    root = ET.fromstring(written.text)
    ids = [e.attrib["id"] for e in root.iter() if "id" in e.attrib]
    assert len(set(ids)) == len(ids)
    assert all(NAME.fullmatch(i) for i in ids)
    assert written.text == write_svg(pattern).text
    assert max(map(len, written.text.splitlines())) < 400


def test_numbers_are_short_and_never_exponents() -> None:
    assert [number(v) for v in (1.0, -0.0, 1e-9, 0.1 + 0.2, 1234567.0, -2.5)] == [
        *("1", "0", "0", "0.3", "1234567", "-2.5")
    ]
    # Noise below the tenth decimal does not turn a half the other way.
    assert number(0.00000005) == number(0.00000005 - 1e-13) == number(0.00000005 + 1e-13)
    assert number(2.0005 - 4e-13, 3) == number(2.0005 + 4e-13, 3)


def test_path_data_is_what_a_person_would_write() -> None:
    path = Path.of(
        [[(10, 80), (50, 80)], [(50, 80), (60, 70), (60, 50), (50, 40)], [(50, 40), (10, 80)]],
        closed=True,
    )
    assert Frame(100, 100).data(path) == "M 10 20 H 50 C 60 30 60 50 50 60 Z"


def test_pieces_keep_their_place_when_they_lie_on_the_page() -> None:
    inside = Pattern((square(),), page=(300.0, 200.0))
    assert codes(inside) == []
    assert 'width="300mm" height="200mm" viewBox="0 0 300 200"' in write_svg(inside).text
    assert 'd="M 10 190 H 110 V 90 H 10 Z"' in write_svg(inside).text
    assert 'viewBox="0 0 120 120"' in write_svg(Pattern((square(),))).text
    assert codes(Pattern((square(),))) == []
    assert codes(Pattern((square(),), page=(50.0, 200.0))) == []
    below = write_svg(Pattern((square(y=-30.0),)))
    assert [f.code for f in below.findings] == ["shifted"]
    assert "40 mm up" in below.findings[0].text
    assert 'd="M 10 110 H 110 V 10 H 10 Z"' in below.text
    assert write_svg(Pattern(())).text.count("<g") == 0


def test_sizes_are_layers() -> None:
    pattern = Pattern(
        tuple(square(name).with_changes(size=size) for size in ("12", "14") for name in ("a", "b"))
    )
    root = ET.fromstring(write_svg(pattern).text)
    layers = [g for g in root if g.tag.endswith("}g")]
    assert [g.attrib[LABEL] for g in layers] == ["12", "14"]
    assert [[p.attrib["data-piece"] for p in g] for g in layers] == [["a", "b"], ["a", "b"]]
    ids = [p.attrib["id"] for g in layers for p in g]
    assert ids == ["a", "b", "a-14", "b-14"]


def test_each_size_of_a_nest_is_named_on_its_line() -> None:
    sizes = [square(size=100.0 + 12 * k).with_changes(size=s) for k, s in enumerate("SML")]
    root = ET.fromstring(write_svg(Pattern(tuple(sizes), page=(200.0, 200.0))).text)
    layers = [g for g in root if g.tag.endswith("}g")]
    for layer, piece in zip(layers, sizes, strict=True):
        (name,) = (t for t in layer.iter(f"{{{NS['svg']}}}text") if t.text == piece.size)
        blank = next(layer.iter(f"{{{NS['svg']}}}rect"))
        x = float(blank.attrib["x"]) + float(blank.attrib["width"]) / 2
        y = 200 - float(blank.attrib["y"]) - float(blank.attrib["height"]) / 2
        at = np.array([x, y])
        line = next(p for p in layer.iter(f"{{{NS['svg']}}}path") if "data-role" in p.attrib)
        assert name.attrib["fill"] == line.attrib["stroke"]
        ring = piece.outline.path
        assert float(nearest(ring, at[None]).distance[0]) < 0.02
    one = write_svg(Pattern((sizes[0],))).text
    assert ">S<" not in one


def test_on_the_fold_there_is_no_line_but_the_fold(tmp_path: FilePath) -> None:
    """Colours as `rsvg-convert` draws them, on the middle of the fold and beside it."""
    renderer = need("rsvg-convert")
    sewn = replace(square(), kind="sew", fold=Fold(3, 0))
    cut = Path.polyline([(10, -5), (125, -5), (125, 125), (10, 125)], closed=True)
    piece = replace(sewn, cut_line=Outline.of(cut))
    frames = {}
    for name, one in (("fold", piece), ("plain", replace(piece, fold=None))):
        source, out = tmp_path / f"{name}.svg", tmp_path / f"{name}.png"
        source.write_text(write_svg(Pattern((one,))).text, "utf-8")
        subprocess.run([renderer, "-z", "4", "-b", "white", "-o", out, source], check=True)
        with Image.open(out) as image:
            frames[name] = np.asarray(image.convert("RGB"), dtype=int)

    def inked(frame: np.ndarray, colour: str) -> int:
        rgb = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
        height = frame.shape[0]
        scale = 4 * 96 / 25.4
        column = round(10 * scale)
        strip = frame[height // 4 : 3 * height // 4, column - 3 : column + 4]
        return int((np.abs(strip - rgb).max(axis=2) < 40).sum())

    assert inked(frames["plain"], CUT_LINE.colour) + inked(frames["plain"], SEW_LINE.colour) > 200
    assert inked(frames["fold"], CUT_LINE.colour) == inked(frames["fold"], SEW_LINE.colour) == 0
    assert inked(frames["fold"], FOLD_LINE.colour) > 200


def test_names_of_every_kind_are_written_and_what_cannot_be_is_found() -> None:
    outline = square().outline
    odd = Outline.of(
        outline.path,
        points=[Point(0, '<&">'), Point(1, "tab\there")],
        runs=[Run(0, 1, "bell\a")],
    )
    piece = Piece("Ärmel 京", odd, quantity=(Quantity("a, b", 1),), story=("two\nlines",))
    written = write_svg(Pattern((piece,)))
    root = ET.fromstring(written.text)
    group = root.find("svg:g", NS)
    assert group is not None
    assert (group.attrib["id"], group.attrib[LABEL]) == ("Armel-", "Ärmel 京")
    points = [e.attrib["data-point"] for e in root.iter() if "data-point" in e.attrib]
    assert points == ['<&">', "tab\there"]
    found = sorted({f.code for f in written.findings})
    assert found == ["name-changed", "story-changed"]
    assert any("edge" in f.place for f in written.findings)


def test_a_base_that_is_not_in_the_file_is_found() -> None:
    base = square().with_changes(size="12")
    larger = base.with_changes(size="14", base=base)
    assert codes(Pattern((base, larger))) == []
    assert codes(Pattern((larger,))) == ["base-not-held"]


@pytest.mark.parametrize("name", ["-front", "2 x front"])
def test_a_seam_that_its_phrase_would_twist_is_found(name: str) -> None:
    seam = Seam("side", (ChainPart(name, "side"),), (ChainPart("back", "side"),))
    pattern = Pattern((square(name), square("back", x=200.0)), seams=(seam,))
    assert codes(pattern) == ["seam-not-held"]
    assert "data-seams" not in write_svg(pattern).text


@pytest.mark.parametrize("kind", ["slit", "v", "t", "castle", "check", "u"])
def test_notches_point_inward_from_the_outermost_line(kind: str) -> None:
    piece = square()
    cut = piece.outline.transformed(affine.affine(1.2, 0, 0, 1.2, -12.0, -12.0))
    notch = Notch(piece.outline.spot(40.0), kind, 8.0)  # type: ignore[arg-type]
    for cut_line in (None, cut):
        pattern = Pattern(
            (piece.with_changes(kind="sew", cut_line=cut_line, notches=(notch,)),),
            page=(200.0, 200.0),
        )
        root = ET.fromstring(write_svg(pattern).text)
        drawn = next(e for e in root.iter() if e.attrib.get("data-role") == "notch")
        places = np.array(re.findall(r"[-\d.]+", drawn.attrib["d"]), dtype=float).reshape(-1, 2)
        edge = 200.0 - (10.0 if cut_line is None else 0.0)
        assert places[:, 1].max() == edge
        assert places[:, 1].min() == edge - 8.0
        assert abs((places[:, 0].min() + places[:, 0].max()) / 2 - 50.0) < 0.5


@settings(max_examples=3)
@given(pattern=patterns())
def test_others_draw_it(pattern: Pattern) -> None:
    program = need("rsvg-convert")
    result = subprocess.run(
        [program, "--width", "300", "--keep-aspect-ratio", "--format", "png"],
        input=write_svg(pattern).text.encode(),
        capture_output=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr
    assert result.stdout.startswith(b"\x89PNG")


def test_a_general_editor_measures_the_outline_alike(tmp_path: FilePath) -> None:
    file = tmp_path / "one.svg"
    file.write_text(write_svg(full_pattern()).text, "utf-8")
    result = subprocess.run(
        [need("inkscape"), "--query-all", str(file)], capture_output=True, text=True, check=True
    )
    boxes = {}
    for line in result.stdout.splitlines():
        name, *box = line.split(",")
        if len(box) == 4:
            boxes[name] = [float(v) * 25.4 / 96 for v in box]  # CSS pixels
    x, y, width, height = boxes["back.outline"]
    # The box is that of the painted line: half its width lies outside on every side.
    assert abs(x - 220.0) < 0.5
    assert abs(width - 150.0) < 1.0
    assert abs(y - (297.0 - 210.0)) < 0.5
    assert abs(height - 190.0) < 1.0
    assert {"front", "front.sew", "front.fold", "front.grain", "size-12"} <= boxes.keys()
