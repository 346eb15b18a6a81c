"""What is written on a piece, and in a list of pieces, about cutting it."""

from __future__ import annotations

from collections.abc import Iterable

from ..drafting import EdgeAllowance, edge_allowances
from ..model import MIRRORED, Piece
from ..units import Unit, format_length

# Allowances that differ by less than this, mm, are one.
_SAME = 0.25
# More names of edges than this are not listed.
_MOST_NAMES = 3


def cutting_words(piece: Piece) -> str:
    """How many to cut of what, as it is written on a piece: `cut 2 main, a pair`."""
    amounts = ", ".join(f"{q.count} {q.material}" for q in piece.quantity)
    words = [f"cut {amounts}" if amounts else ""]
    if piece.fold is not None:
        words[0] = f"{words[0] or 'cut'} on the fold"
    if piece.pair:
        words.append("a pair: turn half of them over")
    if piece.side != "both":
        words.append(f"{piece.side} side only")
    return ", ".join(w for w in words if w)


def allowance_words(piece: Piece, unit: Unit = Unit.CM) -> str:
    """What is known of the seam allowance of the line that is printed.

    Of a piece with a cutting line the widths that are meant, or measured: the one that most
    edges have first, then the edges that have another. One width alone is told in both units,
    several in `unit`.
    """
    if piece.cut_line is not None:
        return _included(edge_allowances(piece), unit)
    if piece.kind == "cut":
        if piece.allowance is None:
            return "cutting line"
        return f"seam allowance of {_both(piece.allowance)} included"
    if piece.kind == "sew":
        return "sewing line: add seam allowance"
    return "line as drawn: seam allowance not told"


def _included(widths: Iterable[EdgeAllowance], unit: Unit) -> str:
    names: dict[tuple[float, float], list[str]] = {}
    for name, *ends in widths:
        near = (k for k in names if max(abs(a - b) for a, b in zip(k, ends, strict=True)) < _SAME)
        names.setdefault(next(near, (ends[0], ends[1])), []).append(_said(name))
    if not names:
        return "seam allowance included"
    if len(names) == 1:
        ends = list(next(iter(names)))
        if max(ends) < _SAME:
            return "no seam allowance"
        if abs(ends[0] - ends[1]) < _SAME:
            return f"allowance {_both(ends[0])}"
    most = max(names, key=lambda k: (len(names[k]), -max(k)))
    parts = [f"allowance {_ends(most, unit)}"]
    for width in sorted(names, key=max, reverse=True):
        if width != most:
            edges = list(dict.fromkeys(names[width]))
            said = " and ".join(edges) if len(edges) <= _MOST_NAMES else f"{len(edges)} edges"
            parts.append(f"{said} {_ends(width, unit)}")
    return ", ".join(parts)


def _ends(width: tuple[float, float], unit: Unit) -> str:
    same = abs(width[0] - width[1]) < _SAME
    said = [_length(w, unit) for w in (width[:1] if same else width)]
    return " to ".join(said)


def _said(name: str) -> str:
    name = name.removesuffix(MIRRORED)
    return f"edge {name[1:]}" if name.startswith("#") else name.replace("-", " ")


def _length(mm: float, unit: Unit) -> str:
    return format_length(round(mm, 1), unit) if mm >= _SAME else "none"


def _both(mm: float) -> str:
    return f"{_length(mm, Unit.CM)} ({_length(mm, Unit.IN)})"
