"""The seam of an edge that a dart went into as gathers or ease."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from sizewright.drafting import Settled
from sizewright.errors import InputError, SizewrightError
from sizewright.findings import Finding
from sizewright.model import (
    Ease,
    PairedNotch,
    Pattern,
    Place,
    Seam,
    SeamMatch,
    match_seam,
    on_outline,
)
from sizewright.units import both

from .turning import Move

#: Gathers lie so far to each side of the place where nothing else is said, mm.
_BESIDE = 50.0
#: A change of the seam's surplus below this, mm, is none.
_LEAST = 0.01


def fulled(
    before: Pattern, after: Pattern, name: str, move: Move, between: Sequence[Place]
) -> tuple[Pattern, list[Finding]]:
    """The pattern whose seams hold what the edge of `name` got longer, as gather or ease.

    Notches tell where it begins and ends. Findings tell how much it is, and sizes in which it
    is another amount.
    """
    place = Settled().place(before.piece(name), move.to)
    s = on_outline(before.piece(name), move.to, place)
    seams, findings = [], []
    for seam in after.seams:
        was = next((one for one in before.seams if one.name == seam.name), None)
        new = None if was is None else _fuller(before, after, was, seam, name, s, move, between)
        seams.append(new or seam)
        if new is not None and new.ease is not None:
            amount = both(abs(new.ease.amount))
            word = "gathered" if new.ease.kind == "gather" else "eased"
            text = f"its longer side is {word} in by {amount}"
            findings.append(Finding("fuller", "note", text, name, place=seam.name))
    after = replace(after, seams=tuple(seams))
    if not findings:
        findings.append(
            Finding(
                "no-seam",
                "warn",
                f"no seam has the edge at {move.to.text}, so nothing says where it is "
                f"{'gathered' if move.into == 'gather' else 'eased'} in",
                name,
                place=move.to.text,
                cure="Declare the seam first.",
            )
        )
    return after, findings


def _fuller(
    before: Pattern,
    after: Pattern,
    was: Seam,
    seam: Seam,
    name: str,
    s: float,
    move: Move,
    between: Sequence[Place],
) -> Seam | None:
    """The seam with what its edge got longer; None where it has not that place."""
    try:
        old, new = match_seam(before, was), match_seam(after, seam)
    except SizewrightError:
        return None  # a broken seam is for the check of seams to tell
    on_first = [*old.first.distances(name, s)]
    on_second = [*old.second.distances(name, s)]
    more = new.surplus - old.surplus
    if not (on_first or on_second) or abs(more) < _LEAST:
        return None
    surplus = old.wanted + more
    kind: Literal["ease", "gather"] = "gather" if move.into == "gather" else "ease"
    piece = before.piece(name)
    own = old.first if on_first else old.second
    here = (on_first or on_second)[0]
    ends = [here - _BESIDE, here + _BESIDE]
    if between:
        places = (on_outline(piece, p, Settled().place(piece, p)) for p in between)
        found = [next(own.distances(name, at), None) for at in places]
        if None in found:
            raise InputError(
                f'"{between[found.index(None)].text}" does not lie on the edge of the seam',
                where=f'seam "{seam.name}"',
                cure="Say two places on the edge that is gathered.",
            )
        ends = [float(d) for d in found if d is not None]
    ends = [min(max(d, 0.0), own.length) for d in sorted(ends)]
    other = [old.to_second(d) if on_first else old.to_first(d) for d in ends]
    if surplus < 0:
        seam = _turned(seam, old)
    # Notches count along the side that is not gathered.
    along = other if (surplus < 0) != bool(on_first) else ends
    alone = len(on_first or on_second) == 1
    names = [f"{move.dart}-{word}" for word in ("from", "to")]
    notches = [PairedNotch(d, name=n) for d, n in zip(along, names, strict=True)] if alone else []
    kept = [n for n in seam.notches if n.name not in names]
    ease = Ease(abs(surplus), False, kind, (names[0], names[1]) if alone else None)
    return replace(seam, ease=ease, notches=(*kept, *notches))


def _turned(seam: Seam, old: SeamMatch) -> Seam:
    """The seam with its sides changed, the notches where they were."""
    notches = tuple(
        replace(n, along=old.to_first(old.notch_place(n)), share=False) for n in seam.notches
    )
    return replace(seam.turned(), notches=notches)
