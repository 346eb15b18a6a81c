"""Places on an outline, said in one phrase.

    underarm                                   a named point, or corner 3 as #3
    middle of hem                              also: start of, end of
    1/3 along side          30% along side     a share of a run, from its start
    12 cm along armhole from underarm          a length along a run, from one of its points
    3 in up fold from waist-centre             along a run, the way that climbs (or `down`)

Any of them may begin with the piece: `front: middle of hem`. Lengths are sewn lengths:
dart and pleat mouths count as closed. Where a run starts says `counts_backward`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..errors import GeometryError, InputError, LookupFailed, SizewrightError
from ..units import parse_length, parse_share
from .piece import Piece
from .references import split_reference
from .walk import Walk, walk

Way = Literal["along", "up", "down"]

_ALONG = re.compile(
    r"(?P<amount>.+?)(?<!\s)\s++(?P<way>along|up|down)\s+(?P<run>\S.*?)(?:(?<!\s)\s++from\s+(?P<from>\S.*))?"
)
_END = re.compile(r"(?P<which>middle|start|end)\s+of\s+(?P<run>\S.*)")
_SHARES = {"start": 0.0, "middle": 0.5, "end": 1.0}


@dataclass(frozen=True, slots=True)
class Place:
    """A place as it was said. Without `run` it is the point `point`.

    With `run`: `amount` in mm, or a share of the run where `share`, from `point` (or
    the run's start) along, up or down it. `piece` is None where the phrase names none.
    """

    text: str
    piece: str | None = None
    point: str | None = None
    run: str | None = None
    amount: float = 0.0
    share: bool = False
    way: Way = "along"


def parse_place(text: str) -> Place:
    """Read a place phrase; InputError shows the forms that it may take.

    >>> place = parse_place("front: 12 cm along armhole from underarm")
    >>> place.piece, place.run, place.point, place.amount
    ('front', 'armhole', 'underarm', 120.0)
    """
    whole = text.strip()
    try:
        piece, phrase = split_reference(whole)
    except InputError:
        raise _bad(whole) from None
    if m := _END.fullmatch(phrase):
        return Place(whole, piece, None, m["run"], _SHARES[m["which"]], True)
    if m := _ALONG.fullmatch(phrase):
        amount = m["amount"]
        try:
            share = bool(re.fullmatch(r"[\d.]+\s*%|\d+\s*/\s*\d+", amount))
            value = parse_share(amount) if share else parse_length(amount)
        except InputError as error:
            raise error.at(f'place "{whole[:200]}"') from None
        way: Way = "up" if m["way"] == "up" else "down" if m["way"] == "down" else "along"
        return Place(whole, piece, m["from"], m["run"], value, share, way)
    if re.search(r"\s(of|along|up|down|from)(\s|$)", phrase):
        raise _bad(whole)
    return Place(whole, piece, phrase)


def _bad(text: str) -> InputError:
    return InputError(
        "this place cannot be read",
        where=f'place "{text[:200]}"',
        cure="Write a point (underarm), middle of hem, 1/3 along side, "
        "12 cm along armhole from underarm, or 3 in up fold from waist-centre.",
    )


def find_place(piece: Piece, place: Place | str) -> float:
    """Arc length on the piece's outline, from vertex 0, of a place on it, mm.

    Raises LookupFailed for a name that is not there, GeometryError for a length that
    goes past the end of its run.

    >>> from sizewright.geometry import Path
    >>> from sizewright.model import Outline, Run
    >>> path = Path.polyline([(0, 0), (80, 0), (80, 60), (0, 60)], closed=True)
    >>> pocket = Piece("pocket", Outline.of(path, runs=[Run(2, 3, "top")]))
    >>> s = find_place(pocket, "middle of top")
    >>> s, pocket.outline.path.at(s).tolist()
    (180.0, [40.0, 60.0])
    """
    if isinstance(place, str):
        place = parse_place(place)
    try:
        return _find(piece, place)
    except SizewrightError as error:
        raise error.at(f'{piece.title}: place "{place.text}"') from None


def _find(piece: Piece, place: Place) -> float:
    outline = piece.outline
    if place.run is None:
        return float(outline.path.cumulative[outline.vertex(str(place.point))])
    run = piece.run(place.run)
    way = walk(piece, run)
    begin = 0.0
    if place.point is not None:
        s = float(outline.path.cumulative[outline.vertex(place.point)])
        found = way.distance(s)
        if found is None:
            raise LookupFailed(f'"{place.point}" does not lie on "{place.run}"')
        # Once round, a run ends where it starts; a point there counts as its start.
        begin = found
    amount = place.amount * way.length if place.share else place.amount
    target = begin + (amount if _forward(piece, way, place, begin) else -amount)
    if not -1e-9 <= target <= way.length + 1e-9:
        left = way.length - begin if target > begin else begin
        raise GeometryError(
            f'only {left:.1f} mm of "{place.run}" lie that way',
            cure="Take a shorter length or the other direction.",
        )
    return way.arc_length(max(target, 0.0))


def _forward(piece: Piece, way: Walk, place: Place, begin: float) -> bool:
    """Whether the way leads on along the walk: from an end, the way that there is."""
    if place.way == "along":
        return place.point is None or begin < way.length - 1e-6
    up = np.array(piece.up)
    path = piece.outline.path
    ends = path.at(np.array([way.stretches[0][0], way.stretches[-1][1]]))
    climbs = float((ends[1] - ends[0]) @ up) >= 0
    return climbs == (place.way == "up")
