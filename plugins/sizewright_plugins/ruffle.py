"""Drafts ruffles for an edge: straight ones to be gathered, in tiers, or circular."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding
from sizewright.geometry import Path, circular_arc
from sizewright.model import (
    ChainPart,
    Ease,
    Outline,
    Pattern,
    Piece,
    Point,
    Quantity,
    Run,
    RunReference,
    Seam,
    onward,
    parse_chain,
    walk_chain,
)
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl
from sizewright.units import both

api = 1

#: A tier less deep cannot be sewn, nor an inner edge of less radius, mm.
_DEPTH = 5.0
_TIGHT = 10.0
#: How many times as long as its edge a straight ruffle is cut: common practice, no source.
_RATIO = 2.0


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `ruffle`."""
    return [
        Operation(
            "ruffle",
            "draft a ruffle for an edge, straight, tiered or circular",
            draft,
            (
                Setting("for", "text", 'the edges that it is sewn to, as "front:hem + back:hem"'),
                Setting("length", "length", "the length that it is sewn to", by_size=True, low=1),
                Setting("depth", "length", "how deep it is, in all", required=True, low=_DEPTH),
                Setting(
                    "ratio",
                    "text",
                    "how many times as long as its edge it is cut: 2 for a straight one, 1 for a "
                    "circular one unless said",
                ),
                Setting(
                    "shape",
                    "choice",
                    "straight, or a ring whose inner edge is sewn",
                    "straight",
                    choices=("straight", "circle"),
                ),
                Setting("tiers", "count", "how many tiers a straight one has", 1, low=1, high=12),
                Setting(
                    "circles",
                    "count",
                    "how many full circles a circular one makes; without it one",
                    low=1,
                ),
                Setting(
                    "cloth-width",
                    "length",
                    "the width of the cloth: a straight one is cut in parts of it, a circular one "
                    "in sectors that lie on it",
                    low=10,
                ),
                Setting("seam", "length", "what each join loses", "1 cm", low=0),
                Setting("name", "text", "what to call it", "ruffle"),
            ),
            before_grading=True,
        )
    ]


def draft(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the ruffle, its seam with the edges, and what is to be said of it."""
    from sizewright.drafting import with_drafted

    name = values["name"]
    if bool(values["for"]) == (values["length"] is not None):
        raise InputError(
            "a ruffle is for edges, or for a length, and needs one of both",
            where=name,
            cure='Say for = "front:hem + back:hem", or length = "1.2 m".',
        )
    chain = parse_chain(values["for"]) if values["for"] else ()
    ratio = _ratio(values)
    along = tuple(RunReference(p.piece, p.run) for p in chain)
    if values["shape"] == "circle":
        if values["tiers"] != 1:
            raise InputError("a circular ruffle has no tiers", where=name, cure="Leave tiers out.")
        return _circular(pattern, values, chain, ratio, along)
    if values["circles"] is not None:
        raise InputError(
            "a straight ruffle makes no circles",
            where=name,
            cure='Leave circles out, or say shape = "circle".',
        )
    findings: list[Finding] = []
    tiers = values["tiers"]
    if values["depth"] / tiers < _DEPTH:
        raise InputError(
            f"a depth of {both(values['depth'])} makes {tiers} tiers of only "
            f"{both(values['depth'] / tiers)} each",
            where=name,
            cure="Take fewer tiers, or more depth.",
        )
    names = [name] if tiers == 1 else [f"{name}-{k}" for k in range(1, tiers + 1)]

    def make(size: str | None) -> list[Piece]:
        edge = _edge(pattern, size, values, chain)
        made = []
        for k, own in enumerate(names, 1):
            long = edge * ratio**k
            findings.extend(_parts(own, size, long, values))
            made.append(_straight(own, size, long, values["depth"] / tiers, ratio))
        return made

    gather = Ease(ratio - 1.0, True, "gather") if ratio > 1 else None
    seams = []
    if chain:
        own = (ChainPart(names[0], "edge"),)
        seams.append(Seam(f"{name}-edge", own, onward(pattern, chain), gather))
    for upper, lower in pairwise(names):
        first, second = (ChainPart(lower, "edge"),), (ChainPart(upper, "hem", reverse=True),)
        seams.append(Seam(f"{lower}-edge", first, second, gather))
    after = with_drafted(pattern, make, seams)
    return Outcome(after, tuple(findings), tuple(names), along)


def _ratio(values: Values) -> float:
    if values["ratio"] is None:
        return 1.0 if values["shape"] == "circle" else _RATIO
    try:
        ratio = float(str(values["ratio"]).replace(",", "."))
    except ValueError:
        ratio = math.nan
    if not 1.0 <= ratio <= 10.0:
        raise InputError(
            f'"{values["ratio"]}" is no ratio of a ruffle to its edge',
            where=values["name"],
            cure="Write a number from 1 to 10, as 1.5.",
        )
    return ratio


def _edge(pattern: Pattern, size: str | None, values: Values, chain: Sequence[ChainPart]) -> float:
    """The length that the ruffle is sewn to, as its edges are sewn, mm."""
    if chain:
        return walk_chain(pattern, chain, size).length
    return float(values["length"].in_size(pattern, size))


def _straight(name: str, size: str | None, long: float, depth: float, ratio: float) -> Piece:
    from sizewright.drafting import drafted_piece, lengthwise_grain

    corners = [
        ("hem-start", (0.0, 0.0)),
        ("hem-end", (long, 0.0)),
        ("edge-start", (long, depth)),
        ("edge-end", (0.0, depth)),
    ]
    return drafted_piece(
        name,
        size,
        corners,
        {
            "hem": ("hem-start", "hem-end"),
            "join-end": ("hem-end", "edge-start"),
            "edge": ("edge-start", "edge-end"),
            "join-start": ("edge-end", "hem-start"),
        },
        f"drafted {both(long)} long, {ratio:g} times its edge",
        quantity=(Quantity("main", 1),),
        grain=lengthwise_grain((0.0, 0.0, long, depth), 90.0),
    )


def _parts(name: str, size: str | None, long: float, values: Values) -> list[Finding]:
    width = values["cloth-width"]
    if width is None or long <= width:
        return []
    each = width - 2 * values["seam"]
    if each <= 0:
        raise GeometryError(
            "the cloth is narrower than the seams", where=name, cure="Say a wider cloth-width."
        )
    parts = math.ceil((long - 2 * values["seam"]) / each)
    text = f"across cloth {both(width)} wide it is cut in {parts} parts, joined {parts - 1} times"
    return [Finding("joins", "note", text, name, size or "")]


# --- circular -------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Sectors:
    """A circular ruffle: the radius of its inner edge, mm, and its equal sectors."""

    radius: float
    angle: float
    count: int


def _sectors(edge: float, depth: float, circles: int, width: float | None, name: str) -> _Sectors:
    """Sectors of at most half a circle that lie on the cloth.

    The inner edges together are `edge` long: their radius is that over the whole angle.
    """
    whole = 2 * math.pi * circles
    radius = edge / whole
    outer = radius + depth
    most = math.pi
    if width is not None and 2 * outer > width:
        if outer * 0.1 > width or depth > width:
            raise GeometryError(
                f"no sector {both(outer)} across lies on cloth {both(width)} wide",
                where=name,
                cure="Take wider cloth, less depth, or more circles.",
            )
        # The chord of the outer arc, or the depth that it takes, must fit.
        most = min(math.pi, 2 * math.asin(min(width / (2 * outer), 1.0)))
    count = math.ceil(whole / most - 1e-9)
    return _Sectors(radius, whole / count, count)


def _circular(
    pattern: Pattern,
    values: Values,
    chain: Sequence[ChainPart],
    ratio: float,
    along: tuple[RunReference, ...],
) -> Outcome:
    from sizewright.drafting import with_drafted

    name, depth = values["name"], values["depth"]
    findings: list[Finding] = []
    # The number of sectors is settled on the first size, so that all sizes are alike.
    sizes: list[str | None] = [*pattern.sizes] or [None]
    edges = {size: ratio * _edge(pattern, size, values, chain) for size in sizes}
    widest = max(edges.values())
    circles = values["circles"] or 1
    settled = _sectors(widest, depth, circles, values["cloth-width"], name)

    def make(size: str | None) -> list[Piece]:
        radius = edges[size] / (settled.angle * settled.count)
        sector = _Sectors(radius, settled.angle, settled.count)
        findings.extend(_told(name, size, sector, depth, circles))
        return [_sector(name, size, sector, depth)]

    seams = []
    if chain:
        gather = Ease(ratio - 1.0, True, "gather") if ratio > 1 else None
        own = (ChainPart(name, "edge", count=settled.count),)
        seams.append(Seam(f"{name}-edge", own, onward(pattern, chain), gather))
    after = with_drafted(pattern, make, seams)
    return Outcome(after, tuple(findings), (name,), along)


def _sector(name: str, size: str | None, sector: _Sectors, depth: float) -> Piece:
    """A sector of a ring about (0, 0), half to each side of the way up."""
    from sizewright.drafting import lengthwise_grain

    half = math.degrees(sector.angle) / 2
    start, end = 270.0 - half, 270.0 + half
    outer = Path.of(circular_arc((0.0, 0.0), sector.radius + depth, start, end), closed=False)
    inner = Path.of(circular_arc((0.0, 0.0), sector.radius, end, start), closed=False)
    path = Path.join(
        [
            outer,
            Path.polyline([outer.end, inner.start]),
            inner,
            Path.polyline([inner.end, outer.start]),
        ],
        closed=True,
    )
    a, b = len(outer), len(outer) + 1
    c = b + len(inner)
    outline = Outline.of(
        path,
        points=[
            Point(0, "hem-start"),
            Point(a, "hem-end"),
            Point(b, "edge-start"),
            Point(c, "edge-end"),
        ],
        runs=[Run(0, a, "hem"), Run(a, b, "join-end"), Run(b, c, "edge"), Run(c, 0, "join-start")],
    )
    low = -(sector.radius + depth)
    return Piece(
        name,
        outline,
        kind="sew",
        size=size,
        quantity=(Quantity("main", sector.count),),
        grain=lengthwise_grain((-1.0, low, 1.0, low + depth), 90.0),
        story=(f"drafted as a ring of radius {both(sector.radius)}",),
    )


def _told(
    name: str, size: str | None, sector: _Sectors, depth: float, circles: int
) -> Iterator[Finding]:
    area = sector.angle * sector.count * ((sector.radius + depth) ** 2 - sector.radius**2) / 2
    joins = sector.count - 1
    text = (
        f"{circles} full circle{'s' * (circles > 1)} of radius {both(sector.radius)} in "
        f"{sector.count} sectors with {joins} join{'s' * (joins != 1)}: "
        f"{area / 100:.0f} cm2 of cloth"
    )
    yield Finding("ruffle-circle", "note", text, name, size or "")
    if sector.radius < _TIGHT:
        yield Finding(
            "ruffle-tight",
            "warn",
            f"its inner edge has a radius of {both(sector.radius)}, too tight to be sewn",
            name,
            size or "",
            cure="Take fewer circles.",
        )
