"""A pattern that says all that formats keep or lose, each thing so that it is found again."""

from __future__ import annotations

from dataclasses import replace

from sizewright.geometry.path import Path
from sizewright.model import (
    NOTCH_KINDS,
    Label,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Quantity,
    Run,
)
from tests.formats.full_pattern import full_pattern
from tests.plugins.allowances import allowed

#: Notches of the pattern's own stand so far apart, mm; one is found again within the half.
NOTCHES_APART = 25.0


def telling_pattern() -> Pattern:
    """The pattern that says everything, and a few things more that formats differ in."""
    front, *others = full_pattern().pieces
    outline = front.outline
    start = float(outline.path.cumulative[4])
    kinds = [
        Notch(outline.spot(start + NOTCHES_APART * (k + 1)), kind, 5.0)
        for k, kind in enumerate(NOTCH_KINDS)
    ]
    rich = front.with_changes(
        notches=(front.notches[0], *kinds),
        cut_line=None,
        labels=(*front.labels, Label("one line", (60.0, 100.0), 6.25, 12.5)),
    )
    assert front.cut_line is not None
    meant = allowed(
        rich, width="1 cm", widths={"neck = top; 100%": "2 cm"}, corner_kinds={"front:#2": "square"}
    )
    cut = meant.cut_line
    assert cut is not None
    cut = cut.with_point(cut.corners[0], name="outer").with_run(
        Run(cut.corners[1], cut.corners[3], "rim")
    )
    rich = replace(meant, cut_line=cut, story=rich.story)
    square = Path.polyline([(230, 225), (290, 225), (290, 285), (230, 285)], closed=True)
    letters = Piece(
        "Ärmel", Outline.of(square), size="12", labels=(Label("Größe ½", (240.0, 240.0)),)
    )
    right = Path.polyline([(310, 225), (370, 225), (370, 285), (310, 285)], closed=True)
    numbered = Outline.of(right, points=[Point(1, None, "7")])
    plain = Piece("plain", numbered, quantity=(Quantity("main", 2),))
    return full_pattern().with_pieces([rich, *others, letters, plain])
