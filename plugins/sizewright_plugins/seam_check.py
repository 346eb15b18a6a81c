"""Checks that both sides of every seam match, and both legs of every dart, in every size."""

from __future__ import annotations

import math
from dataclasses import replace

from sizewright.errors import SizewrightError
from sizewright.findings import Finding
from sizewright.model import (
    SEAM_TOLERANCE,
    Dart,
    Pattern,
    Piece,
    Run,
    Seam,
    SeamMatch,
    match_seam,
    unjudged,
)
from sizewright.plugin import Check, Setting, Values, hookimpl
from sizewright.units import both

api = 1

_TOLERANCE = f"{SEAM_TOLERANCE} mm"


@hookimpl
def add_checks() -> list[Check]:
    """The checks `seams` and `darts`."""
    return [
        Check(
            "seams",
            "both sides of every seam the same length, less ease or gather, in every size",
            check_seams,
            (
                Setting(
                    "tolerance",
                    "length",
                    "how far the two sides may differ from what the seam asks for",
                    _TOLERANCE,
                    low=0,
                ),
            ),
            when="job",
        ),
        Check(
            "darts",
            "both legs of every dart the same length, in every size",
            check_darts,
            (Setting("tolerance", "length", "how far the legs may differ", _TOLERANCE, low=0),),
        ),
    ]


def check_darts(pattern: Pattern, values: Values) -> list[Finding]:
    """A warning for each dart whose legs differ, with the size and the amount."""
    findings: list[Finding] = []
    for piece in pattern.pieces:
        for dart in piece.darts:
            first, second = _legs(piece, dart)
            if abs(first - second) > values["tolerance"]:
                findings.append(
                    Finding(
                        "dart-legs",
                        "warn",
                        f"the legs of the dart differ by {abs(first - second):.1f} mm: "
                        f"{both(first)} and {both(second)}",
                        piece.name,
                        piece.size or "",
                        dart.name,
                        "Make them equally long, so that they can be sewn together.",
                    )
                )
    return findings


def _legs(piece: Piece, dart: Dart) -> tuple[float, float]:
    """Lengths of both legs, mm: as cut out of the outline, or straight to the point."""
    outline = piece.outline
    if dart.tip is not None:
        return (
            outline.run_length(Run(dart.a, dart.tip)),
            outline.run_length(Run(dart.tip, dart.b)),
        )
    ends = (outline.vertex_at(dart.a), outline.vertex_at(dart.b))
    x, y = dart.apex
    first, second = (math.hypot(float(v[0]) - x, float(v[1]) - y) for v in ends)
    return first, second


def check_seams(pattern: Pattern, values: Values) -> list[Finding]:
    """Findings for each seam: a failure for each size that is off, else one note."""
    findings: list[Finding] = []
    for seam in pattern.seams:
        findings += _check(pattern, seam, values["tolerance"])
    return findings


def _check(pattern: Pattern, seam: Seam, tolerance: float) -> list[Finding]:
    name = unjudged(pattern, seam)
    if name:
        return [
            Finding(
                "seam-not-judged",
                "note",
                "it is not known whether the outline is sewn or cut, so this seam is not judged",
                name,
                place=seam.name,
                cure='Say data-outline="sew" or "cut" on the piece, or outline in the job.',
            )
        ]
    findings: list[Finding] = []
    good: list[tuple[str, SeamMatch]] = []
    for size in pattern.sizes or (None,):
        try:
            match = match_seam(pattern, seam, size)
        except SizewrightError as error:
            findings.append(
                Finding(
                    "seam-broken",
                    "fail",
                    error.what,
                    error.where,
                    size or "",
                    seam.name,
                    error.cure,
                )
            )
            continue
        if match.misfit(tolerance):
            findings.append(_off(pattern, size, match, tolerance))
        else:
            good.append((size or "", match))
    if good:
        findings.append(_fine(seam, good))
    return findings


def _off(pattern: Pattern, size: str | None, match: SeamMatch, tolerance: float) -> Finding:
    seam = match.seam
    lengths = f"{both(match.first.length)} against {both(match.second.length)}"
    cure = "Mend the rules of its end points, or the ease that the seam states."
    if _drawn_so(pattern, seam, size, tolerance):
        cure = "It is so in the drawing already: mend the lines there, or the ease of the seam."
    return Finding(
        f"seam-{'long' if match.off > 0 else 'short'}",
        "fail",
        f"{match.misfit(tolerance)}: {lengths}",
        ", ".join(sorted(seam.pieces())),
        size or "",
        seam.name,
        cure,
    )


def _drawn_so(pattern: Pattern, seam: Seam, size: str | None, tolerance: float) -> bool:
    """Whether the pieces that this size was made from do not match either."""
    made = [pattern.piece(name, size) for name in sorted(seam.pieces())]
    drawn = [replace(p.base or p, size=None) for p in made]
    try:
        return bool(match_seam(Pattern(tuple(drawn)), seam).misfit(tolerance))
    except SizewrightError:
        return False  # it was split or renamed since


def _fine(seam: Seam, good: list[tuple[str, SeamMatch]]) -> Finding:
    worst = max(abs(match.off) for _, match in good)
    sizes = [size for size, _ in good if size]
    where = f" in sizes {', '.join(sizes)}" if len(sizes) > 1 else ""
    text = f"both sides match{where}, at most {worst:.2f} mm off"
    return Finding("seam-matches", "note", text, ", ".join(sorted(seam.pieces())), place=seam.name)
