"""Casings for elastic or a cord: folded over at an edge, or a strip applied to the cloth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sizewright.errors import GeometryError
from sizewright.findings import Finding
from sizewright.geometry import Floats, Path, affine, crossings
from sizewright.model import FOLD_LINE, Amount, Mark, Pattern, Piece, Quantity, Run, RunReference
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl
from sizewright.units import Unit, both

if TYPE_CHECKING:
    from sizewright.drafting import Edit, Ring, Settled

api = 1

#: A casing is higher than its elastic by so much, and so much is turned in: common practice, no
#: source; mm.
_ROOM, _TURN_IN = Unit.IN.to_mm(1 / 8), Unit.IN.to_mm(1 / 4)
#: An edge that bends by more than this cannot be folded over flat, mm.
_STRAIGHT = 1.0


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `casing`."""
    return [
        Operation(
            "casing",
            "draft a casing for elastic or a cord, folded over or applied",
            draft,
            (
                Setting(
                    "along",
                    "run",
                    "the edges that it is made at, as sleeve:hem",
                    required=True,
                    shape="list",
                ),
                Setting(
                    "kind",
                    "choice",
                    "folded over at the edge, or a strip that is sewn on",
                    "fold-over",
                    choices=("fold-over", "applied"),
                ),
                Setting("elastic-width", "length", "how wide the elastic is", required=True, low=2),
                Setting("body", "length", "what the elastic goes round, for its length", low=20),
                Setting("stretch", "share", "by how much it is stretched", "0%", low=0, high=0.6),
                Setting("overlap", "length", "by how much its ends lap", "1 in", low=0),
                Setting("at", "length", "how far inside the edge it begins", "0 mm", low=0),
                Setting("name", "text", "what an applied strip is called", "casing"),
            ),
            before_grading=True,
        )
    ]


def draft(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its casings, their stitching lines, and the length of the elastic."""
    from sizewright.drafting import redraft

    references: Sequence[RunReference] = values["along"]
    for reference in references:
        reference.on(reference.whose(pattern, "sleeve:hem"))
    high = values["elastic-width"] + _ROOM
    findings = _elastic(values)
    if values["kind"] == "applied":
        return _applied(pattern, references, high, values, findings)
    after, long = pattern, 0.0
    for reference in references:
        piece = pattern.piece(str(reference.piece))
        long += _times(pattern, references, piece) * piece.outline.run_length(reference.on(piece))
        done = redraft(after, [str(reference.piece)], _folded(after, reference, high, values["at"]))
        after = done.pattern
        findings += done.findings
    return Outcome(after, (*findings, *_slack(long, values)))


def _elastic(values: Values) -> list[Finding]:
    """The length that the elastic is cut: body less stretch, and the lap of its ends."""
    if values["body"] is None:
        return []
    length = values["body"] * (1 - values["stretch"]) + values["overlap"]
    text = (
        f"cut the elastic {both(length)} long: {both(values['body'])} less "
        f"{values['stretch'] * 100:g} % of stretch, and {both(values['overlap'])} to lap"
    )
    return [Finding("elastic", "note", text, cure="Try it round the body before you sew it.")]


def _slack(casing: float, values: Values) -> Iterator[Finding]:
    """A finding where elastic, its ends lapped, is longer than its casing."""
    elastic = (values["body"] or 0.0) * (1 - values["stretch"])
    if elastic > casing:
        yield Finding(
            "elastic-slack",
            "warn",
            f"elastic that goes round {both(elastic)} draws nothing in: the casing is only "
            f"{both(casing)} long",
            cure="Say a smaller body or more stretch, or name all edges that it runs along.",
        )


def _times(pattern: Pattern, references: Sequence[RunReference], piece: Piece) -> int:
    """How often the edge of a piece is in the round: twice for a half, and for both of a pair."""
    both_halves = piece.pair and not _rings(pattern, references)
    return 2 if piece.fold is not None or both_halves else 1


def _stitching(
    pattern: Pattern,
    piece: Piece,
    reference: RunReference,
    settled: Settled,
    places: Sequence[float],
    casing: str,
) -> tuple[Mark, ...]:
    """Lines beside the edge, within the piece, at these distances; 0 is left out. Darts are
    left out of them."""
    marks = []
    for k, place in enumerate((p for p in places if p > 0), 1):
        lines = _beside(pattern, piece, reference, settled, place)
        for n, path in enumerate(lines, 1):
            name = f"{reference.run}-{casing}-{k}" + (f"-{n}" if len(lines) > 1 else "")
            marks.append(Mark(path, "stitching line", name))
    return tuple(marks)


def _beside(
    pattern: Pattern, piece: Piece, reference: RunReference, settled: Settled, by: float
) -> list[Path]:
    """The line so far inside an edge, in parts between its darts."""
    from sizewright.drafting import LineAsked

    run = piece.run(reference.run)
    mouths, _ = _mouths(piece, run)
    starts = [run.start, *(mouth.end for mouth in mouths)]
    ends = [*(mouth.start for mouth in mouths), run.end]
    asked = [LineAsked.inside(piece, a, b, by) for a, b in zip(starts, ends, strict=True)]
    if not mouths:
        asked = [LineAsked(beside=RunReference(None, reference.run), by=Amount(by))]
    return [one.path(pattern, piece, settled) for one in asked]


def _mouths(piece: Piece, run: Run) -> tuple[list[Run], list[Run]]:
    """The mouths within a run: of darts that are cut out, and those that the outline crosses."""
    n = len(piece.outline.path)
    cut = {dart.a % n for dart in piece.darts if dart.tip is not None}
    mouths = piece.mouths(run)
    out = [mouth for mouth in mouths if mouth.start % n in cut]
    return out, [mouth for mouth in mouths if mouth not in out]


# --- folded over ----------------------------------------------------------------------------


def _folded(pattern: Pattern, reference: RunReference, high: float, at: float) -> Edit:
    """The edit that extends a piece over its edge, sides mirrored."""
    from sizewright.drafting import Line, Ring, Span, Zone

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
        (piece,) = pieces.values()
        run = reference.on(piece)
        outline = piece.outline
        line = outline.run_path(run)
        a, b = line.start, line.end
        _check_straight(piece, reference, line)
        over = affine.mirror(a, b)
        deep = at + high + _TURN_IN
        sides = [
            _side(piece, vertex, onward, a, b, deep)
            for vertex, onward in ((run.start, False), (run.end, True))
        ]
        there, back = (side.transformed(over) for side in sides)
        path = Path.join([there, Path.polyline([there.end, back.end]), back.reversed()])
        marks = _stitching(pattern, piece, reference, settled, (at, at + high), "casing")
        fold = Mark(line, FOLD_LINE, f"{reference.run}-fold")
        step = f"casing {both(high)} high folded over at {reference.run}"
        ring = Ring(
            [
                Span(Zone(piece), run.end, run.start),
                Line(path, f"{reference.run}-raw"),
            ],
            step,
            marks=(fold, *marks),
        )
        return {piece.name: ring}

    return edit


def _check_straight(piece: Piece, reference: RunReference, line: Path) -> None:
    a, b = line.start, line.end
    way = (b - a) / float(np.hypot(*(b - a)))
    off = line.controls.reshape(-1, 2) - a
    bend = float(np.abs(off[:, 0] * way[1] - off[:, 1] * way[0]).max())
    if bend > _STRAIGHT or piece.mouths(piece.run(reference.run)):
        raise GeometryError(
            f"{reference} bends by {both(bend)} or has a dart, and cannot be folded over flat",
            where=piece.title,
            cure='Take kind = "applied".',
        )


def _side(piece: Piece, vertex: int, onward: bool, a: Floats, b: Floats, deep: float) -> Path:
    """The outline beside the edge as far as it lies within `deep` of it, from the edge away."""
    side = piece.outline.way_on(vertex, after=onward)
    way = (b - a) / np.hypot(*(b - a))
    inward = np.array([-way[1], way[0]]) * deep
    reach = way * (10 * deep + float(np.hypot(*(b - a))))
    level = Path.polyline([a + inward - reach, b + inward + reach])
    found = [c.s0 for c in crossings(side, level)]
    if not found:
        raise GeometryError(
            f"the sides of the piece are shorter than a casing {both(deep)} deep",
            where=piece.title,
            cure="Take narrower elastic.",
        )
    return side.part(0.0, min(found))


# --- applied --------------------------------------------------------------------------------


def _rings(pattern: Pattern, references: Sequence[RunReference]) -> bool:
    """Whether the edge is that of a pair, each of which is sewn to itself, as a sleeve is."""
    (name, *others) = {reference.piece for reference in references}
    if others or name is None or not pattern.piece(name).pair:
        return False
    return any(seam.pieces() == {name} for seam in pattern.seams)


def _applied(
    pattern: Pattern,
    references: Sequence[RunReference],
    high: float,
    values: Values,
    findings: list[Finding],
) -> Outcome:
    from sizewright.drafting import Settled, drafted_strip, lengthwise_grain, with_drafted

    name, at = values["name"], values["at"]
    settled = Settled()
    lengths: dict[str | None, float] = {}
    count = 2 if _rings(pattern, references) else 1

    def marked(piece: Piece) -> Piece:
        for reference in references:
            if reference.piece != piece.name:
                continue
            marks = _stitching(pattern, piece, reference, settled, (at, at + high), name)
            middle = _beside(pattern, piece, reference, settled, at + high / 2)
            _, flat = _mouths(piece, piece.run(reference.run))
            long = sum(path.length for path in middle)
            long -= sum(piece.outline.run_length(mouth) for mouth in flat)
            long *= _times(pattern, references, piece)
            lengths[piece.size] = lengths.get(piece.size, 0.0) + long
            base = piece.base
            if base is not None:
                own = _stitching(pattern, base, reference, settled, (at, at + high), name)
                base = replace(base, marks=(*_but(base, reference, name), *own))
            marks = (*_but(piece, reference, name), *marks)
            step = f"{name} placed at {reference.run}"
            # Made anew it stands there already.
            step_taken = piece.story[-1:] == (step,)
            piece = replace(piece, marks=marks, base=base)
            piece = piece if step_taken else piece.with_changes(step)
        return piece

    after = pattern.replacing(marked)
    tall = high + 2 * _TURN_IN

    def make(size: str | None) -> list[Piece]:
        long = lengths.get(size, lengths.get(None, 0.0)) + 2 * _TURN_IN
        return [
            drafted_strip(
                name,
                size,
                (long, tall),
                f"casing drafted {both(high)} high for {' and '.join(map(str, references))}",
                (_TURN_IN, tall - _TURN_IN),
                "turn-in",
                quantity=(Quantity("main", count),),
                grain=lengthwise_grain((0.0, 0.0, long, tall)),
            )
        ]

    made = with_drafted(after, make)
    findings += _slack(min(lengths.values()), values)
    return Outcome(made, tuple(findings), (name,), tuple(references))


def _but(piece: Piece, reference: RunReference, name: str) -> list[Mark]:
    """The marks of a piece without the stitching lines of this casing as it was before."""
    own = f"{reference.run}-{name}-"
    return [mark for mark in piece.marks if not (mark.name or "").startswith(own)]
