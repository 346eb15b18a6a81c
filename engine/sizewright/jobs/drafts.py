"""What a job drafted or placed by edges, made anew where an edge changes later."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import SizewrightError
from ..findings import Finding
from ..geometry import Floats
from ..model import Pattern, Piece, RunReference
from ..plugin import Outcome

#: An edge has changed where one of so many points along it has moved by more than this, mm.
_POINTS, _MOVED = 65, 1e-5
_ANEW = "drafted anew, as its edge changed"
_PLACED = "what was placed along an edge is placed anew, as that changed"
#: An edge by piece, size and name: the points along it, and how many mouths it has.
_Edges = Mapping[tuple[str, str, str], tuple[Floats, int]]
#: What a step put on a piece, its words in the story too: the field, the kind, the name.
_Put = frozenset[tuple[str, str, str]]
_HELD = ("notches", "marks", "drills")


@dataclass(frozen=True)
class _Draft:
    """What one step drafted: the pieces, what it put on others by their names, the edges that
    it goes by and as they were, and how to do it again."""

    pieces: tuple[Piece, ...]
    put: Mapping[str, _Put]
    along: tuple[RunReference, ...]
    edges: _Edges
    again: Callable[[Pattern], Outcome]

    @property
    def names(self) -> tuple[str, ...]:
        """The pieces that it drafted; else those on which it put something."""
        return self.drafted or tuple(self.put)

    @property
    def drafted(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(piece.name for piece in self.pieces))

    def taken_off(self, pattern: Pattern) -> Pattern:
        """The pattern without its pieces, and without what it put on others."""
        return pattern.without(self.drafted).replacing(
            lambda p: _without(p, self.put[p.name]) if p.name in self.put else p
        )


class Drafts:
    """What the steps of one job drafted, in the order in which it was made."""

    def __init__(self) -> None:
        self._made: list[_Draft] = []

    def note(self, before: Pattern, outcome: Outcome, again: Callable[[Pattern], Outcome]) -> None:
        """Remember what a step drafted, if anything; `again` does the step on a pattern."""
        if outcome.drafted or outcome.along:
            self._made.append(_noted(before, outcome, again))

    def taken_out(self, pattern: Pattern) -> Pattern:
        """The pattern as it goes into grading: what was drafted is made anew from its edges."""
        for draft in self._made[::-1]:
            pattern = draft.taken_off(pattern)
        return pattern

    def renewed(
        self, pattern: Pattern, findings: list[Finding], *, graded: bool = False
    ) -> Pattern:
        """The pattern with all anew that goes by an edge that has changed; each is told.

        `graded`: nothing of it is there, and it is made for every size.
        """
        for k, draft in enumerate(self._made):
            if not graded:
                edges = _edges(pattern, draft.along)
                if _alike(edges, draft.edges, _gathered(pattern, draft.drafted)):
                    continue
                if len(edges) < len(draft.edges):
                    findings.append(_gone(draft))
                    continue
                findings.append(_told(draft, pattern))
                pattern = draft.taken_off(pattern)
            try:
                outcome = draft.again(pattern)
            except SizewrightError as error:
                raise error if graded else error.at("done anew, as its edge changed") from None
            self._made[k] = _noted(pattern, outcome, draft.again)
            pattern = outcome.pattern
            if not graded:
                pattern = _said_anew(pattern, outcome.drafted)
            findings += outcome.findings
        return pattern


def _noted(before: Pattern, outcome: Outcome, again: Callable[[Pattern], Outcome]) -> _Draft:
    after = outcome.pattern
    pieces = tuple(p for p in after.pieces if p.name in outcome.drafted)
    had: dict[str, _Put] = {p.name: frozenset(_named(p)) for p in before.pieces}
    put = {
        p.name: frozenset(_named(p)) - had[p.name]
        for p in after.pieces
        if p.name in had and p.name not in outcome.drafted
    }
    put = {name: new for name, new in put.items() if new}
    return _Draft(pieces, put, outcome.along, _edges(after, outcome.along), again)


def _named(piece: Piece) -> Iterator[tuple[str, str, str]]:
    """All that has a name on a piece."""
    for field in _HELD:
        yield from ((field, *_words(one)) for one in getattr(piece, field))
    yield from (("runs", *_words(run)) for run in piece.outline.runs)
    yield from (("points", *_words(point)) for point in piece.outline.points)
    yield from (("story", "", step) for step in piece.story)


def _words(feature: object) -> tuple[str, str]:
    return getattr(feature, "kind", ""), getattr(feature, "name", None) or ""


def _without(piece: Piece, put: _Put) -> Piece:
    def left(field: str, of: Iterable[object]) -> tuple[object, ...]:
        return tuple(one for one in of if (field, *_words(one)) not in put)

    outline = piece.outline
    bare = replace(
        outline,
        runs=left("runs", outline.runs),  # type: ignore[arg-type]
        points=left("points", outline.points),  # type: ignore[arg-type]
    )
    held = {field: left(field, getattr(piece, field)) for field in _HELD}
    held["story"] = tuple(step for step in piece.story if ("story", "", step) not in put)
    base = None if piece.base is None else _without(piece.base, put)
    return replace(piece, outline=bare, base=base, **held)  # type: ignore[arg-type]


def _told(draft: _Draft, pattern: Pattern) -> Finding:
    now = {p.key: p for p in pattern.pieces}
    changed = any(now.get(p.key) != p for p in draft.pieces)
    return Finding(
        "redrafted",
        "warn" if changed else "note",
        (_ANEW if draft.pieces else _PLACED)
        + ("; what was done to it since is lost" if changed else ""),
        ", ".join(draft.names),
        cure="Put what is done to it after the step that changes its edge." if changed else "",
    )


def _gone(draft: _Draft) -> Finding:
    return Finding(
        "edge-gone",
        "warn",
        "an edge that it goes by is gone",
        ", ".join(draft.names),
        cure="Let this step stand after the one that takes the edge away.",
    )


def _said_anew(pattern: Pattern, names: Sequence[str]) -> Pattern:
    return pattern.replacing(lambda p: p.with_changes(_ANEW) if p.name in names else p)


def _edges(pattern: Pattern, along: Sequence[RunReference]) -> _Edges:
    """The shape of each edge in each size, wherever its piece lies and however it is divided."""
    found = {}
    for reference in along:
        for piece in pattern.pieces:
            if not reference.means(piece):
                continue
            try:
                run = piece.run(reference.run)
            except SizewrightError:
                continue
            path = piece.outline.run_path(run)
            points = path.at(np.linspace(0.0, path.length, _POINTS)) - path.start
            found[piece.name, piece.size or "", reference.run] = (points, len(piece.mouths(run)))
    return found


def _gathered(pattern: Pattern, drafted: Sequence[str]) -> frozenset[tuple[str, str]]:
    """The edges that are gathered into what was drafted: longer on purpose, and no reason to
    draft it anew."""
    return frozenset(
        (part.piece, part.run)
        for seam in pattern.seams
        if seam.ease is not None
        and seam.ease.kind == "gather"
        and any(part.piece in drafted for part in seam.second)
        for part in seam.first
    )


def _alike(one: _Edges, other: _Edges, but: frozenset[tuple[str, str]]) -> bool:
    return one.keys() == other.keys() and all(
        mouths == other[key][1] and bool(np.abs(points - other[key][0]).max() <= _MOVED)
        for key, (points, mouths) in one.items()
        if (key[0], key[2]) not in but
    )
