"""One end of a seam slid along its own run until both sides match, in every size."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..errors import GeometryError, LookupFailed, SizewrightError, UsageError
from ..findings import Finding
from ..model.joints import edge_name
from ..model.matching import match_seam, place_seam_notches
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.references import split_reference
from ..model.seam_text import format_chain
from ..model.seams import ChainPart, Seam
from ..units import both
from .arches import ArchSide, arch_sides, raised
from .redraft import Redrafted
from .sizes import base_first
from .sliding import SeamEnd, beside, next_stop, seam_ends, slid

#: The line beyond is faired over so much, in times the way, and over this at least, mm.
_BEYOND, _LEAST = 15.0, 40.0
#: A stretch that is nearly all of an edge is the whole edge.
_WHOLE = 0.8
#: So little more than the limit is let pass, mm: to a dressmaker 1 in is 2.5 cm.
_SLACK = 0.5
#: Seams that are off by less are true, mm.
_TRUE = 0.005
#: Other seams that change by less are left without a word, mm.
_SILENT = 0.05


@dataclass(frozen=True)
class _Slide:
    """An end that slides, by how much its run gains in each size (mm; None: the base), and how
    far along the edge beyond it is faired: a share, or None for all of it."""

    end: SeamEnd
    gains: Mapping[str | None, float]
    fair: float | None

    @property
    def piece(self) -> str:
        """Whose end it is."""
        return self.end.part.piece


@dataclass(frozen=True)
class _Rise:
    """An arch that is drawn higher or lower, by how much it gains in each size, as in `_Slide`."""

    arch: ArchSide
    gains: Mapping[str | None, float]

    @property
    def piece(self) -> str:
        """Whose run it is."""
        return self.arch.piece.name


def true_edge(
    pattern: Pattern,
    seam: str,
    *,
    move: str | None = None,
    share: bool = False,
    limit: float = 25.0,
) -> Redrafted:
    """The pattern with a seam brought to the length that it asks for, in every size.

    `move` names the end that slides (`back:hem-side`) along the tangent of its own run; the edge
    beyond is faired to it, the angle of the corner kept. With `share` an end on each side
    takes half: the one that is named and the one that meets it. Where `move` is a whole side that
    is one arch (`sleeve:cap`), it is drawn higher or lower by the piece's axis. `seam` may be a
    dart (`front:waist-dart`): its legs are made alike. What other seams gain or lose is told.
    Raises UsageError, with the free ends, where none is named, and GeometryError for an end that
    cannot slide, or would by more than `limit` mm.
    """
    found = _seam(pattern, seam)
    sizes: tuple[str | None, ...] = pattern.sizes or (None,)
    shown = base_first(pattern)[0]
    _refuse_cut(pattern, found, shown)
    arch = next((a for a in arch_sides(pattern, found, shown) if a.name == move), None)
    ends = [] if arch else _chosen(pattern, found, move, share, shown)
    where = f'seam "{found.name}"'
    offs = {size: match_seam(pattern, found, size).off for size in sizes}
    if all(abs(off) < _TRUE for off in offs.values()):
        note = Finding("edge-true", "note", "both sides match already", place=found.name)
        return Redrafted(pattern, (note,))
    bases = {p.name: p.base for p in pattern.pieces if p.base is not None}
    slides: list[_Slide | _Rise] = []
    if arch is not None:
        slides = [_Rise(arch, _gains(pattern, found, arch.second, arch.count, offs, bases))]
    for end in ends:
        slides.append(_slide(pattern, found, end, offs, 1.0 / len(ends), bases, shown))
    pieces: list[Piece] = []
    notes: list[Finding] = []
    made: dict[str, Piece] = {}
    for piece in pattern.pieces:
        mine = [s for s in slides if s.piece == piece.name]
        if not mine:
            pieces.append(piece)
            continue
        base = piece.base
        try:
            new, ways = _slid(piece, mine, limit, found.name)
            if base is not None:
                if piece.name not in made:
                    made[piece.name], _ = _slid(base, mine, None, found.name)
                new = replace(new, base=made[piece.name])
        except SizewrightError as error:
            raise error.at(where) from None
        for slide, way in zip(mine, ways, strict=True):
            if abs(way) >= _TRUE:
                notes.append(_told(found, slide, piece, way))
        pieces.append(new)
    touched = [slide.piece for slide in slides]
    after = _notches_placed(pattern.with_pieces(pieces), touched)
    return Redrafted(after, (*notes, *_others(pattern, after, found, touched)))


# --- what is asked ------------------------------------------------------------------------


def _seam(pattern: Pattern, name: str) -> Seam:
    for seam in pattern.seams:
        if seam.name == name:
            return seam
    piece, words = split_reference(name)
    darts = {f"{p.name}:{d.name}": (p, d) for p in pattern.pieces for d in p.darts}
    mine = [key for key in darts if key == name or (piece is None and key.endswith(f":{words}"))]
    if len(mine) == 1:
        whose, dart = darts[mine[0]]
        if dart.tip is None:
            raise GeometryError(
                f'the legs of the dart "{dart.name}" are only drawn, not part of the outline',
                where=whose.name,
                cure="Move an end of its mouth, or its tip, in the drawing.",
            )
        refs = [whose.outline.reference(v) for v in (dart.a, dart.tip, dart.b)]
        a, tip, b = refs
        legs = [f"{a}..{tip}", f"{tip}..{b}"]
        first, second = ((ChainPart(whose.name, leg),) for leg in legs)
        return Seam(mine[0], first, second)
    known = [s.name for s in pattern.seams]
    raise LookupFailed(
        f'there is no seam or dart "{name}"',
        cure=f"Seams: {', '.join(known) or 'none'}; darts: {', '.join(darts) or 'none'}.",
    )


def _refuse_cut(pattern: Pattern, seam: Seam, size: str | None) -> None:
    cut = [n for n in sorted(seam.pieces()) if pattern.piece(n, size).kind == "cut"]
    if cut:
        raise GeometryError(
            "its outline is a cutting line, which is not what is sewn",
            where=cut[0],
            cure="Take its allowance off first: grade it, or draw the sewing line.",
        )


def _chosen(
    pattern: Pattern, seam: Seam, move: str | None, share: bool, size: str | None
) -> list[SeamEnd]:
    """The end or ends that slide."""
    where = f'seam "{seam.name}"'
    ends = seam_ends(pattern, seam, size)
    free = [e.place for e in ends if e.free] + [e.place for e in ends if e.others and not e.stuck]
    free += [arch.name for arch in arch_sides(pattern, seam, size)]
    names = ", ".join(f'"{place}"' for place in dict.fromkeys(free)) or "none"
    if move is not None:
        named = [end for end in ends if end.place == move or _names(pattern, move, end, size)]
        if not named:
            raise LookupFailed(
                f'"{move}" is no end of a run of it', where=where, cure=f"Ends: {names}."
            )
        end = next((e for e in named if not e.stuck), named[0])
        _refuse_stuck(end, where, names)
        return [end, _mate(seam, end, ends, where)] if share else [end]
    pairs = [
        (end, mate)
        for end in ends
        if end.second and end.free
        for mate in (_met(seam, end, ends),)
        if mate is not None and mate.free
    ]
    if share and len(pairs) == 1:
        return list(pairs[0])
    how = "Name one of them with share" if share else "Say which"
    raise UsageError(
        "nothing says which end is to move",
        where=where,
        cure=f"{how}: move = one of {names}"
        + ("." if share else "; or share = true, for one on each side."),
    )


def _names(pattern: Pattern, move: str, end: SeamEnd, size: str | None) -> bool:
    piece, point = split_reference(move)
    if piece is not None and piece != end.part.piece:
        return False
    try:
        return pattern.piece(end.part.piece, size).outline.vertex(point) == end.vertex
    except SizewrightError:
        return False


def _refuse_stuck(end: SeamEnd, where: str, names: str) -> None:
    if end.stuck:
        raise GeometryError(
            f"{end.place} cannot slide: {end.stuck}", where=where, cure=f"Others: {names}."
        )


def _mate(seam: Seam, end: SeamEnd, ends: Sequence[SeamEnd], where: str) -> SeamEnd:
    mate = _met(seam, end, ends)
    if mate is None:
        raise GeometryError(
            f"no end of the other side meets {end.place}",
            where=where,
            cure="Leave share out, or name an end where the seam begins or ends.",
        )
    if mate.stuck:
        raise GeometryError(
            f"{mate.place}, which meets {end.place}, cannot slide: {mate.stuck}", where=where
        )
    return mate


def _met(seam: Seam, end: SeamEnd, ends: Sequence[SeamEnd]) -> SeamEnd | None:
    """The end on the other side of a seam that meets this one where the seam begins or ends."""
    chains = (seam.second, seam.first) if end.second else (seam.first, seam.second)
    for k in (0, -1):
        if end.part == chains[0][k] and end.begins == (k == 0):
            for other in ends:
                there = other.second != end.second and other.part == chains[1][k]
                if there and other.begins == (k == 0):
                    return other
    return None


# --- sliding ------------------------------------------------------------------------------


def _slide(
    pattern: Pattern,
    seam: Seam,
    end: SeamEnd,
    offs: Mapping[str | None, float],
    part: float,
    bases: Mapping[str, Piece],
    size: str | None,
) -> _Slide:
    """By how much the run of an end is to gain, in each size and on the base."""
    gains = _gains(pattern, seam, end.second, end.part.count / part, offs, bases)
    most = max(abs(gain) for gain in gains.values())
    piece = pattern.piece(end.part.piece, size)
    over = max(_LEAST, _BEYOND * most) / _beyond(piece, end)
    return _Slide(end, gains, over if over < _WHOLE else None)


def _gains(
    pattern: Pattern,
    seam: Seam,
    second: bool,
    count: float,
    offs: Mapping[str | None, float],
    bases: Mapping[str, Piece],
) -> dict[str | None, float]:
    """By how much a run that counts so often is to gain, in each size and on the base."""
    # A share of ease counts in the second side's length too.
    ease = seam.ease.amount if seam.ease is not None and seam.ease.share else 0.0
    unit = (1.0 / (1.0 + ease) if second else -1.0) / count
    gains = {s: off * unit for s, off in offs.items()}
    if seam.pieces() <= set(bases) and None not in gains:
        base = Pattern(tuple(replace(p, size=None) for p in bases.values()), None, pattern.seams)
        gains[None] = match_seam(base, seam).off * unit
    return gains


def _beyond(piece: Piece, end: SeamEnd) -> float:
    """The way along the edge beyond an end to where a smooth change must stop, mm."""
    path = piece.outline.path
    way = float(path.cumulative[next_stop(piece, end)] - path.cumulative[end.vertex])
    return way * (1 if end.at_end else -1) % path.length or path.length


def _slid(
    piece: Piece, slides: Sequence[_Slide | _Rise], limit: float | None, seam: str
) -> tuple[Piece, list[float]]:
    """The piece in its size with its ends slid, and how far each did, mm; the base has no limit."""
    ways: list[float] = []
    size, title = (None, "the base") if limit is None else (piece.size, piece.title)
    for slide in slides:
        gain = slide.gains.get(size, 0.0)
        if isinstance(slide, _Rise):
            name = slide.arch.name
            try:
                piece, by = raised(piece, slide.arch.run, gain)
            except GeometryError as error:
                raise error.at(f"{name} in {title}") from None
            _refuse_far(f"{name} would have to be drawn {_way(by)}", by, limit, title)
            ways.append(by)
            continue
        end = slide.end.on(piece)
        stop = next_stop(piece, end)
        if slide.fair is not None:
            way = slide.fair * _beyond(piece, end) * (1 if end.at_end else -1)
            s = float(piece.outline.path.cumulative[end.vertex] + way)
            piece, point = piece.with_vertex(s % piece.outline.path.length)
            end, stop = end.on(piece), point.vertex
        try:
            piece, by = slid(piece, end, gain, stop)
        except GeometryError as error:
            raise error.at(f"{end.place} in {title}") from None
        _refuse_far(f"{end.place} would have to slide {both(abs(by))}", by, limit, title)
        ways.append(by)
    return piece.with_changes(f"{seam}: brought to its mate"), ways


def _refuse_far(what: str, by: float, limit: float | None, title: str) -> None:
    if limit is not None and abs(by) > limit + _SLACK:
        raise GeometryError(
            f"{what} in {title}, more than the limit of {both(limit)}",
            cure="Raise limit, or say with seam-ease what is to be eased or gathered in.",
        )


def _way(by: float) -> str:
    return f"{both(abs(by))} {'higher' if by > 0 else 'lower'}"


# --- what is told -------------------------------------------------------------------------


def _told(seam: Seam, slide: _Slide | _Rise, piece: Piece, by: float) -> Finding:
    if isinstance(slide, _Rise):
        text = f"{slide.arch.name} is drawn {_way(by)} at its top"
        return piece.finding("edge-trued", "note", text, seam.name)
    end = slide.end.on(piece)
    line = edge_name(piece, end.vertex, beside(piece.outline, end.vertex, end.at_end)[1])
    way = "out" if by > 0 else "back"
    return piece.finding(
        "edge-trued",
        "note",
        f"{end.place} slid {way} {both(abs(by))} along {end.part.run}, and {line} is faired to it",
        seam.name,
    )


def _notches_placed(pattern: Pattern, names: Sequence[str]) -> Pattern:
    """Notches that the seams of some pieces had placed, placed anew."""
    there = {n.seam for p in pattern.pieces if p.name in names for n in p.notches}
    mine = tuple(seam for seam in pattern.seams if seam.name in there)
    return replace(place_seam_notches(replace(pattern, seams=mine)), seams=pattern.seams)


def _others(
    before: Pattern, after: Pattern, but: Seam, touched: Sequence[str]
) -> Iterator[Finding]:
    """What other seams gain or lose by the line that was faired."""
    for seam in before.seams:
        if seam.name == but.name or seam.pieces().isdisjoint(touched):
            continue
        for size in before.sizes or (None,):
            try:
                was, now = (match_seam(p, seam, size) for p in (before, after))
            except SizewrightError:
                continue  # the check of seams tells what is wrong with it
            gains = [
                (format_chain(chain), b.length - a.length)
                for chain, a, b in (
                    (seam.first, was.first, now.first),
                    (seam.second, was.second, now.second),
                )
            ]
            said = [
                f"{chain} is {both(abs(gain))} {'longer' if gain > 0 else 'shorter'}"
                for chain, gain in gains
                if abs(gain) > _SILENT
            ]
            if said:
                off = now.misfit()
                yield seam.finding(
                    "seam-changed",
                    "warn" if off else "note",
                    f"by this, {' and '.join(said)}" + ("" if off else ", and still matches"),
                    size,
                    f"Then bring its mate to it: true-edge with seam = {seam.name}." if off else "",
                )
