"""Places buttons with buttonholes or loops, and zips, on the edges that they close."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding
from sizewright.geometry import Floats, Path, crossings
from sizewright.model import (
    CENTRES,
    MIRRORED,
    Allowances,
    ChainPart,
    Drill,
    Mark,
    Notch,
    Pattern,
    Piece,
    Run,
    RunReference,
    Side,
    Walk,
    WidthStretch,
    axis_frame,
    parse_place,
    walk,
)
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, working_on
from sizewright.units import Unit, both, parse_length

from .openings import (
    OVER,
    SIDE,
    ZIP,
    ZIP_STOP,
    by_size,
    clashes,
    edge_side,
    on_side,
    seams_of_two,
    stretch,
)

if TYPE_CHECKING:
    from sizewright.drafting import Settled

api = 1

#: A stand is half a button and so much at least, and a buttonhole begins so far past the centre
#: line, for the shank: common practice, no source; mm.
_STAND, _SHANK = Unit.IN.to_mm(1 / 4), Unit.IN.to_mm(1 / 8)
_DEPTH, _STOP = 5.0, 10.0
#: A zip over a whole edge is drawn so far inside it, by a point every so many mm.
_BESIDE, _STEP = 5.0, 5.0
#: Edges that close on each other and differ by more are told, mm.
_ALIKE = 0.5
#: Buttons come out as far apart as asked, within this share of it; else it is told.
_FEWEST = 0.6
#: A zip that ends so near the end of its edge goes on past it, mm.
_ENDS = 0.01


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `closure`."""
    return [
        Operation(
            "closure",
            "place buttons with buttonholes or loops, or a zip, on edges",
            close,
            (
                Setting(
                    "along",
                    "run",
                    "the edge that closes, as back:centre-back; or the two, of which the first "
                    "laps over the second",
                    required=True,
                    shape="list",
                ),
                Setting(
                    "kind",
                    "choice",
                    "buttons with buttonholes, buttons with loops, or a zip",
                    "buttons",
                    choices=("buttons", "loops", "zip"),
                ),
                Setting("count", "count", "how many buttons", low=1, high=200),
                Setting("spacing", "length", "how far apart, about; else count", low=1),
                Setting(
                    "first",
                    "text",
                    'where the first lies: "2 cm" from the upper end, or a place; a zip begins '
                    "there (else a button's size from the end, a zip at the end)",
                ),
                Setting(
                    "last", "text", 'where the last lies: "2 cm" from the lower end, or a place'
                ),
                Setting("size", "length", "the diameter of the buttons", low=2),
                Setting("thickness", "length", "how thick they are", "3 mm", low=0),
                Setting(
                    "stand",
                    "length",
                    "how far the centre line lies inside the edge; else a centre line that is "
                    "drawn tells, else half a button and 1/4 in (loops: 0)",
                    low=0,
                ),
                Setting("length", "length", "how long the zip is", low=10, by_size=True),
                SIDE,
                OVER,
                Setting("allowance", "length", "seam allowance beside a zip", "3/4 in", low=0),
                Setting("beyond", "length", "and past its end", "1/2 in", low=0),
                Setting("name", "text", "what its marks are called; else by their kind"),
            ),
            before_grading=True,
        )
    ]


def close(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its closure; findings tell what can hardly be sewn."""
    from sizewright.drafting import Settled, drawn_sizes, with_remade

    references: tuple[RunReference, ...] = tuple(values["along"])
    for one in references:
        one.on(one.whose(pattern, "back:centre-back"))
    if len(references) > 2 or len({one.piece for one in references}) < len(references):
        raise InputError(
            "a closure has one edge, or two of two pieces that close on each other",
            where=", ".join(map(str, references)),
        )
    _check(values)
    references, side = _with_mate(pattern, references, values)
    values = {**values, "side": side}
    settled = Settled()
    made: dict[int, Piece] = {}
    asked = []
    for part, size in drawn_sizes(pattern, [str(one.piece) for one in references]):
        edges = [_edge(part.piece(str(r.piece), size), r, settled) for r in references]
        with working_on(edges[0].piece):
            asked.append((part, edges, _places(pattern, edges[0], values, settled)))
    # A zip goes on past its edge, or ends on it, in all sizes alike.
    goes_on = all(edges[0].way.length - places[-1] < _ENDS for _, edges, places in asked)
    findings: list[Finding] = []
    for part, edges, places in asked:
        with working_on(edges[0].piece):
            found = [*_unlike(edges), *_close_ones(edges[0].piece, places, values)]
            for k, edge in enumerate(edges):
                if values["kind"] == "zip":
                    done, told = _zipped(edge, places, values, goes_on=goes_on)
                else:
                    done, told = _buttoned(edge, places, values, k, len(edges))
                made[id(edge.piece)] = done
                found += told
        findings += found if part is pattern else []
    return Outcome(with_remade(pattern, made), by_size(pattern, findings), along=references)


#: Settings that only buttons have, and that only zips have.
_OF_BUTTONS, _OF_ZIPS = ("count", "spacing", "last", "size", "stand"), ("length",)


def _check(values: Values) -> None:
    zipped = values["kind"] == "zip"
    for word in _OF_BUTTONS if zipped else _OF_ZIPS:
        if values[word] is not None:
            raise InputError(
                f"{'a zip has' if zipped else 'buttons and loops have'} no {word}",
                cure=f"Leave {word} out"
                + (" (a zip is told by first and length)." if zipped else ', or say kind = "zip".'),
            )
    if zipped:
        if values["length"] is None:
            raise InputError("nothing says how long the zip is", cure='Say length = "20 cm".')
        return
    if values["size"] is None:
        raise InputError("nothing says how large the buttons are", cure='Say size = "12 mm".')
    if (values["count"] is None) == (values["spacing"] is None):
        raise InputError(
            "buttons are so many, or so far apart", cure='Say count = 6, or spacing = "7 cm".'
        )


def _check_side(pattern: Pattern, reference: RunReference, side: Side) -> None:
    """Refuse a side of the wearer on which an edge of an opened piece does not lie."""
    lies = edge_side(pattern, ChainPart(str(reference.piece), reference.run))
    if "both" not in (lies, side) and side != lies:
        piece = pattern.piece(str(reference.piece))
        name = str(reference.run)
        twin = name.removesuffix(MIRRORED) if name.endswith(MIRRORED) else name + MIRRORED
        other = any(run.name == twin for run in piece.outline.runs)
        raise InputError(
            f"{reference} lies on the wearer's {lies}",
            where=piece.title,
            cure=f"Say along = {piece.name}:{twin}." if other else "Name the edge on that side.",
        )


def _with_mate(
    pattern: Pattern, references: tuple[RunReference, ...], values: Values
) -> tuple[tuple[RunReference, ...], Side]:
    """The edges that close, of a zip also the one that a seam joins its edge to; and the wearer's
    side that they are on."""
    side: Side = values["side"]
    for reference in references:
        _check_side(pattern, reference, side)
    one = references[0]
    if values["kind"] == "zip" and len(references) == 1:
        seams = [s for s in seams_of_two(pattern, str(one.piece)) if s.first[0].run == one.run]
        if seams:
            seam, side = on_side(pattern, seams, side)
            (mate,) = seam.second
            references = (one, RunReference(mate.piece, mate.run))
    lie = {edge_side(pattern, ChainPart(str(r.piece), r.run)) for r in references} - {"both"}
    return references, lie.pop() if side == "both" and len(lie) == 1 else side


class _Edge(NamedTuple):
    """An edge that closes, measured in mm as sewn from its upper end."""

    piece: Piece
    run: Run
    way: Walk
    turned: bool

    def s(self, along: float) -> float:
        """Arc length on the outline."""
        long = self.way.length
        along = min(max(along, 0.0), long)
        return self.way.arc_length(long - along if self.turned else along)

    def along(self, s: float) -> float | None:
        """How far from the upper end an arc length of the outline lies."""
        there = self.way.distance(s)
        if there is None:
            return None
        return self.way.length - there if self.turned else there

    def inside(self, along: float, by: float) -> Floats:
        """The point so far inside the edge, square to it."""
        path, s = self.piece.outline.path, self.s(along)
        tangent = self._tangent(along)
        at: Floats = path.at(s) + np.array([-tangent[1], tangent[0]]) * by
        return at

    def _tangent(self, along: float) -> Floats:
        # At an end of the run: of the run, not of the edge beyond it.
        nudged = min(max(along, 1e-3), self.way.length - 1e-3)
        tangent: Floats = self.piece.outline.path.tangents(self.s(nudged))
        return tangent


def _edge(piece: Piece, reference: RunReference, settled: Settled) -> _Edge:
    run = reference.on(piece)
    if piece.on_fold(run.start):
        raise InputError(
            f"{reference} lies on the fold, and nothing opens there",
            where=piece.title,
            cure="Give it a seam or a stand, and no fold, first.",
        )
    way = walk(piece, run)
    path = piece.outline.path
    ends = path.at(np.array([way.arc_length(0.0), way.arc_length(way.length)]))
    rise = float((ends[1] - ends[0]) @ axis_frame(piece)[0].up)
    turned = settled.once(f"{reference} from above", lambda: rise > 0)
    return _Edge(piece, run, way, turned)


def _unlike(edges: Sequence[_Edge]) -> Iterator[Finding]:
    longs = [edge.way.length for edge in edges]
    if max(longs) - min(longs) > _ALIKE:
        yield edges[0].piece.finding(
            "edges-unlike",
            "warn",
            f"the edges that close differ by {both(max(longs) - min(longs))}; all is measured "
            "from their upper ends",
            str(edges[0].run.name),
            "Bring them to one length by true-edge before.",
        )


def _places(pattern: Pattern, edge: _Edge, values: Values, settled: Settled) -> list[float]:
    """How far from the upper end the buttons lie, mm; of a zip its beginning and its end."""
    zipped = values["kind"] == "zip"
    spare = 0.0 if zipped else values["size"]
    first = _said(edge, values["first"], "first", spare, settled)
    if zipped:
        last = first + values["length"].of(pattern, edge.piece)
    else:
        last = edge.way.length - _said(edge, values["last"], "last", spare, settled)
    if not zipped and 0 <= last < first <= edge.way.length:
        raise GeometryError(
            f"the last button would lie {both(first - last)} above the first: "
            f"{edge.run.name or 'the edge'} is {both(edge.way.length)} long",
            where=edge.piece.title,
            cure="Mend first and last"
            + ("." if values["first"] or values["last"] else ", or take smaller buttons."),
        )
    if first < 0 or last > edge.way.length + _ALIKE or first > last:
        raise GeometryError(
            f"from {both(first)} to {both(last)} below its upper end does not lie on "
            f"{edge.run.name or 'the edge'}, which is {both(edge.way.length)} long",
            where=edge.piece.title,
            cure="Take a shorter zip, or another edge." if zipped else "Mend first and last.",
        )
    if zipped:
        return [first, min(last, edge.way.length)]
    count = values["count"]
    if count is None:
        gaps = settled.once("gaps", lambda: max(round((last - first) / values["spacing"]), 1))
        count = gaps + 1
    return [float(d) for d in np.linspace(first, last, count)] if count > 1 else [first]


def _said(edge: _Edge, text: str | None, name: str, default: float, settled: Settled) -> float:
    """A length from the upper end, or from the lower one for the last; or where a place lies."""
    if text is None:
        return default
    try:
        return parse_length(text)
    except InputError as unread:
        if text.strip()[:1].isdigit() and " " not in text.strip():
            raise unread.at(name) from None
    located = settled.place(edge.piece, parse_place(text))
    along = None if located.s is None else edge.along(located.s)
    if along is None:
        raise InputError(
            f'"{text}" does not lie on {edge.run.name or "the edge"}',
            where=f"{edge.piece.title}: {name}",
            cure='Say a length from the end, as "2 cm", or a place on the edge.',
        )
    return edge.way.length - along if name == "last" else along


def _close_ones(piece: Piece, places: Sequence[float], values: Values) -> Iterator[Finding]:
    if values["kind"] == "zip" or len(places) < 2:
        return
    gap, asked = places[1] - places[0], values["spacing"]
    if asked is not None and not _FEWEST < gap / asked < 1 / _FEWEST:
        yield piece.finding(
            "buttons-apart",
            "warn",
            f"buttons asked to be {both(asked)} apart lie {both(gap)} apart, for want of room",
            cure="Say another spacing, or count.",
        )
    if gap < values["size"]:
        yield piece.finding(
            "buttons-close",
            "warn",
            f"buttons of {both(values['size'])} lie {both(gap)} apart, one over the other",
            cure="Take fewer, or smaller ones.",
        )


# --- buttons --------------------------------------------------------------------------------


def _buttoned(
    edge: _Edge, places: Sequence[float], values: Values, k: int, edges: int
) -> tuple[Piece, list[Finding]]:
    """The piece with buttons, with what they go through, or with both."""
    piece = edge.piece
    over: Side = values["over"]
    under: Side = "left" if over == "right" else "right"
    asked: Side = values["side"]
    # One edge of a pair closes on its twin; of two edges the first laps over.
    holes: list[Side] = [over] if edges == 1 and piece.pair else [asked] if k == 0 else []
    buttons: list[Side] = (
        [under] if edges == 1 and piece.pair else [asked] if k == edges - 1 else []
    )
    if edges == 1 and piece.pair and asked != "both":
        holes, buttons = [h for h in holes if h == asked], [b for b in buttons if b == asked]
    kind = "loop" if values["kind"] == "loops" else "buttonhole"
    drill, mark = f"{values['name'] or 'button'}-", f"{values['name']}-" if values["name"] else ""
    if (buttons and any(d.name == f"{drill}1" for d in piece.drills)) or (
        holes and any((m.kind, m.name) == (kind, f"{mark}1") for m in piece.marks)
    ):
        raise InputError(
            f"it has buttons or {kind}s of that name already",
            where=piece.title,
            cure='Where these are others, give them a name, as name = "cuff".',
        )
    stands = [_stand(edge, d, values) for d in places]
    drills, marks = list(piece.drills), list(piece.marks)
    for n, (d, stand) in enumerate(zip(places, stands, strict=True), 1):
        for side in buttons:
            x, y = edge.inside(d, stand)
            drills.append(Drill((float(x), float(y)), f"{drill}{n}", side))
        for side in holes:
            marks.append(Mark(_hole(edge, d, stand, values), kind, f"{mark}{n}", side))
    words = [f"{kind}s"] * bool(holes) + ["buttons"] * bool(buttons)
    done = replace(piece, drills=tuple(drills), marks=tuple(marks)).with_changes(
        f"{len(places)} {' and '.join(words)} placed at {edge.run.name or 'an edge'}"
    )
    return done, list(_narrow(edge, min(stands), values))


def _stand(edge: _Edge, along: float, values: Values) -> float:
    """How far the centre line lies inside the edge there, mm."""
    if values["stand"] is not None:
        return float(values["stand"])
    at = edge.inside(along, 0.0)
    reach = Path.polyline([edge.inside(along, -0.01), edge.inside(along, 100.0)])
    for mark in edge.piece.marks:
        words = {(mark.name or "").lower(), mark.kind.lower()}
        if words & set(CENTRES):
            found = [float(np.hypot(*(reach.at(c.s0) - at))) for c in crossings(reach, mark.path)]
            if found:
                return min(found)
    return 0.0 if values["kind"] == "loops" else float(values["size"] / 2 + _STAND)


def _hole(edge: _Edge, along: float, stand: float, values: Values) -> Path:
    """A buttonhole square to the centre line, from just past it; or where a loop is sewn in."""
    if values["kind"] == "loops":
        half = values["size"] / 2
        return Path.polyline([edge.inside(along - half, stand), edge.inside(along + half, stand)])
    start = stand - _SHANK
    long = values["size"] + values["thickness"]
    return Path.polyline([edge.inside(along, start), edge.inside(along, start + long)])


def _narrow(edge: _Edge, stand: float, values: Values) -> Iterator[Finding]:
    least = values["size"] / 2 + _STAND
    if values["kind"] == "buttons" and stand < least - 1e-6:
        yield edge.piece.finding(
            "stand-narrow",
            "warn",
            f"the stand is {both(stand)} wide, and half a button and 1/4 in are {both(least)}",
            str(edge.run.name),
            "Take smaller buttons, or set the edge further out.",
        )


# --- zips -----------------------------------------------------------------------------------


def _zipped(
    edge: _Edge, places: Sequence[float], values: Values, *, goes_on: bool
) -> tuple[Piece, list[Finding]]:
    """The piece with the zip's stretch named, its ends notched, its stop and its allowance."""
    from sizewright.drafting import known_allowances, with_cutting_line, with_vertices

    name, side = values["name"] or "zip", values["side"]
    piece, run = edge.piece, edge.run
    # Both sides of the body are cut by one line, or this edge is of one side.
    whose: Side = side if piece.times == 2 else "both"
    piece.refuse_run(name, 'Give the zip another name, as name = "zip-2".')
    first, last = places
    last = edge.way.length if goes_on else last
    stop = Path.polyline([edge.inside(last, 0.0), edge.inside(last, _STOP)])
    whole = goes_on and first <= _ENDS
    piece, (a, b), ends = with_vertices(piece, [edge.s(first), edge.s(last)], [run.start, run.end])
    # Counter-clockwise, as the run goes.
    down = edge.turned == edge.way.backward
    start, end = (a, b) if down else (b, a)
    outline = piece.outline.with_run(Run(start, end, name))
    if not goes_on and outline.point(b).name is None:
        outline = outline.with_point(b, name=f"{name}-end")
    # Each end that lies on the edge is notched. One that goes on past the edge has no end there,
    # and one over the whole edge is a line along it.
    lies = [(a, "begins")] if first > _ENDS else []
    lies += [] if goes_on else [(b, "end")]
    notches = [
        Notch(
            outline.spot(float(outline.path.cumulative[at])),
            "slit",
            _DEPTH,
            1,
            f"{name}-{word}",
            side,
        )
        for at, word in lies
    ]
    mark = Mark(stop, ZIP_STOP, f"{name}-stop", side)
    if whole:
        steps = np.linspace(first, last, max(int((last - first) / _STEP), 1) + 1)
        mark = Mark(Path.polyline([edge.inside(d, _BESIDE) for d in steps]), ZIP, name, side)
    piece = replace(
        piece,
        outline=outline,
        notches=(*piece.notches, *notches),
        marks=(*piece.marks, *((mark,) if whole or not goes_on else ())),
    )
    taken = Run(start, end, name)
    findings = [*clashes(piece, name, stretch(piece, taken), side), *_over_darts(piece, taken)]
    if goes_on:
        findings.append(
            piece.finding(
                "zip-goes-on",
                "note",
                f"the zip runs to the end of {run.name or 'the edge'}, so no stop is marked: it "
                "goes on past it, or is open at its end",
                name,
            )
        )
    known = known_allowances(piece)
    if known is None:
        findings.append(
            piece.finding(
                "zip-allowance",
                "note",
                f"nothing is said of its allowance yet: a zip takes {both(values['allowance'])}, "
                f"and {both(values['beyond'])} past its end",
                name,
                "Let the step seam-allowance stand before, or give it that width for this run.",
            )
        )
    else:
        wide, narrow = values["allowance"], values["beyond"]
        rest = (b, ends[1]) if down else (ends[0], b)
        stretches = [*known.stretches, WidthStretch(start, end, wide, wide, whose)]
        if rest[0] != rest[1]:
            stretches.append(WidthStretch(*rest, narrow, narrow, whose))
        if whose != "both":
            findings.append(_cut_for_both(piece, name, wide, known, side))
        piece = with_cutting_line(
            replace(piece, allowances=replace(known, stretches=tuple(stretches)))
        )
    long = both(last - first)
    return piece.with_changes(f"zip {long} long set into {run.name or 'an edge'}"), findings


def _over_darts(piece: Piece, taken: Run) -> Iterator[Finding]:
    for mouth in piece.mouths(taken):
        yield piece.finding(
            "zip-over-dart",
            "warn",
            f"the zip crosses the dart {mouth.name}, and lies over all its layers there",
            str(taken.name),
            "Let it end before the dart, or move the dart (move-dart); else sew the dart first.",
        )


def _cut_for_both(piece: Piece, name: str, wide: float, known: Allowances, side: Side) -> Finding:
    """What is to be done where one cutting line serves the side with a zip and the other."""
    other: Side = "left" if side == "right" else "right"
    run = piece.run(name)
    usual = known.by_segment(piece.outline.path, other)[run.start % len(piece.outline.path), 0]
    cure = f'Open it out after this step: fold-marks with open = ["{piece.name}"].'
    return piece.finding(
        "zip-cut-for-both",
        "note",
        f"one line cuts both sides, so the wearer's {other} has the zip's {both(wide)} too: trim "
        f"it there to {both(float(usual))}",
        name,
        cure if piece.fold is not None else "",
    )
