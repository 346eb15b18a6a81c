"""Checks that all is true as sewn: both sides of every seam, both legs of every dart, and the
edges that run on across them, in every size."""

from __future__ import annotations

from sizewright.findings import Finding
from sizewright.model import CORNER_ANGLE, SEAM_TOLERANCE, Pattern, dart_joints, sewn_joints
from sizewright.plugin import Check, Setting, Values, hookimpl

from .joints import Mends, at_dart, at_seam, legs
from .seams import judged

api = 1

_TOLERANCE = f"{SEAM_TOLERANCE} mm"


def _kink(help: str) -> Setting:
    return Setting("kink", "angle", help, CORNER_ANGLE, low=0, high=180)


@hookimpl
def add_checks() -> list[Check]:
    """The checks `seams` and `darts`."""
    return [
        Check(
            "seams",
            "both sides of every seam the same length, less ease or gather, in every size; "
            "edges that run on smoothly across it",
            check_seams,
            (
                Setting(
                    "tolerance",
                    "length",
                    "how far the two sides may differ from what the seam asks for",
                    _TOLERANCE,
                    low=0,
                ),
                _kink("how far an edge may turn where it runs on across the end of a seam"),
                Setting(
                    "step",
                    "length",
                    "how far seams that meet within a seam may miss each other",
                    _TOLERANCE,
                    low=0,
                ),
            ),
            when="job",
        ),
        Check(
            "darts",
            "both legs of every dart the same length, and the edge smooth across it when it is "
            "closed, in every size",
            check_darts,
            (
                Setting("tolerance", "length", "how far the legs may differ", _TOLERANCE, low=0),
                _kink("how far the edge may turn across a closed dart"),
            ),
            when="job",
        ),
    ]


def check_seams(pattern: Pattern, values: Values) -> list[Finding]:
    """Findings for each seam: a failure for each size that is off, else one note; a warning for
    each joint at which edges do not run on."""
    findings: list[Finding] = []
    for seam in pattern.seams:
        findings += judged(pattern, seam, values["tolerance"])
    mend: Mends = {}
    for joint in sewn_joints(pattern):
        findings += at_seam(pattern, joint, values["kink"], values["step"], mend)
    return findings


def check_darts(pattern: Pattern, values: Values) -> list[Finding]:
    """A warning for each dart whose legs differ, and for each that leaves a kink."""
    findings: list[Finding] = []
    mend: Mends = {}
    for piece in pattern.pieces:
        for dart, joint in zip(piece.darts, dart_joints(piece), strict=True):
            findings += legs(piece, dart, joint, values["tolerance"])
            findings += at_dart(piece, dart, joint, values["kink"], mend)
    return findings
