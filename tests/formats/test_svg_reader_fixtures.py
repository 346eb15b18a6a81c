"""Every fixture against figures that were measured without opening the file."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest

from sizewright.errors import SizewrightError
from sizewright.formats.reading import Reading
from sizewright.formats.svg.reader import read_svg
from sizewright.model import Piece
from sizewright.units import Unit

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
EXPECTED: dict[str, dict[str, dict[str, Any]]] = json.loads(
    (FIXTURES / "expected.json").read_text()
)
HOSTILE: dict[str, str] = json.loads((FIXTURES / "hostile" / "expected.json").read_text())
#: Arcs may lie this far from the true line, in mm (geometry.arcs).
ARC = 1e-4
#: The bag of `simple.svg`.
BAG = 24477.5


def _working_area(piece: Piece) -> float:
    return piece.outline.path.area - sum(abs(c.path.area) for c in piece.cutouts)


def test_every_drawing_has_figures() -> None:
    assert {p.name for p in FIXTURES.glob("*.svg")} == EXPECTED.keys()
    assert {p.name for p in (FIXTURES / "hostile").glob("*.svg")} == HOSTILE.keys()


@pytest.mark.parametrize("file", sorted(EXPECTED))
def test_drawing_is_read_true_to_scale(file: str) -> None:
    expected = EXPECTED[file]
    unit = Unit.MM if any("given_units" in e for e in expected.values()) else None
    pattern = read_svg(FIXTURES / file, units=unit).pattern
    pieces: dict[str, Piece] = {}
    for piece in pattern.pieces:
        sized = f"{piece.name}/{piece.size}"
        pieces[sized if sized in expected else piece.name] = piece
    if "unnamed-1" in expected:
        pieces = dict(zip(expected, pieces.values(), strict=True))
    assert pieces.keys() == expected.keys()
    assert len(pattern.pieces) == len(expected)
    for name, figures in expected.items():
        path = pieces[name].outline.path
        share = figures.get("tolerance", 1e-6)
        arcs = ARC if "arc" in file or "shapes" in file else 0.0
        assert _working_area(pieces[name]) == pytest.approx(
            figures["area"], rel=share, abs=arcs * path.length
        ), name
        assert path.length == pytest.approx(figures["perimeter"], rel=share, abs=7 * arcs), name
        assert len(pieces[name].outline.corners) == figures["corners"], name
        if "bounds" in figures:
            within = 0.01 if "tolerance" in figures else 1e-3
            assert path.bounds == pytest.approx(figures["bounds"], abs=within), name


@pytest.mark.parametrize("file", sorted(HOSTILE))
def test_hostile_drawing_is_refused_or_told(file: str) -> None:
    begun = time.process_time()
    reading, error = _read_or_error(FIXTURES / "hostile" / file)
    assert time.process_time() - begun < 30  # a guard against hanging, not a speed
    if reading is None:
        assert HOSTILE[file] in ("refused", "told", "bounded")
        assert error is not None
        assert file in str(error)
        assert error.exit_code == 2
        return
    assert HOSTILE[file] != "refused"
    areas = [round(p.area, 3) for p in reading.pattern.pieces]
    grave = [f for f in reading.findings if f.level != "note"]
    if HOSTILE[file] == "told":
        assert grave
    elif HOSTILE[file] == "fine":
        assert grave == []
        assert areas == [BAG]
    else:
        assert areas in ([BAG], [1600.0])


def _read_or_error(file: Path) -> tuple[Reading | None, SizewrightError | None]:
    try:
        return read_svg(file), None
    except SizewrightError as error:
        return None, error


def test_features_are_all_there() -> None:
    """One of each in `features.svg`, as the drawing says in its own numbers (880 mm high)."""
    pattern = read_svg(FIXTURES / "features.svg").pattern
    front = pattern.piece("front")
    outline = front.outline
    assert (front.kind, front.size, pattern.base_size) == ("sew", "12", "12")
    assert [(q.material, q.count) for q in front.quantity] == [("main", 1), ("interfacing", 1)]
    assert front.axis is not None
    assert (front.axis.start, front.axis.end) == ((90, 280), (90, 680))
    assert front.grain is not None
    assert (front.grain.start, front.grain.end, front.grain.ends) == ((60, 320), (60, 660), 1)
    assert front.fold is not None
    assert tuple(outline.vertex_at(front.fold.start)) == (20, 740)
    assert tuple(outline.vertex_at(front.fold.end)) == (20, 240)
    kinds = [(n.kind, n.depth, n.count) for n in front.notches if n.kind != "slit"]
    assert kinds == [("v", 6, 1), ("t", 6, 1), ("castle", 5, 1), ("check", 5, 1), ("u", 5, 1)]
    places = [outline.path.at(outline.arc_length_of(n.at)) for n in front.notches]
    for place, x, y in zip(
        places[:5], (211, 168, 266, 290, 284), (690, 802, 450, 280, 600), strict=True
    ):
        assert tuple(place) == pytest.approx((x, y), abs=0.02)
    (dart,) = front.darts
    assert (dart.name, dart.apex) == ("bust", (194, 565))
    assert [outline.point(v).name for v in (dart.a, dart.b)] == ["dart-lower", "dart-upper"]
    (pleat,) = front.pleats
    mouth = outline.vertex_at(pleat.a), outline.vertex_at(pleat.b)
    assert [tuple(p) for p in mouth] == [(44, 740), (20, 740)]
    assert [h.vertices for h in front.holds] == [
        (outline.vertex("dart-upper"),),
        (outline.vertex("dart-lower"),),
    ]
    assert [(m.kind, m.side, m.path.closed) for m in front.marks] == [
        ("pocket", "left", False),
        ("button", "left", True),
    ]
    assert [(c.name, c.side) for c in front.cutouts] == [("tie-slot", "right")]
    assert [(d.name, d.at) for d in front.drills] == [("bust", (169, 565))]
    (label,) = front.labels
    assert (label.at, label.height, label.text) == ((110, 340), 12, "Front, cut 1 on the fold")
    assert [a.name for a in front.adjusts] == ["above-waist"]
    assert len(front.story) == 3
    waist = outline.point(outline.vertex("side-waist"))
    assert (waist.rule, outline.corner_number(waist.vertex)) == ("side-waist", None)
    named = [e.name for e in outline.edges if e.name]
    assert named == ["hem", "side", "side-top", "armhole", "shoulder", "neck"]
    pocket = pattern.piece("pocket")
    assert pocket.kind == "sew"
    assert pocket.cut_line is not None
    # The cutting line is all round it, 10 mm off along the sides.
    assert pocket.cut_line.path.bounds == pytest.approx((50, 28.82, 190, 190), abs=1e-9)
    assert [s.name for s in pattern.seams] == ["side", "shoulder"]
    assert pattern.title.startswith("Sleeveless top")
    assert pattern.page == (640, 880)


def test_an_editor_that_keeps_attributes_changes_nothing() -> None:
    drawn = read_svg(FIXTURES / "features.svg").pattern
    for file in ("inkscape-features.svg", "inkscape-features-plain.svg"):
        saved = read_svg(FIXTURES / file).pattern
        assert saved.pieces == drawn.pieces
        assert saved.seams == drawn.seams


def test_dotted_names_say_what_attributes_say() -> None:
    dotted = read_svg(FIXTURES / "dotted.svg").pattern.piece("front")
    outline = dotted.outline
    assert {p.name for p in outline.points} == {"underarm", "side-waist"}
    assert [e.name for e in outline.edges if e.name] == ["hem"]
    assert dotted.fold is not None
    assert dotted.grain is not None
    assert len(dotted.notches) == 2
    assert [d.name for d in dotted.darts] == ["bust"]
    assert (len(dotted.drills), len(dotted.cutouts)) == (1, 1)


def test_layers_with_dotted_labels() -> None:
    pattern = read_svg(FIXTURES / "inkscape-layers.svg").pattern
    yoke, flap = pattern.piece("front-yoke"), pattern.piece("pocket-flap")
    assert yoke.fold is not None
    assert [p.name for p in yoke.outline.points] == ["side-top"]
    assert [e.name for e in yoke.outline.edges if e.name] == ["waist"]
    assert flap.grain is not None
    assert flap.drills[0].at == pytest.approx((90, 55))
