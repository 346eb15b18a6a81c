"""Closed lines of a drawing that says nothing of itself, however they were drawn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ...findings import Finding
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.types import Floats
from ..chains import Joined, join_ends
from ..svg.loops import same_line
from .entities import Entity
from .layers import hint

#: What lies inside is judged on chords this near to the line, mm.
_CHORD = 0.1
#: Roles of layers whose lines never are part of another layer's outline.
_APART = frozenset({"notch", "mark", "grain", "axis", "drill", "label", "adjust", "aside", "frame"})


@dataclass(eq=False)
class Loop:
    """A closed line with the entities that it is made of; the first one speaks for it."""

    path: Path
    entities: tuple[Entity, ...]

    @property
    def layer(self) -> str:
        """The layer that most of it is on."""
        lengths: dict[str, float] = {}
        for e in self.entities:
            lengths[e.layer] = lengths.get(e.layer, 0.0) + (e.path.length if e.path else 0.0)
        return max(lengths, key=lambda layer: lengths[layer])

    @property
    def side(self) -> float:
        """The longer side of its box, mm."""
        x0, y0, x1, y1 = self.path.bounds
        return max(x1 - x0, y1 - y0)

    @cached_property
    def ring(self) -> Floats:
        """The line in chords within 0.1 mm, its first point repeated: (n, 2)."""
        chords = flatten(self.path, _CHORD)
        return chords if np.array_equal(chords[0], chords[-1]) else np.vstack([chords, chords[:1]])

    def holds(self, points: Floats) -> bool:
        """Whether most of `points` (m, 2) lie inside, by the even-odd rule."""
        x0, y0, x1, y1 = self.path.bounds
        boxed = ((points >= (x0, y0)) & (points <= (x1, y1))).all(axis=1)
        if boxed.mean() <= 0.5:
            return False
        a, b = self.ring[:-1], self.ring[1:]
        x, y = points[:, :1], points[:, 1:]
        across = (a[:, 1] <= y) != (b[:, 1] <= y)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
        inside = (across & (at > x)).sum(axis=1) % 2 == 1
        return float(inside.mean()) > 0.5


@dataclass
class Lines:
    """Closed lines, the open ones that are left as they were drawn, copies, findings."""

    loops: list[Loop] = field(default_factory=list)
    open: list[tuple[Path, tuple[Entity, ...]]] = field(default_factory=list)
    copies: list[Entity] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def lines_of(entities: Iterable[Entity], tolerance: float) -> Lines:
    """Lines joined end to end: first within each layer of each placed block, then across
    the layers of one block, then across blocks; the latter only where they close."""
    out = Lines()
    gaps, widest, branches = 0, 0.0, []
    groups: dict[tuple[int, str], list[Entity]] = {}
    for entity in entities:
        if entity.path is not None:
            key = (entity.insert.number if entity.insert else 0, entity.layer)
            groups.setdefault(key, []).append(entity)
    left: list[tuple[Path, tuple[Entity, ...]]] = []
    for members in groups.values():
        joined = join_ends([e.path for e in members if e.path is not None], tolerance)
        gaps, widest = gaps + joined.gaps, max(widest, joined.widest)
        branches += joined.branches
        out.copies += [members[i] for i in joined.copies]
        for chain in joined.closed:
            out.loops.append(Loop(chain.path, tuple(members[i] for i in chain.members)))
        left += [(c.path, tuple(members[i] for i in c.members)) for c in joined.open]
    for across in (_by_insert, _all_together):
        left, more = _closing(left, across, tolerance, out)
        gaps, widest = gaps + more.gaps, max(widest, more.widest)
    out.open = left
    _without_copies(out)
    _tell(out, gaps, widest, branches, tolerance)
    return out


def _by_insert(entity: Entity) -> int:
    return entity.insert.number if entity.insert else 0


def _all_together(entity: Entity) -> int:
    return 0


def _closing(
    chains: list[tuple[Path, tuple[Entity, ...]]], key: object, tolerance: float, out: Lines
) -> tuple[list[tuple[Path, tuple[Entity, ...]]], Joined]:
    """Open lines joined across groups where that closes them; others stay as they were."""
    assert callable(key)
    told = Joined()
    groups: dict[int, list[int]] = {}
    for i, (_, members) in enumerate(chains):
        if hint(members[0].layer) not in _APART:
            groups.setdefault(key(members[0]), []).append(i)
    gone: set[int] = set()
    for numbers in groups.values():
        if len(numbers) < 2:
            continue
        joined = join_ends([chains[i][0] for i in numbers], tolerance)
        for chain in joined.closed:
            used = [numbers[m] for m in chain.members]
            out.loops.append(Loop(chain.path, tuple(e for i in used for e in chains[i][1])))
            gone |= set(used)
        if joined.closed:
            told.gaps += joined.gaps
            told.widest = max(told.widest, joined.widest)
    return [c for i, c in enumerate(chains) if i not in gone], told


def _without_copies(out: Lines) -> None:
    """Of closed lines exactly on one another the first is kept."""
    kept: dict[tuple[int, int], list[Loop]] = {}
    loops = []
    for loop in out.loops:
        x, y = (round(v) for v in loop.path.bounds[:2])
        near = [k for dx in (-1, 0, 1) for dy in (-1, 0, 1) for k in kept.get((x + dx, y + dy), ())]
        twin = next((k for k in near if same_line(k.path, loop.path)), None)
        # The same line on a layer with another meaning says that other thing.
        if twin is not None and hint(twin.layer) in ("", hint(loop.layer)):
            out.copies += loop.entities
            continue
        if twin is not None and hint(loop.layer) == "":
            out.copies += loop.entities
            continue
        kept.setdefault((x, y), []).append(loop)
        loops.append(loop)
    out.loops = loops


def _tell(
    out: Lines,
    gaps: int,
    widest: float,
    branches: list[tuple[float, float]],
    tolerance: float,
) -> None:
    if gaps:
        text = f"{gaps} end(s) up to {widest:.3g} mm apart were joined (up to {tolerance:g} mm are)"
        out.findings.append(Finding("ends-joined", "note", text))
    if branches:
        places = ", ".join(f"({x:.1f}, {y:.1f})" for x, y in branches[:3])
        more = f" and {len(branches) - 3} more" if len(branches) > 3 else ""
        out.findings.append(
            Finding(
                "lines-branch",
                "warn",
                f"more than two lines meet at {places}{more} mm; the outermost line was taken "
                "for the outline",
                place=places,
                cure="Put lines within a piece on a layer of their own.",
            )
        )
    if out.copies:
        text = f"{len(out.copies)} line(s) lie exactly on others and were left out"
        out.findings.append(Finding("copies", "note", text))


def samples(path: Path) -> Floats:
    """Nine points along a path, its ends left out, (9, 2) mm."""
    return path.at(np.linspace(0.05, 0.95, 9) * path.length)
