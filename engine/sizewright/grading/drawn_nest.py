"""A size out of a nest that is drawn already: one of its sizes, one between two, or a blend
that runs from the line of one size to that of another."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..errors import InputError, SizewrightError, UsageError
from ..findings import Finding
from ..geometry.types import Floats
from ..model.features import Notch
from ..model.outline import Outline, Spot
from ..model.overlay import over_each_other
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..units import both
from .by_rules import Graded
from .carried import carried, placed
from .checks import kinks, refuse_fold_over
from .dart_share import Shared, darts_sharing
from .levels import LEVELS, level_name
from .line_ends import lines_ended
from .mixed import SizedPiece, sized_pieces
from .seam_notches import placed_on_seams
from .set_in import caps_following
from .sizes import moved_place, position, same_size, shown_size, size_at
from .tables import SizeChart
from .target import BODY, Asked, main_measure
from .truing import Truing, trued

#: A smooth vertex whose handles are shorter than this share of the piece has no tangent.
_NO_HANDLE = 1e-9
#: A body so little beyond the outermost line is on it, as a share of a step.
_AT_END = 0.01


def size_from_nest(
    pattern: Pattern,
    size: str | None,
    asked: Asked | None = None,
    chart: SizeChart | None = None,
) -> Graded:
    """The pattern in a size of the nest that it holds, in one between two of them (`13`), or
    blended between the drawn lines where `asked.at` gives other sizes at levels.

    `asked.measures` of a body (mm) become sizes at their levels by `chart`, whose sizes are
    those of the nest; each level then lies between the two lines nearest to it. Without
    `size` the body's main measure tells it.

    The pieces must have the same vertices in every size, one for one, and lie over each
    other; those without a size stay as they are. A drawn size alone comes out as it was
    drawn. Between two sizes every control point lies on the straight line between its two
    places. Raises InputError where sizes do not correspond, with the piece and what differs,
    LookupFailed and UsageError as `grade` does.
    """
    asked = asked or Asked()
    order = nest_sizes(pattern)
    by_body, told = _body_places(order, asked.measures, chart)
    if size is not None:
        main = position(order, size, between=True, what="the nest")
    elif by_body:
        main = by_body[main_measure(by_body)]
        size = size_at(order, main)
    else:
        raise UsageError("no size is asked for", cure=f"Name some (--to): {', '.join(order)}.")
    said = {level_name(k) for k in asked.at}
    levels = {k: place for k, place in by_body.items() if level_name(k) in LEVELS.keys() - said} | {
        k: position(order, v, between=True, what="the nest") for k, v in asked.at.items()
    }
    nests = [_nest(pattern, name, order) for name in pattern.names]
    near = int(min(max(round(main), 0), len(order) - 1))
    bases = [nest[near] for nest in nests]
    sized, missing = sized_pieces(bases, pattern.seams, main, levels, wanted=asked.at, smooth=True)
    plain = all(place == main for place in levels.values())
    drawn = {nest[0].name: nest for nest in nests}
    caps = caps_following(
        sized,
        pattern.seams,
        levels,
        lambda one: _blended(drawn[one.piece.name], one, ""),
        len(order) - 1.0,
    )
    if caps:
        sized, missing = sized_pieces(
            bases, pattern.seams, main, levels, wanted=asked.at, smooth=True, caps=caps
        )
    known = plain and main == int(main) and not asked.measures
    own = BODY if asked.measures else _label(size, asked.at, plain)
    label = order[int(main)] if known else asked.label or own
    if not known and any(same_size(label) == same_size(s) for s in order):
        raise UsageError(f'"{label}" is a size of the nest', cure="Give another label.")
    findings = [*told, *missing, *(cap.told(order, label) for cap in caps)]
    if plain and main != int(main):
        a, b = order[int(main)], order[int(main) + 1]
        text = f"size {label} is drawn between {a} and {b}"
        findings.append(Finding("between-sizes", "note", text, size=label))
    pieces: list[Piece] = []
    for nest, one in zip(nests, sized, strict=True):
        if len(nest) == 1 or nest[0] is nest[-1]:
            pieces.append(nest[0])
            continue
        shared = _darts(nest, one)
        findings += shared.told(one.piece.name, label)
        piece = _blended(nest, one, label, shared)
        if piece.story != one.piece.story:
            piece, found = trued(one.piece, piece, one.frame, Truing())
            piece = lines_ended(one.piece, piece)
            refuse_fold_over(one.piece, piece, label)
            findings += [*found, *kinks(one.piece.outline, piece)]
        pieces.append(piece)
    by_name = {p.name: p for p in pieces}
    if not known:
        by_name, off = placed_on_seams({p.name: p for p in bases}, by_name, pattern.seams)
        findings += off
    out = replace(pattern, pieces=tuple(by_name[p.name] for p in pieces))
    return Graded(replace(out, base_size=None if not known else label), tuple(findings))


def nest_sizes(pattern: Pattern) -> tuple[str, ...]:
    """The sizes of a nest from the smallest up: by number, else by the area of their pieces.

    Raises UsageError for a pattern of one size.
    """
    sizes = pattern.sizes
    if len(sizes) < 2:
        raise UsageError(
            "the drawing holds no nest of sizes, so rules are needed",
            cure="Give a table of rules (--rules).",
        )
    try:
        return tuple(sorted(sizes, key=lambda s: float(same_size(s))))
    except ValueError:
        areas = {s: sum(p.area for p in pattern.pieces if p.size == s) for s in sizes}
        return tuple(sorted(sizes, key=areas.__getitem__))


def _body_places(
    order: Sequence[str], measures: Mapping[str, float], chart: SizeChart | None
) -> tuple[dict[str, float], list[Finding]]:
    """The places among drawn sizes that a body's measures (mm) tell, and what is said of them.

    Raises UsageError without a chart, and for a body that lies beyond the drawn sizes.
    """
    if not measures:
        return {}, []
    if chart is None:
        raise UsageError(
            "body measures need the size chart that the drawn sizes were made for",
            cure="Give it (--chart), or ask for sizes at levels (--at).",
        )
    places: dict[str, float] = {}
    for measure, value in measures.items():
        if measure not in chart.values:
            continue
        place = chart.place_of(measure, value)
        try:
            moved = moved_place(place, chart.sizes, order, beyond=True, what="the nest")
        except SizewrightError as error:
            raise error.at(f"{measure} {both(value)}") from None
        last = len(order) - 1
        if not -_AT_END <= moved <= last + _AT_END:
            size = size_at(chart.sizes, place)
            raise UsageError(
                f"{measure} {both(value)} is size {size}, beyond the drawn "
                f"{order[0]} to {order[-1]}",
                where="the nest",
                cure="There is nothing beyond the last line: learn rules from the nest "
                "(sizewright learn) and grade by those.",
            )
        places[measure] = min(max(moved, 0.0), float(last))
    if not places:
        chart.value(next(iter(measures)), chart.sizes[0])
    told = [f"{m} {both(measures[m])} is size {size_at(order, p)}" for m, p in places.items()]
    findings = [Finding("size-by-measure", "note", "; ".join(told))]
    lost = [m for m in measures if m not in places]
    if lost:
        text = f"the chart has no {', '.join(lost)}: no size is told by it"
        findings.append(Finding("measures-not-in-chart", "note", text))
    idle = [m for m in places if level_name(m) not in LEVELS and m != main_measure(places)]
    if idle:
        text = f"drawn lines have no level for {', '.join(idle)}, so it changes nothing"
        cure = f"A body goes by sizes at levels: {', '.join(LEVELS)}."
        findings.append(Finding("measures-unused", "warn", text, cure=cure))
    return places, findings


def _label(size: str, at: Mapping[str, str], plain: bool) -> str:
    levels = () if plain else at.items()
    return "-".join([shown_size(size), *(f"{k}-{shown_size(v)}" for k, v in levels)])


def _nest(pattern: Pattern, name: str, order: Sequence[str]) -> list[Piece]:
    """A piece in every size of `order`. Raises InputError where they do not correspond."""
    several = {p.size: p for p in pattern.sizes_of(name)}
    if set(several) == {None}:
        return [several[None]] * len(order)
    missing = [s for s in order if s not in several]
    if missing:
        raise InputError(
            f"the piece is not there in size {', '.join(missing)}",
            where=name,
            cure="A blend needs every piece in every size of the nest.",
        )
    nest = [several[s] for s in order]
    first = nest[0]
    for other in nest[1:]:
        _refuse_unlike(name, first, other)
        if not over_each_other(first, other):
            raise InputError(
                f"sizes {first.size} and {other.size} are drawn apart, not over each other",
                where=name,
                cure="Lay the sizes over each other, or learn rules from the nest "
                "(sizewright learn) and grade by them.",
            )
    return nest


def _refuse_unlike(name: str, a: Piece, b: Piece) -> None:
    """Raise InputError where two sizes have not the same vertices one for one."""
    for first, second in ((a.outline, b.outline), (a.cut_line, b.cut_line)):
        if first is None and second is None:
            continue
        if first is None or second is None:
            what = "one has a sewing line within, the other not"
        elif len(first.path) != len(second.path):
            what = f"one has {len(first.path)} points, the other {len(second.path)}"
        elif first.corners != second.corners:
            what = f"corners {list(first.corners)} against {list(second.corners)}"
        elif _names(first) != _names(second):
            what = "points of other names"
        else:
            continue
        raise InputError(
            f"sizes {a.size} and {b.size} do not correspond point for point: {what}",
            where=name,
            cure="Learn rules from the nest (sizewright learn) and grade by them.",
        )


def _names(outline: Outline) -> dict[int, str]:
    return {p.vertex: p.name for p in outline.points if p.name}


# --- the blend ------------------------------------------------------------------------


def _darts(nest: Sequence[Piece], one: SizedPiece) -> Shared:
    """The darts of a blend, each with its share of what the lines differ by."""
    vertices = one.piece.outline.path.vertices
    stack = np.stack([p.outline.path.vertices for p in nest])
    here = _between(stack, one.at(vertices))

    def more(place: float) -> Floats:
        return here - _between(stack, np.full(len(vertices), place))

    return darts_sharing(one, range(len(vertices)), more)


def _blended(
    nest: Sequence[Piece], one: SizedPiece, label: str, shared: Shared | None = None
) -> Piece:
    source = one.piece
    places = one.at(source.outline.path.vertices)
    if np.all(places == places[0]) and places[0] == int(places[0]):
        drawn = nest[int(places[0])]
        return drawn if drawn.size == label else replace(drawn, size=label)
    darts = shared or Shared(one.frame.local(source.outline.path.vertices))
    out = one.frame.out
    moved = darts.at_vertices()[:, None] * out
    outline = _outline([p.outline for p in nest], source.outline, places, moved)
    cut = source.cut_line
    if cut is not None:
        lines = [p.cut_line for p in nest if p.cut_line is not None]
        vertices = cut.path.vertices
        moved = darts.at(one.frame.local(vertices))[:, None] * out
        cut = _outline(lines, cut, one.at(vertices), moved)
    piece = replace(source, outline=outline, cut_line=cut, size=label, base=None)
    piece = _with_features(nest, piece, one, darts)
    notches = tuple(_notch(nest, k, outline, one) for k in range(len(source.notches)))
    return replace(piece, notches=notches).with_changes("blended between drawn sizes")


def _outline(drawn: Sequence[Outline], source: Outline, places: Floats, moved: Floats) -> Outline:
    """An outline each vertex of which lies at its own place between the drawn ones, and `moved`
    (n, 2) from there."""
    controls = np.stack([o.path.controls for o in drawn])
    n = len(source.path)
    after = np.roll(places, -1)
    mixed = np.empty((n, 4, 2))
    for k in range(4):
        mixed[:, k] = _between(controls[:, :, k], places if k < 2 else after)
        mixed[:, k] += moved if k < 2 else np.roll(moved, -1, axis=0)
    turns = np.stack([o.path.turns for o in drawn])[:, :, None]
    path = source.path.with_controls(_smoothed(source, mixed, _between(turns, places)[:, 0]))
    return source.with_path(path)


def _between(stack: Floats, places: Floats) -> Floats:
    """Points (m, 2) at places (m,) between those of the sizes, (sizes, m, 2)."""
    low = np.clip(np.floor(places).astype(int), 0, len(stack) - 2)
    share = (places - low)[:, None]
    rows = np.arange(stack.shape[1])
    a, b = stack[low, rows], stack[low + 1, rows]
    out: Floats = np.where(share == 1.0, b, a + share * (b - a))
    return out


def _smoothed(source: Outline, controls: Floats, turns: Floats) -> Floats:
    """Handles of smooth vertices turned onto one tangent, or to the slight bend (`turns`, degrees)
    that is drawn there; their lengths kept.

    Lines of two sizes whose handles differ in length do not blend to one tangent by
    themselves.
    """
    bends = np.radians(turns)
    corners = set(source.corners)
    lines = source.path.lines
    size = float(np.abs(controls - controls[0, 0]).max())
    out = controls.copy()
    for v in range(len(controls)):
        before = v - 1
        if v in corners or lines[v] or lines[before]:
            continue
        into = controls[before, 3] - controls[before, 2]
        outof = controls[v, 1] - controls[v, 0]
        a, b = float(np.hypot(*into)), float(np.hypot(*outof))
        if min(a, b) <= _NO_HANDLE * size:
            continue
        c, s = math.cos(bends[v]), math.sin(bends[v])
        bend = np.array([[c, -s], [s, c]])
        tangent = into + outof @ bend
        tangent = tangent / float(np.hypot(*tangent))
        out[before, 2] = controls[v, 0] - a * tangent
        out[v, 1] = controls[v, 0] + b * bend @ tangent
    return out


def _with_features(nest: Sequence[Piece], piece: Piece, one: SizedPiece, darts: Shared) -> Piece:
    """What lies free on the piece, blended too where every size has the same of it."""
    parts = [carried(p) for p in nest]
    shapes = [[(c.kind, c.points.shape) for c in part] for part in parts]
    if any(shape != shapes[0] for shape in shapes) or not parts[0]:
        return piece
    stack = np.stack([np.concatenate([c.points for c in part]) for part in parts])
    here = np.concatenate([c.points for c in carried(one.piece)])
    moved = darts.at(one.frame.local(here))[:, None] * one.frame.out
    return placed(piece, _between(stack, one.at(here)) + moved)


def _notch(nest: Sequence[Piece], k: int, outline: Outline, one: SizedPiece) -> Notch:
    """A notch on the blended outline: its distances in the sizes blended like its place."""
    notch = one.piece.notches[k]
    same = [
        p.notches[k].at.distance
        for p in nest
        if k < len(p.notches) and p.notches[k].at.start == notch.at.start
    ]
    distance = notch.at.distance
    if len(same) == len(nest):
        s = one.piece.outline.arc_length_of(notch.at)
        place = one.at(one.piece.outline.path.at(np.array([s])))
        stack = np.array(same)[:, None, None] * np.ones((1, 1, 2))
        distance = float(_between(stack, place)[0, 0])
    length = outline.edge_from(notch.at.start).length
    return replace(notch, at=Spot(notch.at.start, min(max(distance, 0.0), length)))


__all__ = ["nest_sizes", "size_from_nest"]
