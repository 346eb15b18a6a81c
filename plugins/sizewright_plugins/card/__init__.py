"""Writes the card: all that was made, on one page for a browser that needs no network."""

from __future__ import annotations

from sizewright.errors import UsageError
from sizewright.model import Pattern
from sizewright.plugin import Output, Setting, Values, Writer, hookimpl

from ..tiling import PAGES

api = 1

_SETTINGS = (
    Setting(
        "cut",
        "text",
        "the sizes to cut: the first is in front, and lays and page map are of these; else the "
        "size that was drawn",
        (),
        shape="list",
    ),
    Setting("note", "text", "a paragraph to begin with", ""),
    Setting("map", "flag", "lay out the pages, and show their map", True),
    *PAGES[:-1],
    Setting("cloths", "cloths", "what the pieces are laid on", shape="list"),
    Setting("seconds", "count", "how long to look for a better lay", 20, low=1, high=86_400),
    Setting("seed", "count", "where the search for a lay begins", 1, low=0, high=1_000_000),
    Setting("making", "making", "what was drawn, and what was found on the way"),
)


@hookimpl
def add_writers() -> list[Writer]:
    """The writer `card`."""
    return [
        Writer(
            "card",
            "one page for a browser: pieces, seams, what to cut, findings",
            write_card,
            (".html",),
            _SETTINGS,
        )
    ]


def write_card(pattern: Pattern, values: Values) -> Output:
    """The page as UTF-8, and what was found of the lays on it. Raises UsageError without pieces
    and for a size to cut that is not there."""
    from .page import page

    if not pattern.pieces:
        raise UsageError("there is no piece to show", cure="Give a pattern with pieces.")
    for size in values["cut"]:
        if size not in pattern.sizes:
            raise UsageError(
                f'there is no size "{size}" to cut',
                cure=f"Sizes: {', '.join(pattern.sizes) or 'none'}.",
            )
    text, findings = page(pattern, values)
    return Output(text.encode("utf-8"), findings)
