"""Labels never lie over other words, however little room there is."""

from __future__ import annotations

from sizewright.pictures import Box
from sizewright.pictures.labels import Candidate, Style, Text, choose, off_words
from sizewright.pictures.room import Room


def candidate(x: float, cost: float) -> Candidate:
    text = Text((("dart waist", Style(3.0)),))
    return Candidate(text, Box(x, 0.0, text.width, text.height), cost)


def test_lines_are_crossed_rather_than_words() -> None:
    """One word under the first place, a line along the second."""
    room = Room(0.5)
    room.add_box(Box(0.0, 0.0, 30.0, 3.0))
    room.add_words(Box(0.0, 0.0, 30.0, 3.0))
    room.add_line((100.0, 0.0), (140.0, 0.0))
    chosen = choose(room, [candidate(0.0, 0.0), candidate(120.0, 0.0)], margin=0.6)
    assert chosen is not None
    assert chosen.box.x == 120.0


def test_where_all_places_bear_words_it_is_moved_off_them() -> None:
    room = Room(0.5)
    words = [Box(0.0, y, 200.0, 4.0) for y in (-8.0, -4.0, 0.0, 4.0)]
    for box in words:
        room.add_box(box)
        room.add_words(box)
    chosen = choose(room, [candidate(0.0, 0.0), candidate(20.0, 1.0)], margin=0.6)
    assert chosen is not None
    assert not any(chosen.box.letters.overlaps(box.letters) for box in words)
    assert abs(chosen.box.y) < 16.0
    assert off_words(Room(0.5), candidate(3.0, 0.0)) == candidate(3.0, 0.0)
