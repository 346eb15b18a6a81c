"""The job of `show`: read, pick a size, tell as JSON, as a table, as a picture."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ..errors import LookupFailed
from ..findings import Finding
from .files import Given, open_pattern

if TYPE_CHECKING:
    from ..formats.reading import Reading
    from ..plugin import Plugins
    from ..units import Unit


def look(
    path: str | os.PathLike[str],
    *,
    size: str | None = None,
    units: Unit | None = None,
    settings: Given = (),
    plugins: Plugins | None = None,
) -> Reading:
    """The reading of a file, all sizes or one. Raises what `open_pattern` raises.

    With `size`, pieces without any size stay, and findings about other sizes go.
    """
    reading = open_pattern(path, plugins=plugins, units=units, settings=settings)
    return reading if size is None else in_size(reading, size)


def looked_over(
    path: str | os.PathLike[str],
    *,
    size: str | None = None,
    units: Unit | None = None,
    settings: Given = (),
) -> Reading:
    """What `look` gives, with what the checks of every reading find, and with a note for each
    piece without names that looks like one of the basic set.

    Marks that cannot be meant are findings here, and the rest is read.
    """
    from ..formats import WrongMarks
    from ..plugin import Plugins, look_over
    from .suggest import suggestions

    plugins = Plugins.discover()
    try:
        reading = look(path, size=size, units=units, settings=settings, plugins=plugins)
    except WrongMarks as wrong:
        reading = wrong.reading if size is None else in_size(wrong.reading, size)
    pattern = reading.pattern
    seen = look_over(plugins, pattern, "reading")
    return reading._replace(findings=(*reading.findings, *seen, *suggestions(pattern)))


def refuse_unsaid(sizes: Sequence[str], findings: Iterable[Finding], size: str) -> None:
    """Raise LookupFailed for a size that is not there while no line of a nest is said to be any."""
    asked = next((f for f in findings if f.code == "sizes-asked"), None)
    if asked is not None and size not in sizes:
        raise LookupFailed(f'nothing says which line is size "{size}"', cure=asked.cure)


def in_size(reading: Reading, size: str) -> Reading:
    """Only the pieces of one size and those without any, with the findings about them and
    without the marks of others.

    Raises LookupFailed, listing the sizes, when there is none of that name.
    """
    refuse_unsaid(reading.pattern.sizes, reading.findings, size)
    pattern = reading.pattern.in_size(size)
    findings = tuple(f for f in reading.findings if f.size in ("", size))
    titles = [piece.title for piece in reading.pattern.pieces]
    kept = {piece.title for piece in pattern.pieces}
    aside = tuple(x for x in reading.set_aside if x.owner(titles) in (None, *kept))
    return reading._replace(pattern=pattern, set_aside=aside, findings=findings)


def summary_json(reading: Reading) -> str:
    """The JSON of `show --json`: ASCII, so that no terminal or pipe can damage it."""
    from .summary import summarise

    return json.dumps(summarise(reading), indent=2, allow_nan=False)


def summary_table(reading: Reading, *, name: str) -> str:
    """The table of `show`; `name` is what the file is called in its heading."""
    from .table import table

    return table(reading, name=name)


def write_picture(
    reading: Reading, out: str | os.PathLike[str], *, source: str | os.PathLike[str]
) -> None:
    """Draw the pieces into an SVG picture. Raises InputError when there is nothing to draw."""
    from ..errors import InputError, UsageError
    from ..formats.safely import write_safely
    from ..pictures import NumberedLine, picture

    if not os.fspath(out).lower().endswith(".svg"):
        raise UsageError(
            "the picture is an SVG file",
            where=os.fspath(out),
            cure='Give it a name that ends in ".svg".',
        )
    if not reading.pattern.pieces:
        raise InputError(
            "no piece to draw was found", where=os.fspath(source), cure="See sizewright show."
        )
    lines = [
        NumberedLine(one.number, one.words(), one.paths, one.colour, one.dashes, one.outlines)
        for one in reading.lines
    ]
    drawn = picture(reading.pattern, reading.findings, reading.pages, lines)
    write_safely(os.fspath(out), drawn, sources=(os.fspath(source),))
