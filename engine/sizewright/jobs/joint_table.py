"""Edges that run on across seams and closed darts, as a table: kink and step in every size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from ..model import dart_joints, sewn_joints

if TYPE_CHECKING:
    from ..model import Pattern, SewnJoint

#: Steps below this show as nothing, mm.
_SEEN = 0.005
#: Sizes side by side.
_SIZES = 8


def _joints(pattern: Pattern) -> Iterator[SewnJoint]:
    yield from sewn_joints(pattern)
    for piece in pattern.pieces:
        if piece.kind != "unknown":
            yield from dart_joints(piece)


def joint_lines(pattern: Pattern) -> Iterator[str]:
    """Every joint with the two edges that meet there, and its kink and step in each size."""
    groups: dict[tuple[str, str], list[SewnJoint]] = {}
    for joint in _joints(pattern):
        over = f"the dart {joint.first.piece}:{joint.seam}" if joint.legs else joint.seam
        key = over, f"{joint.first} to {joint.second} at {joint.first.point}"
        groups.setdefault(key, []).append(joint)
    # Where nothing is to run on, a step alone is worth a line.
    groups = {
        key: joints
        for key, joints in groups.items()
        if any(j.kink is not None or abs(j.step) >= _SEEN for j in joints)
    }
    if groups:
        yield "as sewn: kink in degrees (+ a point, - a dip) and step in mm, in each size"
    for (over, edges), joints in groups.items():
        yield f"{over}: {edges}"
        for k in range(0, len(joints), _SIZES):
            few = joints[k : k + _SIZES]
            if any(joint.size for joint in few):
                yield _row("size", [joint.size for joint in few])
            if any(joint.kink is not None for joint in few):
                yield _row("kink", [_number(joint.kink) for joint in few])
            yield _row("step", [_number(joint.step) for joint in few])
    if groups:
        yield ""


def _row(head: str, cells: Sequence[str]) -> str:
    return f"  {head:<6}" + "".join(f"{cell:>8}" for cell in cells)


def _number(value: float | None) -> str:
    return "" if value is None else f"{round(value, 2) + 0.0:.2f}"


def joint_data(pattern: Pattern) -> list[dict[str, Any]]:
    """The joints of a pattern, as section "joints" of the JSON has them, in degrees and mm.

    Degrees are None where the edges are not meant to run on.
    """
    return [
        {
            "dart" if joint.legs else "seam": joint.seam,
            "size": joint.size,
            "first": str(joint.first),
            "second": str(joint.second),
            "points": [f"{side.piece}:{side.point}" for side in (joint.first, joint.second)],
            "kink": joint.kink,
            "step": joint.step,
        }
        for joint in _joints(pattern)
    ]
