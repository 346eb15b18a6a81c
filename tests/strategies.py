"""Random outlines, pieces and patterns that a person might have drawn.

Structure (how many corners, which kind of edge, which features) is drawn step by step, so
that failures shrink; places come from a seeded generator, so that they have all their bits.
"""

from __future__ import annotations

import string
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from hypothesis import assume
from hypothesis import strategies as st

from sizewright.geometry import affine, bezier
from sizewright.geometry.crossings import is_simple
from sizewright.geometry.path import Path
from sizewright.geometry.types import Floats
from sizewright.model import (
    NOTCH_KINDS,
    Adjust,
    Axis,
    ChainPart,
    Cutout,
    Dart,
    Drill,
    Ease,
    Edge,
    Fold,
    Grain,
    Hold,
    Label,
    Mark,
    Notch,
    Outline,
    PairedNotch,
    Pattern,
    Piece,
    Pleat,
    Point,
    Quantity,
    Run,
    Seam,
    Vec,
    run_round,
)

#: Radius of a piece in mm: a pocket flap, a bodice, a coat, a sail ten metres across.
SIZES = (30.0, 220.0, 700.0, 5000.0)
EDGES = ("line", "curve", "line", "smooth", "split", "dart")

_LETTERS = string.ascii_letters + string.digits + "-_. äéßØ京&<>'()/#@%!*"
sides = st.sampled_from(("both", "left", "right"))


@cache
def names(forbidden: str = "") -> st.SearchStrategy[str]:
    """Names as people give them: letters of any script, signs, blanks inside."""
    letters = [c for c in _LETTERS if c not in forbidden]
    return (
        st.text(st.sampled_from(letters), min_size=1, max_size=12)
        .map(lambda text: " ".join(text.split()))
        .filter(bool)
    )


@lru_cache(maxsize=64)
def optional(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Nothing, or something of `strategy`."""
    return st.none() | strategy


@st.composite
def generators(draw: st.DrawFn) -> np.random.Generator:
    """A generator of random numbers that a failure names by its seed."""
    return np.random.default_rng(draw(st.integers(0, 2**32 - 1)))


@st.composite
def closed_paths(
    draw: st.DrawFn,
    *,
    radius: st.SearchStrategy[float] | None = None,
    edges: tuple[str, ...] = EDGES,
) -> tuple[Path, list[tuple[int, int, int]], Vec]:
    """A simple counter-clockwise loop, the (a, tip, b) vertices of its darts, its centre.

    Corners stand round a centre; `edges` are straight, curved, curved with a smooth vertex
    inside, straight with a vertex inside, or straight with a dart cut out.
    """
    rng = draw(generators())
    n = draw(st.integers(3, 8))
    size = draw(st.sampled_from(SIZES) if radius is None else radius)
    kinds = [draw(st.sampled_from(edges)) for _ in range(n)]
    angles = (np.arange(n) + rng.uniform(-0.25, 0.25, n) + rng.uniform()) * 2 * np.pi / n
    reach = size * rng.uniform(0.65, 1.0, n)
    centre = size * rng.uniform(1.2, 1.6, 2)
    corners = centre + reach[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    segments: list[Floats] = []
    darts = []
    for i, kind in enumerate(kinds):
        a, b = corners[i], corners[(i + 1) % n]
        if kind == "dart":
            darts.append((len(segments) + 1, len(segments) + 2, len(segments) + 3))
        segments += _edge(rng, kind, a, b, centre)
    path = Path.of(segments, closed=True)
    assume(path.area > 0 and is_simple(path))
    start = draw(st.integers(0, len(path) - 1))
    m = len(path)
    darts = [((a - start) % m, (t - start) % m, (b - start) % m) for a, t, b in darts]
    return path.rolled(start), darts, (float(centre[0]), float(centre[1]))


def _edge(
    rng: np.random.Generator, kind: str, a: Floats, b: Floats, centre: Floats
) -> list[Floats]:
    """Segments of 2 or 4 points from corner `a` to corner `b`."""
    step = b - a
    across = np.array([-step[1], step[0]])
    if kind in ("curve", "smooth"):
        h = rng.uniform(-0.15, 0.15, 2)
        f = rng.uniform(0.2, 0.45, 2)
        cubic = np.array([a, a + f[0] * step + h[0] * across, b - f[1] * step + h[1] * across, b])
        if kind == "curve":
            return [cubic]
        first, second = bezier.split(cubic, float(rng.uniform(0.3, 0.7)))
        # Handles of other lengths along the one tangent: smooth, no more one cubic.
        first[2] = first[3] + (first[2] - first[3]) * rng.uniform(0.6, 1.2)
        second[1] = second[0] + (second[1] - second[0]) * rng.uniform(0.6, 1.2)
        return [first, second]
    if kind == "split":
        middle = a + rng.uniform(0.3, 0.7) * step
        return [np.array([a, middle]), np.array([middle, b])]
    if kind == "dart":
        middle = a + rng.uniform(0.4, 0.6) * step
        mouth = rng.uniform(0.04, 0.1) * step
        tip = middle + rng.uniform(0.15, 0.4) * (centre - middle)
        places = [a, middle - mouth, tip, middle + mouth, b]
        return [np.array(pair) for pair in pairwise(places)]
    return [np.array([a, b])]


@st.composite
def outlines(draw: st.DrawFn, **options: Any) -> Outline:
    """An outline with some named corners, smooth points, edges and runs."""
    path, _, _ = draw(closed_paths(**options))
    return draw(named(path))


@st.composite
def named(draw: st.DrawFn, path: Path) -> Outline:
    """An outline on `path`, with names and rules here and there."""
    plain = Outline.of(path)
    n = len(path)
    some = draw(st.lists(st.integers(0, n - 1), unique=True, max_size=n))
    given = draw(st.lists(names(), min_size=len(some), max_size=len(some), unique=True))
    points = []
    for vertex, name in zip(sorted(some), given, strict=True):
        rule = draw(optional(names()))
        points.append(Point(vertex, name if rule is None or draw(st.booleans()) else None, rule))
    ends = [(e.start, e.end) for e in plain.edges if draw(st.booleans())]
    pairs = st.tuples(st.integers(0, n - 1), st.integers(0, n - 1))
    ends += [p for p in draw(st.lists(pairs, max_size=2)) if p not in ends]
    ends = list(dict.fromkeys(ends))
    called = draw(st.lists(names(), min_size=len(ends), max_size=len(ends), unique=True))
    runs = [Run(a, b, name) for (a, b), name in zip(ends, called, strict=True)]
    return Outline.of(path, points=points, runs=runs)


def _inside(rng: np.random.Generator, centre: Vec, size: float) -> Vec:
    x, y = np.array(centre) + rng.uniform(-0.2, 0.2, 2) * size
    return float(x), float(y)


@st.composite
def inner_lines(draw: st.DrawFn, centre: Vec, size: float, closed: bool | None = None) -> Path:
    """An open or closed line of a few segments near the centre of a piece."""
    rng = draw(generators())
    shut = draw(st.booleans()) if closed is None else closed
    n = draw(st.integers(3 if shut else 1, 5))
    angles = (np.arange(n + 1) + rng.uniform(0.0, 0.3, n + 1)) * 2 * np.pi / n
    ring = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    places = np.array(_inside(rng, centre, size)) + 0.1 * size * ring
    if shut:
        places[-1] = places[0]
    segments = []
    for a, b in pairwise(places):
        handles = [a + (b - a) * rng.uniform(0.2, 0.4), b - (b - a) * rng.uniform(0.2, 0.4)]
        bent = draw(st.booleans())
        segments.append(np.array([a, *(h + 0.02 * size for h in handles), b] if bent else [a, b]))
    return Path.of(segments, closed=shut)


@st.composite
def notches(draw: st.DrawFn, outline: Outline) -> Notch:
    """A notch somewhere on the outline, now and then near a corner or on it."""
    edge = draw(st.sampled_from(outline.edges))
    share = draw(st.sampled_from((0.0, 1e-6, 0.5)) | st.floats(0.02, 0.98))
    return Notch(
        outline.spot(edge.offset + edge.length * share),
        draw(st.sampled_from(NOTCH_KINDS)),
        draw(st.sampled_from((0.0, 3.0, 5.0, 6.35, 12.3456789))),
        draw(st.integers(1, 3)),
        draw(optional(names())),
        draw(sides),
        draw(st.sampled_from(("nearer", "start", "end"))),
        draw(optional(names())),
        draw(optional(names())),
    )


@st.composite
def pieces(
    draw: st.DrawFn,
    *,
    name: str | None = None,
    size: str | None = None,
    radius: st.SearchStrategy[float] | None = None,
) -> Piece:
    """A piece that bears a random choice of everything that a piece can bear."""
    path, dart_vertices, centre = draw(closed_paths(radius=radius))
    outline = draw(named(path))
    rng = draw(generators())
    width = outline.path.bounds[2] - outline.path.bounds[0]
    kind = draw(st.sampled_from(("sew", "cut", "unknown")))
    given = draw(st.lists(names(), min_size=12, max_size=12, unique=True))
    text = optional(names())

    def place() -> Vec:
        return _inside(rng, centre, width)

    cut_line = None
    if kind == "sew" and draw(st.booleans()):
        # A larger copy about the centre: it lies outside, vertex by vertex.
        grow = affine.compose(
            affine.translation(*centre),
            affine.scaling(1.08),
            affine.translation(*map(float.__neg__, centre)),
        )
        cut_line = draw(named(path.transformed(grow).rolled(1)))
    straight = [e for e in outline.edges if _is_straight(outline, e.start, e.end)]
    count = len(outline.path)
    hold = st.lists(st.integers(0, count - 1), min_size=1, max_size=4, unique=True)
    return Piece(
        name=name or draw(names(':;=+,"\n')),
        outline=outline,
        kind=kind,
        allowance=draw(optional(st.sampled_from((10.0, 15.0, 9.525)))) if kind == "cut" else None,
        cut_line=cut_line,
        size=size,
        quantity=tuple(
            Quantity(material, draw(st.integers(1, 20)))
            for material in draw(st.lists(names(","), max_size=2, unique=True))
        ),
        pair=draw(st.booleans()),
        side=draw(sides),
        axis=draw(optional(st.builds(Axis, st.just(place()), st.just(place()), st.booleans()))),
        grain=draw(
            optional(st.builds(Grain, st.just(place()), st.just(place()), st.sampled_from((1, 2))))
        ),
        fold=draw(optional(st.sampled_from(straight).map(lambda e: Fold(e.start, e.end))))
        if straight
        else None,
        notches=tuple(draw(st.lists(notches(outline), max_size=3))),
        drills=tuple(
            Drill(place(), draw(text), draw(sides)) for _ in range(draw(st.integers(0, 2)))
        ),
        marks=tuple(
            Mark(draw(inner_lines(centre, width)), draw(text) or "", draw(text), draw(sides))
            for _ in range(draw(st.integers(0, 2)))
        ),
        cutouts=tuple(
            Cutout(draw(inner_lines(centre, width, closed=True)), draw(text), draw(sides))
            for _ in range(draw(st.integers(0, 1)))
        ),
        labels=tuple(
            Label(
                draw(st.lists(names(), min_size=1, max_size=2).map("\n".join)),
                place(),
                draw(st.sampled_from((3.0, 5.0, 7.1234))),
                draw(st.sampled_from((0.0, 90.0, 180.0, 270.0)) | st.floats(0.0, 359.0)),
            )
            for _ in range(draw(st.integers(0, 2)))
        ),
        adjusts=tuple(
            Adjust(draw(inner_lines(centre, width, closed=False)), draw(text))
            for _ in range(draw(st.integers(0, 1)))
        ),
        darts=tuple(
            _dart(outline, given[k], vertices, draw(st.booleans()), place())
            for k, vertices in enumerate(dart_vertices[:3])
        ),
        pleats=tuple(
            Pleat(given[4 + k], e.start, e.end)
            for k, e in enumerate(outline.edges[:2])
            if draw(st.booleans()) and e.start != e.end and _narrow(outline, e)
        ),
        holds=tuple(
            Hold(tuple(vertices), draw(text)) for vertices in draw(st.lists(hold, max_size=2))
        ),
        story=tuple(draw(st.lists(names(), max_size=3))),
    )


def _is_straight(outline: Outline, start: int, end: int) -> bool:
    path = outline.path.segments(start, end)
    return bool(path.lines.all()) and start != end


def _narrow(outline: Outline, edge: Edge) -> bool:
    """Whether an edge can be the mouth of a pleat: no more than half of its run."""
    mouth, run = run_round(outline, edge.start, edge.end)
    long_way = 2 * edge.length > outline.path.length
    return 2 * mouth <= run and not long_way


def _dart(
    outline: Outline, name: str, vertices: tuple[int, int, int], at_tip: bool, place: Vec
) -> Dart:
    a, tip, b = vertices
    x, y = outline.vertex_at(tip)
    return Dart(name, a, b, (float(x), float(y)) if at_tip else place, tip)


#: A word that a seam's phrase can hold, its ease, and a notch on both its sides.
_WORD = st.text(st.sampled_from("abcdefgh-"), min_size=1, max_size=8).map(lambda text: f"s{text}")
_EASE = st.builds(
    Ease,
    st.floats(0.5, 400.0).map(lambda x: round(x, 3)),
    st.booleans(),
    st.sampled_from(("ease", "gather")),
    optional(st.tuples(_WORD, _WORD)),
)
_PAIRED = st.builds(
    PairedNotch,
    st.floats(0.01, 0.9).map(lambda x: round(x, 4)),
    st.just(True),
    st.integers(1, 3),
    optional(_WORD),
)


@st.composite
def seams(draw: st.DrawFn, pieces: list[Piece]) -> Seam:
    """A seam between runs of `pieces`, in words that a phrase can hold."""
    # A seam's phrase takes a leading hyphen for "walked backwards", a number for a count.
    known = [p.name for p in pieces if p.name[0].isalpha()] or ["another"]

    def chain() -> tuple[ChainPart, ...]:
        return tuple(
            ChainPart(
                draw(st.sampled_from(known)),
                draw(_WORD),
                draw(st.booleans()),
                draw(st.integers(1, 2)),
            )
            for _ in range(draw(st.integers(1, 2)))
        )

    return Seam(
        draw(_WORD),
        chain(),
        chain(),
        draw(optional(_EASE)),
        tuple(draw(st.lists(_PAIRED, max_size=2))),
    )


@st.composite
def patterns(draw: st.DrawFn) -> Pattern:
    """One to three pieces in one or two sizes, with seams, page and title."""
    count = draw(st.integers(1, 2))
    called = draw(st.lists(names(':;=+,"\n'), min_size=count, max_size=count, unique=True))
    sizes: list[str | None] = draw(
        st.sampled_from(([None], ["12"], ["12", "14"], ["S", "10-12", "EU 38"]))
    )
    found = [draw(pieces(name=name, size=size)) for size in sizes[:2] for name in called]
    return Pattern(
        tuple(found),
        draw(st.sampled_from(sizes)),
        tuple(draw(st.lists(seams(found), max_size=2))),
        draw(st.sampled_from((None, (420.0, 297.0), (20_000.0, 20_000.5)))),
        draw(st.just("") | names()),
    )
