"""The cap of a dart's or pleat's mouth, which lies on its edge when pressed."""

from __future__ import annotations

from typing import Literal

import numpy as np

from ..errors import GeometryError, InputError
from ..geometry import affine
from ..geometry.crossings import crossings
from ..geometry.path import Path
from ..geometry.splines import curve_through
from ..geometry.types import Floats
from ..model.features import Pressed
from ..model.frame import across_centre, axis_frame
from ..model.piece import Piece

_SAME = 1e-9
#: Which side of a mouth the cloth of a dart is pressed to: the one that comes to it,
#: counter-clockwise, the one that leaves it, or half to each.
PressedTo = Literal["before", "after", "both"]
#: Mouth ends that differ by less than this share of the mouth along an axis do not tell a side.
_LEVEL = 0.1


def folded_cap(side: Path, leg: Floats, fold: Floats) -> Path:
    """The line across a mouth that lies on the edge of the side that the cloth is pressed to.

    `side` is that edge walked away from the mouth, `leg` (2, 2) the stitching line from the
    mouth's end inwards, `fold` (2, 2) the line that the cloth is folded along. The edge is
    mirrored in the leg as far as the fold, then back: so the cap ends at the image of the
    mouth's end beyond the fold. An edge that is too short goes straight on. Raises
    GeometryError where it never reaches the fold.

    >>> edge = Path.polyline([(-10, 0), (-50, 0)])
    >>> leg, fold = np.array([(-10, 0), (0, -90)]), np.array([(0, 0), (0, -90)])
    >>> folded_cap(edge, leg, fold).vertices.round(3).tolist()
    [[-10.0, 0.0], [-5.0, 1.125], [0.0, 2.25], [5.0, 1.125], [10.0, 0.0]]
    """
    half = half_cap(side, leg, fold)
    back = half.transformed(affine.mirror(*fold)).reversed()
    return Path.join([half, back])


def half_cap(side: Path, leg: Floats, fold: Floats) -> Path:
    """The first half of a `folded_cap`: from the mouth's end to the fold."""
    reach = 4.0 * (float(np.hypot(*(fold[0] - side.start))) + float(np.hypot(*(fold[1] - fold[0]))))
    ahead = Path.polyline([side.end, side.end + side.tangents_in[-1] * reach])
    image = Path.join([side, ahead]).transformed(affine.mirror(*leg))
    inwards = (fold[1] - fold[0]) / np.hypot(*(fold[1] - fold[0]))
    middle = Path.polyline([fold[1], fold[0] - inwards * reach])
    met = next((c for c in crossings(image, middle) if c.s0 > _SAME), None)
    if met is None:
        x, y = side.start
        raise GeometryError(
            f"the edge near ({x:.0f}, {y:.0f}) runs so flat to the leg that no mouth can be capped",
            cure="Let the line of the dart or pleat stand squarer to its edge.",
        )
    return _in_two(image.part(0.0, met.s0)).with_ends(side.start)


def _in_two(path: Path) -> Path:
    """An open path in two segments, so that it has as many in every size."""
    if len(path) == 1:
        return path.with_vertex(path.length / 2)[0]
    if len(path) == 2:
        return path
    points = path.at(np.array([0.0, path.length / 2, path.length]))
    return curve_through(points, path.tangents_out[0], path.tangents_in[-1])


def bent(path: Path, step: Floats) -> Path:
    """An open path whose end is moved by `step` (2,), mm; its start and the tangents at both
    ends stay."""
    if float(np.hypot(*step)) <= _SAME:
        return path
    along = path.cumulative[:-1, None] + np.arange(4) / 3 * path.segment_lengths[:, None]
    share = along / path.length
    moved = (share**2 * (3 - 2 * share))[..., None] * step
    return Path(path.controls + moved, np.zeros(len(path), dtype=bool), False)


def pressed_to(
    piece: Piece, a: Floats, b: Floats, apex: Floats, pressed: Pressed | None
) -> tuple[Pressed, PressedTo]:
    """How a dart with the mouth ends `a` and `b` (in outline order) is pressed, and to which side.

    Without a word upright darts are pressed towards the centre and level ones down. Raises
    InputError where the word tells no side, as down for an upright dart.
    """
    up = np.array(piece.up)
    way = apex - (a + b) / 2
    if pressed is None:
        pressed = "centre" if abs(float(way @ up)) >= 0.7 * float(np.hypot(*way)) else "down"
    if pressed == "open":
        return pressed, "both"
    ends = np.array([a, b])
    if pressed in ("centre", "side"):
        out = across_centre(piece, ends)
        if out is None:
            out = axis_frame(piece)[0].local(ends)[:, 0]
        off = float(out[1] - out[0])
    else:
        off = float((b - a) @ up)
    if abs(off) < _LEVEL * float(np.hypot(*(b - a))):
        other = "centre, side" if pressed in ("down", "up") else "down, up"
        raise InputError(
            f'a dart that lies so has no side for pressed = "{pressed}"',
            where=piece.title,
            cure=f"Say one of {other}, open.",
        )
    first = (off > 0) == (pressed in ("centre", "down"))
    return pressed, "before" if first else "after"


def dart_cap(apex: Floats, before: Path, after: Path, pressed: PressedTo) -> Path:
    """The line across a dart's mouth, from the end of `before` to the start of `after`.

    These are the edges beside it in outline order, `apex` is where the legs meet. Four segments
    long in every size. Raises GeometryError where an edge lies along its leg.
    """
    a, b = before.end, after.start
    ways = [(p - apex) / np.hypot(*(p - apex)) for p in (a, b)]
    middle = ways[0] + ways[1]
    long = max(float(np.hypot(*(p - apex))) for p in (a, b))
    fold = np.array([apex + middle / np.hypot(*middle) * long, apex])
    leg_a, leg_b = np.array([a, apex]), np.array([b, apex])
    if pressed == "before":
        cap = folded_cap(before.reversed(), leg_a, fold)
    elif pressed == "after":
        cap = folded_cap(after, leg_b, fold).reversed()
    else:
        one, other = half_cap(before.reversed(), leg_a, fold), half_cap(after, leg_b, fold)
        meet = (one.end + other.end) / 2
        cap = Path.join([bent(one, meet - one.end), bent(other, meet - other.end).reversed()])
    return cap.with_ends(a, b)
