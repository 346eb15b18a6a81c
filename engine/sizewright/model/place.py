"""Places on a piece, said in one phrase: `parse_place` reads it, `locate` finds it.

    underarm                                   a named point, a drill hole, a dart's tip
                                               (waist-dart-tip), or corner 3 as #3
    middle of hem                              also: start of, end of
    1/3 along side          30% along side     a share of a run, from its start
    12 cm along armhole from underarm          a length along a run, from one of its points
    3 in up fold from waist-centre             along a run, the way that climbs (or `down`)
    level with underarm along centre-front     where that run crosses this height
    plumb with bust-point along waist          where that run crosses this upright
    9 cm down from underarm                    within the piece, by its axis (or `up`)
    4 cm across from waist-centre              away from the centre (`back`: towards it)
    1 in towards bust-point from waist-dart-tip
    2.5 cm inside middle of waist              square to the edge
    4 cm across from waist-centre, 9 in up     steps after a comma

Any of them may begin with the piece (`front: middle of hem`), and on an opened piece with the
wearer's `left` or `right`. Lengths along runs are sewn lengths: dart and pleat mouths count as
closed. Where a run starts says `counts_backward`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from operator import itemgetter
from typing import Literal, NamedTuple

import numpy as np

from ..errors import GeometryError, InputError, LookupFailed, SizewrightError
from ..findings import Finding
from ..geometry.crossings import crossings
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.types import Floats
from ..units import parse_length, parse_share
from .features import MIRRORED
from .frame import Frame, axis_frame
from .outline import Run
from .piece import Piece
from .references import split_reference
from .vec import Side
from .walk import Walk, walk
from .wearer import right_of_centre, sides_unknown

Way = Literal["at", "along", "up", "down", "level", "plumb", "across", "back", "towards", "inside"]

#: A phrase is no longer than this.
_LONGEST = 300
#: A place that lies this near to the outline lies on it, mm.
_ON = 1e-6
#: Words that no name of a point holds: a phrase with one of them was meant otherwise.
_WORDS = re.compile(r" (?:of|along|up|down|from|towards|with)(?: |$)")
_SAY_SIDE = "Begin the place with left or right (the wearer's), as left middle of shoulder."
_FORMS = {
    "level": "level with underarm along centre-front",
    "plumb": "plumb with bust-point along waist",
    "towards": "1 in towards bust-point from waist-dart-tip",
    "inside": "2.5 cm inside middle of waist",
    "across": "4 cm across from waist-centre",
    "back": "4 cm back from side-waist",
    "along": "12 cm along armhole from underarm, or 1/3 along side",
    "up": "3 in up fold from waist-centre, or 9 cm up from hem-side",
    "down": "3 in down fold from neck-centre, or 9 cm down from underarm",
    "of": "middle of hem",
    "from": "12 cm along armhole from underarm",
}


class Place(NamedTuple):
    """A place as it was said.

    `way` "at": the point `point`. Any other: `amount` in mm (or a share, where `share`) from
    `origin`: "along", "up" or "down" the run `run` (from its start without an origin); without
    a run "up", "down", "across" or "back" by the piece's axes, "towards" the place `to`, or
    "inside", square to the edge. "level" and "plumb": where `run` crosses the height or the
    upright of `origin`. `piece` is None where the phrase names none, `side` the wearer's.
    """

    text: str
    piece: str | None = None
    point: str | None = None
    run: str | None = None
    amount: float = 0.0
    share: bool = False
    way: Way = "at"
    origin: Place | None = None
    to: Place | None = None
    side: Side = "both"


class Located(NamedTuple):
    """Where a place lies: its point (2,), mm, and its arc length on the outline from vertex 0,
    None where it lies within the piece. `findings` tell what was chosen of several."""

    point: Floats
    s: float | None = None
    findings: tuple[Finding, ...] = ()


# --- words --------------------------------------------------------------------------------


def parse_place(text: str) -> Place:
    """Read a place phrase; InputError shows the form that comes nearest.

    >>> place = parse_place("front: 12 cm along armhole from underarm")
    >>> place.piece, place.run, place.origin.point, place.amount
    ('front', 'armhole', 'underarm', 120.0)
    >>> parse_place("4 cm across from waist-centre, 9 in up").way
    'up'
    """
    whole = " ".join(text.split())
    if len(whole) > _LONGEST:
        raise _bad(whole[:40] + "...")
    try:
        piece, phrase = split_reference(whole)
    except InputError:
        raise _bad(whole) from None
    side: Side = "both"
    for word in ("left", "right"):
        if phrase.startswith(word + " "):
            side, phrase = word, phrase.removeprefix(word + " ")
    first, *steps = (part.strip() for part in phrase.split(","))
    try:
        place = _first(first, whole)
        for step in steps:
            place = _step(step, place, whole)
    except InputError as error:
        raise error if error.where else error.at(f'place "{whole}"') from None
    return _told(place, whole, piece, side)


def _told(place: Place, text: str, piece: str | None, side: Side) -> Place:
    """A place and all that it counts from, with the piece and side that the phrase began with."""
    origin = place.origin and _told(place.origin, text, piece, side)
    to = place.to and _told(place.to, text, piece, side)
    return place._replace(text=text, piece=piece, side=side, origin=origin, to=to)


def _first(phrase: str, whole: str) -> Place:
    words = phrase.split(" ")
    if words[0] in ("level", "plumb") and words[1:2] == ["with"] and "along" in words:
        with_, _, run = phrase.split(" ", 2)[2].partition(" along ")
        if with_ and run:
            way: Way = "level" if words[0] == "level" else "plumb"
            return Place(whole, run=run, way=way, origin=_first(with_, whole))
        raise _bad(whole)
    if words[0] in ("middle", "start", "end") and words[1:2] == ["of"] and len(words) > 2:
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[words[0]]
        return Place(whole, run=" ".join(words[2:]), amount=share, share=True, way="along")
    found = re.match(r"(.+?) (along|up|down|across|back|towards|inside) (.+)", phrase)
    if found is not None and re.match(r"[\d.\u00bc-\u00be]", phrase):
        return _measured(found[1], found[2], found[3], whole)
    if not phrase or _WORDS.search(phrase) or re.match(r"[\d.]+ ", phrase):
        raise _bad(whole)
    return Place(whole, point=phrase)


def _measured(amount: str, word: str, rest: str, whole: str) -> Place:
    way: Way = word  # type: ignore[assignment]
    value, share = _amount(amount)
    if way == "inside":
        return Place(whole, amount=_length(value, share), way=way, origin=_first(rest, whole))
    name, from_, origin = (" " + rest).partition(" from ")
    name = name.strip()
    start = _first(origin, whole) if from_ else None
    if way == "towards":
        if not name or start is None:
            raise _bad(whole)
        to = _first(name, whole)
        return Place(whole, amount=value, share=share, way=way, origin=start, to=to)
    if way in ("across", "back") or not name:
        if name or start is None or way == "along":
            raise _bad(whole)
        return Place(whole, amount=_length(value, share), way=way, origin=start)
    return Place(whole, run=name, amount=value, share=share, way=way, origin=start)


def _step(step: str, origin: Place, whole: str) -> Place:
    """A further step from a place: `9 in up`, `1 in towards bust-point`."""
    found = re.fullmatch(r"([^-\u2212].*?) (?:(up|down|across|back)|towards (.+))", step)
    if found is None:
        raise _bad(whole)
    value, share = _amount(found[1])
    if found[3]:
        to = _first(found[3], whole)
        return Place(whole, amount=value, share=share, way="towards", origin=origin, to=to)
    way: Way = found[2]  # type: ignore[assignment]
    return Place(whole, amount=_length(value, share), way=way, origin=origin)


def _amount(text: str) -> tuple[float, bool]:
    share = bool(re.fullmatch(r"[\d.]+ ?%|\d+ ?/ ?\d+", text))
    return (parse_share(text) if share else parse_length(text)), share


def _length(value: float, share: bool) -> float:
    if share:
        raise InputError("a share counts along a run only", cure="Write a length, as 4 cm.")
    return value


def _bad(text: str) -> InputError:
    if re.search(r"(?:^|[ ,])[-\u2212]\d", text):
        return InputError(
            "a place is not counted by a negative length",
            where=f'place "{text}"',
            cure="Leave the minus out and say the other way: up for down, back for across, "
            "or along from the run's other end.",
        )
    words = text.replace(",", " ").split()
    near = next((form for word, form in _FORMS.items() if word in words), "")
    forms = (
        f"Write it like: {near}."
        if near
        else "Write a point (underarm), middle of hem, 1/3 along side, "
        "12 cm along armhole from underarm, level with underarm along side, "
        "or 9 cm down from underarm."
    )
    return InputError("this place cannot be read", where=f'place "{text}"', cure=forms)


# --- finding ------------------------------------------------------------------------------

#: Which of several crossings is taken: from how far each lies, in the order of the run.
Pick = Callable[[str, Sequence[float]], int]


def _nearest_of(_: str, away: Sequence[float]) -> int:
    return int(np.argmin(away))


def find_place(piece: Piece, place: Place | str) -> float:
    """Arc length on the piece's outline, from vertex 0, of a place on it, mm.

    Raises LookupFailed for a name that is not there, GeometryError for a length that
    goes past the end of its run, and for a place that lies within the piece.

    >>> from sizewright.geometry import Path
    >>> from sizewright.model import Outline, Run
    >>> path = Path.polyline([(0, 0), (80, 0), (80, 60), (0, 60)], closed=True)
    >>> pocket = Piece("pocket", Outline.of(path, runs=[Run(2, 3, "top")]))
    >>> s = find_place(pocket, "middle of top")
    >>> s, pocket.outline.path.at(s).tolist()
    (180.0, [40.0, 60.0])
    """
    return on_outline(piece, place, locate(piece, place))


def on_outline(piece: Piece, place: Place | str, found: Located) -> float:
    """The arc length of a place that was found; GeometryError where it is not on the outline."""
    if found.s is not None:
        return found.s
    foot = nearest(piece.outline.path, found.point[None])
    if float(foot.distance[0]) <= _ON:
        return float(foot.s[0])
    text = place if isinstance(place, str) else place.text
    raise GeometryError(
        f"it lies {float(foot.distance[0]):.1f} mm off the outline",
        where=f'{piece.title}: place "{text}"',
        cure="Say a place on an edge, as 1/3 along side, or level with underarm along side.",
    )


def locate(piece: Piece, place: Place | str, pick: Pick = _nearest_of) -> Located:
    """Where a place lies, on the outline or within the piece.

    `pick` chooses one of several crossings of "level with" and "plumb with": by default the
    nearest. Raises what `find_place` raises, but for places within the piece.

    >>> from sizewright.geometry import Path
    >>> from sizewright.model import Outline
    >>> path = Path.polyline([(0, 0), (80, 0), (80, 60), (0, 60)], closed=True)
    >>> pocket = Piece("pocket", Outline.of(path))
    >>> locate(pocket, "1 cm down from #3, 2 cm back").point.tolist()
    [60.0, 50.0]
    """
    if isinstance(place, str):
        place = parse_place(place)
    try:
        return _Finder(piece, pick).find(place)
    except SizewrightError as error:
        raise error.at(f'{piece.title}: place "{place.text}"') from None


class _Finder:
    """Finds places on one piece."""

    def __init__(self, piece: Piece, pick: Pick) -> None:
        self.piece = piece
        self.pick = pick
        self.path = piece.outline.path
        self._frame: Frame | None = None

    @property
    def frame(self) -> Frame:
        if self._frame is None:
            self._frame, _ = axis_frame(self.piece)
        return self._frame

    def find(self, place: Place) -> Located:
        if place.way == "at":
            return self._named(str(place.point), place.side)
        if place.way in ("level", "plumb"):
            return self._crossing(place)
        if place.run is not None:
            s = self._along(place)
            return Located(self.path.at(s), s)
        assert place.origin is not None
        start = self.find(place.origin)
        point = start.point + self._step(place, start)
        return Located(point, None, start.findings)

    # names, and the wearer's sides of opened pieces

    def _named(self, name: str, side: Side) -> Located:
        where: dict[str, tuple[Floats, float | None]] = {}
        outline = self.piece.outline
        for drill in self.piece.drills:
            if drill.name:
                where.setdefault(drill.name, (np.array(drill.at), None))
        for dart in self.piece.darts:
            s = None if dart.tip is None else float(self.path.cumulative[dart.tip])
            for tip in (f"{dart.name}-tip", f"{dart.name}-dart-tip"):
                where.setdefault(tip, (np.array(dart.apex), s))
        for point in outline.points:
            if point.name:
                s = float(self.path.cumulative[point.vertex])
                where[point.name] = (outline.vertex_at(point.vertex), s)
        said = name if side == "both" or f"{side} {name}" not in where else f"{side} {name}"
        if said not in where:
            vertex = self._vertex(name, where)
            return Located(outline.vertex_at(vertex), float(self.path.cumulative[vertex]))
        at = where[self._sided(said, {n: p for n, (p, _) in where.items()}, side)]
        return Located(*at)

    def _vertex(self, name: str, others: dict[str, tuple[Floats, float | None]]) -> int:
        try:
            return self.piece.outline.vertex(name)
        except LookupFailed as error:
            free = sorted(n for n, (_, s) in others.items() if s is None)
            if free and error.cure:
                error.cure += f" Within the piece: {', '.join(free)}."
            raise

    def _sided(self, name: str, where: dict[str, Floats], side: Side) -> str:
        """The name on the wearer's side that is meant, of a name and its mirror image."""
        twin = name + MIRRORED
        if name.endswith(MIRRORED):
            return name
        if twin not in where:
            if side != "both" and self._side_of(where[name]) not in ("both", side):
                raise LookupFailed(
                    f'"{name}" lies on the wearer\'s {self._side_of(where[name])}',
                    cure=f"Leave {side} out.",
                )
            return name
        if side == "both":
            raise LookupFailed(
                f'"{name}" is on both sides of the piece',
                cure=_SAY_SIDE,
            )
        return next(n for n in (name, twin) if self._side_of(where[n]) in ("both", side))

    def _side_of(self, point: Floats) -> Side:
        """The wearer's side on which a point lies; both on the centre or without one."""
        sign = float(self.frame.signs(point[None])[0]) if self.frame.centre is not None else 0.0
        if sign == 0.0:
            return "both"
        right = right_of_centre(self.piece)
        if right == "both":
            raise sides_unknown(self.piece)
        return right if sign > 0 else "left" if right == "right" else "right"

    # along runs

    def _walk(self, name: str, side: Side, *, whole: bool = False) -> Walk:
        """A run as it is walked; of an opened piece the one on the side that is said.

        A run that crosses the centre is walked from there; as a `whole` where no side is said.
        """
        piece = self.piece
        names = {r.name for r in piece.outline.runs}
        twin = name + MIRRORED
        if name in names and twin in names:
            middles = {n: _middle(piece, piece.run(n)) for n in (name, twin)}
            return walk(piece, piece.run(self._sided(name, middles, side)))
        run = piece.run(name)
        opened = any(str(n).endswith(MIRRORED) for n in names) or any(
            str(p.name).endswith(MIRRORED) for p in piece.outline.points
        )
        if self.frame.centre is None or not opened:
            return walk(piece, run)
        at = self._centre_on(run)
        if at is None or (side == "both" and whole):
            return walk(piece, run)
        if side == "both":
            raise LookupFailed(
                f'"{name}" runs over both sides of the piece',
                cure=_SAY_SIDE,
            )
        split, middle = piece.with_vertex(at)
        there = split.run(name)
        for half in (Run(there.start, middle.vertex), Run(middle.vertex, there.end)):
            if _Finder(split, self.pick)._side_of(_middle(split, half)) == side:
                return walk(split, half)
        raise LookupFailed(f'"{name}" has no stretch on the wearer\'s {side}')

    def _centre_on(self, run: Run) -> float | None:
        """Where a run crosses the centre line, as arc length of the outline."""
        assert self.frame.centre is not None
        a, b = self.frame.centre
        found = self._cut(run, a, b - a)
        return found[0][0] if found else None

    def _along(self, place: Place) -> float:
        middle = place.share and place.amount == 0.5 and place.origin is None
        way = self._walk(str(place.run), place.side, whole=middle)
        begin = 0.0
        if place.origin is not None:
            found = self.find(place.origin)
            on = None if found.s is None else way.distance(found.s)
            if on is None:
                raise LookupFailed(f'"{place.origin.point or "it"}" does not lie on "{place.run}"')
            # Once round, a run ends where it starts; a point there counts as its start.
            begin = on
        amount = place.amount * way.length if place.share else place.amount
        target = begin + (amount if self._forward(way, place, begin) else -amount)
        if not -1e-9 <= target <= way.length + 1e-9:
            left = way.length - begin if target > begin else begin
            raise GeometryError(
                f'only {left:.1f} mm of "{place.run}" lie that way',
                cure="Take a shorter length or the other direction.",
            )
        return way.arc_length(max(target, 0.0))

    def _forward(self, way: Walk, place: Place, begin: float) -> bool:
        """Whether the way leads on along the walk: from an end, the way that there is."""
        if place.way == "along":
            return place.origin is None or begin < way.length - 1e-6
        ends = self.path.at(np.array([way.stretches[0][0], way.stretches[-1][1]]))
        climbs = float((ends[1] - ends[0]) @ self.frame.up) >= 0
        return climbs == (place.way == "up")

    # across the piece

    def _step(self, place: Place, start: Located) -> Floats:
        """The way from the origin of a place to it, (2,) mm."""
        if place.way == "towards":
            assert place.to is not None
            way = self.find(place.to).point - start.point
            long = float(np.hypot(*way))
            if long == 0.0:
                raise GeometryError("both ends of the way lie at one place")
            return way * (place.amount if place.share else place.amount / long)
        if place.way == "inside":
            s = on_outline(self.piece, place, start)
            return self._inward(s) * place.amount
        sign = -1.0 if place.way in ("down", "back") else 1.0
        if place.way in ("up", "down"):
            return self.frame.up * sign * place.amount
        out = self.frame.out
        if self.frame.centre is not None:
            side = float(self.frame.signs(start.point[None])[0])
            if side == 0.0:
                if place.side == "both":
                    raise LookupFailed(
                        "from the centre, across leads to both sides",
                        cure=_SAY_SIDE,
                    )
                right = right_of_centre(self.piece)
                if right == "both":
                    raise sides_unknown(self.piece)
                side = 1.0 if place.side == right else -1.0
            out = out * side
        step: Floats = out * sign * place.amount
        return step

    def _inward(self, s: float) -> Floats:
        """Unit direction square to the edge, into the piece; at a corner half way between."""
        total = self.path.length
        tangents = self.path.tangents(np.array([(s - 1e-6) % total, (s + 1e-6) % total]))
        along = tangents.sum(axis=0)
        along = tangents[1] if float(np.hypot(*along)) < 1e-9 else along / np.hypot(*along)
        return np.array([-along[1], along[0]])

    def _crossing(self, place: Place) -> Located:
        assert place.origin is not None
        origin = self.find(place.origin)
        up = self.frame.up
        way = np.array([up[1], -up[0]]) if place.way == "level" else up
        runs = [self.piece.run(str(place.run))]
        names = {r.name for r in self.piece.outline.runs}
        twin = str(place.run) + MIRRORED
        if twin in names:
            runs.append(self.piece.run(twin))
        found = [one for run in runs for one in self._cut(run, origin.point, way)]
        if place.side != "both":
            found = [f for f in found if self._side_of(f[1]) in ("both", place.side)]
        if not found:
            what = "height" if place.way == "level" else "upright"
            raise LookupFailed(
                f'"{place.run}" does not cross the {what} of "{place.origin.point or "it"}"',
                cure="Take another run, or a place along this one.",
            )
        away = [float(np.hypot(*(point - origin.point))) for _, point in found]
        s, point = found[self.pick(place.text, away)]
        notes: tuple[Finding, ...] = ()
        if len(found) > 1:
            notes = (
                self.piece.finding(
                    "place-of-several",
                    "note",
                    f'"{place.run}" crosses there {len(found)} times; the nearest is taken',
                    place.text,
                ),
            )
        return Located(point, s, (*origin.findings, *notes))

    def _cut(self, run: Run, point: Floats, way: Floats) -> list[tuple[float, Floats]]:
        """Where a run crosses the straight line through a point: arc lengths of the outline,
        and points, in outline order; mouths are left out."""
        outline = self.piece.outline
        path = outline.run_path(run)
        x0, y0, x1, y1 = path.bounds
        reach = float(np.hypot(x1 - x0, y1 - y0)) + float(np.hypot(*(point - np.array([x0, y0]))))
        unit = way / np.hypot(*way)
        line = Path.polyline([point - unit * (reach + 10.0), point + unit * (reach + 10.0)])
        begin = float(outline.path.cumulative[run.start])
        shut = [
            ((float(outline.path.cumulative[m.start]) - begin) % outline.path.length, m)
            for m in self.piece.mouths(run)
        ]
        found: list[tuple[float, Floats]] = []
        for cross in crossings(path, line):
            within = any(a < cross.s0 < a + outline.run_length(m) for a, m in shut)
            same = any(abs(cross.s0 - s) < 1e-3 for s, _ in found)
            if not within and not same:
                found.append((cross.s0, path.at(cross.s0)))
        return [
            ((begin + s) % outline.path.length, at) for s, at in sorted(found, key=itemgetter(0))
        ]


def _middle(piece: Piece, run: Run) -> Floats:
    outline = piece.outline
    s = float(outline.path.cumulative[run.start]) + outline.run_length(run) / 2
    at: Floats = outline.path.at(s % outline.path.length)
    return at
