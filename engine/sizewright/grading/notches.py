"""Where notches stand after grading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..geometry.nearest import nearest
from ..geometry.types import Floats
from ..model.features import Notch, kept_distance
from ..model.frame import Frame
from ..model.outline import Outline, Spot
from ..model.piece import Piece


class NotchNote(NamedTuple):
    """A notch that could not keep its distance: `short` mm lacked on its edge."""

    notch: Notch
    short: float


def moved_notches(
    base: Piece,
    outline: Outline,
    rule_moves: Mapping[str, Floats],
    frame: Frame,
) -> tuple[tuple[Notch, ...], tuple[NotchNote, ...]]:
    """The notches of `base` on its graded `outline`.

    A notch with a rule of its own goes where the rule takes it (`rule_moves`, (2,) mm on
    the page, for a place on the width's positive side; `signs` and the unit vector `out`
    turn it over on the other) and then to the nearest place of its edge. Any other keeps
    its distance in mm from the stated end of its edge, by default the nearer one.
    """
    notches: list[Notch] = []
    notes: list[NotchNote] = []
    for notch in base.notches:
        if notch.rule is not None and notch.rule in rule_moves:
            notches.append(_by_rule(base, outline, notch, rule_moves[notch.rule], frame))
            continue
        before = base.outline.edge_from(notch.at.start).length
        after = outline.edge_from(notch.at.start).length
        distance = kept_distance(notch, before, after)
        within = min(max(distance, 0.0), after)
        if within != distance:
            notes.append(NotchNote(notch, abs(distance - within)))
        notches.append(replace(notch, at=Spot(notch.at.start, within)))
    return tuple(notches), tuple(notes)


def _by_rule(base: Piece, outline: Outline, notch: Notch, move: Floats, frame: Frame) -> Notch:
    place = base.outline.path.at(np.array([base.outline.arc_length_of(notch.at)]))
    across = float(move @ frame.out)
    target = place[0] + move + (float(frame.signs(place)[0]) - 1.0) * across * frame.out
    edge = outline.edge_from(notch.at.start)
    along = outline.path.segments(edge.start, edge.end)
    foot = nearest(along, target[None])
    return replace(notch, at=Spot(notch.at.start, float(foot.s[0])))
