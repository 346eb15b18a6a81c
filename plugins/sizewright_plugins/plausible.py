"""Raises an eyebrow at what can be read but hardly be meant, and says what probably was."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from sizewright.errors import SizewrightError
from sizewright.findings import Finding
from sizewright.geometry import Floats, affine, flatten
from sizewright.model import (
    ChainWalk,
    Pattern,
    Piece,
    Run,
    Seam,
    format_seam,
    match_seam,
    run_round,
    ways_round,
)
from sizewright.plugin import Check, Values, hookimpl
from sizewright.units import both

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

api = 1

#: No piece of a garment is larger, and no page to draw one on, mm.
_PIECE, _PAGE = 3000.0, 10_000.0
#: A ruffle, strip or band is no longer, before it is cut in parts, mm.
_DRAFTED = 20_000.0
#: So much may lie outside a piece without a word: of an area in mm2, of a line in mm.
_AREA, _LINE = 1.0, 1.0
_CHORD, _HEAL = 0.05, 1e-4
#: Notches of the two sides of a seam that are further apart do not meet, mm.
_MEET = 3.0
#: Words on a piece that is drawn as a half.
_ON_FOLD = re.compile(r"\b(?:on|to)\s+(?:the\s+)?fold\b", re.IGNORECASE)
#: Folds of pleats that reach no further over each other are let be, mm.
_NEAR = 0.5


@hookimpl
def add_checks() -> list[Check]:
    """The check `plausible`."""
    return [
        Check(
            "plausible",
            "what a foreman would ask about: sizes, pairs, chains, what leaves its piece",
            check_plausible,
            when="reading",
        )
    ]


def check_plausible(pattern: Pattern, _values: Values) -> list[Finding]:
    """Warnings, each with what was probably meant."""
    found = list(_page(pattern))
    for piece in pattern.pieces:
        found += [*_large(piece), *_odd_pair(piece), *_wide_pleats(piece)]
        found += [*_unmarked_fold(piece), *_close_pleats(piece), *_leaving(piece)]
    for seam in pattern.seams:
        try:
            found += [*_turned(pattern, seam), *_lone_notches(pattern, seam)]
        except SizewrightError:
            continue  # a broken seam is for the check of seams to tell
    return found


# --- sizes and numbers ------------------------------------------------------------


def _page(pattern: Pattern) -> Iterator[Finding]:
    if pattern.page and max(pattern.page) > _PAGE:
        yield _too_large("", "", "the page is", max(pattern.page))


def _large(piece: Piece) -> Iterator[Finding]:
    x0, y0, x1, y1 = piece.bounds
    across = max(x1 - x0, y1 - y0)
    if piece.story and piece.story[0].startswith("drafted "):
        if across > _DRAFTED:
            yield piece.finding(
                "too-long",
                "warn",
                f"it was drafted {across / 1000:.3g} m across, more than anybody sews",
                cure="Look at the step that drafts it: its length, ratio, tiers or loops.",
            )
    elif across > _PIECE:
        yield _too_large(piece.name, piece.size or "", "it is", across)


def _too_large(piece: str, size: str, what: str, mm: float) -> Finding:
    meant = mm
    while meant > _PIECE:
        meant /= 10
    return Finding(
        "too-large",
        "warn",
        f"{what} {mm / 1000:.3g} m across",
        piece,
        size,
        cure=f"{both(meant)} was probably meant: look at the drawing's unit (--units).",
    )


def _odd_pair(piece: Piece) -> Iterator[Finding]:
    if not piece.pair:
        return
    for k, quantity in enumerate(piece.quantity):
        n = quantity.count
        # One alone of a second material is common: a single layer of interfacing.
        if n % 2 and (n > 1 or k == 0):
            yield piece.finding(
                "odd-pair",
                "warn",
                f"{n} of {quantity.material} are no pairs, of which half are turned over",
                cure=f'"{quantity.material} {n + 1}" was probably meant, or no pair.',
            )


def _unmarked_fold(piece: Piece) -> Iterator[Finding]:
    """A half as it was drawn, with words that say so and no fold: it would be cut with an
    allowance there, and once."""
    if piece.fold is not None or piece.story or any(m.name == "centre" for m in piece.marks):
        return
    said = next((label.text for label in piece.labels if _ON_FOLD.search(label.text)), None)
    if said is not None:
        yield piece.finding(
            "fold-unmarked",
            "warn",
            f'"{" ".join(said.split())}" is written on it, and none of its edges is a fold',
            cure="Say which it is, by the number that show gives it: fold = 3 under "
            f"[pieces.{piece.name}] of a job; or a line named fold over it in the drawing.",
        )


def _wide_pleats(piece: Piece) -> Iterator[Finding]:
    for pleat in piece.pleats:
        mouth, run = run_round(piece.outline, pleat.a, pleat.b)
        left = run - mouth
        if 2 * mouth >= left > 0:
            yield piece.finding(
                "wide-pleat",
                "warn",
                f"the pleat takes up {both(mouth)}, and {both(left)} is left beside it",
                pleat.name,
                "A narrower mouth was probably meant: look at the two points that it ends at.",
            )


def _close_pleats(piece: Piece) -> Iterator[Finding]:
    """Neighbours of which the folded cloth lies over each other: half of a mouth is folded under,
    of a knife pleat to one side, of a box or inverted pleat half of that to each."""
    outline = piece.outline
    n, corners = len(outline.path), set(outline.corners)
    pleats = sorted(piece.pleats, key=lambda p: p.a % n)
    tight = []
    for one, other in pairwise([*pleats, *pleats[:1]] if len(pleats) > 1 else pleats):
        between = {(one.b + k) % n for k in range(1, (other.a - one.b) % n)}
        room = outline.run_length(Run(one.b, other.a)) if one.b % n != other.a % n else 0.0
        mouths = [run_round(outline, p.a, p.b)[0] for p in (one, other)]
        if not between & corners and room < sum(mouths) / 4 - _NEAR:
            tight.append((room, sum(mouths) / 4, one, other))
    if tight:
        room, folded, one, other = min(tight, key=lambda t: t[0] - t[1])
        yield piece.finding(
            "pleats-close",
            "warn",
            f"the pleats fold {both(folded)} under, and only {both(room)} lie between them, so one "
            "lies over the other",
            f"{one.name} and {other.name}",
            "Take fewer pleats or less depth, unless they are meant to overlap.",
        )


# --- what leaves its piece --------------------------------------------------------


def _leaving(piece: Piece) -> Iterator[Finding]:
    if not (piece.cutouts or piece.drills or piece.marks):
        return
    import shapely

    cloth = _cloth(piece)
    told: list[tuple[str, str | None, Floats, str]] = []
    for cutout in piece.cutouts:
        hole = shapely.Polygon(flatten(cutout.path, _CHORD)).buffer(0)
        area = float(shapely.difference(hole, cloth).area)
        if area > _AREA:
            told.append(
                ("cut-out", cutout.name, cutout.path.vertices[0], f"{area:.0f} mm2 of it lie")
            )
    lines = [("drill hole", drill.name, np.array([drill.at])) for drill in piece.drills]
    lines += [(m.kind or "mark", m.name, flatten(m.path, _CHORD)) for m in piece.marks]
    for what, name, points in lines:
        out = float(shapely.distance(cloth, shapely.points(points)).max())
        if out > _LINE:
            told.append((what, name, points[0], f"up to {both(out)} of it lie"))
    for what, name, (x, y), how in told:
        yield piece.finding(
            "leaves-piece",
            "warn",
            f"the {what} leaves the piece: {how} outside",
            name or f"{x:.1f}, {y:.1f} mm",
            "Draw it further in, or let the edge beside it lose less.",
        )


def _cloth(piece: Piece) -> BaseGeometry:
    """What is cut of a piece, opened out at its fold, with its darts closed over."""
    import shapely

    parts = [flatten(piece.drawn.path, _CHORD)]
    at = piece.outline.vertex_at
    parts += [np.array([at(d.a), at(d.tip), at(d.b)]) for d in piece.darts if d.tip is not None]
    if piece.fold is not None:
        over = affine.mirror(at(piece.fold.start), at(piece.fold.end))
        parts += [affine.apply(over, p) for p in parts]
    return shapely.union_all([shapely.Polygon(p).buffer(_HEAL) for p in parts])


# --- chains -----------------------------------------------------------------------


def _turned(pattern: Pattern, seam: Seam) -> Iterator[Finding]:
    """A chain whose runs, as they are named, do not end where the other seams join them."""
    best = ways_round(pattern, seam)
    if best == (seam,):
        return
    parts = (*seam.first, *seam.second)
    ways = [(*way.first, *way.second) for way in best]
    turned = [part for k, part in enumerate(parts) if any(way[k] != part for way in ways)]
    names = " or ".join(f"{p.piece}:{p.run}" for p in turned)
    said = " or ".join(f'"{format_seam(way)}"' for way in best)
    yield Finding(
        "chain-turned",
        "warn",
        f"as it is named, {names} is sewn on the wrong way round: its ends do not come together "
        "with those that other seams join them to, or that bear the same names",
        ", ".join(dict.fromkeys(p.piece for p in turned)),
        place=seam.name,
        cure=f"{said} was probably meant (a run counts from the end nearer the centre of the body: "
        "a fold, or an edge named centre-front or centre-back, says where that is; - turns it).",
    )


# --- notches ----------------------------------------------------------------------


def _lone_notches(pattern: Pattern, seam: Seam) -> Iterator[Finding]:
    """A notch that is cut twice, on both halves of a piece, and meets one notch only."""
    if not seam.notches:
        return
    match = match_seam(pattern, seam)
    at = [match.notch_place(notch) for notch in seam.notches]
    first = sorted(d for a in at for d in _cut(match.first, match.to_first(a)))
    second = sorted(d for a in at for d in _cut(match.second, a))
    there = [match.to_first(d) for d in second]
    lone = [d for d in first if not _near(d, there)]
    few, many = seam.second, seam.first
    if lone:
        grid = np.linspace(0.0, match.second.length, 400)
        lone = np.interp(lone, [match.to_first(float(d)) for d in grid], grid).tolist()
    else:
        lone = [d for d, on in zip(second, there, strict=True) if not _near(on, first)]
        few, many = seam.first, seam.second
    if lone:
        twice = " and ".join(dict.fromkeys(p.piece for p in many if p.count > 1))
        once = " and ".join(dict.fromkeys(p.piece for p in few))
        places = ", ".join(both(d) for d in lone)
        yield seam.finding(
            "lone-notch",
            "warn",
            f"a notch is cut on both halves of {twice}, and only one of them meets one on {once}",
            cure=f"Notches at {places} too were probably meant: say them in the seam.",
        )


def _cut(chain: ChainWalk, distance: float) -> Iterator[float]:
    """All places on a chain at which a notch put at one is cut: once for each count of its run."""
    done = 0.0
    for step in chain.steps:
        once = step.walk.length
        if distance <= done + step.length + 1e-6 or step is chain.steps[-1]:
            along = (distance - done) % (2 * once)
            along = min(along, 2 * once - along)
            for turn in range(step.part.count):
                yield done + turn * once + (once - along if turn % 2 else along)
            return
        done += step.length


def _near(distance: float, others: list[float]) -> bool:
    return any(abs(distance - other) <= _MEET for other in others)
