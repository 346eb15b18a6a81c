"""The palette reads on paper, in grey, and with colour-blind eyes."""

from __future__ import annotations

from itertools import combinations

import pytest

from sizewright import palette
from sizewright.palette import Line
from tests.pictures.seen import VISION, contrast, distance

GROUNDS = (palette.PAPER, palette.LINEN)
TEXT = ("INK", "FOLDING", "GRAIN", "MARKING", "QUIET")
KINDS = {
    "cut": palette.CUT_LINE,
    "unknown": palette.PLAIN_LINE,
    "sew": palette.SEW_LINE,
    "fold": palette.FOLD_LINE,
    "grain": palette.GRAIN_LINE,
    "mark": palette.MARK_LINE,
    "adjust": palette.ADJUST_LINE,
    "axis": palette.AXIS_LINE,
}


def told_apart(a: Line, b: Line) -> bool:
    """Whether two lines differ in dash, in weight, or in grey: that is, without colour."""
    weight = max(a.width, b.width) / min(a.width, b.width)
    return a.dashes != b.dashes or weight >= 1.5 or contrast(a.colour, b.colour) >= 1.5


def test_the_measures_know_black_from_white() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for vision in VISION:
        # Neutral colours look the same to all; the reduction keeps white white.
        assert distance("#ffffff", "#000000", vision) == pytest.approx(100.0, abs=0.01)
        assert distance("#808080", "#808080", vision) == 0.0
    # A red and a green that differ much, and hardly with deutan vision.
    assert distance("#c04000", "#7a7a00") > 50
    assert distance("#c04000", "#7a7a00", "deutan") < 25
    assert not told_apart(Line("#c04000", 0.5), Line("#7a7a00", 0.5))


@pytest.mark.parametrize("ground", GROUNDS)
def test_lines_and_words_stand_out(ground: str) -> None:
    # WCAG 2.2: 3 for drawings (1.4.11), 4.5 for text (1.4.3).
    for line in (*KINDS.values(), *palette.SIZE_LINES, palette.HAIR):
        assert contrast(line.colour, ground) >= 3.0, line
    for name in TEXT:
        assert contrast(getattr(palette, name), ground) >= 4.5, name


@pytest.mark.parametrize("pair", list(combinations(KINDS, 2)), ids="-".join)
def test_kinds_of_line_differ_in_grey(pair: tuple[str, str]) -> None:
    assert told_apart(*(KINDS[kind] for kind in pair))


@pytest.mark.parametrize("pair", list(combinations(range(len(palette.SIZE_LINES)), 2)))
def test_sizes_differ_in_grey(pair: tuple[int, int]) -> None:
    assert told_apart(*(palette.SIZE_LINES[i] for i in pair))


@pytest.mark.parametrize("vision", [None, *VISION])
def test_solid_lines_of_different_colour_differ_to_every_eye(vision: str | None) -> None:
    lines = [*KINDS.values(), *palette.SIZE_LINES]
    solid = {line.colour for line in lines if not line.dashes}
    assert len(solid) >= 3
    for a, b in combinations(solid, 2):
        assert distance(a, b, vision) >= 15, (a, b)


@pytest.mark.parametrize("size", palette.SIZE_LINES, ids=lambda line: line.colour)
def test_no_size_has_the_colour_of_another_kind_of_line(size: Line) -> None:
    # A difference of 2.3 is just seen side by side; thin lines apart need ten times as much.
    for kind in ("sew", "fold", "grain"):
        assert distance(size.colour, KINDS[kind].colour) >= 23, kind
