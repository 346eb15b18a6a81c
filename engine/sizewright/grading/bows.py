"""Curves at corners without a rule keep their bow: grading gives them no turn the other way.

Such a corner goes along with its neighbours, and the far end by a rule; so the chord may turn
past a tangent that stays. Then the handles are made shorter, and if that does not do, the one at
the corner is turned as far as is needed. The sign of a cubic's curvature is that of a quadratic
with the Bernstein coefficients d0 x d1, d0 x d2 / 2, d1 x d2 of its control polygon's steps d.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterable
from dataclasses import replace

import numpy as np

from ..findings import Finding
from ..geometry.path import Path
from ..geometry.straight import straight_segments
from ..geometry.types import Floats
from ..model.piece import Piece

#: A cross product below this share of the squared length of the polygon is none.
_NONE = 1e-7
#: Handles are made shorter down to this share of their length.
_SHORTEST = 0.4
#: Steps in which a mend is sought, and halvings that make it exact.
_STEPS, _HALVINGS = 30, 40
#: A segment that leaves its chord by no more than this, mm, is straight.
_STRAIGHT = 1e-6


def keep_bows(
    base: Piece, piece: Piece, riding: Iterable[int]
) -> tuple[Piece, tuple[Finding, ...]]:
    """The piece with its curves beside the corners `riding` bowed to the side that they are in
    `base`, all along; curves that turn both ways in the base are left. A note tells each.
    """
    before, path = base.outline.path, piece.outline.path
    n = len(path)
    straight = straight_segments(before, _STRAIGHT)
    corners = set(riding)
    stops = {*base.outline.corners, *(p.vertex for p in base.outline.points if p.rule)}
    controls = path.controls.copy()
    findings = []
    for k, corner in sorted(_beside(corners, stops, n).items()):
        side = 0 if straight[k] else _bow(before.controls[k])
        if not side or _bow(controls[k], side):
            continue
        ends = (k in corners, (k + 1) % n in corners)
        mended = _mended(before.controls[k], controls[k], side, ends)
        told = piece.finding(
            "bow-kept",
            "note",
            "a curve was kept from turning the other way beside this corner, which has no rule",
            piece.outline.reference(corner) or "",
            "Give the corner a rule, if the line should run otherwise.",
        )
        if mended is None:
            text = "a curve turns the other way beside this corner, which has no rule"
            cure = "Give the corner a rule that fits those of its neighbours."
            told = replace(told, code="bow-turned", level="warn", text=text, cure=cure)
        else:
            controls[k] = mended
        findings.append(told)
    if np.array_equal(controls, path.controls):
        return piece, tuple(findings)
    outline = piece.outline.with_path(Path(controls, path.lines, True))
    return replace(piece, outline=outline), tuple(findings)


def _beside(riding: Iterable[int], stops: Container[int], n: int) -> dict[int, int]:
    """The segments from each riding corner to the next of `stops` both ways, with the corner."""
    found: dict[int, int] = {}
    for corner in riding:
        for step in (1, -1):
            at = corner
            while True:
                found.setdefault(at if step == 1 else (at - 1) % n, corner)
                at = (at + step) % n
                if at in stops:
                    break
    return found


def _bow(four: Floats, wanted: int = 0) -> int:
    """1 or -1 where a cubic (4, 2) bows to its left or right all along, else 0.

    With `wanted` only that side counts, and a straight line is bowed to it as well.
    """
    d = np.diff(four, axis=0)
    a, b, c = (float(d[i, 0] * d[j, 1] - d[i, 1] * d[j, 0]) for i, j in ((0, 1), (0, 2), (1, 2)))
    none = _NONE * float(np.hypot(*d.T).sum()) ** 2
    for side in (wanted,) if wanted else (1, -1):
        p, q, r = side * a, side * b, side * c
        least = -2 * math.sqrt(max(p, 0.0) * max(r, 0.0))
        if min(p, r) >= -none and q >= least - none and (wanted or max(p, q, r) > none):
            return side
    return 0


def _mended(base: Floats, four: Floats, side: int, turning: tuple[bool, bool]) -> Floats | None:
    """The cubic with handles shortened or, where `turning`, turned until it bows to `side`."""
    chords = [complex(*(one[3] - one[0])) for one in (base, four)]
    if not all(chords):
        return None
    ratio = chords[1] / chords[0]

    def made(turn: float, short: float) -> Floats:
        out = four.copy()
        for at, handle, free in ((0, 1, turning[0]), (3, 2, turning[1])):
            here = complex(*(four[handle] - four[at]))
            drawn = complex(*(base[handle] - base[at])) * ratio
            if free and here and drawn:
                angle = math.atan2((drawn / here).imag, (drawn / here).real)
                here *= complex(math.cos(turn * angle), math.sin(turn * angle))
            here *= 1.0 - (1.0 - _SHORTEST) * short
            out[handle] = four[at] + (here.real, here.imag)
        return out

    ways: tuple[Callable[[float], Floats], ...] = (
        lambda x: made(0.0, x),
        lambda x: made(x, 0.0),
        lambda x: made(1.0, x),
    )
    for way in ways:
        for step in range(1, _STEPS + 1):
            if not _bow(way(step / _STEPS), side):
                continue
            low, high = (step - 1) / _STEPS, step / _STEPS
            for _ in range(_HALVINGS):
                middle = (low + high) / 2
                low, high = (low, middle) if _bow(way(middle), side) else (middle, high)
            return way(high)
    return None
