"""Interchange drawings in: `read_interchange`."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from ...budget import one_budget
from ...errors import InputError, SizewrightError
from ...model import Pattern, Piece
from ...units import Unit
from ..drawing.drafts import Draft, Gathered
from ..drawing.names import bare_size, untaken, without_size_suffix
from ..dxf.load import Loaded, load
from ..reading import Reading
from ..source import Source, content
from .blocks_in import Block, Blocks, blocks_of, looks_like_interchange, said_units
from .lines_in import refit_lines
from .piece_in import Joined, joined
from .units import settle_unit

_MOST_PIECES = 2000


@one_budget()
def read_interchange(source: Source, *, name: str = "", units: Unit | None = None) -> Reading:
    """The pattern in an interchange drawing (ASTM D6673, ANSI/AAMA-292), in mm, y up.

    `source` is a file (its name or path) or its bytes; `name` names it in messages.
    `units` is what a number of the drawing is, whatever the drawing says. Rule numbers come
    as the rules of points, and the grade reference line (else, where there are rules, the
    grain) as the axis of each piece. What strays from the standard comes back as findings.
    Raises InputError for what cannot be read as DXF or holds no piece.
    """
    data, where = content(source, name)
    return interchange_of(load(data, where), name=where, units=units)


def interchange_of(loaded: Loaded, *, name: str = "", units: Unit | None = None) -> Reading:
    """The same for a drawing that is loaded already."""
    try:
        said = said_units(loaded.doc)
        scale = settle_unit(said, loaded.header, units)
        reading = _Style(blocks_of(loaded.doc, scale.mm)).read()
        findings = (*loaded.findings, *scale.findings, *reading.findings)
        return reading._replace(findings=findings)
    except SizewrightError as error:
        raise error.at(name or "drawing") from None


class _Style:
    def __init__(self, blocks: Blocks) -> None:
        self.blocks = blocks
        self.out = blocks.out
        self.sample = blocks.said.get("samplesize", "")

    def read(self) -> Reading:
        blocks = self.blocks.pieces
        if not blocks:
            raise InputError(
                "no block of the drawing has a boundary",
                cure="Its pieces should be blocks with the outline on layer 1.",
            )
        if len(blocks) > _MOST_PIECES:
            raise InputError(f"the drawing has more than {_MOST_PIECES} pieces")
        begun: list[tuple[Draft, Joined]] = []
        taken: set[tuple[str, str | None]] = set()
        told: list[Gathered] = []
        for block in blocks:
            # What is found is told piece by piece.
            told.append(Gathered())
            draft = self._named(block, taken, told[-1])
            with _left_out(draft):
                made = joined(block, draft)
                if made is not None:
                    taken.add((draft.name, draft.size))
                    begun.append((draft, made))
        refit_lines([line for _, made in begun for line in made.lines])
        pieces: list[Piece] = []
        for draft, made in begun:
            with _left_out(draft):
                pieces.append(made.piece())
        self.out.findings += [finding for one in told for finding in one.findings]
        findings = self.out.findings
        if not pieces:
            first = next(f for f in findings if f.level == "fail")
            raise InputError(first.text, where=first.piece, cure=first.cure)
        title = self.blocks.said.get("stylename", "")
        pattern = Pattern(tuple(pieces), base_size=self._base(pieces), title=title)
        return Reading(pattern, tuple(self.out.set_aside), tuple(findings))

    def _named(self, block: Block, taken: set[tuple[str, str | None]], out: Gathered) -> Draft:
        """The piece of a block by a name that no other has; `out` takes what is found of it."""
        said = block.first("piecename")
        draft = Draft(out, said, self._size(block, said, out))
        if not said:
            draft.name = without_size_suffix(block.name, draft.size)
            text = f'the block "{block.name}" does not say its piece\'s name; its own was taken'
            draft.find("name-absent", "note", text)
        plain = out.cleaned(draft.name)
        draft.name = untaken(plain, {name for name, size in taken if size == draft.size})
        if draft.name != plain:
            text = f'two pieces are named "{plain}"; the second is called "{draft.name}"'
            cure = "Give each piece and size its own PIECE NAME and SIZE."
            draft.find("name-twice", "warn", text, cure)
        return draft

    def _size(self, block: Block, said: str, out: Gathered) -> str | None:
        size = block.first("size")
        if size:
            return size
        # A block may be named by piece and size: FRONT-12, front_M.
        for mark in "-_. ":
            head, found, tail = block.name.rpartition(mark)
            if found and bare_size(tail) and (not said or head.casefold() == said.casefold()):
                text = f"no SIZE; {tail} was taken from the block's name"
                Draft(out, said or head, tail).find("size-absent", "note", text)
                return tail
        if self.sample:
            text = f"no SIZE; the sample size {self.sample} was taken"
            Draft(out, said or block.name, self.sample).find("size-absent", "note", text)
        return self.sample or None

    def _base(self, pieces: list[Piece]) -> str | None:
        sizes = list(dict.fromkeys(p.size for p in pieces if p.size is not None))
        if not self.sample:
            return sizes[0] if len(sizes) == 1 else None
        for size in sizes:
            if size.casefold() == self.sample.casefold():
                return size
        text = f"the sample size {self.sample} is not drawn; the sizes are {', '.join(sizes)}"
        cure = "Rules count from the sample size: grade with --base, if another is meant."
        self.out.find("sample-not-drawn", "warn", text, cure)
        return self.sample


@contextmanager
def _left_out(draft: Draft) -> Iterator[None]:
    """Tell that a piece is left out where its reading fails."""
    try:
        yield
    except SizewrightError as error:
        draft.find("piece-unread", "fail", f"the piece was left out: {error.what}")


__all__ = ["interchange_of", "looks_like_interchange", "read_interchange"]
