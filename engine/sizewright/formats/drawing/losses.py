"""What of a piece a plainer format has no place for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ...findings import Finding
from ...model import Cutout, Drill, Mark, Notch, Piece
from ...model.outline import in_corner_order


def losses(piece: Piece, also: Mapping[str, int]) -> list[Finding]:
    """A finding that lists what is lost where only lines, points and plain texts are held.

    `also` counts what further this format loses. Empty where all is held.
    """
    lines = [o for o in (piece.outline, piece.cut_line) if o is not None]
    sided: tuple[Notch | Drill | Mark | Cutout, ...] = (
        *piece.notches,
        *piece.drills,
        *piece.marks,
        *piece.cutouts,
    )
    renumbered = [o for o in lines if in_corner_order(o.path, o.corners) != o.corners]
    counts = {
        "point names": sum(p.name is not None for o in lines for p in o.points),
        "edge and run names": sum(r.name is not None for o in lines for r in o.runs),
        "names of notches and inner lines": sum(x.name is not None for x in sided)
        + sum(a.name is not None for a in piece.adjusts),
        "sides (features for one side only)": sum(x.side != "both" for x in sided),
        "labels of several lines (now a text for each)": sum(
            "\n" in label.text for label in piece.labels
        ),
        "darts as such (their lines stay)": len(piece.darts),
        "pleats": len(piece.pleats),
        "holds": len(piece.holds),
        "ends that notches keep to": sum(n.keep != "nearer" for n in piece.notches),
        "seams of notches": sum(n.seam is not None for n in piece.notches),
        "one end of the grain line": int(piece.grain is not None and piece.grain.ends == 1),
        "where it lies on the wearer (front or back)": int(piece.faces is not None),
        **also,
        "intent of its allowances (widths are measured again)": int(piece.allowances is not None),
        "steps of its story": len(piece.story),
        "base that it was graded from": int(piece.base is not None),
        "lines with corner numbers from before grading": len(renumbered),
    }
    return not_held([what for what, count in counts.items() if count], piece)


def not_held(what: Sequence[str], piece: Piece | None = None) -> list[Finding]:
    """The finding for what a format has no place for, of a piece or of the whole pattern."""
    if not what:
        return []
    name, size = ("", "") if piece is None else (piece.name, piece.size or "")
    cure = "Keep the SVG drawing, which holds everything."
    return [Finding("not-held", "note", f"not held: {', '.join(what)}", name, size, cure=cure)]
