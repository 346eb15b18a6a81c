"""Which points of a nest's piece need a rule of their own."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain, combinations, islice

import numpy as np

from ..geometry.nearest import nearest
from ..geometry.types import Floats
from .given_back import looks
from .map import grade_map
from .stations import pairs
from .tracks import PieceTracks, Track

#: So many choices of points are tried for one stretch of curve: all of five points.
_CHOICES = 31


def needed_tracks(
    one: PieceTracks, order: Sequence[str], start: int, tolerance: float
) -> list[Track]:
    """The tracks of one piece that get a rule: corners, drawn rules, and curve points where
    the others leave the line about them off, and which mend that."""
    kept = []
    curve = []
    for track in one.tracks:
        known = not np.isnan(track.moves).any()
        if track.rule is not None or (track.corner and known):
            kept.append(replace(track, moves=_filled(track.moves, start)))
        elif known and track.reference is not None:
            curve.append(track)
    curve = [t for t in curve if t.vertex not in {k.vertex for k in kept if not k.notch}]
    if curve and any(not t.notch for t in kept):
        kept += _curve_points(one, kept, curve, order, tolerance)
    kept.sort(key=lambda t: (t.notch, t.vertex))
    return kept


def _curve_points(
    one: PieceTracks,
    kept: Sequence[Track],
    curve: Sequence[Track],
    order: Sequence[str],
    tolerance: float,
) -> list[Track]:
    """The curve points that need rules besides the `kept` ones: tried in rounds, in each the
    worst between every two that have rules; then, where that leaves a stretch off, every few
    of its points, since a rule too many bends the curve as well. Each stretch takes its best."""
    n = len(one.base.outline.path)
    stretches = [s[:-1] for s in pairs({t.vertex for t in kept if not t.notch}, n)]
    best: list[tuple[float, list[Track]]] = [(math.inf, [])] * len(stretches)

    def tried(tracks: list[Track]) -> Floats:
        off = lines_off(one, [*kept, *tracks], order)
        for k, stretch in enumerate(stretches):
            # A little better is no reason for more rules.
            worst = max(float(off[stretch].max()), tolerance)
            if worst < best[k][0] - tolerance / 10:
                best[k] = (worst, [t for t in tracks if t.vertex in stretch])
        return off

    added: list[Track] = []
    while True:
        off = tried(added)
        settled = {t.vertex for t in added}
        left = [t for t in curve if t.vertex not in settled]
        fresh = _candidates([*kept, *added], left, off, tolerance)
        for stretch in stretches:
            inside = [t for t in left if t.vertex in stretch[1:]]
            if inside and off[stretch].max() > tolerance and not set(inside) & set(fresh):
                # The handles of a smooth joint depend on the line beyond it too.
                worst = int(off[stretch].argmax())
                fresh.append(_nearest(inside, stretch, worst))
        if not fresh:
            break
        added += fresh
    bad = {k: _choices(curve, stretches[k]) for k, (off, _) in enumerate(best) if off > tolerance}
    for turn in range(max(map(len, bad.values()), default=0)):
        tried(
            [
                t
                for k, (worst, chosen) in enumerate(best)
                for t in (
                    bad[k][turn] if worst > tolerance and turn < len(bad.get(k, ())) else chosen
                )
            ]
        )
    return [t for _, chosen in best for t in chosen]


def _choices(curve: Iterable[Track], stretch: list[int]) -> list[tuple[Track, ...]]:
    """Ways to give rules to some curve points of a stretch, few points first."""
    inside = [t for t in curve if t.vertex in stretch[1:]]
    every = chain.from_iterable(combinations(inside, k + 1) for k in range(len(inside)))
    apart = (some for some in every if len({t.vertex for t in some}) == len(some))
    return list(islice(apart, _CHOICES))


def _nearest(tracks: Iterable[Track], stretch: list[int], place: int) -> Track:
    """The track whose vertex stands nearest to a place in a list of vertices."""
    return min(tracks, key=lambda t: abs(stretch.index(t.vertex) - place))


def _candidates(
    kept: Sequence[Track], curve: Sequence[Track], off: Floats, tolerance: float
) -> list[Track]:
    """Between each two kept points the curve point about which the graded line lies farthest
    off the drawn one, if that is too far."""
    found = []
    for stretch in pairs({t.vertex for t in kept if not t.notch}, len(off)):
        inside = [t for t in curve if t.vertex in stretch[1:-1]]
        if not inside or float(off[stretch[:-1]].max()) <= tolerance:
            continue
        found.append(max(inside, key=lambda t: max(off[t.vertex], off[t.vertex - 1])))
    return found


def lines_off(one: PieceTracks, kept: Sequence[Track], order: Sequence[str]) -> Floats:
    """How far each segment of the outline, moved as `kept` move, lies off the drawn outline in
    the worst size, mm."""
    ruled = [t for t in kept if not t.notch]
    outline = replace(
        one.base.outline, points=tuple(replace(p, rule=None) for p in one.base.outline.points)
    )
    for track in ruled:
        outline = outline.with_point(track.vertex, rule=f"{track.vertex}")
    grades = grade_map(replace(one.base, outline=outline, notches=()))
    off = np.zeros(len(outline.path))
    for k, size in enumerate(order):
        if size not in one.sizes:
            continue
        growth = {f"{t.vertex}": {"width": t.moves[k, 0], "length": t.moves[k, 1]} for t in ruled}
        made, _ = grades.apply(grades.amounts(growth))
        places = looks(made.outline)
        away = nearest(one.sizes[size].outline.path, places.reshape(-1, 2)).distance
        off = np.maximum(off, away.reshape(places.shape[:2]).max(axis=1))
    return off


def _filled(moves: Floats, start: int) -> Floats:
    """Moves with unknown sizes put between their neighbours; past an end, like the last one."""
    known = ~np.isnan(moves[:, 0])
    known[start] = True
    filled = np.nan_to_num(moves)
    places = np.arange(len(moves))
    for axis in (0, 1):
        filled[:, axis] = np.interp(places, places[known], filled[known, axis])
    return filled
