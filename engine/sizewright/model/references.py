"""References to what stands on a piece: `hem`, or with its piece `front:hem`.

A piece's name never holds a colon, so the first one parts the two.
"""

from __future__ import annotations

from typing import NamedTuple

from ..errors import InputError, LookupFailed, SizewrightError
from .outline import Run
from .pattern import Pattern
from .piece import Piece


def split_reference(text: str) -> tuple[str | None, str]:
    """The piece that a reference names (None for none) and what it names on it.

    Raises InputError where either side of a colon is empty, or all of it.

    >>> split_reference("front:hem"), split_reference("hem")
    (('front', 'hem'), (None, 'hem'))
    """
    piece, colon, rest = (part.strip() for part in text.partition(":"))
    if not colon:
        piece, rest = "", piece
    if not rest or (colon and not piece):
        raise InputError(
            f'"{text}" names nothing on a piece', cure="Write it like front:hem, or hem alone."
        )
    return piece or None, rest


class RunReference(NamedTuple):
    """A run as it was said: its name, number or `a..b`, and the piece (None: any piece)."""

    piece: str | None
    run: str

    def __str__(self) -> str:
        return self.run if self.piece is None else f"{self.piece}:{self.run}"

    def means(self, piece: Piece) -> bool:
        """Whether `piece`, in any size, is one that it speaks of."""
        return self.piece is None or self.piece == piece.name

    def whose(self, pattern: Pattern, like: str) -> Piece:
        """The piece of the pattern that it names; a message shows `like` where it names none.

        Raises InputError where it names none, LookupFailed where there is none of that name.
        """
        if self.piece is None:
            raise InputError(
                f'"{self}" does not say whose edge it is', cure=f"Write it like {like}."
            )
        return pattern.piece(self.piece)

    def on(self, piece: Piece) -> Run:
        """The run on a piece. Raises LookupFailed, naming the piece, where it has none."""
        try:
            return piece.run(self.run)
        except SizewrightError as error:
            raise error.at(piece.title) from None


def parse_run(text: str) -> RunReference:
    """A reference such as `front:hem`, `hem`, `front:#3`, `front:hip..hem`.

    >>> parse_run("front:hip..hem")
    RunReference(piece='front', run='hip..hem')
    """
    return RunReference(*split_reference(text))


def find_run(
    pattern: Pattern, reference: RunReference | str, size: str | None = None
) -> tuple[Piece, Run]:
    """The piece and the run that a reference means; `size` as `Pattern.piece` has it.

    Raises LookupFailed where there is none, and where no piece is named and several have it.

    >>> from sizewright.formats import read_svg
    >>> from sizewright.shipped import shipped
    >>> pattern = read_svg(shipped("examples/patch-pocket.svg")).pattern
    >>> piece, run = find_run(pattern, "top")
    >>> piece.name, round(piece.sewn_length(run), 3)
    ('pocket', 140.0)
    >>> find_run(pattern, "pocket:bottom")
    Traceback (most recent call last):
    sizewright.errors.LookupFailed: pocket: no edge or run "bottom". Named edges and runs: top; ...
    """
    if isinstance(reference, str):
        reference = parse_run(reference)
    if reference.piece is not None:
        piece = pattern.piece(reference.piece, size)
        return piece, reference.on(piece)
    found = []
    for name in pattern.names:
        piece = pattern.piece(name, size)
        try:
            found.append((piece, piece.run(reference.run)))
        except LookupFailed:
            continue
    if len(found) == 1:
        return found[0]
    if found:
        raise LookupFailed(
            f'several pieces have "{reference.run}"',
            cure="Say which, as " + " or ".join(f"{p.name}:{reference.run}" for p, _ in found),
        )
    runs = sorted({r.name for p in pattern.pieces for r in p.outline.runs if r.name})
    raise LookupFailed(
        f'no piece has an edge or run "{reference.run}"',
        cure=f"Named ones: {', '.join(runs) or 'none'}.",
    )
