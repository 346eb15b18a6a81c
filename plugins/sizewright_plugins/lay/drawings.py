"""A lay as files: its picture, its pieces at full size on pages, and for a cutter."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from sizewright.findings import Finding
from sizewright.geometry import Path, affine
from sizewright.laying import Laid, Lay
from sizewright.model import Pattern, Piece
from sizewright.pictures import Ground, LaySheet, Lying, lay_picture
from sizewright.plugin import Values
from sizewright.units import Unit, format_length

from .report import facts

# Panels are set this far apart where they come into one drawing, mm.
_APART = 60.0


def as_svg(pattern: Pattern, lay: Lay) -> bytes:
    """The picture as SVG."""
    return _sheet(pattern, lay).svg().encode("utf-8")


def as_pdf(pattern: Pattern, lay: Lay) -> bytes:
    """The picture as a PDF of one page, at the scale that it tells."""
    from ..tiling.pen import Pen

    sheet = _sheet(pattern, lay)
    pen = Pen(sheet.title)
    with pen.page(sheet.width, sheet.height):
        sheet.put(pen)
    return pen.bytes()


def as_pages(pattern: Pattern, lay: Lay, values: Values) -> tuple[bytes, Sequence[Finding]]:
    """The lay at full size on pages, as the writer of pages has them."""
    from ..tiling import write_pages

    laid = _placed(pattern, lay)
    fixed = {"pack": False, "nest": False, "gap": lay.cloth.gap, "turn": "none"}
    output = write_pages(laid, {**values, **fixed})
    # That the sewing line lacks its allowance has been told of the lay.
    return output.data, [f for f in output.findings if f.code != "no-allowance"]


def for_cutter(pattern: Pattern, lay: Lay) -> tuple[bytes, Sequence[Finding]]:
    """The pieces where they lie, as flat DXF for a cutter."""
    from sizewright.formats import write_dxf

    written = write_dxf(replace(_placed(pattern, lay), seams=()), "cutter")
    return written.data, [f for f in written.findings if f.level != "note"]


def _placed(pattern: Pattern, lay: Lay) -> Pattern:
    """A pattern of the pieces where they lie, each with a name of its own; panels side by side."""
    moves: dict[str, float] = {}
    at = 0.0
    for panel in lay.panels:
        x0, _, x1, _ = panel.outline.bounds
        moves[panel.name] = at - x0
        at += x1 - x0 + _APART
    seen: Counter[str] = Counter()
    pieces = []
    for one, piece in _pieces(lay):
        title = (
            f"{piece.name} {piece.size}" if len(pattern.sizes) > 1 and piece.size else piece.name
        )
        seen[title] += 1
        name = title if seen[title] == 1 else f"{title} ({seen[title]})"
        dx = moves[one.panel] if lay.cloth.width is None else 0.0
        moved = piece.transformed(affine.translation(dx, 0.0))
        pieces.append(replace(moved, name=name, quantity=(), pair=False, base=None))
    return replace(pattern, pieces=tuple(pieces), seams=(), page=None)


def _pieces(lay: Lay) -> list[tuple[Laid, Piece]]:
    """Every piece in its place, panel by panel, in the order to cut."""
    found = []
    for panel in lay.panels:
        for one, _ in lay.on(panel.name):
            m = one.item.matrix(panel, one.x, one.y, one.turn)
            found.append((one, one.item.piece.transformed(m)))
    return found


# --- the picture --------------------------------------------------------------------


def _sheet(pattern: Pattern, lay: Lay) -> LaySheet:
    pieces = _pieces(lay)
    grounds = []
    number = 0
    for panel, ground in zip(lay.panels, _grounds(lay), strict=True):
        lying = []
        for one, piece in pieces:
            if one.panel == panel.name:
                number += 1
                words = one.item.side if one.item.side != "as drawn" else ""
                title = piece.title if len(pattern.sizes) > 1 else piece.name
                lying.append(Lying(number, piece, title, words))
        grounds.append((ground, lying))
    title = f"{pattern.title or 'Lay'}: {lay.cloth.name}"
    sizes = ", ".join(pattern.sizes)
    sized = [f"size{'s' if len(pattern.sizes) > 1 else ''} {sizes}"] if sizes else []
    left = [f"NOT ON IT: {', '.join(item.title for item in lay.left)}"] if lay.left else []
    return lay_picture(grounds, title=title, facts=[*sized, *facts(lay), *left])


def _grounds(lay: Lay) -> list[Ground]:
    cloth = lay.cloth
    one_way = cloth.nap == "one-way"
    if cloth.width is None:
        return [Ground(p.name, p.outline, p.angle, one_way, p.holes, p.flaws) for p in cloth.panels]
    long = cloth.length or max(lay.length, 1.0)
    low, high = cloth.band
    edges = [y for y in (low, high) if 0 < y < cloth.depth]
    return [
        Ground(
            "",
            _box(long, cloth.depth),
            0.0,
            one_way,
            selvedges=tuple(_level(y, long) for y in edges),
            folds=(_level(0.0, long),) if cloth.folded else (),
            along=f"{format_length(long, Unit.CM)}, {format_length(long, Unit.IN)}",
            across=f"{format_length(cloth.depth, Unit.CM)}{' folded' if cloth.folded else ''}",
        )
    ]


def _box(wide: float, tall: float) -> Path:
    return Path.polyline([(0, 0), (wide, 0), (wide, tall), (0, tall)], closed=True)


def _level(y: float, long: float) -> Path:
    return Path.polyline([(0.0, y), (long, y)])
