"""Bends that different sizes above and below make at a smooth point are spread along its lines."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ..findings import Finding
from ..geometry.path import Path
from ..model.frame import Frame, centre_vertices
from ..model.outline import vertices_between
from ..model.piece import Piece

#: Smaller bends are left as they are, larger ones are corners for the maker to redraw, degrees.
_LEAST, _MOST = 0.01, 15.0
#: A bend of this much is a warning: it can be seen on the cloth.
_SEEN = 1.0


def spread_bends(base: Piece, piece: Piece, frame: Frame) -> tuple[Piece, tuple[Finding, ...]]:
    """The piece with one tangent again at each point that was smooth in `base`.

    The lines on both sides become curves that leave their far ends as they did, so the bend is
    spread over their length. Fold, centre and the straight legs of darts stay straight.
    """
    path = piece.outline.path
    n = len(path)
    bent = path.turns - base.outline.path.turns
    corners = set(base.outline.corners) | set(centre_vertices(piece, frame))
    corners |= {v for d in piece.darts for v in vertices_between(d.a, d.b, n)}
    controls, lines = path.controls.copy(), path.lines.copy()
    findings = []
    for vertex in map(int, np.flatnonzero((abs(bent) > _LEAST) & (abs(bent) <= _MOST))):
        if vertex in corners:
            continue
        half = math.radians(float(bent[vertex])) / 2
        for segment, ahead in ((vertex - 1, False), (vertex, True)):
            segment %= n
            four = controls[segment]
            if lines[segment]:
                four[1] = four[0] + (four[3] - four[0]) / 3
                four[2] = four[3] - (four[3] - four[0]) / 3
                lines[segment] = False
            at, handle = (0, 1) if ahead else (3, 2)
            turn = -half if ahead else half
            c, s = math.cos(turn), math.sin(turn)
            four[handle] = four[at] + np.array([[c, -s], [s, c]]) @ (four[handle] - four[at])
        x, y = controls[vertex, 0]
        degrees = abs(float(bent[vertex]))
        findings.append(
            piece.finding(
                "bend-spread",
                "warn" if degrees >= _SEEN else "note",
                f"the sizes above and below meet in a bend of {degrees:.1f} degrees, which was "
                "spread along the line",
                base.outline.point(vertex).name or f"{x:.1f}, {y:.1f} mm",
                "Look whether the line runs as you like it.",
            )
        )
    if not findings:
        return piece, ()
    outline = piece.outline.with_path(Path(controls, lines, True))
    return replace(piece, outline=outline), tuple(findings)
