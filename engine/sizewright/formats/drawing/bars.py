"""Dashes that were filled as bars: the lines that run in their middle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

import numpy as np

from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.types import Bools, Floats

#: So many bars, so evenly wide (a share), are the dashes of a line.
_FEWEST, _EVEN = 3, 0.1
#: A middle line keeps within this of the sides' middle, mm.
_NEAR, _FINE = 0.01, 0.001
#: At a corner the inner side of a bar leads half a width in and out again, within this share; its
#: curves are followed in chords so long, mm.
_SPOKE, _CHORD = 0.05, 0.3
#: A side turns at a corner, by this sine.
_SHARP = 0.34


def middles_of(shapes: Sequence[Path]) -> tuple[float, list[tuple[Path, Path | None]]]:
    """How wide some filled bars are, mm, and each with its middle line, one after another.

    None for a middle is what is left of a dash at a line's end. Nothing where other shapes are
    among them.
    """
    nothing: tuple[float, list[tuple[Path, Path | None]]] = (0.0, [])
    if len(shapes) < _FEWEST or not all(path.closed for path in shapes):
        return nothing
    sides = [np.hypot(*(path.controls[:, 3] - path.controls[:, 0]).T) for path in shapes]
    ends = np.array([np.sort(size)[:2] for size in sides if len(size) == 4]).reshape(-1, 2)
    width = float(np.median(ends)) if len(ends) else 0.0
    even = (np.abs(ends - width) <= _EVEN * width).all(axis=1)
    if 2 * even.sum() < len(sides):
        return nothing
    found: list[tuple[Path, Path | None]] = []
    for path, size in zip(shapes, sides, strict=True):
        left_over = np.ptp(path.controls[:, 0], axis=0).max() <= 1.5 * width
        middle = None if left_over else _middle(path, size, width)
        if middle is None and not left_over:
            return nothing
        found.append((path, middle))
    middles = list(_directed([middle for _, middle in found if middle is not None]))
    if len(middles) < _FEWEST:
        return nothing
    ordered = iter(middles)
    return width, [(path, None if old is None else next(ordered)) for path, old in found]


def _middle(path: Path, size: Floats, width: float) -> Path | None:
    """The line midway between the long sides of a bar; None where it is none."""
    controls = path.controls
    caps = np.flatnonzero(path.lines & (np.abs(size - width) <= _EVEN * width))
    at = (controls[:, 0] + controls[:, 3]) / 2
    if not len(caps):
        return None
    if len(caps) == 1:
        # It ends just round a corner, which is found where it is led on straight.
        k = int(caps[0])
        side = min(controls[[k - 1, (k + 1) % len(controls)]], key=_chord)
        way = side[3] - side[0] if (side[0] == controls[k, 3]).all() else side[0] - side[3]
        return Path.polyline([at[k], at[k] + way])
    # A sharp corner looks like an end, but leaves one side much longer than the other.
    ends = [
        (abs(size[a + 1 : b].sum() - size[b + 1 :].sum() - size[:a].sum()), int(a), int(b))
        for a, b in combinations(caps, 2)
        if b - a > 1 and (a or b < len(size) - 1)
    ]
    if not ends:
        return None
    _, a, b = min(ends)
    one, other = controls[a + 1 : b], np.concatenate([controls[b + 1 :], controls[:a]])
    straight = path.lines[a + 1 : b], np.concatenate([path.lines[b + 1 :], path.lines[:a]])
    for side, lines, start in ((one, straight[0], a), (other, straight[1], b)):
        if (points := _by_inside(side, lines, at[start], width)) is not None:
            return Path.polyline(points)
    corner = None
    if len(one) != len(other) and path.lines.all():
        sides = one if len(one) > len(other) else other[::-1, ::-1]
        corner = _corner(at[a], sides[0], at[b], sides[-1])
    if corner is not None:
        return Path.polyline([at[a], corner, at[b]])
    if len(one) != len(other) and not path.lines.all():
        k = int(sum(map(_chord, one)) > sum(map(_chord, other)))
        points = _by_meeting((one, other)[k], straight[k], at[(a, b)[k]], width)
        if points is not None:
            return Path.polyline(points)
    return Path.polyline(_between(one, other))


def _by_inside(side: Floats, lines: Bools, start: Floats, width: float) -> Floats | None:
    """Places (n, 2) of the middle of a bar, half a width off the side on the inside of its corners.

    Where a line turns, that side goes to the corner itself and back out, by half a width each way.
    `start` is the middle of the end where the side begins. None where it has no such corner.
    """
    half = width / 2
    size = np.hypot(*(side[:, 3] - side[:, 0]).T)
    spokes = lines & (np.abs(size - half) <= _SPOKE * half)
    off = np.abs(size[:-1] - half) + np.abs(size[1:] - half)
    corners: list[int] = []
    for k in np.flatnonzero(spokes[:-1] & spokes[1:]).tolist():
        if abs(_cross(side[k, 3] - side[k, 0], side[k + 1, 3] - side[k + 1, 0])) > _SPOKE * half**2:
            # The line beside a spoke may be as short as that.
            if corners and corners[-1] == k - 1 and off[k] < off[k - 1]:
                corners.pop()
            if not corners or corners[-1] < k - 1:
                corners.append(k)
    if not corners:
        return None
    points: list[Floats] = []
    turn = 0.0
    for first, last in zip([-2, *corners], [*corners, len(side)], strict=True):
        if len(arm := side[first + 2 : last]):
            path = Path(arm, lines[first + 2 : last], False)
            turn = turn or float(np.sign(_cross(path.tangents(np.zeros(1))[0], start - path.start)))
            points += list(_off(path, turn * half))
        if last < len(side):
            points.append(side[last, 3])
    found = np.array(points)
    away = np.hypot(*np.diff(found, axis=0).T) > _NEAR
    kept: Floats = found[np.concatenate([[True], away])]
    return kept


def _by_meeting(side: Floats, lines: Bools, start: Floats, width: float) -> Floats | None:
    """As `_by_inside`, where the side on the inside was cut off at its corner."""
    sharp = [
        k
        for k, (a, b) in enumerate(pairwise(side), 1)
        if abs(_cross(a[3] - a[2], b[1] - b[0])) > _SHARP * _chord(a[2:]) * _chord(b[:2])
    ]
    if len(sharp) != 1:
        return None
    arms = [Path(side[part], lines[part], False) for part in (np.s_[: sharp[0]], np.s_[sharp[0] :])]
    turn = np.sign(_cross(arms[0].tangents(np.zeros(1))[0], start - arms[0].start))
    one, other = (_off(arm, float(turn) * width / 2) for arm in arms)
    u, v, d = one[-1] - one[-2], other[1] - other[0], other[0] - one[-1]
    found: Floats = np.vstack([one, one[-1] + _cross(d, v) / _cross(u, v) * u, other])
    return found


def _off(path: Path, by: float) -> Floats:
    """Places (n, 2) along a line, `by` mm to the left of it."""
    s = np.linspace(0.0, path.length, int(path.length / _CHORD) + 2)
    way = path.tangents(s)
    found: Floats = path.at(s) + by * np.stack([-way[:, 1], way[:, 0]], axis=1)
    return found


def _cross(u: Floats, v: Floats) -> float:
    return float(u[0] * v[1] - u[1] * v[0])


def _corner(a: Floats, first: Floats, b: Floats, last: Floats) -> Floats | None:
    """Where the arms of a bar with one corner meet: from `a` along its first side, and from `b`
    back along its last; None where they go one way."""
    u, v, d = first[3] - first[0], last[0] - last[3], b - a
    cross = _cross(u, v)
    if abs(cross) < 0.05 * _chord(first) * _chord(last):
        return None
    found: Floats = a + _cross(d, v) / cross * u
    return found


def _chord(places: Floats) -> float:
    """How far it is from the first to the last of some places (n, 2)."""
    return float(np.hypot(*(places[-1] - places[0])))


def _between(one: Floats, other: Floats) -> Floats:
    """Places (n, 2) midway between two sides, which run against each other, mm."""
    if len(one) == len(other):
        both = (one + other[::-1, ::-1]) / 2
        return flatten(Path(both, np.zeros(len(both), dtype=bool), False), _FINE)
    sides = []
    for side in (one, other[::-1, ::-1]):
        path = Path(side, np.zeros(len(side), dtype=bool), False)
        sides.append(path.at(np.linspace(0.0, path.length, 13)))
    middle: Floats = (sides[0] + sides[1]) / 2
    return middle


def _directed(middles: Sequence[Path]) -> Iterator[Path]:
    """Middle lines, each beginning where the one before it ends: a bar has no direction."""
    last: Floats | None = None
    for k, middle in enumerate(middles):
        near = last
        if near is None:
            near = middles[1].controls[[0, -1], [0, 3]].mean(axis=0) if len(middles) > 1 else None
        if near is not None:
            away = np.hypot(*(np.array([middle.start, middle.end]) - near).T)
            if (away[0] > away[1]) == (k > 0):
                middle = middle.reversed()
        last = middle.end
        yield middle
