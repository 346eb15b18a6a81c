"""Cuts a piece in two along a line, and declares the seam between the parts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from sizewright.errors import InputError, UsageError
from sizewright.findings import Finding
from sizewright.model import (
    ChainPart,
    PairedNotch,
    Pattern,
    Piece,
    Seam,
    counts_backward,
    faces,
    format_quantity,
    match_seam,
)
from sizewright.plugin import (
    Operation,
    Outcome,
    Setting,
    Values,
    hookimpl,
    line_settings,
    piece_settings,
    pieces_asked,
)

if TYPE_CHECKING:
    from sizewright.drafting import LineAsked, Ring, Settled

api = 1

#: A notch stands at least this far from the end of a seam, mm.
_FROM_END = 10.0


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `style-line`."""
    return [
        Operation(
            "style-line",
            "cut a piece in two along a line, and declare the seam",
            cut,
            (
                *piece_settings("cut"),
                *line_settings(),
                Setting(
                    "parts",
                    "text",
                    "each part that is kept, and a point that lies on it",
                    required=True,
                    shape="table",
                ),
                Setting(
                    "seam", "text", "the name of the seam and of both edges; else the first part's"
                ),
                Setting(
                    "notches",
                    "length",
                    "how far apart the notches on the seam stand; 0 for none",
                    "20 cm",
                    low=0,
                ),
            ),
            before_grading=True,
        )
    ]


def cut(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its pieces cut, each new seam declared and notched."""
    from sizewright.drafting import LineAsked

    names, line = pieces_asked(pattern, values), LineAsked.of(values)
    if not 1 <= len(values["parts"]) <= 2:
        raise UsageError(
            f"a line makes two parts, and {len(values['parts'])} are named",
            cure='Say parts = { yoke = "neck-side", lower = "hem-centre" }; one is dropped '
            "where you name the other alone.",
        )
    findings: list[Finding] = []
    for name in names:
        # Of several pieces each has parts of its own.
        own = f"{name}-" if len(names) > 1 else ""
        parts = {own + part: point for part, point in values["parts"].items()}
        seam = values["seam"] or next(iter(values["parts"]))
        pattern, found = _cut(pattern, name, line, parts, seam, own + seam, values["notches"])
        findings += found
    return Outcome(pattern, tuple(findings))


def _cut(
    pattern: Pattern,
    name: str,
    line: LineAsked,
    parts: Mapping[str, str],
    edge: str,
    seam: str,
    spacing: float,
) -> tuple[Pattern, list[Finding]]:
    from sizewright.drafting import divide, redraft

    old = pattern.piece(name)
    _check_names(pattern, old, parts, edge, seam)
    findings: list[Finding] = []

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
        piece = pieces[name]
        path = line.path(pattern, piece, settled)
        kept = " and ".join(parts)
        step = f"cut from {name} along {edge}: {kept}"
        rings = divide(piece, path, parts, seam=edge, step=step, settled=settled)
        for dart in next(iter(rings.values())).taken:
            text = f"the dart {dart.name} goes into the seam"
            note = Finding("dart-in-seam", "note", text, name, place=seam)
            if note not in findings:
                findings.append(note)
        return rings

    done = redraft(pattern, [name], edit)
    pattern, findings = done.pattern, [*done.findings, *findings]
    for part in parts:
        new = pattern.piece(part)
        if new.pair and not old.pair:
            text = "it no longer lies on the fold, so it is cut as a pair: "
            text += format_quantity(new.quantity) or "one of each side"
            findings.append(Finding("now-a-pair", "note", text, part))
    if len(parts) == 2:
        count = 2 if faces(old) == "back" else 1
        pattern = _sewn(pattern, tuple(parts), edge, seam, spacing, count)
    return pattern, findings


def _check_names(
    pattern: Pattern, piece: Piece, parts: Mapping[str, str], edge: str, seam: str
) -> None:
    """Raises InputError where a part, the edge or the seam has a name that is taken."""
    for part in parts:
        if part != piece.name and part in pattern.names:
            raise InputError(
                f'there is a piece "{part}" already', cure="Give the part another name."
            )
    piece.refuse_run(edge, "Give the seam another name, with seam.")
    if len(parts) == 2 and any(s.name == seam for s in pattern.seams):
        raise InputError(
            f'there is a seam "{seam}" already', cure="Give this one another name, with seam."
        )


def _sewn(
    pattern: Pattern,
    parts: tuple[str, ...],
    edge: str,
    seam: str,
    spacing: float,
    count: int,
) -> Pattern:
    """With the seam between two parts, and a notch on it at every `spacing` of the base."""
    one, other = (pattern.piece(part) for part in parts)
    one, other = one.base or one, other.base or other
    # Counter-clockwise the edges of both parts run against each other.
    against = counts_backward(one, one.run(edge)) == counts_backward(other, other.run(edge))
    made = Seam(seam, (ChainPart(parts[0], edge),), (ChainPart(parts[1], edge, against),))
    long = match_seam(pattern.bases, made).second.length
    number = math.floor((long - _FROM_END) / spacing) if spacing else 0
    notches = tuple(PairedNotch(k * spacing / long, True, count) for k in range(1, number + 1))
    return replace(pattern, seams=(*pattern.seams, replace(made, notches=notches)))
