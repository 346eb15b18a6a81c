"""Runs and lines that a cut had parted, and that lie end to end again, are one again."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TypeVar

import numpy as np

from sizewright.geometry import Path
from sizewright.model import Adjust, ChainPart, Mark, Pattern, Piece, Run, counts_backward

from .joining import LINES_MEET

_Line = TypeVar("_Line", Mark, Adjust)

_NUMBERED = re.compile(r"(?P<name>.+)-(?P<number>\d+)")


def reunited(pattern: Pattern, name: str) -> Pattern:
    """The pattern with runs `side-1`, `side-2` of the piece `name` as `side`, in every size, and
    with marks and adjust lines of one name that meet as one.

    Runs only where they lie end to end, and where every seam has all of them in a row.
    """

    def with_lines(piece: Piece) -> Piece:
        return replace(piece, marks=_lines(piece.marks), adjusts=_lines(piece.adjusts))

    pattern = pattern.changing([name], with_lines)
    for stem, parts in _parted(pattern.piece(name)).items():
        piece = pattern.piece(name)
        whole = _whole(piece, parts, stem)
        if whole is None or any(run.name == stem for run in piece.outline.runs):
            continue
        seams = []
        for seam in pattern.seams:
            first = _again(piece, seam.first, parts, whole)
            second = _again(piece, seam.second, parts, whole)
            if first is not None and second is not None:
                seams.append(replace(seam, first=first, second=second))
        if len(seams) < len(pattern.seams):
            continue

        def with_whole(one: Piece, parts: Sequence[str] = parts, stem: str = stem) -> Piece:
            run = _whole(one, parts, stem)
            assert run is not None
            kept = tuple(r for r in one.outline.runs if r.name not in parts)
            return replace(one, outline=replace(one.outline, runs=(*kept, run)))

        pattern = replace(pattern.changing([name], with_whole), seams=tuple(seams))
    return pattern


def _lines(lines: tuple[_Line, ...]) -> tuple[_Line, ...]:
    """Lines that bear one name and meet end to end, as one."""
    out: list[_Line] = []
    for line in lines:
        for k, other in enumerate(out):
            path = _one_path(other.path, line.path)
            if line.name and path is not None and replace(other, path=line.path) == line:
                out[k] = replace(other, path=path)
                break
        else:
            out.append(line)
    return tuple(out)


def _one_path(a: Path, b: Path) -> Path | None:
    """Two open paths as one, where an end of one meets an end of the other."""
    if a.closed or b.closed:
        return None
    for first in (a, a.reversed()):
        for second in (b, b.reversed()):
            if float(np.hypot(*(second.start - first.end))) <= LINES_MEET:
                return Path.join([first, second])
    return None


def _parted(piece: Piece) -> dict[str, list[str]]:
    """Names of runs that differ in their number alone, in order, by what stands before it."""
    found: dict[str, dict[int, str]] = {}
    for run in piece.outline.runs:
        m = _NUMBERED.fullmatch(run.name or "")
        if m:
            found.setdefault(m["name"], {})[int(m["number"])] = m[0]
    return {
        stem: [parts[k] for k in sorted(parts)]
        for stem, parts in found.items()
        if len(parts) > 1 and sorted(parts) == [*range(1, len(parts) + 1)]
    }


def _whole(piece: Piece, parts: Sequence[str], stem: str) -> Run | None:
    """The run that parts make which lie end to end, either way round; None where they do not."""
    runs = [piece.run(part) for part in parts]
    for order in (runs, runs[::-1]):
        if all(a.end == b.start for a, b in pairwise(order)):
            return Run(order[0].start, order[-1].end, stem)
    return None


def _again(
    piece: Piece, chain: tuple[ChainPart, ...], parts: Sequence[str], whole: Run
) -> tuple[ChainPart, ...] | None:
    """A chain with the whole run for its parts; None where it has not all of them in a row."""
    out: list[ChainPart] = []
    rest = list(chain)
    while rest:
        if rest[0].piece != piece.name or rest[0].run not in parts:
            out.append(rest.pop(0))
            continue
        row, rest = rest[: len(parts)], rest[len(parts) :]
        order = [part.run for part in row]
        ways = {
            counts_backward(piece, piece.run(p.run)) != p.reverse for p in row if p.run in parts
        }
        plain = all(p.piece == piece.name and p.count == 1 for p in row)
        if not plain or order not in ([*parts], [*parts][::-1]) or len(ways) != 1:
            return None
        clockwise = ways.pop()
        out.append(
            ChainPart(piece.name, str(whole.name), counts_backward(piece, whole) != clockwise)
        )
    return tuple(out)
