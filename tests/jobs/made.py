"""A reading made by hand whose figures a person can check in the head."""

from __future__ import annotations

from sizewright.findings import Finding
from sizewright.formats.reading import Reading, SetAside
from sizewright.geometry.path import Path
from sizewright.model import Fold, Grain, Notch, Outline, Pattern, Piece, Point, Quantity, Run, Spot


def panel() -> Piece:
    """5 in by 10 in, 1 in right of and 2 in above the page's corner; on the fold at its left."""
    x0, y0, x1, y1 = 25.4, 50.8, 152.4, 304.8
    path = Path.polyline([(x0, y0), (x1, y0), (x1, 177.8), (x1, y1), (x0, y1)], closed=True)
    outline = Outline.of(
        path,
        points=[Point(0, "hem-centre"), Point(2, "hip", "side"), Point(3, "side-top", "side")],
        runs=[Run(0, 1, "hem"), Run(1, 3, "side")],
    )
    return Piece(
        "panel",
        outline,
        kind="sew",
        size="12",
        quantity=(Quantity("main", 2), Quantity("interfacing", 1)),
        pair=True,
        grain=Grain((76.2, 101.6), (76.2, 254.0), 1),
        fold=Fold(4, 0),
        notches=(Notch(Spot(1, 50.8), "v", 6.0), Notch(Spot(3, 25.4), count=2, name="top")),
    )


def reading() -> Reading:
    """The panel, and something set aside and found."""
    finding = Finding(
        "seam-short", "warn", "10 mm too short", "panel", "12", "side", "Lengthen the side."
    )
    pattern = Pattern((panel(),), base_size="12", page=(210.0, 297.0), title="Panelled skirt")
    return Reading(pattern, (SetAside("frame", "rect", "it is a page frame"),), (finding,))
