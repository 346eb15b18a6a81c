"""Sheets of paper: the sizes that have names, and sizes as a user writes them."""

from __future__ import annotations

import re
from typing import NamedTuple

from sizewright.errors import UsageError
from sizewright.units import Unit, format_length, parse_length

# ISO 216 in mm; American loose sheets (ANSI Y14.1) and architects' sheets in inches.
_METRIC = {
    "A5": (148, 210),
    "A4": (210, 297),
    "A3": (297, 420),
    "A2": (420, 594),
    "A1": (594, 841),
    "A0": (841, 1189),
}
_INCHES = {
    "Letter": (8.5, 11),
    "Legal": (8.5, 14),
    "Tabloid": (11, 17),
    "ANSI C": (17, 22),
    "ANSI D": (22, 34),
    "ANSI E": (34, 44),
    "ARCH A": (9, 12),
    "ARCH B": (12, 18),
    "ARCH C": (18, 24),
    "ARCH D": (24, 36),
    "ARCH E1": (30, 42),
    "ARCH E": (36, 48),
}

#: Longest page, mm. Beyond 14400 points, 200 in, PDF viewers are no longer sure of the scale.
LONGEST = 5000.0
# Narrowest printed part of a page, mm, that is worth sticking together.
_LEAST = 110.0


class Paper(NamedTuple):
    """One page, upright: width and height in mm. A roll has height 0: as long as is needed."""

    name: str
    width: float
    height: float
    inches: bool = False

    @property
    def roll(self) -> bool:
        """Whether its length is free."""
        return self.height == 0.0

    @property
    def large(self) -> bool:
        """Larger than what a printer at home takes."""
        return self.roll or min(self.width, self.height) > 305.0

    def turned(self) -> Paper:
        """The same page lying."""
        return Paper(self.name, self.height, self.width, self.inches)


def _named() -> dict[str, Paper]:
    papers = {n: Paper(n, float(w), float(h)) for n, (w, h) in _METRIC.items()}
    for name, (w, h) in _INCHES.items():
        papers[name] = Paper(name, Unit.IN.to_mm(w), Unit.IN.to_mm(h), inches=True)
    return papers


PAPERS = _named()


def parse_page(text: str) -> Paper:
    """A page as `30 cm x 60 cm` or `11 x 17 in`, or a roll by its width, as `36 in`.

    A part without a unit takes that of the other. Raises UsageError.
    """
    parts = [part.strip() for part in re.split(r"\s*[x×]\s*", text.strip())]
    if not 1 <= len(parts) <= 2 or not all(parts):
        raise UsageError(f'"{text}" is no page size', cure='Write "30 cm x 60 cm", or "36 in".')
    if len(parts) == 2:
        bare = re.fullmatch(r"[\d.,/\s½¼¾]+", parts[0])
        unit = re.search(r"[^\W\d_]+\.?$|[\"”″']+$", parts[1])
        if bare and unit:
            parts[0] += f" {unit[0]}"
    sides = [parse_length(part) for part in parts]
    inches = bool(re.search(r"in|\"|”|″|ft|'", text))
    for side in sides:
        if side > LONGEST:
            raise UsageError(
                f"a page of {format_length(side)} is too long",
                cure=f"Pages are at most {format_length(LONGEST)} long; give a roll by its width.",
            )
    width, height = sides[0], sides[1] if len(sides) == 2 else 0.0
    if height and width > height:
        width, height = height, width
    name = format_length(sides[0], Unit.IN if inches else Unit.CM)
    if height:
        name = f"{name} x {format_length(sides[1], Unit.IN if inches else Unit.CM)}"
    else:
        name = f"roll of {name}"
    return Paper(name, width, height, inches)


def check_room(paper: Paper, margin: float, overlap: float) -> None:
    """UsageError where margins and overlap leave too little of a page to draw on."""
    sides = [paper.width] if paper.roll else [paper.width, paper.height]
    left = min(sides) - 2 * margin - overlap
    if left < _LEAST:
        raise UsageError(
            f"margins and overlap leave {format_length(max(left, 0.0))} of {paper.name} to draw on",
            cure=f"Leave {format_length(_LEAST)} at least: a larger page, or smaller margins.",
        )
