"""Small files that ask for much work or memory are read or refused within seconds.

Steps are counted, so most are tried with a twentieth of them: what then is refused at once
is refused within seconds by all of them.
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from sizewright import budget
from sizewright.budget import OverBudget, one_budget, spend
from sizewright.errors import InputError, SizewrightError
from sizewright.formats import read_dxf, read_svg
from sizewright.grading import read_rules
from sizewright.jobs.job_file import read_job
from sizewright.model import parse_place, parse_seam
from tests.formats.drawing import box, drawing, names

SHAPE = box(50, 50, 100, 100, id="a")
#: A guard against hanging, s; most take a hundredth of it.
LONGEST = 5.0


def within(seconds: float, begun: float) -> bool:
    return time.process_time() - begun < seconds


@pytest.fixture
def little(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(budget, "STEPS", budget.STEPS // 20)


def sheet(rules: str, body: str) -> bytes:
    return drawing(f"<style>{rules}</style>{body}")


NESTED = "<g>" * 100 + SHAPE + "</g>" * 100
STYLED = "x g g g g g path{fill:none}"


def test_the_budget_is_one_for_all_that_is_read_within_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(budget, "STEPS", 10)
    monkeypatch.setattr(budget, "BYTES", 100)
    spend(10**12, "nothing is being read")
    with one_budget():
        spend(6, "half")
        with one_budget(), pytest.raises(OverBudget, match=r"more work .*the rest"):
            spend(6, "the rest")
    with one_budget():
        spend(10, "all of it")
        with pytest.raises(OverBudget, match="more memory"):
            spend(0, "words", held=101)


def test_a_style_sheet_of_many_ancestors_is_refused_by_the_whole_budget() -> None:
    begun = time.process_time()
    data = sheet(STYLED, NESTED)
    assert len(data) < 1200
    with pytest.raises(OverBudget, match="style sheet"):
        read_svg(data)
    assert within(20, begun)


@pytest.mark.usefixtures("little")
@pytest.mark.parametrize(
    ("rules", "body"),
    [
        (STYLED, NESTED),
        ("x ~ g ~ g ~ g ~ g ~ path{fill:none}", "<g/>" * 120 + SHAPE),
        ("g:has(g:has(g:has(g:has(x)))) path{fill:none}", NESTED),
        ("g g path{fill:none}" * 2000, NESTED),
    ],
)
def test_style_sheets_are_matched_within_the_budget(rules: str, body: str) -> None:
    begun = time.process_time()
    with pytest.raises(InputError, match="style sheet"):
        read_svg(sheet(rules, body))
    assert within(LONGEST, begun)


@pytest.mark.usefixtures("little")
def test_sheets_that_editors_write_stay_far_below_the_budget() -> None:
    rules = "".join(f".st{k}{{fill:none;stroke:#00{k:04x}}}" for k in range(200))
    shapes = "".join(box(10 + k, 10, 100, 100, id=f"p{k}") for k in range(200))
    shapes = re.sub(r'id="p(\d+)"', r'id="p\1" class="st\1"', shapes)
    assert len(names(read_svg(sheet(rules, shapes)))) == 200


@pytest.mark.parametrize(
    "style",
    [":" + " " * 60_000, "fill:" + "'" * 60_001, "fill:/*" * 20_000, "a" * 60_000, ";" * 60_000],
)
def test_style_attributes_are_read_in_one_go(style: str) -> None:
    begun = time.process_time()
    assert names(read_svg(drawing(SHAPE.replace("<path", f'<path style="{style}"')))) == ["a"]
    assert within(LONGEST, begun)


@pytest.mark.parametrize(
    ("style", "seen"),
    [
        ("display:none", False),
        (" DISPLAY : none ; fill : red", False),
        ("display:none !important; display: inline", False),
        ("fill:url(#a;b); display:none", False),
        ("font-family:'a;b'; display: none", False),
        ("/* display:none */ fill:red", True),
        ("-inkscape-x:';display:none'", True),
    ],
)
def test_style_attributes_say_the_same_plain_or_involved(style: str, seen: bool) -> None:
    read = read_svg(drawing(SHAPE.replace("<path", f'<path style="{style}"')))
    assert names(read) == (["a"] if seen else [])


@pytest.mark.parametrize(
    ("head", "encoding"),
    [
        ('<!DOCTYPE svg [<!ENTITY é "M0 0H9">]>', "iso-8859-1"),
        ('<!DOCTYPE svg [<!ENTITY é "M0 0H9">]>', "utf-16"),
        ('<!DOCTYPE svg [<!ENTITY é "M0 0H9">]>', "cp1252"),
        ('<!DOCTYPE svg [<!ENTITY é "M0 0H9">]>', "utf-8"),
        ('<!DOCTYPE svg [<!ATTLIST g data-x CDATA "' + "x" * 50_000 + '">]>', "utf-8"),
    ],
)
def test_what_a_doctype_would_put_in_is_refused_in_any_encoding(head: str, encoding: str) -> None:
    text = f'<?xml version="1.0" encoding="{encoding}"?>{head}' + drawing(
        "<g/>" * 2000 + SHAPE
    ).decode().replace('id="a"', 'id="&é;"' if "é" in head else 'id="a"')
    with pytest.raises(InputError, match=r"expands the entity|ATTLIST"):
        read_svg(text.encode(encoding))


@pytest.mark.parametrize(
    "phrase",
    [
        "a: a:x = a:y, notch 1" + " " * 30_000 + "x",
        "a: a:x = a:y, ease 1" + " " * 30_000 + "x",
        "a: a:x = a:y, ease 1 " + "between " * 10_000,
        "a: " + "9" * 5_000 + " x a:x = a:y",
    ],
)
def test_seams_are_read_in_one_go(phrase: str) -> None:
    begun = time.process_time()
    with suppress(InputError):
        parse_seam(phrase)
    assert within(1, begun)


@pytest.mark.parametrize(
    "phrase", ["1" + " " * 30_000 + "x", "1 cm along a" + " " * 30_000 + "x", "along " * 10_000]
)
def test_places_are_read_in_one_go(phrase: str) -> None:
    begun = time.process_time()
    with suppress(InputError):
        parse_place(phrase)
    assert within(1, begun)


@pytest.mark.parametrize(
    "attribute",
    [
        f'id="path{"1" * 30_000}x"',
        f'id="a{"-1" * 30_000}x"',
        f'id="{"a." * 20_000}outline"',
        f'id="a" data-size="1.{"0" * 60_000}x"',
        f'id="a" data-quantity="main {"1" * 60_000}x"',
        f'id="a" transform="translate({"1" * 60_000}x)"',
    ],
)
def test_names_and_numbers_are_read_in_one_go(attribute: str) -> None:
    begun = time.process_time()
    with suppress(SizewrightError):
        read_svg(drawing(SHAPE.replace('id="a"', attribute)))
    assert within(LONGEST, begun)


def _dxf(tmp_path: Path, text: str) -> bytes:
    import ezdxf

    doc = ezdxf.new()
    space = doc.modelspace()
    space.add_lwpolyline([(0, 0), (300, 0), (300, 300), (0, 300)], close=True)
    space.add_mtext("x", dxfattribs={"insert": (50, 50), "char_height": 5}).text = text
    doc.saveas(tmp_path / "text.dxf")
    return (tmp_path / "text.dxf").read_bytes()


@pytest.mark.parametrize("code", ["{\\f", "\\S", "\\H", "{\\C"])
def test_codes_of_a_dxf_text_are_read_in_one_go(tmp_path: Path, code: str) -> None:
    data = _dxf(tmp_path, code * 50_000)
    begun = time.process_time()
    read_dxf(data)
    assert within(LONGEST, begun)


def test_long_texts_of_dxf_are_read(tmp_path: Path) -> None:
    text = "{\\fArial|b0;Cut two}\\P" * 400
    (piece,) = read_dxf(_dxf(tmp_path, text)).pattern.pieces
    # The first line is the piece's name.
    assert piece.labels[0].text.count("Cut two") + (piece.name == "Cut two") == 400


@pytest.mark.usefixtures("little")
def test_more_lines_than_any_pattern_has_are_refused_before_the_work() -> None:
    lines = "".join(f"0\nLINE\n8\n0\n10\n{k}\n20\n0\n11\n0\n21\n{k}\n" for k in range(4_000))
    data = f"0\nSECTION\n2\nENTITIES\n{lines}0\nENDSEC\n0\nEOF\n".encode()
    begun = time.process_time()
    with pytest.raises(OverBudget, match="entities"):
        read_dxf(data)
    shapes = "".join(f'<path d="M{k % 300} 0L9 {k}"/>' for k in range(4_000))
    with pytest.raises(OverBudget, match="shapes"):
        read_svg(drawing(shapes))
    one = "".join(f"M{k % 300} 0L9 {k}" for k in range(4_000))
    with pytest.raises(OverBudget, match="shapes"):
        read_svg(drawing(f'<path d="{one}"/>'))
    assert within(LONGEST, begun)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a." * 100_000 + "a=1", "16 deep"),
        ("a={" + "b." * 50_000 + "b=1}", "16 deep"),
        ('"a"."b c" . ' * 5_000 + "a=1", "16 deep"),
        ("[" + "a . " * 50_000 + "a]", "16 deep"),
        ("# " + "x" * 1_100_000, "more than 1 MB"),
        ("base = " + "9" * 5_000, "thousands of digits"),
        ("\n\nbase = 0x" + "f" * 5_000, "line 3: the number is larger"),
        ("[" + " " * 60_000, "not valid TOML"),
        ("a" + " " * 60_000 + "x = 1", "not valid TOML"),
        ("a = " + "[" * 50_000, "not valid TOML"),
        ("a = " + "{a=" * 50_000, "not valid TOML"),
        ('source = ".\\sub\\x.svg"', "Write folders with /"),
    ],
)
def test_jobs_are_refused_in_one_go(tmp_path: Path, text: str, words: str) -> None:
    job = tmp_path / "job.toml"
    job.write_text(text)
    begun = time.process_time()
    with pytest.raises(InputError, match=words):
        read_job(job)
    assert within(LONGEST, begun)


def test_tables_with_cells_beyond_measure_are_refused() -> None:
    for cell in ("1" * 60_000 + "x", "0." + "0" * 60_000):
        with pytest.raises(InputError, match="more than 1000 characters"):
            read_rules(f"rule,axis,unit,10,12\nside,width,cm,,{cell}\n")


@pytest.mark.parametrize("line", ["RULE" + " " * 30_000 + "!", "a" + " " * 30_000 + "!"])
def test_rule_files_are_read_in_one_go(line: str) -> None:
    from sizewright.formats.interchange.rules_in import read_rule_file

    begun = time.process_time()
    with suppress(InputError):
        read_rule_file(f"UNITS: METRIC\n{line}\nEND\n".encode())
    assert within(LONGEST, begun)


def test_readers_of_strangers_draw_on_the_budget_too() -> None:
    code = (
        "from sizewright.plugin import Reader, run_reader\n"
        "from sizewright.budget import spend\n"
        "def read(data, name, units, settings):\n"
        "    spend(10**9, 'its rows')\n"
        "from sizewright.errors import InputError\n"
        "try:\n"
        "    run_reader(Reader('odd', 'odd', lambda head: True, read), b'x', 'x.odd', None, {})\n"
        "except InputError as error:\n"
        "    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert "x.odd: the file asks for more work than any pattern needs (its rows)" in done.stdout, (
        done.stderr
    )
