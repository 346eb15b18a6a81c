"""The interchange format against what descriptions of the standard say.

Sources: openings of ASTM D6673-01, -04 and -10 on catalogue and document sites (scope, terms,
DXF of release 13, the x axis of rules along the grade reference line or its alternate, the rule
table file an ASCII text apart); documentation of a general DXF library (7-bit only). The layer
numbers agree with descriptions but are RECALLED, as are the text labels and the layout of the rule
table file; what its deltas count from could not be learned at all. Tests of recalled facts say so
in their names.
"""

from __future__ import annotations

import pytest

from sizewright.formats.interchange import layers
from sizewright.formats.interchange.reader import read_interchange
from sizewright.formats.interchange.rules import RuleFile
from sizewright.formats.interchange.rules_in import read_rule_file
from sizewright.formats.interchange.writer import Interchange, write_interchange
from sizewright.geometry.path import Path
from sizewright.model import Axis, Grain, Outline, Pattern, Piece, Point, axis_frame


def written(axis: Axis | None) -> Interchange:
    path = Path.polyline([(0, 0), (100, 0), (100, 60)], closed=True)
    outline = Outline.of(path, points=[Point(2, None, "7")])
    piece = Piece("flap", outline, size="M", axis=axis, grain=Grain((20, 10), (80, 10)))
    rules = RuleFile(("S", "M"), "M", {"7": ((-1.0, 0.5), (0.0, 0.0))})
    return write_interchange(Pattern((piece,), base_size="M"), rules=rules)


def test_release_13_and_7_bits() -> None:
    made = written(None)
    assert b"AC1012" in made.dxf
    assert made.rul is not None
    assert max(made.dxf) < 128
    assert max(made.rul) < 128


def test_a_piece_is_a_block_and_rules_are_a_file_of_their_own() -> None:
    made = written(None)
    assert made.dxf.count(b"\r\nAcDbBlockBegin\r\n  2\r\nFLAP\r\n") == 1
    assert b"DELTA" not in made.dxf
    assert made.rul is not None
    assert set(read_rule_file(made.rul).table.rules) == {"7"}


@pytest.mark.parametrize(
    ("axis", "along"),
    [(None, (1.0, 0.0)), (Axis((0, 0), (0, 50)), (0.0, 1.0)), (Axis((9, 9), (1, 9)), (-1.0, 0.0))],
)
def test_x_lies_along_the_grade_reference_line_else_the_grain(
    axis: Axis | None, along: tuple[float, float]
) -> None:
    piece = read_interchange(written(axis).dxf).pattern.pieces[0]
    frame, _ = axis_frame(piece)
    assert tuple(frame.up) == pytest.approx(along)


def test_recalled_layer_numbers() -> None:
    assert (layers.BOUNDARY, layers.TURN, layers.CURVE, layers.NOTCH) == (1, 2, 3, 4)
    assert (layers.REFERENCE, layers.MIRROR, layers.GRAIN, layers.INTERNAL) == (5, 6, 7, 8)
    assert (layers.STRIPE, layers.PLAID, layers.CUTOUT, layers.DRILL) == (9, 10, 11, 13)
    assert (layers.SEW, layers.TEXT) == (14, 15)
    assert layers.NOTCH_LAYERS == {"slit": 4, "v": 4, "t": 80, "castle": 81, "check": 82, "u": 83}


def test_recalled_layout_of_the_rule_table_file() -> None:
    made = written(None)
    assert made.rul is not None
    lines = made.rul.decode("ascii").split("\r\n")
    assert lines[1:] == [
        "UNITS: METRIC",
        "GRADE RULE TABLE: STYLE",
        "NUMBER OF SIZES: 2",
        "SIZE LIST: S M",
        "SAMPLE SIZE: M",
        "RULE: DELTA 7",
        "-1.0000, 0.5000",
        "0.0000, 0.0000",
        "END",
        "",
    ]
