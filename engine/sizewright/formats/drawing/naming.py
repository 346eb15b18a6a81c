"""Names of pieces that no attribute names: their own, their group's, a word's in them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from .drafts import Gathered
from .names import (
    clean,
    given,
    hint,
    plain_name,
    size_in_words,
    without_copy_suffix,
    without_size_suffix,
)
from .shapes import Element
from .sizes import Sizes
from .words import said_by

if TYPE_CHECKING:
    from .plain import Piece


def name_pieces(pieces: Sequence[Piece], sizes: Sizes, ids: frozenset[str], out: Gathered) -> None:
    """A name of its own for each piece, its size, and what its words say besides.

    The first of these that there is: a word such as `NAME: yoke`, the label or id of the
    outline, the group or layer that holds no other piece, the largest word, the block,
    whatever a program called it, a number.
    """
    _Namer(pieces, sizes, ids, out).run()


class _Namer:
    def __init__(
        self, pieces: Sequence[Piece], sizes: Sizes, ids: frozenset[str], out: Gathered
    ) -> None:
        self.pieces = pieces
        self.sizes = sizes
        self.ids = ids
        self.out = out
        self.taken = {(d.name, d.size) for d in out.drafts}
        self.held: Counter[tuple[int, str | None]] = Counter()
        self.by_shape: Counter[int] = Counter()
        self.by_use: Counter[int] = Counter()
        for piece in pieces:
            first = piece.loop.shapes[0]
            self.by_shape[id(first)] += 1
            self.by_use[id(first.via)] += 1
            for group in first.group.chain():
                self.held[id(group.element), piece.loop.size] += 1

    def run(self) -> None:
        for piece in self.pieces:
            piece.said = said = said_by(piece.words)
            own, size = self._own(piece), piece.loop.size
            name = said.fields.get("name") or own if given(own) else said.fields.get("name", "")
            name = name or self._group(piece, ("g", "layer"))
            # What `NAME: yoke` says stands; a group's name is spelt as the word in its piece.
            alike = "name" not in said.fields and said.spare.casefold() == name.casefold()
            if said.spare and (not name or alike):
                name = said.spare
                said.take(name)
            name = name or self._group(piece, ("block",)) or own
            piece.loop.size = size = said.fields.get("size") or size
            name = name or self._numbered("piece", size, 1)
            if (name, size) in self.taken:
                name = self._another(piece, name, size)
            self.taken.add((name, size))
            piece.name = name

    def _own(self, piece: Piece) -> str:
        """Label or id; a clone's own first where it brought in one piece."""
        first, size = piece.loop.shapes[0], piece.loop.size
        elements = [first.element]
        if first.via is not None:
            alone = self.by_use[id(first.via)] == 1
            elements = [first.via, first.element] if alone else [first.element, first.via]
        for element in elements:
            if element.label:
                return self.out.cleaned(element.label)
            if element.ident:
                short = without_size_suffix(element.ident, size)
                if short == element.ident and size is not None:
                    short = without_copy_suffix(element.ident, self.ids)
                taken = (clean(short), size) in self.taken
                return self.out.cleaned(element.ident if taken else short)
        return ""

    def _group(self, piece: Piece, kinds: tuple[str, ...]) -> str:
        """The name of the nearest group of some kind that holds no other piece."""
        for group in piece.loop.shapes[0].group.chain():
            element = group.element
            alone = self.held[id(element), piece.loop.size] == 1
            if group.parent is not None and element.kind in kinds and alone and self._says(element):
                return plain_name(without_size_suffix(element.name, piece.loop.size))
        return ""

    def _says(self, element: Element) -> bool:
        """Whether the name of a group may be that of a piece: no role, no size."""
        name = element.name
        if element.kind == "block":
            return bool(name)
        sized = size_in_words(name) or self.sizes.of_element(element)
        return given(name) and not hint(name) and not sized

    def _numbered(self, name: str, size: str | None, first: int) -> str:
        while (f"{name}-{first}", size) in self.taken:
            first += 1
        return f"{name}-{first}"

    def _another(self, piece: Piece, name: str, size: str | None) -> str:
        """Another name where one is taken, with a finding."""
        new = self._numbered(name, size, 2)
        first = piece.loop.shapes[0]
        code, text = "name-twice", f'two pieces are named "{name}"; the second is called "{new}"'
        cure = "Give each piece its own name."
        if self.by_shape[id(first)] > 1:
            code, cure = "loops-apart", "Break the path apart and name each piece."
            text = f'"{name}" is several loops in one path; each was taken for a piece'
        self.out.find(code, "warn", text, cure=cure, place=first.place)
        return new
