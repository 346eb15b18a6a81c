"""Rule numbers put onto the points of outlines that they stand at."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ...geometry.near import nearest_of
from ...geometry.nearest import nearest, nearest_point
from ...geometry.types import Floats
from ...model import Outline, Point, Vec
from ..drawing.drafts import Draft
from .blocks_in import Block
from .layers import CUTOUT, INTERNAL, NOTCHES
from .lines_in import ON_LINE

_SHOWN = 5


class Ruled(NamedTuple):
    """The outlines with their rules, and the rules that stand at notches with their places."""

    outline: Outline
    cut_line: Outline | None
    at_notches: tuple[tuple[Vec, str], ...]


def with_rules(block: Block, outline: Outline, cut_line: Outline | None, draft: Draft) -> Ruled:
    """The outlines of a block with the rule numbers of its texts at their points.

    Where a number stands on a line between vertices, a vertex is put in. Where only the
    boundary bears numbers, the sewing line gets them too.
    """
    at_notches = [(at, rule) for layer, rule, at in block.rules if layer in NOTCHES]
    rules = [(rule, at) for layer, rule, at in block.rules if layer not in NOTCHES]
    places = np.array([at for _, at in rules]).reshape(-1, 2)
    lines = [_Ruled(line, places) for line in (outline, cut_line) if line is not None]
    nowhere: list[str] = []
    inner = [p for layer in (INTERNAL, CUTOUT) for p in block.paths.get(layer, [])]
    for k, (rule, at) in enumerate(rules):
        bearing = [line for line in lines if line.bears(k, rule, draft)]
        if bearing:
            continue
        if any(nearest_point(p, at).distance <= ON_LINE for p in inner):
            text = f"rule {rule} at an internal line was left out: inner lines go with the piece"
            draft.find("rule-inside", "warn", text, at=at)
        else:
            nowhere.append(f"# {rule} at ({at[0]:.1f}, {at[1]:.1f}) mm")
    if nowhere:
        more = f" and {len(nowhere) - _SHOWN} more" if len(nowhere) > _SHOWN else ""
        text = f"rule numbers stand at no line: {', '.join(nowhere[:_SHOWN])}{more}"
        draft.find("rule-nowhere", "warn", text, "Put each at the point that it is for.")
    outline = lines[0].made()
    cut_line = None if cut_line is None else lines[1].made()
    if cut_line is not None and not outline.points:
        outline = _from_boundary(outline, cut_line, draft)
    return Ruled(outline, cut_line, tuple(at_notches))


class _Ruled:
    """An outline and the rules of its vertices; `places` (m, 2) are those of all rules."""

    def __init__(self, outline: Outline, places: Floats) -> None:
        self.outline, self.places = outline, places
        self.rules: dict[int, str] = {}
        off = np.flatnonzero(nearest_of(outline.path.vertices, places)[1] > ON_LINE)
        near = nearest(outline.path, places[off])
        on = near.distance <= ON_LINE
        # Arc lengths of those between vertices, which vertices put in leave as they are.
        self.between = dict(zip(off[on].tolist(), near.s[on].tolist(), strict=True))

    def bears(self, k: int, rule: str, draft: Draft) -> bool:
        """Give the vertex at the k-th place a rule, or put one in there; False off the line."""
        at = self.places[k]
        away = np.hypot(*(self.outline.path.vertices - at).T)
        vertex = int(away.argmin())
        if away[vertex] > ON_LINE:
            if k not in self.between:
                return False
            outline, vertex = self.outline.with_vertex(self.between[k])
            if outline is not self.outline:
                self.rules = {v + (v >= vertex): known for v, known in self.rules.items()}
                self.outline = outline
        old = self.rules.setdefault(vertex, rule)
        if old != rule:
            text = f"one point bears the rules {old} and {rule}; {old} was taken"
            draft.find("rule-twice", "warn", text, "Leave one of them.", at=at)
        return True

    def made(self) -> Outline:
        """The outline with its rules."""
        points = tuple(Point(v, None, rule) for v, rule in sorted(self.rules.items()))
        return replace(self.outline, points=points)


def _from_boundary(sewn: Outline, cut: Outline, draft: Draft) -> Outline:
    """The sewing line with the rules of the boundary: corner to corner, else the nearest point."""
    ruled = [p for p in cut.points if p.rule]
    if not ruled:
        return sewn
    for point in ruled:
        place = cut.vertex_at(point.vertex)
        foot = nearest_point(sewn.path, (float(place[0]), float(place[1])))
        if cut.corner_number(point.vertex) is not None and sewn.corners:
            away = np.hypot(*(sewn.path.vertices[list(sewn.corners)] - place).T)
            # Over a sharp corner the two lines' corners are some allowances apart.
            if away.min() <= 3.0 * foot.distance + 1.0:
                sewn = sewn.with_point(sewn.corners[int(away.argmin())], rule=point.rule)
                continue
        sewn, vertex = sewn.with_vertex(foot.s)
        sewn = sewn.with_point(vertex, rule=point.rule)
    draft.find(
        "rules-from-boundary", "note", "the rules of the boundary were carried to the sewing line"
    )
    return sewn
