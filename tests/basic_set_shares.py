"""Makes the derived rows of `grade_tables/basic-set-shares.csv`: python -m tests.basic_set_shares

All other rows are said (their reasons stand in the table). The derived ones are solved so that,
for a small change of any measure, the whole neck grows by the neck, each half of the cap as its
armhole, sides and inseams alike, and the bust dart's legs stay even. Lengths are those of the
drawn curves, by quadrature; small changes are taken both ways, so the solution is that of the
tangent at size 12.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sizewright.grading import RuleTable, ShareRule, grade_map, named_alike, read_rules, write_rules
from sizewright.shipped import shipped
from tests.operations import drawn

from .drawn import length

TABLE = shipped("grade_tables/basic-set-shares.csv")
PATTERN = drawn("basic-set")
#: The small change, mm.
STEP = 0.5
#: What is solved for: rows of the table.
UNKNOWN = (
    ("front:neck-centre", "length"),
    ("cap-top", "width"),
    ("cap-top", "length"),
    ("crotch-point-back", "length"),
    ("bust-dart-tip", "length"),
    ("front:bust-dart-upper", "length"),
)
#: Rows that are so much of another one, and what is added to each by measure: the middle of the
#: cap by its share of the height, the hem by the arm's length, the elbow by its share of that.
FOLLOWING = {
    ("waist-dart-tip", "length"): (("bust-dart-tip", "length"), 1.0, {}),
    ("cap-middle", "length"): (("cap-top", "length"), 0.56, {}),
    ("sleeve-hem", "length"): (("cap-top", "length"), 1.0, {"arm-length": -1.0}),
    ("sleeve-elbow", "length"): (("sleeve-hem", "length"), 0.439, {}),
}
#: Lines, by the named points at their ends.
ARMHOLE = ("underarm", "shoulder-tip")
NECK = ("neck-side", "neck-centre")
CAP = {"front": ("underarm-front", "cap-top"), "back": ("cap-top", "underarm-back")}
INSEAM = ("crotch-point", "hem-inner")
LEGS = ("bust-dart-lower", "bust-dart-tip", "bust-dart-upper")

Shares = dict[tuple[str, str], np.ndarray]


def shares_of(table: RuleTable) -> Shares:
    return {(r.rule, r.axis): np.array(r.shares) for r in table.rules if isinstance(r, ShareRule)}


def followed(shares: Shares, measures: tuple[str, ...]) -> Shares:
    shares = dict(shares)
    for row, (of, share, more) in FOLLOWING.items():
        shares[row] = share * shares[of] + np.array([more.get(m, 0.0) for m in measures])
    return shares


class Seams:
    """What must come out as nothing, as a function of what the rules give."""

    def __init__(self, table: RuleTable) -> None:
        pieces, _ = named_alike(PATTERN.pieces, table)
        self.maps = {p.name: grade_map(p) for p in pieces}

    def off(self, growth: dict[str, dict[str, float]], neck: float) -> np.ndarray:
        made: dict[str, np.ndarray] = {}
        for name, one in self.maps.items():
            places = (one.base + one.moves(one.amounts(growth)))[: one.outline_rows]
            three = places.reshape(-1, 3, 2)
            ends = np.roll(three[:, :1], -1, axis=0)
            made[name] = np.concatenate([three, ends], axis=1)

        lengths = {name: [length(s) for s in drawn] for name, drawn in made.items()}

        def along(name: str, start: str, end: str) -> float:
            """The shorter way along the outline between two named points."""
            outline = self.maps[name].piece.outline
            a, b = sorted((outline.vertex(start), outline.vertex(end)))
            way = sum(lengths[name][a:b])
            return min(way, sum(lengths[name]) - way)

        necks = along("front", *NECK) + along("back", *NECK)
        caps = [along("sleeve", *CAP[half]) - along(half, *ARMHOLE) for half in CAP]
        lower, tip, upper = LEGS
        side = along("front", "side-waist", lower) + along("front", upper, "underarm")
        side -= along("back", "side-waist", "underarm")
        legs = [along("front", leg, tip) for leg in (lower, upper)]
        seams = along("trousers-back", *INSEAM) - along("trousers-front", *INSEAM)
        return np.array([2 * necks - neck, *caps, seams, legs[0] - legs[1], side])


def solved(table: RuleTable) -> RuleTable:
    """The table with its derived rows made anew."""
    measures = table.measures
    shares = shares_of(table)
    for row in UNKNOWN:
        shares[row] = np.zeros(len(measures))
    shares = followed(shares, measures)
    seams = Seams(table)

    def slope(rows: Shares, k: int, neck: float = 0.0) -> np.ndarray:
        both = []
        for step in (-STEP, STEP):
            growth: dict[str, dict[str, float]] = {}
            for (rule, axis), share in rows.items():
                growth.setdefault(rule, {})[axis] = step * float(share[k])
            both.append(seams.off(growth, step * neck))
        return (both[1] - both[0]) / (2 * STEP)

    nothing = {row: np.zeros(1) for row in shares}
    columns = []
    for row in UNKNOWN:
        alone = followed(nothing | {row: np.ones(1)}, ("",))
        columns.append(slope(alone, 0))
    for k, measure in enumerate(measures):
        off = slope(shares, k, neck=float(measure == "neck"))
        for row, share in zip(UNKNOWN, np.linalg.solve(np.array(columns).T, -off), strict=True):
            shares[row][k] = share
    shares = followed(shares, measures)
    rules = [
        r._replace(shares=tuple(float(round(x, 5)) + 0.0 for x in shares[r.rule, r.axis]))
        for r in table.rules
        if isinstance(r, ShareRule)
    ]
    return replace(table, rules=tuple(rules))


if __name__ == "__main__":
    TABLE.write_text(write_rules(solved(read_rules(TABLE))), "utf-8")
