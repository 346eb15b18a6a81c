"""Which segments are straight, whatever they are written as."""

from __future__ import annotations

import numpy as np

from . import bezier
from .extremes import quadratic_roots
from .path import Path
from .types import Bools, Floats


def straight_segments(path: Path, tolerance: float) -> Bools:
    """Whether each segment keeps within `tolerance` mm of its chord, (n,).

    A line does. A cubic does when its greatest distance from the chord (exact, at
    the roots of a quadratic) is at most `tolerance` and it nowhere runs past the
    chord's ends by more than that. A cubic that ends where it starts does only when
    all of it lies within `tolerance` of that point.
    """
    controls = path.controls - path.controls[:, :1]
    chord = controls[:, 3]
    size = np.hypot(chord[:, 0], chord[:, 1])
    unit = chord / np.where(size > 0, size, 1.0)[:, None]
    unit[size == 0] = (1.0, 0.0)
    along = controls[..., 0] * unit[:, None, 0] + controls[..., 1] * unit[:, None, 1]
    across = controls[..., 1] * unit[:, None, 0] - controls[..., 0] * unit[:, None, 1]
    low, high = _range(along)
    left, right = _range(across)
    close = (low >= -tolerance) & (high <= size + tolerance)
    close &= (left >= -tolerance) & (right <= tolerance)
    return path.lines | close


def _range(values: Floats) -> tuple[Floats, Floats]:
    """Least and greatest value of scalar cubics (n, 4) over [0, 1]."""
    d = np.diff(values, axis=1)
    t = quadratic_roots(d[:, 0] - 2 * d[:, 1] + d[:, 2], 2 * (d[:, 1] - d[:, 0]), d[:, 0])
    with np.errstate(invalid="ignore"):
        t = np.where((t > 0) & (t < 1), t, 0.0)
    s = 1 - t
    p0, p1, p2, p3 = values.T
    turning = s * s * s * p0 + 3 * s * s * t * p1 + 3 * s * t * t * p2 + t * t * t * p3
    every = np.stack([p0, p3, *turning])
    return every.min(axis=0), every.max(axis=0)


def merged_lines(path: Path) -> Path:
    """The path with lines that carry straight on as single lines."""
    controls: list[Floats] = []
    lines: list[bool] = []
    for cubic, line in zip(path.controls, path.lines.tolist(), strict=True):
        if lines and line and lines[-1] and _straight_on(controls[-1], cubic):
            controls[-1] = bezier.line_controls(controls[-1][0], cubic[3])
        else:
            controls.append(cubic)
            lines.append(line)
    ends = path.closed and len(lines) > 2 and lines[0] and lines[-1]
    if ends and _straight_on(controls[-1], controls[0]):
        controls[-1] = bezier.line_controls(controls[-1][0], controls[0][3])
        del controls[0], lines[0]
    return Path(np.array(controls), np.array(lines), path.closed)


def _straight_on(a: Floats, b: Floats) -> bool:
    u, v = a[3] - a[0], b[3] - b[0]
    cross = abs(float(u[0] * v[1] - u[1] * v[0]))
    return cross <= 1e-9 * float(np.hypot(*u) * np.hypot(*v)) and float(u @ v) > 0
