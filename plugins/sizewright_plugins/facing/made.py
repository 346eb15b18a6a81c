"""The facings of a set of edges, in every size."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from sizewright.drafting import (
    Line,
    LineAsked,
    Ring,
    Settled,
    Span,
    Zone,
    base_first,
    divide,
    inner_parallel,
    lower_left,
    placed_beside,
    redraft,
    with_vertices,
)
from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding
from sizewright.geometry import Path, affine, crossings, nearest_point
from sizewright.model import (
    FACING_STEP,
    Amount,
    ChainPart,
    Ease,
    Pattern,
    Piece,
    Quantity,
    Run,
    RunReference,
    Seam,
    walk,
)
from sizewright.plugin import Outcome, Values
from sizewright.units import both

from .laid import (
    Edge,
    EdgeSeam,
    Stretch,
    cut_ends,
    edge_seams,
    inner_line,
    joined_all,
    laid_edge,
    shared_seam,
    shorter_than,
    with_ends,
)
from .rolled import roll_gives, rolled

#: Widths along a seam between facings are brought together to this, mm.
_ALIKE = 1e-7
_ROUNDS = 12
#: Seams turn in by so much at most, mm: common practice, no source.
_ROLL = 5.0
#: Names of the inner edge of a facing, and of the ends where it falls short.
_INNER, _END = "inner", "end"
#: What the name of a stretch that a shorter facing finishes ends in.
_FACED = "-faced"


#: An edge as it lies, the inner line of its facing, and where that ends on the edges beside it.
_Laid = tuple[Edge, Path, tuple[float, float]]


@dataclass
class _Facing:
    """One facing: its name, and the edges that it finishes, by piece."""

    name: str
    edges: dict[str, list[RunReference]] = field(default_factory=dict)

    @property
    def references(self) -> list[RunReference]:
        return [one for edges in self.edges.values() for one in edges]

    @property
    def inner(self) -> str:
        """What its inner edge is called: it may finish the inner edge of another facing."""
        taken = any(r.run == _INNER for r in self.references)
        return f"{_INNER}-edge" if taken else _INNER

    def runs(self, piece: Piece) -> list[str]:
        """What the edges are called on the facing: those of a second piece where names clash
        after their piece too."""
        names = {run.name for run in piece.outline.runs}
        clear = [f"{r.piece}-{r.run}" for r in self.references]
        return [
            own if own in names else r.run for own, r in zip(clear, self.references, strict=True)
        ]


def drafted(pattern: Pattern, values: Values) -> Outcome:
    facings = _facings(pattern, values)
    names = [one.name for one in facings]
    old = values["replaces"]
    for name in old:
        pattern.piece(name)
    bare = pattern.without(old)
    for name in names:
        if name in bare.names:
            raise InputError(
                f'there is a piece "{name}" already',
                cure="Give the facings another name, or say what they replace.",
            )
    findings: list[Finding] = []
    after = bare
    flat: dict[str, Piece] = {}
    work = _Work(bare, facings, edge_seams(bare), values)
    for one in facings:
        drawn = work.drawn(one)
        findings += work.two_folds(one)
        findings += _wide(bare, one, values["width"])
        findings += _roll(bare, one, values)
        if values["shorter"]:
            for end in work.free_ends(one):
                drawn = _shortened(drawn, one, end, values["shorter"])
            after = work.with_faced(after, drawn, one)
        flat[one.name] = drawn.piece(one.name)
        if values["roll"]:
            drawn = rolled(drawn, one.name, one.runs(flat[one.name]), values["roll"])
        after = after.with_pieces((*after.pieces, *drawn.pieces))
    there = {name: lower_left(pattern.sizes_of(name)) for name in old}
    after = placed_beside(after, names, there)
    after = replace(after, seams=(*bare.seams, *work.sewn(after, flat)))
    along = tuple(r for one in facings for r in one.references)
    return Outcome(after, tuple(findings), tuple(names), along)


def _facings(pattern: Pattern, values: Values) -> list[_Facing]:
    """One for each piece that has an edge, or one for all."""
    named = values["name"]
    if not named:
        raise InputError("facings need a name", cure='Say name = "facing", or leave it out.')
    found: dict[str, _Facing] = {}
    for reference in values["along"]:
        piece = reference.whose(pattern, "front:neck").name
        key = "" if values["one-piece"] else piece
        name = named if values["one-piece"] else f"{piece}-{named}"
        one = found.setdefault(key, _Facing(name))
        one.edges.setdefault(piece, []).append(reference)
    facings = list(found.values())
    for k, name in enumerate(values["replaces"]):
        if k >= len(facings):
            raise InputError(
                f"{len(values['replaces'])} pieces cannot be replaced by {len(facings)} facings",
                cure="Name one for each facing at most.",
            )
        facings[k].name = name
    return facings


# --- one facing -----------------------------------------------------------------------------


@dataclass
class _Work:
    """The facings to draft, the seams of their edges, and the settings.

    `known`: each as wide at both ends as it is asked for, worked out once in each size: it is
    asked for again by those that are sewn to it.
    """

    pattern: Pattern
    facings: Sequence[_Facing]
    seams: Sequence[EdgeSeam]
    values: Values
    known: dict[tuple[int, ...], _Laid] = field(default_factory=dict)

    def edge(self, pieces: Mapping[str, Piece], facing: _Facing) -> Edge:
        """All the edges of a facing as they lie together."""
        edges = []
        for name, references in facing.edges.items():
            piece = pieces[name]
            edges.append(laid_edge(piece, [r.on(piece) for r in references]))
        return joined_all(edges, self.seams)

    def width(self, edge: Edge) -> float:
        """How wide a facing is asked for, mm."""
        return float(self.values["width"].of(self.pattern, edge.stretches[0].piece))

    def plain(self, pieces: Mapping[str, Piece], facing: _Facing) -> _Laid:
        """The edge of a facing, its inner line from edge to edge, and where that ends on them."""
        # What is known holds the pieces, whose ids stay theirs by that.
        key = (id(facing), *(id(pieces[name]) for name in facing.edges))
        if key not in self.known:
            edge = self.edge(pieces, facing)
            by = self.width(edge)
            inner, *ends = cut_ends(edge, inner_line(edge, (by, by)))
            self.known[key] = edge, inner, (ends[0], ends[1])
        return self.known[key]

    def matched(self, pieces: Mapping[str, Piece], facing: _Facing) -> _Laid:
        """`plain`, but along a seam with another facing both are as wide as the mean of both."""
        edge = self.edge(pieces, facing)
        by = self.width(edge)
        _check_darts(edge, by)
        edge, inner, plain = self.plain(pieces, facing)
        ends = list(plain)
        goals = [self._goal(edge, end, ends[end], facing) for end in (0, 1)]
        widths = [by, by]
        for _ in range(_ROUNDS):
            if all(abs(a - g) < _ALIKE for a, g in zip(ends, goals, strict=True)):
                break
            widths = [w * g / a for w, a, g in zip(widths, ends, goals, strict=True)]
            inner, *ends = cut_ends(edge, inner_line(edge, (widths[0], widths[1])))
        return edge, inner, (ends[0], ends[1])

    def _goal(self, edge: Edge, end: int, own: float, facing: _Facing) -> float:
        """How wide a facing is to be along the seam at one end, mm: as drawn where it is free."""
        here = edge.end_segment(end=bool(end))
        for other in self.facings:
            if other is facing:
                continue
            pieces = _beside(self.pattern, other, here[0])
            there = self.edge(pieces, other)
            for k in (0, 1):
                if shared_seam(self.seams, here, there.end_segment(end=bool(k))) is not None:
                    return (own + self.plain(pieces, other)[2][k]) / 2
        return own

    def drawn(self, facing: _Facing) -> Pattern:
        """A pattern of the facing alone, in every size."""
        names = list(facing.edges)

        def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
            edge, inner, ends = self.matched(pieces, facing)
            edge, first, last = with_ends(edge, ends)
            line = Line(inner.reversed(), facing.inner)
            step = f"{FACING_STEP} {' and '.join(map(str, facing.references))}"
            return {facing.name: Ring([*_spans(edge, first, last), line], step)}

        alone = Pattern(
            tuple(p for p in self.pattern.pieces if p.name in names),
            base_size=self.pattern.base_size,
        )

        def finished(piece: Piece) -> Piece:
            count = sum(q.count for q in piece.quantity if q.material == "main") or 1
            return replace(
                piece, quantity=(Quantity("main", count), Quantity("interfacing", count))
            )

        return redraft(alone, names, edit).pattern.changing([facing.name], finished)

    def free_ends(self, facing: _Facing) -> list[str]:
        """The ends of a facing, `start` and `end`, that no other is sewn to, and no fold."""
        size = base_first(self.pattern)[0]

        def lying(one: _Facing) -> Edge:
            return self.edge({name: self.pattern.piece(name, size) for name in one.edges}, one)

        edge, found = lying(facing), []
        others = [lying(other) for other in self.facings if other is not facing]
        for word, end in (("start", False), ("end", True)):
            here = edge.end_segment(end=end)
            shared = any(
                shared_seam(self.seams, here, other.end_segment(end=k)) is not None
                for other in others
                for k in (False, True)
            )
            if not shared and not _on_fold(here):
                found.append(word)
        return found

    def two_folds(self, facing: _Facing) -> list[Finding]:
        """A finding where both ends of a facing would be laid on a fold."""
        edge = self.edge({name: self.pattern.piece(name) for name in facing.edges}, facing)
        folded = all(_on_fold(edge.end_segment(end=k)) for k in (False, True))
        if len(facing.edges) < 2 or not folded:
            return []
        return [
            Finding(
                "two-folds",
                "warn",
                "both its ends lie on a fold, and only one of them can be cut so",
                facing.name,
                cure="Give the other end a seam and its allowance, or draft a facing for each "
                "piece.",
            )
        ]

    def with_faced(self, pattern: Pattern, drawn: Pattern, facing: _Facing) -> Pattern:
        """The pattern with a named run where a facing finishes only part of an edge, on its
        pieces."""

        def marked(piece: Piece, done: Piece) -> Piece:
            pieces = _beside(pattern, facing, piece)
            for reference, own in zip(facing.references, facing.runs(done), strict=True):
                if reference.piece == piece.name:
                    over = _turned_over(self.edge(pieces, facing), piece)
                    piece = _with_part(piece, reference, done, done.run(own), over)
            return piece

        def each(piece: Piece) -> Piece:
            if piece.name not in facing.edges:
                return piece
            done, base = drawn.piece(facing.name, piece.size), piece.base
            if base is not None and done.base is not None:
                base = marked(base, done.base)
            return replace(marked(piece, done), base=base)

        return pattern.replacing(each)

    def sewn(self, pattern: Pattern, flat: Mapping[str, Piece]) -> list[Seam]:
        """The seams of the facings with their edges, and with each other.

        `flat`: the facings by name before their sewn edges were laid further in.
        """
        found, roll = list[Seam](), self.values["roll"]
        for one in self.facings:
            own_runs = one.runs(flat[one.name])
            for reference, own in zip(one.references, own_runs, strict=True):
                whose = pattern.piece(str(reference.piece))
                edge = reference.run + _FACED
                edge = edge if any(r.name == edge for r in whose.outline.runs) else reference.run
                words = own if len(one.edges) == 1 else f"{reference.piece}-{reference.run}"
                sides = (ChainPart(one.name, own),), (ChainPart(str(reference.piece), edge),)
                more = roll_gives(flat[one.name], own, own_runs, roll)
                longer, shorter = sides if more > 0 else sides[::-1]
                ease = Ease(abs(more)) if roll else None
                found.append(Seam(f"{one.name}-{words}", longer, shorter, ease))
        for one, other in combinations(self.facings, 2):
            for held in self.seams:
                (p, first), (q, second) = held.first, held.second
                a, b = (one, other) if p in one.edges else (other, one)
                if p not in a.edges or q not in b.edges:
                    continue
                runs = [{r.name for r in pattern.piece(f.name).outline.runs} for f in (a, b)]
                if first in runs[0] and second in runs[1]:
                    chains = (ChainPart(a.name, first),), (ChainPart(b.name, second),)
                    found.append(Seam(f"{self.values['name']}-{held.name}", *chains))
        return found


def _beside(pattern: Pattern, facing: _Facing, piece: Piece) -> dict[str, Piece]:
    """The pieces of another facing in the size of `piece`, bases beside a base."""
    based = any(p.base is piece for p in pattern.pieces)
    found = {}
    for name in facing.edges:
        one = pattern.piece(name, None if based else piece.size)
        found[name] = one.base if based and one.base is not None else one
    return found


def _check_darts(edge: Edge, width: float) -> None:
    for piece in {id(s.piece): s.piece for s in edge.stretches}.values():
        mine = [s for s in edge.stretches if s.piece is piece]
        for dart in piece.darts:
            n = len(piece.outline.path)
            if any(s.end % n == dart.a % n for s in mine) and shorter_than(dart, piece, width):
                raise GeometryError(
                    f"the dart {dart.name} ends within a facing {both(width)} wide",
                    where=piece.title,
                    cure="Take a smaller width, or let the dart reach beyond it.",
                )


def _spans(edge: Edge, first: int, last: int) -> list[Span]:
    """The stretches as spans, the first and last of them on to the ends of the facing."""
    spans = []
    count = len(edge.stretches)
    for k, one in enumerate(edge.stretches):
        start, end = one.start, one.end
        mirrored = bool(np.linalg.det(one.move[:, :2]) < 0)
        if k == 0:
            start, end = (start, first) if mirrored else (first, end)
        if k == count - 1:
            start, end = (last, end) if mirrored else (start, last)
        region = None if count == 1 else _under(one)
        spans.append(Span(Zone(one.piece, one.move, region), start, end))
    if count == 1:
        (only,) = spans
        zone = only.zone
        whole = Path.ringed([zone.piece.outline.path.segments(only.start, only.end)])
        return [Span(replace(zone, region=whole), only.start, only.end)]
    return spans


def _under(one: Stretch) -> Path | None:
    """What lies along a stretch on its piece, for the marks that go with it."""
    path = one.drawn
    try:
        line = inner_parallel(path, 10.0)
    except GeometryError:
        return None
    return Path.ringed([path, line.reversed()])


# --- free ends and roll ---------------------------------------------------------------------


def _shortened(made: Pattern, facing: _Facing, end: str, by: float) -> Pattern:
    """The facing without what lies within `by` of one of its ends."""
    name = facing.name

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
        piece = pieces[name]
        asked = LineAsked.inside(piece, *_beside_inner(piece, end, facing.inner), by)
        try:
            line = asked.path(made, piece, settled)
        except GeometryError as error:
            raise GeometryError(
                f"{both(by)} shorter at an end leaves nothing of it",
                where=piece.title,
                cure="Take less; 1 to 2 cm are usual.",
            ) from error
        # The inner edge is always on the part that stays.
        inner = piece.run(facing.inner)
        keep = piece.outline.path.cumulative[inner.start] + piece.outline.run_length(inner) / 2
        marked, _point = piece.with_vertex(
            float(keep) % piece.outline.path.length, name="keep-here"
        )
        return divide(
            marked, line, {name: "keep-here"}, seam=_END, step=f"{both(by)} shorter at an end"
        )

    cut = redraft(made, [name], edit).pattern

    def clean(piece: Piece) -> Piece:
        kept = tuple(p for p in piece.outline.points if p.name != "keep-here")
        return replace(piece, outline=replace(piece.outline, points=kept))

    return cut.changing([name], clean)


def _beside_inner(piece: Piece, end: str, name: str) -> tuple[int, int]:
    """The edge beside the inner one: after it counter-clockwise at the start of the facing."""
    inner, outline = piece.run(name), piece.outline
    if end == "start":
        return inner.end, outline.corner_beside(inner.end, after=True)
    return outline.corner_beside(inner.start, after=False), inner.start


def _wide(pattern: Pattern, facing: _Facing, width: Amount) -> Iterator[Finding]:
    """Findings where a facing takes more than half of what its piece has inside an edge."""
    for reference in facing.references:
        for piece in pattern.sizes_of(str(reference.piece)):
            path, way = piece.outline.path, walk(piece, reference.on(piece))
            s = way.arc_length(way.length / 2)
            tangent = path.tangents(s)
            inward = np.array([-tangent[1], tangent[0]])
            x0, y0, x1, y1 = path.bounds
            reach = float(np.hypot(x1 - x0, y1 - y0))
            line = Path.polyline([path.at(s) + inward * 0.1, path.at(s) + inward * reach])
            found = [(c.s0, int(path.locate(c.s1)[0])) for c in crossings(line, path)]
            found = [(far, k) for far, k in found if not _on_leg(piece, k)]
            if not found:
                continue
            far, segment = min(found)
            # Past a fold the cloth goes on.
            folded = piece.on_fold(segment)
            room = (far + 0.1) * (2 if folded else 1)
            by = width.of(pattern, piece)
            if by > room / 2:
                yield piece.finding(
                    "facing-wide",
                    "warn",
                    f"a facing {both(by)} wide takes more than half of the {both(room)} inside "
                    f"{reference.run}",
                    str(reference.run),
                    "Take a smaller width, or line the piece.",
                )


def _roll(pattern: Pattern, facing: _Facing, values: Values) -> Iterator[Finding]:
    """A finding where a roll is more than cloth turns; raises InputError where it is all of it."""
    roll = values["roll"]
    width = min(values["width"].of(pattern, p) for p in pattern.pieces if p.name in facing.edges)
    if roll >= width:
        raise InputError(
            f"a roll of {both(roll)} leaves nothing of a facing {both(width)} wide",
            where=facing.name,
            cure="Take a smaller roll; 1 to 3 mm are usual.",
        )
    if roll > _ROLL:
        yield Finding(
            "roll-wide",
            "warn",
            f"a roll of {both(roll)} is more than a seam turns in",
            facing.name,
            cure="1 to 3 mm are usual, by the thickness of the cloth.",
        )


def _on_leg(piece: Piece, segment: int) -> bool:
    n = len(piece.outline.path)
    return any((segment - d.a) % n < (d.b - d.a) % n for d in piece.darts)


def _on_fold(end: tuple[Piece, int, int]) -> bool:
    piece, _, segment = end
    return piece.on_fold(segment)


def _turned_over(edge: Edge, piece: Piece) -> bool:
    return any(
        s.piece.name == piece.name and affine.determinant(s.move) < 0 for s in edge.stretches
    )


def _with_part(piece: Piece, reference: RunReference, done: Piece, own: Run, over: bool) -> Piece:
    """The piece with a run for what of its edge the run `own` of a facing finishes, if not all."""
    run = reference.on(piece)
    way = walk(piece, run)
    whole, part = piece.sewn_length(run), done.sewn_length(own)
    short = {v for r in done.outline.runs if _is_end(r) for v in (r.start, r.end)}
    ends = [own.start in short, own.end in short]
    if not any(ends):
        return piece
    first = own.end if way.backward else own.start
    if all(ends):
        # Then it is not sewn to another, and lies on its piece where that begins.
        found = nearest_point(piece.outline.path, done.outline.vertex_at(first))
        begin = way.distance(found.s) or 0.0
    else:
        begin = whole - part if ends[way.backward != over] else 0.0
    places = [way.arc_length(max(begin, 0.0)), way.arc_length(min(begin + part, whole))]
    piece, (a, b), _ = with_vertices(piece, places)
    named = Run(*((b, a) if way.backward else (a, b)), reference.run + _FACED)
    return replace(piece, outline=piece.outline.with_run(named))


def _is_end(run: Run) -> bool:
    """Whether a run of a facing is an end where it falls short of the edge."""
    return str(run.name).removesuffix("-2") == _END
