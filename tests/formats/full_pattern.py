"""A pattern in which every field of every part of the model says something."""

from __future__ import annotations

from sizewright.geometry.path import Path
from sizewright.model import (
    Adjust,
    Allowances,
    Axis,
    Body,
    ChainPart,
    CornerShape,
    Cutout,
    Dart,
    Drill,
    Ease,
    Fold,
    Grain,
    Hold,
    Label,
    Mark,
    Notch,
    Outline,
    PairedNotch,
    Pattern,
    Piece,
    Pleat,
    Point,
    Quantity,
    Run,
    Seam,
    WidthStretch,
)

_CORNERS = [(20.0, 20.0), (150.0, 20.0), (170.0, 190.0), (20.0, 210.0)]


def _front() -> Piece:
    path = Path.of(
        [
            [(30, 20), (70, 20)],
            [(70, 20), (80, 90)],
            [(80, 90), (90, 20)],
            [(90, 20), (150, 25)],
            [(150, 25), (150, 70), (160, 90), (160, 120)],
            [(160, 120), (160, 160), (150, 170), (150, 200)],
            [(150, 200), (120, 170), (60, 170), (30, 200)],
            [(30, 200), (30, 20)],
        ],
        closed=True,
    )
    outline = Outline.of(
        path,
        points=[
            Point(0, "waist centre", "centre"),
            Point(3, None, "waist"),
            Point(5, "bust & side"),
            Point(6, 'under "arm"'),
        ],
        runs=[Run(4, 6, "side"), Run(0, 4, "waist"), Run(6, 7, "neck = top; 100%")],
    )
    cut = Outline.of(
        path.transformed(_grown()).rolled(2), points=[Point(1, "outer")], runs=[Run(1, 3, "rim")]
    )
    mark = Path.of([[(60, 120), (70, 130), (80, 130), (90, 120)]], closed=False)
    hole = Path.polyline([(100, 130), (120, 130), (120, 134), (100, 134)], closed=True)
    return Piece(
        name="front",
        outline=outline,
        kind="sew",
        cut_line=cut,
        quantity=(Quantity("main", 2), Quantity("weft interfacing", 1)),
        pair=True,
        side="left",
        faces="back",
        axis=Axis((50.0, 40.0), (51.0, 140.0), given=False, away="left"),
        grain=Grain((40.0, 40.0), (40.5, 150.0), 1),
        fold=Fold(7, 0),
        notches=(
            Notch(outline.spot(20.0), "castle", 6.5, 2, "a", "right", "end", "n1", "side seam"),
            Notch(outline.spot(float(path.cumulative[4]) + 33.3)),
        ),
        drills=(Drill((81.0, 97.5), "bust", "left"),),
        marks=(Mark(mark, "casing", "ribbon", "right"),),
        cutouts=(Cutout(hole, "slot", "left"),),
        labels=(Label("Front & centre,\n  cut 2", (60.0, 150.0), 6.25, 12.5),),
        adjusts=(Adjust(Path.polyline([(32, 105), (158, 104)]), "above waist"),),
        darts=(Dart("waist", 1, 3, (80.0, 96.0), 2),),
        pleats=(Pleat("tuck", 0, 1),),
        holds=(Hold((4, 5, 6), "placket"), Hold((0,))),
        story=("drawn on squared paper", "dart of 20 mm put in <low>"),
        allowances=Allowances(
            10.0,
            (WidthStretch(4, 5, 15.0, 22.5, "left"), WidthStretch(7, 0, 0.0, 0.0)),
            "bevel",
            (CornerShape(4, "square", before=False), CornerShape(5, "mitre")),
            4.0,
        ),
    )


def _grown() -> object:
    from sizewright.geometry import affine

    return affine.compose(
        affine.translation(90.0, 110.0), affine.scaling(1.15), affine.translation(-90.0, -110.0)
    )


def full_pattern() -> Pattern:
    """Three pieces: one with everything, one cut with its allowance, one graded from it."""
    corners = Path.polyline([(x + 200, y) for x, y in _CORNERS], closed=True)
    dart = Dart("shoulder", 1, 2, (300.0, 105.0))
    base = Piece("back", Outline.of(corners), "cut", allowance=12.7, size="12", darts=(dart,))
    # Graded so that another corner is lowest now: the numbers stay.
    larger = [(200.0, 25.0), (352.0, 20.0), (375.0, 195.0), (200.0, 216.0)]
    moved = base.outline.with_path(Path.polyline([(x + 2, y) for x, y in larger], closed=True))
    graded = base.with_changes("graded to 14", outline=moved, size="14", base=base)
    side = Seam(
        "side",
        (ChainPart("front", "side", reverse=True, count=2),),
        (ChainPart("back", "2"), ChainPart("back", "#1..#3")),
        Ease(5.5, False, "gather", ("a", "b")),
        (PairedNotch(0.25, True, 2, "mid"),),
    )
    hem = Seam("hem", (ChainPart("front", "1"),), (ChainPart("back", "1"),), Ease(0.04, True))
    bodies = {"12": Body({"bust": 912.5, "back-waist-length": 410.0}, stretch=True)}
    return Pattern(
        (_front(), base, graded), "12", (side, hem), (420.0, 297.0), 'A "full" <one>', bodies
    )
