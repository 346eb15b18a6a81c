"""References to runs, `piece:run`, read once and found on pieces."""

from __future__ import annotations

import pytest

from sizewright.errors import InputError, LookupFailed
from sizewright.model import (
    Outline,
    Pattern,
    Piece,
    Run,
    RunReference,
    find_run,
    parse_run,
    split_reference,
)
from tests.shapes import bodice, rectangle

PATTERN = Pattern((bodice(), Piece("sleeve", Outline.of(rectangle()))))


@pytest.mark.parametrize(
    ("text", "piece", "rest"),
    [
        ("hem", None, "hem"),
        (" front : hem ", "front", "hem"),
        ("front:hip..hem", "front", "hip..hem"),
        ("front:#3", "front", "#3"),
        ("front:a:b", "front", "a:b"),
    ],
)
def test_the_first_colon_parts_piece_and_run(text: str, piece: str | None, rest: str) -> None:
    assert split_reference(text) == (piece, rest)
    reference = parse_run(text)
    assert reference == RunReference(piece, rest)
    assert parse_run(str(reference)) == reference


@pytest.mark.parametrize("text", ["", "  ", ":", "front:", ":hem"])
def test_what_names_nothing_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="Write it like front:hem"):
        parse_run(text)


def test_it_finds_the_run_on_a_piece_and_in_a_pattern() -> None:
    front = bodice()
    run = front.run("armhole")
    assert parse_run("armhole").on(front) == run
    assert parse_run("front:armhole").means(front)
    assert not parse_run("back:armhole").means(front)
    for text in ("front:armhole", "armhole"):
        assert find_run(PATTERN, text) == (front, run)
    assert find_run(PATTERN, "front:#1")[1] == Run(
        front.outline.edges[0].start, front.outline.edges[0].end, front.outline.edges[0].name
    )


def test_what_is_not_there_is_told_with_what_is() -> None:
    with pytest.raises(LookupFailed, match="front: no edge or run"):
        find_run(PATTERN, "front:cuff")
    with pytest.raises(LookupFailed, match="Pieces: front, sleeve"):
        find_run(PATTERN, "back:hem")
    with pytest.raises(LookupFailed, match="no piece has an edge or run"):
        find_run(PATTERN, "turn-up")
    with pytest.raises(LookupFailed, match="front:#1 or sleeve:#1"):
        find_run(PATTERN, "#1")
