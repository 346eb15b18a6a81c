"""Takes fullness away in darts: from an edge, over a seam, or within a piece."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from sizewright.findings import Finding
from sizewright.model import PRESSED, SEAM_TOLERANCE, Pattern, Piece, Seam, match_seam
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, piece_settings
from sizewright.units import both

if TYPE_CHECKING:
    from sizewright.drafting import Ring, Settled

api = 1

#: Changes of length below this, mm, are not worth a word.
_TOLD = 0.05


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `dart`."""
    return [
        Operation(
            "dart",
            "take fullness away in darts",
            make_darts,
            (
                *piece_settings("dart"),
                Setting(
                    "at", "place", "where the middle of the mouth lies", required=True, shape="list"
                ),
                _length("take", "how wide each dart is at its mouth"),
                _length(
                    "excess", "what all darts together take from the whole garment, instead of take"
                ),
                Setting("count", "count", "darts at each place", 1, low=1, high=20),
                _length(
                    "apart",
                    "from middle to middle of several at one place; without it 1 in is left "
                    "between their mouths",
                ),
                _length("length", "along the middle of the dart, edge to tip"),
                Setting("tip", "place", "where it ends, instead of length and square to the edge"),
                Setting(
                    "pressed",
                    "choice",
                    "the way it is pressed; without it to the centre, or down where it lies level",
                    choices=PRESSED,
                ),
                Setting("name", "text", "its name; without one that of its edge"),
                Setting(
                    "across",
                    "text",
                    "seams over which the other side answers: by darts that meet these, a band "
                    "by being shorter, a gathered side by more gather",
                    (),
                    shape="list",
                ),
                _length("across-length", "how long the darts across are; else as length"),
                Setting(
                    "kind",
                    "choice",
                    "from an edge, or double: within the piece, with a tip above and below",
                    "single",
                    choices=("single", "double"),
                ),
                _length("length-up", "of a double dart, up from its place"),
                _length("length-down", "of a double dart, down from its place"),
                Setting(
                    "fair",
                    "flag",
                    "lead the edge square to the legs, so that it runs on over it",
                    True,
                ),
            ),
            before_grading=True,
        )
    ]


def make_darts(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the darts that are asked for."""
    from sizewright.drafting import Settled, mates_to_follow, redraft

    from .bands import shortened
    from .double import doubled
    from .making import darted
    from .planned import Asked, as_seen, planned

    asked = Asked.of(pattern, values)
    if values["kind"] == "double":
        done = redraft(pattern, asked.pieces, doubled(pattern, asked, values))
        return Outcome(done.pattern, done.findings)
    shown = {name: pattern.piece(name) for name in asked.pieces}
    shown = {name: piece.base or piece for name, piece in shown.items()}
    first = planned(pattern, shown, asked, Settled())

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> dict[str, Ring]:
        plan = planned(pattern, pieces, asked, settled)
        rings = {}
        for name, piece in pieces.items():
            if name in plan.bands:
                rings[name] = shortened(piece, plan.bands[name], settled)
            else:
                rings[name] = darted(piece, plan.darts[name], settled, fair=values["fair"])
        return rings

    done = redraft(pattern, first.names, edit)
    seams = tuple(_gathered(pattern, s, first.gathers.get(s.name, 0.0)) for s in done.pattern.seams)
    after = replace(done.pattern, seams=seams)
    told = [*_shorter(as_seen(pattern, shown), after, first.names)]
    shared = [s for s in after.seams if s.name in first.gathers and s.ease and s.ease.share]
    told += (one for seam in shared for one in _gathers_off(after, seam))
    waiting = mates_to_follow(pattern, after, first.names)
    names = {seam.name for seam in shared}
    waiting = [one for one in waiting if one.place not in names]
    return Outcome(after, (*done.findings, *told, *waiting))


def _gathered(pattern: Pattern, seam: Seam, more: float) -> Seam:
    """A seam of which the first side is gathered by so much more, mm."""
    if not more or seam.ease is None:
        return seam
    was = next(s for s in pattern.seams if s.name == seam.name)
    match = match_seam(pattern, was)
    amount = match.wanted + more
    if seam.ease.share:
        # What is taken from the gathered side's mate comes to the gathers.
        amount /= match.second.length - more
    return replace(seam, ease=replace(seam.ease, amount=amount))


def _gathers_off(pattern: Pattern, seam: Seam) -> Iterator[Finding]:
    """A warning where gathers that are a share of the seam do not take up the same dart in all
    sizes."""
    off = {size: match_seam(pattern, seam, size).off for size in pattern.sizes}
    if max(map(abs, off.values()), default=0.0) > SEAM_TOLERANCE:
        sizes = ", ".join(f"{way:+.1f} mm in {size}" for size, way in off.items())
        yield Finding(
            "gathers-off",
            "warn",
            f"its gathers are a share of the seam, and the dart takes as much in every size: "
            f"they are off by {sizes}",
            place=seam.name,
            cure="Say the gathers as a length (seam-ease), or the take as a table of sizes.",
        )


def _shorter(before: Pattern, after: Pattern, names: tuple[str, ...]) -> Iterator[Finding]:
    """By how much each edge is shorter as sewn."""
    for name in names:
        was, now = before.piece(name), after.piece(name)
        now = now.base or now
        for run in was.outline.runs:
            if run.name is None:
                continue
            less = was.sewn_length(run) - now.sewn_length(now.run(run.name))
            if abs(less) > _TOLD:
                text = f"as sewn it is {both(abs(less))} {'shorter' if less > 0 else 'longer'} now"
                yield Finding("length-changed", "note", text, name, place=run.name)


def _length(name: str, words: str) -> Setting:
    return Setting(name, "length", words, low=0.1, by_size=True)
