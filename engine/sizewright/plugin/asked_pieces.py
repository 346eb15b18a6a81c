"""The settings that name the pieces an operation works on."""

from __future__ import annotations

from ..errors import InputError
from ..model import Pattern
from .declare import Values
from .settings import Setting


def piece_settings() -> tuple[Setting, ...]:
    """The settings `piece` and `pieces` that `asked_pieces` reads."""
    return (
        Setting("piece", "text", "the piece to work on"),
        Setting("pieces", "text", "or several that are treated alike", (), shape="list"),
    )


def asked_pieces(pattern: Pattern, values: Values) -> tuple[str, ...]:
    """The pieces that the settings name, each once; the only piece of a pattern need not be named.

    Raises InputError where none is named or a piece is a cutting line, on which nothing is
    drafted, and LookupFailed for one that is not there.
    """
    names = (*([values["piece"]] if values["piece"] else []), *values["pieces"])
    if not names and len(set(pattern.names)) == 1:
        names = (pattern.names[0],)
    if not names:
        raise InputError("nothing says which piece", cure='Say piece = "NAME".')
    for name in names:
        if pattern.piece(name).kind == "cut":
            raise InputError(
                "its outline is a cutting line",
                where=name,
                cure="Take its allowance off first (see seam-allowance), or draw the sewing line.",
            )
    return tuple(dict.fromkeys(names))
