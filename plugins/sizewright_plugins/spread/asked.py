"""The settings of `spread`, checked against each other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from sizewright.errors import InputError, SizewrightError
from sizewright.model import Amount, Pattern, Piece, Run, RunReference, sides_of_centre
from sizewright.plugin import Values, pieces_asked

from .cuts import check_apart, fewest
from .pleats import Kind, opened

#: Openings smaller than this are none, mm.
NONE = 1e-9


@dataclass(frozen=True)
class Asked:
    """What is asked for. `cuts` is settled for all sizes."""

    pieces: tuple[str, ...]
    first: RunReference
    second: RunReference
    by: Amount | None
    by_to: Amount | None
    to_length: Amount | None
    kind: Literal["flare", "gather", "pleat"]
    pleat: Kind
    inwards: bool
    depth: float | None
    given_cuts: int | None
    grain: bool
    fair: bool

    @classmethod
    def of(cls, pattern: Pattern, values: Values) -> Asked:
        """Raises InputError where settings contradict each other, LookupFailed for what is not
        there."""
        first, second = values["from"], values["to"]
        named = {run.piece for run in (first, second) if run.piece}
        if not values["piece"] and not values["pieces"] and len(named) == 1:
            values = {**values, "piece": named.pop()}
        pieces = pieces_asked(pattern, values)
        for run in (first, second):
            if run.piece is not None and pieces != (run.piece,):
                raise InputError(
                    f'"{run}" is on one piece, and {" and ".join(pieces)} are to be spread',
                    cure=f"Say {run.run} alone, which means that run of each piece.",
                )
        pleated = values["kind"] == "pleat"
        if values["depth"] is not None and not pleated:
            raise InputError("only pleats have a depth", cure='Say kind = "pleat" too.')
        ways = [name for name in ("by", "to-length") if values[name] is not None]
        if len(ways) > 1 or (pleated and "to-length" in ways):
            raise InputError(
                "by and to-length both say how wide"
                if len(ways) > 1
                else "pleats take what by or depth says",
                cure="Leave to-length out.",
            )
        if not ways and not pleated:
            raise InputError(
                "nothing says how wide it is to be spread",
                cure='Say by = "10 cm", or to-length = "60 cm".',
            )
        return cls(
            pieces,
            first,
            second,
            values["by"],
            values["by-to"],
            values["to-length"],
            values["kind"],
            values["pleat"],
            values["towards"] == "centre",
            values["depth"],
            values["cuts"],
            values["grain"] == "middle",
            values["fair"] and not pleated,
        )

    def opened(self, pattern: Pattern, piece: Piece, more: float = 0.0) -> tuple[int, float, float]:
        """How many cuts a piece asks for (0: as many as are needed), and how far they open at
        both runs, mm. `more` mends what fairing takes off a `to-length`."""
        count, by = self.given_cuts or 0, None if self.by is None else self.by.of(pattern, piece)
        if self.to_length is not None:
            long = piece.sewn_length(self.first.on(piece))
            by = self.to_length.of(pattern, piece) - long
            if by < -NONE:
                raise InputError(
                    f'"{self.first.run}" is longer than that already: {long / 10:.2f} cm',
                    where=piece.title,
                    cure="Ask for more, or take fullness out by darts.",
                )
            by = max(by + more, 0.0)
        if self.kind == "pleat":
            count, by = opened(self.pleat, self.given_cuts, by, self.depth)
        assert by is not None
        if self.by_to is not None:
            return count, by, self.by_to.of(pattern, piece)
        return count, by, 0.0 if self.kind == "flare" else by

    def cuts(self, pattern: Pattern) -> dict[str, int]:
        """How many cuts each piece gets in all its sizes; 0 where nothing is opened.

        Raises InputError where a piece opens in some sizes only.
        """
        found = {}
        for name in self.pieces:
            sizes = [*pattern.sizes_of(name)]
            sizes += [p.base for p in sizes[:1] if p.base is not None]
            counts = set()
            nothing: list[tuple[bool, bool]] = []
            for piece in sizes:
                runs = self.first.on(piece), self.second.on(piece)
                check_apart(piece, *runs)
                _check_sides(piece, {"from": runs[0], "to": runs[1]})
                count, by, by_to = self.opened(pattern, piece)
                nothing.append((by <= NONE, by_to <= NONE))
                if all(nothing[-1]):
                    counts.add(0)
                elif count:
                    counts.add(count)
                else:
                    try:
                        counts.add(fewest(piece, *runs, by, by_to))
                    except SizewrightError as error:
                        raise (error if error.where else error.at(piece.title)) from None
            if len(set(nothing)) > 1:
                raise InputError(
                    "it opens in some sizes and not in others",
                    where=name,
                    cure="Give every size an amount above 0.",
                )
            found[name] = max(counts)
        return found


def _check_sides(piece: Piece, runs: Mapping[str, Run]) -> None:
    """Refuse an opened piece of which one run lies on other sides of the centre than the other."""
    sides = {name: sides_of_centre(piece, run) for name, run in runs.items()}
    if len(set(sides.values())) < 2:
        return
    outline, n = piece.outline, len(piece.outline.path)
    cure = "Take runs that lie opposite each other, on one side or over the centre both."
    for name, other in (("from", "to"), ("to", "from")):
        if len(sides[name]) == 2 and len(sides[other]) == 1:
            run = runs[name]
            inner = [(run.start + k) % n for k in range(1, (run.end - run.start) % n)]
            parts = [p for v in inner for p in (Run(run.start % n, v), Run(v, run.end % n))]
            parts = [p for p in parts if sides_of_centre(piece, p) == sides[other]]
            ends = max(parts, key=outline.run_length, default=run)
            words = f"{outline.reference(ends.start)}..{outline.reference(ends.end)}"
            cure = f'Say {name} = "{words}", which lies on that side alone, or spread the half '
            cure += "before it is opened out."
    raise InputError(
        f"{_named(runs, 'from')} and {_named(runs, 'to')} do not lie on the same sides of the "
        "centre of the opened piece",
        where=piece.title,
        cure=cure,
    )


def _named(runs: Mapping[str, Run], setting: str) -> str:
    return runs[setting].name or f"the run of {setting}"
