"""A drawing's shapes as a pattern: pieces built, bases, seams and title put in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from ...errors import InputError
from ...findings import Finding
from ...model import Pattern, Piece, Seam, parse_seams
from ..reading import Reading
from .drafts import Draft, Gathered
from .drawn import Scene
from .gather import gather
from .options import Options
from .page import Page
from .pieces import build_piece
from .xml_tree import Node


def assembled(
    root: Node, page: Page, scene: Scene, options: Options, hints: Iterable[Finding] = ()
) -> Reading:
    """The pattern in a drawing that has been walked, whatever kind of file it came from.

    `hints` are findings about the drawing as a whole, told after those of its shapes.
    """
    out = gather(scene, page, root)
    out.findings[:0] = [*page.findings, *scene.findings]
    out.findings.extend(hints)
    built: list[tuple[Draft, Piece]] = []
    for draft in out.drafts:
        piece = build_piece(draft, out, options)
        if piece is not None:
            built.append((draft, piece))
    if not built and not any(f.level == "fail" for f in out.findings):
        out.find(
            "no-pieces",
            "fail",
            "no closed path was found that could be a pattern piece",
            cure="Draw each piece as a closed path, larger than 20 mm and not hidden.",
        )
    pattern = Pattern(
        _with_bases(built, out),
        root.get("data-base-size") or None,
        _seams(root),
        page.size,
        _title(root),
    )
    return Reading(pattern, tuple(out.set_aside), tuple(out.findings))


def _seams(root: Node) -> tuple[Seam, ...]:
    try:
        return parse_seams(root.get("data-seams"))
    except InputError as error:
        raise error.at(f"line {root.line}, data-seams") from None


def _title(root: Node) -> str:
    for child in root.children:
        if child.tag == "title":
            return " ".join(child.text().split())
    return ""


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
            out.find(
                "base-missing",
                "warn",
                f'the piece was graded from size "{base}", which is not in the file',
                cure="Grading it again will start from this size.",
                draft=draft,
            )
            pieces.append(piece)
        else:
            pieces.append(replace(piece, base=found))
    return tuple(pieces)
