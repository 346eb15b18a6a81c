"""The table of seams that `check` prints."""

from __future__ import annotations

import json
from pathlib import Path

from sizewright.jobs.commands import check_file
from sizewright.jobs.seam_table import seam_data, seam_lines, seam_rows
from sizewright.model import Outline, Pattern, Piece, parse_seams
from sizewright.shipped import shipped
from tests.shapes import rectangle


def joined(phrase: str, **widths: tuple[float, float]) -> Pattern:
    """Two boxes in each size named, with the widths of both."""
    pieces = []
    for size, (top, low) in widths.items():
        pieces.append(Piece("top", Outline.of(rectangle(top, 50)), kind="sew", size=size))
        pieces.append(Piece("low", Outline.of(rectangle(low, 50)), kind="sew", size=size))
    return Pattern(tuple(pieces), seams=parse_seams(phrase))


def test_sizes_are_rows_under_each_seam() -> None:
    pattern = joined("join: top:#1 = low:#1, ease 25 mm", S=(279.4, 254.0), L=(305.0, 279.4))
    assert list(seam_lines(pattern)) == [
        "join: top:#1 = low:#1, ease 25 mm",
        "  size              first side             second side      longer         off",
        "  S       27.94 cm       11 in    25.40 cm       10 in    25.40 mm     0.40 mm",
        "  L       30.50 cm       12 in    27.94 cm       11 in    25.60 mm     0.60 mm",
        "",
    ]
    assert seam_data(pattern)[0] == {
        "seam": "join",
        "size": "S",
        "first": 279.4,
        "second": 254.0,
        "wanted": 25.0,
        "off": seam_rows(pattern, pattern.seams[0])[0].off,
    }


def test_what_cannot_be_measured_is_said_in_its_row() -> None:
    lines = list(seam_lines(joined("join: top:#1 = lower:#1", S=(200, 200))))
    assert 'no piece "lower"' in lines[2]
    doubtful = joined("join: top:#1 = low:#1", S=(200, 200))
    doubtful = doubtful.with_pieces(Piece(p.name, p.outline, size="S") for p in doubtful.pieces)
    assert "not judged" in list(seam_lines(doubtful))[2]
    assert seam_data(doubtful) == []
    assert list(seam_lines(Pattern(doubtful.pieces))) == []


def test_check_prints_it_before_the_findings_and_fits_a_terminal() -> None:
    job = shipped("examples/supper-top/supper-top.toml")
    told = check_file(job)
    table = told.lines[: told.lines.index(next(x for x in told.lines if x.startswith("note:")))]
    assert max(map(len, table)) <= 80
    joints = next(k for k, line in enumerate(table) if line.startswith("as sewn: "))
    phrases = [x.split(":")[0] for x in table[:joints] if x and not x.startswith(" ")]
    assert phrases == [
        "shoulder",
        "side",
        "waist",
        "gather",
        "peplum-side",
        "neck-front",
        "neck-back",
        "facing-shoulder",
    ]
    sizes = [x.split()[0] for x in table if x.startswith("  ") and "cm" in x]
    assert sizes == ["8", "10", "12", "14", "16"] * 8
    data = json.loads(check_file(job, as_json=True).lines[0])
    assert len(data["seams"]) == 40
    assert max(abs(row["off"]) for row in data["seams"]) < 0.05


def test_a_drawing_without_seams_has_no_table(tmp_path: Path) -> None:
    drawing = tmp_path / "a.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        'viewBox="0 0 200 200"><g data-piece="a" data-outline="sew">'
        '<path data-role="outline" d="M 10 10 H 110 V 110 H 10 Z"/></g></svg>',
        "utf-8",
    )
    told = check_file(drawing)
    assert not any("first side" in line for line in told.lines)
