"""Interchange drawings in: `read_interchange`."""

from __future__ import annotations

from dataclasses import replace

from ...errors import InputError, SizewrightError
from ...findings import Finding, Level
from ...model import Pattern, Piece
from ...units import Unit
from ..drawing.names import bare_size, clean, without_size_suffix
from ..dxf.load import Loaded, load
from ..reading import Reading
from ..source import Source, content
from .blocks_in import Block, Blocks, blocks_of, looks_like_interchange, said_units
from .piece_in import read_piece
from .told import Told
from .units import settle_unit

_MOST_PIECES = 2000


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
        return replace(reading, findings=findings)
    except SizewrightError as error:
        raise error.at(name or "drawing") from None


class _Style:
    def __init__(self, blocks: Blocks) -> None:
        self.blocks = blocks
        self.findings = list(blocks.findings)
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
        pieces: list[Piece] = []
        taken: set[tuple[str, str | None]] = set()
        failed: list[Finding] = []
        for block in blocks:
            name, size = self._named(block, taken)
            told = Told(name, size)
            try:
                piece = read_piece(block, told)
            except SizewrightError as error:
                self._find(
                    "piece-unread", "fail", f"the piece was left out: {error.what}", name, size
                )
                failed.append(self.findings[-1])
                continue
            self.findings += told.findings
            failed += [f for f in told.findings if f.level == "fail"]
            if piece is not None:
                taken.add(piece.key)
                pieces.append(piece)
        if not pieces:
            first = failed[0] if failed else None
            raise InputError(
                first.text if first else "no piece of the drawing can be read",
                where=first.piece if first else "",
                cure=first.cure if first else "",
            )
        pattern = Pattern(
            tuple(pieces), base_size=self._base(pieces), title=self.blocks.said.get("stylename", "")
        )
        return Reading(pattern, tuple(self.blocks.set_aside), tuple(self.findings))

    def _named(self, block: Block, taken: set[tuple[str, str | None]]) -> tuple[str, str | None]:
        said = block.first("piecename")
        size = self._size(block, said)
        name = said or without_size_suffix(block.name, size)
        if not said:
            text = f'the block "{block.name}" does not say its piece\'s name; its own was taken'
            self._find("name-absent", "note", text, name, size)
        plain = clean(name) or "piece"
        if plain != name:
            text = f'the piece name "{name}" was changed to "{plain}"'
            self._find("name-changed", "note", text, plain, size)
        if (plain, size) in taken:
            count = 2
            while (f"{plain}-{count}", size) in taken:
                count += 1
            self._find(
                "name-twice",
                "warn",
                f'two pieces are named "{plain}"; the second is called "{plain}-{count}"',
                plain,
                size,
                cure="Give each piece and size its own PIECE NAME and SIZE.",
            )
            plain = f"{plain}-{count}"
        return plain, size

    def _size(self, block: Block, said: str) -> str | None:
        size = block.first("size")
        if size:
            return size
        # A block may be named by piece and size: FRONT-12, front_M.
        for mark in "-_. ":
            head, found, tail = block.name.rpartition(mark)
            if found and bare_size(tail) and (not said or head.casefold() == said.casefold()):
                self._find(
                    "size-absent",
                    "note",
                    f"no SIZE; {tail} was taken from the block's name",
                    said or head,
                    tail,
                )
                return tail
        if self.sample:
            text = f"no SIZE; the sample size {self.sample} was taken"
            self._find("size-absent", "note", text, said or block.name, self.sample)
        return self.sample or None

    def _base(self, pieces: list[Piece]) -> str | None:
        sizes = list(dict.fromkeys(p.size for p in pieces if p.size is not None))
        for size in sizes:
            if self.sample and size.casefold() == self.sample.casefold():
                return size
        if self.sample:
            shown = ", ".join(sizes)
            self._find(
                "sample-not-drawn",
                "warn",
                f"the sample size {self.sample} is not drawn; the sizes are {shown}",
                cure="Rules count from the sample size: grade with --base, if another is meant.",
            )
            return self.sample
        return sizes[0] if len(sizes) == 1 else None

    def _find(
        self,
        code: str,
        level: Level,
        text: str,
        piece: str = "",
        size: str | None = None,
        *,
        cure: str = "",
    ) -> None:
        self.findings.append(Finding(code, level, text, piece, size or "", "", cure))


__all__ = ["interchange_of", "looks_like_interchange", "read_interchange"]
