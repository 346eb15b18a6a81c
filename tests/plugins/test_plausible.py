"""What can hardly be meant is told, and with it what was probably meant."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from sizewright.findings import Finding
from sizewright.geometry import Path, affine
from sizewright.model import (
    Cutout,
    Drill,
    Fold,
    Label,
    Mark,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Run,
    parse_quantity,
    parse_seams,
)
from tests.operations import do, drawn, judge, plugins
from tests.plugins import drafted
from tests.shapes import rectangle


def judged(pattern: Pattern) -> tuple[Finding, ...]:
    assert plugins().check("plausible").when == "reading"
    found = judge(pattern, "plausible")
    assert all(f.level == "warn" and f.cure for f in found)
    return found


def panel(**changes: object) -> Piece:
    return replace(Piece("panel", Outline.of(rectangle(100, 200)), kind="sew"), **changes)  # type: ignore[arg-type]


def one(**changes: object) -> Pattern:
    return Pattern((panel(**changes),))


@pytest.mark.parametrize("name", ["basic-set", "supper-top"])
def test_sound_patterns_raise_no_eyebrow(name: str) -> None:
    assert judged(drawn(name)) == ()


def test_pieces_and_pages_of_no_garment() -> None:
    assert judged(one(outline=Outline.of(rectangle(2900, 200)))) == ()
    (found,) = judged(one(outline=Outline.of(rectangle(3100, 200))))
    assert (found.code, found.piece) == ("too-large", "panel")
    assert found.cure.startswith("31 cm")
    (found,) = judged(replace(one(), page=(30_000.0, 21_000.0)))
    assert "30 m across" in found.text


def test_what_is_drafted_may_be_long_and_blames_its_step() -> None:
    def tiers(count: int) -> Pattern:
        how = {"length": "2 m", "depth": "60 cm", "ratio": "2", "tiers": count}
        return do(one(), "ruffle", **how).pattern

    assert judged(tiers(3)) == ()
    fourth, fifth = judged(tiers(5))[-2:]
    assert (fourth.code, fourth.piece) == ("too-long", "ruffle-4")
    assert "64 m" in fifth.text
    assert "tiers" in fifth.cure


@pytest.mark.parametrize(
    ("quantity", "pair", "meant"),
    [
        ("main 3", True, '"main 4"'),
        ("main 1", True, '"main 2"'),
        ("main 2, lining 3", True, '"lining 4"'),
        ("main 2, interfacing 1", True, None),
        ("main 3", False, None),
    ],
)
def test_three_of_a_pair(quantity: str, pair: bool, meant: str | None) -> None:
    found = judged(one(quantity=parse_quantity(quantity), pair=pair))
    assert [f.code for f in found] == ["odd-pair"] * (meant is not None)
    assert all(str(meant) in f.cure for f in found)


@pytest.mark.parametrize(("wide", "told"), [(30, False), (35, True)])
def test_a_pleat_half_as_wide_as_what_is_left(wide: float, told: bool) -> None:
    path = Path.polyline([(0, 0), (100, 0), (100, 200), (wide, 200), (0, 200)], closed=True)
    found = judged(one(outline=Outline.of(path), pleats=(Pleat("tuck", 3, 4),)))
    assert [f.code for f in found] == ["wide-pleat"] * told


def slot(x: float) -> Cutout:
    return Cutout(
        Path.polyline([(x, 50), (x + 6, 50), (x + 6, 108), (x, 108)], closed=True), "slot"
    )


def test_a_slot_that_leaves_its_piece() -> None:
    """58 by 6 mm; shapely measures what lies outside."""
    assert judged(one(cutouts=(slot(92.0),))) == ()
    outside = shapely.box(94.9, 50, 100.9, 108).difference(shapely.box(0, 0, 100, 200)).area
    (found,) = judged(one(cutouts=(slot(94.9),), size="4"))
    assert (found.code, found.size, found.place) == ("leaves-piece", "4", "slot")
    assert f"{outside:.0f} mm2" in found.text
    assert judged(one(cutouts=(slot(-3.0),), fold=Fold(3, 0))) == ()
    assert (
        judged(one(cutouts=(slot(94.9),), cut_line=Outline.of(rectangle(120, 220, -10, -10)))) == ()
    )


def test_holes_and_marks_that_leave_their_piece() -> None:
    assert judged(one(drills=(Drill((99.5, 20.0)),))) == ()
    (found,) = judged(one(drills=(Drill((104.0, 20.0), "button"),)))
    assert (found.place, "up to 0.4 cm" in found.text) == ("button", True)
    edge = Path.polyline([(0, 30), (100.8, 30)])
    assert judged(one(marks=(Mark(edge, "casing"),))) == ()
    (found,) = judged(one(marks=(Mark(edge.transformed(affine.translation(5, 0)), "casing"),)))
    assert found.text.startswith("the casing leaves the piece")


def basic(**seams: str) -> Pattern:
    """The basic set with some of its seams said otherwise."""
    pattern = drawn("basic-set")
    others = tuple(s for s in pattern.seams if s.name not in seams)
    said = parse_seams("; ".join(f"{name}: {text}" for name, text in seams.items()))
    return replace(pattern, seams=(*others, *said))


@pytest.mark.parametrize(
    ("name", "wrong", "meant"),
    [
        ("side", "front:side = -back:side", "front:side = back:side"),
        ("side", "-front:side = -back:side", None),
        (
            "cap",
            "sleeve:cap = front:armhole + back:armhole",
            "sleeve:cap = -front:armhole + back:armhole",
        ),
        (
            "skirt-waist",
            "front:waist + back:waist = skirt-front:waist + skirt-back:waist",
            "front:waist + -back:waist = skirt-front:waist + -skirt-back:waist",
        ),
        ("inseam", "trousers-front:inseam = trousers-back:inseam", None),
    ],
)
def test_chains_whose_ends_do_not_meet(name: str, wrong: str, meant: str | None) -> None:
    found = judged(basic(**{name: wrong}))
    assert [(f.code, f.place) for f in found] == [("chain-turned", name)] * (meant is not None)
    assert all(f'"{name}: {meant}"' in f.cure for f in found)


@pytest.mark.parametrize(("centre", "turned"), [("front-edge", True), ("centre-front", False)])
def test_ends_of_one_name_that_are_not_sewn_together(centre: str, turned: bool) -> None:
    # A shoulder that falls outwards: a front without a centre counts it from its lower end.
    def half(name: str, **more: object) -> Piece:
        corners = [(0, 0), (240, 0), (240, 400), (180, 580), (60, 620), (0, 540)]
        outline = Outline.of(Path.polyline(corners, closed=True))
        outline = outline.with_point(3, name="shoulder-end").with_point(4, name="neck-point")
        outline = outline.with_run(Run(3, 4, "shoulder"))
        return replace(Piece(name, outline, kind="sew"), **more)  # type: ignore[arg-type]

    front = half("front")
    front = replace(front, outline=front.outline.with_run(Run(5, 0, centre)))
    back = half("back", fold=Fold(5, 0))
    seams = parse_seams("shoulder: front:shoulder = back:shoulder")
    found = judged(Pattern((front, back), seams=seams))
    assert [f.code for f in found] == ["chain-turned"] * turned
    assert all(
        '"shoulder: -front:shoulder = back:shoulder"' in f.cure
        or '"shoulder: front:shoulder = -back:shoulder"' in f.cure
        for f in found
    )


@pytest.mark.parametrize(
    ("words", "more", "told"),
    [
        ("cut 1 on fold", {}, True),
        ("Place on\nthe Fold", {}, True),
        ("cut 1 on fold", {"fold": Fold(3, 0)}, False),
        ("fold the hem twice", {}, False),
    ],
)
def test_a_fold_that_words_alone_say(words: str, more: dict[str, object], told: bool) -> None:
    found = judged(one(labels=(Label(words, (50, 100), 5.0),), **more))
    assert [f.code for f in found] == ["fold-unmarked"] * told


def halves(seam: str, low_fold: Fold | None = None) -> Pattern:
    """A half of 100 mm on the fold, and below it a whole of 200 mm."""
    top = Piece("top", Outline.of(rectangle(100, 50)), kind="sew", fold=Fold(3, 0))
    low = Piece("low", Outline.of(rectangle(200, 50, 0, 80)), kind="sew", fold=low_fold)
    return Pattern((top, low), seams=parse_seams(f"join: -2 x top:#1 = low:#3, {seam}"))


@pytest.mark.parametrize(
    ("notches", "meant"),
    [
        ("notch 1/4", "15 cm"),
        ("notch 1/4, notch 3/4", None),
        ("notch 50%", None),
        ("notch 3 cm, notch 60 mm, notch 17 cm", "14 cm"),
    ],
)
def test_a_notch_of_a_half_that_meets_one_alone(notches: str, meant: str | None) -> None:
    found = [f for f in judged(halves(notches)) if f.code == "lone-notch"]
    assert len(found) == (meant is not None)
    assert all("both halves of top" in f.text and str(meant) in f.cure for f in found)


@pytest.mark.parametrize("kind", ["knife", "box", "inverted"])
@pytest.mark.parametrize(("part", "told"), [(0.9, False), (1.1, True)])
def test_pleats_that_fold_more_under_than_lies_between_them(
    kind: str, part: float, told: bool
) -> None:
    # Three pleats on 20 cm lie 5 cm apart. By hand: a knife pleat folds its depth to one side, a
    # box or inverted one its depth to each, where the neighbour's meets it half way.
    depth = 50 * part / (1 if kind == "knife" else 2)
    made = do(
        Pattern((drafted.panel(),)), "spread", piece="panel", from_="waist", to="hem",
        kind="pleat", pleat=kind, depth=f"{depth} mm", cuts=3,
    )  # fmt: skip
    found = [f for f in judged(made.pattern) if f.code == "pleats-close"]
    assert len(found) == told
    assert all("5 cm" in f.text for f in found)
