"""Seams: which chains of runs are sewn together, and with how much ease."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from ..findings import Finding, Level


@dataclass(frozen=True, slots=True)
class ChainPart:
    """One run of one piece in a chain.

    `run` is a reference as `Outline.run` reads it. `reverse`: walked against the way that
    it counts (see `counts_backward`).
    `count` is 2 for a half on the fold or for a piece that is there twice.
    """

    piece: str
    run: str
    reverse: bool = False
    count: int = 1

    def __str__(self) -> str:
        times = f"{self.count} x " if self.count != 1 else ""
        return f"{'-' if self.reverse else ''}{times}{self.piece}:{self.run}"


@dataclass(frozen=True, slots=True)
class Ease:
    """By how much the first chain is longer than the second.

    `amount` in mm, or a share of the second chain where `share`. `kind` says whether
    it is eased or gathered in. `between` limits it to a stretch between two notches.
    """

    amount: float
    share: bool = False
    kind: Literal["ease", "gather"] = "ease"
    between: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class PairedNotch:
    """A notch on both sides of a seam.

    `along`: mm (or a share) along the second chain, from its start; the first chain has
    its own where that place meets it.
    """

    along: float
    share: bool = False
    count: int = 1
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Seam:
    """Two chains sewn together; the first one holds the ease or gather, if any."""

    name: str
    first: tuple[ChainPart, ...]
    second: tuple[ChainPart, ...]
    ease: Ease | None = None
    notches: tuple[PairedNotch, ...] = ()

    def pieces(self) -> frozenset[str]:
        """Names of all pieces that the seam touches."""
        return frozenset(part.piece for part in (*self.first, *self.second))

    def finding(
        self, code: str, level: Level, text: str, size: str | None = None, cure: str = ""
    ) -> Finding:
        """What was found of it in a size, told of all its pieces."""
        pieces = ", ".join(sorted(self.pieces()))
        return Finding(code, level, text, pieces, size or "", self.name, cure)

    def turned(self) -> Seam:
        """The seam with its second chain first, without the ease that its first one holds."""
        return replace(self, first=self.second, second=self.first, ease=None)
