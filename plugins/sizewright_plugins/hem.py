"""Turns edges up: the hem's shape below the edge, and how much of it must be eased."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding, Level
from sizewright.geometry import flatten
from sizewright.model import (
    Amount,
    CornerShape,
    Pattern,
    Piece,
    Run,
    RunReference,
    WidthStretch,
)
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, working_on
from sizewright.units import both

from .openings import overlap, stretch

api = 1

#: More than this of a turned-up edge can hardly be eased away in most cloths, as a share of it:
#: chosen, no source.
_MUCH = 0.03
_FINE = 0.01


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `hem`."""
    return [
        Operation(
            "hem",
            "turn edges up: depth, turns, the shape at the sides, what must be eased",
            turn_up,
            (
                Setting(
                    "along",
                    "run",
                    "the edges to turn up, as front:hem",
                    required=True,
                    shape="list",
                ),
                Setting("depth", "length", "how deep the finished hem is", required=True, low=2),
                Setting(
                    "turns",
                    "count",
                    "1: turned up once; 2: turned twice, which takes the depth twice",
                    1,
                    low=1,
                    high=2,
                ),
                Setting(
                    "finish",
                    "choice",
                    "eased: the edge itself is turned up; faced: a facing of that depth is drafted",
                    "eased",
                    choices=("eased", "faced"),
                ),
                Setting("turn-in", "length", "what is turned under at the raw edge", "0 mm", low=0),
            ),
            before_grading=True,
        )
    ]


def turn_up(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its hems: allowance folded back at the sides, and the line of stitching."""
    for reference in values["along"]:
        reference.whose(pattern, "front:hem")
    if values["finish"] == "faced":
        from .facing.made import drafted

        given = {
            "along": values["along"],
            "width": Amount(values["depth"]),
            "name": "hem-facing",
            "shorter": 0.0,
            "roll": 0.0,
            "one-piece": False,
            "replaces": (),
        }
        return drafted(pattern, given)
    if values["turn-in"] > values["depth"]:
        raise InputError(
            f"a hem {both(values['depth'])} deep has no {both(values['turn-in'])} to turn in",
            cure="Take a smaller turn-in, as 1 cm, or turns = 2.",
        )
    findings: list[Finding] = []

    def hemmed(piece: Piece) -> Piece:
        for reference in values["along"]:
            if reference.piece == piece.name:
                with working_on(piece):
                    piece = _hemmed(piece, reference, values)
                    findings.extend(_told(piece, reference, values))
                    findings.extend(_sewn(pattern, piece, reference))
        return piece

    return Outcome(pattern.replacing(hemmed), tuple(findings))


def _deep(values: Values) -> float:
    return float(values["depth"] * values["turns"] + values["turn-in"])


def _hemmed(piece: Piece, reference: RunReference, values: Values) -> Piece:
    from sizewright.drafting import known_allowances, with_cutting_line

    run = reference.on(piece)
    known = known_allowances(piece)
    if known is None or piece.kind == "cut":
        raise InputError(
            "nothing is said of its allowance, so a hem has nothing to be part of",
            cure="Add seam allowance in a step before; the hem then changes this edge.",
        )
    _check_room(piece, reference, run, values["depth"])
    deep = _deep(values)
    outline = piece.outline
    n = len(outline.path)
    start, end = run.start % n, run.end % n
    ends = {start: False, end: True}
    corners = [c for c in known.corners if c.vertex not in ends]
    # Folded back at both sides, so that the turned-up part lies on its piece.
    corners += [
        CornerShape(v, "fold-back", before)
        for v, before in ends.items()
        if v in outline.corners and not _on_fold(piece, v)
    ]
    allowances = replace(
        known,
        stretches=(*known.stretches, WidthStretch(start, end, deep, deep)),
        corners=tuple(sorted(corners, key=lambda c: c.vertex)),
    )
    made = with_cutting_line(replace(piece, allowances=allowances))
    return made.with_changes(
        f"{run.name or 'edge'} turned up {both(values['depth'])}"
        + (" twice" if values["turns"] == 2 else "")
    )


def _check_room(piece: Piece, reference: RunReference, run: Run, depth: float) -> None:
    import shapely

    if piece.on_fold(run.start):
        raise InputError(
            f"{reference} lies on the fold, and nothing is turned up there",
            cure="Name the edge to turn up, as front:hem.",
        )
    line = shapely.LineString(flatten(piece.outline.run_path(run), _FINE))
    inside = float(shapely.distance(shapely.points(piece.outline.path.vertices), line).max())
    if depth >= inside:
        raise GeometryError(
            f"a hem {both(depth)} deep reaches past the piece: only {both(inside)} lie inside",
            cure="Take less depth.",
        )


def _sewn(pattern: Pattern, piece: Piece, reference: RunReference) -> Iterator[Finding]:
    """A finding where an edge to be turned up is sewn to another."""
    mine, total = stretch(piece, reference.on(piece)), piece.outline.path.length
    for seam in pattern.seams:
        for part in (*seam.first, *seam.second):
            if part.piece != piece.name:
                continue
            if overlap(mine, stretch(piece, piece.run(part.run)), total):
                yield piece.finding(
                    "hem-in-seam",
                    "warn",
                    f"{reference} is turned up, and the seam {seam.name} sews it to another edge",
                    str(reference.run),
                    "Hem another edge, or take the seam out.",
                )
                return


def _on_fold(piece: Piece, vertex: int) -> bool:
    n = len(piece.outline.path)
    return piece.fold is not None and vertex in (piece.fold.start % n, piece.fold.end % n)


def _told(piece: Piece, reference: RunReference, values: Values) -> Iterator[Finding]:
    """How much longer the turned-up edge is than the line that it is sewn to."""
    run: Run = reference.on(piece)
    path = piece.outline.run_path(run)
    chords = np.diff(flatten(path, _FINE), axis=0)
    way = np.vstack([path.tangents_out[:1], chords, path.tangents_in[-1:]])
    turn = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))
    # Parallels to both sides of an edge differ by its whole turn times their distance.
    bend = float(turn[-1] - turn[0])
    more = 2 * bend * values["depth"]
    share = more / path.length
    if abs(more) < 0.5:
        return
    if more > 0:
        text = (
            f"its raw edge is {both(more)} longer than the line that it is sewn to, and is eased in"
        )
        cure = 'Take less depth, or face the hem (finish = "faced").' if share > _MUCH else ""
    else:
        text = f"its raw edge is {both(-more)} shorter than the line that it is sewn to"
        cure = 'Clip it, or face the hem (finish = "faced").' if -share > _MUCH else ""
    level: Level = "warn" if cure else "note"
    yield piece.finding("hem-eased", level, text, str(run.name), cure)
