"""What formats keep and lose: nothing in silence, and no field of the model forgotten."""

from __future__ import annotations

import dataclasses

import pytest

from sizewright.geometry.path import Path
from sizewright.model import Outline, Pattern, Piece
from tests.formats.kept import FORMATS, SILENT, outcome
from tests.formats.kept_facts import FACTS, LOST, Fact
from tests.formats.kept_pattern import telling_pattern
from tests.formats.test_svg_roundtrip import _classes

ALL = [(group, fact) for group, facts in FACTS.items() for fact in facts]
IDS = [f"{group}: {fact.what}" for group, fact in ALL]
#: What even bare pieces say.
_BARE = {"name", "size", "that it has no size", "that it is not said which"}


@pytest.mark.parametrize("name", FORMATS)
def test_nothing_is_lost_in_silence(name: str) -> None:
    lost = [
        label for label, (_, fact) in zip(IDS, ALL, strict=True) if outcome(fact, name) == SILENT
    ]
    assert lost == []


@pytest.mark.parametrize("name", ["SVG", "curves"])
def test_lossless_formats_keep_everything(name: str) -> None:
    assert {outcome(fact, name) for _, fact in ALL} == {"kept"}


def test_every_field_of_the_model_is_in_the_table() -> None:
    fields = {
        f"{c.__name__}.{f.name}" for c in _classes() for f in dataclasses.fields(c) if f.compare
    }
    assert {field for _, fact in ALL for field in fact.fields} == fields


@pytest.mark.parametrize(("group", "fact"), ALL, ids=IDS)
def test_a_loss_is_seen(group: str, fact: Fact) -> None:
    """Each fact is itself, and missing where pieces are bare, or not there at all."""
    before = telling_pattern()
    assert fact.after(before, before) < 1e-9
    assert fact.after(before, Pattern(())) == LOST
    square = Path.polyline([(700, 700), (790, 700), (790, 790), (700, 790)], closed=True)
    bare = Pattern(tuple(Piece(p.name, Outline.of(square), size=p.size) for p in before.pieces))
    if fact.what not in _BARE and not (group == "A piece" and "letters" in fact.what):
        assert fact.after(before, bare) > 50
