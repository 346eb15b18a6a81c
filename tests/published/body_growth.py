"""What charts and rules add for each inch of bust, beside what bodies add.

Bodies: women of the 2012 Anthropometric Survey of U.S. Army Personnel (ANSUR II, Natick
TR-15/007, approved for public release), slopes of least-squares lines on chest circumference,
computed from the public measurements of 1,986 women. Chart: US pattern-industry misses' sizes,
1967-68, sizes 6 to 20. `python -m tests.published.body_growth` prints the table that
docs/grading.md shows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sizewright.grading import grade, read_chart
from sizewright.shipped import shipped
from tests.operations import drawn, steps

#: Slope on the chest (in per in), and the correlation with it.
WOMEN = {
    "waist": (1.0199, 0.84),
    "hip": (0.6818, 0.74),
    "back waist length": (0.1501, 0.47),
    "shoulder, one": (0.0157, 0.13),
    "across the shoulders": (0.0640, 0.29),
    "across the back": (0.2289, 0.63),
}
FIRST, LAST = "6", "20"


@dataclass(frozen=True)
class Row:
    """Growth for each inch of bust: by chart or rules, and of the average body."""

    what: str
    whose: str
    ours: float
    body: float
    correlation: float

    def cells(self) -> str:
        """One row of the table in the docs."""
        return (
            f"| {self.what} | {self.whose} | {self.ours:.2f} in | {self.body:.2f} in "
            f"| {self.correlation:.2f} |"
        )


def rows() -> list[Row]:
    """All that can be set side by side, from the shipped chart and the demo's graded pieces."""
    chart = read_chart(shipped("grade_tables/misses-1967.csv"))
    grown = chart.changes(FIRST, LAST)
    bust = grown["bust"]
    found = {
        "waist": ("chart", grown["waist"]),
        "hip": ("chart", grown["hip"]),
        "back waist length": ("chart", grown["back-waist-length"]),
    }
    small, large = (_shoulders(size) for size in (FIRST, LAST))
    found |= {what: ("demo garment", large[what] - small[what]) for what in small}
    return [Row(what, whose, mm / bust, *WOMEN[what]) for what, (whose, mm) in found.items()]


def _shoulders(size: str) -> dict[str, float]:
    """Measures across the back of the demo garment, mm: the whole garment, both halves."""
    back = (
        grade(drawn("supper-top"), steps("supper-top"), [size], far=9)
        .pattern.piece("back", size)
        .outline
    )

    def at(name: str) -> np.ndarray:
        return back.vertex_at(back.vertex(name))

    centre = at("neck-centre")[0]
    return {
        "shoulder, one": float(np.hypot(*(at("shoulder-tip") - at("neck-side")))),
        "across the shoulders": 2 * abs(float(at("shoulder-tip")[0] - centre)),
        "across the back": 2 * abs(float(at("armhole-middle")[0] - centre)),
    }


def table() -> str:
    """The table as the docs have it."""
    head = ["| for each inch of bust | by | the pattern adds | bodies add | they keep to it |"]
    return "\n".join([*head, "| --- | --- | --- | --- | --- |", *(r.cells() for r in rows())])


if __name__ == "__main__":
    print(table())
