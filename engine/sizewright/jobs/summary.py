"""What is in a pattern as plain data: the JSON of `show`, schema 1.

Millimetres and square millimetres, y up. The facts of a line (corners, edges, notches and
the rest) are those of the outermost one; where there is a sewing line within a cutting
line, the same facts of the sewing line stand under `sew`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ..model import Run, eye_darts, format_seam
from ..model.drawn import drawn_fold, drawn_named, drawn_notches, drawn_sewn, named_points
from .seam_table import seam_rows

if TYPE_CHECKING:
    from ..formats import Reading
    from ..geometry import Floats, Path
    from ..model import Pattern, Piece, Point

    _At = Floats | tuple[float, float]

SCHEMA = 1
#: How far a curve may lie from the points that are given for it, mm.
CHORD = 0.05


def summarise(reading: Reading) -> dict[str, Any]:
    """The whole of a reading, ready for JSON; numbers at full precision.

    The kinds of line stand under `lines` where sizes are told apart by them.
    """
    lines = {"lines": [one.as_dict() for one in reading.lines]} if reading.lines else {}
    return {
        "schema": SCHEMA,
        "units": "mm",
        "pieces": [summarise_piece(piece) for piece in reading.pattern.pieces],
        "seams": _seams(reading.pattern),
        "set_aside": [one.as_dict() for one in reading.set_aside],
        "findings": [one.as_dict() for one in reading.findings],
        **lines,
    }


def summarise_piece(piece: Piece) -> dict[str, Any]:
    """One piece, as section "pieces" of the JSON has it."""
    return {
        "name": piece.name,
        "size": piece.size,
        "outline": piece.drawn_kind,
        **_line(piece),
        "sew": _line(replace(piece, cut_line=None)) if piece.cut_line else None,
        "marks": [
            {
                "kind": mark.kind,
                "name": mark.name,
                "closed": mark.path.closed,
                "length": _plain(mark.path.length),
                "points": _points(mark.path),
            }
            for mark in piece.marks
        ],
        "drills": [
            {"name": d.name, "x": _plain(d.at[0]), "y": _plain(d.at[1])} for d in piece.drills
        ],
        "labels": [
            {"text": t.text, "x": _plain(t.at[0]), "y": _plain(t.at[1])} for t in piece.labels
        ],
        "cutouts": [
            {"area": _plain(abs(c.path.area)), "points": _points(c.path)} for c in piece.cutouts
        ],
        "grain": _grain(piece),
        "quantity": [{"material": q.material, "count": q.count} for q in piece.quantity],
        "pair": piece.pair,
    }


def _line(piece: Piece) -> dict[str, Any]:
    """What is known of the outermost line of a piece."""
    drawn = drawn_named(piece)
    runs = [run for run in drawn.runs if run.name]
    lengths = drawn_sewn(piece, [*(Run(edge.start, edge.end) for edge in drawn.edges), *runs])
    mouths = [(d, [piece.outline.vertex_at(v) for v in (d.a, d.b)]) for d in piece.darts]
    darts = [_dart(d.name, (a, b), d.apex, math.dist(a, b)) for d, (a, b) in mouths]
    return {
        "area": _plain(piece.area),
        "perimeter": _plain(drawn.path.length),
        "bounds": [_plain(v) for v in piece.bounds],
        "corners": [
            {"number": number, **_point(drawn.point(v), *drawn.vertex_at(v))}
            for number, v in enumerate(drawn.corners, 1)
        ],
        "points": [_point(*known) for known in named_points(piece)],
        "edges": [
            {
                "number": edge.number,
                "name": edge.name,
                "from": edge.from_corner,
                "to": edge.to_corner,
                "length": _plain(edge.length),
                "sewn": _plain(sewn),
            }
            for edge, sewn in zip(drawn.edges, lengths, strict=False)
        ],
        "runs": [
            {
                "name": run.name,
                "length": _plain(drawn.run_length(run)),
                "sewn": _plain(sewn),
            }
            for run, sewn in zip(runs, lengths[len(drawn.edges) :], strict=True)
        ],
        "darts": [
            *darts,
            *(_dart(eye.name, eye.mouth, eye.tips[1], eye.take) for eye in eye_darts(piece)),
        ],
        "fold": _fold(piece),
        "notches": _notches(piece),
    }


def _point(point: Point, x: float, y: float) -> dict[str, Any]:
    return {"name": point.name, "x": _plain(x), "y": _plain(y), "rule": point.rule}


def _dart(name: str, mouth: Iterable[_At], tip: _At, take: float) -> dict[str, Any]:
    return {"name": name, "mouth": [_pair(at) for at in mouth], "tip": _pair(tip), "take": take}


def _seams(pattern: Pattern) -> list[dict[str, Any]]:
    return [
        {
            "name": seam.name,
            "text": format_seam(seam),
            "sizes": [
                {
                    "size": row.size or None,
                    "first": _plain(row.first),
                    "second": _plain(row.second),
                    "off": _plain(row.off),
                }
                for row in seam_rows(pattern, seam)
                if not row.trouble
            ],
        }
        for seam in pattern.seams
    ]


def _points(path: Path) -> list[list[float]]:
    """Points along a path, its own vertices among them; straight lines have no others."""
    from ..geometry import flatten

    return [_pair(at) for at in flatten(path, CHORD)]


def _pair(at: _At) -> list[float]:
    return [_plain(at[0]), _plain(at[1])]


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
    return [
        {
            "edge": edge.number,
            "distance": _plain(distance),
            "kind": notch.kind,
            "depth": _plain(notch.depth),
        }
        for notch, (edge, distance) in zip(piece.notches, drawn_notches(piece), strict=True)
    ]


def _plain(value: float) -> float:
    """A Python float, never minus zero."""
    return float(value) + 0.0
