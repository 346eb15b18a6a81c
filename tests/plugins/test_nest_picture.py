"""The picture of a nest: every size told apart, named at its line, and nothing over anything."""

from __future__ import annotations

import json
import subprocess
import xml.etree.ElementTree as ET
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from pathlib import Path as File

import numpy as np
import pytest
from shapely.geometry import LineString, Point
from svgelements import Move
from svgelements import Path as SvgPath

from sizewright.errors import LookupFailed
from sizewright.geometry import affine
from sizewright.grading import nest_growth
from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import perform
from sizewright.model import Pattern, Piece
from sizewright.pictures import size_lines
from sizewright.plugin import Output
from sizewright.shipped import shipped
from tests import operations
from tests.operations import plugins, write
from tests.pictures.patterns import bodice, rectangle
from tests.pictures.written import SVG, words
from tests.programs import need

SIZES = ("8", "10", "12", "14", "16")


@cache
def supper_top() -> Pattern:
    """The demo, graded and with its cutting lines."""
    job = read_job(shipped("examples/supper-top/supper-top.toml"))
    return perform(replace(job, outputs=(), checks=()), plugins()).pattern


def written(pattern: Pattern, **given: object) -> Output:
    return write(pattern, "nest-picture", **given)


def drawn(pattern: Pattern, **given: object) -> ET.Element:
    return ET.fromstring(written(pattern, **given).data)


@cache
def _demo(given: str) -> bytes:
    return written(supper_top(), **json.loads(given)).data


def demo(**given: object) -> ET.Element:
    """The picture of the demo, drawn once for each choice of settings."""
    return ET.fromstring(_demo(json.dumps(given)))


def of_piece(root: ET.Element, name: str) -> ET.Element:
    found = [g for g in root.iter(f"{SVG}g") if g.findtext(f"{SVG}title") == name]
    assert len(found) == 1
    return found[0]


def points_of(element: ET.Element) -> np.ndarray:
    """A polyline's points, or points close together on a path, as the SVG has them."""
    if "points" in element.attrib:
        pairs = [[float(v) for v in p.split(",")] for p in element.attrib["points"].split()]
        return np.array([*pairs, pairs[0]] if element.tag == f"{SVG}polygon" else pairs)
    # Reference: svgelements reads the path and evaluates its segments.
    parts = [part for part in SvgPath(element.attrib["d"]) if not isinstance(part, Move)]
    return np.concatenate([part.npoint(np.linspace(0, 1, 50)) for part in parts])


@dataclass(frozen=True)
class Stroke:
    colour: str
    width: float
    dashes: str
    points: np.ndarray


def strokes(group: ET.Element) -> list[Stroke]:
    return [
        Stroke(e.attrib["stroke"], float(e.attrib["stroke-width"]), dashes, points_of(e))
        for e in group
        if "stroke" in e.attrib and e.tag != f"{SVG}circle"
        for dashes in [e.attrib.get("stroke-dasharray", "")]
    ]


def long(stroke: Stroke) -> bool:
    return LineString(stroke.points).length > 100


@pytest.mark.parametrize(
    "given",
    [{}, {"arrows": True, "lines": "sewing"}, {"align": ["underarm", "hem-side"]}],
    ids=["plain", "arrows", "aligned"],
)
def test_words_lie_over_no_other_words(given: dict[str, object]) -> None:
    found = list(words(demo(**given)))
    assert len(found) > 50
    over = [(a, b) for (a, p), (b, q) in combinations(found, 2) if p.intersects(q)]
    assert over == []


def test_words_lie_over_no_other_words_where_room_is_short() -> None:
    """Seven pieces with many darts, in one size: letters are large beside the pieces."""
    found = list(words(drawn(operations.drawn("basic-set"))))
    assert not [(a, b) for (a, p), (b, q) in combinations(found, 2) if p.intersects(q)]


def test_words_that_do_overlap_are_seen_to() -> None:
    root = demo()
    root.append(next(root.iter(f"{SVG}text")))
    found = list(words(root))
    assert any(p.intersects(q) for (_, p), (_, q) in combinations(found, 2))


def test_each_size_is_named_once_at_its_own_line() -> None:
    root = demo()
    kinds = dict(zip(SIZES, size_lines(5), strict=True))
    for name in supper_top().names:
        group = of_piece(root, name)
        labels = dict(words(group))
        assert set(SIZES) <= set(labels)
        assert sum(e.text in SIZES for e in group.iter(f"{SVG}text")) == 5
        for size, line in kinds.items():
            own = [s for s in strokes(group) if s.colour == line.colour]
            outline = max(own, key=lambda s: LineString(s.points).length)
            # The thin line from the name ends on the outline of that size.
            ties = [s for s in own if s.width == 0.2 and len(s.points) == 2]
            assert len(ties) == 1, (name, size)
            tie = LineString(ties[0].points)
            # A fold is a line of its own, so an outline may begin and end there.
            assert LineString(outline.points).distance(Point(tie.coords[0])) < 0.15, (name, size)
            assert labels[size].distance(Point(tie.coords[-1])) < 1.5
            others = [labels[other] for other in SIZES if other != size]
            assert not any(tie.intersects(label) for label in others)


def test_sizes_have_lines_of_their_own_and_the_base_is_heavier() -> None:
    group = of_piece(demo(), "peplum-back")
    outlines = [s for s in strokes(group) if long(s)]
    assert len({(s.colour, s.dashes) for s in outlines}) >= 5
    thick = {s.colour for s in outlines if s.width > 0.6}
    assert thick == {size_lines(5)[2].colour}


def test_key_heading_and_warning() -> None:
    found = {e.text for e in demo().iter(f"{SVG}text")}
    assert {"8", "10", "12 (as drawn)", "14", "16", "fold", "grain"} <= found
    assert "Supper top, sizes 8 to 16, cutting lines" in found
    assert "Not to full scale: do not cut from this picture." in found
    sewn = {e.text for e in demo(lines="sewing").iter(f"{SVG}text")}
    assert "Supper top, sizes 8 to 16, sewing lines" in sewn


def wide(*widths: float) -> Pattern:
    """Rectangles 200 high, one for each width in sizes A, B, C, their lower right rule `out`."""
    pieces = []
    for size, w in zip("ABC", widths, strict=False):
        piece = rectangle("panel", w, 200, kind="sew", size=size)
        outline = piece.outline.with_point(1, name="corner", rule="out")
        pieces.append(replace(piece, outline=outline.with_point(2, name="top", rule="out")))
    return Pattern(tuple(pieces), base_size="B", title="Panel")


def test_true_proportions_and_order_of_size() -> None:
    # Listed largest first: the lines go by size all the same, smallest first.
    pattern = wide(140, 120, 100)
    group = of_piece(drawn(pattern), "panel")
    by_colour = {s.colour: s.points for s in strokes(group) if long(s) and len(s.points) == 5}
    spans = [np.ptp(by_colour[line.colour], axis=0) for line in size_lines(3)]
    for span, true in zip(spans, (100, 120, 140), strict=True):
        assert span[0] / span[1] == pytest.approx(true / 200, rel=1e-3)
        assert span[1] == pytest.approx(spans[0][1], abs=2e-3)


def test_arrows_are_as_long_as_the_points_move() -> None:
    pattern = wide(100, 106, 116)
    plain = strokes(of_piece(drawn(pattern), "panel"))
    group = of_piece(drawn(pattern, arrows=True), "panel")
    smallest = next(s.points for s in plain if s.colour == size_lines(3)[0].colour and long(s))
    scale = np.ptp(smallest[:, 0]) / 100
    heads = [points_of(e) for e in group if e.tag == f"{SVG}polygon" and len(points_of(e)) == 4]
    tips = sorted(float(h[0, 0]) for h in heads)
    start = smallest[:, 0].max()
    moved = [(tip - start) / scale for tip in tips]
    assert moved == pytest.approx([6, 6, 16, 16], abs=0.02)
    # The growth that was drawn is the one that the nest has.
    assert sorted(s.move[0] for s in nest_growth(pattern)) == pytest.approx([6, 6, 10, 10])


def test_the_sewing_line_below_the_arrows_is_no_size_and_is_in_the_key() -> None:
    root = demo(arrows=True)
    named = [text for text, _ in words(root)]
    assert "sewing line of 12" in named
    assert "sewing line of 12" not in [text for text, _ in words(demo())]
    thin = [e for e in root.iter() if e.attrib.get("stroke-width") == "0.15"]
    assert len(thin) > 3
    assert not [e for e in thin if "stroke-dasharray" in e.attrib]


@pytest.mark.parametrize("which", ["sewing", "outermost"])
def test_sewing_or_outermost(which: str) -> None:
    pattern = supper_top()
    group = of_piece(drawn(pattern, lines=which), "peplum-front")
    largest = max((s.points for s in strokes(group) if long(s)), key=lambda p: np.ptp(p[:, 1]))
    piece = pattern.piece("peplum-front", "16")
    lines = {"sewing": piece.outline, "outermost": piece.drawn}
    shapes = {}
    for name, line in lines.items():
        x0, y0, x1, y1 = line.path.bounds
        shapes[name] = (y1 - y0) / (x1 - x0)
    # The hem has 3 cm, the top and the side 1.5 cm, so the two are not alike in shape.
    assert abs(shapes["sewing"] - shapes["outermost"]) > 0.05
    wide, tall = np.ptp(largest, axis=0)
    assert tall / wide == pytest.approx(shapes[which], rel=0.005)


def test_place_that_no_piece_has_is_refused() -> None:
    with pytest.raises(LookupFailed, match="elbow"):
        written(supper_top(), align=["elbow"])
    with pytest.raises(LookupFailed, match="sleeve"):
        written(supper_top(), align=["sleeve: underarm"])


def test_one_size_or_none_is_drawn_with_a_note() -> None:
    made = written(Pattern((bodice(),), base_size="12"))
    assert [f.code for f in made.findings] == ["nest-single"]
    assert "size 12" in made.data.decode()
    bare: Piece = rectangle("tab", 30, 18)
    assert b"tab" in written(Pattern((bare,))).data
    assert not written(wide(100, 106)).findings


def test_more_sizes_than_lines_are_all_named() -> None:
    pieces = [rectangle("panel", 100 + 6 * i, 150 + 4 * i, size=f"{30 + 2 * i}") for i in range(11)]
    root = drawn(Pattern(tuple(pieces), base_size="40"))
    named = [text for text, _ in words(of_piece(root, "panel"))]
    assert all(named.count(p.size or "") == 1 for p in pieces)


def test_sizes_drawn_apart_are_laid_over_each_other() -> None:
    a, b, c = wide(100, 106, 116).pieces
    apart = Pattern((a, b.transformed(affine.translation(400, 30)), c), base_size="B")
    group = of_piece(drawn(apart), "panel")
    lefts = [s.points[:, 0].min() for s in strokes(group) if len(s.points) == 5 and long(s)]
    assert np.ptp(lefts) < 2e-3


def test_same_pattern_same_bytes() -> None:
    assert written(supper_top(), arrows=True).data == _demo(json.dumps({"arrows": True}))


def test_a_renderer_takes_it(tmp_path: File) -> None:
    renderer = need("rsvg-convert")
    source, out = tmp_path / "nest.svg", tmp_path / "nest.png"
    source.write_bytes(written(wide(100, 106, 116)).data)
    done = subprocess.run([renderer, "-o", out, source], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert out.read_bytes()[1:4] == b"PNG"
