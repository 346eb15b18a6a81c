"""States that one side of a seam is eased or gathered in, and between which notches."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from sizewright.errors import InputError, LookupFailed
from sizewright.findings import Finding
from sizewright.model import (
    ChainPart,
    ChainWalk,
    Ease,
    PairedNotch,
    Pattern,
    Place,
    Seam,
    SeamMatch,
    find_place,
    format_chain,
    match_seam,
    place_seam_notches,
)
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl
from sizewright.units import both, parse_length, parse_share

api = 1

#: How deep the notches are cut until the operation `notches` says otherwise, mm.
_DEPTH = 5.0
#: A place that lies within this of one distance in all sizes is said by that distance, mm.
_SAME = 0.01


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `seam-ease`."""
    return [
        Operation(
            "seam-ease",
            "state that one side of a seam is eased or gathered in by so much",
            state,
            (
                Setting("seam", "text", "the seam", required=True),
                Setting(
                    "side", "text", "the side that is longer, as front:shoulder (else the first)"
                ),
                Setting("kind", "choice", "how", "ease", choices=("ease", "gather")),
                Setting(
                    "amount",
                    "text",
                    'by how much: a length, as "1 in", or a share of the other side, as "50%"',
                    required=True,
                ),
                Setting(
                    "between",
                    "place",
                    "where on that side it begins and ends (places, or notches of the seam): there "
                    "a notch is put on both sides",
                    (),
                    shape="list",
                ),
            ),
            before_grading=True,
        )
    ]


def state(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the seam's ease, and a note of what its other side is to become."""
    old = next((seam for seam in pattern.seams if seam.name == values["seam"]), None)
    if old is None:
        known = ", ".join(seam.name for seam in pattern.seams) or "none"
        raise LookupFailed(f'no seam is named "{values["seam"]}"', cure=f"Seams: {known}.")
    where = f'seam "{old.name}"'
    size = pattern.base_size if pattern.base_size in pattern.sizes else None
    size = size or next(iter(pattern.sizes), None)
    seam = replace(_with_side_first(pattern, old, values["side"], size), ease=None)
    amount, share = _amount(values["amount"], where)
    match = match_seam(pattern, seam, size)
    gain = amount * match.first.length / (1.0 + amount) if share else amount
    if gain >= match.first.length:
        raise InputError(
            f"{format_chain(seam.first)} is only {both(match.first.length)} long",
            where=where,
            cure="Take less: what is left must be sewn to the other side.",
        )
    ease = Ease(amount, share, values["kind"])
    placed: tuple[PairedNotch, ...] = ()
    if values["between"]:
        seam, ease, placed = _between(pattern, seam, ease, gain, values["between"], size)
    seam = replace(seam, ease=ease)
    after = replace(pattern, seams=tuple(seam if s is old else s for s in pattern.seams))
    if placed:
        only = replace(after, seams=(replace(seam, notches=placed, ease=None),))
        after = replace(place_seam_notches(only, depth=_DEPTH), seams=after.seams)
    return Outcome(after, (_told(after, old, seam, size),))


def _with_side_first(pattern: Pattern, seam: Seam, side: str | None, size: str | None) -> Seam:
    """The seam with the named side as its first one; its notches stay where they are."""
    if side is None:
        return seam
    words = side.replace(" ", "")

    def has(chain: tuple[ChainPart, ...]) -> bool:
        names = {format_chain(chain).replace(" ", "")}
        for part in chain:
            names |= {f"{part.piece}:{part.run}".replace(" ", ""), part.piece.replace(" ", "")}
        return words in names

    first, second = has(seam.first), has(seam.second)
    if first == second:
        raise LookupFailed(
            f'"{side}" is {"on both sides" if first else "on neither side"} of it',
            where=f'seam "{seam.name}"',
            cure=f"Write {format_chain(seam.first)} or {format_chain(seam.second)}.",
        )
    if first:
        return seam
    match = match_seam(pattern, seam, size)
    notches = []
    for notch in seam.notches:
        there = match.notch_place(notch)
        at = match.to_first(there)
        if abs(at - there) >= _SAME:
            along = at / match.first.length if notch.share else at
            notch = replace(notch, along=along)
        notches.append(notch)
    return replace(seam, first=seam.second, second=seam.first, notches=tuple(notches))


def _amount(text: str, where: str) -> tuple[float, bool]:
    share = bool(re.fullmatch(r"\s*[\d.]+\s*%\s*|\s*\d+\s*/\s*\d+\s*", text))
    try:
        amount = parse_share(text) if share else parse_length(text)
    except InputError as error:
        raise error.at("amount").at(where) from None
    if amount <= 0:
        raise InputError(
            f"{text} is no amount to ease or gather in",
            where=where,
            cure="Name the longer side as side, and a positive amount.",
        )
    return amount, share


def _between(
    pattern: Pattern,
    seam: Seam,
    ease: Ease,
    gain: float,
    places: Sequence[Place],
    size: str | None,
) -> tuple[Seam, Ease, tuple[PairedNotch, ...]]:
    """The seam with notches where the ease begins and ends, the ease between them, and those
    of the notches that are new."""
    where = f'seam "{seam.name}"'
    if len(places) != 2:
        raise InputError(
            f"between takes two places, not {len(places)}",
            where=where,
            cure='Write it like between = ["1/4 along shoulder", "3/4 along shoulder"].',
        )
    sizes: Sequence[str | None] = pattern.sizes or (None,)
    named = {notch.name: notch for notch in seam.notches if notch.name}
    matches = {s: match_seam(pattern, seam, s) for s in sizes}
    here = matches[size]
    at = [
        here.to_first(here.notch_place(named[place.text]))
        if place.text in named
        else _along(here.first, place, where)
        for place in places
    ]
    if at[0] > at[1]:
        at, places = at[::-1], places[::-1]
    if at[1] - at[0] <= gain:
        raise InputError(
            f"only {both(at[1] - at[0])} lie between its ends, and {both(gain)} are to go",
            where=where,
            cure="Set them further apart, or take less.",
        )
    names, new = [], []
    for place, along, less, end in zip(places, at, (0.0, gain), ("begins", "ends"), strict=True):
        if place.text in named:
            names.append(place.text)
            continue
        alike = all(abs(_along(m.first, place, where) - along) < _SAME for m in matches.values())
        share = len(sizes) > 1 and not alike
        there = along - less
        whole = here.first.length - gain
        name = "-".join(f"{seam.name} {ease.kind} {end}".split())
        new.append(PairedNotch(there / whole if share else there, share, 1, name))
        names.append(name)
    kept = tuple(n for n in seam.notches if n.name not in {one.name for one in new})
    seam = replace(seam, notches=(*kept, *new))
    return seam, replace(ease, between=(names[0], names[1])), tuple(new)


def _along(chain: ChainWalk, place: Place, where: str) -> float:
    """How far along a chain a place lies, mm from its start."""
    done = 0.0
    for step in chain.steps:
        piece = step.walk.piece
        if place.piece in (None, piece.name):
            try:
                s = find_place(piece, place)
            except LookupFailed:
                s = None
            along = None if s is None else step.walk.distance(s)
            if along is not None:
                return done + (step.walk.length - along if step.part.reverse else along)
        done += step.length
    raise LookupFailed(
        f'"{place.text}" does not lie on the side that is eased in',
        where=where,
        cure="Take places on " + " or ".join(f"{s.part.piece}:{s.part.run}" for s in chain.steps),
    )


def _told(pattern: Pattern, old: Seam, seam: Seam, size: str | None) -> Finding:
    match: SeamMatch = match_seam(pattern, seam, size)
    held = f"{format_chain(seam.first)} is {'gathered' if _gathers(seam) else 'eased'} in"
    text = f"{held} by {both(match.wanted)}"
    if old.ease is not None:
        text += f", no longer {format_chain(old.first)} by what the seam said before"
    if match.misfit():
        way = "shorter" if match.off < 0 else "longer"
        text += f"; {format_chain(seam.second)} is to become {both(abs(match.off))} {way} for it"
    cure = "true-edge brings it to that." if match.misfit() else ""
    return seam.finding("ease-stated", "note", text, cure=cure)


def _gathers(seam: Seam) -> bool:
    return seam.ease is not None and seam.ease.kind == "gather"
