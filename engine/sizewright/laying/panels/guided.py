"""The search: places with the least overlap, weighed so that stubborn overlaps cost ever more.

A worker's engine. Each round lays all shapes in a chance order, each to where it touches most or
else costs least; then moves those that overlap until none does. What comes near enough is made
exact by `Polish`, and told when it holds.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from scipy.fft import rfft2

from .ground import Ground, Place
from .level import Level, Singles, Stamp
from .polish import Polish

# Pixels, mm, and how much smaller shapes are taken to be: coarse, fine, and surely sound.
_COARSE, _FINE, _SOUND = (6.0, 0.6), (4.0, 0.2), (4.0, -2.9)
# Overlap that a coarse and a fine state may have left to be worth more work.
_FINER, _POLISHED = 40.0, 15.0
_STALLED, _GAIN, _FINE_STALLED, _FINE_SECONDS = 50, 0.02, 40, 4.0
_FREE, _TAKEN, _CHANCE = 0.5, 1.001, 0.06
# A state that moves less than this from one that was tried is not tried again, mm.
_SAME = 20.0
# Share of the time that goes to surely sound places first, and at most so long, s.
_START, _START_SECONDS = 0.1, 2.0
# Cloth that pieces may fill at most, for a trial of all of them to make sense.
_FULL = 0.995
_LARGE = 2.2e6


def search(task: Mapping[str, Any], tell: Callable[[Mapping[str, Any]], None]) -> None:
    """Tell ever better lays of a task's shapes on its panels, for `seconds`, or until all lie."""
    _Search(task, tell).run()


class State:
    """Where some shapes lie as pixels of one level: turn, row, column of each."""

    def __init__(self, level: Level, members: Sequence[int]) -> None:
        self.level = level
        self.members = list(members)
        self.at: dict[int, tuple[int, int, int]] = {}

    def stamp(self, i: int) -> Stamp:
        """The pixels of a shape as it lies."""
        return self.level.stamp(self.level.ground.shapes[i], self.at[i][0])

    def places(self) -> dict[int, Place]:
        """The same in mm."""
        return {i: self.level.place(*at) for i, at in self.at.items()}

    def field(self, i: int, weights: Any) -> Singles:
        """What every pixel costs shape i: how deep it lies in the others, weighed."""
        found = np.zeros(self.level.size, dtype=np.float32)
        for j, (_, row, column) in self.at.items():
            if j != i:
                stamp = self.stamp(j)
                h, w = stamp.size
                found[row : row + h, column : column + w] += stamp.deep * weights[i, j]
        return found

    def taken(self, i: int) -> Singles:
        """1 where a pixel is off the cloth or taken by another shape."""
        found = self.level.closed.astype(np.float32)
        for j, (_, row, column) in self.at.items():
            if j != i:
                stamp = self.stamp(j)
                h, w = stamp.size
                found[row : row + h, column : column + w][stamp.wide] = 1.0
        return found

    def overlap(self, i: int, j: int) -> float:
        """How much two shapes overlap."""
        (_, r1, c1), (_, r2, c2) = self.at[i], self.at[j]
        a, b = self.stamp(i), self.stamp(j)
        top, left = max(r1, r2), max(c1, c2)
        low, right = min(r1 + a.size[0], r2 + b.size[0]), min(c1 + a.size[1], c2 + b.size[1])
        if top >= low or left >= right:
            return 0.0
        own = a.wide[top - r1 : low - r1, left - c1 : right - c1]
        return float((b.deep[top - r2 : low - r2, left - c2 : right - c2] * own).sum())

    def off(self, i: int) -> float:
        """How far a shape hangs over the cloth."""
        _, row, column = self.at[i]
        return max(float(self.stamp(i).off[row, column]), 0.0)


class _Search:
    def __init__(self, task: Mapping[str, Any], tell: Callable[[Mapping[str, Any]], None]) -> None:
        self.ground = Ground(task)
        self.tell = tell
        self.chance = np.random.default_rng(int(task["seed"]))
        self.seconds = float(task["seconds"])
        self.begun = time.monotonic()
        self.best: dict[int, Place] = {}
        # A large ground takes coarser pixels, so that a move costs about the same.
        self.larger = max(1.0, (self.ground.width * self.ground.height / _LARGE) ** 0.5)
        self.polish: Polish | None = None
        self.tried: list[dict[int, Place]] = []

    @property
    def left(self) -> float:
        """Seconds that are left."""
        return self.seconds - (time.monotonic() - self.begun)

    def level(self, sort: tuple[float, float]) -> Level:
        return Level(self.ground, sort[0] * self.larger, sort[1] * self.larger)

    def run(self) -> None:
        shapes = self.ground.shapes
        self._start(min(_START * self.seconds, _START_SECONDS))
        if len(self.best) == len(shapes):
            return
        self.coarse, self.fine = self.level(_COARSE), self.level(_FINE)
        self.polish = Polish(self.ground)
        while self.left > 0 and len(self.best) < len(shapes):
            self._round(self._members())

    def better(self, places: Mapping[int, Place]) -> bool:
        """Tell a lay if it holds and is better than the best; whether it holds whole."""
        kept = self.ground.sound(places)
        area = sum(self.ground.shapes[i].area for i in kept)
        if area > sum(self.ground.shapes[i].area for i in self.best) + 1.0:
            self.best = kept
            self.tell(self.ground.told(kept))
        return len(kept) == len(places)

    # --- surely sound places ------------------------------------------------------

    def _start(self, seconds: float) -> None:
        level = self.level(_SOUND)
        first = True
        while self.left > self.seconds - seconds or first:
            first = False
            order = self._order(range(len(self.ground.shapes)))
            angle = self.chance.uniform(0, 2 * np.pi)
            state = State(level, order)
            taken = level.closed.astype(np.float32)
            for i in order:
                self._lay_sound(state, taken, i, angle)
            self.better(state.places())
            if len(self.best) == len(order):
                return

    def _lay_sound(self, state: State, taken: Singles, i: int, angle: float) -> None:
        level, shape = state.level, self.ground.shapes[i]
        field = rfft2(taken, level.fast)
        best: tuple[float, tuple[int, int, int]] | None = None
        for turn in range(len(shape.turns)):
            stamp = level.stamp(shape, turn)
            if not all(stamp.rooms):
                continue
            free = (level.correlated(field, stamp.of_wide, stamp) < 0.5) & (stamp.off < 0.25)
            rows, columns = np.nonzero(free)
            if len(rows):
                reach = np.sin(angle) * rows + np.cos(angle) * columns
                k = int(reach.argmin())
                if best is None or reach[k] < best[0]:
                    best = float(reach[k]), (turn, int(rows[k]), int(columns[k]))
        if best is not None:
            state.at[i] = best[1]
            stamp = state.stamp(i)
            _, row, column = best[1]
            taken[row : row + stamp.size[0], column : column + stamp.size[1]][stamp.wide] = 1.0

    def _order(self, members: Sequence[int] | range) -> list[int]:
        shapes = self.ground.shapes
        keys = {i: shapes[i].area * self.chance.uniform(0.7, 1.3) for i in members}
        return sorted(members, key=lambda i: -keys[i])

    # --- a round ----------------------------------------------------------------------

    def _members(self) -> list[int]:
        """What a round tries to lay: everything, or what lies already and as much more as may."""
        shapes = self.ground.shapes
        every = list(range(len(shapes)))
        total = sum(s.area for s in shapes)
        gone = 1 - self.left / self.seconds
        if total <= _FULL * self.ground.area and (gone < 0.6 or self.chance.random() < 0.5):
            return every
        members = list(self.best)
        area = sum(shapes[i].area for i in members)
        left = [i for i in every if i not in self.best]
        for i in self.chance.permutation(left):
            if area + shapes[i].area <= _FULL * self.ground.area:
                members.append(int(i))
                break
        return members if len(members) > len(self.best) else every[: max(1, len(every) - 1)]

    def _round(self, members: Sequence[int]) -> None:
        n = len(self.ground.shapes)
        weights, off = np.ones((n, n)), np.ones(n)
        state = State(self.coarse, members)
        for i in self._order(members):
            cell = self._best_cell(state, i, weights, off, contact=True)
            if cell is None:
                return
            state.at[i] = cell[1]
        least, stalled = np.inf, 0
        while self.left > 0 and stalled < _STALLED:
            total = self._sweep(state, weights, off, contact=True)
            if total < _FINER and self._new(state) and self._finish(state):
                return
            if total < least * (1 - _GAIN):
                least, stalled = total, 0
            else:
                stalled += 1
            if total == 0:
                return

    def _new(self, state: State) -> bool:
        """Whether a state is unlike all that were tried; then it is noted."""
        places = state.places()
        for other in self.tried:
            if other.keys() == places.keys() and all(
                p.turn == other[i].turn and abs(p.x - other[i].x) + abs(p.y - other[i].y) < _SAME
                for i, p in places.items()
            ):
                return False
        self.tried = [*self.tried[-200:], places]
        return True

    def _finish(self, coarse: State) -> bool:
        """Try a state at finer pixels and exactly; whether it holds whole."""
        n = len(self.ground.shapes)
        weights, off = np.ones((n, n)), np.ones(n)
        state = State(self.fine, coarse.members)
        for i, place in coarse.places().items():
            row, column = self.fine.cell(place)
            rooms = self.fine.stamp(self.ground.shapes[i], place.turn).rooms
            if not all(rooms):
                return False
            state.at[i] = place.turn, min(row, rooms[0] - 1), min(column, rooms[1] - 1)
        begun, stalled, least = time.monotonic(), 0, np.inf
        best: dict[int, Place] = {}
        while (
            self.left > 0 and stalled < _FINE_STALLED and time.monotonic() - begun < _FINE_SECONDS
        ):
            total = self._sweep(state, weights, off, contact=False)
            if total < least * (1 - _GAIN):
                least, stalled, best = total, 0, state.places()
            else:
                stalled += 1
            if total < _POLISHED and self._exact(state.places()):
                return True
            if total == 0:
                break
        # What cannot lie together may still lie without one of them.
        if best and self.polish is not None:
            self._exact(best, force=True)
        return False

    def _exact(self, places: Mapping[int, Place], *, force: bool = False) -> bool:
        assert self.polish is not None
        polished = self.polish(places, force=force)
        return polished is not None and self.better(polished)

    # --- moves --------------------------------------------------------------------

    def _sweep(self, state: State, weights: Any, off: Any, *, contact: bool) -> float:
        """Move every shape that overlaps to its best cell; weigh what still does; the total."""
        pairs, outs = _overlaps(state)
        bad = {i for pair in pairs for i in pair} | set(outs)
        for i in self.chance.permutation(sorted(bad)):
            if self.left <= 0:
                break
            found = self._best_cell(state, int(i), weights, off, contact=contact)
            if found is not None:
                state.at[int(i)] = found[1]
        pairs, outs = _overlaps(state)
        most = max([*pairs.values(), *outs.values()], default=0.0)
        weights[:], off[:] = np.maximum(1.0, weights * 0.95), np.maximum(1.0, off * 0.95)
        for (i, j), o in pairs.items():
            grown = weights[i, j] / 0.95 * (1.2 + 0.8 * o / most)
            weights[i, j] = weights[j, i] = grown
        for i, o in outs.items():
            off[i] = off[i] / 0.95 * (1.2 + 0.8 * o / most)
        return sum(pairs.values()) + sum(outs.values())

    def _best_cell(
        self, state: State, i: int, weights: Any, off: Any, *, contact: bool
    ) -> tuple[float, tuple[int, int, int]] | None:
        """The best cell of a shape over all its turns; where it lies now counts as well."""
        level, shape = state.level, self.ground.shapes[i]
        field = rfft2(state.field(i, weights), level.fast)
        costs = {}
        for turn in range(len(shape.turns)):
            stamp = level.stamp(shape, turn)
            if all(stamp.rooms):
                costs[turn] = level.correlated(field, stamp.of_wide, stamp) + off[i] * stamp.off
        if not costs:
            return None
        turn = min(costs, key=lambda t: float(costs[t].min()))
        least = float(costs[turn].min())
        if i in state.at:
            now = state.at[i]
            present = float(costs[now[0]][now[1], now[2]])
            if least > _FREE and least >= present / _TAKEN:
                return present, now
        if least >= _FREE or not contact:
            row, column = np.unravel_index(int(costs[turn].argmin()), costs[turn].shape)
            return least, (turn, int(row), int(column))
        taken = rfft2(state.taken(i), level.fast)
        best: tuple[float, tuple[int, int, int]] | None = None
        for turn, cost in costs.items():
            rows, columns = np.nonzero(cost < _FREE)
            if not len(rows):
                continue
            stamp = level.stamp(shape, turn)
            touch = level.correlated(taken, stamp.of_ring, stamp)[rows, columns] / stamp.beside
            touch = touch * np.exp(self.chance.normal(0.0, _CHANCE, len(rows)))
            k = int(touch.argmax())
            if best is None or touch[k] > best[0]:
                best = float(touch[k]), (turn, int(rows[k]), int(columns[k]))
        assert best is not None
        return least, best[1]


def _overlaps(state: State) -> tuple[dict[tuple[int, int], float], dict[int, float]]:
    """Which shapes overlap and by how much, and which hang over the cloth."""
    members = sorted(state.at)
    pairs = {}
    for k, i in enumerate(members):
        for j in members[k + 1 :]:
            o = state.overlap(i, j)
            if o > 0.0:
                pairs[i, j] = o
    outs = {i: o for i in members if (o := state.off(i)) > 0.25}
    return pairs, outs
