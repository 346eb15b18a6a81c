"""Subpaths in user units as paths in mm, without segments of no length."""

from __future__ import annotations

import numpy as np

from ...geometry import affine, bezier
from ...geometry.path import Path
from ...geometry.types import Floats
from .path_data import Subpath

#: A segment that stays within this of its start, in mm, is none: below what a round trip
#: may lose (1e-6 mm), above what rounding to 7 decimals leaves.
NO_LENGTH = 5e-7
#: The closing line that `Z` draws is left out up to this length, in mm: relative
#: coordinates of editors miss their start by so much.
CLOSING = 1e-3


def to_path(subpath: Subpath, matrix: Floats) -> Path | None:
    """The subpath moved by `matrix` into mm; None where nothing of it has a length."""
    segments = subpath.segments
    if not segments:
        return None
    n = len(segments)
    lines = np.fromiter((len(s) == 2 for s in segments), dtype=bool, count=n)
    user = np.empty((n, 4, 2))
    for i, segment in enumerate(segments):
        if len(segment) == 2:
            user[i, 0], user[i, 1], user[i, 2], user[i, 3] = (
                segment[0],
                segment[0],
                segment[1],
                segment[1],
            )
        else:
            user[i] = segment
    controls = affine.apply(matrix, user)
    return cleaned(controls, lines, subpath.closed)


def cleaned(controls: Floats, lines: np.ndarray, closed: bool) -> Path | None:
    """A path of segments end to end, those of no length dropped, closed with a line if need be."""
    keep = np.abs(controls - controls[:, :1]).max(axis=(1, 2)) > NO_LENGTH
    if not keep.any():
        return None
    start = controls[0, 0].copy()
    controls, lines = controls[keep], lines[keep]
    controls[0, 0] = start
    if closed:
        gap = float(np.hypot(*(controls[-1, 3] - start)))
        if gap > CLOSING:
            controls = np.concatenate(
                [controls, bezier.line_controls(controls[-1, 3], start)[None]]
            )
            lines = np.append(lines, True)
        elif gap > 0:
            _meet(controls, lines, start)
    return Path(controls, lines, closed)


def _meet(controls: Floats, lines: np.ndarray, start: Floats) -> None:
    """Move the last end, with its handle, onto the start."""
    if not lines[-1]:
        controls[-1, 2] += start - controls[-1, 3]
    controls[-1, 3] = start


def closed_within(path: Path, gap: float) -> Path:
    """An open path as a closed one where its ends are at most `gap` mm apart, else itself."""
    if path.closed or (len(path) == 1 and path.lines[0]):
        return path
    if float(np.hypot(*(path.end - path.start))) > gap:
        return path
    controls = path.controls.copy()
    _meet(controls, path.lines, path.start)
    done = cleaned(controls, path.lines.copy(), True)
    return path if done is None else done
