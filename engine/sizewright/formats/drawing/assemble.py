"""A drawing's shapes as a pattern: pieces built, bases, seams and title put in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from ...errors import InputError
from ...findings import Finding
from ...model import Body, Pattern, Piece, Seam, parse_bodies, parse_seams
from ..reading import Reading, WrongMarks
from .dashes import chain_dashes
from .drafts import Draft, Gathered, Options
from .gather import gather
from .names import untaken
from .outlines import refit_ahead
from .pieces import build_piece
from .shapes import Box, Drawing, Element
from .squares import scale_by_square


def understood(drawing: Drawing, options: Options, hints: Iterable[Finding] = ()) -> Reading:
    """The pattern in a drawing, whatever kind of file it came from.

    `hints` are findings about the drawing as a whole, told after those of its shapes. Raises
    WrongMarks, with what was read without them, where marks cannot be meant.
    """
    scale_by_square(drawing, options)
    chain_dashes(drawing)
    out = gather(drawing, options)
    out.findings[:0] = drawing.findings
    out.findings.extend(hints)
    out.set_aside[:0] = drawing.set_aside
    refit_ahead(out)
    built: list[tuple[Draft, Piece]] = []
    for draft in out.drafts:
        piece = None
        with draft.guarded():
            piece = build_piece(draft)
        if piece is not None:
            built.append((draft, piece))
    built = _apart(built)
    out.findings.extend(_beside(drawing.border, built))
    seams: tuple[Seam, ...] = ()
    bodies: dict[str, Body] = {}
    with out.guarded():
        seams = _seams(drawing.root)
    with out.guarded():
        bodies = _bodies(drawing.root)
    if not built and not any(f.level == "fail" for f in out.findings):
        text = "no closed path was found that could be a pattern piece"
        cure = "Draw each piece as a closed path, larger than 20 mm and not hidden."
        out.find("no-pieces", "fail", text, cure)
    pattern = Pattern(
        _with_bases(built, out),
        drawing.root.get("data-base-size") or None,
        seams,
        drawing.page,
        drawing.title,
        bodies,
    )
    reading = Reading(pattern, tuple(out.set_aside), tuple(out.findings), tuple(out.lines))
    if out.errors:
        raise WrongMarks(out.errors, reading)
    return reading


def _beside(border: Box | None, built: list[tuple[Draft, Piece]]) -> Iterator[Finding]:
    """A note for each piece wholly beside a page that others lie on: it may be a scrap."""
    if border is None:
        return
    x0, y0, x1, y1 = border
    off = [
        piece
        for _, piece in built
        if (box := piece.bounds) and (box[2] < x0 or box[0] > x1 or box[3] < y0 or box[1] > y1)
    ]
    if len(off) < len(built):
        for piece in off:
            yield Finding(
                "beside-page",
                "note",
                "it lies beside the page, and is taken as a piece as those on it are",
                piece.name,
                piece.size or "",
                cure="If it is a scrap, delete it or hide it in the drawing.",
            )


def _apart(built: list[tuple[Draft, Piece]]) -> list[tuple[Draft, Piece]]:
    """The pieces, those that bear the name of another called otherwise, with an error for each."""
    taken: dict[str | None, set[str]] = {}
    found = []
    for draft, piece in built:
        names = taken.setdefault(piece.size, set())
        name = untaken(piece.name, names)
        names.add(name)
        if name != piece.name:
            with draft.guarded():
                raise InputError(
                    f'two pieces are named "{piece.title}"',
                    where=draft.elements[0].place,
                    cure="Give each piece its own name, or each its own size.",
                )
            piece = replace(piece, name=name)
        found.append((draft, piece))
    return found


def _seams(root: Element) -> tuple[Seam, ...]:
    try:
        return parse_seams(root.get("data-seams"))
    except InputError as error:
        raise error.at(f"{root.place}, data-seams".lstrip(", ")) from None


def _bodies(root: Element) -> dict[str, Body]:
    text = root.get("data-bodies")
    try:
        return parse_bodies(text) if text else {}
    except InputError as error:
        raise error.at(f"{root.place}, data-bodies".lstrip(", ")) from None


def _with_bases(built: list[tuple[Draft, Piece]], out: Gathered) -> tuple[Piece, ...]:
    """Pieces with the pieces that they were graded from (`data-base`)."""
    by_key = {piece.key: piece for _, piece in built}
    pieces: list[Piece] = []
    for draft, piece in built:
        base = draft.get("data-base")
        if base is None:
            pieces.append(piece)
            continue
        found = by_key.get((piece.name, base or None))
        if found is None or found is piece:
            text = f'the piece was graded from size "{base}", which is not in the file'
            cure = "Grading it again will start from this size."
            draft.find("base-missing", "warn", text, cure)
            pieces.append(piece)
        else:
            pieces.append(replace(piece, base=found))
    return tuple(pieces)
