"""True scale: page size, viewBox and preserveAspectRatio, as maps to mm."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

import numpy as np

from ...errors import InputError
from ...findings import Finding
from ...geometry import affine
from ...geometry.types import Floats
from ...units import Unit, format_length, parse_css_length
from ..drawing.shapes import Box
from .shapes import Viewport
from .values import numbers
from .xml_tree import Node

_ALIGN = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


class Page(NamedTuple):
    """The page of a drawing.

    `to_mm` (2, 3) maps root user units to mm, y up, from the page's lower left corner
    (from the drawing's own origin where there is no page size). `size` in mm; `border`
    is the viewBox, or page, in mm as (x0, y0, x1, y1); None where neither is given.
    """

    to_mm: Floats
    size: tuple[float, float] | None
    border: Box | None
    viewport: Viewport
    findings: tuple[Finding, ...]


def read_page(root: Node, units: Unit | None) -> Page:
    """Page and scale of the root `svg` element.

    Without width and height a user unit is one CSS pixel (1/96 in), with a finding.
    `units` says what one user unit of the drawing is, whatever the page says. Raises
    InputError for sizes that are no lengths or not above zero.
    """
    box = view_box(root)
    width, height = (_absolute(root, name) for name in ("width", "height"))
    findings: list[Finding] = []
    if units is not None:
        unit = units.to_mm(1.0)
        if box is None:
            pixels = [None if v is None else Unit.PX.from_mm(v) for v in (width, height)]
            width, height = (None if v is None else v * unit for v in pixels)
        else:
            width, height = box[2] * unit, box[3] * unit
    elif width is None and height is None:
        unit = Unit.PX.to_mm(1.0)
        if box is not None:
            width, height = box[2] * unit, box[3] * unit
        findings.append(_assumed(width, height))
    else:
        unit = Unit.PX.to_mm(1.0)
        if not any(re.search(r"[a-z%]", root.get(name), re.I) for name in ("width", "height")):
            findings.append(_assumed(width, height, "the page's width and height have no unit"))
        if box is not None:
            # One size given: the other follows from the viewBox's proportions.
            width = height * box[2] / box[3] if width is None and height is not None else width
            height = width * box[3] / box[2] if height is None and width is not None else height
    if box is None or width is None or height is None:
        down = affine.scaling(unit)
        viewport = Viewport((width or 0.0) / unit, (height or 0.0) / unit)
    else:
        fit = root.get("preserveAspectRatio") if units is None else "none"
        down = fitted(box, (0.0, 0.0, width, height), fit)
        viewport = Viewport(box[2], box[3])
    size = None if width is None or height is None else (width, height)
    flip = affine.affine(1, 0, 0, -1, 0, 0 if height is None else height)
    to_mm = affine.compose(flip, down)
    border: Box | None = None
    if box is not None:
        (x0, y0), (x1, y1) = affine.apply(to_mm, _corners(box))
        border = (float(x0), float(y1), float(x1), float(y0))
    elif size is not None:
        border = (0.0, 0.0, *size)
    return Page(to_mm, size, border, viewport, tuple(findings))


def _corners(box: Box) -> Floats:
    return np.array([[box[0], box[1]], [box[0] + box[2], box[1] + box[3]]])


def _assumed(
    width: float | None, height: float | None, what: str = "the file gives no page size"
) -> Finding:
    text = f"{what}, so one unit was taken for 1/96 in"
    if width is not None and height is not None:
        size = f"{format_length(width)} by {format_length(height)}"
        text += f" and the page for {size}"
    return Finding(
        "scale-assumed",
        "warn",
        text,
        cure="Say the unit of the drawing (--units mm), or give the page a width and height with "
        "units.",
    )


def _absolute(root: Node, name: str) -> float | None:
    """Width or height in mm; None where it is missing or a share of the window."""
    text = root.get(name).strip()
    if not text or text == "auto" or text.endswith("%"):
        return None
    try:
        value = parse_css_length(text)
    except InputError as error:
        raise error.at(f"line {root.line}, {name} of the page") from None
    if value <= 0:
        raise InputError(
            f'the page\'s {name} "{text[:20]}" is not above zero',
            where=f"line {root.line}",
            cure="Give the page its true size, as in 210mm.",
        )
    return value


def view_box(node: Node) -> Box | None:
    """The viewBox attribute; None where it is missing. InputError for a bad one."""
    text = node.get("viewBox").strip()
    if not text or text == "none":
        return None
    try:
        values, rest = numbers(text)
    except InputError as error:
        raise error.at(f"{node.place}, viewBox") from None
    if rest or len(values) != 4 or values[2] <= 0 or values[3] <= 0:
        raise InputError(
            f'the viewBox "{text[:60]}" is not four numbers, the last two above zero',
            where=node.place,
            cure="Write it as left, top, width and height, such as 0 0 210 297.",
        )
    return (values[0], values[1], values[2], values[3])


def fitted(box: Box, into: Box, aspect: str) -> Floats:
    """The map of a viewBox into a rectangle, both (x, y, width, height) with y down.

    `aspect` is preserveAspectRatio (SVG 1.1, 7.8): the default keeps the shape and
    centres it.
    """
    bx, by, bw, bh = box
    x, y, width, height = into
    sx, sy = width / bw, height / bh
    words = aspect.replace("defer", "").split()
    align = words[0] if words else "xMidYMid"
    if align == "none":
        return affine.affine(sx, 0, 0, sy, x - bx * sx, y - by * sy)
    s = max(sx, sy) if "slice" in words[1:] else min(sx, sy)
    ax, ay = _ALIGN.get(align[1:4], 0.5), _ALIGN.get(align[5:8], 0.5)
    # Sizes that agree save for rounding leave no gap to share out.
    dx = 0.0 if math.isclose(sx, s, rel_tol=1e-12) else ax * (width - bw * s)
    dy = 0.0 if math.isclose(sy, s, rel_tol=1e-12) else ay * (height - bh * s)
    return affine.affine(s, 0, 0, s, x + dx - bx * s, y + dy - by * s)


_PAPERS = ((841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210))
_INCH_PAPERS = ((215.9, 279.4), (215.9, 355.6), (279.4, 431.8), (431.8, 558.8))
_SLIPS = (
    *((96 / dpi, f"drawn at {dpi} px to the inch") for dpi in (72, 90, 150, 300)),
    (25.4, "drawn in inches and taken for mm"),
    (1 / 25.4, "drawn in mm and taken for inches"),
)


def scale_hint(size: tuple[float, float] | None) -> Finding | None:
    """A warning where the page would be a usual paper size if a usual slip of scale was made."""
    if size is None or _is_paper(size, 1.0):
        return None
    # Of several the one that comes nearest to A4.
    fits = [one for one in _SLIPS if _is_paper(size, one[0])]
    if not fits:
        return None
    factor, slip = min(fits, key=lambda one: abs(min(size) * one[0] - 210.0))
    width, height = (f"{v * factor:.1f}mm" for v in size)
    return Finding(
        "scale-doubtful",
        "warn",
        f"the page would be a usual paper size if the drawing were {factor:.4g} times "
        f"as large ({slip}); nothing was changed",
        cure="Measure a known length in it; if it is off, give the page its true size: "
        f'width="{width}" height="{height}".',
    )


def _is_paper(size: tuple[float, float], factor: float) -> bool:
    short, long = sorted(v * factor for v in size)
    return any(abs(short - a) <= 0.6 and abs(long - b) <= 0.6 for a, b in (*_PAPERS, *_INCH_PAPERS))
