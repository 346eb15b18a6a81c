"""Arc length of cubic segments and its inverse, vectorised.

Works on the hodograph (the derivative, a quadratic): its control vectors are
differences, so a small segment far from the origin loses no figures. Speed is
integrated by Gauss-Legendre quadrature; a segment is halved until the rule on it
and on its halves agree (a sharp bend needs that). Speed is |a| |t - r| |t - q| for
the complex roots r, q of the hodograph, so it has a kink at a root that is real (a
cusp, a turning back) and nearly one close by: a segment is cut there first, since a
kink between an end and the outermost node is one that no rule sees.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from . import bezier
from .quadrature import SIXTEEN
from .types import Bools, Floats, Ints

#: A segment is halved until the rule changes by no more than this share of its polygon.
RELATIVE = 1e-13
_T, _W = SIXTEEN
_BATCH = 512
_DEEPEST = 40
_STEPS, _GUESSES = 60, 5
#: Lengths of curves that were measured, by their control points: most of an outline is as it
#: was before an edit, and alike in its runs. Only paths of a `_FEW` curves look here.
_known: dict[bytes, float] = {}
_FEW, _MOST_KNOWN = 200, 20_000


def _rule(hodographs: Floats) -> Floats:
    # Rows in batches that stay in the cache; plain loops, since a matrix product this
    # thin is slowed by its library's threads when other work runs.
    total = np.empty(len(hodographs))
    for k in range(0, len(hodographs), _BATCH):
        h = hodographs[k : k + _BATCH, :, :, None]
        a, b, c = h[:, 0] - 2 * h[:, 1] + h[:, 2], 2 * (h[:, 1] - h[:, 0]), h[:, 0]
        v = (a * _T + b) * _T + c
        v *= v
        total[k : k + _BATCH] = np.einsum("nj,j->n", np.sqrt(v[:, 0] + v[:, 1]), _W)
    return total


def _halves(h: Floats) -> tuple[Floats, Floats]:
    """Hodographs (n, 3, 2) of both halves, each by its own parameter in [0, 1]."""
    a, b, c = h[:, 0] / 2, h[:, 1] / 2, h[:, 2] / 2
    d, e = (a + b) / 2, (b + c) / 2
    m = (d + e) / 2
    left, right = np.empty_like(h), np.empty_like(h)
    left[:, 0], left[:, 1], left[:, 2] = a, d, m
    right[:, 0], right[:, 1], right[:, 2] = m, e, c
    return left, right


def _cut_at_kinks(hodographs: Floats) -> tuple[Floats, Ints]:
    """Hodographs cut where they come near zero, and the row that each part comes from."""
    whole = np.arange(len(hodographs))
    kinks = _kinks(hodographs)
    cut = np.flatnonzero((kinks > 0).any(axis=1))
    if not len(cut):
        return hodographs, whole
    kept = np.delete(whole, cut)
    parts, rows = [hodographs[kept]], [kept]
    low, rest = np.zeros(len(cut)), hodographs[cut]
    for t in (*np.sort(kinks[cut], axis=1).T, np.ones(len(cut))):
        some = np.flatnonzero(t > low)
        share = (t[some] - low[some]) / (1.0 - low[some])
        parts.append(_first_parts(rest[some], share))
        rows.append(cut[some])
        backwards = _first_parts(rest[some][:, ::-1], 1.0 - share)
        rest[some] = backwards[:, ::-1]
        low[some] = t[some]
    return np.concatenate(parts), np.concatenate(rows)


def _kinks(hodographs: Floats) -> Floats:
    """Parameters (n, 2) within (0, 1) near which the speed is almost a kink; 0 for none."""
    h = hodographs[..., 0] + 1j * hodographs[..., 1]
    a, b, c = h[:, 0] - 2 * h[:, 1] + h[:, 2], 2 * (h[:, 1] - h[:, 0]), h[:, 0]
    root = np.sqrt(b * b - 4 * a * c)
    root = np.where((b.conj() * root).real < 0, -root, root)
    q = -(b + root) / 2
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        roots = np.stack([q / a, c / q], axis=1)
        near = (roots.real > 0) & (roots.real < 1) & (np.abs(roots.imag) < 0.05)
    return np.where(near, roots.real, 0.0)


def _integrals(hodographs: Floats) -> Floats:
    total = np.zeros(len(hodographs))
    todo, index = _cut_at_kinks(hodographs)
    scale = np.hypot(todo[..., 0], todo[..., 1]).sum(axis=1)
    left, right = _halves(todo)
    # All in one: most calls are for a few segments.
    coarse, first, second = _rule(np.concatenate([todo, left, right])).reshape(3, -1)
    for _ in range(_DEEPEST):
        fine = first + second
        done = np.abs(fine - coarse) <= RELATIVE * scale
        if done.all():
            return total + np.bincount(index, fine, len(total))
        total += np.bincount(index[done], fine[done], len(total))
        go = ~done
        todo = np.concatenate([left[go], right[go]])
        coarse = np.concatenate([first[go], second[go]])
        index = np.concatenate([index[go], index[go]])
        scale = np.concatenate([scale[go], scale[go]])
        left, right = _halves(todo)
        first, second = _rule(np.concatenate([left, right])).reshape(2, -1)
    return total + np.bincount(index, coarse, len(total))


def arc_lengths(controls: Floats, lines: Bools) -> Floats:
    """Length of each segment of `controls` (n, 4, 2), mm; `lines` are measured as chords."""
    total = np.empty(len(controls))
    chord = controls[lines, 3] - controls[lines, 0]
    total[lines] = np.hypot(chord[:, 0], chord[:, 1])
    curved = np.flatnonzero(~lines)
    if len(curved) > _FEW:
        total[curved] = _curve_lengths(controls[curved])
    elif len(curved):
        keys = [curve.tobytes() for curve in controls[curved]]
        new = [k for k, key in enumerate(keys) if key not in _known]
        if new:
            if len(_known) > _MOST_KNOWN:
                _known.clear()
                new = list(range(len(keys)))
            found = _curve_lengths(controls[curved[new]]).tolist()
            _known.update(zip([keys[k] for k in new], found, strict=True))
        total[curved] = [_known[key] for key in keys]
    return total


def _curve_lengths(controls: Floats) -> Floats:
    return _integrals(3.0 * np.diff(controls, axis=1))


def partials(controls: Floats, lines: Bools, t: Floats) -> Floats:
    """Length of each segment from its start to parameter `t` (n,), mm."""
    t = np.asarray(t, dtype=np.float64)
    total = np.empty(len(controls))
    chord = controls[lines, 3] - controls[lines, 0]
    total[lines] = np.hypot(chord[:, 0], chord[:, 1]) * t[lines]
    total[~lines & (t == 0.0)] = 0.0
    curved = np.flatnonzero(~lines & (t != 0.0))
    if len(curved):
        hodographs = 3.0 * np.diff(controls[curved], axis=1)
        total[curved] = _integrals(_first_parts(hodographs, t[curved]))
    return total


def _first_parts(h: Floats, t: Floats) -> Floats:
    """Hodographs of the parts before `t`, each by its own parameter in [0, 1]."""
    u = t[:, None]
    a = h[:, 0]
    b = a + u * (h[:, 1] - a)
    c = h[:, 1] + u * (h[:, 2] - h[:, 1])
    parts = np.empty_like(h)
    parts[:, 0], parts[:, 1], parts[:, 2] = a * u, b * u, (b + u * (c - b)) * u
    return parts


def partial(controls: Floats, line: bool, t: float) -> float:
    """Length of one segment (4, 2) from its start to `t`, mm."""
    return float(partials(controls[None], np.array([line]), np.array([t]))[0])


def locate(controls: Floats, lines: Bools, cumulative: Floats, s: Floats) -> tuple[Ints, Floats]:
    """Segment numbers and parameters at arc lengths `s` (any shape) from the start.

    `cumulative` (n + 1,) holds the arc length at each vertex. Newton's method on
    arc length, kept inside a shrinking bracket. A length that is a vertex's own
    up to rounding gives the start of the segment that begins there.
    """
    shape = s.shape
    flat = s.reshape(-1)
    rounding = 32 * np.finfo(np.float64).eps * cumulative[-1]
    index = np.searchsorted(cumulative, flat + rounding, side="right") - 1
    index = np.clip(index, 0, len(controls) - 1)
    span = cumulative[index + 1] - cumulative[index]
    target = np.clip(flat - cumulative[index], 0.0, span)
    target[np.abs(target) <= rounding] = 0.0
    t = np.divide(target, span, out=np.zeros_like(target), where=span > 0)
    work = np.flatnonzero(~lines[index] & (t > 0) & (t < 1))
    if len(work):
        t[work] = _invert(controls[index[work]], target[work], span[work], t[work])
    return index.reshape(shape), t.reshape(shape)


def locate_one(controls: Floats, lines: Bools, cumulative: Floats, s: float) -> tuple[int, float]:
    """`locate` for one arc length: most are asked one by one, and again."""
    rounding = 32 * np.finfo(np.float64).eps * float(cumulative[-1])
    index = int(cumulative.searchsorted(s + rounding, side="right")) - 1
    index = min(max(index, 0), len(controls) - 1)
    begin = float(cumulative[index])
    span = float(cumulative[index + 1]) - begin
    target = min(max(s - begin, 0.0), span)
    t = target / span if target > rounding and span > 0 else 0.0
    if 0 < t < 1 and not lines[index]:
        t = _inverse(controls[index].tobytes(), target, span, t)
    return index, t


@lru_cache(maxsize=_MOST_KNOWN)
def _inverse(curve: bytes, target: float, span: float, t: float) -> float:
    """`_invert` for one curve, by its bytes."""
    controls = np.frombuffer(curve).reshape(1, 4, 2)
    return float(_invert(controls, *(np.array([x]) for x in (target, span, t)))[0])


def _near(hodographs: Floats, target: Floats, span: Floats, t: Floats) -> Floats:
    """Better guesses than `t` where the plain rule holds, which costs a small part of the whole."""
    for _ in range(_GUESSES):
        error = _rule(_first_parts(hodographs, t)) - target
        velocity = bezier.quadratic(hodographs, t)
        speed = np.hypot(velocity[:, 0], velocity[:, 1])
        newer = t - np.divide(error, speed, out=np.zeros_like(error), where=speed > 0)
        t = np.where((newer > 0) & (newer < 1), newer, t)
        if (np.abs(error) <= 1e-8 * span).all():
            break
    return t


def _invert(controls: Floats, target: Floats, span: Floats, t: Floats) -> Floats:
    """Parameters at which the length of each reaches `target`, starting from guesses `t`."""
    hodographs = 3.0 * np.diff(controls, axis=1)
    t = _near(hodographs, target, span, t)
    found = t.copy()
    live = np.arange(len(t))
    low, high = np.zeros_like(t), np.ones_like(t)
    for _ in range(_STEPS):
        error = _integrals(_first_parts(hodographs, t)) - target
        high = np.where(error > 0, t, high)
        low = np.where(error <= 0, t, low)
        velocity = bezier.quadratic(hodographs, t)
        speed = np.hypot(velocity[:, 0], velocity[:, 1])
        step = np.divide(error, speed, out=np.full_like(error, np.inf), where=speed > 0)
        newer = t - step
        good = (newer > low) & (newer < high)
        small = np.abs(error) <= 4 * RELATIVE * span
        # The last step is taken too, since it mends what error is left, unless it is
        # but rounding divided by next to no speed.
        done = np.where(np.abs(step) < 1e-6, newer, t)
        newer = np.where(small, done, np.where(good, newer, (low + high) / 2))
        found[live] = np.clip(newer, 0.0, 1.0)
        go = ~small & (high - low > 2e-16)
        if not go.any():
            break
        live, hodographs, target, span = live[go], hodographs[go], target[go], span[go]
        low, high, t = low[go], high[go], newer[go]
    return found
