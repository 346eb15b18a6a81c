"""Words of test squares: in them and beside them, as files say it, on prints that are off."""

from __future__ import annotations

import pytest

from sizewright.formats import read_svg
from sizewright.formats.reading import Reading
from tests.formats.drawing import codes, only

#: What squares say, and how large they are, mm.
SAID = [
    ("5 cm", 50),
    ("5 cm x 5 cm", 50),
    ("5cm × 5cm", 50),
    ("This square should measure 5 cm", 50),
    ("TEST SQUARE: 5 CM X 5 CM", 50),
    ("Carré de contrôle 5 cm", 50),
    ("Testquadrat 10 x 10 cm", 100),
    ('2" x 2"', 50.8),
    ('2 1/2" x 2 1/2"', 63.5),
    ("1 in. test square", 25.4),
    ("3/4 in", 19.05),
    ("5 centimetres", 50),
]


def sheet(side: float, words: str, at: tuple[float, float], scale: float = 1.0) -> Reading:
    """A piece with its name, and a square at (30, 100) with words at a place, y down."""
    x, y = at
    mark = words.replace('"', "&quot;")
    return read_svg(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{400 * scale}mm" height="{300 * scale}mm"'
        ' viewBox="0 0 400 300"><g fill="none" stroke="#000">'
        '<path d="M180 30L370 40L360 270L190 260Z"/>'
        f'<rect x="30" y="100" width="{side}" height="{side}"/></g>'
        '<text x="250" y="150" font-size="10">Front</text>'
        f'<text x="{x}" y="{y}" font-size="4">{mark}</text></svg>'.encode()
    )


@pytest.mark.parametrize(("words", "side"), SAID)
@pytest.mark.parametrize("where", ["in", "wider", "below", "above", "right"])
def test_words_of_a_square(words: str, side: float, where: str) -> None:
    at = {
        "in": (31, 100 + side / 2),
        "wider": (29, 100 + side / 2),
        "below": (30, 106 + side),
        "above": (30, 96),
        "right": (33 + side, 100 + side / 2),
    }[where]
    for scale, code in ((1.0, "test-square"), (0.97, "scale-wrong"), (0.75, "scale-wrong")):
        reading = sheet(side, words, at, scale)
        assert only(reading).name == "Front"
        assert [f.code for f in reading.findings] == [code]
        if scale != 1:
            assert f"{scale:g} times its size" in reading.findings[0].text


def test_other_words_beside_a_square_leave_it_a_piece() -> None:
    for words, side in (("Pocket 10 x 10 cm", 100), ("5 cm", 180), ("cut 2", 50)):
        reading = sheet(side, words, (30, 106 + side))
        assert len(reading.pattern.pieces) == 2
        assert not {"test-square", "scale-wrong"} & set(codes(reading))
