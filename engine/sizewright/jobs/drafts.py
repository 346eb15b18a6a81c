"""Pieces that a job drafted from edges, made anew where an edge changes later."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from ..errors import SizewrightError
from ..findings import Finding
from ..model import Pattern, Piece, RunReference
from ..plugin import Outcome

#: Edges are compared to so many decimals of a mm.
_DECIMALS = 6
_ANEW = "drafted anew, as its edge changed"
_Edge = tuple[str, str, str, bytes]


@dataclass(frozen=True)
class _Draft:
    """What one step drafted: the pieces, the edges that they go by and as they were, and how
    to do it again."""

    pieces: tuple[Piece, ...]
    along: tuple[RunReference, ...]
    edges: frozenset[_Edge]
    again: Callable[[Pattern], Outcome]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(piece.name for piece in self.pieces))


class Drafts:
    """The drafted pieces of one job, in the order in which they were made."""

    def __init__(self) -> None:
        self._made: list[_Draft] = []

    def note(self, outcome: Outcome, again: Callable[[Pattern], Outcome]) -> None:
        """Remember what a step drafted, if anything; `again` does the step on a pattern."""
        if outcome.drafted:
            pieces = tuple(p for p in outcome.pattern.pieces if p.name in outcome.drafted)
            edges = _edges(outcome.pattern, outcome.along)
            self._made.append(_Draft(pieces, outcome.along, edges, again))

    def taken_out(self, pattern: Pattern) -> Pattern:
        """The pattern as it goes into grading: drafted pieces are made anew from its edges."""
        for draft in self._made:
            pattern = pattern.without(draft.names)
        return pattern

    def renewed(
        self, pattern: Pattern, findings: list[Finding], *, graded: bool = False
    ) -> Pattern:
        """The pattern with every drafted piece whose edge has changed made anew; each is told.

        `graded`: none of them is there, and each is made for every size.
        """
        for k, draft in enumerate(self._made):
            edges = _edges(pattern, draft.along)
            if not graded and edges == draft.edges:
                continue
            if not graded:
                if len(edges) < len(draft.edges):
                    findings.append(
                        _told(draft, "edge-gone", "warn", "an edge that it goes by is gone")
                    )
                    continue
                now = {p.key: p for p in pattern.pieces}
                changed = any(now.get(p.key) != p for p in draft.pieces)
                findings.append(
                    _told(
                        draft,
                        "redrafted",
                        "warn" if changed else "note",
                        _ANEW + ("; what was done to it since is lost" if changed else ""),
                    )
                )
                pattern = pattern.without(draft.names)
            outcome = draft.again(pattern)
            pattern = outcome.pattern
            if not graded:
                pattern = _said_anew(pattern, outcome.drafted)
            findings += outcome.findings
            pieces = tuple(p for p in pattern.pieces if p.name in outcome.drafted)
            self._made[k] = replace(
                draft, pieces=pieces, edges=_edges(pattern, outcome.along), along=outcome.along
            )
        return pattern


def _told(draft: _Draft, code: str, level: str, text: str) -> Finding:
    cure = "Put what is done to it after the step that changes its edge." if level == "warn" else ""
    return Finding(code, level, text, ", ".join(draft.names), cure=cure)  # type: ignore[arg-type]


def _said_anew(pattern: Pattern, names: Sequence[str]) -> Pattern:
    return pattern.replacing(lambda p: p.with_changes(_ANEW) if p.name in names else p)


def _edges(pattern: Pattern, along: Sequence[RunReference]) -> frozenset[_Edge]:
    """The shape of each edge in each size, wherever its piece lies."""
    found = set()
    for reference in along:
        for piece in pattern.pieces:
            if not reference.means(piece):
                continue
            try:
                path = piece.outline.run_path(piece.run(reference.run))
            except SizewrightError:
                continue
            shape = (path.controls - path.controls[0, 0]).round(_DECIMALS) + 0.0
            mouths = len(piece.mouths(piece.run(reference.run)))
            key = shape.tobytes() + bytes([mouths % 256])
            found.add((piece.name, piece.size or "", reference.run, key))
    return frozenset(found)
