"""What is laid on a cloth: each piece as often as it is cut, the other of a pair turned over."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from ..findings import Finding
from ..geometry import affine
from ..geometry.flatten import flatten
from ..geometry.types import Floats
from ..model import Pattern, Piece
from .cloth import CHORD, Cloth, Panel

#: How a piece is cut: as it is drawn or turned over, through both layers of a folded cloth,
#: or through both with its fold on that of the cloth.
DRAWN, OVER, BOTH, ON_FOLD = "as drawn", "turned over", "both layers", "on the fold"
# A piece is as good as symmetric within this, mm.
_ALIKE = 0.5
# A fold runs along the grain where the sine of its angle with it is less.
_PARALLEL = 1e-3


@dataclass(frozen=True)
class Item:
    """One cut: a piece in its size, which copy of it, and how it lies (`DRAWN`, ...)."""

    piece: Piece
    copy: int
    side: str

    @property
    def key(self) -> tuple[str, str, int]:
        """Piece, size and copy, by which a lay knows it."""
        return self.piece.name, self.piece.size or "", self.copy

    @property
    def title(self) -> str:
        """Piece with size, and its number where that is not the first."""
        return self.piece.title if self.copy == 1 else f"{self.piece.title} ({self.copy})"

    @cached_property
    def level(self) -> Floats:
        """The map (2, 3) that lays it with its grain level, up to the right, turned over or not.

        What lies on the fold has the fold below.
        """
        m = affine.rotation(-grain_angle(self.piece))
        if self.side == OVER:
            m = affine.compose(_OVER, m)
        if self.side == ON_FOLD and self.piece.fold is not None:
            a, b = (self.piece.outline.vertex_at(v) for v in _ends(self.piece))
            if float((affine.apply(m, b) - affine.apply(m, a))[0]) < 0:
                # The cloth lies left of the way round: above a fold walked to the right.
                m = affine.compose(_OVER, m)
        return m

    def turned(self, angle: float) -> Floats:
        """Its outline (m, 2), grain in the direction `angle`, lower left of its box at (0, 0)."""
        points = affine.apply(self._turn(angle), self._points)
        shifted: Floats = points - points.min(axis=0)
        return shifted

    def matrix(self, panel: Panel, x: float, y: float, turn: int) -> Floats:
        """The map (2, 3) from the piece to where it lies on a panel."""
        m = self._turn(panel.angle + turn)
        low = affine.apply(m, self._points).min(axis=0)
        at = np.array(panel.corner) + np.array([x, y]) - low
        return affine.compose(affine.translation(float(at[0]), float(at[1])), m)

    def area_on(self, panel: Panel, x: float, y: float, turn: int) -> Any:
        """What it covers there, as a shapely polygon."""
        from shapely import Polygon

        return Polygon(affine.apply(self.matrix(panel, x, y, turn), self._points)).buffer(0)

    @cached_property
    def area(self) -> float:
        """Its area, mm2."""
        return float(self.piece.drawn.path.area)

    @cached_property
    def _points(self) -> Floats:
        return flatten(self.piece.drawn.path, CHORD)

    def _turn(self, angle: float) -> Floats:
        if self.side == ON_FOLD and round(angle) % 360 == 180:
            # The other way along the fold, which stays below: the half is turned over.
            return affine.compose(affine.scaling(-1.0, 1.0), self.level)
        return affine.compose(affine.rotation(angle), self.level)


_OVER = affine.scaling(1.0, -1.0)


def _ends(piece: Piece) -> tuple[int, int]:
    assert piece.fold is not None
    return piece.fold.start, piece.fold.end


def items_for(cloth: Cloth, pieces: Iterable[Piece]) -> tuple[list[Item], list[Finding]]:
    """What of some pieces is laid on a cloth, and what is to be known about it.

    On single cloth halves must have been opened out. A piece that says no quantity is cut once,
    a pair twice.
    """
    items: list[Item] = []
    findings: list[Finding] = []
    for piece in pieces:
        count = count_of(piece, cloth.material)
        if not count or (cloth.pieces and piece.name not in cloth.pieces):
            continue
        if piece.grain is None:
            findings.append(
                _finding("no-grain", piece, "it has no grain line: laid upright as it is drawn",
                         "Draw its grain (data-role grain).")
            )  # fmt: skip
        sides = _folded(piece, count, findings) if cloth.folded else _single(piece, count)
        items += [Item(piece, k, side) for k, side in enumerate(sides, start=1)]
    return items, findings


def count_of(piece: Piece, material: str) -> int:
    """How often a piece is cut of a material; what says no quantity is of `main`."""
    if not piece.quantity:
        return (2 if piece.pair else 1) if material == "main" else 0
    return sum(q.count for q in piece.quantity if q.material == material)


def _single(piece: Piece, count: int) -> list[str]:
    over = count // 2 if piece.pair else 0
    return [DRAWN] * (count - over) + [OVER] * over


def _folded(piece: Piece, count: int, findings: list[Finding]) -> list[str]:
    if piece.fold is not None:
        return [ON_FOLD] * count
    if piece.pair or _symmetric(piece):
        cuts = -(-count // 2)
        spare = 2 * cuts - count
    else:
        cuts = spare = count
    if spare:
        what = "one" if spare == 1 else f"{spare}"
        findings.append(
            _finding("cut-spare", piece, f"folded cloth gives {what} more of it than are needed",
                     "Lay on single cloth (folded = false) where the cloth is short.")
        )  # fmt: skip
    return [BOTH] * cuts


def _symmetric(piece: Piece) -> bool:
    """Whether a piece turned over is the same again."""
    from shapely import Polygon

    drawn, over = (Polygon(Item(piece, 1, side).turned(0)) for side in (DRAWN, OVER))
    return float(drawn.hausdorff_distance(over)) < _ALIKE


def _finding(code: str, piece: Piece, text: str, cure: str) -> Finding:
    return Finding(code, "warn", text, piece.name, piece.size or "", cure=cure)


def opened(pattern: Pattern, cloth: Cloth) -> Pattern:
    """The pattern as it is laid on a cloth: halves opened out that do not lie on its fold.

    On folded cloth those stay halves whose fold runs along their grain.
    """
    from ..drafting import open_out, redraft

    for name in pattern.names:
        sizes = [p for p in pattern.pieces if p.name == name]
        if (
            any(p.fold is not None and count_of(p, cloth.material) for p in sizes)
            and not (cloth.folded and all(map(_along_fold, sizes)))
        ):  # fmt: skip
            pattern = redraft(pattern, [name], open_out).pattern
    return pattern


def _along_fold(piece: Piece) -> bool:
    """Whether a half's fold runs along its grain."""
    a, b = (piece.outline.vertex_at(v) for v in _ends(piece))
    turn = math.degrees(math.atan2(float(b[1] - a[1]), float(b[0] - a[0]))) - grain_angle(piece)
    return abs(math.sin(math.radians(turn))) < _PARALLEL


def grain_angle(piece: Piece) -> float:
    """The direction of a piece's grain, degrees counter-clockwise from level.

    A one-ended grain line points to its end, any other to the end that is further up the grade
    axis (to the right, or left of up, where it lies square to that). Without a grain line: up.
    """
    if piece.grain is None:
        x, y = piece.up
        return math.degrees(math.atan2(y, x))
    x, y = (float(e - s) for s, e in zip(piece.grain.start, piece.grain.end, strict=True))
    along = x * piece.up[0] + y * piece.up[1]
    if piece.grain.ends == 2 and (along < 0 or (abs(along) < 1e-9 and (x, y) < (0.0, 0.0))):
        x, y = -x, -y
    return math.degrees(math.atan2(y, x))
