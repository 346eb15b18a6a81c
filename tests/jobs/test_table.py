"""The table of `show`: a snapshot small enough to check by hand, and its width."""

from __future__ import annotations

from pathlib import Path as File

import pytest

from sizewright.formats.reading import Reading, SetAside
from sizewright.jobs.table import table
from sizewright.model import Grain, Pattern
from tests.jobs.made import panel, reading
from tests.pictures.patterns import ALL, bodice, pocket

GOLDEN = File(__file__).with_name("panel.txt")


def test_the_table_of_the_panel() -> None:
    assert table(reading(), name="skirt.svg") + "\n" == GOLDEN.read_text("utf-8")


@pytest.mark.parametrize("name", sorted(set(ALL) - {"long-names"}))
def test_it_stays_within_80_columns(name: str) -> None:
    assert max(map(len, table(Reading(ALL[name]()), name=name).splitlines())) <= 80


def test_every_feature_is_told() -> None:
    text = table(Reading(Pattern((bodice(), pocket()))), name="x")
    for words in (
        "1 dart (bust)",
        "1 pleat (centre)",
        "1 drill hole (bust)",
        "2 marks",
        "(button, pocket)",
        "1 cut-out (tie-slot)",
        "t x 2",
        "armhole-front",
        "a pair, half of them turned over",
        "cutting line, sewing line within",
    ):
        assert words in text


@pytest.mark.parametrize(
    ("end", "ends", "words"),
    [
        ((0.0, 50.0), 2, "up the page, both ways"),
        ((0.0, -50.0), 2, "up the page, both ways"),
        ((0.0, -50.0), 1, "down the page, one way"),
        ((-50.0, 0.0), 2, "across the page, both ways"),
        ((-50.0, 0.0), 1, "across the page to the left, one way"),
        ((50.0, 50.0), 2, "turned 45.0 degrees counter-clockwise from level, both ways"),
    ],
)
def test_grain_in_words(end: tuple[float, float], ends: int, words: str) -> None:
    grain = Grain((0.0, 0.0), end, ends)  # type: ignore[arg-type]
    piece = panel().with_changes(grain=grain)
    assert f"  grain     {words}\n" in table(Reading(Pattern((piece,))), name="x")


def test_marks_are_told_apart_from_what_was_set_aside() -> None:
    pieces = (panel().with_changes(name="front"), panel().with_changes(name="back of front"))
    kept = [SetAside("", "line", f"grain of {p.title}") for p in pieces for _ in range(2)]
    kept.append(SetAside("", "circle", f"point hip of {pieces[0].title}"))
    text = table(Reading(Pattern(pieces), tuple(kept)), name="x")
    told = f"Read as marks: 3 of {pieces[0].title}, 2 of {pieces[1].title}"
    assert text.splitlines()[-1] == told
    assert "Set aside" not in text
    kept.append(SetAside("frame", "rect", "page frame"))
    text = table(Reading(Pattern(pieces), tuple(kept)), name="x")
    assert text.endswith(f"{told}\n\nSet aside, not taken for pieces\n  rect frame: page frame")


def test_marks_of_a_nest_are_told_once() -> None:
    pieces = tuple(panel().with_changes(name="front", size=size) for size in ("10", "12"))
    kept = [SetAside("", "line", f"mark of {p.title}") for p in pieces]
    text = table(Reading(Pattern(pieces), tuple(kept)), name="x")
    assert text.splitlines()[-1] == "Read as marks: 1 of front in each size"
    text = table(Reading(Pattern(pieces), tuple(kept[1:])), name="x")
    assert text.splitlines()[-1] == f"Read as marks: 1 of {pieces[1].title}"


def test_nothing_at_all_is_said_plainly() -> None:
    assert table(Reading(Pattern(())), name="bare.svg") == "bare.svg\nno piece"
