"""Darts drawn at the edge of a piece: triangles, or two legs, that say they are darts."""

from __future__ import annotations

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.regions import contains
from ...geometry.types import Floats
from ...model import says_dart
from .drafts import Draft
from .lines import layer_of
from .names import untaken
from .outlines import Line, Lines
from .shapes import Marking, Shape
from .vertices import POINT_REACH, nearest_vertex

#: Where the line of a dart's drawing turns by more than this, in degrees, is a corner of it.
_CORNER = 20.0


def with_edge_darts(draft: Draft, lines: Lines) -> Lines:
    """The lines with vertices at the mouths of such darts, whose marks then say what they are.

    The mouth lies on the sewing line where there is one. Base corners of a triangle lie within
    2 mm of the line, its point within the piece.
    """
    line = lines.sew or lines.outline
    names = {d.marking.dart for d in draft.marks if d.marking and d.marking.dart}
    for drawn in draft.marks:
        marking = drawn.marking
        if marking is None or marking.role != "mark" or not _says_dart(drawn, marking):
            continue
        legs = _legs(drawn, line.path)
        if legs is None:
            continue
        for end in (legs[0], legs[2]):
            line = _with_vertex(line, end)
        name = untaken(marking.name or _own_name(drawn) or "dart", names)
        names.add(name)
        drawn.marking = Marking(piece=marking.piece, dart=name)
        drawn.paths = [Path.polyline(legs)]
    return lines._replace(sew=line) if lines.sew else lines._replace(outline=line)


def _says_dart(drawn: Shape, marking: Marking) -> bool:
    words = (marking.kind, marking.name, drawn.element.name, layer_of(drawn.group))
    return any(says_dart(word) for word in words if word)


def _own_name(drawn: Shape) -> str:
    """A person's name for the shape, where it is more than the word dart."""
    label = drawn.element.label
    return label if label and label.casefold().rstrip("s") != "dart" else ""


def _legs(drawn: Shape, outline: Path) -> Floats | None:
    """Mouth, point, mouth (3, 2) of a dart at the outline; None for another drawing."""
    if len(drawn.paths) != 1:
        return None
    path = drawn.paths[0]
    turning = np.abs(path.turns) > _CORNER
    if not path.closed:
        turning[[0, -1]] = True
    corners = path.vertices[turning]
    if len(corners) != 3:
        return None
    away = nearest(outline, corners).distance
    apex = int(away.argmax()) if path.closed else 1
    ends = np.roll(corners, 1 - apex, axis=0)
    far = np.roll(away, 1 - apex)
    at_edge = max(far[0], far[2]) <= POINT_REACH < far[1]
    return ends if at_edge and contains(outline, ends[1:2])[0] else None


def _with_vertex(line: Line, place: Floats) -> Line:
    """The line with a vertex where a mouth ends."""
    if nearest_vertex(line.path, place)[1] <= POINT_REACH:
        return line
    foot = nearest(line.path, place[None])
    path, _ = line.path.with_vertex(float(foot.s[0]))
    return line._replace(path=path)
