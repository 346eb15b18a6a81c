"""Findings told together, the gravest first; each stays one of its own for JSON."""

from __future__ import annotations

from sizewright.findings import Finding, told


def test_alike_over_pieces_and_sizes_are_one_line_with_the_most() -> None:
    found = [
        Finding("kink", "warn", f"it turns by 0.{k} degrees", piece, size, "hip", "Draw a curve.")
        for k, (piece, size) in enumerate((("front", "8"), ("front", "10"), ("back", "10")))
    ]
    assert told(found) == (
        "warn: front, back in 8, 10 hip: it turns by 0.2 degrees (the most of 3). Draw a curve.",
    )
    assert told(found[:1]) == ("warn: front 8 hip: it turns by 0.0 degrees. Draw a curve.",)
    assert told([found[0]] * 3) == told(found[:1])


def test_the_gravest_come_first_and_others_stay_apart() -> None:
    found = [
        Finding("a", "note", "so"),
        Finding("b", "warn", "so"),
        Finding("c", "fail", "so"),
        Finding("c", "fail", "otherwise"),
        Finding("c", "fail", "so", cure="Do this."),
    ]
    assert told(found) == (
        "fail: so",
        "fail: otherwise",
        "fail: so. Do this.",
        "warn: so",
        "note: so",
    )


def test_lists_are_joined() -> None:
    found = [
        Finding("lost", "note", "not held: names, darts", "front"),
        Finding("lost", "note", "not held: names, pleats", "back"),
    ]
    assert told(found) == ("note: front, back: not held: names, darts, pleats",)


def test_many_are_counted_and_coordinates_left_out() -> None:
    found = [Finding("x", "warn", "odd", f"piece-{k}", "8", f"{k}.0, 2.0 mm") for k in range(45)]
    assert told(found) == ("warn: 45 pieces in 8: odd",)
