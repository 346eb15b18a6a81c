"""Pieces slashed and spread in every size, and what follows it: marks, grain, seams, words."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np

from sizewright.drafting import (
    APART,
    Line,
    Redrafted,
    Ring,
    Settled,
    Slides,
    graded_from_drawn,
    mates_to_follow,
    redraft,
    slashed,
)
from sizewright.errors import GeometryError
from sizewright.findings import Finding
from sizewright.laying import spread_apart
from sizewright.model import Ease, Grain, Pattern, Piece, Seam, match_seam, walk, wearers_side
from sizewright.plugin import Outcome
from sizewright.units import both

from .asked import NONE, Asked
from .cuts import Slashed, moved_apart
from .pleats import Gap, folds, leads_inwards, marks, mouth_line

#: A length that is asked for is met within this, mm, in so many turns at most.
_MET, _TURNS = 0.02, 6
#: So many numbers of cuts are tried where none is said.
_TRIES = 8
#: Changes of length smaller than this are none, mm.
_AS_LONG = 0.005


def spread_out(pattern: Pattern, asked: Asked) -> Outcome:
    """The pattern with the pieces spread, and findings."""
    cuts: Mapping[str, int] = asked.cuts(pattern)
    names = [name for name, count in cuts.items() if count]
    still = [
        Finding("nothing-to-spread", "note", "it opens by nothing, so it stays as it is", name)
        for name in cuts
        if name not in names
    ]
    if not names:
        return Outcome(pattern, tuple(still))
    done, cuts = _alike(pattern, asked, names, cuts)
    after = done.pattern
    if asked.grain:
        after = after.changing(names, lambda p: _with_middle_grain(p, asked))
    findings = [*still, *done.findings, *_told(pattern, asked, cuts, names)]
    if asked.kind == "gather":
        after = _gather(pattern, after, names)
    curved = [name for name in names if _curved(pattern.piece(name), asked)]
    findings += graded_from_drawn(pattern, curved, f"{asked.first.run} and {asked.second.run}")
    findings += mates_to_follow(pattern, after, names)
    after, moved = spread_apart(after, pattern, APART)
    return Outcome(after, (*findings, *moved))


def _curved(piece: Piece, asked: Asked) -> bool:
    """Whether a run that the cuts divide is curved: shares of it do not grade exactly."""
    runs = (asked.first.on(piece), asked.second.on(piece))
    return not all(piece.outline.run_path(run).lines.all() for run in runs)


def _alike(
    pattern: Pattern, asked: Asked, names: list[str], cuts: Mapping[str, int]
) -> tuple[Redrafted, Mapping[str, int]]:
    """The pieces spread, and how many cuts each got: more than are needed, where these fall on
    one side of a dart or notch in some sizes and on the other in others."""
    failed: GeometryError | None = None
    for more in range(_TRIES if asked.given_cuts is None and asked.kind != "pleat" else 1):
        tried = {name: count + more for name, count in cuts.items()}
        try:
            return _spread(pattern, asked, names, tried), tried
        except GeometryError as error:
            failed = failed or error
    assert failed is not None
    if failed.cure.startswith("Take a place"):
        failed.cure = "Take another number of cuts, or other runs."
    raise failed


def _spread(pattern: Pattern, asked: Asked, names: list[str], cuts: Mapping[str, int]) -> Redrafted:
    """The pieces spread; a length that is asked for is met by a few tries where edges are
    faired."""
    more: dict[tuple[str, str | None], float] = {}
    # Wherever they open to, the cuts lie where they lie: by the pieces' ids, which they keep.
    slashes: dict[int, tuple[Piece, Slashed]] = {}

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> dict[str, Ring]:
        rings = {}
        for name, piece in pieces.items():
            _, by, by_to = asked.opened(pattern, piece, more.get(piece.key, 0.0))
            if id(piece) not in slashes:
                runs = asked.first.on(piece), asked.second.on(piece)
                slashes[id(piece)] = piece, Slashed.of(piece, *runs, cuts[name])
            rings[name] = _ring(piece, asked, slashes[id(piece)][1], by, by_to, settled)
        return rings

    done = redraft(pattern, names, edit)
    for _ in range(_TURNS if asked.to_length is not None and asked.fair else 0):
        off = {}
        for piece in (p for p in done.pattern.pieces if p.name in names):
            assert asked.to_length is not None
            old = pattern.piece(piece.name, piece.size)
            wanted = asked.to_length.of(pattern, old)
            off[piece.key] = wanted - piece.sewn_length(asked.first.on(piece))
        if all(abs(one) < _MET for one in off.values()):
            break
        for key, one in off.items():
            more[key] = more.get(key, 0.0) + one
        done = redraft(pattern, names, edit)
    return done


def _ring(
    piece: Piece, asked: Asked, at: Slashed, by: float, by_to: float, settled: Settled
) -> Ring:
    backward = walk(piece, asked.first.on(piece)).backward
    inserted, cuts = at.piece, at.opened(by, by_to)
    count = len(cuts)
    apart = moved_apart(inserted, cuts, settled)
    step = _words(piece, asked, count, by, by_to)
    lines: dict[tuple[int, int], Line] = {}
    drawn = [*apart.marks]
    if asked.kind == "pleat":
        order = range(count, 0, -1) if backward else range(1, count + 1)
        names = dict(zip(order, _free_names(piece, count), strict=True))
        run = asked.first.on(inserted)
        for number, cut in enumerate(cuts, 1):
            name = names[number]
            gap = Gap.of(inserted, cut, apart.zones[number - 1], apart.zones[number], run)
            s = float(inserted.outline.path.cumulative[cut.start])
            inwards = leads_inwards(inserted, run, s, settled, number)
            laid = folds(gap, asked.pleat, inwards == asked.inwards)
            lines[cut.start, cut.start] = mouth_line(inserted, cut.start, laid.mouth, name)
            drawn += marks(name, laid)
    fair: list[tuple[set[int], Slides | None]] = []
    if asked.fair:
        # Counter-clockwise the second run leads back to the first zone.
        slides: Slides = "first" if 2 * apart.stays <= count else "last"
        slides = slides if apart.zones[apart.stays].still else "either"
        fair = [({cut.start for cut in cuts}, None)]
        fair.append(({cut.end for cut in cuts}, slides if by_to <= NONE else None))
    ring = slashed(apart.spans, step, apart.zones[apart.stays], lines=lines, fair=fair)
    return replace(ring, marks=tuple(drawn))


def _free_names(piece: Piece, count: int) -> list[str]:
    taken = {pleat.name for pleat in piece.pleats}
    number, found = 1, list[str]()
    while len(found) < count:
        if f"pleat-{number}" not in taken:
            found.append(f"pleat-{number}")
        number += 1
    return found


def _words(piece: Piece, asked: Asked, count: int, by: float, by_to: float) -> str:
    kind = {
        "flare": "flared",
        "gather": "spread for gathers",
        "pleat": f"spread for {asked.pleat} pleats",
    }[asked.kind]
    cuts = f"{count} cuts" if count > 1 else "1 cut"
    words = f"{kind}: {asked.first.run} opened by {both(by)} in {cuts}"
    if by_to > NONE:
        words += f", {asked.second.run} by {both(by_to)}"
    side = wearers_side(piece, asked.first.on(piece))
    if side in ("left", "right"):
        words += f", on the wearer's {side} alone"
    if piece.times == 2:
        words += f" (on the whole garment {both(2 * by)}"
        words += f" and {both(2 * by_to)})" if by_to > NONE and by_to != by else ")"
    return words


def _told(
    pattern: Pattern, asked: Asked, cuts: Mapping[str, int], names: list[str]
) -> list[Finding]:
    """What was done to each piece in its base size."""
    found = []
    for name in names:
        piece = pattern.piece(name)
        _, by, by_to = asked.opened(pattern, piece)
        text = _words(piece, asked, cuts[name], by, by_to)
        found.append(Finding("spread", "note", text, name, piece.size or ""))
    return found


def _with_middle_grain(piece: Piece, asked: Asked) -> Piece:
    """With the grain through the middles of both runs."""
    if piece.grain is None:
        return piece
    ends = []
    for reference in (asked.first, asked.second):
        way = walk(piece, reference.on(piece))
        ends.append(piece.outline.path.at(way.arc_length(way.length / 2)))
    low, high = ends
    old = np.array(piece.grain.end) - np.array(piece.grain.start)
    step = high - low
    way_along = step / np.hypot(*step) * (1.0 if float(step @ old) >= 0 else -1.0)
    half = min(float(np.hypot(*old)), 0.8 * float(np.hypot(*step))) / 2
    middle = (low + high) / 2
    (ax, ay), (bx, by) = middle - way_along * half, middle + way_along * half
    grain = Grain((float(ax), float(ay)), (float(bx), float(by)), piece.grain.ends)
    return replace(piece, grain=grain)


def _gather(before: Pattern, after: Pattern, names: Collection[str]) -> Pattern:
    """The pattern whose seams of the pieces `names` take up as gather what these became longer."""
    was = {seam.name: seam for seam in before.seams}
    seams = []
    for seam in after.seams:
        if seam.pieces() & set(names) and seam.name in was:
            seam = _gathered(before, after, was[seam.name], seam)
        seams.append(seam)
    return replace(after, seams=tuple(seams))


def _gathered(before: Pattern, after: Pattern, was: Seam, seam: Seam) -> Seam:
    old, now = match_seam(before, was), match_seam(after, seam)
    gained = now.surplus - old.surplus
    if abs(gained) < _AS_LONG:
        return seam
    wanted = now.wanted + gained
    ease = seam.ease
    between = None if ease is None else ease.between
    if wanted >= 0:
        share = ease is not None and ease.share
        amount = wanted / now.second.length if share else wanted
        return replace(seam, ease=Ease(amount, share, "gather", between))
    # The other side is the longer one now, and stands first; on the shorter one notches stay.
    notches = []
    for notch in was.notches:
        at = old.to_first(old.notch_place(notch))
        notches.append(replace(notch, along=at / old.first.length if notch.share else at))
    ease = Ease(-wanted, False, "gather", between)
    return replace(seam.turned(), ease=ease, notches=tuple(notches))
