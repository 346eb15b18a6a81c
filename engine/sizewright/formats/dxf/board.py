"""What is known so far while a stranger's drawing is sorted into pieces."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from ...findings import Finding, Level
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.types import Floats
from ..reading import SetAside
from ..svg.drawn import Drawn
from ..svg.names import bare_size, size_in_words
from ..svg.text import TextLine
from .entities import Entity
from .layers import hint
from .loops_in import Lines, Loop
from .nodes import EntityNode

#: Closed lines whose longer side is below this, in mm, are no pieces (as in SVG).
SMALLEST = 20.0
#: Layers whose names say nothing.
PLAIN_LAYERS = frozenset({"0", ""})


@dataclass
class Strange:
    """Shapes sorted into pieces, as the readers of marks take them."""

    drawn: list[Drawn] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


@dataclass(eq=False)
class StrangePiece:
    """One piece in the making: its outline, and shapes as (role, kind, paths, entity)."""

    loop: Loop
    size: str | None
    name: str = ""
    shapes: list[tuple[str, str, list[Path], Entity]] = field(default_factory=list)
    texts: list[Entity] = field(default_factory=list)
    labels: list[tuple[Entity, TextLine]] = field(default_factory=list)
    fields: dict[str, str] = field(default_factory=dict)
    holes: list[Loop] = field(default_factory=list)
    marks: int = 0

    @property
    def working(self) -> Path:
        """The sewing line where there is one, else the outline."""
        sewn = (path for role, _, paths, _ in self.shapes if role == "sew" for path in paths)
        return next(sewn, self.loop.path)


class Board:
    """The lines of a drawing, the pieces found in it so far, and what comes of it all."""

    def __init__(self, entities: list[Entity], lines: Lines, root: EntityNode) -> None:
        self.entities = entities
        self.root = root
        self.out = Strange()
        self.lines = lines
        self.out.findings += lines.findings
        self.sizes = _sizes({e.layer for e in entities})
        self.pieces: list[StrangePiece] = []

    def aside(self, entity: Entity, reason: str) -> None:
        """List an entity as set aside."""
        self.out.set_aside.append(SetAside(entity.layer, entity.kind.lower(), reason))

    def find(
        self, code: str, level: Level, text: str, cure: str = "", piece: str = "", place: str = ""
    ) -> None:
        """Add a finding."""
        self.out.findings.append(Finding(code, level, text, piece, "", place, cure))

    def size(self, loop: Loop) -> str | None:
        """The size that a closed line's layer says."""
        return self.sizes.get(loop.layer)

    def piece_of(self, points: Floats, entity: Entity, reach: float = 0.0) -> StrangePiece | None:
        """The smallest piece round most of `points`; else the nearest within `reach` mm."""
        size = self.sizes.get(entity.layer)
        fits = [p for p in self.pieces if size is None or p.size == size]
        held = [p for p in fits if p.loop.holds(points)]
        if held:
            return min(held, key=lambda p: abs(p.loop.path.area))
        if not reach:
            return None
        away = [(float(nearest(p.loop.path, points).distance.min()), i) for i, p in enumerate(fits)]
        least = min(away, default=(np.inf, 0))
        return fits[least[1]] if least[0] <= reach else None


def alone(pieces: list[StrangePiece]) -> dict[int, StrangePiece]:
    """Pieces by the placed block whose only one they are."""
    found: dict[int, list[StrangePiece]] = {}
    for piece in pieces:
        insert = piece.loop.entities[0].insert
        if insert is not None:
            found.setdefault(insert.number, []).append(piece)
    return {number: held[0] for number, held in found.items() if len(held) == 1}


def _sizes(layers: Iterable[str]) -> dict[str, str]:
    """Sizes by layer, where layers are named by them; bare ones only if there are several."""
    worded = {layer: size_in_words(layer) for layer in layers}
    bare = {layer: named_by_size(layer) for layer in layers if layer not in PLAIN_LAYERS}
    found = {layer: size for layer, size in worded.items() if size is not None}
    plain = {layer: size for layer, size in bare.items() if size is not None}
    if len(set(plain.values()) | set(found.values())) > 1:
        found |= plain
    return found


def named_by_size(layer: str) -> str | None:
    """A layer named by a size alone (`12`), or by a role and a size (`CUT-12`)."""
    role, dash, size = layer.partition("-")
    if not dash or not hint(role):
        return bare_size(layer)
    return size_in_words(size) or bare_size(size) or bare_size(size.replace("_", " "))


def middle(path: Path) -> str:
    """The middle of a line's box, as messages show it."""
    x0, y0, x1, y1 = path.bounds
    return f"({(x0 + x1) / 2:.1f}, {(y0 + y1) / 2:.1f}) mm"


def mark_kind(layer: str) -> str:
    """What a mark is, by its layer, where that says more than that it is one."""
    plain = layer.strip().casefold()
    plain = plain.partition("-")[0] if named_by_size(layer) and hint(plain) else plain
    return "" if plain in (*PLAIN_LAYERS, "mark", "marks") else plain
