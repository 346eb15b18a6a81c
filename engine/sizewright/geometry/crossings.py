"""Where a path crosses, touches or overlaps itself, or another path.

Pairs of segments whose boxes meet are halved together, apart pairs thrown away,
until each pair is simple enough to be answered on the true curves:
- a piece whose tangents keep within a half-plane cannot meet itself, and two such
  pieces joined end to end, all tangents within a half-plane, meet at the joint alone;
- two pieces whose tangent cones are well apart cross once at most: Newton's method;
- two pieces that are straight within the tolerance and nearly parallel are compared
  as chords, which finds touches and overlaps.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from . import bezier, lengths
from .near import connected, pairs_within
from .path import Path
from .single import point_and_way
from .types import Bools, Floats, Ints

Kind = Literal["cross", "touch", "overlap"]

#: Shared stretches shorter than this, in mm, count as one point.
SHORT = 0.1
#: Newton's method has met a point when it misses by no more than this, in mm.
_EXACT = 1e-9
#: Pairs held at once; beyond it lines run together so long that halving stops.
_MOST = 60_000
_DEEPEST = 60
#: Up to so many pairs are met one by one.
_FEW = 8


class Crossing(NamedTuple):
    """A place that two lines, or two stretches of one, have in common.

    `point` (2,) in mm; `s0`, `s1` its arc lengths on the first and the second line
    (on one line s0 < s1). `kind`: "cross", the lines change sides; "touch", they
    meet and part on the same side, or one ends on the other; "overlap", they run
    together for at least 0.1 mm (the point is the middle of that stretch, which
    is `length` mm long).
    """

    point: Floats
    s0: float
    s1: float
    kind: Kind = "cross"
    length: float = 0.0


def self_crossings(path: Path, tolerance: float = 1e-6) -> list[Crossing]:
    """Every place that a path passes twice, in order of s0.

    Lines closer than `tolerance` mm touch (thrice that where they run alongside). A
    loop inside one cubic counts; the plain meeting of neighbours at their vertex does
    not, nor does a stretch that doubles back on itself for less than 0.1 mm.
    """
    return _report(_shared_with_itself(path, tolerance))


def _shared_with_itself(path: Path, tolerance: float) -> _Shared | None:
    kept = _kept(path, tolerance)
    n = len(kept)
    if n == 0:
        return None
    i, j = _box_pairs(path.controls[kept], path.controls[kept], tolerance)
    ordered = i <= j
    i, j = i[ordered], j[ordered]
    pairs = _Pairs.of(path, path, kept[i], kept[j])
    pairs.same[:] = i == j
    pairs.after[:] = j == i + 1
    pairs.before[:] = path.closed & (i == 0) & (j == n - 1)
    return _shared(path, path, _meet(pairs, tolerance), tolerance, one=True)


def crossings(a: Path, b: Path, tolerance: float = 1e-6) -> list[Crossing]:
    """Every place that two paths have in common, in order along `a`.

    Lines closer than `tolerance` mm touch (thrice that where they run alongside).

    >>> square = Path.polyline([(0, 0), (80, 0), (80, 80), (0, 80)], closed=True)
    >>> level = Path.polyline([(-10, 20), (90, 20)])
    >>> [(round(cross.s0, 6), round(cross.s1, 6)) for cross in crossings(level, square)]
    [(10.0, 300.0), (90.0, 100.0)]
    """
    kept_a, kept_b = _kept(a, tolerance), _kept(b, tolerance)
    if not len(kept_a) or not len(kept_b):
        return []
    i, j = _box_pairs(a.controls[kept_a], b.controls[kept_b], tolerance)
    if not len(i):
        return []
    pairs = _Pairs.of(a, b, kept_a[i], kept_b[j])
    return _report(_shared(a, b, _meet(pairs, tolerance), tolerance, one=False))


def is_simple(path: Path, tolerance: float = 1e-6, *, may_touch: bool = False) -> bool:
    """Whether a path nowhere crosses or overlaps itself, nor touches unless that is allowed.

    Lines closer than `tolerance` mm touch.
    """
    shared = _shared_with_itself(path, tolerance)
    if shared is None or not may_touch:
        return shared is None
    # A plain crossing tells enough, and so does the first of the others.
    return not (shared.plain.any() or any(kind != "touch" for _, _, kind, _ in _places(shared)))


# --- pairs of pieces --------------------------------------------------------------


@dataclass(eq=False)
class _Pairs:
    """Pairs of pieces, one from each line: control points, whence cut, how they join."""

    a: Floats
    b: Floats
    segment_a: Ints
    segment_b: Ints
    #: Parameters of the cuts in the segments: columns a0, a1, b0, b1.
    cuts: Floats
    #: One piece against itself; b starts where a ends; a starts where b ends.
    same: Bools
    after: Bools
    before: Bools

    @classmethod
    def of(cls, first: Path, second: Path, i: Ints, j: Ints) -> _Pairs:
        none = np.zeros(len(i), dtype=bool)
        cuts = np.tile([0.0, 1.0, 0.0, 1.0], (len(i), 1))
        a, b = first.controls[i], second.controls[j]
        return cls(a, b, i, j, cuts, none, none.copy(), none.copy())

    def __len__(self) -> int:
        return len(self.a)

    def take(self, which: Bools | Ints) -> _Pairs:
        if which.dtype == bool and which.all():
            return self
        return _Pairs(*(getattr(self, name)[which] for name in _FIELDS))

    def swapped_in(self, **new: np.ndarray) -> _Pairs:
        return _Pairs(*(new.get(name, getattr(self, name)) for name in _FIELDS))


_FIELDS = ("a", "b", "segment_a", "segment_b", "cuts", "same", "after", "before")


def _joined(parts: list[_Pairs]) -> _Pairs:
    return _Pairs(*(np.concatenate([getattr(p, name) for p in parts]) for name in _FIELDS))


def _halves(cubics: Floats) -> tuple[Floats, Floats]:
    p0, p1, p2, p3 = (cubics[:, i] for i in range(4))
    a, b, c = (p0 + p1) / 2, (p1 + p2) / 2, (p2 + p3) / 2
    d, e = (a + b) / 2, (b + c) / 2
    m = (d + e) / 2
    return np.stack([p0, a, d, m], axis=1), np.stack([m, e, c, p3], axis=1)


def _split(pairs: _Pairs) -> _Pairs:
    """Each pair as the pairs of its halves; of two unlike sizes only the larger is halved."""
    size_a, size_b = np.ptp(pairs.a, axis=1).max(axis=1), np.ptp(pairs.b, axis=1).max(axis=1)
    joined = pairs.after | pairs.before
    alone = ~pairs.same & ~joined
    only_a, only_b = alone & (size_a > 2 * size_b), alone & (size_b > 2 * size_a)
    parts = []
    for p, cut_a, cut_b in (
        (pairs.take(only_a), True, False),
        (pairs.take(only_b), False, True),
        (pairs.take(~only_a & ~only_b), True, True),
    ):
        if not len(p):
            continue
        a0, a1, b0, b1 = p.cuts.T
        am, bm = (a0 + a1) / 2, (b0 + b1) / 2
        pieces_a = [(p.a, a0, a1)]
        if cut_a:
            left, right = _halves(p.a)
            pieces_a = [(left, a0, am), (right, am, a1)]
        pieces_b = [(p.b, b0, b1)]
        if cut_b:
            left, right = _halves(p.b)
            pieces_b = [(left, b0, bm), (right, bm, b1)]
        no = np.zeros(len(p), dtype=bool)
        for u, (a, x0, x1) in enumerate(pieces_a):
            for v, (b, y0, y1) in enumerate(pieces_b):
                first_last = (u == len(pieces_a) - 1) and v == 0
                last_first = u == 0 and v == len(pieces_b) - 1
                # A piece against itself: left and right by themselves, and left with right.
                after = np.where(p.same, (u, v) == (0, 1), p.after if first_last else no)
                new = p.swapped_in(
                    a=a,
                    b=b,
                    cuts=np.stack([x0, x1, y0, y1], axis=1),
                    same=p.same if u == v else no,
                    after=after,
                    before=p.before if last_first else no,
                )
                parts.append(new.take(~p.same) if (u, v) == (1, 0) else new)
    return _joined(parts)


def _kept(path: Path, tolerance: float) -> Ints:
    """Numbers of the segments that have a size."""
    return np.flatnonzero(np.ptp(path.controls, axis=1).max(axis=1) > tolerance)


def _box_pairs(a: Floats, b: Floats, tolerance: float) -> tuple[Ints, Ints]:
    """Numbers of the segments whose boxes come within the tolerance, in order."""
    a0, a1 = a.min(axis=1) - tolerance, a.max(axis=1) + tolerance
    b0, b1 = b.min(axis=1), b.max(axis=1)
    if len(a) * len(b) <= 4_000_000:
        meet = (a0[:, None, 0] <= b1[:, 0]) & (a1[:, None, 0] >= b0[:, 0])
        meet &= (a0[:, None, 1] <= b1[:, 1]) & (a1[:, None, 1] >= b0[:, 1])
        i, j = np.nonzero(meet)
        return i, j
    import shapely

    tree = shapely.STRtree(shapely.box(b0[:, 0], b0[:, 1], b1[:, 0], b1[:, 1]))
    found = tree.query(shapely.box(a0[:, 0], a0[:, 1], a1[:, 0], a1[:, 1]))
    i, j = found[:, np.lexsort(found[::-1])]
    return i, j


# --- halving until each pair can be answered --------------------------------------


class _Contacts(NamedTuple):
    """Places found: segments and parameters on both lines, two ends each; and how sure."""

    segment_a: Ints
    segment_b: Ints
    #: Parameters (k, 2) of both ends of what is shared; equal for a single point.
    t: Floats
    u: Floats
    #: Met by Newton's method at an angle, so not a touch unless at a vertex.
    clean: Bools


def _cones(first: Floats, more: Floats | None = None) -> tuple[Floats, Floats, Floats]:
    """Direction of the chord, and least and greatest turn from it of the steps (radians).

    Steps without length are left out. Exact for tangents: a cubic's lie within the
    cone of its control polygon's steps where that is under a half-plane.
    """
    steps = np.diff(first, axis=1)
    if more is not None:
        steps = np.concatenate([steps, np.diff(more, axis=1)], axis=1)
    total = steps.sum(axis=1)
    middle = np.arctan2(total[:, 1], total[:, 0])
    x, y = steps[..., 0], steps[..., 1]
    cross = total[:, None, 0] * y - total[:, None, 1] * x
    dot = total[:, None, 0] * x + total[:, None, 1] * y
    turn = np.arctan2(cross, dot)
    turn[(x == 0) & (y == 0)] = 0.0
    low, high = turn.min(axis=1), turn.max(axis=1)
    closed = (total == 0).all(axis=1)
    return middle, np.where(closed, -np.pi, low), np.where(closed, np.pi, high)


def _meet(pairs: _Pairs, tolerance: float) -> _Contacts:
    pairs, alike = _alike(pairs, tolerance)
    found = [alike]
    for depth in range(_DEEPEST):
        pairs = pairs.take(_near(pairs, tolerance))
        if not len(pairs):
            break
        pairs, contacts = _answer(pairs, tolerance, last=len(pairs) > _MOST or depth > 50)
        found += contacts
        if not len(pairs):
            break
        pairs = _split(pairs)
    return _Contacts(*(np.concatenate(column) for column in zip(*found, strict=True)))


def _alike(pairs: _Pairs, tolerance: float) -> tuple[_Pairs, _Contacts]:
    """Pairs of segments that are one and the same curve, either way round, and the rest."""
    gap = np.full((2, len(pairs)), np.inf)
    for k, b in enumerate((pairs.b, pairs.b[:, ::-1])):
        gap[k] = np.abs(pairs.a - b).max(axis=(1, 2))
    alike = (gap.min(axis=0) <= tolerance / 2) & ~pairs.same
    p = pairs.take(alike)
    ends = np.tile([0.0, 1.0], (len(p), 1))
    back = (gap[1] < gap[0])[alike]
    u = np.where(back[:, None], 1.0 - ends, ends)
    contacts = _Contacts(p.segment_a, p.segment_b, ends, u, np.zeros(len(p), dtype=bool))
    return pairs.take(~alike), contacts


def _near(pairs: _Pairs, tolerance: float) -> Bools:
    """Pairs that may still meet: boxes within the tolerance, along the axes and along a's chord."""
    frame = pairs.a[:, 3] - pairs.a[:, 0]
    size = np.hypot(frame[:, 0], frame[:, 1])
    ux, uy = (np.divide(frame[:, i], size, out=np.zeros_like(size), where=size > 0) for i in (0, 1))
    apart = np.zeros(len(pairs), dtype=bool)
    origin = pairs.a[:, :1]
    qa, qb = pairs.a - origin, pairs.b - origin
    for x, y in ((1.0, 0.0), (0.0, 1.0), (ux[:, None], uy[:, None]), (-uy[:, None], ux[:, None])):
        va, vb = qa[..., 0] * x + qa[..., 1] * y, qb[..., 0] * x + qb[..., 1] * y
        apart |= va.min(axis=1) > vb.max(axis=1) + tolerance
        apart |= vb.min(axis=1) > va.max(axis=1) + tolerance
    near: Bools = pairs.same | ~apart
    return near


def _answer(pairs: _Pairs, tolerance: float, last: bool) -> tuple[_Pairs, list[_Contacts]]:
    """What can be settled now; the pairs that must be halved, and the contacts found."""
    way_a, low_a, high_a = _cones(pairs.a)
    way_b, low_b, high_b = _cones(pairs.b)
    wide_a, wide_b = high_a - low_a, high_b - low_b
    joined = pairs.after ^ pairs.before
    linked = pairs.after | pairs.before

    drop = pairs.same & (wide_a < np.pi - 1e-6)
    if joined.any():
        _, low, high = _cones(
            np.where(pairs.before[:, None, None], pairs.b, pairs.a),
            np.where(pairs.before[:, None, None], pairs.a, pairs.b),
        )
        drop |= joined & (high - low < np.pi - 1e-6)
    small = np.maximum(np.ptp(pairs.a, axis=1).max(axis=1), np.ptp(pairs.b, axis=1).max(axis=1))
    drop |= (pairs.same | linked) & (small <= tolerance)

    # Cones apart, modulo half a turn, by a fair share of their own width.
    turn = way_b - way_a
    share = np.maximum(0.3 * np.maximum(wide_a, wide_b), 1e-5)
    from_, to = turn + low_b - high_a - share, turn + high_b - low_a + share
    angled = (np.floor(from_ / np.pi) == np.floor(to / np.pi)) & (np.maximum(wide_a, wide_b) < 0.7)
    angled &= ~pairs.same & ~drop
    drop |= angled & joined  # their one crossing is the vertex that they share
    angled &= ~linked

    flat = _flat(pairs.a, tolerance / 4) & _flat(pairs.b, tolerance / 4)
    flat &= ((wide_a < 1) & (wide_b < 1)) | (small <= tolerance)
    flat &= ~pairs.same & ~(pairs.after & pairs.before) & ~drop & ~angled
    if last:
        flat |= ~(pairs.same | linked | drop | angled)

    contacts = []
    if angled.any():
        contacts.append(_newton(pairs.take(angled), tolerance))
    if flat.any():
        contacts.append(_alongside(pairs.take(flat), tolerance))
    go = ~drop & ~angled & ~flat
    if last:
        go[:] = False
    return pairs.take(go), contacts


def _flat(cubics: Floats, tolerance: float) -> Bools:
    local = cubics - cubics[:, :1]
    chord = local[:, 3]
    size = np.hypot(chord[:, 0], chord[:, 1])
    cross = chord[:, None, 0] * local[:, 1:3, 1] - chord[:, None, 1] * local[:, 1:3, 0]
    flat: Bools = np.abs(cross).max(axis=1) <= tolerance * size
    return flat


def _newton(pairs: _Pairs, tolerance: float) -> _Contacts:
    """The one point in which pieces at an angle meet, where they do."""
    k = len(pairs)
    t, u = np.full(k, 0.5), np.full(k, 0.5)
    origin = pairs.a[:, :1]
    qa, qb = pairs.a - origin, pairs.b - origin
    live = np.arange(k)
    if k <= _FEW:
        for i in range(k):
            t[i], u[i] = _newton_one(qa[i].ravel().tolist(), qb[i].ravel().tolist())
    for _ in range(60 if k > _FEW else 0):
        a, b = qa[live], qb[live]
        f = bezier.evaluate(a, t[live]) - bezier.evaluate(b, u[live])
        da, db = bezier.derivative(a, t[live]), bezier.derivative(b, u[live])
        det = da[:, 1] * db[:, 0] - da[:, 0] * db[:, 1]
        safe = np.where(det == 0, 1.0, det)
        dt = np.where(det == 0, 1e-3, (f[:, 0] * db[:, 1] - f[:, 1] * db[:, 0]) / safe)
        du = np.where(det == 0, 1e-3, (f[:, 0] * da[:, 1] - f[:, 1] * da[:, 0]) / safe)
        new_t, new_u = np.clip(t[live] + dt, -0.1, 1.1), np.clip(u[live] + du, -0.1, 1.1)
        moved = np.maximum(np.abs(new_t - t[live]), np.abs(new_u - u[live]))
        t[live], u[live] = new_t, new_u
        live = live[moved > 1e-15]
        if not len(live):
            break
    # An end that misses by the tolerance still meets, though it may be but a touch.
    t_in, u_in = np.clip(t, 0, 1), np.clip(u, 0, 1)
    f = bezier.evaluate(qa, t_in) - bezier.evaluate(qb, u_in)
    miss = np.hypot(f[:, 0], f[:, 1])
    met = miss <= tolerance
    p = pairs.take(met)
    at_t, at_u = _outer(p, t_in[met], u_in[met])
    return _Contacts(
        p.segment_a,
        p.segment_b,
        np.stack([at_t, at_t], axis=1),
        np.stack([at_u, at_u], axis=1),
        miss[met] <= _EXACT,
    )


def _newton_one(p: Sequence[float], q: Sequence[float]) -> tuple[float, float]:
    """The steps of `_newton` for one pair."""
    t = u = 0.5
    for _ in range(60):
        (ax, ay, dax, day), (bx, by, dbx, dby) = (
            point_and_way(p, t),
            point_and_way(q, u),
        )
        fx, fy = ax - bx, ay - by
        det = day * dbx - dax * dby
        dt = 1e-3 if det == 0 else (fx * dby - fy * dbx) / det
        du = 1e-3 if det == 0 else (fx * day - fy * dax) / det
        new_t, new_u = min(max(t + dt, -0.1), 1.1), min(max(u + du, -0.1), 1.1)
        moved = max(abs(new_t - t), abs(new_u - u))
        t, u = new_t, new_u
        if not moved > 1e-15:
            break
    return t, u


def _outer(pairs: _Pairs, t: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Parameters in the pieces as parameters in their segments."""
    a0, a1, b0, b1 = pairs.cuts.T
    return a0 + t * (a1 - a0), b0 + u * (b1 - b0)


def _alongside(pairs: _Pairs, tolerance: float) -> _Contacts:
    """What pieces that are nearly straight and nearly parallel share."""
    a0, a1, b0, b1 = pairs.a[:, 0], pairs.a[:, 3], pairs.b[:, 0], pairs.b[:, 3]
    chord_a, chord_b = a1 - a0, b1 - b0
    size_a, size_b = np.hypot(*chord_a.T), np.hypot(*chord_b.T)
    # Ends of each against the chord of the other: fractions along; and where the chords cross.
    f_b = np.stack([_fraction(b0, a0, chord_a), _fraction(b1, a0, chord_a)], axis=1)
    f_a = np.stack([_fraction(a0, b0, chord_b), _fraction(a1, b0, chord_b)], axis=1)
    det = chord_a[:, 0] * chord_b[:, 1] - chord_a[:, 1] * chord_b[:, 0]
    d, safe = b0 - a0, np.where(det == 0, 1.0, det)
    x_a = np.where(det == 0, 0.0, (d[:, 0] * chord_b[:, 1] - d[:, 1] * chord_b[:, 0]) / safe)
    x_b = np.where(det == 0, 0.0, (d[:, 0] * chord_a[:, 1] - d[:, 1] * chord_a[:, 0]) / safe)
    ends_a, ends_b = np.tile([0.0, 1.0], (len(pairs), 1)), np.tile([0.0, 1.0], (len(pairs), 1))
    on_a = np.clip(np.concatenate([ends_a, f_b, x_a[:, None]], axis=1), 0, 1)
    on_b = np.clip(np.concatenate([f_a, ends_b, x_b[:, None]], axis=1), 0, 1)
    pa = a0[:, None] + on_a[..., None] * chord_a[:, None]
    pb = b0[:, None] + on_b[..., None] * chord_b[:, None]
    miss = np.hypot(pa[..., 0] - pb[..., 0], pa[..., 1] - pb[..., 1])
    close = miss <= 3 * tolerance
    first = np.where(close, on_a, np.inf).argmin(axis=1)
    final = np.where(close, on_a, -np.inf).argmax(axis=1)
    rows = np.arange(len(pairs))
    t = np.stack([on_a[rows, first], on_a[rows, final]], axis=1)
    u = np.stack([on_b[rows, first], on_b[rows, final]], axis=1)
    # Neighbours share their vertex anyway: they must run together for the whole of one.
    length = np.abs(t[:, 1] - t[:, 0]) * size_a
    linked = pairs.after | pairs.before
    whole = length >= 0.99 * np.minimum(size_a, size_b)
    met = close.any(axis=1) & (~linked | (whole & (length > 100 * tolerance)))
    p = pairs.take(met)
    ends = []
    for k in (0, 1):
        ends.append(_outer(p, _by_chord(p.a, t[met, k]), _by_chord(p.b, u[met, k])))
    return _Contacts(
        p.segment_a,
        p.segment_b,
        np.stack([ends[0][0], ends[1][0]], axis=1),
        np.stack([ends[0][1], ends[1][1]], axis=1),
        np.zeros(len(p), dtype=bool),
    )


def _fraction(points: Floats, start: Floats, chord: Floats) -> Floats:
    square: Floats = (chord * chord).sum(axis=1)
    along: Floats = ((points - start) * chord).sum(axis=1)
    return np.divide(along, square, out=np.zeros_like(along), where=square > 0)


def _by_chord(cubics: Floats, fraction: Floats) -> Floats:
    """Parameters at which flat pieces have come so far along their chords; halving."""
    local = cubics - cubics[:, :1]
    chord = local[:, 3]
    along = (local * chord[:, None]).sum(axis=2)
    t = np.clip(fraction, 0.0, 1.0)
    # A piece whose handles stand at the thirds (a line) runs evenly: nothing to look for.
    uneven = np.abs(along[:, 1:3] * (3.0, 1.5) - along[:, 3:]).max(axis=1) > 1e-12 * along[:, 3]
    work = np.flatnonzero(uneven & (t > 0) & (t < 1))
    if not len(work):
        return t
    goal = t[work] * along[work, 3]
    low, high = np.zeros(len(work)), np.ones(len(work))
    scalar = np.stack([along[work], along[work]], axis=2)
    for _ in range(50):
        middle = (low + high) / 2
        short = bezier.evaluate(scalar, middle)[:, 0] < goal
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    t[work] = (low + high) / 2
    return t


# --- contacts as places -----------------------------------------------------------


def _arc(path: Path, segment: Ints, t: Floats) -> Floats:
    part = lengths.partials(path.controls[segment], path.lines[segment], t)
    return path.cumulative[segment] + part


def _between(path: Path, s0: Floats, s1: Floats) -> Floats:
    """Distance along one path between two of its places, the short way round."""
    d: Floats = np.abs(s1 - s0)
    return np.minimum(d, path.length - d) if path.closed else d


class _Shared(NamedTuple):
    """Stretches (k, 2) that two lines share, or `one` with itself, as arc lengths `s` and `r`.

    `clean` are sure to be single points, `plain` those where the lines surely cross.
    """

    a: Path
    b: Path
    s: Floats
    r: Floats
    clean: Bools
    plain: Bools
    tolerance: float
    one: bool


def _shared(
    a: Path, b: Path, contacts: _Contacts, tolerance: float, *, one: bool
) -> _Shared | None:
    """What contacts come to; None where that is nothing."""
    if not len(contacts.segment_a):
        return None
    s = np.stack([_arc(a, contacts.segment_a, contacts.t[:, k]) for k in (0, 1)], axis=1)
    r = np.stack([_arc(b, contacts.segment_b, contacts.u[:, k]) for k in (0, 1)], axis=1)
    clean = contacts.clean
    if one:
        # The meeting of neighbours at their vertex, and the tip of a very sharp corner.
        spread = [np.column_stack([ends, ends.mean(axis=1)]) for ends in (s, r)]
        apart = _between(a, spread[0], spread[1])
        near = np.where(clean[:, None], 10 * tolerance, SHORT)
        keep = (apart > near).any(axis=1)
        s, r, clean = s[keep], r[keep], clean[keep]
        if not len(s):
            return None
    plain = clean & ~_at_vertex(a, s[:, 0], tolerance) & ~_at_vertex(b, r[:, 0], tolerance)
    return _Shared(a, b, s, r, clean, plain, tolerance, one)


def _report(shared: _Shared | None) -> list[Crossing]:
    if shared is None:
        return []
    found = sorted(_places(shared))
    points = shared.a.at(np.array([f[0] for f in found]))
    return [Crossing(point, *place) for point, place in zip(points, found, strict=True)]


def _places(shared: _Shared) -> Iterator[tuple[float, float, Kind, float]]:
    """Each place with its arc lengths on both lines, its kind, and how long it is."""
    a, b, s, r, clean, plain, tolerance, one = shared
    for members in _clusters(a, b, s, r, clean):
        kind: Kind = "cross"
        length = 0.0
        k = members[int(plain[members].argmax())]
        s0, s1 = float(s[k, 0]), float(r[k, 0])
        if not plain[k]:
            places, others = _unwrapped(a, s[members]), _unwrapped(b, r[members])
            length = float(np.ptp(places))
            exact = members[int(clean[members].argmax())]
            if clean[exact] and length <= SHORT:
                s0, s1 = _home(a, float(s[exact, 0])), _home(b, float(r[exact, 0]))
            else:
                s0, s1 = _middle(a, b, places, others, tolerance)
            kind = "overlap" if length > SHORT else _kind(a, b, s0, s1, tolerance)
            length = length if kind == "overlap" else 0.0
        if one and s1 < s0:
            s0, s1 = s1, s0
        yield s0, s1, kind, length


def _clusters(a: Path, b: Path, s: Floats, r: Floats, clean: Bools) -> list[Ints]:
    """Contacts that are one: points closer than 1e-4 mm, near misses and stretches end to end."""
    k = len(s)
    if k == 1:
        return [np.array([0])]
    ends = np.stack([s.T.ravel(), r.T.ravel()], axis=1)
    # Arc lengths at a closed path's start and end are one place.
    box = np.array([p.length if p.closed else 2 * p.length + 1 for p in (a, b)])
    ends = np.mod(ends, box)
    ends[ends >= box] = 0.0
    pairs = pairs_within(ends, SHORT / 4, box=box)
    assert pairs is not None
    i, j = pairs[:, 0] % k, pairs[:, 1] % k
    away = np.abs(ends[pairs[:, 0]] - ends[pairs[:, 1]])
    together = np.minimum(away, box - away).max(axis=1) <= 1e-4
    together |= ~clean[i] & ~clean[j]
    label = connected(np.stack([i, j], axis=1)[together], k)
    order = np.argsort(label, kind="stable")
    return np.split(order, np.searchsorted(label[order], np.arange(1, label.max() + 1)))


def _home(path: Path, s: float) -> float:
    """An arc length within the path; the end of a closed one is its start."""
    if not path.closed:
        return s
    s %= path.length
    return 0.0 if path.length - s < 1e-9 else s


def _middle(
    a: Path, b: Path, places: Floats, others: Floats, tolerance: float
) -> tuple[float, float]:
    """The middle of what a cluster of stretches (k, 2) shares, as arc lengths on both lines."""
    s0, s1 = float(places.min() + places.max()) / 2, float(others.min() + others.max()) / 2
    if np.hypot(*(a.at(s0) - b.at(s1))) > 3 * tolerance:
        # Not one plain stretch: the place nearest to the middle that is surely shared.
        inside = np.clip(s0, places.min(axis=1), places.max(axis=1))
        k = int(np.abs(inside - s0).argmin())
        span = places[k, 1] - places[k, 0]
        share = (inside[k] - places[k, 0]) / span if span else 0.0
        s0, s1 = float(inside[k]), float(others[k, 0] + share * (others[k, 1] - others[k, 0]))
    return _home(a, s0), _home(b, s1)


def _unwrapped(path: Path, s: Floats) -> Floats:
    """Stretches (k, 2) of one cluster, those past the start of a closed path carried on."""
    low, high = s.min(axis=1), s.max(axis=1)
    order = np.argsort(low)
    reached = np.maximum.accumulate(high[order])
    breaks = np.flatnonzero(low[order][1:] > reached[:-1] + SHORT / 3)
    if not path.closed or not len(breaks):
        return s
    early = order[: breaks[0] + 1]
    moved = s.copy()
    moved[early] += path.length
    return moved


def _at_vertex(path: Path, s: Floats, tolerance: float) -> Bools:
    """Which places are at a vertex."""
    after = np.clip(np.searchsorted(path.cumulative, s), 1, len(path))
    to_next, to_last = path.cumulative[after] - s, s - path.cumulative[after - 1]
    near: Bools = np.minimum(np.abs(to_next), np.abs(to_last)) <= 10 * tolerance
    return near


def _kind(a: Path, b: Path, s0: float, s1: float, tolerance: float) -> Kind:
    """Cross or touch, by the order in which the four arms leave the place.

    Arms that leave alike are followed until they part; when they do not, the lines overlap.
    """
    for path, s in ((a, s0), (b, s1)):
        if not path.closed and (s <= 10 * tolerance or s >= path.length - 10 * tolerance):
            return "touch"
    place = a.at(s0)
    reach = min(a.length, b.length) / 8
    radius = 0.01
    while radius <= max(reach, 0.01):
        arms = (
            np.vstack(
                [
                    a.at(np.array([s0 + radius, s0 - radius])),
                    b.at(np.array([s1 + radius, s1 - radius])),
                ]
            )
            - place
        )
        angle = np.arctan2(arms[:, 1], arms[:, 0])
        apart = np.abs(np.mod(angle[2:, None] - angle[:2] + np.pi, 2 * np.pi) - np.pi) * radius
        if (apart > 4 * tolerance).all():
            sector = np.mod(angle[1] - angle[0], 2 * np.pi)
            within = np.mod(angle[2:] - angle[0], 2 * np.pi) < sector
            return "cross" if within[0] != within[1] else "touch"
        radius *= 3
    return "overlap"
