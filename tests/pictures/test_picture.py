"""The picture of a pattern: everything is on it, legible, and nothing lies over anything."""

from __future__ import annotations

import subprocess
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations
from pathlib import Path as File

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from sizewright.geometry.flatten import flatten
from sizewright.jobs.files import open_pattern
from sizewright.model import Pattern, Piece
from sizewright.pictures import picture, piece_picture
from sizewright.pictures.sketch import Sketch, Words
from sizewright.shipped import shipped
from sizewright.units import both
from tests.pictures.patterns import ALL, bodice, pocket, rectangle, star
from tests.pictures.written import SVG, words
from tests.programs import need


def texts(svg: str) -> list[str]:
    return ["".join(e.itertext()) for e in ET.fromstring(svg).iter(f"{SVG}text")]


def tight(words: Words) -> Polygon:
    """The letters themselves: the box less its leading."""
    box = words.box
    return Polygon(replace(box, width=box.width * 0.94, height=words.size * 0.8).corners)


def overlaps(sketch: Sketch) -> list[tuple[str, str]]:
    shapes = [(words.text, tight(words)) for words in sketch.labels]
    return [(a, b) for (a, p), (b, q) in combinations(shapes, 2) if p.intersects(q)]


def crossed(sketch: Sketch, piece: Piece) -> list[str]:
    points = flatten(piece.drawn.path, 0.05)
    line = LineString([*points, points[0]])
    return [words.text for words in sketch.labels if tight(words).intersects(line)]


@pytest.mark.parametrize("name", ALL)
def test_words_lie_over_no_other_words_and_no_outline(name: str) -> None:
    for piece in ALL[name]().pieces:
        x0, y0, x1, y1 = piece.bounds
        size = max(x1 - x0, y1 - y0) / 60
        sketch = piece_picture(piece, size)
        assert overlaps(sketch) == []
        assert crossed(sketch, piece) == []


def test_words_that_do_overlap_are_seen_to() -> None:
    sketch = piece_picture(pocket(), 4.0)
    sketch.words(sketch.labels[0])
    assert overlaps(sketch)


def test_a_picture_grows_until_words_have_room() -> None:
    # Beside a large piece the letters are large for the small one.
    pattern = Pattern((bodice(), rectangle("cloth", 1500, 2400)))
    root = ET.fromstring(picture(pattern))
    assert max(int(root.attrib["width"]), int(root.attrib["height"])) >= 1790
    found = list(words(root))
    assert len(found) > 40
    assert [(a, b) for (a, p), (b, q) in combinations(found, 2) if p.intersects(q)] == []


def test_everything_has_its_word_and_both_units() -> None:
    piece = bodice()
    found = texts(picture(Pattern((piece,))))
    for point in piece.outline.points:
        assert point.name in found
    for number in range(1, 12):
        assert str(number) in found
    for run in piece.outline.runs:
        assert run.name in found
    longest = piece.outline.edges[0]
    assert both(longest.length) in found
    assert {"place on the fold", "grain, one way", "grade axis", "dart bust", "pleat centre"} <= {
        *found
    }
    assert {"lengthen or shorten here", "cut out tie-slot (right only)", "armhole-front"} <= {
        *found
    }
    assert {"front", "size 12", "cut 1 main, 1 interfacing", "Front, cut 1 on the fold"} <= {*found}
    assert {"10 cm", "4 in", "Not to full scale: do not cut from this picture."} <= {*found}


def test_words_are_led_out_of_the_piece_and_out_of_strange_darts() -> None:
    pattern = open_pattern(shipped("examples/supper-top/supper-top.svg")).pattern
    front = pattern.piece("front")
    size = 14.0
    sketch = piece_picture(front, size)
    found = {w.text: w.box for w in sketch.labels}
    middle = found["lengthen or shorten here"]
    x0, _, x1, _ = front.bounds
    assert not x0 < middle.x < x1
    bust = next(d for d in front.darts if d.name == "bust")
    a, b = (front.outline.vertex_at(v) for v in (bust.a, bust.b))
    wedge = Polygon([a, b, bust.apex])
    waist = found["dart waist"]
    assert not wedge.contains(Point(waist.x, waist.y))
    assert "side" not in crossed(sketch, front)


def test_the_lengths_of_an_enlarged_piece_are_true() -> None:
    sketch = piece_picture(rectangle("tab", 30, 18), 2.0, scale=6.0)
    words = [one.text for one in sketch.labels]
    assert words.count(both(30.0)) == 2
    assert words.count(both(18.0)) == 2
    assert "drawn 6 times larger" in words
    assert sketch.parts[0].path.bounds == (0, 0, 180, 108)  # type: ignore[union-attr]


def test_the_drawing_is_in_true_proportion_and_upright() -> None:
    root = ET.fromstring(picture(Pattern((rectangle("panel", 300, 200, kind="cut"),))))
    polygons = [
        np.array([[float(v) for v in pair.split(",")] for pair in e.attrib["points"].split()])
        for e in root.iter(f"{SVG}polygon")
    ]
    spans = [tuple(np.round(p.max(axis=0) - p.min(axis=0), 2)) for p in polygons]
    # In mm: once filled, once as its line.
    assert spans.count((300.0, 200.0)) == 2
    _, _, wide, high = map(float, root.attrib["viewBox"].split())
    assert max(int(root.attrib["width"]), int(root.attrib["height"])) == 1400
    assert int(root.attrib["width"]) / int(root.attrib["height"]) == pytest.approx(
        wide / high, rel=0.01
    )
    ring = {e.text: float(e.attrib["y"]) for e in root.iter(f"{SVG}text")}
    assert ring["4"] < ring["1"], "corner 4 is above corner 1"


@pytest.mark.parametrize("name", ALL)
def test_letters_are_legible_in_the_whole_picture(name: str) -> None:
    root = ET.fromstring(picture(ALL[name]()))
    scale = int(root.attrib["width"]) / float(root.attrib["viewBox"].split()[2])
    sizes = [float(e.attrib["font-size"]) * scale for e in root.iter(f"{SVG}text")]
    assert min(sizes) >= 9.0
    assert np.median(sizes) >= 10.5


def test_same_pattern_same_bytes() -> None:
    pattern = Pattern((bodice(), pocket()))
    assert picture(pattern) == picture(pattern)


def test_odd_names_make_a_sound_file() -> None:
    name = "<b> & 'q' \x01"
    found = texts(picture(Pattern((rectangle(name, 200, 100),), title="a < b")))
    assert {"<b> & 'q' ", "a < b"} <= {*found}


def test_many_pieces_still_make_a_picture() -> None:
    pieces = tuple(rectangle(f"p{i}", 90 + i, 120, kind="cut") for i in range(30))
    root = ET.fromstring(picture(Pattern(pieces)))
    assert int(root.attrib["width"]) < 9000
    assert sum(e.text == "p7" for e in root.iter(f"{SVG}text")) == 1


def test_no_pieces_no_picture() -> None:
    with pytest.raises(ValueError, match="at least one piece"):
        picture(Pattern(()))


def test_a_renderer_takes_it(tmp_path: File) -> None:
    renderer = need("rsvg-convert")
    source, out = tmp_path / "star.svg", tmp_path / "star.png"
    source.write_text(picture(star()), "utf-8")
    done = subprocess.run([renderer, "-o", out, source], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    # Width and height in the PNG header.
    head = out.read_bytes()[16:24]
    assert max(int.from_bytes(head[:4]), int.from_bytes(head[4:])) == 1400
