"""How far each point of a piece goes from the base size to the other sizes of a nest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..errors import InputError
from ..findings import Finding
from ..geometry.types import Floats
from ..model.features import Notch
from ..model.frame import Frame, axis_frame
from ..model.mixture import is_mixture
from ..model.outline import Outline
from ..model.overlay import over_each_other, place_for, point_at, shifted
from ..model.piece import Piece
from ..model.place import Place
from .matched import Matched, match_outlines, turned_onto, turned_over_like
from .uncut import without_allowance

#: Grain lines whose lengths differ by more than this share were drawn anew in each size.
_SAME_GRAIN = 0.01


@dataclass(frozen=True, eq=False)
class Track:
    """One point or notch of a piece through the sizes.

    `moves` (sizes, 2): what it gains along width and length from the base size to each
    size, mm, as a rule would give it; NaN where it was not found. `rule` is the one that it
    bears in the drawing. `reference` names it in a points table; None where nothing can.
    """

    piece: str
    vertex: int
    reference: str | None
    rule: str | None
    moves: Floats
    corner: bool = True
    notch: bool = False


@dataclass(frozen=True, eq=False)
class PieceTracks:
    """One piece of a nest: its base as grading takes it, its sizes laid over it, its tracks.

    A curve point whose partners are in doubt has two tracks.
    """

    base: Piece
    frame: Frame
    sizes: Mapping[str, Piece]
    matches: Mapping[str, Matched]
    tracks: tuple[Track, ...]
    findings: tuple[Finding, ...] = field(default=())


def track_piece(
    base: Piece, others: Mapping[str, Piece], sizes: Sequence[str], places: Sequence[Place] = ()
) -> PieceTracks:
    """Every corner, curve point and ruled notch of `base` followed through `others`.

    Each size is turned to lie as the base does and, where it is drawn apart, laid over it
    at a place that `places` gives, else by the fold, the grain or the first matched point.
    Cutting lines lose their allowance first. Raises InputError where a size looks like
    another piece.
    """
    findings: list[Finding] = []
    sewn, _ = without_allowance(base)
    frame, _ = axis_frame(sewn)
    laid: dict[str, Piece] = {}
    matches: dict[str, Matched] = {}
    turned = []
    for size in sizes:
        if size not in others:
            continue
        piece, _ = without_allowance(others[size])
        own, _ = axis_frame(piece)
        piece, turn, over = turned_onto(piece, own, frame)
        match = match_outlines(sewn.outline, piece.outline)
        sided = bool(own.away_from and frame.away_from)
        if not sided and (other := turned_over_like(sewn, piece, frame, match)):
            (piece, match), over = other, True
        if over or turn:
            turned.append(f"{size} " + ("turned over" if over else f"by {turn:.0f} degrees"))
        laid[size] = piece
        matches[size] = match
        _refuse_stranger(sewn, size, piece, matches[size])
    if turned:
        text = f"sizes are turned otherwise and were turned to lie alike: {', '.join(turned)}"
        findings.append(_note(base, "nest-turned", text))
    laid, told = _laid(sewn, frame, laid, matches, places)
    findings += told
    every = range(len(sewn.outline.path))
    tracks = [_track(sewn, frame, v, sizes, laid, matches) for v in every]
    doubtful = [v for v in every if any(v in m.doubtful for m in matches.values())]
    tracks += [_track(sewn, frame, v, sizes, laid, matches, bold=True) for v in doubtful]
    if len(sewn.outline.path) != len(base.outline.path):
        # Curve points cannot be named by their number where taking off the allowance lost some.
        tracks = [t for t in tracks if t.reference is None or "+" not in t.reference]
    tracks += _notch_tracks(sewn, frame, sizes, laid)
    findings += _unmatched(sewn, sizes, matches)
    return PieceTracks(sewn, frame, laid, matches, tuple(tracks), tuple(findings))


def _refuse_stranger(base: Piece, size: str, piece: Piece, match: Matched) -> None:
    corners = base.outline.corners
    lost = [v for v in corners if v not in match.pairs]
    if len(lost) * 2 > len(corners):
        raise InputError(
            f"only {len(corners) - len(lost)} of {len(corners)} corners were found again "
            f"in size {size}, which has {len(piece.outline.corners)}",
            where=base.name,
            cure="Check that it is the same piece, drawn the same way up.",
        )


# --- laying the sizes over the base ---------------------------------------------------


def _laid(
    base: Piece,
    frame: Frame,
    sizes: Mapping[str, Piece],
    matches: Mapping[str, Matched],
    places: Sequence[Place],
) -> tuple[dict[str, Piece], list[Finding]]:
    place = place_for(base, places)
    if place is not None:
        home = point_at(base, place)
        moved = {s: shifted(p, home - point_at(p, place)) for s, p in sizes.items()}
        return moved, []
    if all(over_each_other(base, p) for p in sizes.values()):
        return dict(sizes), []
    by, how = _anchor(base, frame, sizes, matches)
    text = f"its sizes are drawn apart and were laid over each other by {how}"
    cure = f"Say another point if the growth should count from there: --align {base.name}:POINT."
    note = replace(_note(base, "nest-aligned", text), cure=cure)
    return {s: shifted(p, by[s]) for s, p in sizes.items()}, [note]


def _anchor(
    base: Piece, frame: Frame, sizes: Mapping[str, Piece], matches: Mapping[str, Matched]
) -> tuple[dict[str, Floats], str]:
    """The shift of each size, (2,) mm, and what it goes by."""
    if base.fold is not None and all(p.fold is not None for p in sizes.values()):
        low = _low_end(base, frame)
        return {s: low - _low_end(p, frame) for s, p in sizes.items()}, "the lower end of the fold"
    mine = _grain(base, frame)
    theirs = {s: _grain(p, frame) for s, p in sizes.items()}
    if mine is not None and all(
        g is not None and abs(_span(g) - _span(mine)) <= _SAME_GRAIN * _span(mine)
        for g in theirs.values()
    ):
        return {s: mine[0] - g[0] for s, g in theirs.items() if g is not None}, "the grain line"
    ways = (base.outline.corners, range(len(base.outline.path)))
    first = next(v for some in ways for v in some if all(v in m.pairs for m in matches.values()))
    home = base.outline.vertex_at(first)
    by = {s: home - p.outline.vertex_at(matches[s].pairs[first]) for s, p in sizes.items()}
    return by, f"the point {base.outline.reference(first) or 'where the outline begins'}"


def _low_end(piece: Piece, frame: Frame) -> Floats:
    assert piece.fold is not None
    ends = [piece.outline.vertex_at(v) for v in (piece.fold.start, piece.fold.end)]
    return min(ends, key=lambda p: float(p @ frame.up))


def _grain(piece: Piece, frame: Frame) -> Floats | None:
    """The ends (2, 2) of the grain line, the lower one first."""
    if piece.grain is None:
        return None
    ends = np.array([piece.grain.start, piece.grain.end])
    return ends if (ends[1] - ends[0]) @ frame.up >= 0 else ends[::-1]


def _span(ends: Floats) -> float:
    return float(np.hypot(*(ends[1] - ends[0])))


# --- moves ----------------------------------------------------------------------------


def _track(
    base: Piece,
    frame: Frame,
    vertex: int,
    sizes: Sequence[str],
    laid: Mapping[str, Piece],
    matches: Mapping[str, Matched],
    *,
    bold: bool = False,
) -> Track:
    outline = base.outline
    point = outline.point(vertex)
    home = outline.vertex_at(vertex)
    places = [
        matches[s].place(laid[s].outline, vertex, bold=bold) if s in laid else None for s in sizes
    ]
    moves = _moves(frame, home, places)
    corner = vertex in outline.corners
    # A mixture is learned as a rule of the point's own.
    rule = None if point.rule is None or is_mixture(point.rule) else point.rule
    return Track(base.name, vertex, outline.reference(vertex), rule, moves, corner)


def _moves(frame: Frame, home: Floats, places: Sequence[Floats | None]) -> Floats:
    sign = float(frame.signs(home[None])[0])
    moves = np.full((len(places), 2), np.nan)
    for k, place in enumerate(places):
        if place is not None:
            width, length = frame.local(place - home)
            # On the centre line itself width counts nothing.
            moves[k] = width * sign, length
    return moves


def _notch_tracks(
    base: Piece, frame: Frame, sizes: Sequence[str], laid: Mapping[str, Piece]
) -> list[Track]:
    """Tracks of the notches that have a rule of their own."""
    tracks = []
    for number, notch in enumerate(base.notches):
        if notch.rule is None:
            continue
        home = _notch_at(base.outline, notch)
        places = [_same_notch(base, number, laid[s]) if s in laid else None for s in sizes]
        named = notch.name if _names_only_notches(base, notch) else None
        moves = _moves(frame, home, places)
        tracks.append(Track(base.name, notch.at.start, named, notch.rule, moves, notch=True))
    return tracks


def _same_notch(base: Piece, number: int, other: Piece) -> Floats | None:
    """The notch of the same name, kind and turn among those; None where it is not there."""
    notch = base.notches[number]

    def like(piece: Piece) -> list[int]:
        return [
            k
            for k, x in enumerate(piece.notches)
            if (x.name, x.kind, x.count) == (notch.name, notch.kind, notch.count)
        ]

    mine, theirs = like(base), like(other)
    if len(mine) != len(theirs):
        return None
    return _notch_at(other.outline, other.notches[theirs[mine.index(number)]])


def _names_only_notches(piece: Piece, notch: Notch) -> bool:
    return notch.name is not None and all(p.name != notch.name for p in piece.outline.points)


def _notch_at(outline: Outline, notch: Notch) -> Floats:
    at: Floats = outline.path.at(outline.arc_length_of(notch.at))
    return at


# --- findings -------------------------------------------------------------------------


def _unmatched(base: Piece, sizes: Sequence[str], matches: Mapping[str, Matched]) -> list[Finding]:
    found = []
    missing = [s for s in sizes if s not in matches]
    if missing:
        text = f"it is not there in {', '.join(missing)}: the steps there come from its neighbours"
        found.append(replace(_note(base, "piece-missing", text), level="warn"))
    alone = {
        v: [s for s, m in matches.items() if v in m.alone] for v in range(len(base.outline.path))
    }
    for vertex, where in alone.items():
        if where:
            text = f"it has no partner in {', '.join(where)}"
            place = base.outline.reference(vertex) or ""
            one = replace(_note(base, "point-unmatched", text), level="warn", place=place)
            found.append(replace(one, cure="Name the point alike in every size."))
    marked = {p.vertex for p in base.outline.points}
    shared = sorted({v for m in matches.values() for v in m.shares} & marked)
    if shared:
        names = ", ".join(base.outline.reference(v) or "?" for v in shared)
        text = f"no point of its own in every size, so taken at the same share of the way: {names}"
        found.append(_note(base, "point-by-share", text))
    return found


def _note(piece: Piece, code: str, text: str) -> Finding:
    return Finding(code, "note", text, piece.name)
