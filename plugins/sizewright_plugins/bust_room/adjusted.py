"""Fronts opened at the bust in every size, what must stay proved to stay, the rest told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sizewright.drafting import (
    APART,
    Redrafted,
    Ring,
    Settled,
    graded_from_drawn,
    mates_to_follow,
    redraft,
)
from sizewright.errors import GeometryError, InputError, SizewrightError
from sizewright.findings import Finding
from sizewright.laying import spread_apart
from sizewright.model import Pattern, Piece, SewnJoint, dart_joints
from sizewright.plugin import Outcome, Values, check_settings, pieces_asked
from sizewright.units import both

from ..redraw import redraw, redraw_settings
from ..seam_check.mending import run_on
from .opening import Opened, opened
from .places import Slashes, find

#: What stays keeps its length within this, mm, ...
_KEPT = 0.1
#: ... and the armhole is brought this near to it, in so many turns at most.
_NEAR, _TURNS = 0.005, 8
#: An edge may turn so much more than before across a dart that was closed, degrees.
_TRUE = 0.1
#: Amounts smaller than this are none, mm.
_NONE = 1e-9

Key = tuple[str, str | None]


def adjusted(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its fronts opened as asked, and findings."""
    names = pieces_asked(pattern, values)
    amounts = _amounts(pattern, names, values)
    if not any(amounts):
        text = "it opens by nothing, so it stays as it is"
        return Outcome(pattern, tuple(Finding("nothing-to-open", "note", text, n) for n in names))
    slid: dict[Key, float] = {}
    seen: dict[Key, Slashes] = {}
    done = _opened(pattern, names, values, slid, seen)
    for _ in range(_TURNS):
        off = {
            piece.key: _armhole(pattern.piece(*piece.key), seen[piece.key], piece)
            for piece in done.pattern.pieces
            if piece.name in names
        }
        farther = {key: max(slid.get(key, 0.0) - one, 0.0) for key, one in off.items()}
        # Where the armhole is too short and nothing slides, another turn would give the same.
        stands = all(farther[key] == slid.get(key, 0.0) for key in off)
        if stands or all(abs(one) < _NEAR for one in off.values()):
            break
        slid.update(farther)
        done = _opened(pattern, names, values, slid, seen)
    for piece in done.pattern.pieces:
        if piece.name in names:
            _prove(pattern.piece(*piece.key), seen[piece.key], piece)
    findings = list(done.findings)
    after = done.pattern
    for name in names:
        findings.append(_told(pattern, after, name, values, seen))
    for name in names if values["fair"] and values["waist-dart"] else ():
        after = _trued(pattern, after, name, values["waist-dart"])
    findings += graded_from_drawn(pattern, names, "armhole, side and waist")
    findings += mates_to_follow(pattern, after, names)
    after, moved = spread_apart(after, pattern, APART)
    return Outcome(after, (*findings, *moved))


def _trued(before: Pattern, after: Pattern, name: str, dart: str) -> Pattern:
    """The pattern with the edge at a wider dart led square to both its legs, so that it runs on
    where the dart is closed as it did before."""

    def across(pattern: Pattern) -> SewnJoint:
        return next(j for j in dart_joints(pattern.piece(name)) if j.seam == dart)

    was, now = across(before).kink or 0.0, across(after)
    if abs(now.kink or 0.0) <= abs(was) + _TRUE:
        return after
    piece, done = after.piece(name), after
    for side in (now.first, now.second):
        given = run_on(piece, side)
        try:
            done = redraw(done, check_settings("redraw", redraw_settings(), given)).pattern
        except SizewrightError:
            return after  # no room beside the mouth: the check of seams tells the kink
    runs = {run.name for run in piece.outline.runs}
    points = {point.name for point in piece.outline.points}

    def named(one: Piece) -> Piece:
        """With the names and the story that it had."""
        outline = one.outline
        kept = (p if p.name in points else replace(p, name=None) for p in outline.points)
        outline = replace(
            outline,
            runs=tuple(run for run in outline.runs if run.name in runs),
            points=tuple(p for p in kept if p.name or p.rule),
        )
        story = (*piece.story, f"the edge led square to the legs of {dart}")
        return replace(one, outline=outline, story=story)

    return done.changing([name], named)


def _amounts(pattern: Pattern, names: tuple[str, ...], values: Values) -> list[float]:
    pieces = [p for p in pattern.pieces if p.name in names]
    amounts = [values["by"].of(pattern, p) for p in pieces]
    amounts = [0.0 if a <= _NONE else a for a in amounts]
    if any(amounts) and not all(amounts):
        raise InputError(
            "it opens in some sizes and not in others",
            cure="Give every size an amount above 0.",
        )
    return amounts


def _opened(
    pattern: Pattern,
    names: tuple[str, ...],
    values: Values,
    slid: Mapping[Key, float],
    seen: dict[Key, Slashes],
) -> Redrafted:
    by = values["by"]

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> dict[str, Ring]:
        rings = {}
        for name, piece in pieces.items():
            at = find(piece, values, settled)
            seen[piece.key] = at
            amount = by.of(pattern, piece)
            new = _free_name(piece)
            along = slid.get(piece.key, 0.0)
            step = _words(at, amount)
            rings[name] = opened(at, amount, along, values["back-off"], new, step, values["fair"])
        return rings

    return redraft(pattern, names, edit)


def _free_name(piece: Piece) -> str:
    taken = {dart.name for dart in piece.darts}
    return next(n for n in ("bust", *(f"bust-{k}" for k in range(2, 99))) if n not in taken)


def _words(at: Slashes, by: float) -> str:
    what = Opened.of(at, by, 0.0)
    whole = f" ({both(2 * by)} on the whole garment)" if at.piece.times == 2 else ""
    words = f"room for the bust: opened by {both(by)}{whole}, centre longer by {both(what.shift)}"
    if at.waist_dart is None:
        return f"{words}, waist longer by {both(by)}"
    return f'{words}, the dart "{at.waist_dart.name}" wider by {both(by)}'


def _changing(at: Slashes) -> set[str]:
    """The runs that may change: those that the slashes cut at waist and centre."""
    over = at.piece.outline.runs_over
    return {name for vertex in (*at.waist, at.centre) for name in over(vertex)}


def _armhole(old: Piece, at: Slashes, new: Piece) -> float:
    """By how much the shortest run over the hinge became longer, mm."""
    runs = map(at.piece.run, at.piece.outline.runs_over(at.hinge))
    over = [(at.piece.sewn_length(run), str(run.name)) for run in runs]
    if not over:
        return 0.0
    _, name = min(over)
    return new.sewn_length(new.run(name)) - old.sewn_length(old.run(name))


def _prove(old: Piece, at: Slashes, new: Piece) -> None:
    """Raises GeometryError, with the run, where one that must stay changed."""
    changing = _changing(at)
    for run in old.outline.runs:
        if not run.name or run.name in changing:
            continue
        off = new.sewn_length(new.run(run.name)) - old.sewn_length(run)
        if abs(off) > _KEPT:
            raise GeometryError(
                f'"{run.name}" would change by {off:.2f} mm',
                where=old.title,
                cure="Take a smaller amount, or another hinge.",
            )


def _told(
    before: Pattern, after: Pattern, name: str, values: Values, seen: Mapping[Key, Slashes]
) -> Finding:
    """What was done, and in what bounds over the sizes."""
    shifts, kept = [], 0.0
    for new in after.sizes_of(name):
        old, at = before.piece(*new.key), seen[new.key]
        shifts.append(Opened.of(at, values["by"].of(before, old), 0.0).shift)
        for run in old.outline.runs:
            if run.name and run.name not in _changing(at):
                off = new.sewn_length(new.run(run.name)) - old.sewn_length(run)
                kept = max(kept, abs(off))
    shown = before.piece(name)
    text = _words(seen[shown.key], values["by"].of(before, shown))
    if max(shifts) - min(shifts) > 0.05:
        text += f" (over the sizes {both(min(shifts))} to {both(max(shifts))})"
    text += f"; all other edges keep their length within {max(kept, 0.005):.2f} mm"
    return Finding("bust-room", "note", text, name, shown.size or "")
