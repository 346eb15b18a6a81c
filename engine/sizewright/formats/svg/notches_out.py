"""Notches in SVG: drawn according to kind, so that the shape says the exact place."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ...geometry import bezier
from ...geometry.nearest import nearest_point
from ...geometry.path import Path, unit_tangents
from ...geometry.types import Floats
from ...model import Edge, Notch, Vec
from ...palette import NOTCH_LINE
from ..drawing.notches import place_on
from .numbers_out import PLACES, number
from .pen import Pen, group
from .xml_out import Tag

#: Depth in mm of the drawing of a notch that gives none.
_DEPTH = 5.0
_SHALLOWEST = 0.5
#: Half the width of each kind, as a share of its depth.
_HALF = {"slit": 0.0, "v": 0.5, "t": 0.5, "castle": 0.5, "check": 0.4, "u": 0.4}
#: Handle of a quarter circle, as a share of its radius.
_KAPPA = 0.5522847498
#: Beyond this, in mm, the place that a shape gives is not the one meant.
_AGREE = 1e-3
_EXACT = 4e-7
_TRIES = 6

#: A command with its points; `exact` where they lie on the line and say the place.
Step = tuple[str, list[Vec], bool]
Draft = list[Step]
#: Depth in mm, and how far along the line the depth leans, as a share of it.
Look = tuple[float, float]


def notch_tags(pen: Pen) -> list[Tag]:
    """All notches of the piece, on its outermost line."""
    return group(NOTCH_LINE, [_notch(pen, n) for n in pen.piece.notches])


def settled_place(pen: Pen, notch: Notch) -> float:
    """Arc length of a notch on the outline, both as they come back from the file."""
    edge, along = _settled(pen, notch)
    return edge.offset + float(number(along))


def _notch(pen: Pen, notch: Notch) -> Tag:
    edge, along = _settled(pen, notch)
    shape, given = _drawn(pen, notch, edge, along)
    name = pen.held(notch.name, "the name of a notch")
    attributes: dict[str, str | None] = {
        "data-role": "notch",
        "data-kind": notch.kind,
        "data-depth": f"{number(notch.depth)} mm",
        "data-count": None if notch.count == 1 else str(notch.count),
        "data-name": name,
        "data-side": None if notch.side == "both" else notch.side,
        "data-keep": None if notch.keep == "nearer" else notch.keep,
        "data-rule": pen.held(notch.rule, "the rule of a notch"),
        "data-seam": pen.held(notch.seam, "the seam of a notch"),
        "data-at": given,
    }
    return pen.tag("path", "notch", {**attributes, "d": shape}, name=name)


def _settled(pen: Pen, notch: Notch) -> tuple[Edge, float]:
    """The notch's edge, and mm along it, on the outline as it will be read again."""
    old, new = pen.piece.outline, pen.outline
    segment, t = old.path.locate(old.arc_length_of(notch.at))
    s = new.path.arc_length_at(int(segment), float(t))
    edge = next((e for e in new.edges if e.start == notch.at.start), None)
    if edge is None:
        return new.edge_along(s)
    along = (s - edge.offset) % new.path.length
    if new.path.length - along < _AGREE and notch.at.distance < _AGREE:
        along = 0.0
    return edge, min(along, edge.length)


def _drawn(pen: Pen, notch: Notch, edge: Edge, along: float) -> tuple[str, str | None]:
    """Path data of the notch, and its place in words where the drawing does not say it.

    Both start from the place as the words would have it, so that what is read back and
    written again comes out the same.
    """
    rounded = float(number(along))
    looks = list(_looks(notch))
    if pen.piece.cut_line is None and notch.count == 1:
        for look in looks:
            alone = _speaking(pen, notch, edge, rounded, look)
            if alone is not None:
                return alone, None
    s, text = _on_drawn(pen, edge.offset + rounded), ""
    for look in looks:
        text, points = _write(pen, _draft(pen.drawn, s, notch, look))
        if _apart(pen.drawn, place_on(pen.drawn, points), s) < _AGREE:
            break
    else:
        pen.found("notch-not-held", "the place of a notch may be lost", place=notch.name or "")
    return text, f"{edge.number} {number(rounded)}"


def _looks(notch: Notch) -> Iterator[Look]:
    """Depths and leanings to try: less deep, or leaning, where it would meet the line again."""
    for share in (1.0, 0.5, 0.2, 0.1):
        for lean in (0.0, 0.7, -0.7, 2.0, -2.0):
            yield max((notch.depth or _DEPTH) * share, _SHALLOWEST), lean


def _speaking(pen: Pen, notch: Notch, edge: Edge, along: float, look: Look) -> str | None:
    """The drawing that says its place exactly and is drawn again to the byte; else None."""
    found = _settle(pen, notch, edge, along, look)
    if found is None:
        return None
    again = _settle(pen, notch, edge, float(number(found[1])), look)
    return found[0] if again is not None and again[0] == found[0] else None


def _settle(
    pen: Pen, notch: Notch, edge: Edge, along: float, look: Look
) -> tuple[str, float] | None:
    """Path data that says a place which is drawn as the same path data, and that place.

    Rounding moves the place a little; the moved place is drawn once more, until it stays.
    """
    path = pen.outline.path
    s = wanted = edge.offset + along
    before = ""
    for _ in range(_TRIES):
        text, points = _write(pen, _draft(path, s, notch, look))
        place = place_on(path, points)
        if place is None or _apart(path, place, wanted) > _EXACT:
            return None
        if text == before:
            spot = pen.outline.spot(place)
            close = abs(spot.distance - along) <= 2 * _EXACT
            return (text, spot.distance) if spot.start == edge.start and close else None
        before, s = text, place
    return None


def _on_drawn(pen: Pen, s: float) -> float:
    if pen.piece.cut_line is None:
        return s
    return nearest_point(pen.drawn, pen.outline.path.at(s)).s


def _apart(path: Path, a: float | None, b: float) -> float:
    if a is None:
        return np.inf
    step = abs(a - b) % path.length
    return min(step, path.length - step)


def _draft(path: Path, s: float, notch: Notch, look: Look) -> Draft:
    """The notch in the model's mm: commands M, L and C with their points.

    Feet lie on `path`; depth goes to the left of it, into a counter-clockwise piece.
    """
    depth, lean = look
    half = _HALF[notch.kind] * depth
    step = max(2 * half + 2.0, 4.0)
    middles = s + (np.arange(notch.count) - (notch.count - 1) / 2) * step
    segments, t = path.locate(middles[:, None] + np.array([0.0, -half, half]))
    places = bezier.evaluate(path.controls[segments], t)
    tangents = unit_tangents(path.controls[segments[:, 0]], t[:, 0])
    draft: Draft = []
    for (centre, left, right), u in zip(places, tangents, strict=True):
        v = np.array([-u[1], u[0]]) + lean * u
        draft += _KINDS[notch.kind](centre, left, right, u * half, v * depth)
    return draft


def _on(command: str, point: Floats) -> Step:
    return command, [(float(point[0]), float(point[1]))], True


def _to(command: str, *points: Floats) -> Step:
    return command, [(float(p[0]), float(p[1])) for p in points], False


def _slit(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Draft:
    return [_on("M", c), _to("L", c + v)]


def _v(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Draft:
    return [_on("M", left), _to("L", c + v), _on("L", right)]


def _t(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Draft:
    return [_on("M", c), _to("L", c + v), _to("M", c + v - u), _to("L", c + v + u)]


def _castle(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Draft:
    return [_on("M", left), _to("L", left + v), _to("L", right + v), _on("L", right)]


def _check(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Draft:
    return [_on("M", left), _to("L", left + v), _on("L", right)]


def _u(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Draft:
    bulge = v * (float(np.hypot(*u)) / float(np.hypot(*v)))
    a, b, far, k = left + v - bulge, right + v - bulge, c + v, _KAPPA
    first = _to("C", a + k * bulge, far - k * u, far)
    second = _to("C", far + k * u, b + k * bulge, b)
    return [_on("M", left), _to("L", a), first, second, _on("L", right)]


_KINDS = {"slit": _slit, "v": _v, "t": _t, "castle": _castle, "check": _check, "u": _u}


def _write(pen: Pen, draft: Draft) -> tuple[str, Floats]:
    """Path data, and the shape's own points as they will be read again."""
    words, points = [], []
    for command, places, exact in draft:
        words.append(command)
        for place in places:
            x, y = pen.frame.xy(place, PLACES if exact else 3)
            words += [x, y]
        points.append((float(x), pen.frame.height - float(y)))
    return " ".join(words), np.array(points)
