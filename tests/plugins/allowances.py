"""Allowance added in tests; settings as `do` has them."""

from __future__ import annotations

from sizewright.model import Pattern, Piece
from sizewright.plugin import Outcome
from tests.operations import do


def allow(pattern: Pattern, **given: object) -> Outcome:
    """A pattern with cutting lines."""
    return do(pattern, "seam-allowance", **given)


def allowed(piece: Piece, **given: object) -> Piece:
    """One piece with its cutting line."""
    return allow(Pattern((piece,)), **given).pattern.pieces[0]
