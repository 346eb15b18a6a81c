"""The axes that a piece is graded along, and which way each amount counts."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

import numpy as np

from ..findings import Finding
from ..geometry.regions import centroid
from ..geometry.types import Floats
from .features import Axis, Mark
from .piece import Piece

#: Names of an edge (or of an internal line) that stands for the piece's centre.
CENTRES = ("centre-front", "centre-back", "center-front", "center-back", "centre", "center")
#: A grain this near to 45 degrees off the fold or the page counts as bias, in degrees.
_BIAS = 12.5
#: Vertices this near to a centre line inside the piece lie on it, mm.
_ON = 0.01


class Frame(NamedTuple):
    """A piece's own axes, as unit vectors (2,) on the page.

    `up` is the positive way of `length` and of the open standard's `x`; `out` is the
    positive way of `width` (away from the centre); `y` of the standard is 90 degrees
    counter-clockwise from `up`. `centre` is a line (2, 2) inside the piece that width
    counts away from on both sides; None where it counts one way for the whole piece.
    `source` names what gave the axis, `away_from` what gave the centre ("" for none).
    """

    up: Floats
    out: Floats
    source: str
    away_from: str = ""
    centre: Floats | None = None

    @property
    def basis(self) -> Floats:
        """Rows `out` and `up`: points @ basis.T gives (width, length) coordinates."""
        return np.stack([self.out, self.up])

    def local(self, points: Floats) -> Floats:
        """(width, length) coordinates of page points (..., 2)."""
        moved: Floats = np.asarray(points, dtype=np.float64) @ self.basis.T
        return moved

    def signs(self, points: Floats) -> Floats:
        """The sign of a width amount at page points (m, 2): 1 everywhere, or by the side of
        the centre line (0 on it)."""
        if self.centre is None:
            return np.ones(len(points))
        across = (points - self.centre[0]) @ self.out
        # Only the part square to the centre line tells the side.
        line = self.centre[1] - self.centre[0]
        slope = float(line @ self.out) / float(line @ self.up)
        across = across - slope * ((points - self.centre[0]) @ self.up)
        signs: Floats = np.where(np.abs(across) <= _ON, 0.0, np.sign(across))
        return signs

    def from_standard(self, x: float, y: float) -> tuple[float, float]:
        """Amounts along the standard's axes as (width, length)."""
        left = np.array([-self.up[1], self.up[0]])
        return y * float(left @ self.out), x

    def words(self) -> str:
        """One line that says what is up and which way width counts."""
        way = "up the page" if self.source == "page" else f"up the {self.source}"
        if self.away_from:
            return f"length counts {way}, width away from the {self.away_from}"
        return f"length counts {way}, width to the {self.away}"

    @property
    def away(self) -> Literal["left", "right"]:
        """The side that width counts to, seen looking up."""
        left = self.up[0] * self.out[1] - self.up[1] * self.out[0] > 0
        return "left" if left else "right"


def axis_frame(piece: Piece) -> tuple[Frame, tuple[Finding, ...]]:
    """The grade axes of a piece, and what is doubtful about them.

    Up is the drawn axis, else the grain: a line with one end points up by that end,
    any other by the end nearer the top of the page. Without either it is up the page.
    Width counts away from a centre line inside the piece, else the way that the axis says
    (`Axis.away`), else away from the fold or the centre's edge, else to the right.
    """
    findings: list[Finding] = []
    up, source = _up(piece, findings)
    right = np.array([up[1], -up[0]])
    line, name = _centre_line(piece)
    askew = line is not None and not _runs_along(line, up)
    told = piece.axis.away if piece.axis is not None else None
    if askew and told is None:
        findings.append(
            piece.finding(
                "centre-askew",
                "warn",
                f"the {name} does not run along the grade axis, so width counts to the right",
                cure="Draw an axis line along the way that the piece is worn.",
            )
        )
    if askew:
        line = None
    if line is not None:
        side = float((centroid(piece.outline.path) - line.mean(axis=0)) @ right)
        frame = Frame(up, right if side >= 0 else -right, source, name)
    else:
        inside, name = _inner_centre(piece)
        if inside is not None and _runs_along(inside, up):
            frame = Frame(up, right, source, name, inside)
        else:
            frame = Frame(up, right, source)
    if told is not None and frame.centre is None:
        out = right if told == "right" else -right
        kept = frame.away_from if out @ frame.out > 0 else ""
        frame = Frame(up, out, source, kept)
    findings += _bias(piece, line)
    return frame, tuple(findings)


def drafting_axis(piece: Piece, part: Floats | None = None) -> Axis:
    """An axis that keeps a piece's axes as they are now, for a part that is cut out of it.

    It lies along the drawn axis, else the grain, else up the page through the middle. Where
    width counts away from a line inside the piece on both sides, the points `part` (m, 2) of
    the part tell its side; none is said for one that lies on both.
    """
    frame, _ = axis_frame(piece)
    line = piece.axis or piece.grain
    x, y = centroid(piece.outline.path)
    ends = np.array([line.start, line.end] if line else [(x, y - 50.0), (x, y + 50.0)])
    if (ends[1] - ends[0]) @ frame.up < 0:
        ends = ends[::-1]
    start, end = ((float(a), float(b)) for a, b in ends)
    given = piece.axis is not None and piece.axis.given
    away: Literal["left", "right"] | None = frame.away
    if frame.centre is not None:
        signs = frame.signs(np.empty((0, 2)) if part is None else part)
        sides = {float(s) for s in signs} - {0.0}
        other: Literal["left", "right"] = "left" if away == "right" else "right"
        away = None if len(sides) != 1 else away if sides == {1.0} else other
    return Axis(start, end, given, away)


def _up(piece: Piece, findings: list[Finding]) -> tuple[Floats, str]:
    up = np.array(piece.up)
    if piece.axis is not None:
        return up, "axis"
    if piece.grain is None:
        findings.append(
            piece.finding(
                "axis-assumed",
                "warn",
                "no axis and no grain, so length counts up the page",
                cure="Draw a grain line.",
            )
        )
        return up, "page"
    if (up[1], up[0]) < (0.0, 0.0):
        findings.append(
            piece.finding(
                "grain-points-down",
                "warn",
                "the one-way grain points down the page and is taken as up for grading",
                cure="Draw an axis line where up should be the other way.",
            )
        )
    return up, "grain"


def across_centre(piece: Piece, points: Floats) -> Floats | None:
    """How far page points (m, 2) lie from the centre of the body, mm; None without a centre.

    The centre is the fold, else an edge or an inner line named so. Of a piece without one whose
    axis says which way width counts, only differences have a meaning.
    """
    line, _ = _centre_line(piece)
    if line is None:
        line, _ = _inner_centre(piece)
    if line is not None:
        step = line[1] - line[0]
        size = math.hypot(*step)
        if size > 0.0:
            off: Floats = np.abs((points - line[0]) @ np.array([-step[1], step[0]])) / size
            return off
    if piece.axis is not None and piece.axis.away is not None:
        up = np.array(piece.up)
        right = np.array([up[1], -up[0]])
        along: Floats = points @ (right if piece.axis.away == "right" else -right)
        return along
    return None


def centre_vertices(piece: Piece, frame: Frame) -> list[int]:
    """The outline's vertices on the edge that widths count away from; none where none is."""
    if not frame.away_from or frame.centre is not None:
        return []
    outline = piece.outline
    run = piece.fold or outline.run(frame.away_from)
    n = len(outline.path)
    return [(run.start + k) % n for k in range((run.end - run.start) % n + 1)]


def _centre_line(piece: Piece) -> tuple[Floats | None, str]:
    """Ends (2, 2) of the fold, or of the edge named as the centre, with its name."""
    outline = piece.outline
    if piece.fold is not None:
        ends = (piece.fold.start, piece.fold.end)
        return np.array([outline.vertex_at(v) for v in ends]), "fold"
    for run in outline.runs:
        if run.name and run.name.lower() in CENTRES:
            return np.array([outline.vertex_at(v) for v in (run.start, run.end)]), run.name
    return None, ""


def _inner_centre(piece: Piece) -> tuple[Floats | None, str]:
    """A straight internal line named as the centre: both sides count away from it."""
    for mark in piece.marks:
        name = _centre_name(mark)
        if name:
            return np.array([mark.path.start, mark.path.end]), name
    return None, ""


def is_centre(mark: Mark) -> bool:
    """Whether an internal line is named as the centre and is straight."""
    points = mark.path.controls.reshape(-1, 2) - mark.path.start
    step = mark.path.end - mark.path.start
    off = np.abs(points @ np.array([-step[1], step[0]]))
    return bool(_centre_name(mark)) and bool(off.max() <= _ON * math.hypot(*step))


def _centre_name(mark: Mark) -> str:
    names = [name for name in (mark.name, mark.kind) if name and name.lower() in CENTRES]
    return names[0] if names and not mark.path.closed else ""


def _runs_along(line: Floats, up: Floats) -> bool:
    """Whether a line is within 60 degrees of the axis, so that it has two sides across it."""
    step = line[1] - line[0]
    size = math.hypot(*step)
    return size > 0 and abs(float(step @ up)) >= 0.5 * size


def _bias(piece: Piece, line: Floats | None) -> list[Finding]:
    """A finding where the grain lies on the bias and there is no axis drawn."""
    if piece.axis is not None or piece.grain is None:
        return []
    (x0, y0), (x1, y1) = piece.grain.start, piece.grain.end
    step = np.array([x1 - x0, y1 - y0])
    against = np.array([0.0, 1.0]) if line is None else line[1] - line[0]
    cross = step[0] * against[1] - step[1] * against[0]
    angle = math.degrees(math.atan2(abs(cross), abs(float(step @ against))))
    if abs(angle - 45.0) > _BIAS:
        return []
    what = "page" if line is None else "centre"
    return [
        piece.finding(
            "grain-on-bias",
            "warn",
            f"the grain lies {angle:.0f} degrees off the {what}, as on the bias, "
            "and would be the grade axis",
            cure="Draw an axis line along the way that the piece is worn.",
        )
    ]
