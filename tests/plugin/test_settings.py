"""Settings: what a user wrote becomes checked values, or a message that mends it."""

from __future__ import annotations

import pytest

from sizewright.errors import UsageError
from sizewright.model import Place, RunReference
from sizewright.plugin import Setting, check_settings

DECLARED = (
    Setting("width", "length", "how wide", "1.5 cm", low=0, high=100),
    Setting("fullness", "share", "how full", "50%", low=0),
    Setting("turn", "angle", "how far round", 30),
    Setting("pieces", "count", "how many", 2, low=1),
    Setting("corner", "choice", "how corners are cut", "square", choices=("square", "bevel")),
    Setting("edge", "run", "which edge"),
    Setting("at", "place", "where", shape="list", default=()),
    Setting("label", "text", "what to write", ""),
    Setting("mirror", "flag", "whether to mirror", False),
    Setting("widths", "length", "width by edge", shape="table", default={}),
)


def read(**given: object) -> dict[str, object]:
    return check_settings("hemmer", DECLARED, given, where=lambda n: f"job.toml {n}".strip())


def test_defaults_are_read_like_what_a_user_writes() -> None:
    values = read()
    assert values["width"] == 15.0
    assert values["fullness"] == 0.5
    assert values["edge"] is None
    assert values["at"] == ()
    assert values["widths"] == {}


def test_a_choice_in_other_letters_is_the_same() -> None:
    assert read(corner="Bevel")["corner"] == "bevel"
    with pytest.raises(UsageError, match="one of square, bevel"):
        read(corner="round")
    with pytest.raises(UsageError, match="one of square, bevel"):
        read(corner=["bevel"])


def test_every_kind() -> None:
    values = read(
        width='5/8"',
        fullness="1/4",
        turn=45,
        pieces=3,
        corner="bevel",
        edge="front:hem",
        at=["front: middle of hem", "underarm"],
        label="Front",
        mirror=True,
        widths={"front:hem": "3 cm", "fold": 0},
    )
    assert values["width"] == 15.875
    assert values["fullness"] == 0.25
    assert values["at"][0] == Place(  # type: ignore[index]
        "front: middle of hem", "front", None, "hem", 0.5, True, "along"
    )
    assert values["edge"] == RunReference("front", "hem")
    assert values["widths"] == {"front:hem": 30.0, "fold": 0.0}
    assert read(at="underarm")["at"] == (Place("underarm", None, "underarm"),)


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("width", 15, "unit"),
        ("width", "1.5", "unit"),
        ("width", "2 m", "at most 100 mm"),
        ("width", True, "length with its unit"),
        ("fullness", "lots", "share"),
        ("fullness", "-4%", "at least 0"),
        ("turn", "30 cm", "degrees"),
        ("turn", float("inf"), "finite"),
        ("pieces", 1.5, "whole number"),
        ("pieces", True, "whole number"),
        ("pieces", 0, "at least 1"),
        ("corner", "round", "square, bevel"),
        ("edge", 3, "edge or run"),
        ("edge", "front:", "front:hem"),
        ("at", "half of", "place"),
        ("at", "2 down from hip", 'place "2 down from hip"'),
        ("at", "level at hip along side", "Write it like: level with underarm"),
        ("label", 3, "text in quotes"),
        ("mirror", "yes", "true or false"),
        ("widths", "3 cm", "table"),
        ("widths", {"hem": "3"}, "unit"),
    ],
)
def test_wrong_values_name_owner_setting_place_and_cure(
    name: str, value: object, says: str
) -> None:
    with pytest.raises(UsageError) as caught:
        read(**{name: value})
    message = str(caught.value)
    assert "hemmer" in message
    assert f'"{name}"' in message
    assert f"job.toml {name}" in message
    assert says in message
    assert caught.value.cure


def test_a_misspelt_setting_is_told_the_right_one() -> None:
    with pytest.raises(UsageError, match='Did you mean "width"') as caught:
        read(widht="1 cm")
    assert "job.toml widht" in str(caught.value)


def test_a_required_setting_must_be_there() -> None:
    needed = (Setting("along", "run", "which edge", required=True),)
    with pytest.raises(UsageError, match='"hemmer" needs the setting "along"'):
        check_settings("hemmer", needed, {})


def read_texts(*texts: str) -> dict[str, object]:
    return check_settings("hemmer", DECLARED, texts)


def test_texts_of_a_command_line_are_read_by_their_kind() -> None:
    values = read_texts(
        "width=5/8 in",
        "fullness = 1/4",
        "turn=-12.5",
        "pieces=3",
        "corner=bevel",
        "edge=front:#2",
        "at=front: middle of hem",
        "at=#1",
        "label=a = b",
        "mirror=yes",
        "widths.hem=4cm",
        "widths.front:side.low=0 mm",
    )
    as_in_a_job = read(
        width="5/8 in",
        fullness="1/4",
        turn=-12.5,
        pieces=3,
        corner="bevel",
        edge="front:#2",
        at=["front: middle of hem", "#1"],
        label="a = b",
        mirror=True,
        widths={"hem": "4cm", "front:side.low": "0 mm"},
    )
    assert values == as_in_a_job
    assert read_texts("mirror=false")["mirror"] is False
    assert read_texts() == read()


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        (("width",), "SETTING=VALUE"),
        (("=3 cm",), "SETTING=VALUE"),
        (("widths.=3 cm",), "SETTING.KEY=VALUE"),
        (("width=1 cm", "width=1 cm"), 'setting "width" of "hemmer" is given twice'),
        (("widths.hem=1 cm", "widths.hem=2 cm"), '"widths.hem" of "hemmer" is given twice'),
        (("widths=1 cm", "widths.hem=2 cm"), "given twice"),
        (("widths=1 cm",), 'Write --set "widths.NAME=1 cm"'),
        (("width.hem=1 cm",), 'setting "width"'),
        (("width=15",), "does not say its unit"),
        (("pieces=two",), "a whole number, as 2"),
        (("pieces=2.5",), "a whole number, as 2"),
        (("turn=far",), "an angle in degrees"),
        (("mirror=perhaps",), "true or false"),
        (("corner=round",), "square, bevel"),
        (("edge=front:",), "an edge or run"),
        (("widht=1 cm",), 'Did you mean "width"'),
    ],
)
def test_wrong_texts_name_owner_setting_and_cure(texts: tuple[str, ...], says: str) -> None:
    with pytest.raises(UsageError) as caught:
        read_texts(*texts)
    assert says in str(caught.value)
    assert "hemmer" in str(caught.value)


def test_a_table_of_rules_is_opened_by_who_asks() -> None:
    declared = (Setting("rules", "rules", "the rules"),)
    opened = object()
    for given in ({"rules": "a.csv"}, ["rules=a.csv"]):
        found = check_settings("x", declared, given, rules=lambda text: (text, opened))
        assert found["rules"] == ("a.csv", opened)
    assert check_settings("x", declared, {"rules": opened})["rules"] is opened
    with pytest.raises(UsageError, match=r'as "rules\.csv"'):
        check_settings("x", declared, {"rules": "a.csv"})
