"""A nest read from one file, or from a file for each size."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import UsageError
from ..findings import Finding
from .files import Given, open_pattern

if TYPE_CHECKING:
    from ..model import Pattern
    from ..units import Unit

_LAST_WORD = re.compile(r"[^-_ .]+$")


@dataclass(frozen=True)
class Nest:
    """All sizes in one pattern, smallest first in `order`, and the file that each came from."""

    pattern: Pattern
    order: tuple[str, ...]
    files: Mapping[str, Path]
    findings: tuple[Finding, ...]


def read_nest(
    files: Sequence[Path],
    sizes: Sequence[str] = (),
    *,
    units: Unit | None = None,
    settings: Given = (),
) -> Nest:
    """The sizes of all `files` together.

    `sizes` orders them from small to large; with several files it may instead name the size
    of each one, in their order, where the drawings do not. A drawing without a size, of
    several files, otherwise takes the last word of its name (`front-14.svg`). `settings` are
    the reader's. Raises what reading raises, and UsageError where sizes are missing or unknown.
    """
    from ..pictures import sizes_in_order
    from ..plugin import Plugins

    several = len(files) > 1
    plugins = Plugins.discover()
    findings: list[Finding] = []
    patterns: list[Pattern] = []
    origin: dict[str, Path] = {}
    unmarked = []
    for number, path in enumerate(files):
        reading = open_pattern(path, plugins=plugins, units=units, settings=settings)
        findings += reading.findings
        pattern = reading.pattern
        if several and any(p.size is None for p in pattern.pieces):
            size = _size_of(path, number, files, sizes, pattern)
            unmarked.append(f"{path.name} is {size}")
            pattern = pattern.with_pieces(replace(p, size=size) for p in pattern.pieces)
        for size in pattern.sizes:
            if origin.setdefault(size, path) != path:
                raise UsageError(
                    f"the size {size} is in two files",
                    where=f"{origin[size].name} and {path.name}",
                    cure="Name each size once; --sizes tells the size of each file.",
                )
        patterns.append(pattern)
    if unmarked:
        text = f"drawings without a size took it from elsewhere: {', '.join(unmarked)}"
        findings.append(Finding("size-from-name", "note", text))
    whole = _together(patterns, findings)
    known = {s.casefold(): s for s in whole.sizes}
    for size in sizes:
        if size.casefold() not in known:
            raise UsageError(
                f"there is no size {size} in the nest",
                cure=f"Its sizes: {', '.join(whole.sizes) or 'none is marked'}.",
            )
    # Where they named the files one by one, they say nothing of small and large.
    ordered = () if unmarked else tuple(known[s.casefold()] for s in sizes)
    order = ordered or sizes_in_order(whole)
    return Nest(whole, order, origin, tuple(findings))


def base_of(nest: Nest, base: str | None) -> tuple[str | None, tuple[Finding, ...]]:
    """The base size: as given, else as the drawing says, else the middle one, with a note."""
    from ..grading import same_size

    if base is not None:
        return base, ()
    told = nest.pattern.base_size
    if told is not None and same_size(told) in map(same_size, nest.order):
        return told, ()
    if not nest.order:
        return None, ()
    middle = nest.order[(len(nest.order) - 1) // 2]
    text = f"no base size is said, so the middle one is taken: {middle}"
    return middle, (Finding("base-chosen", "note", text, cure="Say another with --base."),)


def _size_of(
    path: Path, number: int, files: Sequence[Path], sizes: Sequence[str], pattern: Pattern
) -> str:
    if pattern.sizes:
        raise UsageError(
            "some pieces have a size and some have none",
            where=path.name,
            cure="Mark the size of every piece (data-size).",
        )
    if len(sizes) == len(files):
        return sizes[number]
    match = _LAST_WORD.search(path.stem)
    if sizes or match is None:
        raise UsageError(
            "the drawing does not say its size",
            where=path.name,
            cure=f"Give the sizes of all {len(files)} files in their order: --sizes 8,10,12.",
        )
    return match[0]


def _together(patterns: Sequence[Pattern], findings: list[Finding]) -> Pattern:
    """One pattern of all pieces. Where each file holds one piece, that is the same piece."""
    first = patterns[0]
    names = list(dict.fromkeys(name for p in patterns for name in p.names))
    if len(names) > 1 and all(len(p.names) == 1 for p in patterns):
        text = f"each file holds one piece, so they are all {names[0]}: {', '.join(names[1:])} too"
        findings.append(Finding("pieces-alike", "note", text))
        patterns = [p.replacing(lambda one: replace(one, name=names[0])) for p in patterns]
    base = next((p.base_size for p in patterns if p.base_size), None)
    return replace(first, pieces=tuple(x for p in patterns for x in p.pieces), base_size=base)
