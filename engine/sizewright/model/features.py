"""What a piece bears besides its outline: grain, fold, notches, marks, darts and the rest."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import ClassVar, Literal

from ..errors import InputError
from ..geometry.path import Path
from .carrying import Carry
from .outline import Spot
from .vec import Side, Vec

#: What the name of a point or edge on the new half of an opened piece ends in.
MIRRORED = "-mirrored"

Keep = Literal["nearer", "start", "end"]
#: What a notch keeps its distance from when its edge is walked the other way.
OTHER_END: dict[Keep, Keep] = {"nearer": "nearer", "start": "end", "end": "start"}

#: How a notch is drawn and cut.
NotchKind = Literal["slit", "v", "t", "castle", "check", "u"]
NOTCH_KINDS: tuple[NotchKind, ...] = ("slit", "v", "t", "castle", "check", "u")

#: Which way a user says that a dart is pressed.
Pressed = Literal["centre", "side", "down", "up", "open"]
PRESSED: tuple[Pressed, ...] = ("centre", "side", "down", "up", "open")


@dataclass(frozen=True, slots=True)
class Quantity:
    """How many to cut of one material."""

    material: str
    count: int


_QUANTITY = re.compile(
    r"(?P<material>.*?\S)\s*(?:[x×]\s*)?(?P<count>\d{1,6})|(?P<n>\d{1,6})\s*[x×]?\s*(?P<m>.*)"
)


def parse_quantity(text: str) -> tuple[Quantity, ...]:
    """Quantities as people write them: `main 2, interfacing 1`, `2 main`, or `2` alone (main).

    Raises InputError for a part that holds no count.

    >>> parse_quantity("main 2, interfacing 1")
    (Quantity(material='main', count=2), Quantity(material='interfacing', count=1))
    """
    found = []
    for part in (p.strip() for p in text.split(",")):
        m = _QUANTITY.fullmatch(part)
        if not m:
            raise InputError(
                f'"{part}" does not say how many to cut', cure='Write it like "main 2, lining 1".'
            )
        material = m["material"] or (m["m"] or "").strip() or "main"
        found.append(Quantity(material, int(m["count"] or m["n"])))
    return tuple(found)


def format_quantity(quantity: tuple[Quantity, ...]) -> str:
    """Quantities as `parse_quantity` reads them: `main 2, interfacing 1`.

    >>> format_quantity(parse_quantity("2 main, 1 lining"))
    'main 2, lining 1'
    """
    return ", ".join(f"{q.material} {q.count}" for q in quantity)


@dataclass(frozen=True, slots=True)
class Axis:
    """The grade axis from `start` up to `end`; `given` when the drawing has one of its own.

    `away` tells which way width counts, seen looking up the axis; None where the piece's
    centre tells it.
    """

    CARRY: ClassVar[Carry] = Carry("line", free=("start", "end"), turns_over="away")

    start: Vec
    end: Vec
    given: bool = True
    away: Literal["left", "right"] | None = None


@dataclass(frozen=True, slots=True)
class Grain:
    """The grain line; `ends` is 1 for a one-way cloth (the arrow at `end`), else 2."""

    CARRY: ClassVar[Carry] = Carry("line", free=("start", "end"))

    start: Vec
    end: Vec
    ends: Literal[1, 2] = 2


@dataclass(frozen=True, slots=True)
class Fold:
    """The stretch of outline laid on the fold, from vertex `start` to `end`, counter-clockwise."""

    CARRY: ClassVar[Carry] = Carry(stretch=("start", "end"))

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Notch:
    """A notch at a place on the outline.

    `depth` in mm, 0 when the file gives none. `count` 2 or 3 stands for a group.
    `keep` tells from which end of the edge grading keeps its distance. `rule` is a
    grade rule of its own. `seam` names the seam that placed it.
    """

    CARRY: ClassVar[Carry] = Carry(spots=("at",))

    at: Spot
    kind: NotchKind = "slit"
    depth: float = 0.0
    count: int = 1
    name: str | None = None
    side: Side = "both"
    keep: Keep = "nearer"
    rule: str | None = None
    seam: str | None = None


def kept_distance(notch: Notch, before: float, after: float) -> float:
    """Distance from the edge's start, mm, when the edge grows from `before` to `after`."""
    to_end = before - notch.at.distance
    from_start = notch.keep == "start" or (notch.keep == "nearer" and notch.at.distance <= to_end)
    return notch.at.distance if from_start else after - to_end


@dataclass(frozen=True, slots=True)
class Drill:
    """A drill hole or tailor's tack, by its centre."""

    CARRY: ClassVar[Carry] = Carry("point", free=("at",))

    at: Vec
    name: str | None = None
    side: Side = "both"


@dataclass(frozen=True, slots=True)
class Mark:
    """An internal line that is drawn and never cut (casing, pocket, button place)."""

    CARRY: ClassVar[Carry] = Carry("path", free=("path",))

    path: Path
    kind: str = ""
    name: str | None = None
    side: Side = "both"

    @property
    def words(self) -> str:
        """Kind and name as they are shown; the name alone where it says the kind too."""
        said = set(re.findall(r"\w+", self.name or ""))
        kind = "" if set(re.findall(r"\w+", self.kind)) <= said else self.kind
        return " ".join(word for word in (kind, self.name) if word)


@dataclass(frozen=True, slots=True)
class Cutout:
    """A closed line inside the piece that is cut away."""

    CARRY: ClassVar[Carry] = Carry("path", free=("path",))

    path: Path
    name: str | None = None
    side: Side = "both"


@dataclass(frozen=True, slots=True)
class Label:
    """Text on the piece: its baseline's start, letter height in mm, turn in degrees."""

    CARRY: ClassVar[Carry] = Carry("point", free=("at",), angle="angle")

    text: str
    at: Vec
    height: float = 5.0
    angle: float = 0.0


@dataclass(frozen=True, slots=True)
class Adjust:
    """A line across the piece where it may be lengthened or shortened."""

    CARRY: ClassVar[Carry] = Carry("path", free=("path",))

    path: Path
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Dart:
    """A dart: mouth vertices `a` and `b` in outline order, and its point.

    `tip` is the outline vertex of the point where the dart is cut out of the outline;
    None where the outline runs across the mouth and the legs are only drawn.
    """

    CARRY: ClassVar[Carry] = Carry("stretch", free=("apex",), stretch=("a", "b"), vertices=("tip",))

    name: str
    a: int
    b: int
    apex: Vec
    tip: int | None = None


@dataclass(frozen=True, slots=True)
class Pleat:
    """A pleat or tuck whose mouth is the outline from vertex `a` to vertex `b`."""

    CARRY: ClassVar[Carry] = Carry(stretch=("a", "b"))

    name: str
    a: int
    b: int


@dataclass(frozen=True, slots=True)
class Hold:
    """Outline vertices that grading moves together, rigidly (a placket, an extension)."""

    CARRY: ClassVar[Carry] = Carry(vertices=("vertices",))

    vertices: tuple[int, ...]
    name: str | None = None
