"""Drafts a band for the edges that it finishes: a waistband, cuff, strap or placket."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding
from sizewright.geometry import Path
from sizewright.model import (
    FOLD_LINE,
    Amount,
    ChainPart,
    Fold,
    Mark,
    Notch,
    Pattern,
    Piece,
    Quantity,
    RunReference,
    Seam,
    closes_round,
    faces,
    format_chain,
    onward,
    parse_chain,
    walk_chain,
)
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl
from sizewright.units import both, format_length

from ..openings import OVER

api = 1

#: How deep notches are until the operation `notches` says otherwise, mm.
_DEPTH = 5.0
#: Ends that lean by more than so many times their height are probably not meant.
_LEANS = 1.0
#: How often each run is sewn.
_Often = Counter[tuple[str, str]]


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `band`."""
    return [
        Operation(
            "band",
            "draft a band as long as the edges that it finishes",
            draft,
            (
                Setting(
                    "for",
                    "text",
                    "the edges along its lower edge, from the middle to the opening, as "
                    '"front:waist + back:waist"',
                ),
                Setting("length", "length", "its finished length, without edges", by_size=True),
                Setting("for-upper", "text", "the edges along its upper edge, in the same order"),
                Setting("height", "length", "its finished height", required=True, low=1),
                Setting("name", "text", "what to call it", "band"),
                Setting("on-fold", "flag", "draft half of it, to cut on the fold", False),
                Setting(
                    "doubled", "flag", "cut double, folded lengthwise at its upper edge", False
                ),
                Setting("overlap", "length", "how far one end laps over", "0 mm", low=0),
                Setting("underlap", "length", "how far the other end goes under", "0 mm", low=0),
                OVER,
                Setting(
                    "slant",
                    "length",
                    "how far the upper corner of each end lies nearer the middle",
                    "0 mm",
                ),
                Setting(
                    "shaped",
                    "flag",
                    "follow the curve of the edges: the upper edge is shorter; with a slant or "
                    "for-upper, part of a ring",
                    False,
                ),
                Setting("cut", "count", "how many to cut", 1, low=1),
            ),
            before_grading=True,
        )
    ]


class _Half(NamedTuple):
    """Half a band in one size: from its middle to its opening, mm.

    `stations` are where seams fall between, from the middle.
    """

    lower: float
    upper: float
    stations: tuple[float, ...]
    goes_round: bool = False


def draft(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with a band, its seam with the edges, and notches where they meet."""
    from sizewright.drafting import with_drafted

    chain = parse_chain(values["for"]) if values["for"] else ()
    upper = parse_chain(values["for-upper"]) if values["for-upper"] else ()
    _check(values, chain, upper)
    name = values["name"]
    if values["on-fold"] and values["overlap"] != values["underlap"]:
        raise InputError(
            "a band on the fold has both ends alike, and these lap differently",
            where=name,
            cure="Leave on-fold out, or let overlap and underlap be the same.",
        )

    def make(size: str | None) -> list[Piece]:
        half = _half(pattern, size, chain, upper, values["length"], values["slant"])
        return [_piece(pattern, size, half, values, chain)]

    if values["shaped"] and not _is_ring(values) and not _halves(pattern, chain):
        raise InputError(
            "a shaped band is told by the edges of one half of the body",
            where=name,
            cure="Name halves on the fold or pairs, each once, from the middle to the opening.",
        )

    seams = []
    for words, parts, edge in (("lower", chain, "lower"), ("upper", upper, "upper")):
        if parts and not (words == "upper" and values["doubled"]):
            seams.append(_seam(pattern, name, edge, parts, on_fold=values["on-fold"]))
    lies = _lies(pattern, chain), _lies(pattern, upper)
    joined = {seam.name: _left(seam, *lies) for seam in pattern.seams if _joins(seam, *lies)}
    left = (joined.get(seam.name, seam) for seam in pattern.seams)
    kept = tuple(seam for seam in left if seam is not None)
    after = with_drafted(replace(pattern, seams=kept), make, seams)
    along = tuple(RunReference(p.piece, p.run) for p in (*chain, *upper))
    findings = [
        _told_of(seam, name, stays=joined[seam.name] is seam)
        for seam in pattern.seams
        if seam.name in joined
    ]
    half = _half(pattern, None, chain, upper, values["length"], values["slant"])
    findings += _odd(half, values)
    if values["cut"] == 1 and _round(pattern, chain):
        findings.append(_cut_once(name, chain))
    return Outcome(after, tuple(findings), (name,), along)


def _odd(half: _Half, values: Values) -> Iterator[Finding]:
    """Findings where a band laps further than to its middle, or its ends lie rather than stand."""
    name, height = values["name"], values["height"]
    for word in ("overlap", "underlap"):
        if values[word] > half.lower:
            yield Finding(
                "band-laps",
                "warn",
                f"an {word} of {both(values[word])} goes past the middle of a band "
                f"{both(2 * half.lower)} long",
                name,
                cure=f"Take a smaller {word}; 2 to 5 cm are usual.",
            )
    leans = abs(half.lower - half.upper)
    if leans > _LEANS * height:
        yield Finding(
            "band-leans",
            "warn",
            f"its ends lean by {both(leans)} over a height of {both(height)}",
            name,
            cure="Look whether for and for-upper name edges that lie over each other, or take a "
            "smaller slant.",
        )


def _cut_once(name: str, chain: tuple[ChainPart, ...]) -> Finding:
    """A band that goes round one arm or leg, and is cut for one only."""
    return Finding(
        "band-once",
        "warn",
        f"it goes round {format_chain(chain)}, which the body has twice, and is cut once",
        name,
        cure="Say cut = 2.",
    )


def _told_of(seam: Seam, name: str, *, stays: bool) -> Finding:
    """What became of a seam between the edges below a band and those above it."""
    if not stays:
        text = f"its edges were sewn to each other; {name} lies between them now"
        return Finding("band-between", "note", text, place=seam.name)
    return Finding(
        "band-in-part",
        "warn",
        f"{name} lies along a part of it only, and its edges are still sewn to each other",
        place=seam.name,
        cure=f"Let for and for-upper name all of it: {format_chain(seam.first)}, and "
        f"{format_chain(seam.second)}.",
    )


def _lies(pattern: Pattern, chain: Sequence[ChainPart]) -> _Often:
    """How often a band lies along each run: on both halves where its chain tells one."""
    often = _often(chain)
    return often + often if _halves(pattern, chain) else often


def _joins(seam: Seam, lower: _Often, upper: _Often) -> bool:
    """Whether a seam joins an edge below the band to one above it."""
    first, second = _often(seam.first), _often(seam.second)
    return bool(first & lower and second & upper) or bool(first & upper and second & lower)


def _left(seam: Seam, lower: _Often, upper: _Often) -> Seam | None:
    """What is left of a seam where a band lies between some of its parts; None where that is
    nothing, the seam itself where its parts cannot be told apart."""
    for one, other in ((lower, upper), (upper, lower)):
        first, second = _but(seam.first, one), _but(seam.second, other)
        if not first and not second:
            return None
        fewer = len(first) < len(seam.first) and len(second) < len(seam.second)
        if first and second and fewer and seam.ease is None and not seam.notches:
            return replace(seam, first=first, second=second)
    return seam


def _but(chain: Sequence[ChainPart], lies: _Often) -> tuple[ChainPart, ...]:
    """The parts of a chain that a band does not lie along as often as they are sewn."""
    often = _often(chain)
    return tuple(p for p in chain if lies[p.piece, p.run] < often[p.piece, p.run])


def _often(chain: Sequence[ChainPart]) -> _Often:
    found = _Often()
    for part in chain:
        found[part.piece, part.run] += part.count
    return found


def _check(values: Values, chain: Sequence[ChainPart], upper: Sequence[ChainPart]) -> None:
    if bool(chain) == (values["length"] is not None):
        raise InputError(
            "a band is as long as its edges or as it is told, and needs one of both",
            cure='Say for = "front:waist + back:waist", or length = "70 cm".',
        )
    if values["shaped"] and (values["doubled"] or not (chain or _is_ring(values))):
        raise InputError(
            "a shaped band has the curve of its lower edges or of its slant, and no fold",
            cure="Say for, slant or for-upper, and leave doubled out.",
        )
    for part in (*chain, *upper):
        if [(p.piece, p.run) for p in (*chain, *upper)].count((part.piece, part.run)) > 1:
            raise InputError(
                f"{part.piece}:{part.run} is named twice",
                cure=f"Name it once; 2 x {part.piece}:{part.run} says both halves.",
            )
    if upper and values["slant"]:
        raise InputError("the upper edges tell the slant", cure="Leave slant out, or for-upper.")
    if upper and values["doubled"]:
        raise InputError(
            "a doubled band is folded at its upper edge, and nothing is sewn there",
            cure="Leave doubled out, or for-upper.",
        )


def _sewn(pattern: Pattern, chain: Sequence[ChainPart], size: str | None) -> list[float]:
    """The length of each part of a chain as it is sewn, mm: what is gathered into another edge
    counts as long as that."""
    found = []
    for part in chain:
        length = walk_chain(pattern, (part,), size).length
        for seam in pattern.seams:
            ease = seam.ease
            if ease is None or ease.kind != "gather":
                continue
            own = [p for p in seam.first if (p.piece, p.run) == (part.piece, part.run)]
            if own:
                first = walk_chain(pattern, seam.first, size).length
                gathered = first / (1 + ease.amount) if ease.share else first - ease.amount
                length *= gathered / first
        found.append(length)
    return found


def _half(
    pattern: Pattern,
    size: str | None,
    chain: Sequence[ChainPart],
    upper: Sequence[ChainPart],
    length: Amount | None,
    slant: float,
) -> _Half:
    if length is not None:
        half = length.in_size(pattern, size) / 2
        return _Half(half, half - slant, ())
    parts = _sewn(pattern, chain, size)
    share = 1.0 if _halves(pattern, chain) else 0.5
    lower = share * sum(parts)
    stations = tuple(share * sum(parts[: k + 1]) for k in range(len(parts) - 1))
    if goes_round := _round(pattern, chain):
        stations = tuple(2 * at - lower for at in stations)
    if not upper:
        return _Half(lower, lower - slant, stations, goes_round)
    both_shares = 1.0 if _halves(pattern, upper) else 0.5
    above = both_shares * sum(_sewn(pattern, upper, size))
    return _Half(lower, above, stations, goes_round)


def _halves(pattern: Pattern, chain: Sequence[ChainPart]) -> bool:
    """Whether a chain says one half of the body: each part is of a half or a pair, once, and
    they do not close round it, as a sleeve's hem round an arm."""

    def half(part: ChainPart) -> bool:
        piece = pattern.piece(part.piece)
        return part.count == 1 and piece.times == 2

    return all(half(part) for part in chain) and not _round(pattern, chain)


def _round(pattern: Pattern, chain: Sequence[ChainPart]) -> bool:
    """Whether a chain goes round one of two: an arm, a leg, an armhole."""
    once = all(part.count == 1 for part in chain)
    return bool(chain) and once and closes_round(pattern, chain)


def _piece(
    pattern: Pattern,
    size: str | None,
    half: _Half,
    values: Values,
    chain: Sequence[ChainPart],
) -> Piece:
    from sizewright.drafting import drafted_piece, lengthwise_grain

    name, height = values["name"], values["height"]
    if half.upper <= 0:
        raise GeometryError(
            f"a slant of {format_length(values['slant'])} leaves nothing of its upper edge",
            where=name,
            cure="Take a smaller slant.",
        )
    tall = 2 * height if values["doubled"] else height
    right = values["overlap"], values["underlap"]
    if _mirrored(pattern, chain) == (values["over"] == "right"):
        right = right[::-1]
    right_lap, left_lap = right
    # The right half, from the middle; laps go straight on, square to the end's lower corner.
    edge = [("lower", half.lower + right_lap, 0.0), ("upper", half.upper + right_lap, height)]
    if values["doubled"]:
        edge.append(("inner", half.lower + right_lap, tall))
    corners = [(f"{word}-right", (x, y)) for word, x, y in edge]
    # An upper edge that is sewn stops where the lower one does; its laps lie free.
    sewn_above = bool(values["for-upper"])
    top_right, top_left = sewn_above and right_lap > 0, sewn_above and left_lap > 0
    if right_lap:
        corners = [("end-right", (half.lower, 0.0)), *corners]
    if top_right:
        corners.append(("upper-end-right", (half.upper, height)))
    if values["on-fold"]:
        corners = [("lower-middle", (0.0, 0.0)), *corners]
        corners.append(("inner-middle" if values["doubled"] else "upper-middle", (0.0, tall)))
    else:
        shift = right_lap - left_lap
        if top_left:
            corners.append(("upper-end-left", (-half.upper, height)))
        corners += [(f"{w}-left", (-(x - shift), y)) for w, x, y in edge[::-1]]
        if left_lap:
            corners.append(("end-left", (-half.lower, 0.0)))
    ends = [word for word, _ in corners]
    top = "inner" if values["doubled"] else "upper"
    first = "end-left" if left_lap else "lower-left"
    first = "lower-middle" if values["on-fold"] else first
    last = f"{top}-middle" if values["on-fold"] else f"{top}-left"
    sewn_end = "end-right" if right_lap else "lower-right"
    runs = {
        "lower": (first, sewn_end),
        "end": ("lower-right", f"{top}-right"),
        top: (
            "upper-end-right" if top_right else f"{top}-right",
            "upper-end-left" if top_left and not values["on-fold"] else last,
        ),
    }
    if not values["on-fold"]:
        runs["start"] = (last, "lower-left")
    said = f"a band of {both(2 * half.lower)}" + (
        ", half of it on the fold" if values["on-fold"] else ""
    )
    piece = drafted_piece(
        name,
        size,
        corners,
        runs,
        f"drafted as {said}" + (f" for {values['for']}" if values["for"] else ""),
        quantity=(Quantity("main", values["cut"]), Quantity("interfacing", values["cut"])),
    )
    box = piece.bounds
    if values["shaped"]:
        from .shaped import laid_half, level_room, parallel_edges, ring_edges, shaped_outline

        edges = (
            ring_edges(half.lower, half.upper, height)
            if _is_ring(values)
            else parallel_edges(laid_half(pattern, chain, size), height, half.lower, name)
        )
        outline = shaped_outline(
            edges, (right_lap, left_lap), on_fold=values["on-fold"], sewn_above=sewn_above
        )
        piece = replace(piece, outline=outline)
        ends = [*range(len(outline.path))]
        box = level_room(outline, height)
    piece = replace(piece, grain=lengthwise_grain(box))
    if values["on-fold"]:
        piece = replace(piece, fold=Fold(len(ends) - 1, 0))
    if values["doubled"]:
        reach = 0.0 if values["on-fold"] else -(half.upper + left_lap)
        line = Path.polyline([(reach, height), (half.upper + right_lap, height)])
        piece = replace(piece, marks=(Mark(line, FOLD_LINE, "fold-line"),))
    return replace(
        piece, notches=tuple(_notches(piece, half, values["on-fold"], right_lap, left_lap))
    )


def _is_ring(values: Values) -> bool:
    """Whether the curve of a shaped band is told by its slant, not by its lower edges."""
    return bool(values["for-upper"] or values["slant"])


def _mirrored(pattern: Pattern, chain: Sequence[ChainPart]) -> bool:
    """Whether the right end of the band as drawn is the wearer's left: its middle is in front."""
    if not chain:
        return True
    return faces(pattern.piece(chain[0].piece)) != "back"


def _notches(
    piece: Piece, half: _Half, on_fold: bool, right_lap: float, left_lap: float
) -> Iterator[Notch]:
    """Notches of the lower edge: a double one in the middle, one at each seam, one at each end
    that laps."""
    outline = piece.outline
    run = outline.run("lower")
    start = float(outline.path.cumulative[run.start])
    middle = 0.0 if on_fold else half.lower

    def at(along: float, name: str, count: int = 1) -> Notch:
        spot = outline.spot((start + along) % outline.path.length)
        return Notch(spot, "slit", _DEPTH, count, name)

    if not on_fold:
        yield at(middle, "middle", 2)
    for k, station in enumerate(() if on_fold and half.goes_round else half.stations, 1):
        yield at(middle + station, f"seam-{k}")
        if not on_fold and not half.goes_round:
            yield at(middle - station, f"seam-{k}-left")
    if right_lap:
        yield at(middle + half.lower, "end-right")
    if left_lap and not on_fold:
        yield at(middle - half.lower, "end-left")


def _seam(
    pattern: Pattern, name: str, edge: str, chain: Sequence[ChainPart], *, on_fold: bool
) -> Seam:
    """The seam of the band with its edges."""
    own = (ChainPart(name, edge, count=1),)
    chain = onward(pattern, chain)
    halves = _halves(pattern, chain)
    if halves and not on_fold:
        back = tuple(replace(p, reverse=not p.reverse) for p in tuple(chain)[::-1])
        chain = (*back, *chain)
    elif on_fold and not halves:
        own = (ChainPart(name, edge, count=2),)
    return Seam(f"{name}-{edge}", own, tuple(chain))
