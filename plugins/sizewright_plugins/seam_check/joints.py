"""Edges that run on across a seam or a closed dart, judged: their kink and their step."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sizewright.findings import Finding
from sizewright.model import Dart, Pattern, Piece, SewnJoint
from sizewright.units import both

from .mending import redrawn, true_legs

#: The steps that mend each joint, as the first size that needs them has them.
Mends = dict[tuple[str, str, str], str]


def at_seam(
    pattern: Pattern, joint: SewnJoint, kink: float, step: float, mend: Mends
) -> Iterator[Finding]:
    """A warning where the kink is more than `kink` degrees or the step more than `step` mm.

    A step at the end of a seam comes of sides of unlike length, and is told as that.
    """
    sides = (joint.first, joint.second)
    pieces = ", ".join(sorted({joint.first.piece, joint.second.piece}))
    if joint.kink is not None and abs(joint.kink) > kink:
        yield Finding(
            "joint-kink",
            "warn",
            f"{_run_on(joint)} across the seam with a kink of {_degrees(joint.kink)}"
            f" and a step of {abs(joint.step):.1f} mm",
            pieces,
            joint.size,
            f"{joint.seam} at {_points(joint)}",
            "Draw them so that they run on before they are folded over."
            if joint.first.folded or joint.second.folded
            else "Let both meet the seam so that they run on."
            + _mended(mend, joint, lambda: redrawn(pattern, sides, joint.size or None)),
        )
    elif not joint.ends and abs(joint.step) > step:
        yield Finding(
            "joint-step",
            "warn",
            f"{joint.first} and {joint.second} miss each other by {both(abs(joint.step))}",
            pieces,
            joint.size,
            f"{joint.seam} at {_points(joint)}",
            "Bring what meets the seam on both sides of it to the same lengths.",
        )


def legs(piece: Piece, dart: Dart, joint: SewnJoint, tolerance: float) -> Iterator[Finding]:
    """A warning where the legs of a dart differ by more than `tolerance` mm."""
    if abs(joint.step) > tolerance:
        one, other = joint.legs or (0.0, 0.0)
        yield piece.finding(
            "dart-legs",
            "warn",
            f"the legs of the dart differ by {abs(joint.step):.1f} mm: "
            f"{both(one)} and {both(other)}",
            dart.name,
            "Make them equally long, so that they can be sewn together."
            + (true_legs(piece, dart.name, joint.second.point) if dart.tip is not None else ""),
        )


def at_dart(
    piece: Piece, dart: Dart, joint: SewnJoint, kink: float, mend: Mends
) -> Iterator[Finding]:
    """A warning where the edge turns by more than `kink` degrees across a closed dart."""
    sides = (joint.first, joint.second)
    if joint.kink is not None and abs(joint.kink) > kink:
        yield piece.finding(
            "dart-kink",
            "warn",
            f"{joint.first.line} runs on across the closed dart with a kink of "
            f"{_degrees(joint.kink)} and a step of {abs(joint.step):.1f} mm",
            joint.seam,
            "Close the dart on paper and draw the edge smoothly across it."
            + _mended(
                mend,
                joint,
                lambda: (
                    redrawn(Pattern((piece,)), sides, piece.size) if dart.tip is not None else ""
                ),
            ),
        )


def _mended(mend: Mends, joint: SewnJoint, steps: Callable[[], str]) -> str:
    """The steps that mend a joint, made once for all sizes."""
    which = _which(joint)
    if which not in mend:
        mend[which] = steps()
    return mend[which]


def _which(joint: SewnJoint) -> tuple[str, str, str]:
    one, other = (f"{side.piece}:{side.point}" for side in (joint.first, joint.second))
    return joint.seam, one, other


def _run_on(joint: SewnJoint) -> str:
    if str(joint.first) == str(joint.second):
        return f"{joint.first} runs on into itself"
    return f"{joint.first} runs on into {joint.second}"


def _points(joint: SewnJoint) -> str:
    return " and ".join(dict.fromkeys(_which(joint)[1:]))


def _degrees(kink: float) -> str:
    return f"{abs(kink):.1f} degrees ({'a point' if kink > 0 else 'a dip'})"
