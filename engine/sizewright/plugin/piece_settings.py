"""The settings of every operation that is asked to change a piece, or several alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..errors import InputError, UsageError
from ..model import Pattern
from .settings import Setting


def piece_settings(what: str) -> tuple[Setting, ...]:
    """The settings `piece` and `pieces`, of which `pieces_asked` wants one; `what` is done to
    it, as "cut".

    >>> [setting.help for setting in piece_settings("cut")]
    ['the piece to cut', 'several pieces to cut alike']
    """
    return (
        Setting("piece", "text", f"the piece to {what}"),
        Setting("pieces", "text", f"several pieces to {what} alike", (), shape="list"),
    )


def pieces_asked(pattern: Pattern, values: Mapping[str, Any]) -> tuple[str, ...]:
    """The names that `piece` or `pieces` gave, each once.

    Raises UsageError where neither or both were given, LookupFailed for a piece that is not
    there, InputError for one whose outline is a cutting line.
    """
    one, several = values["piece"], values["pieces"]
    if (one is None) == (not several):
        raise UsageError(
            "nothing says which piece" if one is None else "both piece and pieces are given",
            cure='Say piece = "front", or pieces = ["front", "facing-front"].',
        )
    names = tuple(dict.fromkeys(several or [one]))
    for name in names:
        if pattern.piece(name).kind == "cut":
            raise InputError(
                "its outline is a cutting line, and styles are changed on the sewing line",
                where=pattern.piece(name).title,
                cure="Draw the sewing line first: seam-allowance with inward = true.",
            )
    return names
