"""Estimated text widths against a real font."""

from __future__ import annotations

import string

import pytest

from sizewright.pictures.text import width
from tests.programs import need

WORDS = [
    "cut out tie-slot (right only)",
    "27.02 cm · ≈ 10 5/8 in",
    "lengthen or shorten here",
    "armhole-front",
    "WAISTBAND",
    "a pair: turn half of them over",
    string.ascii_letters,
    string.digits,
]


@pytest.mark.parametrize("bold", [False, True])
def test_a_line_is_no_wider_than_thought(bold: bool) -> None:
    # Reference: the advance widths of DejaVu Sans, one of the widest of the fonts asked for.
    from fontTools.ttLib import TTFont

    regular = need("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf")
    font = TTFont(regular.replace(".ttf", "-Bold.ttf") if bold else regular)
    names, advances = font.getBestCmap(), font["hmtx"]
    for words in WORDS:
        real = sum(advances[names[ord(c)]][0] for c in words) / font["head"].unitsPerEm
        estimate = width(words, 1.0, bold=bold)
        assert real <= estimate <= 1.2 * real, words


def test_width_grows_with_size_and_wide_scripts_count_full() -> None:
    assert width("hem", 8.0) == pytest.approx(2 * width("hem", 4.0))
    assert width("前身頃", 1.0) == pytest.approx(3.0)
