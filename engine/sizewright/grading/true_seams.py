"""Seams brought to length after grading, by moving a free end of one of their sides."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..drafting import with_cutting_line
from ..errors import SizewrightError
from ..findings import Finding
from ..geometry.crossings import is_simple
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model.matching import match_seam
from ..model.outline import Outline, Run
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.seams import ChainPart, Seam
from .notches import kept_distance
from .seam_notches import placed_on_seams
from .stations import vertices_between

#: No end moves farther than this unless asked, mm.
MOST = 3.0
#: Seams that are off by less are left without a word, mm.
_SILENT = 0.05
_EXACT = 1e-7


@dataclass(frozen=True, slots=True)
class _End:
    """An end of a run that may move: which part of a chain, at which vertex, and its place."""

    part: ChainPart
    run: Run
    vertex: int
    at_end: bool
    place: str


def true_seams(pattern: Pattern, most: float = MOST) -> tuple[Pattern, tuple[Finding, ...]]:
    """Every declared seam of a graded pattern brought to the length that it asks for.

    In each size a free end of the second side (else of the first) moves along its own line,
    by `most` mm at most. An end is free when it is a corner whose other line belongs to no
    seam, no fold, no dart and nothing held; the side must be one run that no other seam uses
    there. Sizes that are drawn, not graded, are left as they are. Each change is a note with
    its amount; a seam that could not be trued is a warning that says why.
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
                pieces[piece.key] = piece
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
    ends, why = _free_ends(pattern, seam, named)
    if not ends:
        return None, _not_trued(seam, size, off, why)
    # A share of ease counts in the second side's length too.
    share = seam.ease.amount if seam.ease is not None and seam.ease.share else 0.0
    for second, end in ends:
        piece = named[end.part.piece]
        gain = off / (1.0 + share) if second else -off
        moved = _lengthened(piece, end, gain / end.part.count)
        if moved is None:
            why = f"moving {end.place} would spoil the outline"
            continue
        by = float(
            np.hypot(*(moved.outline.vertex_at(end.vertex) - piece.outline.vertex_at(end.vertex)))
        )
        if by > most:
            why = f"{end.place} would have to move {by:.2f} mm, more than {most:g} mm"
            continue
        way = "long" if off > 0 else "short"
        text = (
            f"the first side was {abs(off):.2f} mm too {way}: "
            f"{end.place} moved {by:.2f} mm along {end.part.piece}:{end.part.run}"
        )
        step = f"seam {seam.name} trued by {by:.2f} mm at {end.place}"
        return moved.with_changes(step), Finding(
            "seam-trued", "note", text, piece.name, size, seam.name
        )
    return None, _not_trued(seam, size, off, why)


def _not_trued(seam: Seam, size: str, off: float, why: str) -> Finding:
    way = "long" if off > 0 else "short"
    return Finding(
        "seam-not-trued",
        "warn",
        f"the first side is {abs(off):.2f} mm too {way} and was not trued: {why}",
        ", ".join(sorted(seam.pieces())),
        size,
        seam.name,
        "Mend the rules of its end points, or the ease that the seam states.",
    )


def _free_ends(
    pattern: Pattern, seam: Seam, named: Mapping[str, Piece]
) -> tuple[list[tuple[bool, _End]], str]:
    """The ends that may move, best first, each with whether it is on the second side."""
    found: list[tuple[bool, _End]] = []
    why = "neither side is one run"
    for second, chain in ((True, seam.second), (False, seam.first)):
        if len(chain) != 1:
            continue
        part = chain[0]
        piece = named[part.piece]
        why = "none of its ends is free"
        drawn_once = piece.cut_line is not None and piece.allowances is None
        if piece.base is None or drawn_once or _twice(seam, part):
            continue
        run = piece.run(part.run)
        taken = _seam_segments(pattern, piece, seam)
        fixed = _fixed(piece)
        for vertex, at_end in _ends(piece, run):
            inside, beyond = _beside(piece.outline, vertex, at_end)
            if vertex not in piece.outline.corners or vertex in fixed:
                continue
            own = set(vertices_between(run.start, run.end, len(piece.outline.path))[:-1])
            if inside in taken or beyond in taken or beyond in own:
                continue
            place = f"{piece.name}:{piece.outline.reference(vertex)}"
            found.append((second, _End(part, run, vertex, at_end, place)))
    return found, why


def _twice(seam: Seam, part: ChainPart) -> bool:
    """Whether the same run is on both sides of the seam: then moving it changes nothing."""
    runs = [(p.piece, p.run) for p in (*seam.first, *seam.second)]
    return runs.count((part.piece, part.run)) > 1


def _ends(piece: Piece, run: Run) -> Iterator[tuple[int, bool]]:
    """Both ends of a run, the lower by the axis first, and whether each is the run's end.

    A cutter takes it off below: at the hem before the waist, at the waist before the armhole.
    """
    start, end = piece.outline.path.vertices[[run.start, run.end]] @ np.array(piece.up)
    ends = [(run.end, True), (run.start, False)]
    yield from (ends[::-1] if start < end else ends)


def _beside(outline: Outline, vertex: int, at_end: bool) -> tuple[int, int]:
    """The segments at an end: the one inside the run, and the one beyond it."""
    before = (vertex - 1) % len(outline.path)
    return (before, vertex) if at_end else (vertex, before)


def _seam_segments(pattern: Pattern, piece: Piece, but: Seam) -> set[int]:
    """Segments of a piece that lie on other seams, or on more than one part of this one."""
    taken: set[int] = set()
    mine: list[int] = []
    for seam in pattern.seams:
        for part in (*seam.first, *seam.second):
            if part.piece != piece.name:
                continue
            try:
                run = piece.run(part.run)
            except SizewrightError:
                continue
            segments = vertices_between(run.start, run.end, len(piece.outline.path))[:-1]
            if seam is but:
                mine += segments
            else:
                taken.update(segments)
    return taken | {s for s in mine if mine.count(s) > 1}


def _fixed(piece: Piece) -> set[int]:
    """Vertices that do not move: of fold, darts, pleats and holds."""
    n = len(piece.outline.path)
    fixed: set[int] = set()
    if piece.fold is not None:
        fixed.update(vertices_between(piece.fold.start, piece.fold.end, n))
    mouths = [(d.a, d.b) for d in piece.darts] + [(p.a, p.b) for p in piece.pleats]
    for a, b in mouths:
        fixed.update(vertices_between(a, b, n))
    for hold in piece.holds:
        fixed.update(hold.vertices)
    return fixed


def _lengthened(piece: Piece, end: _End, gain: float) -> Piece | None:
    """The piece with the run `gain` mm longer, its end moved along its own line with the
    handles about it; None where that cannot be done or the outline would cross itself."""
    outline = piece.outline
    path = outline.path
    segment, _ = _beside(outline, end.vertex, end.at_end)
    along: Floats = path.tangents_in[segment] if end.at_end else -path.tangents_out[segment]
    target = piece.sewn_length(end.run) + gain
    by, fresh = 0.0, piece
    for _ in range(20):
        left = target - fresh.sewn_length(end.run)
        if abs(left) <= _EXACT:
            break
        by += left
        fresh = replace(piece, outline=outline.with_path(_moved(path, end.vertex, by * along)))
    if abs(target - fresh.sewn_length(end.run)) > 1e-3:
        return None
    if fresh.outline.path.area <= 0 or not is_simple(fresh.outline.path):
        return None
    return with_cutting_line(_notches_kept(piece, fresh))


def _moved(path: Path, vertex: int, by: Floats) -> Path:
    controls = path.controls.copy()
    controls[vertex, :2] += by
    controls[vertex - 1, 2:] += by
    return path.with_controls(controls)


def _notches_kept(before: Piece, after: Piece) -> Piece:
    """Each notch at its distance in mm from the end of its edge that it goes by."""
    notches = []
    for notch in after.notches:
        a = before.outline.edge_from(notch.at.start).length
        b = after.outline.edge_from(notch.at.start).length
        if a != b:
            distance = min(max(kept_distance(notch, a, b), 0.0), b)
            notch = replace(notch, at=replace(notch.at, distance=distance))
        notches.append(notch)
    return replace(after, notches=tuple(notches))
