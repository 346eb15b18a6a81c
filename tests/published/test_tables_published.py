"""The shipped size charts hold what their sources say; typed in again here, cell by cell."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from sizewright.grading import SizeChart, fit_measures, read_chart
from sizewright.shipped import shipped, shipped_names

# US pattern-industry standard sizing, misses, adopted 1967-68: a sewing-history page of 2011 that
# prints the whole table (read once; agrees cell for cell with memory). Inches.
MISSES = {
    "bust": "30 1/2, 31 1/2, 32 1/2, 34, 36, 38, 40, 42",
    "waist": "23, 24, 25, 26 1/2, 28, 30, 32, 34",
    "hip": "32 1/2, 33 1/2, 34 1/2, 36, 38, 40, 42, 44",
    "back-waist-length": "15 1/2, 15 3/4, 16, 16 1/4, 16 1/2, 16 3/4, 17, 17 1/4",
}
MISSES_STEPS = {
    "bust": "1, 1, 1 1/2, 2, 2, 2, 2",
    "waist": "1, 1, 1 1/2, 1 1/2, 2, 2, 2",
    "hip": "1, 1, 1 1/2, 2, 2, 2, 2",
    "back-waist-length": "1/4, 1/4, 1/4, 1/4, 1/4, 1/4, 1/4",
}
# ASTM D5585-11e1, Table 1, as far as the publisher's public page prints it (read once; cells run
# together there and parted by hand). Inches. The steps were derived from the same table.
D5585 = {
    "head": "21 1/4, 21 1/4, 21 1/2, 21 1/2, 21 3/4, 21 3/4, 22, 22, 22 1/4, 22 1/4, 22 1/2, "
    "22 1/2",
    "neck-base": "13 1/4, 13 1/2, 13 3/4, 14, 14 1/4, 14 5/8, 14 7/8, 15 1/8, 15 1/2, 15 3/4, 16, "
    "16 3/8",
    "mid-neck": "12 3/8, 12 5/8, 12 7/8, 13 1/8, 13 3/8, 13 5/8, 13 7/8, 14 1/4, 14 5/8, 15, "
    "15 1/2, 16",
    "shoulder-girth": "37 1/8, 37 3/4, 38 3/8, 39, 39 3/4, 40 1/2, 41 1/4, 42, 43, 44 1/4, 45 1/2, "
    "46 7/8",
    "bust": "31 1/8, 31 3/4, 33, 34 1/8, 35 1/4, 36 1/4, 37 1/4, 38 3/4, 40 3/8, 42 1/8, 44, 46",
    "under-bust": "25 3/4, 26 1/2, 27 1/4, 28, 29, 30, 31, 32 1/2, 34, 35 3/4, 37 5/8, 39 5/8",
    "upper-chest": "31 3/4, 32 1/4, 33 1/4, 34 1/8, 35, 35 7/8, 36 3/4, 38, 39 1/4, 40 5/8, "
    "42 1/4, 43 7/8",
    "waist": "23 7/8, 24 5/8, 25 3/8, 26 1/8, 27, 28, 29, 30 3/4, 32 1/2, 34 1/2, 36 3/4, 39",
    "waist-straight": "25 3/8, 26 1/8, 26 7/8, 27 5/8, 28 1/2, 29 1/2, 30 1/2, 32 1/4, 34, 36, "
    "38 1/4, 40 1/2",
}
D5585_STEPS = {
    "head": "0, 1/4, 0, 1/4, 0, 1/4, 0, 1/4, 0, 1/4, 0",
    "neck-base": "1/4, 1/4, 1/4, 1/4, 3/8, 1/4, 1/4, 3/8, 1/4, 1/4, 3/8",
    "mid-neck": "1/4, 1/4, 1/4, 1/4, 1/4, 1/4, 3/8, 3/8, 3/8, 1/2, 1/2",
    "shoulder-girth": "5/8, 5/8, 5/8, 3/4, 3/4, 3/4, 3/4, 1, 1 1/4, 1 1/4, 1 3/8",
    "bust": "5/8, 1 1/4, 1 1/8, 1 1/8, 1, 1, 1 1/2, 1 5/8, 1 3/4, 1 7/8, 2",
    "under-bust": "3/4, 3/4, 3/4, 1, 1, 1, 1 1/2, 1 1/2, 1 3/4, 1 7/8, 2",
    "upper-chest": "1/2, 1, 7/8, 7/8, 7/8, 7/8, 1 1/4, 1 1/4, 1 3/8, 1 5/8, 1 5/8",
    "waist": "3/4, 3/4, 3/4, 7/8, 1, 1, 1 3/4, 1 3/4, 2, 2 1/4, 2 1/4",
    "waist-straight": "3/4, 3/4, 3/4, 7/8, 1, 1, 1 3/4, 1 3/4, 2, 2 1/4, 2 1/4",
}
# EN 13402-3 (2004): from memory (high), not read. cm: value, from, to.
WOMEN = {
    "bust": [
        (76, 74, 78),
        (80, 78, 82),
        (84, 82, 86),
        (88, 86, 90),
        (92, 90, 94),
        (96, 94, 98),
        (100, 98, 102),
        (104, 102, 107),
        (110, 107, 113),
        (116, 113, 119),
        (122, 119, 125),
        (128, 125, 131),
        (134, 131, 137),
        (140, 137, 143),
        (146, 143, 149),
        (152, 149, 155),
    ],
    "waist": [
        (60, 58, 62),
        (64, 62, 66),
        (68, 66, 70),
        (72, 70, 74),
        (76, 74, 78),
        (80, 78, 82),
        (84, 82, 86),
        (88, 86, 91),
        (94, 91, 97),
        (100, 97, 103),
        (106, 103, 109),
        (112, 109, 115),
        (118, 115, 121),
        (124, 121, 127),
        (130, 127, 133),
        (136, 133, 139),
    ],
    "hip": [
        (84, 82, 86),
        (88, 86, 90),
        (92, 90, 94),
        (96, 94, 98),
        (100, 98, 102),
        (104, 102, 106),
        (108, 106, 110),
        (112, 110, 115),
        (117, 115, 120),
        (122, 120, 125),
        (127, 125, 130),
        (132, 130, 135),
        (137, 135, 140),
        (142, 140, 145),
        (147, 145, 150),
        (152, 150, 155),
    ],
}
MEN = {
    "chest": [
        (84, 82, 86),
        (88, 86, 90),
        (92, 90, 94),
        (96, 94, 98),
        (100, 98, 102),
        (104, 102, 106),
        (108, 106, 110),
        (112, 110, 114),
        (116, 114, 118),
        (120, 118, 123),
        (126, 123, 129),
        (132, 129, 135),
        (138, 135, 141),
        (144, 141, 147),
    ],
    "waist": [
        (72, 70, 74),
        (76, 74, 78),
        (80, 78, 82),
        (84, 82, 86),
        (88, 86, 90),
        (92, 90, 94),
        (96, 94, 98),
        (100, 98, 102),
        (104, 102, 106),
        (108, 106, 111),
        (114, 111, 117),
        (120, 117, 123),
        (126, 123, 129),
        (132, 129, 135),
    ],
}


def chart(name: str) -> SizeChart:
    return read_chart(shipped(f"grade_tables/{name}.csv"))


def inches(text: str) -> list[Fraction]:
    return [sum(map(Fraction, cell.split()), Fraction()) for cell in text.split(",")]


@pytest.mark.parametrize(
    ("name", "rows", "steps", "sizes"),
    [
        ("misses-1967", MISSES, MISSES_STEPS, "6 8 10 12 14 16 18 20"),
        ("d5585-11-girths", D5585, D5585_STEPS, "00 0 2 4 6 8 10 12 14 16 18 20"),
    ],
)
def test_tables_in_inches(
    name: str, rows: dict[str, str], steps: dict[str, str], sizes: str
) -> None:
    table = chart(name)
    assert table.sizes == tuple(sizes.split())
    assert set(table.measures) == set(rows)
    for measure, text in rows.items():
        cells = inches(text)
        assert len(cells) == len(table.sizes)
        assert list(table.values[measure]) == [float(c * Fraction(254, 10)) for c in cells]
        assert [b - a for a, b in pairwise(cells)] == inches(steps[measure])


@pytest.mark.parametrize(("name", "rows"), [("en13402-women", WOMEN), ("en13402-men", MEN)])
def test_tables_with_ranges(name: str, rows: dict[str, list[tuple[int, int, int]]]) -> None:
    table = chart(name)
    main = next(iter(rows))
    assert table.sizes == tuple(str(value) for value, _, _ in rows[main])
    assert len(table.measures) == 3 * len(rows)
    for measure, cells in rows.items():
        columns = [table.values[m] for m in (measure, f"{measure}-from", f"{measure}-to")]
        assert [tuple(c / 10 for c in cell) for cell in zip(*columns, strict=True)] == cells
        # What holds in every edition (derived): ranges touch, each value lies in its own, and
        # is its middle while steps are 4 cm.
        assert all(a[2] == b[1] for a, b in pairwise(cells))
        assert all(low < value < high for value, low, high in cells)
        assert all(2 * value == low + high for value, low, high in cells if high - low == 4)
    assert "memory" in " ".join(table.notes)


def test_steps_that_an_encyclopedia_prints_too() -> None:
    # Women: 4 cm, larger sizes 6 cm at bust and waist and 5 cm at the hip; men 4 cm; one size
    # is 88-72-96 (read in two places).
    women = chart("en13402-women")
    for measure, large in [("bust", 6), ("waist", 6), ("hip", 5)]:
        steps = [(b - a) / 10 for a, b in pairwise(women.values[measure])]
        assert steps == [4] * 7 + [large] * 8
    assert [women.value(m, "88") / 10 for m in ("bust", "waist", "hip")] == [88, 72, 96]
    men = chart("en13402-men")
    assert {(b - a) / 10 for a, b in pairwise(men.values["chest"][:10])} == {4.0}


def test_a_body_falls_into_its_range() -> None:
    women = chart("en13402-women")
    fits = fit_measures(women, {"bust": 1065.0, "waist": 859.9, "hip": 1150.0})
    assert [fit.size for fit in fits] == ["104", "100", "110"]


def test_every_table_names_its_source_and_how_sure_it_is() -> None:
    for name in shipped_names("grade_tables", suffix=".csv"):
        notes = " ".join(shipped(name).read_text("utf-8").split("\n# ")[:4])
        assert "Source:" in notes, name
    for name in ("d5585-11-girths", "en13402-women", "en13402-men"):
        assert "How sure:" in " ".join(chart(name).notes), name


def test_the_d5585_table_has_only_what_was_read() -> None:
    # Hip and everything after the waist was not on the page.
    assert "hip" not in chart("d5585-11-girths").measures


def test_children_go_up_by_six_centimetres() -> None:
    # EN 13402-3, heights of children: from memory (high). Girths: from memory (moderate); bodies of
    # one table grow in order, and none is as round as it is tall.
    table = chart("children-height")
    heights = [int(size) for size in table.sizes]
    assert [b - a for a, b in pairwise(heights)] == [6] * (len(heights) - 1)
    assert list(table.values["height"]) == [10.0 * h for h in heights]
    for k, (low, high) in enumerate(
        zip(table.values["height-from"], table.values["height-to"], strict=True)
    ):
        assert (low + high) / 20 == heights[k]
    for measure in ("chest", "waist", "hip"):
        girths = table.values[measure]
        assert all(a < b for a, b in pairwise(girths))
        assert all(0.4 < g / h < 0.65 for g, h in zip(girths, table.values["height"], strict=True))
    assert "memory" in " ".join(table.notes) or "recalled" in " ".join(table.notes)


# Least-squares slopes on the chest girth (cm for each cm): 1,986 women, ANSUR II (2012), computed
# from the public measurements; between what multiples of that the chart may grow. The waist goes
# with bodies; charts widen neck and shoulder faster than bodies do.
ANSUR = {
    "waist": (1.0199, 0.95, 1.05),
    "shoulder-girth": (0.4616, 1.0, 1.5),
    "neck-base": (0.1561, 1.0, 1.5),
}


@pytest.mark.parametrize("measure", ANSUR)
def test_the_d5585_girths_grow_as_bodies_do(measure: str) -> None:
    table = chart("d5585-11-girths")
    slope, low, high = ANSUR[measure]
    grown = [(v[-1] - v[0]) for v in (table.values[measure], table.values["bust"])]
    assert low * slope <= grown[0] / grown[1] <= high * slope
