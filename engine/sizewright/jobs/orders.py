"""What is ordered, by a job file or on the command line: steps, and grading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..formats.interchange.rules import Deltas
    from .toml_lines import Trail


@dataclass(frozen=True)
class Step:
    """One operation, writer or check with its settings as written, and where it stands."""

    name: str
    settings: Mapping[str, Any]
    trail: Trail

    @property
    def label(self) -> str:
        """What the job calls the step: its `name`, else that of its operation."""
        return str(self.settings.get("name", self.name))


@dataclass(frozen=True)
class GradeOrder:
    """The sizes wanted, and the tables to get there with.

    Without `rules` the drawing must hold a nest of sizes. `measures` of a body are in mm;
    `at` gives another size by level or piece; `label` names what is of no plain size,
    `stretch` says that the cloth gives.
    `after` are the operations that follow it: truing of seams, laying sizes over each other.
    """

    to: tuple[str, ...]
    rules: Path | None
    points: Path | None = None
    square: tuple[str, ...] = ()
    beyond_table: bool = False
    deltas: Deltas | None = None
    chart: Path | None = None
    measures: Mapping[str, float] = field(default_factory=dict)
    at: Mapping[str, str] = field(default_factory=dict)
    label: str = ""
    stretch: bool = False
    after: tuple[Step, ...] = ()

    @property
    def sources(self) -> tuple[Path, ...]:
        """The tables that it reads."""
        return tuple(p for p in (self.rules, self.points, self.chart) if p is not None)

    @property
    def words(self) -> str:
        """What is made, in a few words."""
        return ", ".join(self.to) or self.label or "a body"


def steps_after(true_seams: bool | str, align: str | Sequence[str]) -> tuple[Step, ...]:
    """The operations that `true-seams` (True, or how far an end may move) and `align` mean."""
    steps = []
    if true_seams is not False:
        how = {} if true_seams is True else {"up-to": true_seams}
        steps.append(Step("true-seams", how, ("grade", "true-seams")))
    if align:
        steps.append(Step("lay-over", {"at": align}, ("grade", "align")))
    return tuple(steps)
