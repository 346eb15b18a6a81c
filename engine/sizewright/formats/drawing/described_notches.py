"""Notches as shapes: drawn according to kind, so that the shape says the exact place.

A notch stands where its feet say, and feet are rounded like all numbers. Near a foot the line
is straight as far as rounding goes, so where the rounded shape will be found follows from the
tangents there; the true nearest places are asked for once, for all notches of a piece together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from ...geometry import bezier
from ...geometry.nearest import nearest
from ...geometry.path import Path, unit_tangents
from ...geometry.types import Floats
from ...model import Edge, Notch, Piece
from .notch_place import place_between
from .scribe import Facts, Scribe
from .settled import number, rounded

#: Depth in mm of the drawing of a notch that gives none.
_DEPTH = 5.0
_SHALLOWEST = 0.5
#: How far the feet stand from the middle, and the arms of a T reach, as shares of the depth.
_FEET = {"v": 0.5, "castle": 0.5, "check": 0.4, "u": 0.4}
_ARM = 0.5
#: Handle of a quarter circle, as a share of its radius.
_KAPPA = 0.5522847498
#: Beyond this, in mm, the place that a shape gives is not the one meant.
_AGREE = 1e-3
_EXACT = 4e-7
_TRIES = 6


class Stand(NamedTuple):
    """A notch with its edge, and mm along that as written."""

    notch: Notch
    edge: Edge
    along: float

    @property
    def s(self) -> float:
        """Arc length on the outline."""
        return self.edge.offset + self.along


class _Look(NamedTuple):
    """Depth as a share of the notch's own, and how far it leans along the line."""

    depth: float
    lean: float

    def deep(self, notch: Notch) -> float:
        """Depth in mm."""
        return max((notch.depth or _DEPTH) * self.depth, _SHALLOWEST)


#: Tried in turn: less deep, or leaning, where a notch would meet the line again.
_LOOKS = [_Look(d, lean) for d in (1.0, 0.5, 0.2, 0.1) for lean in (0.0, 0.7, -0.7, 2.0, -2.0)]


def stands(piece: Piece) -> list[Stand]:
    """Where the notches of a settled piece stand."""
    found = []
    for notch in piece.notches:
        edge = piece.outline.edge_from(notch.at.start)
        found.append(Stand(notch, edge, float(number(min(notch.at.distance, edge.length)))))
    return found


def draw_notches(scribe: Scribe) -> None:
    """All notches of the piece, on its outermost line."""
    piece = scribe.piece
    every = stands(piece)
    alone = [s for s in every if piece.cut_line is None and s.notch.count == 1]
    speaking = _speaking(piece.outline.path, alone)
    rest = [s for s in every if s not in speaking]
    worded = _worded(scribe, rest)
    for stand in every:
        notch = stand.notch
        name = scribe.held(notch.name, "the name of a notch")
        place = f"{stand.edge.number} {number(stand.along)}"
        says: Facts = {
            "role": "notch",
            "kind": notch.kind,
            "depth": f"{number(notch.depth)} mm",
            "count": None if notch.count == 1 else str(notch.count),
            "name": name,
            "side": None if notch.side == "both" else notch.side,
            "keep": None if notch.keep == "nearer" else notch.keep,
            "rule": scribe.held(notch.rule, "the rule of a notch"),
            "seam": scribe.held(notch.seam, "the seam of a notch"),
            "at": None if stand in speaking else place,
        }
        paths = speaking[stand] if stand in speaking else worded[stand]
        scribe.draw("notch", says, *paths, name=name)


def _speaking(path: Path, wanted: list[Stand]) -> dict[Stand, tuple[Path, ...]]:
    """Drawings that say their place exactly and are drawn again to the byte, where there are."""
    found: dict[Stand, tuple[Path, ...]] = {}
    for look in _LOOKS:
        left = [s for s in wanted if s not in found]
        if not left:
            break
        along = _settled(path, left, look, np.array([s.s for s in left]))
        drawn = _drawings(path, left, look, along)
        read = _read(path, drawn)
        far = _apart(read, np.array([s.s for s in left]), path.length) > _EXACT
        offset = np.array([s.edge.offset for s in left])
        again = np.remainder(read - offset + _AGREE, path.length) - _AGREE
        inside = (again >= 0) & (again < [s.edge.length for s in left])
        good = ~np.isnan(read) & ~far & inside
        again = offset + rounded(np.where(good, again, 0.0))
        anew = _drawings(path, left, look, _settled(path, left, look, again))
        for k in np.flatnonzero(good):
            if anew[k] == drawn[k]:
                found[left[k]] = drawn[k]
    return found


def _worded(scribe: Scribe, wanted: list[Stand]) -> dict[Stand, tuple[Path, ...]]:
    """Drawings beside which words say the place, on the outermost line."""
    piece, path = scribe.piece, scribe.piece.drawn.path
    s = np.array([stand.s for stand in wanted])
    if piece.cut_line is not None and wanted:
        s = nearest(path, piece.outline.path.at(s)).s
    found: dict[Stand, tuple[Path, ...]] = {}
    left = np.arange(len(wanted))
    for look in _LOOKS:
        if not len(left):
            break
        some = [wanted[k] for k in left]
        drawn = _drawings(path, some, look, s[left])
        found.update(zip(some, drawn, strict=True))
        # Written so that what cannot be read counts as apart.
        left = left[~(_apart(_read(path, drawn), s[left], path.length) < _AGREE)]
    for k in left:
        name = wanted[k].notch.name or ""
        scribe.found("notch-not-held", "the place of a notch may be lost", place=name)
    return found


def _settled(path: Path, some: Sequence[Stand], look: _Look, s: Floats) -> Floats:
    """Arc lengths where notches say the place at which they are drawn, rounded feet and all.

    Rounding moves the place a little; the moved place is drawn once more, until it stays.
    """
    half = np.array([_half(stand.notch, look) for stand in some])
    before = np.full((len(s), 2, 2), np.nan)
    for _ in range(_TRIES):
        places, tangents = _feet(path, s, half)
        feet = rounded(places[:, 1:])
        stays = (feet == before).all(axis=(1, 2))
        if stays.all():
            break
        moved = ((feet - places[:, 1:]) * tangents[:, 1:]).sum(axis=2).mean(axis=1)
        s, before = np.where(stays, s, s + moved), feet
    return s


def _feet(path: Path, s: Floats, half: Floats) -> tuple[Floats, Floats]:
    """Middle, left and right foot (m, 3, 2), and the directions of the line there."""
    segments, t = path.locate(s[:, None] + half[:, None] * np.array([0.0, -1.0, 1.0]))
    controls, t = path.controls[segments.ravel()], t.ravel()
    places = bezier.evaluate(controls, t).reshape(-1, 3, 2)
    return places, unit_tangents(controls, t).reshape(-1, 3, 2)


def _half(notch: Notch, look: _Look) -> float:
    return _FEET.get(notch.kind, 0.0) * look.deep(notch)


def _read(path: Path, drawn: Sequence[tuple[Path, ...]]) -> Floats:
    """Arc length (m,) that each drawing will be read at; nan where it is at no line."""
    points = [np.concatenate([p.vertices for p in paths]) for paths in drawn]
    near = nearest(path, np.concatenate(points))
    ends = np.cumsum([len(p) for p in points])[:-1]
    pairs = zip(np.split(near.s, ends), np.split(near.distance, ends), strict=True)
    found = [place_between(s, distance, path.length) for s, distance in pairs]
    return np.array([np.nan if s is None else s for s in found])


def _apart(a: Floats, b: Floats, total: float) -> Floats:
    step = np.abs(a - b) % total
    least: Floats = np.minimum(step, total - step)
    return least


def _drawings(path: Path, some: Sequence[Stand], look: _Look, s: Floats) -> list[tuple[Path, ...]]:
    """Notches at arc lengths `s`: feet on `path`, depth to its left, into the piece."""
    cuts, places, half = [], [], []
    for k, stand in enumerate(some):
        count, wide = stand.notch.count, _half(stand.notch, look)
        step = max(2 * wide + 2.0, 4.0)
        for c in range(count):
            cuts.append(k)
            places.append(s[k] + (c - (count - 1) / 2) * step)
            half.append(wide)
    drawn: list[list[Path]] = [[] for _ in some]
    spots, tangents = _feet(path, np.array(places), np.array(half))
    for k, (centre, left, right), (u, _, _) in zip(cuts, spots, tangents, strict=True):
        notch = some[k].notch
        deep = look.deep(notch)
        v = (np.array([-u[1], u[0]]) + look.lean * u) * deep
        drawn[k] += _KINDS[notch.kind](centre, left, right, u * deep, v)
    return [tuple(paths) for paths in drawn]


def _through(*points: Floats, feet: tuple[int, ...] = (0,)) -> Path:
    """Straight lines; all but the feet need not be exact."""
    places = rounded(np.array(points), 3)
    for k in feet:
        places[k] = rounded(points[k])
    return Path.polyline(places)


def _slit(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Iterator[Path]:
    yield _through(c, c + v)


def _v(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Iterator[Path]:
    yield _through(left, c + v, right, feet=(0, 2))


def _t(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Iterator[Path]:
    yield _through(c, c + v)
    yield _through(c + v - _ARM * u, c + v + _ARM * u, feet=())


def _castle(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Iterator[Path]:
    yield _through(left, left + v, right + v, right, feet=(0, 3))


def _check(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Iterator[Path]:
    yield _through(left, left + v, right, feet=(0, 2))


def _u(c: Floats, left: Floats, right: Floats, u: Floats, v: Floats) -> Iterator[Path]:
    half = _FEET["u"] * u
    bulge = v * (float(np.hypot(*half)) / float(np.hypot(*v)))
    a, b, far, k = left + v - bulge, right + v - bulge, c + v, _KAPPA
    round_off = [[a, a + k * bulge, far - k * half, far], [far, far + k * half, b + k * bulge, b]]
    curves = Path.of(rounded(np.array(round_off), 3), closed=False)
    legs = _through(left, a), _through(b, right, feet=(1,))
    yield Path.join([legs[0], curves, legs[1]])


_KINDS = {"slit": _slit, "v": _v, "t": _t, "castle": _castle, "check": _check, "u": _u}
