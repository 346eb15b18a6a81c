"""Which width each stretch of an outline gets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from sizewright.errors import InputError, LookupFailed, SizewrightError
from sizewright.geometry import Floats, Ints
from sizewright.model import MIRRORED, Pattern, Piece, Run, find_place, parse_place
from sizewright.units import parse_length

#: Characters that such a phrase may have.
_LONGEST = 400
_CHANGING = re.compile(
    r"(?P<piece>[^:]+):\s*(?P<w0>.+?)\s+at\s+(?P<a>.+?)\s+to\s+(?P<w1>.+?)\s+at\s+(?P<b>.+)"
)


@dataclass(frozen=True)
class Changing:
    """A width that goes evenly from `w0` at one place to `w1` at another, mm."""

    piece: str
    w0: float
    a: str
    w1: float
    b: str


def parse_changing(text: str) -> Changing:
    """Read `front: 3 cm at hem-side to 1.5 cm at underarm`; InputError shows that form."""
    m = _CHANGING.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if not m:
        raise InputError(
            f'"{text[:_LONGEST]}" is no changing width',
            cure="Write it like: front: 3 cm at hem-side to 1.5 cm at underarm.",
        )
    w0, w1 = parse_length(m["w0"]), parse_length(m["w1"])
    if min(w0, w1) < 0:
        raise InputError(f'"{text}" asks for a width below nothing')
    return Changing(m["piece"].strip(), w0, m["a"], w1, m["b"])


def check_references(pattern: Pattern, widths: Mapping[str, float]) -> None:
    """Raises LookupFailed for a key of `widths` that no piece of the pattern has."""
    for key in widths:
        if not any(_runs(piece, key) is not None for piece in pattern.pieces):
            name, colon, run = key.partition(":")
            if colon:
                piece = pattern.piece(name.strip())
                try:
                    piece.run(run.strip())
                except LookupFailed as error:
                    raise error.at(piece.name) from None
            names = sorted({r.name for p in pattern.pieces for r in p.outline.runs if r.name})
            raise LookupFailed(
                f'no piece, edge or run is named "{key}"',
                cure=f"Pieces: {', '.join(pattern.names)}; "
                f"edges and runs: {', '.join(names) or 'none'}.",
            )


def with_changing(piece: Piece, changing: Iterable[Changing]) -> Piece:
    """The piece with a vertex at each place where a width begins or ends to change."""
    for one in changing:
        for place in (one.a, one.b):
            piece, _ = piece.with_vertex(find_place(piece, parse_place(place)))
    return piece


def segment_widths(
    piece: Piece, width: float, widths: Mapping[str, float], changing: Iterable[Changing]
) -> Floats:
    """Width at the start and end of each segment of the outline, (n, 2), mm.

    What is said of a piece gives way to what is said of a run, and that to what is said
    of a run of this piece. The fold has none, and neither has a dart's leg.
    """
    n = len(piece.outline.path)
    result = np.full((n, 2), width)
    # From the widest saying to the narrowest; among equals the later one counts.
    for depth in range(3):
        said = {k: v for k, v in widths.items() if _depth(piece, k) == depth}
        # What is said of an edge holds for its mirror image too, unless that has its own.
        for key, value in [*((k + MIRRORED, v) for k, v in said.items()), *said.items()]:
            run = _runs(piece, key)
            if run is None:
                continue
            if all(piece.on_fold(int(segment)) for segment in _segments(piece, run)):
                raise InputError(
                    f'"{key}" is the fold, which takes no allowance',
                    where=piece.title,
                    cure="Leave it out; open the piece out to sew along it.",
                )
            result[_segments(piece, run)] = value
    for one in changing:
        _change(piece, one, result)
    if piece.fold:
        result[_segments(piece, Run(piece.fold.start, piece.fold.end))] = 0.0
    return result


def _runs(piece: Piece, key: str) -> Run | None:
    """The stretch of a piece that a key of the widths means; None where it means none."""
    name, colon, run = key.partition(":")
    if not colon:
        if key == piece.name:
            return Run(0, 0)
        run = key
    elif name.strip() != piece.name:
        return None
    try:
        found = piece.run(run.strip())
    except SizewrightError:
        return None
    return found if colon or found.name == run.strip() else None


def _depth(piece: Piece, key: str) -> int:
    if ":" in key:
        return 2
    return 0 if key == piece.name else 1


def _segments(piece: Piece, run: Run) -> Ints:
    return (run.start + np.arange(piece.outline.count(run))) % len(piece.outline.path)


def _change(piece: Piece, one: Changing, result: Floats) -> None:
    outline = piece.outline
    total = outline.path.length
    a = find_place(piece, parse_place(one.a))
    b = find_place(piece, parse_place(one.b))
    w0, w1 = one.w0, one.w1
    # Of the two ways round, the one along an edge is meant: the shorter.
    if (b - a) % total > total / 2:
        a, b, w0, w1 = b, a, w1, w0
    span = (b - a) % total
    if span == 0:
        raise InputError("its width changes between one place and itself", where=piece.title)
    begin = outline.path.cumulative[:-1]
    ends = begin + outline.path.segment_lengths
    for i, (s, e) in enumerate(zip(begin, ends, strict=True)):
        x = float((s - a) % total)
        x = 0.0 if total - x < 1e-6 else x
        y = x + float(e - s)
        if x < span - 1e-6 and y <= span + 1e-6:
            result[i] = w0 + (w1 - w0) * np.array([x, y]) / span
