"""Words in a drawing that are nearly known ones are told, and others left in peace."""

from __future__ import annotations

import re
from pathlib import Path as File

import pytest

from sizewright.findings import Finding
from sizewright.formats.drawing import spelling
from sizewright.formats.reading import Reading
from tests.formats.drawing import box, codes, names, read

FRONT = box(50, 50, 100, 120, id="front")


def told(reading: Reading) -> list[Finding]:
    return [f for f in reading.findings if f.code == "word-unknown"]


def test_every_attribute_that_the_reader_uses_is_known() -> None:
    sources = File(spelling.__file__).parent.glob("*.py")
    used: set[str] = set()
    for source in sources:
        if source.name != "spelling.py":
            used.update(re.findall(r"[\"']data-([a-z-]+)[\"']", source.read_text("utf-8")))
    assert used == spelling.ATTRIBUTES


@pytest.mark.parametrize(
    ("attribute", "meant"),
    [
        ('data-egde="hem"', '"data-edge"'),
        ('data-pont="hip"', '"data-point"'),
        ('data-Point="hip"', '"data-point"'),
        ('data-points="hip"', '"data-point"'),
        ('data-grain="yes"', 'data-role="grain"'),
        ('data-outlien="sew"', '"data-outline"'),
        ('data-qantity="main 2"', '"data-quantity"'),
    ],
)
def test_an_attribute_that_is_nearly_known(attribute: str, meant: str) -> None:
    reading = read(f'<g data-piece="a">{FRONT}<circle cx="90" cy="90" r="1" {attribute}/></g>')
    (finding,) = told(reading)
    assert finding.level == "warn"
    assert finding.cure == f"Did you mean {meant}?"
    assert finding.place == "line 1, <circle>"


@pytest.mark.parametrize("where", ["root", "piece"])
def test_it_is_told_on_the_drawing_and_on_the_piece(where: str) -> None:
    page = 'width="400mm" height="300mm" viewBox="0 0 400 300"'
    page += ' data-base-sise="12"' if where == "root" else ""
    piece = 'data-pairs="yes"' if where == "piece" else ""
    (finding,) = told(read(f'<g data-piece="a" {piece}>{FRONT}</g>', page))
    assert "data-base-size" in finding.cure or "data-pair" in finding.cure


@pytest.mark.parametrize(
    ("name", "word", "meant"),
    [
        ("front.pont.waist", "pont", "point"),
        ("front.gran", "gran", "grain"),
        ("front.egde.hem", "egde", "edge"),
        ("front.outlin", "outlin", "outline"),
        ("front.notches", "notches", "notch"),
        ("front.Grain line", "Grain line", "grain"),
        ("front.grainline", "grainline", "grain"),
        ("front.lable-2", "lable-2", "label"),
    ],
)
@pytest.mark.parametrize("bearer", ["id", "inkscape:label", "data-name"])
def test_a_dotted_name_that_is_nearly_one(name: str, word: str, meant: str, bearer: str) -> None:
    reading = read(f'{FRONT}<circle {bearer}="{name}" cx="50" cy="50" r="1"/>')
    assert names(reading) == ["front"]
    (finding,) = told(reading)
    assert (finding.level, finding.cure) == ("warn", f'Did you mean "{meant}"?')
    assert f'"{name}"' in finding.text
    assert f'"{word}"' in finding.text


def test_the_same_fault_is_told_once_and_counted() -> None:
    dots = "".join(f'<circle id="front.pont.p{i}" cx="{i}" cy="5" r="1"/>' for i in range(30))
    (finding,) = told(read(FRONT + dots))
    assert "(and 29 more)" in finding.text
    many = "".join(f'<circle data-pont-{i}="" data-poin{i}="" r="1"/>' for i in range(99))
    assert len(told(read(FRONT + many))) <= 20


@pytest.mark.parametrize(
    "shape",
    [
        '<circle id="front.point.hip" cx="50" cy="50" r="1"/>',
        '<circle id="front.part" cx="50" cy="50" r="1"/>',
        '<circle id="front.14" cx="50" cy="50" r="1"/>',
        '<circle inkscape:label="no. 3" cx="50" cy="50" r="1"/>',
        '<circle id="front.joint" cx="50" cy="50" r="1"/>',
        '<circle data-tooltip="x" data-id="3" data-color="red" cx="50" cy="50" r="1"/>',
        '<g data-piece="front.gran"><path d="M200 50h50v50z"/></g>',
        '<circle id="front.gran" data-point="hip" cx="50" cy="50" r="1"/>',
    ],
)
def test_names_of_other_kinds_are_left_in_peace(shape: str) -> None:
    assert told(read(f'<g data-piece="front">{FRONT}</g>{shape}')) == []


def test_a_misspelt_role_is_told_with_the_one_that_is_near() -> None:
    body = f'<g data-piece="a">{FRONT}<path data-role="{{}}" d="M99 80V150"/></g>'
    for role, start in (
        ("grian", 'Did you mean "grain"? Roles are '),
        ("grainline", 'Did you mean "grain"? Roles are '),
        ("point", 'Did you mean data-point="NAME"? Roles are '),
        ("zigzag", "Roles are "),
    ):
        reading = read(body.format(role))
        assert codes(reading) == ["role-unknown"]
        assert reading.findings[0].cure.startswith(start)
