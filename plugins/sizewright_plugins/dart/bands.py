"""A band made shorter where darts were taken from what it is sewn to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sizewright.drafting import Line, Ring, Settled, Span, Zone, staying, with_vertices
from sizewright.errors import GeometryError
from sizewright.geometry import Floats, Path, affine, curve_through
from sizewright.model import Piece
from sizewright.units import both

#: Cuts whose ends meet within this, mm, are closed as they are; else the edge is drawn anew
#: from so far on each side, mm.
_EXACT = 1e-7
_REACH = 15.0


def shortened(piece: Piece, cuts: Sequence[tuple[float, float, float]], settled: Settled) -> Ring:
    """The ring of a band out of which strips are taken.

    Each is (arc length on one edge, arc length opposite, take): as much goes from both edges.
    The part nearest the centre stays. Raises GeometryError where a strip meets a corner or
    another strip.
    """
    strips = _in_order(piece, cuts)
    # Where each strip begins and ends, on its own edge and on the one opposite.
    edges = [((s - take / 2, s + take / 2), (t - take / 2, t + take / 2)) for s, t, take in strips]
    exact = settled.once(
        f"{piece.name}: strips close",
        lambda: all(_gap(piece.outline.path, *edge) <= _EXACT for edge in edges),
    )
    reach = 0.0 if exact else _REACH
    _check(piece, strips, reach)
    total = piece.outline.path.length
    ways = [
        ((s0 - reach) % total, (s1 + reach) % total, (t0 - reach) % total, (t1 + reach) % total)
        for (s0, s1), (t0, t1) in edges
    ]
    cut, vertices, _ = with_vertices(piece, [s for way in ways for s in way])
    path, n = cut.outline.path, len(ways)
    marks = [tuple(vertices[4 * k : 4 * k + 4]) for k in range(n)]
    regions = [_region(path, k, n, marks) for k in range(n + 1)]
    stay = settled.once(f"{piece.name}: what stays", lambda: staying(cut, regions))
    moves = _moves(path, edges, stay)
    zones = [Zone(cut, move, region) for move, region in zip(moves, regions, strict=True)]
    over = cut.outline.runs_over
    runs = [(over(a, b), over(c, d)) for a, b, c, d in marks]

    def joint(k: int, far: bool) -> list[Line]:
        """The edge over a closed strip, where it is drawn anew."""
        if exact:
            return []
        a, b = (marks[k][2], marks[k][3]) if far else (marks[k][0], marks[k][1])
        before, after = (zones[k + 1], zones[k]) if far else (zones[k], zones[k + 1])
        ends = path.controls[[a - 1, b], [3, 0]]
        ways = np.array([path.tangents_in[a - 1], path.tangents_out[b]])
        start, end = (affine.apply(z.move, ends[i][None])[0] for i, z in enumerate((before, after)))
        way, onward = (z.move[:, :2] @ ways[i] for i, z in enumerate((before, after)))
        return [Line(curve_through(np.array([start, end]), way, onward), goes_on=runs[k][far])]

    elements: list[Span | Line] = [Span(zones[0], marks[0][3], marks[0][0])]
    for k in range(n):
        elements += joint(k, False)
        last = marks[k][2] if k == n - 1 else marks[k + 1][0]
        elements.append(Span(zones[k + 1], marks[k][1], last))
    for k in reversed(range(n)):
        elements += joint(k, True)
        if k:
            elements.append(Span(zones[k], marks[k][3], marks[k - 1][2]))
    taken = both(sum(take for _, _, take in strips))
    return Ring(elements, f"{taken} shorter, as darts were taken beside it", stays=zones[stay])


def _in_order(
    piece: Piece, cuts: Sequence[tuple[float, float, float]]
) -> list[tuple[float, float, float]]:
    """All strips from one edge, in the order of the outline."""
    total = piece.outline.path.length
    first = cuts[0]
    ordered = []
    for s, t, take in cuts:
        # On the edge of the first strip, which the outline walks before what lies opposite.
        if _between(first[0], s, first[1], total) != _between(first[0], t, first[1], total):
            near = min((s, t), key=lambda x: abs((x - first[0] + total / 2) % total - total / 2))
            s, t = (s, t) if near == s else (t, s)
        ordered.append((s, t, take))
    start = (first[0] + first[1] + (0 if first[1] < first[0] else total)) / 2 - total / 2
    return sorted(ordered, key=lambda cut: (cut[0] - start) % total)


def _between(a: float, x: float, b: float, total: float) -> bool:
    return (x - a) % total < (b - a) % total


def _gap(path: Path, near: tuple[float, float], far: tuple[float, float]) -> float:
    """By how much the ends of a strip do not meet when it is closed, mm."""
    move = _close(path, near, far)
    return float(np.hypot(*(affine.apply(move, path.at(near[1])[None])[0] - path.at(near[0]))))


def _close(path: Path, near: tuple[float, float], far: tuple[float, float]) -> Floats:
    """The move that lays a strip's further cut on its nearer one, middles together."""
    total = path.length
    a = np.array([path.at(near[0] % total), path.at(far[1] % total)])
    b = np.array([path.at(near[1] % total), path.at(far[0] % total)])
    angles = [np.degrees(np.arctan2(*(line[1] - line[0])[::-1])) for line in (a, b)]
    turn = affine.rotation(float(angles[0] - angles[1]))
    step = a.mean(axis=0) - affine.apply(turn, b.mean(axis=0)[None])[0]
    return affine.compose(affine.translation(float(step[0]), float(step[1])), turn)


def _moves(path: Path, edges: Sequence[tuple[tuple[float, float], ...]], stay: int) -> list[Floats]:
    """How each part between the strips moves, part `stay` not at all."""
    steps = [_close(path, near, far) for near, far in edges]
    moves = [affine.identity() for _ in range(len(edges) + 1)]
    for k in range(stay, len(edges)):
        moves[k + 1] = affine.compose(moves[k], steps[k])
    for k in range(stay, 0, -1):
        moves[k - 1] = affine.compose(moves[k], _inverse(steps[k - 1]))
    return moves


def _inverse(move: Floats) -> Floats:
    turn = move[:, :2].T
    inverse: Floats = np.column_stack([turn, -turn @ move[:, 2]])
    return inverse


def _region(path: Path, k: int, n: int, marks: Sequence[tuple[int, ...]]) -> Path:
    """What part `k` of the band covers, as a closed line."""
    if k == 0:
        return Path.ringed([path.segments(marks[0][3], marks[0][0])])
    if k == n:
        return Path.ringed([path.segments(marks[-1][1], marks[-1][2])])
    near = path.segments(marks[k - 1][1], marks[k][0])
    return Path.ringed([near, path.segments(marks[k][3], marks[k - 1][2])])


def _check(piece: Piece, strips: Sequence[tuple[float, float, float]], reach: float) -> None:
    path = piece.outline.path
    total = path.length
    for k, (s, t, take) in enumerate(strips):
        stops = [
            (float(path.cumulative[v]), f"its corner {piece.outline.reference(v)}")
            for v in piece.outline.corners
        ]
        stops += [(x, "another one") for j, other in enumerate(strips) if j != k for x in other[:2]]
        for at, words in stops:
            for x in (s, t):
                if abs((at - x + total / 2) % total - total / 2) <= take / 2 + reach:
                    x0, y0 = path.at(at)
                    raise GeometryError(
                        f"the {both(take)} to take out of it meets {words} near "
                        f"({x0:.0f}, {y0:.0f})",
                        where=piece.title,
                        cure="Take another place for the dart.",
                    )
