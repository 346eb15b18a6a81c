"""Patterns made by hand for pictures and tables: every feature, and shapes that are hard to label.

All of them are invented.
"""

from __future__ import annotations

import math

from sizewright.geometry.path import Path
from sizewright.model import (
    NOTCH_KINDS,
    Adjust,
    Axis,
    Cutout,
    Dart,
    Drill,
    Fold,
    Grain,
    Hold,
    Label,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Point,
    Quantity,
    Run,
    Spot,
)


def rectangle(name: str, width: float, height: float, **fields: object) -> Piece:
    """A plain rectangle with its lower left at the origin."""
    points = [(0, 0), (width, 0), (width, height), (0, height)]
    outline = Outline.of(Path.polyline(points, closed=True))
    return Piece(name, outline, **fields)  # type: ignore[arg-type]


def bodice() -> Piece:
    """A front on the fold with a dart, a pleat, all kinds of notches and every other mark."""
    path = Path.of(
        [
            [(0, 0), (240, 8)],
            [(240, 8), (240, 90)],
            [(240, 90), (240, 130), (222, 175), (220, 215)],
            [(220, 215), (222, 250), (236, 285), (238, 320)],
            [(238, 320), (150, 335)],
            [(150, 335), (238, 350)],
            [(238, 350), (238, 392)],
            [(238, 392), (180, 392), (172, 450), (170, 540)],
            [(170, 540), (88, 570)],
            [(88, 570), (84, 520), (60, 490), (24, 486)],
            [(24, 486), (0, 486)],
            [(0, 486), (0, 0)],
        ],
        closed=True,
    )
    names = {1: "hem-side", 3: "side-waist", 7: "underarm", 8: "shoulder-tip", 9: "neck-side"}
    points = [Point(v, n, n) for v, n in names.items()] + [Point(0, "hem-centre")]
    runs = [
        Run(0, 1, "hem"),
        Run(6, 7, "side-top"),
        Run(7, 8, "armhole"),
        Run(8, 9, "shoulder"),
        Run(9, 10, "neck"),
        Run(11, 0, "centre-front"),
    ]
    outline = Outline.of(path, points=points, runs=runs)
    edges = [e for e in outline.edges if e.length > 60]
    notches = [
        Notch(Spot(edge.start, edge.length * 0.6), kind, 5.0, 1 + (i == 2))
        for i, (kind, edge) in enumerate(zip(NOTCH_KINDS, edges * 3, strict=False))
    ]
    notches.append(Notch(Spot(7, 90.0), "slit", 5.0, 2, name="armhole-front"))
    return Piece(
        "front",
        outline,
        kind="sew",
        size="12",
        quantity=(Quantity("main", 1), Quantity("interfacing", 1)),
        axis=Axis((70, 60), (70, 420)),
        grain=Grain((45, 60), (45, 420), 1),
        fold=Fold(11, 0),
        notches=tuple(notches),
        drills=(Drill((135, 335), "bust"),),
        marks=(
            Mark(Path.polyline([(100, 250), (100, 210), (180, 210), (180, 250)]), "pocket"),
            Mark(Path.polyline([(140, 120), (150, 120), (150, 130)]), "button", side="left"),
        ),
        cutouts=(
            Cutout(
                Path.polyline([(110, 150), (130, 150), (130, 156), (110, 156)], closed=True),
                "tie-slot",
                "right",
            ),
        ),
        labels=(Label("Front, cut 1 on the fold", (90, 60), 8.0),),
        adjusts=(Adjust(Path.polyline([(6, 285), (230, 285)]), "above-waist"),),
        darts=(Dart("bust", 4, 6, (150, 335), 5),),
        pleats=(Pleat("centre", 10, 11),),
        holds=(Hold((4, 6)),),
        story=("drawn on squared paper",),
    )


def back() -> Piece:
    """A back drawn facing the front, its fold on the right, grain both ways."""
    path = Path.of(
        [
            [(0, 0), (240, 0)],
            [(240, 0), (240, 545)],
            [(240, 545), (200, 545), (172, 560), (160, 572)],
            [(160, 572), (64, 536)],
            [(64, 536), (70, 460), (60, 400), (0, 392)],
            [(0, 392), (4, 330), (20, 290), (20, 215)],
            [(20, 215), (20, 170), (0, 130), (0, 90)],
            [(0, 90), (0, 0)],
        ],
        closed=True,
    )
    outline = Outline.of(
        path,
        points=[Point(6, "side-waist", "side-waist"), Point(4, "shoulder-tip", "tip")],
        runs=[Run(0, 1, "hem"), Run(4, 5, "armhole"), Run(5, 0, "side")],
    )
    return Piece(
        "back",
        outline,
        kind="sew",
        size="12",
        quantity=(Quantity("main", 1),),
        grain=Grain((190, 60), (190, 420)),
        fold=Fold(1, 2),
        notches=(Notch(Spot(4, 80.0), "slit", 5.0, 2),),
        darts=(Dart("waist", 0, 1, (120, 215), None),),
    )


def pocket() -> Piece:
    """A pocket with a cutting line round its sewing line."""
    sewn = Path.polyline(
        [(10, 41.18), (70, 11.18), (130, 41.18), (130, 151), (10, 151)], closed=True
    )
    cut = Path.polyline([(0, 35), (70, 0), (140, 35), (140, 161), (0, 161)], closed=True)
    outline = Outline.of(sewn, runs=[Run(3, 4, "top")], points=[Point(1, "tip", "tip")])
    return Piece(
        "pocket",
        outline,
        kind="sew",
        cut_line=Outline.of(cut),
        size="12",
        quantity=(Quantity("main", 2), Quantity("lining", 2)),
        pair=True,
        grain=Grain((70, 30), (70, 140)),
        notches=(Notch(Spot(3, 60.0), "v", 4.0),),
    )


def garment() -> Pattern:
    """Front, back and pocket."""
    pieces = (bodice(), back(), pocket())
    return Pattern(pieces, base_size="12", page=(640.0, 880.0), title="Sleeveless top")


def band() -> Pattern:
    """One long narrow band on the fold."""
    piece = rectangle(
        "waistband",
        760,
        36,
        kind="cut",
        allowance=10.0,
        fold=Fold(1, 2),
        grain=Grain((200, 18), (500, 18)),
        quantity=(Quantity("main", 1),),
        notches=(Notch(Spot(0, 250.0), "v", 5.0), Notch(Spot(2, 380.0), "t", 5.0)),
    )
    named = piece.outline.with_run(Run(0, 1, "waist")).with_point(1, name="centre-back")
    return Pattern((piece.with_changes(outline=named),))


def tiny_and_large() -> Pattern:
    """A tab of 3 cm beside a skirt of more than a metre."""
    skirt = Path.of(
        [
            [(0, 0), (0, 0), (520, -60), (900, 180)],
            [(900, 180), (420, 1100)],
            [(420, 1100), (380, 1070), (300, 1060), (250, 1062)],
            [(250, 1062), (0, 0)],
        ],
        closed=True,
    )
    large = Piece("skirt", Outline.of(skirt), kind="sew", grain=Grain((330, 150), (380, 950)))
    return Pattern((large, rectangle("tab", 30, 18, kind="cut")))


def twelve() -> Pattern:
    """A dozen pieces of many sizes, turned and curved."""
    pieces = []
    for i in range(12):
        w, h = 60 + 37 * (i % 5), 90 + 61 * (i * 7 % 6)
        path = Path.of(
            [
                [(0, 0), (w, 0)],
                [(w, 0), (w * 1.1, h * 0.4), (w * 0.8, h * 0.7), (w * 0.9, h)],
                [(w * 0.9, h), (w * 0.3, h * 0.9)],
                [(w * 0.3, h * 0.9), (w * 0.25, h * 0.6), (0, h * 0.7), (0, h * 0.5)],
                [(0, h * 0.5), (0, 0)],
            ],
            closed=True,
        )
        outline = Outline.of(path, runs=[Run(0, 1, "hem"), Run(1, 2, "side")])
        pieces.append(
            Piece(
                f"piece {i + 1}",
                outline,
                kind="cut" if i % 2 else "sew",
                size="38",
                pair=i % 3 == 0,
                quantity=(Quantity("main", 2),),
                grain=Grain((w * 0.45, h * 0.15), (w * 0.45, h * 0.65)),
            )
        )
    return Pattern(tuple(pieces), title="A dozen pieces")


def star(corners: int = 24) -> Pattern:
    """One piece with many corners, half of them reflex."""
    points = [
        (
            (200 if i % 2 else 150) * math.cos(math.tau * i / corners),
            (200 if i % 2 else 150) * math.sin(math.tau * i / corners),
        )
        for i in range(corners)
    ]
    return Pattern((Piece("cogged yoke", Outline.of(Path.polyline(points, closed=True))),))


def long_names() -> Pattern:
    """Names as long as people write them."""
    piece = rectangle("lower left front facing with extension", 180, 260, size="Large, tall")
    outline = piece.outline
    for v, name in enumerate(("lowest-corner-at-centre-front", "hem-at-the-side-seam-turning")):
        outline = outline.with_point(v, name=name)
    outline = outline.with_run(Run(0, 1, "hem-with-the-deep-turning-of-five-centimetres"))
    outline = outline.with_run(Run(1, 2, "side-seam-below-the-pocket-opening"))
    return Pattern((piece.with_changes(outline=outline), *tiny_and_large().pieces[1:]))


ALL = {
    "garment": garment,
    "band": band,
    "tiny-and-large": tiny_and_large,
    "twelve": twelve,
    "star": star,
    "long-names": long_names,
}
