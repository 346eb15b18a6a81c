"""Moves a dart about a point: to another place, to two, or into gathers, ease or flare."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from sizewright.errors import InputError, LookupFailed
from sizewright.findings import Finding
from sizewright.model import Pattern, Piece
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, pieces_asked

if TYPE_CHECKING:
    from sizewright.drafting import Ring, Settled

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `move-dart`."""
    return [
        Operation(
            "move-dart",
            "move a dart about a point, or turn it into gathers, ease or flare",
            move_dart,
            (
                Setting("piece", "text", "the piece; needed where several have such a dart"),
                Setting("dart", "text", "the dart, by its name", required=True),
                Setting("to", "place", "where on the outline it goes", required=True),
                Setting(
                    "part", "share", "how much of its angle goes there", "100%", low=0.0, high=1.0
                ),
                Setting(
                    "into",
                    "choice",
                    "what it becomes there",
                    "dart",
                    choices=("dart", "gather", "ease", "flare"),
                ),
                Setting(
                    "point",
                    "place",
                    "what it turns about; without it the drill hole bust-point, else its own tip",
                ),
                Setting(
                    "back-off",
                    "length",
                    "from the point back to the new tip; without it as far as the old one",
                    low=0,
                    by_size=True,
                ),
                Setting(
                    "between",
                    "place",
                    "the two places between which gathers or ease lie; without it 5 cm to each "
                    "side of the place",
                    (),
                    shape="list",
                ),
                Setting("fair", "flag", "smooth the edge where the old mouth is closed", True),
            ),
            before_grading=True,
        )
    ]


def move_dart(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with a dart moved as asked."""
    from sizewright.drafting import Settled, mates_to_follow, redraft

    from .fulled import fulled
    from .turning import Move, legs_alike, pivot, turned

    name = _piece(pattern, values)
    if values["part"] == 0:
        raise InputError("no part of the dart would move", cure="Say a part above 0.")
    if len(values["between"]) not in (0, 2):
        raise InputError("gathers lie between two places", cure="Say two, or none.")
    keys = ("dart", "to", "part", "into", "point", "fair")
    move = Move(pattern, back_off=values["back-off"], **{key: values[key] for key in keys})
    sizes = [*pattern.sizes_of(name)]
    sizes += [p.base for p in sizes if p.base is not None]
    move = replace(move, alike=all(legs_alike(p, move) for p in sizes))

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> dict[str, Ring]:
        return {name: turned(pieces[name], move, settled)}

    done = redraft(pattern, [name], edit)
    findings = [*done.findings]
    if not pivot(pattern.piece(name), move, Settled())[1]:
        findings.append(
            Finding(
                "no-bust-point",
                "warn",
                "nothing says what the dart turns about, so it turned about its own tip",
                name,
                place=values["dart"],
                cure='Mark the drill hole "bust-point", or say point = "PLACE".',
            )
        )
    after = done.pattern
    if move.into in ("gather", "ease"):
        after, told = fulled(pattern, after, name, move, values["between"])
        findings += told
    findings += mates_to_follow(pattern, after, [name])
    return Outcome(after, tuple(findings))


def _piece(pattern: Pattern, values: Values) -> str:
    """The piece whose dart it is."""
    (name,) = pieces_asked(pattern, {"piece": _named(pattern, values), "pieces": ()})
    return name


def _named(pattern: Pattern, values: Values) -> str:
    if values["piece"] is not None:
        return str(values["piece"])
    if values["to"].piece is not None:
        return str(values["to"].piece)
    dart = values["dart"]
    having = {p.name for p in pattern.pieces for d in p.darts if dart in (d.name, f"{d.name}-dart")}
    if not having:
        names = sorted({d.name for p in pattern.pieces for d in p.darts})
        raise LookupFailed(
            f'no piece has a dart "{dart}"', cure=f"Darts: {', '.join(names) or 'none'}."
        )
    if len(having) > 1:
        raise InputError(
            f'several pieces have a dart "{dart}": {", ".join(sorted(having))}',
            cure="Say piece = as well.",
        )
    return having.pop()
