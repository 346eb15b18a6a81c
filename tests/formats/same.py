"""Whether two patterns are the same within a tolerance, field by field.

Fields are taken from the classes themselves, so that a new one is compared at once.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

import numpy as np

from sizewright.geometry.path import Path
from sizewright.model import Label, Outline, Pattern, Piece, Run

#: What a trip through a file may cost, mm.
TOLERANCE = 1e-6


def differences(a: Pattern, b: Pattern, tolerance: float = TOLERANCE) -> list[str]:
    """Where two patterns differ by more than `tolerance` mm; the page is not compared."""
    ours, theirs = ({p.key: p for p in pattern.pieces} for pattern in (a, b))
    if ours.keys() != theirs.keys():
        return [f"pieces: {list(ours)} and {list(theirs)}"]
    found = [d for key in ours for d in _compare(ours[key], theirs[key], f"{key}", tolerance)]
    for field in dataclasses.fields(Pattern):
        if field.name not in ("pieces", "page"):
            x, y = getattr(a, field.name), getattr(b, field.name)
            found += _compare(x, y, field.name, tolerance)
    return found


def _compare(a: Any, b: Any, where: str, tolerance: float) -> Iterator[str]:
    if type(a) is not type(b) and not (_is_number(a) and _is_number(b)):
        yield f"{where}: {a!r} and {b!r}"
    elif isinstance(a, Path):
        if a.closed != b.closed or not np.array_equal(a.lines, b.lines):
            yield f"{where}: {a!r} and {b!r} differ in kind"
        elif np.abs(a.controls - b.controls).max() > tolerance:
            yield f"{where}: controls {np.abs(a.controls - b.controls).max()} mm apart"
    elif dataclasses.is_dataclass(a):
        yield from _fields(a, b, where, tolerance)
    elif isinstance(a, tuple):
        if len(a) != len(b):
            yield f"{where}: {a!r} and {b!r}"
            return
        for i, (x, y) in enumerate(zip(a, b, strict=True)):
            yield from _compare(x, y, f"{where}[{i}]", tolerance)
    elif isinstance(a, float):
        if abs(a - b) > tolerance:
            yield f"{where}: {a!r} and {b!r}"
    elif a != b:
        yield f"{where}: {a!r} and {b!r}"


def _fields(a: Any, b: Any, where: str, tolerance: float) -> Iterator[str]:
    for field in dataclasses.fields(a):
        x, y = getattr(a, field.name), getattr(b, field.name)
        if isinstance(a, Outline) and field.name == "runs":
            x, y = tuple(sorted(x, key=_of_run)), tuple(sorted(y, key=_of_run))
        if isinstance(a, Outline) and field.name == "points":
            x, y = (tuple(p for p in ps if p.name or p.rule) for ps in (x, y))
        if isinstance(a, Label) and field.name == "angle":
            x, y = (x - y + 180.0) % 360.0, 180.0
        if isinstance(a, Piece) and field.name == "base" and x is not None and y is not None:
            x, y = x.outline, y.outline
        yield from _compare(x, y, f"{where}.{field.name}", tolerance)


def _of_run(run: Run) -> tuple[int, int, str]:
    return run.start, run.end, run.name or ""


def _is_number(value: object) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool)
