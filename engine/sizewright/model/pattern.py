"""A pattern: its pieces in one or more sizes, and the seams between them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from ..errors import InputError, LookupFailed, meant
from .body import Body
from .piece import Piece
from .seams import ChainPart, Seam


@dataclass(frozen=True)
class Pattern:
    """All pieces of one style. Frozen: every change gives a new one.

    `base_size` is the size that the pieces were drawn in; `page` the width and height
    in mm of the page that they lie on, where the file had one. `bodies`: by size, the body
    that it was graded to.

    >>> from sizewright.formats import read_svg
    >>> from sizewright.shipped import shipped
    >>> pattern = read_svg(shipped("examples/half-apron/half-apron.svg")).pattern
    >>> pattern.names, pattern.sizes, pattern.piece("apron").kind
    (('apron', 'band'), (), 'unknown')
    >>> pattern.renamed({"band": "waistband"}).names
    ('apron', 'waistband')
    """

    pieces: tuple[Piece, ...]
    base_size: str | None = None
    seams: tuple[Seam, ...] = ()
    page: tuple[float, float] | None = None
    title: str = ""
    bodies: Mapping[str, Body] = field(default_factory=dict)

    def __post_init__(self) -> None:
        keys = [p.key for p in self.pieces]
        for piece in self.pieces:
            if keys.count(piece.key) > 1:
                raise InputError(
                    f'two pieces are named "{piece.title}"',
                    cure="Give each piece its own name, or each its own size.",
                )

    @property
    def sizes(self) -> tuple[str, ...]:
        """Sizes of the pieces in order of first appearance; empty where none is sized."""
        return tuple(dict.fromkeys(p.size for p in self.pieces if p.size is not None))

    @property
    def names(self) -> tuple[str, ...]:
        """Piece names in order of first appearance."""
        return tuple(dict.fromkeys(p.name for p in self.pieces))

    def piece(self, name: str, size: str | None = None) -> Piece:
        """The piece of that name (and size, where there are several).

        Raises LookupFailed, listing what there is; with several sizes and none asked
        for, the base size is meant, else the first.
        """
        found = self.sizes_of(name)
        if not found:
            raise LookupFailed(
                f'no piece "{name}"',
                cure=f"{meant(name, self.names)}Pieces: {', '.join(self.names) or 'none'}.",
            )
        if size is None and len(found) > 1:
            size = self.base_size if any(p.size == self.base_size for p in found) else found[0].size
        for piece in found:
            if size is None or piece.size == size or piece.size is None:
                return piece
        sizes = ", ".join(p.size or "none" for p in found)
        raise LookupFailed(f'no piece "{name}" in size {size}', cure=f"Its sizes: {sizes}.")

    def sizes_of(self, name: str) -> tuple[Piece, ...]:
        """The pieces of that name, one for each size; none where there is none."""
        return tuple(p for p in self.pieces if p.name == name)

    @property
    def bases(self) -> Pattern:
        """The pattern that the sizes were graded from: each piece once, as it was drawn."""
        found = {p.name: p for p in self.pieces}
        found |= {p.name: p.base for p in self.pieces if p.base is not None}
        return self.with_pieces(found.values())

    def in_size(self, size: str) -> Pattern:
        """Only the pieces of one size, and those without any."""
        if size not in self.sizes:
            raise LookupFailed(
                f'no size "{size}" in this pattern',
                cure=f"{meant(size, self.sizes)}Sizes: {', '.join(self.sizes) or 'none'}.",
            )
        return self.with_pieces(p for p in self.pieces if p.size in (size, None))

    def with_pieces(self, pieces: Iterable[Piece]) -> Pattern:
        """The same pattern with other pieces."""
        return replace(self, pieces=tuple(pieces))

    def without(self, names: Iterable[str]) -> Pattern:
        """The same pattern without these pieces, in every size, and the seams that touch them."""
        gone = set(names)
        return replace(
            self,
            pieces=tuple(p for p in self.pieces if p.name not in gone),
            seams=tuple(s for s in self.seams if not s.pieces() & gone),
        )

    def renamed(self, names: Mapping[str, str]) -> Pattern:
        """Pieces with other names (old to new), in every size; seams speak of the new ones.

        Raises LookupFailed for a piece that is not there, InputError for a name that is taken.
        """
        for name in names:
            self.piece(name)

        def piece(one: Piece) -> Piece:
            base = one.base and replace(one.base, name=names.get(one.base.name, one.base.name))
            return replace(one, name=names.get(one.name, one.name), base=base)

        def chain(parts: tuple[ChainPart, ...]) -> tuple[ChainPart, ...]:
            return tuple(replace(p, piece=names.get(p.piece, p.piece)) for p in parts)

        seams = (replace(s, first=chain(s.first), second=chain(s.second)) for s in self.seams)
        return replace(self, pieces=tuple(map(piece, self.pieces)), seams=tuple(seams))

    def changing(self, names: Collection[str], change: Callable[[Piece], Piece]) -> Pattern:
        """The pieces of these names, in every size, and what each was graded from, run through
        `change`."""

        def changed(piece: Piece) -> Piece:
            if piece.name not in names:
                return piece
            return replace(change(piece), base=piece.base and change(piece.base))

        return self.replacing(changed)

    def replacing(self, change: Callable[[Piece], Piece]) -> Pattern:
        """Every piece run through `change`."""
        return self.with_pieces(change(p) for p in self.pieces)
