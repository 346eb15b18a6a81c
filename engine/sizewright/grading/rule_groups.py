"""Points that move alike share a rule; every rule gets a name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..geometry.types import Floats
from .tracks import Track

#: The name of a rule that moves nothing.
STILL = "still"


@dataclass(frozen=True, eq=False)
class RuleGroup:
    """A rule and the points that have it; `moves` (sizes, 2) is the mean of theirs, mm."""

    rule: str
    tracks: tuple[Track, ...]
    moves: Floats


def grouped(
    room: Mapping[Track, float], ruleless: Iterable[str] = ()
) -> tuple[tuple[RuleGroup, ...], tuple[str, ...]]:
    """Rules for points whose moves are all known, and the drawn rules that had to be split.

    `room` says how far off each may be, mm. Points keep the rule that the drawing gives
    them, if all that have it move within their room of their mean in every size; else most
    of them keep it, and the others go as if they had none. Points without a rule join the
    first group that they fit, or found a new one, named after the point.
    """
    tracks = list(room)
    drawn = dict.fromkeys(t.rule for t in tracks if t.rule is not None)
    groups: list[tuple[str, list[Track]]] = []
    free = [t for t in tracks if t.rule is None]
    split = []
    for rule in drawn:
        members = [t for t in tracks if t.rule == rule]
        # What no points table can name keeps the drawn rule, whatever it does.
        bound = [t for t in members if t.reference is None]
        parts = _clusters([t for t in members if t.reference is not None], room)
        best = max(parts, key=len) if parts else []
        groups.append((rule, [*best, *bound] if best else bound))
        others = [t for part in parts if part is not best for t in part]
        if others:
            split.append(rule)
        free += others
    # A point that gets no rule would take one of its own name.
    taken = {*drawn, *ruleless}
    for track in free:
        home = next((m for _, m in groups if _fits(track, m, room)), None)
        if home is not None:
            home.append(track)
            continue
        name = _named(track, taken)
        taken.add(name)
        groups.append((name, [track]))
    found = tuple(RuleGroup(rule, tuple(m), _mean(m)) for rule, m in groups)
    return found, tuple(split)


def _clusters(tracks: Sequence[Track], room: Mapping[Track, float]) -> list[list[Track]]:
    found: list[list[Track]] = []
    for track in tracks:
        home = next((m for m in found if _fits(track, m, room)), None)
        if home is None:
            found.append([track])
        else:
            home.append(track)
    return found


def _fits(track: Track, members: Sequence[Track], room: Mapping[Track, float]) -> bool:
    tracks = [*members, track]
    every = np.stack([t.moves for t in tracks])
    apart = np.hypot(*np.moveaxis(every - every.mean(axis=0), -1, 0)).max(axis=1)
    return bool((apart <= [room[t] for t in tracks]).all())


def _mean(tracks: Sequence[Track]) -> Floats:
    # Of what can be named alone, where there is any: the rest only goes along.
    told = [t for t in tracks if t.reference is not None] or tracks
    mean: Floats = np.mean([t.moves for t in told], axis=0)
    return mean


def _named(track: Track, taken: set[str]) -> str:
    if not np.abs(track.moves).max() > 0 and STILL not in taken:
        return STILL
    point = track.reference or "point"
    plain = point.replace("#", "").replace("+", "-")
    tries = [f"{track.piece}-{plain}"] if "#" in point else [plain, f"{track.piece}-{plain}"]
    last = tries[-1]
    tries += [f"{last}-{k}" for k in range(2, len(taken) + 3)]
    return next(name for name in tries if name not in taken)
