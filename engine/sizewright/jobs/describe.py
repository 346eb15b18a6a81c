"""What a job says of its pieces, put onto the pieces that the drawing gave."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from ..errors import InputError, SizewrightError, UsageError, meant
from ..findings import Finding
from ..geometry.path import Path
from ..model import (
    MIRRORED,
    Dart,
    Fold,
    Hold,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Run,
    find_place,
    parse_place,
    parse_quantity,
    refuse_wide,
)
from ..units import both
from .job_file import Job, PieceNotes

#: A drawing whose perimeter is this close to the one that the job carries is the same, mm.
SAME_PERIMETER = 0.1
_NUMBER = re.compile(r"#\d+\b")


def describe(pattern: Pattern, job: Job, findings: list[Finding]) -> Pattern:
    """The pattern with the job's title, base size, seams and notes on pieces.

    Pieces that the job leaves out are gone, and so are seams of the drawing that join them,
    with a finding; renamed ones go by their new names from here on. Raises UsageError or
    InputError, with the job's line, for a piece or a reference that is not there, and where
    the drawing has changed since its corners were counted.
    """
    for notes in job.pieces:
        if notes.name not in pattern.names:
            raise UsageError(
                f'the drawing has no piece "{notes.name}"',
                where=job.where("pieces", notes.name),
                cure=f"{meant(notes.name, pattern.names)}Its pieces: {', '.join(pattern.names)}.",
            )
    pattern = _without(pattern, job, findings)
    _guard_numbers(pattern, job)
    by_name = {notes.name: notes for notes in job.pieces}
    pieces = [
        _described(p, by_name[p.name], job) if p.name in by_name else p for p in pattern.pieces
    ]
    try:
        pattern = pattern.with_pieces(pieces).renamed(
            {
                notes.name: notes.rename
                for notes in job.pieces
                if notes.rename and not notes.leave_out
            }
        )
    except SizewrightError as error:
        raise error.at(job.where("pieces")) from None
    described = Pattern(
        pattern.pieces,
        job.base or pattern.base_size,
        (*(s for s in pattern.seams if s.name not in {j.name for j in job.seams}), *job.seams),
        pattern.page,
        job.title or pattern.title,
    )
    _check_seams(described, job)
    return described


def _without(pattern: Pattern, job: Job, findings: list[Finding]) -> Pattern:
    """The pattern without the pieces that the job leaves out."""
    out = {notes.name for notes in job.pieces if notes.leave_out}
    if not out:
        return pattern
    if out >= set(pattern.names):
        raise UsageError(
            "the job leaves out every piece",
            where=job.where("pieces"),
            cure="Leave one in.",
        )
    left = pattern.without(out)
    gone = [seam for seam in pattern.seams if seam not in left.seams]
    text = "a piece of this seam is left out, and the seam with it"
    findings += [Finding("seam-gone", "note", text, place=seam.name) for seam in gone]
    return left


def _check_seams(pattern: Pattern, job: Job) -> None:
    """Refuse seams of the job that name what is not there, before anything runs.

    Names of mirror images are let be: they come with opening a piece out.
    """
    for seam in job.seams:
        for part in (*seam.first, *seam.second):
            if MIRRORED in part.run:
                continue
            try:
                piece = pattern.piece(part.piece)
                try:
                    piece.run(part.run)
                except SizewrightError as error:
                    raise error.at(piece.name) from None
            except SizewrightError as error:
                raise error.at(f'seam "{seam.name}"').at(job.where("seams")) from None


def _described(piece: Piece, notes: PieceNotes, job: Job) -> Piece:
    trail = ("pieces", notes.name)
    try:
        return _with_notes(piece, notes, job)
    except SizewrightError as error:
        if job.toml.path.name not in error.where:
            error.at(job.where(*trail))
        raise


def _guard_numbers(pattern: Pattern, job: Job) -> None:
    """Refuse corner numbers that may have moved since they were written down.

    In a nest all sizes have the corners, and the perimeter is that of any one of them.
    """
    bare = []
    for notes in job.pieces:
        outlines = [p.outline for p in pattern.sizes_of(notes.name)]
        if not outlines:
            continue
        count, perimeter = len(outlines[0].corners), outlines[0].path.length
        say = f'corners = {count} and perimeter = "{perimeter:.2f} mm"'
        expected = notes.perimeter
        if notes.corners is None or expected is None:
            if any(_NUMBER.search(text) for text in _references(notes)):
                bare.append((notes, say))
            continue
        same = any(abs(o.path.length - expected) <= SAME_PERIMETER for o in outlines)
        other = next((n for o in outlines if (n := len(o.corners)) != notes.corners), count)
        if notes.corners != other or not same:
            raise InputError(
                f'the drawing of "{notes.name}" has changed: {other} corners and a perimeter of '
                f"{both(perimeter)} where the job expects {notes.corners} and {both(expected)}",
                where=job.where("pieces", notes.name, "corners"),
                cure=f"Look at the corner numbers with `sizewright show`, then write {say}.",
            )
    if bare:
        names = ", ".join(f'"{notes.name}"' for notes, _ in bare)
        verb, whose = ("is", "its guard") if len(bare) == 1 else ("are", "their guards")
        added = "; ".join(f"under [pieces.{notes.name}] {say}" for notes, say in bare)
        raise UsageError(
            f"{names} {verb} described by corner numbers without {whose}",
            where=job.where("pieces", bare[0][0].name),
            cure=f"Add {added}, so that a changed drawing is noticed.",
        )


def _references(notes: PieceNotes) -> Iterator[str]:
    for table in (notes.points, notes.edges, notes.darts, notes.pleats):
        yield from table.values()
    yield from notes.rules
    yield from notes.hold
    if notes.fold:
        yield notes.fold


def _with_notes(piece: Piece, notes: PieceNotes, job: Job) -> Piece:
    changes: dict[str, Any] = {}
    if notes.outline:
        changes["kind"] = notes.outline
    if notes.allowance is not None:
        changes["allowance"] = notes.allowance
    if notes.quantity is not None:
        try:
            changes["quantity"] = parse_quantity(notes.quantity)
        except SizewrightError as error:
            raise error.at(job.where("pieces", notes.name, "quantity")) from None
    if notes.pair is not None:
        changes["pair"] = notes.pair
    if notes.faces is not None:
        changes["faces"] = notes.faces
    piece = piece.with_changes(**changes)
    # Places may speak of edges, and runs of points: numbered edges come first.
    numbered = {name: ref for name, ref in notes.edges.items() if _NUMBER.fullmatch(ref)}
    piece = _with_edges(piece, numbered)
    # A named place may add a smooth vertex; corner numbers stay as they are.
    for name, place in notes.points.items():
        piece = _named_point(piece, name, place)
    piece = _with_edges(piece, {n: r for n, r in notes.edges.items() if n not in numbered})
    outline = piece.outline
    for point, rule in notes.rules.items():
        outline = outline.with_point(outline.vertex(point), rule=rule)
    piece = piece.with_changes(outline=outline)
    if notes.fold:
        fold = piece.run(notes.fold)
        piece = piece.with_changes(fold=Fold(fold.start, fold.end))
    darts = tuple(_dart(piece.outline, name, tip) for name, tip in notes.darts.items())
    pleats = tuple(_pleat(piece, name, run) for name, run in notes.pleats.items())
    holds = tuple(
        Hold(tuple(piece.outline.vertex(part) for part in text.replace(",", " ").split()))
        for text in notes.hold
    )
    return piece.with_changes(
        darts=(*(d for d in piece.darts if d.name not in notes.darts), *darts),
        pleats=(*(p for p in piece.pleats if p.name not in notes.pleats), *pleats),
        holds=(*piece.holds, *holds),
    )


def _with_edges(piece: Piece, edges: Mapping[str, str]) -> Piece:
    for name, reference in edges.items():
        found = piece.run(reference)
        outline = piece.outline.with_run(Run(found.start, found.end, name))
        piece = piece.with_changes(outline=outline)
    return piece


def _named_point(piece: Piece, name: str, phrase: str) -> Piece:
    """A name at a place; the outline gets a vertex there when it has none."""
    s = find_place(piece, parse_place(phrase))
    piece, point = piece.with_vertex(s, name=name)
    if point.name != name:
        raise InputError(
            f'the place "{phrase}" has the name "{point.name}" already',
            cure=f'Call it "{point.name}" here too, or name it otherwise in the drawing.',
        )
    return piece


def _pleat(piece: Piece, name: str, reference: str) -> Pleat:
    mouth = piece.run(reference)
    refuse_wide(piece.outline, mouth.start, mouth.end, f'the pleat "{name}"')
    return Pleat(name, mouth.start, mouth.end)


def _dart(outline: Outline, name: str, tip: str) -> Dart:
    """A dart cut out of the outline, by its point: the mouth is the corners beside it."""
    vertex = outline.vertex(tip)
    number = outline.corner_number(vertex)
    if number is None or len(outline.corners) < 4:
        raise InputError(f'"{tip}" is no corner, so it cannot be the point of dart "{name}"')
    count = len(outline.corners)
    a, b = outline.corners[number - 2], outline.corners[number % count]
    path: Path = outline.path
    if path.turns[vertex] > 0:
        raise InputError(
            f'the outline turns outward at "{tip}", so it cannot be the point of dart "{name}"',
            cure="Name the corner where the dart's legs meet.",
        )
    x, y = outline.vertex_at(vertex)
    return Dart(name, a, b, (float(x), float(y)), vertex)
