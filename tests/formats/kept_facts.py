"""What a pattern says, fact by fact, and by how much each is another in another pattern."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from sizewright.geometry.path import Path
from sizewright.model import NOTCH_KINDS, Label, Notch, Outline, Pattern, Piece
from tests.formats.kept_pattern import NOTCHES_APART
from tests.formats.same import differences
from tests.formats.test_interchange_writer import apart

#: Not there, or another thing.
LOST = math.inf

# --- how far apart two things are --------------------------------------------------------

Off = Callable[[Pattern, Pattern], float]


def _apart(a: Any, b: Any) -> float:
    """The most that two things differ, in mm; LOST where they differ in kind."""
    if isinstance(a, Path) and isinstance(b, Path):
        return apart(a, b)
    if isinstance(a, tuple) and isinstance(b, tuple) and len(a) == len(b):
        return max((_apart(x, y) for x, y in zip(a, b, strict=True)), default=0.0)
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b)
    return 0.0 if type(a) is type(b) and a == b else LOST


def _piece(pattern: Pattern, name: str, size: str | None = None) -> Piece | None:
    found = [p for p in pattern.pieces if p.key == (name, size)]
    found += [p for p in pattern.pieces if p.name == name and size is None]
    return found[0] if found else None


def of(get: Callable[[Piece], Any], name: str = "front", size: str | None = None) -> Off:
    """Compares what `get` takes from one piece, as it was and as it came back."""

    def off(before: Pattern, after: Pattern) -> float:
        ours, theirs = _piece(before, name, size), _piece(after, name, size)
        assert ours is not None
        if theirs is None:
            return LOST
        return _apart(get(ours), get(theirs))

    return off


def whole(get: Callable[[Pattern], Any]) -> Off:
    """Compares what `get` takes from the pattern as a whole."""
    return lambda before, after: _apart(get(before), get(after))


def notch(get: Callable[[Notch], Any], *kinds: str) -> Off:
    """Compares what `get` takes from each notch of those kinds with the notch that is there."""

    def off(before: Pattern, after: Pattern) -> float:
        ours, theirs = _piece(before, "front"), _piece(after, "front")
        assert ours is not None
        if theirs is None or not theirs.notches:
            return LOST
        places = np.array([_place(theirs, n) for n in theirs.notches])
        worst = 0.0
        for one in (n for n in ours.notches if n.kind in kinds and (len(kinds) > 1 or n.count < 2)):
            away = np.hypot(*(places - _place(ours, one)).T)
            k = int(away.argmin())
            if away[k] > NOTCHES_APART / 2:
                return LOST
            worst = max(worst, _apart(get(one), get(theirs.notches[k])))
        return worst

    return off


def double(get: Callable[[Notch], Any]) -> Off:
    """Compares what `get` takes from the double notch with one of as many cuts there."""

    def off(before: Pattern, after: Pattern) -> float:
        ours, theirs = _piece(before, "front"), _piece(after, "front")
        assert ours is not None
        (one,) = (n for n in ours.notches if n.count == 2)
        if theirs is None:
            return LOST
        near = [
            n
            for n in theirs.notches
            if np.hypot(*(_place(theirs, n) - _place(ours, one))) < NOTCHES_APART / 2
        ]
        return min((_apart(get(one), get(n)) for n in near), default=LOST)

    return off


def placed(before: Pattern, after: Pattern) -> float:
    """How far the single notches stand from where they stood."""
    ours, theirs = _piece(before, "front"), _piece(after, "front")
    assert ours is not None
    if theirs is None or not theirs.notches:
        return LOST
    places = np.array([_place(theirs, n) for n in theirs.notches])
    single = [_place(ours, n) for n in ours.notches if n.count == 1]
    return max(float(np.hypot(*(places - at).T).min()) for at in single)


def _place(piece: Piece, one: Notch) -> np.ndarray:
    path = piece.outline.path
    return path.at(np.array([piece.outline.arc_length_of(one.at)]))[0]


def _named(items: Iterable[Any]) -> tuple[Any, ...]:
    return tuple(item.name for item in items)


def _points(line: Outline, what: str) -> tuple[Any, ...]:
    """Names or rules of points, each with its place."""
    found = [(p, getattr(p, what)) for p in line.points]
    return tuple(
        (text, *map(float, line.vertex_at(p.vertex)))
        for p, text in sorted(found, key=lambda f: str(f[1]))
        if text
    )


def _runs(line: Outline) -> tuple[Any, ...]:
    """Named runs, each with its ends."""
    return tuple(
        (r.name, *(float(v) for k in (r.start, r.end) for v in line.vertex_at(k)))
        for r in sorted(line.runs, key=lambda r: r.name or "")
        if r.name
    )


def _at(line: Outline, *vertices: int | None) -> tuple[Any, ...]:
    """Places of vertices."""
    return tuple(tuple(map(float, line.vertex_at(v))) if v is not None else None for v in vertices)


def _controls(path: Path) -> tuple[float, ...]:
    return tuple(map(float, path.controls.ravel()))


def _cutting(piece: Piece) -> Outline:
    assert piece.cut_line is not None
    return piece.cut_line


def _first(label: str) -> Callable[[Piece], Label]:
    def found(piece: Piece) -> Label:
        (one,) = (t for t in piece.labels if t.text.startswith(label))
        return one

    return found


_ONE_LINE = _first("one")


# --- the facts ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Fact:
    """One thing that a pattern says.

    `fields` are those of the model that it stands for. `off` is by how much it is another
    after a trip. `told` matches the finding that tells of its loss.
    """

    what: str
    fields: tuple[str, ...]
    off: Off
    told: str = ""

    def after(self, before: Pattern, after: Pattern) -> float:
        """By how much it is another in `after`, mm; LOST where it is not there."""
        try:
            return self.off(before, after)
        except (AssertionError, AttributeError, LookupError, TypeError, ValueError):
            return LOST  # what it is a part of is not there


def _fact(what: str, fields: str, off: Off, told: str = "") -> Fact:
    return Fact(what, tuple(fields.split()), off, told)


FACTS: dict[str, tuple[Fact, ...]] = {
    "The pattern": (
        _fact("title", "Pattern.title", whole(lambda p: p.title), "title|letters"),
        _fact(
            "size that it is drawn in",
            "Pattern.base_size",
            whole(lambda p: p.base_size),
            "base size",
        ),
        _fact("page", "Pattern.page", whole(lambda p: p.page), "page"),
        _fact(
            "bodies that sizes were graded to",
            "Pattern.bodies Body.measures Body.stretch",
            whole(lambda p: p.bodies),
            "bodies",
        ),
        _fact(
            "seams, with ease, gather and paired notches",
            "Pattern.seams Seam.name Seam.first Seam.second Seam.ease Seam.notches "
            "ChainPart.piece ChainPart.run ChainPart.reverse ChainPart.count "
            "Ease.amount Ease.share Ease.kind Ease.between "
            "PairedNotch.along PairedNotch.share PairedNotch.count PairedNotch.name",
            lambda a, b: (
                LOST
                if any(d.startswith("seams") for d in differences(a, b.with_pieces(a.pieces)))
                else 0.0
            ),
            "seams",
        ),
    ),
    "A piece": (
        _fact("name", "Pattern.pieces Piece.name", of(lambda p: p.name)),
        _fact(
            "name with letters beyond plain English",
            "Piece.name",
            of(lambda p: p.name, "Ärmel", "12"),
            "is written|plain letters",
        ),
        _fact("size", "Piece.size", of(lambda p: p.size, "back", "14"), "size"),
        _fact("that it has no size", "Piece.size", of(lambda p: p.size, "plain"), "no SIZE"),
        _fact(
            "how many to cut of the first material",
            "Piece.quantity Quantity.material Quantity.count",
            of(lambda p: p.quantity[0]),
            "quantity",
        ),
        _fact("further materials", "Piece.quantity", of(lambda p: p.quantity), "quantity"),
        _fact("pair (half of them turned over)", "Piece.pair", of(lambda p: p.pair), "pair"),
        _fact("left or right only", "Piece.side", of(lambda p: p.side), r"\bsides?\b"),
        _fact("where it lies on the wearer", "Piece.faces", of(lambda p: p.faces), "wearer"),
        _fact("its story", "Piece.story", of(lambda p: p.story), "story"),
        _fact(
            "the piece that it was graded from",
            "Piece.base",
            of(lambda p: p.base is not None and p.base.key, "back", "14"),
            "graded from",
        ),
    ),
    "Outline": (
        _fact("outline (sewing line)", "Piece.outline Outline.path", of(lambda p: p.outline.path)),
        _fact("cutting line beside it", "Piece.cut_line", of(lambda p: _cutting(p).path)),
        _fact(
            "the curves' own points",
            "Outline.path",
            of(lambda p: _controls(p.outline.path)),
            "chords|curve points",
        ),
        _fact(
            "corners, as numbered",
            "Outline.corners",
            of(lambda p: _at(p.outline, *p.outline.corners)),
        ),
        _fact(
            "corners numbered before grading moved them",
            "Outline.corners",
            of(lambda p: _at(p.outline, *p.outline.corners), "back", "14"),
            "corner numbers",
        ),
        _fact("that it is a sewing line", "Piece.kind", of(lambda p: p.kind)),
        _fact("that it is a cutting line", "Piece.kind", of(lambda p: p.kind, "back", "12")),
        _fact("that it is not said which", "Piece.kind", of(lambda p: p.kind, "plain")),
        _fact(
            "allowance within a cutting line",
            "Piece.allowance",
            of(lambda p: p.allowance, "back", "12"),
            "allowance",
        ),
        _fact(
            "what is meant by its allowance",
            "Piece.allowances Allowances.default Allowances.stretches Allowances.corner "
            "Allowances.corners Allowances.limit WidthStretch.start WidthStretch.end "
            "WidthStretch.w0 WidthStretch.w1 WidthStretch.side CornerShape.vertex CornerShape.kind "
            "CornerShape.before",
            of(lambda p: p.allowances),
            "intent of its allowances",
        ),
        _fact(
            "names of points",
            "Outline.points Point.vertex Point.name",
            of(lambda p: _points(p.outline, "name")),
            "point names",
        ),
        _fact(
            "rules of points",
            "Point.rule",
            of(lambda p: _points(p.outline, "rule")),
            "grade rules|rules bear numbers",
        ),
        _fact(
            "rules that are numbers",
            "Point.rule",
            of(lambda p: _points(p.outline, "rule"), "plain"),
            "grade rules",
        ),
        _fact(
            "names of edges and runs",
            "Outline.runs Run.start Run.end Run.name",
            of(lambda p: _runs(p.outline)),
            "(edge|run) names",
        ),
        _fact(
            "names of points on the cutting line",
            "Outline.points",
            of(lambda p: _points(_cutting(p), "name")),
            "point names",
        ),
        _fact(
            "names of edges and runs on the cutting line",
            "Outline.runs",
            of(lambda p: _runs(_cutting(p))),
            "(edge|run) names",
        ),
    ),
    "Directions": (
        _fact(
            "grain line",
            "Piece.grain Grain.start Grain.end",
            of(lambda p: (p.grain.start, p.grain.end)),  # type: ignore[union-attr]
        ),
        _fact(
            "one-way grain",
            "Grain.ends",
            of(lambda p: p.grain.ends),  # type: ignore[union-attr]
            "one end|one-way",
        ),
        _fact(
            "grade axis",
            "Piece.axis Axis.start Axis.end",
            of(lambda p: (p.axis.start, p.axis.end)),  # type: ignore[union-attr]
            "axis",
        ),
        _fact(
            "whether the drawing gave the axis",
            "Axis.given",
            of(lambda p: p.axis.given),  # type: ignore[union-attr]
            "axis|reference line",
        ),
        _fact(
            "the side that width counts to",
            "Axis.away",
            of(lambda p: p.axis.away),  # type: ignore[union-attr]
            "axis|width",
        ),
        _fact(
            "fold",
            "Piece.fold Fold.start Fold.end",
            of(lambda p: _at(p.outline, p.fold.start, p.fold.end)),  # type: ignore[union-attr]
        ),
    ),
    "Notches": (
        _fact("place", "Piece.notches Notch.at Spot.start Spot.distance", placed),
        *(
            _fact(f"kind: {kind}", "Notch.kind", notch(lambda n: n.kind, kind), rf"\b{kind}\b")
            for kind in NOTCH_KINDS
        ),
        _fact("depth", "Notch.depth", notch(lambda n: n.depth, *NOTCH_KINDS), "depth"),
        _fact("double and triple", "Notch.count", double(lambda n: n.count), "groups|cuts"),
        _fact("name", "Notch.name", double(lambda n: n.name), "names of"),
        _fact("left or right only", "Notch.side", double(lambda n: n.side), r"\bsides?\b"),
        _fact("end that it keeps to", "Notch.keep", double(lambda n: n.keep), "keep to"),
        _fact("rule of its own", "Notch.rule", double(lambda n: n.rule), "rules"),
        _fact(
            "seam that placed it",
            "Notch.seam",
            double(lambda n: n.seam),
            "seams and ends|seams of notches",
        ),
    ),
    "Marks and holes": (
        _fact("drill holes", "Piece.drills Drill.at", of(lambda p: tuple(d.at for d in p.drills))),
        _fact("their names", "Drill.name", of(lambda p: _named(p.drills)), "names of"),
        _fact(
            "left or right only",
            "Drill.side",
            of(lambda p: tuple(d.side for d in p.drills)),
            r"\bsides?\b",
        ),
        _fact("inner lines", "Piece.marks Mark.path", of(lambda p: p.marks[0].path)),
        _fact("their kinds", "Mark.kind", of(lambda p: p.marks[0].kind), "kinds of"),
        _fact("their names", "Mark.name", of(lambda p: p.marks[0].name), "names of"),
        _fact("left or right only", "Mark.side", of(lambda p: p.marks[0].side), r"\bsides?\b"),
        _fact("cut-outs", "Piece.cutouts Cutout.path", of(lambda p: p.cutouts[0].path)),
        _fact("their names", "Cutout.name", of(lambda p: p.cutouts[0].name), "names of"),
        _fact("left or right only", "Cutout.side", of(lambda p: p.cutouts[0].side), r"\bsides?\b"),
        _fact(
            "lines to lengthen or shorten at",
            "Piece.adjusts Adjust.path",
            of(lambda p: p.adjusts[0].path),
            "adjust lines",
        ),
        _fact("their names", "Adjust.name", of(lambda p: p.adjusts[0].name), "names of"),
    ),
    "Labels": (
        _fact("text", "Piece.labels Label.text", of(lambda p: _ONE_LINE(p).text)),
        _fact("place", "Label.at", of(lambda p: _ONE_LINE(p).at)),
        _fact("height of its letters", "Label.height", of(lambda p: _ONE_LINE(p).height)),
        _fact("turn", "Label.angle", of(lambda p: _ONE_LINE(p).angle % 360.0)),
        _fact(
            "several lines in one label",
            "Label.text",
            of(lambda p: _first("Front")(p).text),
            "label",
        ),
        _fact(
            "letters beyond plain English",
            "Label.text",
            whole(lambda p: [t.text for q in p.pieces if q.name != "front" for t in q.labels]),
            "is written|plain letters",
        ),
    ),
    "For grading and style": (
        _fact(
            "darts: mouth and point",
            "Piece.darts Dart.a Dart.b Dart.apex Dart.tip",
            of(lambda p: tuple((_at(p.outline, d.a, d.b, d.tip), d.apex) for d in p.darts)),
            "darts",
        ),
        _fact(
            "darts that are only drawn",
            "Dart.apex Dart.tip",
            of(
                lambda p: tuple((_at(p.outline, d.a, d.b, d.tip), d.apex) for d in p.darts),
                "back",
                "12",
            ),
            "darts",
        ),
        _fact("their names", "Dart.name", of(lambda p: _named(p.darts)), "darts"),
        _fact(
            "pleats",
            "Piece.pleats Pleat.name Pleat.a Pleat.b",
            of(lambda p: tuple((t.name, _at(p.outline, t.a, t.b)) for t in p.pleats)),
            "pleats",
        ),
        _fact(
            "points that are held",
            "Piece.holds Hold.vertices Hold.name",
            of(lambda p: tuple((h.name, _at(p.outline, *h.vertices)) for h in p.holds)),
            "held|holds",
        ),
    ),
}
