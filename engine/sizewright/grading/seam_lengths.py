"""Seams brought to length after grading: by a free end of a side, a cap's height, or darts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ..errors import GeometryError, SizewrightError
from ..findings import Finding
from ..model.matching import SeamMatch, match_seam
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.seam_text import format_chain
from ..model.seams import ChainPart, Seam
from .line_ends import lines_ended
from .seam_notches import placed_on_seams

if TYPE_CHECKING:
    from ..drafting import SeamEnd

#: No end moves farther than this unless asked, mm.
MOST = 3.0
#: It may move by this share of its seam's length, though: no seam turns by it.
LONG = 0.0125
#: The top of an arch may move by this share of its height: no seam turns by it.
ARCH = 0.1
#: Seams that are off by less are left without a word, mm.
_SILENT = 0.05


def true_seams(pattern: Pattern, most: float = MOST) -> tuple[Pattern, tuple[Finding, ...]]:
    """Every declared seam of a graded pattern brought to the length that it asks for.

    In each size a free end of the second side (else of the first) moves along its own line,
    by `most` mm at most (by an eightieth of its seam where that is more and `most` is 3 mm or
    more). An end is free when it is a corner whose
    other line belongs to no seam, no fold, no dart and nothing held; the side must be one run
    that no other seam uses there. Where none is, a side that is one arch, as a sleeve's cap, is
    drawn higher or lower at its top; else the darts of a run that no other seam uses take more
    or less. Sizes that are drawn, not graded, are left as they are. Each change is a note with
    its amount; a seam that could not be trued is a warning that says why, or a note where it is
    true enough.
    """
    pieces = {p.key: p for p in pattern.pieces}
    findings: list[Finding] = []
    touched: set[tuple[str, str | None]] = set()
    for size in pattern.sizes:
        for seam in pattern.seams:
            now = pattern.with_pieces(pieces.values())
            found = _true(now, seam, size, most)
            if found is None:
                continue
            piece, finding = found
            findings.append(finding)
            if piece is not None:
                pieces[piece.key] = lines_ended(pieces[piece.key], piece)
                touched.add(piece.key)
    for graded in {size for _, size in touched}:
        mine = {p.name: p for p in pieces.values() if p.size == graded}
        bases = {name: p.base for name, p in mine.items() if p.base is not None}
        if set(bases) == set(mine):
            onto, _ = placed_on_seams(bases, mine, pattern.seams)
            pieces.update((p.key, p) for p in onto.values())
    return pattern.with_pieces(pieces.values()), tuple(findings)


def _true(
    pattern: Pattern, seam: Seam, size: str, most: float
) -> tuple[Piece | None, Finding] | None:
    """The piece that was changed and what to say of it; None where the seam is true."""
    from ..drafting import arch_height, arch_sides, darts_within, raised, slid, taken_up

    try:
        match = match_seam(pattern, seam, size)
    except SizewrightError:
        return None  # the check of seams tells what is wrong with it
    named = {name: pattern.piece(name, size) for name in seam.pieces()}
    if any(p.kind == "unknown" for p in named.values()):
        return None
    off = match.surplus - match.wanted
    if abs(off) <= _SILENT or all(p.base is None for p in named.values()):
        return None
    # A share of ease counts in the second side's length too.
    share = seam.ease.amount if seam.ease is not None and seam.ease.share else 0.0
    gains = {True: off / (1.0 + share), False: -off}
    ends, why = _free_ends(pattern, seam, size)
    arches = arch_sides(pattern, seam, size)
    # A half arch on the fold goes on to a seam with itself, which no drawing needs to name.
    folded = {side.second for side in arches if side.piece.fold is not None}
    for end in ends:
        if end.second in folded:
            continue
        piece = named[end.part.piece]
        try:
            moved, by = slid(piece, end, gains[end.second] / end.part.count)
        except GeometryError:
            why = f"moving {end.place} would spoil the outline"
            continue
        bound = most if most < MOST else max(most, LONG * piece.sewn_length(end.run))
        if abs(by) > bound:
            why = f"{end.place} would have to move {abs(by):.2f} mm, {_more_than(bound)}"
            continue
        what = f"{end.place} moved {abs(by):.2f} mm along {end.part.piece}:{end.part.run}"
        step = f"seam {seam.name} trued by {abs(by):.2f} mm at {end.place}"
        return moved.with_changes(step), _trued(seam, piece, size, off, what)
    for side in arches:
        if not _may_change(side.piece):
            continue
        try:
            moved, by = raised(side.piece, side.run, gains[side.second] / side.count)
        except GeometryError as error:
            why = f"{side.name}: {error.what}"
            continue
        way = f"{abs(by):.2f} mm {'higher' if by > 0 else 'lower'}"
        bound = max(most, ARCH * arch_height(side.piece, side.run))
        if abs(by) > bound:
            why = f"{side.name} would have to be drawn {way}, {_more_than(bound)}"
            continue
        what = f"{side.name} was drawn {way} at its top"
        step = f"seam {seam.name} trued: {what}"
        return moved.with_changes(step), _trued(seam, side.piece, size, off, what)
    for second, part in _darted(pattern, seam, size):
        piece = named[part.piece]
        run = piece.run(part.run)
        darts = darts_within(piece, run)
        try:
            moved, wider = taken_up(piece, run, darts, gains[second] / part.count)
        except GeometryError as error:
            why = f"{part.piece}:{part.run}: {error.what}"
            continue
        way = "more" if wider[0] > 0 else "less"
        what = "; ".join(
            f"the dart {part.piece}:{dart.name} takes {abs(by):.2f} mm {way}"
            for dart, by in zip(darts, wider, strict=True)
        )
        return moved.with_changes(f"seam {seam.name} trued: {what}"), _trued(
            seam, piece, size, off, what
        )
    return None, _not_trued(match, size, why)


def _darted(pattern: Pattern, seam: Seam, size: str) -> Iterator[tuple[bool, ChainPart]]:
    """Runs whose darts may take more or less, those of the second side first: no other seam
    uses them."""
    from ..drafting import darts_within

    used = [(p.piece, p.run) for s in pattern.seams for p in (*s.first, *s.second)]
    for second, chain in ((True, seam.second), (False, seam.first)):
        for part in chain:
            piece = pattern.piece(part.piece, size)
            alone = used.count((part.piece, part.run)) == 1
            if alone and _may_change(piece) and darts_within(piece, piece.run(part.run)):
                yield second, part


def _more_than(most: float) -> str:
    return f"more than {most:.3g} mm (--true-up-to)"


def _trued(seam: Seam, piece: Piece, size: str, off: float, what: str) -> Finding:
    way = "long" if off > 0 else "short"
    text = f"{format_chain(seam.first)} was {abs(off):.2f} mm too {way}: {what}"
    return Finding("seam-trued", "note", text, piece.name, size, seam.name)


def _not_trued(match: SeamMatch, size: str, why: str) -> Finding:
    """That a seam stays as it is: a warning where the check of seams will not let it pass."""
    seam, off = match.seam, match.off
    way = "long" if off > 0 else "short"
    return seam.finding(
        "seam-not-trued",
        "warn" if match.misfit() else "note",
        f"{format_chain(seam.first)} is {abs(off):.2f} mm too {way} and was not trued: {why}",
        size,
        "Mend the rules of its end points, or the ease that the seam states.",
    )


def _free_ends(pattern: Pattern, seam: Seam, size: str) -> tuple[list[SeamEnd], str]:
    """The ends that may move, best first, or why there are none."""
    from ..drafting import seam_ends

    found: list[SeamEnd] = []
    why = "neither side is one run"
    for end in seam_ends(pattern, seam, size):
        if len(seam.second if end.second else seam.first) != 1:
            continue
        why = "none of its ends is free"
        piece = pattern.piece(end.part.piece, size)
        if _may_change(piece) and end.free:
            found.append(end)
    return found, why


def _may_change(piece: Piece) -> bool:
    """Whether a piece was graded, not drawn, and no line of it was drawn for once and all."""
    drawn_once = piece.cut_line is not None and piece.allowances is None
    return piece.base is not None and not drawn_once
