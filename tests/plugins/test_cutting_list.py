"""The text that goes with the pages."""

from __future__ import annotations

import dataclasses

import pytest

from sizewright.geometry import affine
from sizewright.model import Pattern, Quantity, parse_seams
from tests.operations import write
from tests.shapes import bodice

pytestmark = pytest.mark.release


def text(pattern: Pattern, **given: object) -> str:
    return write(pattern, "cutting-list", **given).data.decode("utf-8")


def two() -> Pattern:
    front = dataclasses.replace(
        bodice(), quantity=(Quantity("main", 1), Quantity("lining", 1)), size="12"
    )
    back = dataclasses.replace(
        front.transformed(affine.scaling(1, 1.1)), name="back", fold=None, pair=True
    )
    return Pattern((front, back), "12", parse_seams("side: back:side = front:side"), title="Vest")


def test_what_to_cut_of_what() -> None:
    written = text(two())
    assert written.startswith("Vest\n====\n")
    main = written.index("Main:")
    lining = written.index("Lining:")
    assert main < written.index("1 x front (on the fold; sewing line: add seam allowance)") < lining
    assert "1 x back (mirrored pairs; " in written[lining:]


def test_seams_are_given_as_sewn() -> None:
    written = text(two())
    assert "side: back to front" in written
    assert "    12  20.1 cm" in written
    assert "in, does NOT match: 1.99 cm too long\n" in written
    assert "ease" not in written
    assert "stretch" not in written
    eased = dataclasses.replace(
        two(), seams=parse_seams("side: back:side = front:side, ease 2 cm; s: front:side=back:side")
    )
    written = text(eased)
    assert "in, 1.99 cm of ease\n" in written
    assert "in, does NOT match: 1.99 cm too short\n" in written
    eased = dataclasses.replace(
        two(), seams=parse_seams("side: back:side = front:side, ease 5 cm; s: front:side=front:#9")
    )
    assert "does NOT match: 3.01 cm too short for 5 cm of ease\n" in text(eased)
    assert "Seams" not in text(two(), seams=False)


def test_no_line_is_too_wide_and_the_same_comes_out_again() -> None:
    written = text(two(), note="A remark that is rather long. " * 6)
    assert max(map(len, written.splitlines())) <= 80
    assert written == text(two(), note="A remark that is rather long. " * 6)


def test_a_piece_without_quantity_is_listed_all_the_same() -> None:
    assert "not said" not in text(two()).lower()
    assert "Not said of what, or how many:\n  front" in text(Pattern((bodice(),)))


def test_allowances_are_told_by_edge_and_the_last_step_fits_what_is_drawn() -> None:
    from tests.plugins.allowances import allow

    cut = allow(two(), width="1 cm", widths={"front:waist": "3 cm"}).pattern
    written = text(cut)
    assert "allowance 1 cm, waist 3 cm" in written
    assert "sew along the dashed one" in written
    assert "add the seam allowance" in text(two())
    larger = [dataclasses.replace(p, size="14") for p in cut.pieces]
    several = " ".join(text(cut.with_pieces([*cut.pieces, *larger])).split())
    assert "follow the line that bears your size" in several
