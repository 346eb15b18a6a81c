"""Full-size drawings: what is on them, and that words keep clear."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sizewright.geometry.regions import contains
from sizewright.model import Fold, Label, Notch, Piece, Run, Spot
from sizewright.palette import FOLD_LINE, LINEN, SEW_LINE
from sizewright.pictures import (
    Box,
    Pages,
    Sketch,
    Stroke,
    Words,
    allowance_words,
    printed_nest,
    printed_piece,
    size_lines,
)
from sizewright.units import Unit
from tests.plugins.allowances import allowed
from tests.printing import drawn, in_sizes, rectangle


def words(sketch: Sketch) -> list[str]:
    return [part.text for part in sketch.parts if isinstance(part, Words)]


@pytest.fixture(scope="module")
def front() -> Piece:
    return drawn().piece("front")


def test_a_piece_says_what_it_is_and_how_many(front: Piece) -> None:
    said = words(printed_piece(front))
    for line in (
        "front",
        "size 12",
        "cut 1 main, 1 interfacing on the fold",
        "sewing line: add seam allowance",
        "lengthen or shorten here",
        "grain, one way",
    ):
        assert line in said
    assert "grade axis" not in said


def test_the_title_lies_within_its_piece(front: Piece) -> None:
    for piece in (front, rectangle("band", 700, 40), rectangle("tie", 20, 800)):
        titles = [p for p in printed_piece(piece).parts
                  if isinstance(p, Words) and piece.name in p.text]  # fmt: skip
        assert contains(piece.drawn.path, titles[0].box.corners).all()


def test_a_piece_too_small_for_its_name_has_it_above() -> None:
    piece = rectangle("a loop with a long name", 6, 30)
    title = next(p for p in printed_piece(piece).parts if isinstance(p, Words))
    assert title.box.corners[:, 1].min() > 30


def test_nothing_is_filled_with_colour(front: Piece) -> None:
    parts = printed_piece(front).parts
    assert not [p for p in parts if isinstance(p, Stroke) and p.fill == LINEN]


def test_the_fold_is_said_once(front: Piece) -> None:
    told = Label("place on the fold", (60.0, 300.0), 5.0, 90.0)
    labelled = replace(front, labels=(told,))
    assert words(printed_piece(labelled)).count("place on the fold") == 1
    other = replace(front, labels=(replace(told, text="cut 1 on the fold"),))
    assert "place on the fold" not in words(printed_piece(other))


def test_a_label_never_stands_on_its_head(front: Piece) -> None:
    over = front.transformed(np.array([[-1.0, 0, 0], [0, -1.0, 0]]))
    label = next(p for p in printed_piece(over).parts
                 if isinstance(p, Words) and p.text == front.labels[0].text)  # fmt: skip
    assert -90 < label.box.angle <= 90


def test_a_nest_names_each_size_on_its_own_line() -> None:
    pieces = [p for p in in_sizes(drawn()).pieces if p.name == "front"]
    lines = size_lines(len(pieces))
    sketch = printed_nest(pieces, lines)
    for piece, line in zip(pieces, lines, strict=True):
        marks = [p for p in sketch.parts if isinstance(p, Words) and p.text == piece.size]
        assert len(marks) >= 0.8 * piece.drawn.path.length / 200
        assert {mark.colour for mark in marks} == {line.colour}
        places = np.array([[mark.box.x, mark.box.y] for mark in marks])
        for place in places:
            apart = np.hypot(*(piece.drawn.path.at(np.linspace(0, 1, 4001)
                             * piece.drawn.path.length) - place).T).min()  # fmt: skip
            assert apart < 0.6
        assert any(isinstance(p, Stroke) and p.line == line for p in sketch.parts)
    # The folds lie on each other and are drawn as one.
    folds = [p for p in sketch.parts if isinstance(p, Stroke) and p.line == FOLD_LINE]
    assert len(folds) == 1


def sewn_panel(**fields: object) -> Piece:
    """A rectangle of 200 by 300 mm by its sewing line, on the fold at its left."""
    piece = replace(rectangle("panel", 200, 300), kind="sew", allowance=None, fold=Fold(3, 0))
    outline = piece.outline.with_run(Run(0, 1, "hem")).with_run(Run(2, 3, "neck-edge"))
    return replace(piece, outline=outline, **fields)  # type: ignore[arg-type]


def test_no_sewing_line_lies_on_the_fold() -> None:
    piece = allowed(sewn_panel(), width="15 mm")
    sewn = [p.path for p in printed_piece(piece).parts
            if isinstance(p, Stroke) and p.line == SEW_LINE]  # fmt: skip
    assert [path.length for path in sewn] == pytest.approx([200 + 300 + 200])
    assert not any(path.closed for path in sewn)
    whole = replace(piece, fold=None)
    (closed,) = (p.path for p in printed_piece(whole).parts
                 if isinstance(p, Stroke) and p.line == SEW_LINE)  # fmt: skip
    assert closed.closed


def test_the_widths_of_the_allowance_are_told() -> None:
    one = allowed(sewn_panel(), width="15 mm")
    assert allowance_words(one) == "allowance 1.5 cm (≈ 9/16 in)"
    piece = allowed(sewn_panel(), width="15 mm", widths={"hem": "30 mm", "neck-edge": "10 mm"})
    # Three edges, three widths: the least is told first, as none has more edges.
    assert allowance_words(piece) == "allowance 1 cm, hem 3 cm, edge 2 1.5 cm"
    assert allowance_words(piece, Unit.IN).endswith("hem ≈ 1 3/16 in, edge 2 ≈ 9/16 in")
    assert allowance_words(piece) in words(printed_piece(piece))
    assert allowance_words(sewn_panel()) == "sewing line: add seam allowance"


def test_a_label_that_says_the_name_alone_is_left_out() -> None:
    same, other = Label("Panel", (60.0, 100.0)), Label("Panel, lined", (60.0, 200.0))
    said = words(printed_piece(rectangle("panel", 200, 300, labels=(same, other))))
    assert "Panel" not in said
    assert {"panel", "Panel, lined"} <= {*said}


def test_notches_are_named_beside_them_where_there_is_room() -> None:
    notches = (
        Notch(Spot(0, 60.0), name="side-seam"),
        Notch(Spot(0, 150.0), seam="gather"),
        Notch(Spot(2, 60.0)),
    )
    piece = rectangle("band", 300, 60, notches=notches)
    sketch = printed_piece(piece)
    for name, x in (("side seam", 60), ("gather", 150)):
        (mark,) = (p for p in sketch.parts if isinstance(p, Words) and p.text == name)
        assert contains(piece.drawn.path, mark.box.corners).all()
        assert np.hypot(*(mark.box.nearest((x, 2)) - (x, 2))) < 5
    crowded = replace(piece, notches=tuple(Notch(Spot(0, 10.0 + 5 * k), name="a long name")
                                           for k in range(50)))  # fmt: skip
    assert words(printed_piece(crowded)).count("a long name") < 50


def test_words_keep_off_the_joints_of_pages() -> None:
    label = Label("Panel: gather the top", (140.0, 400.0), 6.0)
    piece = rectangle("panel", 400, 500, labels=(label,))
    strip, sign = Box(200, 250, 10, 500), Box(205, 400, 8, 8, 45.0)
    over = [w.text for w in printed_piece(piece).labels if w.box.overlaps(strip)]
    assert label.text in over
    pages = Pages(joints=(strip,), signs=(sign,))
    clear = printed_piece(piece, pages)
    assert not [w.text for w in clear.labels if w.box.overlaps(strip)]
    assert {"panel", label.text} <= {w.text for w in clear.labels}
