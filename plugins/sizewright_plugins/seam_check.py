"""Checks that both sides of every seam match, and both legs of every dart, in every size."""

from __future__ import annotations

import math

from sizewright.errors import SizewrightError
from sizewright.findings import Finding
from sizewright.model import Dart, Pattern, Piece, Run, Seam, SeamMatch, match_seam
from sizewright.plugin import Check, Setting, Values, hookimpl
from sizewright.units import both, format_length

api = 1

#: About 1/16 in, the careful workroom's tolerance (Threads 200, 2018/19).
TOLERANCE = "1.5 mm"


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
                    TOLERANCE,
                    low=0,
                ),
            ),
        ),
        Check(
            "darts",
            "both legs of every dart the same length, in every size",
            check_darts,
            (Setting("tolerance", "length", "how far the legs may differ", TOLERANCE, low=0),),
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
    unknown = [p.name for p in pattern.pieces if p.name in seam.pieces() and p.kind == "unknown"]
    if unknown:
        name = unknown[0]
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
        off = match.surplus - match.wanted
        if abs(off) <= tolerance:
            good.append((size or "", match))
        else:
            findings.append(_off(seam, size or "", match, off))
    if good:
        findings.append(_fine(seam, good))
    return findings


def _off(seam: Seam, size: str, match: SeamMatch, off: float) -> Finding:
    lengths = f"{both(match.first.length)} against {both(match.second.length)}"
    way = "long" if off > 0 else "short"
    asked = ""
    if seam.ease:
        asked = f"; {both(match.wanted)} of {seam.ease.kind} are asked for"
    return Finding(
        f"seam-{way}",
        "fail",
        f"the first side is {both(abs(off))} too {way}: {lengths}{asked}",
        ", ".join(sorted(seam.pieces())),
        size,
        seam.name,
        "Mend the rules of its end points, or the ease that the seam states.",
    )


def _fine(seam: Seam, good: list[tuple[str, SeamMatch]]) -> Finding:
    worst = max(abs(m.surplus - m.wanted) for _, m in good)
    sizes = [size for size, _ in good if size]
    where = f"in sizes {', '.join(sizes)}" if len(sizes) > 1 else "as they should"
    lengths = ", ".join(_lengths(size if len(sizes) > 1 else "", m) for size, m in good)
    return Finding(
        "seam-matches",
        "note",
        f"both sides match {where} (at most {worst:.2f} mm off): {lengths}",
        ", ".join(sorted(seam.pieces())),
        place=seam.name,
    )


def _lengths(size: str, match: SeamMatch) -> str:
    """Both lengths in one size, and the ease between them where there is any."""
    first, second = (
        format_length(mm, decimals=2) for mm in (match.first.length, match.second.length)
    )
    said = f"{first} on {second}" if match.seam.ease else f"{first} and {second}"
    return f"{size}: {said}" if size else said
