"""Writes a short text: what to cut of what, the seams with their lengths, and what to do next."""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Iterable, Iterator

from sizewright.errors import SizewrightError
from sizewright.model import Pattern, Piece, Seam, SeamMatch, match_seam, unjudged
from sizewright.plugin import Setting, Values, Writer, hookimpl
from sizewright.units import Unit, both, format_length

api = 1

_WIDTH = 76
_MATERIAL = "main"
_STEPS = (
    "Print one page first, at 100 % (no fit-to-page), and measure both test squares. "
    "Print the rest only when they are right.",
    "Trim and tape the pages by their letters and marks, then cut your size out of the paper.",
    "Sew a trial garment from cloth that you can spare before you cut the only cloth.",
    "Lay every piece along the grain. An edge marked as fold goes on the fold and is not cut.",
)
_ONE_SIZE = "Cut along the solid line and sew along the dashed one; match the notches."
_SEVERAL = (
    "Where sizes are printed over each other, each has a line of its own: follow the line that "
    "bears your size. Sew as far inside it as the allowance says; match the notches."
)
_SEWING_ONLY = "The lines are sewing lines: add the seam allowance that you want before you cut."


@hookimpl
def add_writers() -> list[Writer]:
    """The writer `cutting-list`."""
    return [
        Writer(
            "cutting-list",
            "a short text: what to cut, the seams, what to do next",
            write_list,
            (".txt",),
            (
                Setting("seams", "flag", "list the seams with their lengths", True),
                Setting("note", "text", "a paragraph to begin with", ""),
            ),
        )
    ]


def write_list(pattern: Pattern, values: Values) -> bytes:
    """The text as UTF-8."""
    lines = list(_lines(pattern, values))
    return ("\n".join(lines).rstrip() + "\n").encode("utf-8")


def _lines(pattern: Pattern, values: Values) -> Iterator[str]:
    title = pattern.title or "Pattern"
    yield from (title, "=" * len(title), "")
    if values["note"]:
        yield from (*textwrap.wrap(values["note"], _WIDTH), "")
    if pattern.sizes:
        drawn = f" (drawn in {pattern.base_size})" if pattern.base_size else ""
        yield from (f"Sizes: {', '.join(pattern.sizes)}{drawn}", "")
    yield from _cutting(pattern)
    if values["seams"] and pattern.seams:
        yield from _seams(pattern)
    yield from ("What to do next", "---------------")
    for number, step in enumerate(next_steps(pattern), 1):
        yield from textwrap.wrap(
            step, _WIDTH, initial_indent=f"{number}. ", subsequent_indent="   "
        )


def next_steps(pattern: Pattern) -> tuple[str, ...]:
    """What to do with the pattern, step by step."""
    return (*_STEPS, _last_step(pattern))


def _last_step(pattern: Pattern) -> str:
    if all(piece.drawn_kind == "sew" for piece in pattern.pieces):
        return _SEWING_ONLY
    return _SEVERAL if len(pattern.sizes) > 1 else _ONE_SIZE


def to_cut(pattern: Pattern) -> dict[str, list[str]]:
    """What to cut, a line for each piece, by material, the main one first."""
    by_material: dict[str, list[str]] = defaultdict(list)
    for name in pattern.names:
        piece = pattern.piece(name)
        for quantity in piece.quantity:
            by_material[quantity.material].append(f"{quantity.count} x {name}{_how(piece)}")
        if not piece.quantity:
            by_material["not said of what, or how many"].append(f"{name}{_how(piece)}")
    return {
        f"{material[:1].upper()}{material[1:]}": by_material[material]
        for material in sorted(by_material, key=lambda m: (m != _MATERIAL, m))
    }


def _cutting(pattern: Pattern) -> Iterator[str]:
    yield from ("What to cut", "-----------")
    for material, lines in to_cut(pattern).items():
        yield f"{material}:"
        yield from (f"  {line}" for line in lines)
    yield ""


def _how(piece: Piece) -> str:
    from sizewright.pictures import allowance_words

    said = []
    if piece.fold:
        said.append("on the fold")
    if piece.pair:
        said.append("mirrored pairs")
    said.append(allowance_words(piece))
    return f" ({'; '.join(said)})"


def _seams(pattern: Pattern) -> Iterator[str]:
    yield from ("Seams, as sewn (darts and pleats closed)", "-" * 40)
    sizes: Iterable[str | None] = pattern.sizes or (None,)
    for seam in pattern.seams:
        yield f"{seam.name}: {_joined(seam)}"
        if unjudged(pattern, seam):
            yield "  not judged: sewing line or cutting line is not said"
            continue
        for size in sizes:
            try:
                match = match_seam(pattern, seam, size)
            except SizewrightError as error:
                yield f"  {error}"
                continue
            head = f"  {size:>4}  " if size else "  "
            yield f"{head}{both(match.second.length)}{_fit(match)}"
    yield ""


def _fit(match: SeamMatch) -> str:
    """How the first side lies on the second: what to ease in, or that they do not match."""
    ease = match.seam.ease
    if match.misfit():
        way = "long" if match.off > 0 else "short"
        asked = f" for {_cm(match.wanted)} of {ease.kind}" if ease else ""
        return f", does NOT match: {_cm(match.off)} too {way}{asked}"
    return f", {_cm(match.surplus)} of {ease.kind}" if ease else ""


def _cm(mm: float) -> str:
    return format_length(abs(mm), Unit.CM)


def _joined(seam: Seam) -> str:
    first = " and ".join(dict.fromkeys(part.piece for part in seam.first))
    second = " and ".join(dict.fromkeys(part.piece for part in seam.second))
    return f"{first} to {second}"
