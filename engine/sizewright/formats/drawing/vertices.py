"""Marks that name vertices and edges of an outline."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ...errors import InputError, SizewrightError
from ...geometry.flatten import flatten_marked
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Edge, Outline, Point, Run, number_corners
from .drafts import Draft
from .marking import side
from .outlines import Line
from .shapes import Shape

#: A point mark names the vertex within this, in mm; an edge mark the edge within that.
POINT_REACH = 2.0
EDGE_REACH = 5.0
#: An edge mark this near to two edges, in mm, is on their corner.
_AT_CORNER = 0.01
#: Distances held at once when edges are sought; bounds the memory.
_BATCH = 500_000


def centre_of(drawn: Shape) -> Floats:
    """Middle (2,) of the box round a mark, mm. InputError where it has no shape."""
    if not drawn.paths:
        if drawn.texts:
            return np.array(drawn.texts[0].at)
        raise InputError(
            "the mark has no shape", where=drawn.place, cure="Draw a small circle there."
        )
    boxes = np.array([p.bounds for p in drawn.paths])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    middle: Floats = (low + high) / 2
    return middle


def place_of(drawn: Shape) -> Floats | None:
    """The middle of a mark; None where it has no shape."""
    return centre_of(drawn) if drawn.paths or drawn.texts else None


def points_on(
    path: Path, marks: Iterable[Shape], draft: Draft
) -> tuple[tuple[Point, ...], list[Shape]]:
    """Names and rules for the vertices under `marks`, and the marks that reach none.

    Where one vertex gets two names or rules, the first stays and the error is noted.
    """
    found: dict[int, Point] = {}
    rest: list[Shape] = []
    for drawn in marks:
        with draft.guarded(place_of(drawn)):
            _point_on(path, drawn, found, rest)
            if side(drawn.element) != "both" and not any(one is drawn for one in rest):
                draft.out.find(
                    "side-unused",
                    "warn",
                    "a point of the outline lies on both sides of the body, so its data-side "
                    "changes nothing",
                    "Say it of what lies on one side: a notch, drill hole, mark or cut-out.",
                    draft=draft,
                    at=centre_of(drawn),
                )
    return tuple(found[v] for v in sorted(found)), rest


def _point_on(path: Path, drawn: Shape, found: dict[int, Point], rest: list[Shape]) -> None:
    assert drawn.marking is not None
    vertex, distance = nearest_vertex(path, centre_of(drawn))
    if distance > POINT_REACH:
        rest.append(drawn)
        return
    name = drawn.marking.point or None
    rule = drawn.marking.rule
    old = found.get(vertex)
    if old is not None:
        for ours, theirs, what in ((name, old.name, "name"), (rule, old.rule, "rule")):
            if ours and theirs and ours != theirs:
                raise InputError(
                    f'one outline vertex gets two {what}s, "{theirs}" and "{ours}"',
                    where=drawn.place,
                    cure="Take one of them out, or move it to its own vertex.",
                )
        name, rule = name or old.name, rule or old.rule
    found[vertex] = Point(vertex, name, rule)


def nearest_vertex(path: Path, place: Floats) -> tuple[int, float]:
    """The vertex nearest to a place, and its distance in mm."""
    away = np.hypot(*(path.vertices - place).T)
    k = int(away.argmin())
    return k, float(away[k])


def vertex_under(path: Path, place: Floats) -> int | None:
    """The vertex within 2 mm of a place."""
    vertex, distance = nearest_vertex(path, place)
    return vertex if distance <= POINT_REACH else None


def refuse_far(outline: Outline, drawn: Shape, draft: Draft) -> InputError:
    """The error for a point mark that is on no vertex."""
    assert drawn.marking is not None
    vertex, distance = nearest_vertex(outline.path, centre_of(drawn))
    x, y = outline.vertex_at(vertex)
    number = outline.corner_number(vertex)
    known = outline.point(vertex).name
    what = f'"{known}"' if known else f"corner {number}" if number else f"vertex {vertex}"
    return InputError(
        f'the point mark "{drawn.marking.point or drawn.marking.rule}" is '
        f"{distance:.1f} mm from the nearest outline vertex, {what} at ({x:.1f}, {y:.1f}) mm",
        where=drawn.place,
        cure=f"Move it onto the vertex that it names (within {POINT_REACH:.0f} mm), or put "
        "a node into the outline there.",
    )


def edge_under(outline: Outline, drawn: Shape) -> Edge:
    """The edge that a mark means. InputError where none is near or two are as near."""
    away = _edge_distances(outline, centre_of(drawn)[None])
    return _meant(outline, away[:, 0], drawn)


def _meant(outline: Outline, away: Floats, drawn: Shape) -> Edge:
    """The edge that a mark means, which lies at `away` mm from each."""
    edges = outline.edges
    order = np.argsort(away)
    first = int(order[0])
    distance = float(away[first])
    following = float(away[order[1]]) if len(edges) > 1 else np.inf
    assert drawn.marking is not None
    name = drawn.marking.edge or drawn.marking.pleat or drawn.marking.says()
    if distance > EDGE_REACH:
        raise InputError(
            f'the edge mark "{name}" is {distance:.1f} mm from the nearest edge, '
            f"{_edge_name(edges[first])}",
            where=drawn.place,
            cure=f"Move it onto the edge that it names (within {EDGE_REACH:.0f} mm).",
        )
    if distance > following / 2 or following < _AT_CORNER:
        raise InputError(
            f'the edge mark "{name}" is {distance:.1f} mm from {_edge_name(edges[first])} '
            f"and {following:.1f} mm from {_edge_name(edges[int(order[1])])}: "
            "it may mean either",
            where=drawn.place,
            cure="Move it closer to the edge that it names, away from the corner.",
        )
    return edges[first]


def _edge_distances(outline: Outline, places: Floats) -> Floats:
    """Distance of each place (m, 2) from each edge, (edges, m) in mm, within 0.001 mm.

    Chords are near enough for judging which edge is meant, and quicker than true curves.
    """
    chords, vertex = flatten_marked(outline.path, 1e-3)
    starts = np.array([int(vertex[e.start]) for e in outline.edges])
    order = np.argsort(starts)
    # Begin at an edge's start, so that the chords of each edge stand together.
    chords = np.roll(chords, -starts[order[0]], axis=0)
    first = starts[order] - starts[order[0]]
    step = np.roll(chords, -1, axis=0) - chords
    square = (step * step).sum(axis=1)
    result: Floats = np.empty((len(starts), len(places)))
    batch = max(1, _BATCH // len(chords))
    for k in range(0, len(places), batch):
        off = places[None, k : k + batch] - chords[:, None]
        t = np.clip((off * step[:, None]).sum(axis=2) / square[:, None], 0.0, 1.0)
        away = np.hypot(*(off - t[..., None] * step[:, None]).transpose(2, 0, 1))
        result[order, k : k + batch] = np.minimum.reduceat(away, first, axis=0)
    return result


def _edge_name(edge: Edge) -> str:
    return f'"{edge.name}"' if edge.name else f"edge {edge.number}"


def edge_runs(outline: Outline, marks: list[Shape], draft: Draft) -> list[Run]:
    """Runs that edge marks name on one outline; marks that name none are noted as errors."""
    if not marks:
        return []
    places = np.array([centre_of(d) for d in marks])
    away = _edge_distances(outline, places)
    runs: dict[tuple[int, int], Run] = {}
    for k, drawn in enumerate(marks):
        with draft.guarded(places[k]):
            edge = _meant(outline, away[:, k], drawn)
            key = (edge.start, edge.end)
            name = (drawn.marking.edge if drawn.marking else None) or None
            old = runs.get(key)
            if old is not None and old.name != name:
                raise InputError(
                    f'one edge gets two names, "{old.name}" and "{name}"',
                    where=drawn.place,
                    cure="Take one of them out, or move it to its own edge.",
                )
            runs[key] = Run(edge.start, edge.end, name)
    return list(runs.values())


def written_runs(outline: Outline, text: str, where: str) -> list[Run]:
    """Runs of a `data-runs` attribute, such as `waist = cf..side; top = #3..@7`.

    An end is a point's name, `#3` a corner, `@7` a vertex. Raises InputError.
    """
    runs: list[Run] = []
    for part in text.split(";"):
        if not part.strip():
            continue
        name, equals, ends = part.partition("=")
        halves = ends.split("..")
        if not equals or len(halves) != 2:
            raise InputError(
                f'"{part.strip()}" in data-runs is no NAME = POINT..POINT',
                where=where,
                cure="Write it like waist = centre-front..side-waist.",
            )
        first, last = (_vertex(outline, half.strip(), where) for half in halves)
        runs.append(Run(first, last, _decoded(name.strip()) or None))
    return runs


def _vertex(outline: Outline, reference: str, where: str) -> int:
    if reference.startswith("@"):
        number = reference[1:]
        if not number.isdecimal() or int(number) >= len(outline.path):
            raise InputError(
                f"the outline has no vertex {number}",
                where=where,
                cure=f"Its vertices are 0 to {len(outline.path) - 1}.",
            )
        return int(number)
    try:
        return outline.vertex(_decoded(reference))
    except SizewrightError as error:
        raise error.at(where) from None


def _decoded(name: str) -> str:
    return name.replace("%3B", ";").replace("%3D", "=").replace("%25", "%")


def corners_of(line: Line, attribute: str | None, angle: float, draft: Draft) -> tuple[int, ...]:
    """Corner numbers of a line: as its `data-corners` says, where it still can, else anew."""
    path = line.path
    if attribute is None:
        return number_corners(path, angle)
    words = attribute.split()
    plain = all(w.isdecimal() and int(w) < len(path) for w in words)
    if plain and not line.turned and line.raw is path:
        numbers = [int(w) for w in words]
        # Counter-clockwise from any of them, each once.
        steps = [(v - numbers[0]) % len(path) for v in numbers]
        if steps == sorted(set(steps)):
            return tuple(numbers)
    draft.find(
        "corners-renumbered",
        "warn",
        "the corner numbers written in the file do not fit the outline any more; "
        "it was numbered anew",
        cure="Check the corner numbers that a job uses.",
    )
    return number_corners(path, angle)
