"""Proof after an operation: every size has the same structure, every seam still finds its runs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..errors import GeometryError, LookupFailed, PluginError
from ..model.pattern import Pattern
from ..model.piece import Piece

#: What of a piece is compared by name or kind, and what messages call it.
_COUNTED = ("notches", "drills", "marks", "cutouts", "darts", "pleats", "holds", "adjusts")


def prove(before: Pattern, after: Pattern) -> None:
    """Raises GeometryError, with size and place, where the sizes of a piece that an operation
    changed are no longer alike, and PluginError where it left a seam naming what is not there.

    Sizes that were not alike before (a nest drawn by hand) are not held to it.
    """
    same = {id(piece) for piece in before.pieces}
    for name in after.names:
        sizes = after.sizes_of(name)
        was = before.sizes_of(name)
        if len(sizes) < 2 or all(id(p) in same for p in sizes) or _difference(was):
            continue
        found = _difference(sizes)
        if found:
            first, other, what = found
            raise GeometryError(
                f"its sizes are no longer alike: {what} in size {other.size or 'none'}, "
                f"unlike size {first.size or 'none'}",
                where=other.title,
                cure="Take a place that lies alike in every size.",
            )
    for seam in after.seams:
        for part in (*seam.first, *seam.second):
            for piece in after.sizes_of(part.piece):
                if not _has(piece, part.run) and _was_there(before, part.piece, part.run):
                    raise _dangling(seam.name, str(part), piece.title)
            if part.piece not in after.names and part.piece in before.names:
                raise _dangling(seam.name, str(part), part.piece)


def _dangling(seam: str, part: str, piece: str) -> PluginError:
    return PluginError(
        f'it left the seam "{seam}" naming {part}, which is not there any more',
        where=piece,
        cure="An operation that takes away a run or a piece rewrites its seams (see redraft).",
    )


def _has(piece: Piece, run: str) -> bool:
    try:
        piece.run(run)
    except LookupFailed:
        return False
    return True


def _was_there(before: Pattern, piece: str, run: str) -> bool:
    """Whether a run was there before; of a new piece everything counts as there."""
    was = before.sizes_of(piece)
    return not was or any(_has(p, run) for p in was)


def _difference(sizes: Sequence[Piece]) -> tuple[Piece, Piece, str] | None:
    """The first size, one that is not like it, and what of it is not."""
    if len(sizes) < 2:
        return None
    first = dict(_facts(sizes[0]))
    for piece in sizes[1:]:
        facts = dict(_facts(piece))
        for what in (*first, *facts):
            if first.get(what) != facts.get(what):
                return sizes[0], piece, _words(what, facts.get(what), first.get(what))
    return None


def _words(what: str, found: object, wanted: object) -> str:
    if found is None:
        return f"{what} is missing"
    if wanted is None:
        return f"{what} is there"
    return f"{what} is {found} instead of {wanted}"


def _facts(piece: Piece) -> Iterator[tuple[str, object]]:
    """What must be alike in all sizes: corners, names, runs by their ends, features."""
    outline = piece.outline
    yield "the number of corners", len(outline.corners)
    n = len(outline.path)
    # A smooth point's place is told by the corner before it, whatever else lies between.
    order = sorted(outline.corners)

    def place(vertex: int) -> str:
        number = outline.corner_number(vertex % n)
        if number is not None:
            return f"at corner {number}"
        before = [c for c in order if c < vertex % n] or order
        return f"after corner {outline.corner_number(before[-1])}" if before else "on a curve"

    for point in outline.points:
        if point.name:
            yield f'the point "{point.name}"', place(point.vertex)
    for run in outline.runs:
        if run.name:
            yield f'the run "{run.name}"', f"{place(run.start)} to {place(run.end)}"
    if piece.fold is not None:
        yield "the fold", f"{place(piece.fold.start)} to {place(piece.fold.end)}"
    for dart in piece.darts:
        yield f'the dart "{dart.name}"', f"{place(dart.a)} to {place(dart.b)}"
    for kind in _COUNTED:
        yield f"the number of {kind}", len(getattr(piece, kind))
