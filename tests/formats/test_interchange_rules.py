"""Rule table files: both ways of counting, stray spellings, and what is refused."""

from __future__ import annotations

import random
import re
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError, SizewrightError
from sizewright.formats.claims import claims_rules
from sizewright.formats.interchange.rules import RuleFile, from_neighbours, to_neighbours
from sizewright.formats.interchange.rules_in import read_rule_file
from sizewright.formats.interchange.rules_out import write_rule_file
from sizewright.units import Unit

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures" / "interchange"
STANDARD = (FIXTURES / "standard.rul").read_bytes()

#: The rules as they were thought up, in inches from one size to the next.
STEPS = {
    "1": (0, -0.25),
    "2": (0.5, -0.25),
    "3": (0.5, 0.125),
    "4": (0, 0.125),
    "5": (0.25, 0.1),
    "6": (-0.25, 0.15),
    "7": (0.2, 0.3),
    "8": (0, -0.375),
    "9": (0, 0),
}


def check_table(table: RuleFile) -> None:
    assert table.sizes == ("8", "10", "12", "14", "16")
    assert table.sample == "12"
    assert set(table.rules) == set(STEPS)
    for number, (x, y) in STEPS.items():
        for k, move in enumerate(table.rules[number]):
            assert move == pytest.approx(((k - 2) * x * 25.4, (k - 2) * y * 25.4), abs=1e-3)


@pytest.mark.parametrize(
    ("name", "deltas", "unit", "codes"),
    [
        ("standard.rul", "sample", Unit.IN, set()),
        ("neighbour.rul", "neighbour", Unit.IN, set()),
        ("commas.rul", "sample", Unit.MM, set()),
        ("one-line.rul", "sample", Unit.IN, {"no-end"}),
    ],
)
def test_every_spelling_of_one_table(name: str, deltas: str, unit: Unit, codes: set[str]) -> None:
    data = (FIXTURES / name).read_bytes()
    assert claims_rules(data)
    read = read_rule_file(data, deltas)  # type: ignore[arg-type]
    check_table(read.table)
    assert read.table.unit is unit
    assert {f.code for f in read.findings} == codes


@pytest.mark.parametrize(
    ("name", "deltas", "cure"),
    [("standard.rul", "neighbour", "sample"), ("neighbour.rul", "sample", "neighbour")],
)
def test_numbers_that_look_like_the_other_way_of_counting(
    name: str, deltas: str, cure: str
) -> None:
    read = read_rule_file((FIXTURES / name).read_bytes(), deltas)  # type: ignore[arg-type]
    (finding,) = read.findings
    assert finding.code == "deltas-doubtful"
    assert f"--deltas {cure}" in finding.cure


def test_neighbours_count_outward_from_the_sample_size() -> None:
    # Sizes 8 10 [12] 14 16; the smaller ones count from the larger neighbour.
    deltas = ((-1.0, 4.0), (-2.0, 3.0), (0.0, 0.0), (5.0, 6.0), (7.0, -8.0))
    moves = from_neighbours(deltas, 2)
    assert moves == ((-3.0, 7.0), (-2.0, 3.0), (0.0, 0.0), (5.0, 6.0), (12.0, -2.0))
    assert to_neighbours(moves, 2) == deltas


amounts = st.integers(-400_000, 400_000).map(lambda n: n / 10_000)


@st.composite
def rule_files(draw: st.DrawFn) -> RuleFile:
    sizes = tuple(str(6 + 2 * k) for k in range(draw(st.integers(1, 7))))
    base = draw(st.integers(0, len(sizes) - 1))
    rules = {}
    for number in draw(st.lists(st.integers(1, 999), min_size=1, max_size=5, unique=True)):
        moves = [(draw(amounts), draw(amounts)) for _ in sizes]
        moves[base] = (0.0, 0.0)
        rules[str(number)] = tuple(moves)
    unit = draw(st.sampled_from((Unit.MM, Unit.IN)))
    return RuleFile(sizes, sizes[base], rules, unit, "SOME TABLE")


@given(rule_files(), st.sampled_from(("sample", "neighbour")))
def test_tables_come_back(table: RuleFile, deltas: str) -> None:
    data = write_rule_file(table, deltas)  # type: ignore[arg-type]
    assert max(data) < 128
    read = read_rule_file(data, deltas).table  # type: ignore[arg-type]
    assert (read.sizes, read.sample, read.unit, read.name) == (
        table.sizes,
        table.sample,
        table.unit,
        table.name,
    )
    for number, moves in table.rules.items():
        for a, b in zip(moves, read.rules[number], strict=True):
            assert a == pytest.approx(b, abs=1e-4)


def change(old: str, new: str, count: int = 1) -> bytes:
    text = STANDARD.decode()
    assert old in text
    return text.replace(old, new, count).encode()


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (change("SIZE LIST: 8 10 12 14 16", "SIZE LIST: 8 10 12 14"), "5 pairs of deltas for 4"),
        (change("SIZE LIST: 8 10 12 14 16\n", ""), "no list of sizes"),
        (change("SIZE LIST: 8 10", "SIZE LIST: 8 8"), '"8" is there twice'),
        (change("SAMPLE SIZE: 12", "SAMPLE SIZE: 13"), '"13" is not in the list'),
        (change("UNITS: ENGLISH", "UNITS: CUBITS"), '"CUBITS" is no unit'),
        (change("DELTA 2\n", "DELTA 1\n"), "rule 1 is there twice"),
        (change("DELTA 2\n", "DELTA 2\n1.0, 2.0\n"), "6 pairs of deltas for 5 sizes"),
        (change("-1.0000, 0.5000", "-1.0000"), "holds 1 numbers, no pair"),
        (change("-1.0000, 0.5000", "one, 0.5000"), "no pair of deltas"),
        (change("-1.0000, 0.5000", "-1.0000, 1e9"), "more than 5 m"),
        (change("0.0000, 0.0000\n0.0000, -0.2500", "0.1, 0.0\n0.0, -0.25"), "moves the sample"),
        (b"RULE: DELTA 1\n", "no list of sizes"),
        (b"AUTHOR: X\nSIZE LIST: 1 2\nSAMPLE SIZE: 1\nUNITS: MM\nEND\n", "no grade rule"),
        (b"RULE: DELTA 1\n\0\0", "no text"),
    ],
)
def test_what_is_impossible_is_refused_with_its_line(data: bytes, message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)) as caught:
        read_rule_file(data, name="style.rul")
    assert "style.rul" in str(caught.value)


def test_what_is_odd_is_told() -> None:
    data = change("NUMBER OF SIZES: 5", "NUMBER OF SIZES: 6")
    assert {f.code for f in read_rule_file(data).findings} == {"sizes-miscounted"}
    data = change("UNITS: ENGLISH\n", "")
    read = read_rule_file(data)
    assert {f.code for f in read.findings} == {"units-assumed"}
    assert read.table.unit is Unit.MM
    check_table(read_rule_file(data, units=Unit.IN).table)
    data = change("SAMPLE SIZE: 12\n", "")
    read = read_rule_file(data)
    assert {f.code for f in read.findings} == {"sample-assumed"}
    check_table(read.table)


def test_a_pair_in_doubt_is_refused() -> None:
    """`1,5` beside `0,5, 0,25`: one number or a pair of whole ones."""
    head = "UNITS: MM\nSIZE LIST: 1 2\nSAMPLE SIZE: 1\nRULE: DELTA 1\n"
    with pytest.raises(InputError, match="no pair"):
        read_rule_file(f"{head}0,0, 0,0\n1,5\nEND\n".encode())


def test_mutants_never_bring_another_error() -> None:
    rng = random.Random(5)
    for _ in range(400):
        data = bytearray(STANDARD)
        for _ in range(rng.randint(1, 12)):
            at = rng.randrange(len(data))
            what = rng.randrange(4)
            if what == 0:
                data[at] = rng.randrange(256)
            elif what == 1:
                del data[at : at + rng.randint(1, 60)]
            elif what == 2:
                data[at:at] = bytes(rng.randrange(256) for _ in range(rng.randint(1, 9)))
            else:
                data[at:at] = rng.choice([b"nan", b"1e999", b"RULE: DELTA", b"\n\n", b",,", b"END"])
        deltas = rng.choice(["sample", "neighbour"])
        with suppress(SizewrightError):
            read_rule_file(bytes(data), deltas)  # type: ignore[arg-type]
