"""Both sides of every seam judged in every size."""

from __future__ import annotations

from dataclasses import replace

from sizewright.errors import SizewrightError
from sizewright.findings import Finding
from sizewright.model import Pattern, Seam, SeamMatch, match_seam, unjudged
from sizewright.units import both

from .mending import true_sides


def judged(pattern: Pattern, seam: Seam, tolerance: float) -> list[Finding]:
    """A failure for each size in which the sides do not match, and one note for the others."""
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
    mend = ""
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
            mend = mend or true_sides(pattern, match, size)
            findings.append(_off(pattern, size, match, tolerance, mend))
        else:
            good.append((size or "", match))
    if good:
        findings.append(_fine(seam, good))
    return findings


def _off(
    pattern: Pattern, size: str | None, match: SeamMatch, tolerance: float, mend: str
) -> Finding:
    seam = match.seam
    lengths = f"{both(match.first.length)} against {both(match.second.length)}"
    cure = "Mend the rules of its end points, or the ease that the seam states."
    changed = any(pattern.piece(name, size).story for name in seam.pieces())
    if changed:
        cure = "Let the other side follow what was changed, or say what is eased or gathered in."
    elif _drawn_so(pattern, seam, size, tolerance):
        cure = "It is so in the drawing already: mend the lines there, or the ease of the seam."
    code = f"seam-{'long' if match.off > 0 else 'short'}"
    text = f"{match.misfit(tolerance)}: {lengths}"
    return seam.finding(code, "fail", text, size, cure + mend)


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
    return seam.finding("seam-matches", "note", text)
