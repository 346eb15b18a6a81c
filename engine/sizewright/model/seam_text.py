"""Seams as text, one phrase each, the same in drawings, jobs and messages.

    NAME: CHAIN = CHAIN [, ease|gather AMOUNT [between A and B]] [, notch AT [double|triple]]

A chain is runs joined by `+`: `sleeve:cap = front:armhole + back:armhole, ease 25 mm`.
A run is walked from the end nearer the centre of the body; it may be walked backwards
(`front:waist + -back:waist`) and counted (`2 x front:waist`). The first chain is the
longer one. AMOUNT is a length with its unit or a share (`4%`); a notch stands at a length
from the chain's start or at a share of it (`1/3`, `40%`).
"""

from __future__ import annotations

import re

from ..errors import InputError
from ..units import parse_length, parse_share
from .references import split_reference
from .seams import ChainPart, Ease, PairedNotch, Seam

_PART = re.compile(r"(?P<back>-\s*)?(?:(?P<count>\d{1,6})\s*[x×]\s*)?(?P<run>[^:]+:.+)")
# Blanks are matched in one way only, so that many of them cost no more than a look at each.
_EASE = re.compile(
    r"(?P<kind>ease|gather)\s++(?P<amount>.+?)(?:(?<!\s)\s++between\s+(?P<a>\S+)\s+and\s+(?P<b>\S+))?"
)
_NOTCH = re.compile(
    r"notch(?:\s+\"(?P<name>[^\"]+)\")?\s++(?P<at>.+?)(?:(?<!\s)\s++(?P<n>double|triple))?"
)
_GROUP = {None: 1, "double": 2, "triple": 3}
_GROUP_WORD = {1: "", 2: " double", 3: " triple"}


def parse_seam(text: str) -> Seam:
    """One seam phrase; InputError says which part of it cannot be read and how it should be.

    >>> seam = parse_seam("cap: sleeve:cap = front:armhole + back:armhole, ease 25 mm, notch 1/4")
    >>> seam.name, [str(part) for part in seam.second]
    ('cap', ['front:armhole', 'back:armhole'])
    >>> seam.ease.amount, seam.notches[0].along
    (25.0, 0.25)
    """
    name, colon, rest = text.partition(":")
    clauses = [clause.strip() for clause in rest.split(",")]
    sides = clauses[0].split("=")
    if not colon or not name.strip() or len(sides) != 2:
        raise _bad(text, "a seam is NAME: CHAIN = CHAIN")
    ease: Ease | None = None
    notches: list[PairedNotch] = []
    for clause in clauses[1:]:
        if m := _EASE.fullmatch(clause):
            amount, share = _amount(m["amount"], text)
            between = (m["a"], m["b"]) if m["a"] else None
            kind = "gather" if m["kind"] == "gather" else "ease"
            ease = Ease(amount, share, "gather" if kind == "gather" else "ease", between)
        elif m := _NOTCH.fullmatch(clause):
            along, share = _amount(m["at"], text)
            notches.append(PairedNotch(along, share, _GROUP[m["n"]], m["name"]))
        else:
            raise _bad(text, f'"{clause}" is neither ease, gather nor notch')
    first, second = (_chain(side, text) for side in sides)
    return Seam(name.strip(), first, second, ease, tuple(notches))


def parse_seams(text: str) -> tuple[Seam, ...]:
    """Seam phrases parted by semicolons. Raises InputError as `parse_seam` does."""
    return tuple(parse_seam(part) for part in text.split(";") if part.strip())


def parse_chain(text: str) -> tuple[ChainPart, ...]:
    """Runs joined by `+`.

    >>> parse_chain("2 x front:waist + -back:waist")[1]
    ChainPart(piece='back', run='waist', reverse=True, count=1)
    """
    return _chain(text, text)


def format_seam(seam: Seam) -> str:
    """The phrase that `parse_seam` reads back as the same seam.

    >>> format_seam(parse_seam("side: front:side=back:side, ease 1 cm"))
    'side: front:side = back:side, ease 10 mm'
    """
    text = f"{seam.name}: {format_chain(seam.first)} = {format_chain(seam.second)}"
    if seam.ease:
        text += f", {seam.ease.kind} {_written(seam.ease.amount, seam.ease.share)}"
        if seam.ease.between:
            text += " between {} and {}".format(*seam.ease.between)
    for n in seam.notches:
        named = f' "{n.name}"' if n.name else ""
        text += f", notch{named} {_written(n.along, n.share)}{_GROUP_WORD[n.count]}"
    return text


def format_chain(chain: tuple[ChainPart, ...]) -> str:
    """Runs joined by `+`, as `parse_chain` reads them."""
    return " + ".join(str(part) for part in chain)


def _chain(text: str, whole: str) -> tuple[ChainPart, ...]:
    parts = []
    for piece in text.split("+"):
        m = _PART.fullmatch(piece.strip())
        if not m:
            raise _bad(whole, f'"{piece.strip()}" is no PIECE:RUN')
        if "," in piece:
            raise _bad(whole, 'edges of a chain are joined by "+", not by ","')
        named, run = split_reference(m["run"])
        count = int(m["count"] or 1)
        if count < 1:
            raise _bad(whole, f'"{piece.strip()}" counts nothing')
        parts.append(ChainPart(named or "", run, bool(m["back"]), count))
    return tuple(parts)


def _amount(text: str, whole: str) -> tuple[float, bool]:
    if re.fullmatch(r"[-+]?[\d.]+\s*%|\d+\s*/\s*\d+", text):
        return parse_share(text), True
    try:
        return parse_length(text), False
    except InputError as error:
        raise error.at(f'seam "{whole.strip()[:200]}"') from None


def _written(amount: float, share: bool) -> str:
    return f"{amount * 100:.12g}%" if share else f"{amount:.12g} mm"


def _bad(text: str, why: str) -> InputError:
    return InputError(
        why,
        where=f'seam "{text.strip()[:200]}"',
        cure="Write it like: cap: sleeve:cap = front:armhole + back:armhole, ease 25 mm.",
    )
