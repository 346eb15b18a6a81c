"""The body that a size was graded to."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from ..errors import InputError

#: No measure of a body is smaller or larger, mm.
_LEAST, _MOST = 1.0, 10_000.0


@dataclass(frozen=True)
class Body:
    """Measures of one body in mm, by name, and whether the cloth for it stretches."""

    measures: Mapping[str, float]
    stretch: bool = False


def format_bodies(bodies: Mapping[str, Body]) -> str:
    """Bodies by size as files hold them: JSON, lengths in mm.

    >>> format_bodies({"Ada": Body({"bust": 920.0})})
    '{"Ada": {"bust": 920.0}}'
    """
    told = {
        size: dict(body.measures) | ({"stretch": True} if body.stretch else {})
        for size, body in bodies.items()
    }
    return json.dumps(told, ensure_ascii=True)


def parse_bodies(text: str) -> dict[str, Body]:
    """Bodies by size as `format_bodies` writes them. Raises InputError for anything else."""
    try:
        found = json.loads(text)
        bodies = {}
        for size, told in found.items():
            stretch = told.pop("stretch", False)
            measures = {name: float(mm) for name, mm in told.items()}
            if type(stretch) is not bool or not all(
                _LEAST <= mm <= _MOST for mm in measures.values()
            ):
                raise ValueError
            bodies[size] = Body(measures, stretch)
    except (ValueError, TypeError, AttributeError, RecursionError):
        raise InputError(
            "it does not tell bodies by size", cure='Write it like {"14": {"bust": 920.0}}, in mm.'
        ) from None
    return bodies
