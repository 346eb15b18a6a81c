"""One side of a seam gathered or eased in by so much, and its mate brought to it."""

from __future__ import annotations

import dataclasses

import pytest

from sizewright.errors import SizewrightError
from sizewright.findings import Finding
from sizewright.geometry import Path
from sizewright.model import (
    Ease,
    Outline,
    Pattern,
    Piece,
    Run,
    SeamMatch,
    format_seam,
    match_seam,
    parse_seams,
)
from tests.operations import do

IN = 25.4


def shoulder(name: str, long: float, size: str | None = None) -> Piece:
    path = Path.polyline([(0, 0), (long, 0), (long, 300), (0, 300)], closed=True)
    runs = [Run(2, 3, "shoulder"), Run(3, 0, "neck")]
    return Piece(name, Outline.of(path, runs=runs), kind="sew", size=size)


def pattern(
    *sizes: tuple[str, float], seams: str = "shoulder: front:shoulder = back:shoulder"
) -> Pattern:
    rows = sizes or ((None, 150.0),)
    pieces = [shoulder(name, long, size) for size, long in rows for name in ("front", "back")]
    return Pattern(tuple(pieces), rows[0][0], parse_seams(seams))


def run(name: str, given: Pattern, **values: object) -> tuple[Pattern, tuple[Finding, ...]]:
    done = do(given, name, **{"seam": "shoulder", **values})
    return done.pattern, done.findings


def match(given: Pattern, size: str | None = None) -> SeamMatch:
    return match_seam(given, given.seams[0], size)


def test_a_shoulder_gathered_shorter_by_an_inch_needs_a_mate_an_inch_shorter() -> None:
    """Common practice, no source."""
    stated, (note,) = run("seam-ease", pattern(), kind="gather", amount="1 in")
    assert stated.seams[0].ease == Ease(IN, kind="gather")
    assert match(stated).off == pytest.approx(-IN)
    assert "front:shoulder is gathered in by 2.54 cm · 1 in" in note.text
    assert "back:shoulder is to become 2.54 cm · 1 in shorter for it" in note.text
    done, _ = run("true-edge", stated, move="back:#3")
    assert match(done).second.length == pytest.approx(150 - IN)
    assert match(done).first.length == pytest.approx(150)


@pytest.mark.parametrize("side", ["back:shoulder", "back", " back:shoulder"])
def test_the_side_that_is_named_becomes_the_first_and_notches_stay(side: str) -> None:
    before = pattern(seams='shoulder: front:shoulder = back:shoulder, notch "a" 40 mm')
    longer = [before.piece("front"), shoulder("back", 160.0)]
    before = before.with_pieces(longer)
    after, (note,) = run("seam-ease", before, side=side, amount="1 cm")
    assert format_seam(after.seams[0]).startswith(
        "shoulder: back:shoulder = front:shoulder, ease 10"
    )
    old, new = match(before), match(after)
    assert new.off == pytest.approx(0)
    assert new.to_first(new.notch_place(after.seams[0].notches[0])) == pytest.approx(
        old.notch_place(before.seams[0].notches[0])
    )
    assert note.cure == ""


def test_notches_stand_where_it_begins_and_ends_on_both_sides() -> None:
    sizes = (("10", 140.0), ("12", 150.0))
    between = ["3 cm along shoulder", "2/3 along shoulder"]
    stated, _ = run("seam-ease", pattern(*sizes), kind="gather", amount="1 cm", between=between)
    done, _ = run("true-edge", stated, move="back:#4")
    for size, long in sizes:
        found = match(done, size)
        assert found.surplus == pytest.approx(10.0)
        a, b = (found.notch_place(n) for n in found.seam.notches)
        assert found.to_first(a) == pytest.approx(30.0)
        # By length in all sizes alike; a share is that of the base.
        assert found.to_first(b) == pytest.approx(2 / 3 * long, abs=0.1 if size == "10" else 0.5)
        for name, places in (("front", (30.0, found.to_first(b))), ("back", (a, b))):
            piece = done.piece(name, size)
            at = sorted(piece.outline.arc_length_of(n.at) for n in piece.notches)
            start = float(piece.outline.path.cumulative[2])
            assert [s - start for s in at] == pytest.approx(sorted(places))
    assert [n.name for n in done.seams[0].notches] == [
        "shoulder-gather-begins",
        "shoulder-gather-ends",
    ]


def test_notches_of_the_seam_may_bound_it() -> None:
    phrase = 'shoulder: front:shoulder = back:shoulder, notch "a" 1/4, notch "b" 3/4'
    before = pattern(seams=phrase)
    after, _ = run("seam-ease", before, amount="5 mm", between=["b", "a"])
    assert after.seams[0].ease == Ease(5.0, between=("a", "b"))
    assert after.seams[0].notches == before.seams[0].notches


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"seam": "side", "amount": "1 cm"}, "Seams: shoulder"),
        ({"amount": "-1 cm"}, "positive amount"),
        ({"amount": "20 cm"}, "is only 15 cm"),
        ({"amount": "much"}, "amount"),
        ({"amount": "1 cm", "side": "sleeve"}, "neither side"),
        ({"amount": "1 cm", "between": ["middle of shoulder"]}, "takes two places"),
        ({"amount": "1 cm", "between": ["1/4 along neck", "1/2 along neck"]}, "does not lie"),
        (
            {"amount": "4 cm", "between": ["1 cm along shoulder", "4 cm along shoulder"]},
            "are to go",
        ),
    ],
)
def test_refused_with_what_would_be_right(given: dict[str, object], words: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        run("seam-ease", pattern(), **given)
    assert words in str(caught.value)


def test_an_old_ease_is_replaced_and_told() -> None:
    before = pattern(seams="shoulder: front:shoulder = back:shoulder, ease 6 mm")
    after, (note,) = run("seam-ease", before, side="back", amount="10%", kind="gather")
    assert after.seams[0].ease == dataclasses.replace(Ease(0.1, share=True), kind="gather")
    assert "no longer front:shoulder" in note.text
