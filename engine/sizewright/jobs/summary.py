"""What is in a pattern as plain data: the JSON of `show`, schema 1.

Millimetres and square millimetres, y up. Corners and edges are those of the outermost line;
notches and the fold are found on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..model.drawn import drawn_fold, drawn_named, drawn_spot, named_points

if TYPE_CHECKING:
    from ..formats.reading import Reading
    from ..model import Piece

SCHEMA = 1


def summarise(reading: Reading) -> dict[str, Any]:
    """The whole of a reading, ready for JSON; numbers at full precision."""
    return {
        "schema": SCHEMA,
        "units": "mm",
        "pieces": [summarise_piece(piece) for piece in reading.pattern.pieces],
        "set_aside": [one.as_dict() for one in reading.set_aside],
        "findings": [one.as_dict() for one in reading.findings],
    }


def summarise_piece(piece: Piece) -> dict[str, Any]:
    """One piece, as section "pieces" of the JSON has it."""
    drawn = drawn_named(piece)
    corners = []
    for number, vertex in enumerate(drawn.corners, start=1):
        point = drawn.point(vertex)
        x, y = drawn.vertex_at(vertex)
        corners.append(
            {
                "number": number,
                "name": point.name,
                "x": _plain(x),
                "y": _plain(y),
                "rule": point.rule,
            }
        )
    edges = [
        {
            "number": edge.number,
            "name": edge.name,
            "from": edge.from_corner,
            "to": edge.to_corner,
            "length": _plain(edge.length),
        }
        for edge in drawn.edges
    ]
    return {
        "name": piece.name,
        "size": piece.size,
        "outline": piece.drawn_kind,
        "area": _plain(piece.area),
        "perimeter": _plain(drawn.path.length),
        "bounds": [_plain(v) for v in piece.bounds],
        "corners": corners,
        "points": [
            {"name": p.name, "x": _plain(x), "y": _plain(y), "rule": p.rule}
            for p, x, y in named_points(piece)
        ],
        "edges": edges,
        "fold": _fold(piece),
        "grain": _grain(piece),
        "notches": _notches(piece),
        "quantity": [{"material": q.material, "count": q.count} for q in piece.quantity],
        "pair": piece.pair,
    }


def _fold(piece: Piece) -> dict[str, int | None] | None:
    found = drawn_fold(piece)
    if found is None:
        return None
    edge, start, end = found
    return {"edge": edge.number, "from": start, "to": end}


def _grain(piece: Piece) -> dict[str, float | int] | None:
    if piece.grain is None:
        return None
    (x0, y0), (x1, y1) = piece.grain.start, piece.grain.end
    ends: dict[str, float | int] = {"x0": _plain(x0), "y0": _plain(y0)}
    return ends | {"x1": _plain(x1), "y1": _plain(y1), "ends": piece.grain.ends}


def _notches(piece: Piece) -> list[dict[str, Any]]:
    found = []
    for notch in piece.notches:
        edge, distance = drawn_spot(piece, notch.at)
        found.append(
            {
                "edge": edge.number,
                "distance": _plain(distance),
                "kind": notch.kind,
                "depth": _plain(notch.depth),
            }
        )
    return found


def _plain(value: float) -> float:
    """A Python float, never minus zero."""
    return float(value) + 0.0
