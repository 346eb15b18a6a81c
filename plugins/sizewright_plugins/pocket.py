"""Drafts pockets, and places them on every piece that they touch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding
from sizewright.geometry import Floats, Path, affine, crossings, flatten, nearest_point
from sizewright.model import (
    FOLD_LINE,
    ChainPart,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Place,
    Point,
    Quantity,
    Run,
    RunReference,
    Seam,
    SeamMatch,
    Side,
    axis_frame,
    match_seam,
    walk,
)
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl
from sizewright.units import both

from .openings import OPENING, SIDE, by_size, clashes, on_side, seams_of_two, stretch

if TYPE_CHECKING:
    from sizewright.drafting import Settled

api = 1

_CHORD, _DEPTH = 0.01, 5.0
#: So near the fold, mm, the middle of a pocket lies on it.
_ON_FOLD = 0.1
#: A bag that reaches further past the edges of its piece is told, mm.
_PAST = 25.0


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `pocket`."""
    return [
        Operation(
            "pocket",
            "draft a pocket, and place it on every piece that it touches",
            draft,
            (
                Setting(
                    "at",
                    "place",
                    "patch: the middle of its upper edge; inseam: on the seam, the upper end of "
                    "its opening",
                    required=True,
                ),
                Setting(
                    "kind",
                    "choice",
                    "sewn onto the cloth, or hung into a seam",
                    "patch",
                    choices=("patch", "inseam"),
                ),
                Setting("width", "length", "its finished width", required=True, low=20),
                Setting("depth", "length", "its finished depth", required=True, low=20),
                Setting("name", "text", "what it is called", "pocket"),
                Setting(
                    "hem", "length", "what is turned in at a patch's upper edge", "1 in", low=0
                ),
                Setting("opening", "length", "how long an inseam pocket is open", "6 in", low=30),
                SIDE,
            ),
            before_grading=True,
        )
    ]


def draft(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the pocket's piece, and its place on those that it touches."""
    place: Place = values["at"]
    if place.piece is None:
        raise InputError(
            f'"{place.text}" does not say on which piece the pocket lies',
            cure='Write it like "front: 4 cm across from bust-point".',
        )
    pattern.piece(place.piece)
    if place.side != "both":
        if values["side"] not in ("both", place.side):
            raise InputError(
                f'"{place.text}" is on the wearer\'s {place.side}, and side says {values["side"]}',
                where=values["name"],
                cure="Let both say the same, or leave side out.",
            )
        values = {**values, "side": place.side}
    if values["kind"] == "inseam":
        return _inseam(pattern, place, values)
    return _patch(pattern, place, values)


def _count(piece: Piece, values: Values, *, over_fold: bool = False) -> int:
    """How many pockets the garment has."""
    twice = (piece.fold is not None and not over_fold) or piece.pair
    return 2 if twice and values["side"] == "both" else 1


# --- patch ----------------------------------------------------------------------------------


def _patch(pattern: Pattern, place: Place, values: Values) -> Outcome:
    from sizewright.drafting import (
        Settled,
        drafted_piece,
        drawn_sizes,
        lengthwise_grain,
        with_drafted,
        with_remade,
    )

    settled = Settled()
    made: dict[int, Piece] = {}
    findings: list[Finding] = []
    along: dict[RunReference, None] = {}
    count = 1
    for part, size in drawn_sizes(pattern, [str(place.piece)]):
        piece = part.piece(str(place.piece), size)
        box = _box(piece, settled.place(piece, place).point, values)
        over_fold = _crosses_fold(piece, box)
        _check_darts(piece, box)
        count = settled.once("count", partial(_count, piece, values, over_fold=over_fold))
        made[id(piece)] = _placed(piece, box, values)
        for over in _beyond(part, piece, box, size):
            made[id(over.mate)] = _placed(over.mate, over.box, values)
            along |= dict.fromkeys(over.along)
            if part is pattern:
                findings += clashes(piece, values["name"], over.taken, values["side"])
    after = with_remade(pattern, made)
    wide, deep, hem = values["width"], values["depth"], values["hem"]

    def make(size: str | None) -> list[Piece]:
        corners = [
            ("low-left", (0.0, 0.0)),
            ("low-right", (wide, 0.0)),
            ("top-right", (wide, deep + hem)),
            ("top-left", (0.0, deep + hem)),
        ]
        fold = Mark(Path.polyline([(0.0, deep), (wide, deep)]), FOLD_LINE, "hem-fold")
        return [
            drafted_piece(
                values["name"],
                size,
                corners,
                {"lower": ("low-left", "low-right"), "upper": ("top-right", "top-left")},
                f"patch pocket drafted {both(wide)} wide and {both(deep)} deep for {place.text}",
                quantity=(Quantity("main", count),),
                marks=(fold,) if hem else (),
                grain=lengthwise_grain((0.0, 0.0, wide, deep + hem), 90.0),
            )
        ]

    return Outcome(
        with_drafted(after, make), by_size(pattern, findings), (values["name"],), tuple(along)
    )


def _box(piece: Piece, top: Floats, values: Values) -> Path:
    """The pocket on its piece, closed and counter-clockwise, level by the piece's axis."""
    up = axis_frame(piece)[0].up
    right = np.array([up[1], -up[0]]) * values["width"] / 2
    down = -up * values["depth"]
    corners = [top - right + down, top + right + down, top + right, top - right]
    return Path.polyline(corners, closed=True)


def _crosses_fold(piece: Piece, box: Path) -> bool:
    """Whether it lies over the fold. Raises GeometryError where its middle is beside that."""
    if piece.fold is None:
        return False
    fold = piece.outline.run_path(Run(piece.fold.start, piece.fold.end))
    if not crossings(box, fold):
        return False
    low_left, _, top_right, _ = box.vertices
    beside = nearest_point(fold, (low_left + top_right) / 2).distance
    if beside > _ON_FOLD:
        raise GeometryError(
            f"the pocket lies over the fold, and its middle {both(beside)} beside it, so that two "
            "would lie one over the other",
            where=piece.title,
            cure="Place its middle on the fold or further from it; or open the piece out first "
            "(fold-marks).",
        )
    return True


def _check_darts(piece: Piece, box: Path) -> None:
    """Refuse a pocket whose line crosses a dart that is cut out of the outline."""
    for dart in piece.darts:
        legs = piece.outline.run_path(Run(dart.a, dart.b))
        if dart.tip is not None and crossings(box, legs):
            raise GeometryError(
                f"the pocket lies over the dart {dart.name}, which is cut out there",
                where=piece.title,
                cure="Place it past the dart's tip, or beside the dart.",
            )


def _placed(piece: Piece, box: Path, values: Values) -> Piece:
    """The piece with what of the pocket's line lies on it."""
    import shapely

    cloth = shapely.Polygon(flatten(piece.outline.path, _CHORD))
    area = shapely.Polygon(box.vertices)
    kind, name = "place of", values["name"]
    if cloth.contains(area):
        lines = [box]
    else:
        ring = shapely.LineString([*box.vertices, box.vertices[0]])
        found = shapely.line_merge(shapely.intersection(ring, cloth))
        parts = [g for g in getattr(found, "geoms", [found]) if g.length > _CHORD]
        lines = [Path.polyline(np.asarray(part.coords)) for part in parts]
    if not lines:
        raise GeometryError(
            f"no part of {name} lies on it", where=piece.title, cure="Take another place."
        )
    marks = [
        Mark(line, kind, name + (f"-{k}" if k > 1 else ""), values["side"])
        for k, line in enumerate(lines, 1)
    ]
    return replace(piece, marks=(*piece.marks, *marks)).with_changes(f"{name} placed on it")


class _Over(NamedTuple):
    """The piece that a pocket lies on past a seam, its line there, as the seam is sewn, the edges
    of the seam, and the stretch of the own edge that it lies over (arc length, and how long)."""

    mate: Piece
    box: Path
    along: tuple[RunReference, ...]
    taken: tuple[float, float]


def _beyond(pattern: Pattern, piece: Piece, box: Path, size: str | None) -> Iterator[_Over]:
    """Where the pocket goes on past a seam of its piece."""
    outline = piece.outline
    found = sorted({round(c.s1, 6) for c in crossings(box, outline.path)})
    fold = piece.fold
    if fold is not None:
        on = Run(fold.start, fold.end)
        begin, long = float(outline.path.cumulative[on.start]), outline.run_length(on)
        found = [s for s in found if (s - begin) % outline.path.length > long + 1e-6]
    if not found:
        return
    mates = []
    for seam in pattern.seams:
        for flip in (False, True):
            one = seam.turned() if flip else seam
            match = match_seam(pattern, one, size)
            here = [next(iter(match.first.distances(piece.name, s)), None) for s in found]
            if all(d is not None for d in here):
                mates.append((match, [float(d) for d in here if d is not None]))
                break
    if len(found) != 2 or not mates:
        edges = (outline.edge_along(s)[0] for s in found)
        over = dict.fromkeys(edge.name or f"#{edge.number}" for edge in edges)
        raise GeometryError(
            f"the pocket leaves the piece over {' and '.join(over)}, and no one seam goes on there",
            where=piece.title,
            cure="Let it lie within the piece, over its fold, or over one seam.",
        )
    match, along = mates[0]
    mate, there = _over_seam(piece, box, found, match, along)
    _check_within(mate, there, match)
    steps = (*match.first.steps, *match.second.steps)
    sewn = tuple(RunReference(step.part.piece, step.part.run) for step in steps)
    # The shorter way round is the one within the edge.
    (a, b), total = found, outline.path.length
    taken = (a, b - a) if b - a < total / 2 else (b, total - b + a)
    yield _Over(mate, there, sewn, taken)


def _check_within(mate: Piece, box: Path, match: SeamMatch) -> None:
    """Refuse a pocket that leaves the piece past the seam, other than over that seam."""
    path = mate.outline.path
    for cross in crossings(box, path):
        if next(match.second.distances(mate.name, cross.s1), None) is None:
            edge = mate.outline.edge_along(cross.s1)[0]
            raise GeometryError(
                f"past the seam the pocket leaves the piece again, over "
                f"{edge.name or f'#{edge.number}'}",
                where=mate.title,
                cure="Take a smaller one, or move it along the seam.",
            )


def _over_seam(
    piece: Piece, box: Path, own: Sequence[float], match: SeamMatch, here: Sequence[float]
) -> tuple[Piece, Path]:
    there = [match.second.place(match.to_second(d)) for d in here]
    mate = there[0][0]
    if there[1][0] is not mate:
        raise GeometryError(
            "the pocket lies over a seam of three pieces",
            where=piece.title,
            cure="Move it along the seam.",
        )
    ours = piece.outline.path.at(np.array(own))
    theirs = mate.outline.path.at(np.array([s for _, s in there]))
    way, to = ours[1] - ours[0], theirs[1] - theirs[0]
    turn = np.degrees(np.arctan2(to[1], to[0]) - np.arctan2(way[1], way[0]))
    (ax, ay), (bx, by) = ours.mean(axis=0), theirs.mean(axis=0)
    move = affine.compose(
        affine.translation(float(bx), float(by)),
        affine.rotation(float(turn)),
        affine.translation(-float(ax), -float(ay)),
    )
    # Both pieces lie outside up: past the seam is inside the mate. One drawn the other way
    # round is turned over.
    outward = -_inward(piece, own[0])
    if float((move[:, :2] @ outward) @ _inward(mate, there[0][1])) < 0:
        move = affine.compose(affine.mirror(theirs[0], theirs[1]), move)
    moved = box.transformed(move)
    return mate, moved if affine.determinant(move) > 0 else moved.reversed()


def _inward(piece: Piece, s: float) -> Floats:
    tangent = piece.outline.path.tangents(s)
    return np.array([-tangent[1], tangent[0]])


# --- inseam ---------------------------------------------------------------------------------


class _Open(NamedTuple):
    """Where a seam is left open in one size: distances on both chains, mm, from the upper end
    of the opening to the lower one."""

    match: SeamMatch
    first: tuple[float, float]


def _inseam(pattern: Pattern, place: Place, values: Values) -> Outcome:
    from sizewright.drafting import Settled, drawn_sizes, with_drafted, with_remade

    name = values["name"]
    if values["depth"] <= values["opening"]:
        raise InputError(
            f"the pocket is {both(values['depth'])} deep, and open for {both(values['opening'])}",
            where=name,
            cure="Let depth be more than opening.",
        )
    settled = Settled()
    seam, side = _seam_at(pattern, place, settled, values["side"])
    values = {**values, "side": side}
    findings: list[Finding] = []
    made: dict[int, Piece] = {}
    for part, size in drawn_sizes(pattern, [str(place.piece)]):
        one = _opened(part, seam, place, values, settled, size)
        for chain, (a, b) in (
            (one.match.first, one.first),
            (one.match.second, tuple(one.match.to_second(d) for d in one.first)),
        ):
            (piece, s), (other, t) = chain.place(a), chain.place(b)
            if piece is not other:
                raise GeometryError("its opening lies over two pieces", where=piece.title)
            done = made[id(piece)] = _with_opening(piece, s, t, values)
            if part is pattern:
                taken = stretch(done, done.run(name + OPENING))
                findings += clashes(done, name + OPENING, taken, values["side"])
    after = with_remade(pattern, made)
    (front,), (back,) = seam.first, seam.second
    whose = pattern.piece(front.piece)

    def make(size: str | None) -> list[Piece]:
        piece = after.piece(front.piece, size)
        bag = _bag(piece, values, size, 2 * _count(whose, values))
        findings.extend(_past(piece, bag))
        return [bag]

    runs = [
        Seam(
            f"{name}-{p.piece}",
            (ChainPart(p.piece, name + OPENING),),
            (ChainPart(name, "opening"),),
        )
        for p in (front, back)
    ]
    along = tuple(RunReference(p.piece, p.run) for p in (front, back))
    drawn = with_drafted(after, make, runs)
    return Outcome(drawn, by_size(pattern, findings), (name,), along)


def _seam_at(pattern: Pattern, place: Place, settled: Settled, side: Side) -> tuple[Seam, Side]:
    """The seam that a place lies on, its own piece first, and the wearer's side that it is on."""
    from sizewright.drafting import drawn_sizes

    part, size = drawn_sizes(pattern, [str(place.piece)])[0]
    piece = part.piece(str(place.piece), size)
    s = settled.place(piece, place).s
    known = seams_of_two(pattern, piece.name)
    here = [
        one
        for one in known
        if s is not None and walk(piece, piece.run(one.first[0].run)).distance(s) is not None
    ]
    if here:
        return on_side(pattern, here, side)
    runs = dict.fromkeys(f"{piece.name}:{one.first[0].run}" for one in known)
    raise InputError(
        f'"{place.text}" does not lie on a seam of two pieces',
        where=piece.title,
        cure="A pocket hangs in a seam that is declared"
        + (f": {', '.join(runs)}." if runs else ", and none is."),
    )


def _opened(
    part: Pattern,
    seam: Seam,
    place: Place,
    values: Values,
    settled: Settled,
    size: str | None,
) -> _Open:
    piece = part.piece(str(place.piece), size)
    match = match_seam(part, seam, size)
    s = settled.place(piece, place).s
    assert s is not None
    start = next(match.first.distances(piece.name, s))
    path = piece.outline.path
    ends = [path.at(match.first.place(d)[1]) for d in (0.0, match.first.length)]
    rise = float((ends[1] - ends[0]) @ axis_frame(piece)[0].up)
    sign = settled.once("down", lambda: -1.0 if rise > 0 else 1.0)
    end = start + sign * values["opening"]
    if not -1e-6 <= end <= match.first.length + 1e-6:
        left = start if sign < 0 else match.first.length - start
        raise GeometryError(
            f"only {both(left)} of the seam lie below the upper end of the opening",
            where=piece.title,
            cure="Let the opening be shorter, or begin higher.",
        )
    return _Open(match, (start, min(max(end, 0.0), match.first.length)))


def _with_opening(piece: Piece, s: float, t: float, values: Values) -> Piece:
    """The piece with its opening named, from arc length `s` down to `t`, and both ends notched."""
    from sizewright.drafting import with_vertices

    name = values["name"] + OPENING
    piece.refuse_run(name, "Give the pocket another name.")
    piece, (a, b), _ = with_vertices(piece, [s, t])
    run = Run(a, b, name)
    if piece.outline.run_length(run) > piece.outline.path.length / 2:
        run = Run(b, a, name)
    for mouth in piece.mouths(run):
        raise GeometryError(
            f"its opening lies over the dart {mouth.name}",
            where=piece.title,
            cure="Begin it below the dart, or let it be shorter; or move the dart (move-dart).",
        )
    outline = piece.outline.with_run(run)
    notches = [
        Notch(outline.spot(at), "slit", _DEPTH, 1, f"{name}-{word}", values["side"])
        for at, word in ((s, "begins"), (t, "ends"))
    ]
    return replace(piece, outline=outline, notches=(*piece.notches, *notches)).with_changes(
        f"left open {both(values['opening'])} for {values['name']}"
    )


def _bag(piece: Piece, values: Values, size: str | None, count: int) -> Piece:
    """One side of an inseam pocket: its opening follows the edge of the piece, and its bag
    hangs within it, below the opening."""
    from sizewright.drafting import lengthwise_grain

    edge = piece.outline.run_path(piece.run(values["name"] + OPENING))
    up = axis_frame(piece)[0].up
    falls = float((edge.end - edge.start) @ up) < 0
    high, low = (edge.start, edge.end) if falls else (edge.end, edge.start)
    way = (edge.end - edge.start) / float(np.hypot(*(edge.end - edge.start)))
    inside = np.array([-way[1], way[0]])
    down = (low - high) / float(np.hypot(*(low - high)))
    wide, deep = values["width"], values["depth"]
    below = deep - float(np.hypot(*(low - high)))
    bottom = high + down * deep + inside * wide / 2
    turn = min(wide / 2, deep / 2)
    far = high + inside * wide + down * (deep - turn)
    pull = below * 0.55
    curve = [
        [low, low + down * pull, bottom - inside * wide / 4, bottom],
        [bottom, bottom + inside * wide / 4, far + down * turn * 0.55, far],
    ]
    round_ = Path.join(
        [Path.of(curve, closed=False), Path.polyline([far, high + inside * wide, high])]
    )
    path = Path.join([edge, round_ if falls else round_.reversed()], closed=True)
    n = len(edge)
    names = ("opening-high", "opening-low") if falls else ("opening-low", "opening-high")
    outline = Outline.of(
        path,
        points=[Point(0, names[0]), Point(n, names[1])],
        runs=[Run(0, n, "opening")],
    )
    made = Piece(
        values["name"],
        outline,
        kind="sew",
        size=size,
        quantity=(Quantity("main", count),),
        pair=True,
        story=(f"pocket bag drafted for {piece.name}, open {both(values['opening'])}",),
    )
    x0, y0, x1, y1 = made.bounds
    return replace(made, grain=lengthwise_grain((x0, y0, x1, y1), 90.0))


def _past(piece: Piece, bag: Piece) -> Iterator[Finding]:
    """A finding where a bag, as it hangs within its piece, reaches past the edges of that."""
    import shapely

    cloth = shapely.Polygon(flatten(piece.outline.path, _CHORD))
    around = shapely.points(flatten(bag.outline.path, 1.0))
    past = float(shapely.distance(around, cloth).max())
    if past > _PAST:
        yield Finding(
            "pocket-past-its-piece",
            "warn",
            f"its bag reaches {both(past)} past the edges of {piece.name}",
            bag.name,
            piece.size or "",
            cure="Take a smaller width or depth, or open it elsewhere in the seam.",
        )
