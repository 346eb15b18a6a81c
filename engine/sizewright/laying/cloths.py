"""The cloths of a job as a writer gets them, with the lays on them."""

from __future__ import annotations

from typing import Protocol

from ..findings import Finding
from ..model import Pattern
from .cloth import Cloth
from .lay import Lay


class Cloths(Protocol):
    """What a setting of kind `cloths` brings: the cloths that an output is of."""

    @property
    def cloths(self) -> tuple[Cloth, ...]:
        """The cloths, in the order of the job."""

    def lay(
        self, cloth: Cloth, pattern: Pattern, seconds: float, seed: int = 1
    ) -> tuple[Lay, tuple[Finding, ...]]:
        """The lay of a pattern on one of them, kept or looked for, and findings of its making.

        The same lay is looked for once, however many outputs show it.
        """

    def homeless(self, pattern: Pattern) -> list[Finding]:
        """A warning for each piece of a material for which the job has no cloth."""
