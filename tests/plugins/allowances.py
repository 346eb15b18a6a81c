"""Adding allowance in tests, through the plugin door."""

from __future__ import annotations

from sizewright.model import Pattern, Piece
from sizewright.plugin import Outcome, Plugins, apply_operation, check_settings


def allow(pattern: Pattern, **given: object) -> Outcome:
    """The operation with settings as a job gives them; underscores stand for hyphens."""
    operation = Plugins.discover().operation("seam-allowance")
    settings = {name.replace("_", "-"): value for name, value in given.items()}
    values = check_settings(operation.name, operation.settings, settings)
    return apply_operation(operation, pattern, values)


def allowed(piece: Piece, **given: object) -> Piece:
    """One piece with its cutting line."""
    return allow(Pattern((piece,)), **given).pattern.pieces[0]
