"""One edit done to pieces in every size, on the base first, with the seams that follow it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from ..errors import SizewrightError
from ..findings import Finding
from ..geometry.path import Path
from ..model.counting import counts_backward
from ..model.features import Axis
from ..model.frame import axis_frame, drafting_axis
from ..model.outline import Outline
from ..model.pattern import Pattern
from ..model.piece import Piece
from .bearing import Part, features, left_behind, named_runs, points, quantity
from .carried_allowances import carried_allowances
from .cutting_line import with_cutting_line
from .edges import faired_edges
from .fairing import faired
from .lying import grain_within
from .passing import Passed, check_passed, good_lengths, without_points
from .ring import Drawn, Ring, Settled, draw
from .sewing import Became, rewritten
from .sizes import base_first

#: From the pieces of one size, by name, to the rings of the new ones. What an edit decides
#: (which stretch, which crossing, which order) it asks of `Settled`, so that every size is alike.
Edit = Callable[[Mapping[str, Piece], Settled], Mapping[str, Ring]]


@dataclass(frozen=True)
class Redrafted:
    """A pattern after an edit, and what could not come along."""

    pattern: Pattern
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class _Made:
    """The new pieces of one size, and how each old one was carried."""

    pieces: Mapping[str, Piece]
    drawn: Mapping[str, Drawn]
    became: Became
    findings: tuple[Finding, ...]


def redraft(pattern: Pattern, names: Sequence[str], edit: Edit) -> Redrafted:
    """The pattern with the pieces `names` replaced by those of `edit`, in every size.

    The base is edited first and settles corners, names and order for all sizes. Chains of
    seams are rewritten to the new runs; a seam whose run is gone goes too, with a finding.
    Raises LookupFailed for a piece that is not there, and what the edit raises, with piece
    and size.
    """
    for name in names:
        pattern.piece(name)
    passed: list[Finding] = []
    while True:
        settled = Settled()
        try:
            done = _redrafted(pattern, names, edit, settled)
        except Passed as error:
            if not error.points:
                good = good_lengths(pattern, settled.places)
                error.cure = good or "Take a place that lies alike in every size."
                raise
            pattern = without_points(pattern, error.piece.name, error.points)
            passed += [_passed(error.piece, point) for point in error.points]
            continue
        return replace(done, findings=(*passed, *settled.findings, *done.findings))


def _passed(piece: Piece, point: str) -> Finding:
    return Finding(
        "point-passed",
        "note",
        f"the point {point} is dropped from every size: in some the cut lies on its other side",
        piece.name,
        place=point,
    )


def _redrafted(pattern: Pattern, names: Sequence[str], edit: Edit, settled: Settled) -> Redrafted:
    kept = {p.name: p.base for p in pattern.pieces if p.name in names and p.base is not None}
    base = _made({n: kept[n] for n in names}, edit, settled) if len(kept) == len(names) else None
    sizes = base_first(pattern)
    made: dict[tuple[tuple[str, str | None], ...], _Made] = {}
    of_size: dict[str | None, _Made] = {}
    for size in sizes:
        old = {name: pattern.piece(name, size) for name in names}
        key = tuple(piece.key for piece in old.values())
        if key not in made:
            made[key] = _made(old, edit, settled)
        of_size[size] = made[key]
    shown = base or of_size[sizes[0]]
    bases = {} if base is None else dict(base.pieces)

    pieces: list[Piece] = []
    done: set[tuple[tuple[str, str | None], ...]] = set()
    for piece in pattern.pieces:
        if piece.name not in names:
            pieces.append(piece)
            continue
        key, new = next((k, m) for k, m in made.items() if piece.key in k)
        if key not in done:
            done.add(key)
            for name, one in new.pieces.items():
                graded = one.base is not None and name in bases
                pieces.append(replace(one, base=bases[name] if graded else None))
    after = pattern.with_pieces(pieces)
    size = sizes[0]
    seams, found = rewritten(pattern, after, of_size[size].became, of_size[size].drawn, size)
    findings = (*shown.findings, *found)
    return Redrafted(replace(after, seams=seams), findings)


def _made(old: Mapping[str, Piece], edit: Edit, settled: Settled) -> _Made:
    try:
        rings = edit(old, settled)
        drawn = {name: draw(name, ring, settled) for name, ring in rings.items()}
        check_passed(drawn, settled)
        runs, became = named_runs(drawn)
        pieces: dict[str, Piece] = {}
        outlines: dict[str, Outline] = {}
        kept: set[int] = set()
        findings: list[Finding] = []
        for name, one in drawn.items():
            outlines[name] = Outline(one.path, one.corners, points(one), runs[name])
            pieces[name], came, told = _piece(name, one, outlines[name], settled)
            findings += told
            kept |= came
        drawn = {name: replace(one, final=_final(one, pieces[name])) for name, one in drawn.items()}
    except SizewrightError as error:
        title = " and ".join(piece.title for piece in old.values())
        if error.where in old:
            error.where = old[error.where].title
        if not any(piece.title in error.where for piece in old.values()):
            error.at(title)
        raise
    stands: dict[tuple[str, str], list[Part]] = {}
    for (whose, run), parts in became.items():
        source = next(p for p in old.values() if p.name == whose)
        back = counts_backward(source, source.run(run))
        stands[whose, run] = [
            Part(
                name,
                words,
                part.twin,
                part.crosses,
                (counts_backward(pieces[name], pieces[name].run(words)) != back) != part.mirrored,
            )
            for name, words, part in parts
        ]
    aliases = {
        (ring.staying.piece.name, gone): kept
        for ring in rings.values()
        for gone, kept in ring.stands_for.items()
    }
    gone = frozenset(
        (p.name, run.name)
        for p in old.values()
        for run in p.outline.runs
        if run.name and (p.name, run.name) not in stands
    )
    findings += left_behind(drawn, outlines, kept)
    return _Made(pieces, drawn, Became(stands, aliases, gone), tuple(findings))


def _final(drawn: Drawn, piece: Piece) -> Path | None:
    """The outline of a piece where fairing changed it."""
    path = piece.outline.path
    return None if path == drawn.path else path


def _piece(
    name: str, drawn: Drawn, outline: Outline, settled: Settled
) -> tuple[Piece, set[int], tuple[Finding, ...]]:
    ring = drawn.ring
    source = _lying(drawn)
    borne, came = features(name, drawn, outline, settled)
    count, pair = quantity(drawn, borne["fold"])
    piece = source.with_changes(
        ring.step,
        name=name,
        outline=outline,
        cut_line=None,
        allowances=carried_allowances(drawn),
        grain=grain_within(source.grain, outline.path),
        quantity=count,
        pair=pair,
        weights=drawn.weights,
        **borne,
    )
    piece = replace(piece, axis=_axis(piece, drawn))
    piece, told, now = faired_edges(piece, ring, drawn.joints, settled)
    piece, more = faired(piece, [now[drawn.joints[k]] for k in ring.fair], settled)
    piece = piece if source.cut_line is None else with_cutting_line(piece)
    return piece, came, (*told, *more)


def _lying(drawn: Drawn) -> Piece:
    """The piece that gives the new one its grain and axis, as it lies now."""
    zone = drawn.ring.staying
    return zone.piece if zone.still else zone.piece.transformed(zone.move)


def _axis(piece: Piece, drawn: Drawn) -> Axis | None:
    """The axis of a new piece: a part that lost the centre keeps the old sense of width."""
    source = _lying(drawn)
    if any(zone.ending for zone in drawn.ring.zones):
        return piece.axis
    (was, _), (now, _) = axis_frame(source), axis_frame(piece)
    if now.away_from or (not was.away_from and float(was.out @ now.out) > 0):
        return piece.axis
    path = piece.outline.path
    return grain_within(drafting_axis(source, path.vertices), path)
