"""The table of `show`: what is in a pattern, for people, within 80 columns.

Names stand last in their line, so that a long one pushes nothing out of place.
"""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ..findings import told
from ..model.drawn import drawn_fold, drawn_named, drawn_notches, named_points
from ..model.eye_darts import eye_darts, is_eye_dart
from ..model.mixture import is_mixture, parse_mixture
from ..model.walk import run_ends
from ..units import Unit, both, format_length

if TYPE_CHECKING:
    from ..formats.reading import Reading
    from ..model import Pattern, Piece

_WIDTH = 80
_FACT = 10
_LINES = {"sew": "sewing line", "cut": "cutting line", "unknown": "line of unknown kind"}
_SQUARE_INCH = 25.4**2


def table(reading: Reading, *, name: str) -> str:
    """All pieces, what was set aside and what was found. `name` heads it."""
    blocks = [_heading(reading.pattern, name)]
    if reading.lines:
        blocks.append(_list("Kinds of line", (one.words() for one in reading.lines)))
    if reading.lines and len(reading.pattern.sizes) > 1:
        blocks += [_sizes_table(reading.pattern, name) for name in reading.pattern.names]
        blocks.append(f'Corners and edges of one size: --size "{reading.pattern.sizes[0]}"')
    else:
        blocks += [piece_table(piece) for piece in reading.pattern.pieces]
    marks, aside = _apart(reading)
    if marks:
        text = f"Read as marks: {', '.join(marks)}"
        blocks.append("\n".join(textwrap.wrap(text, _WIDTH, subsequent_indent="  ")))
    if aside:
        blocks.append(_list("Set aside, not taken for pieces", aside))
    if reading.findings:
        blocks.append(_list("Findings", told(reading.findings)))
    return "\n\n".join(blocks)


def _apart(reading: Reading) -> tuple[list[str], list[str]]:
    """How many marks each piece bears, and a line for all shapes that are left over alike."""
    titles = [piece.title for piece in reading.pattern.pieces]
    marks = dict.fromkeys(titles, 0)
    rows: Counter[str] = Counter()
    for shape in reading.set_aside:
        owner = shape.owner(titles)
        if owner is None:
            named = " ".join(part for part in (shape.kind, shape.name) if part)
            rows[f"{named}: {shape.reason}"] += 1
        else:
            marks[owner] += 1
    lines = [row if count == 1 else f"{row} ({count} of them)" for row, count in rows.items()]
    return _marks(reading.pattern, marks), lines


def _marks(pattern: Pattern, marks: dict[str, int]) -> list[str]:
    """How many marks each piece bears; sizes that bear as many together."""
    lines = []
    for name in pattern.names:
        sizes = [piece.title for piece in pattern.pieces if piece.name == name]
        counts = {marks[title] for title in sizes}
        if len(sizes) > 1 and len(counts) == 1:
            lines += [f"{n} of {name} in each size" for n in counts if n]
        else:
            lines += [f"{marks[title]} of {title}" for title in sizes if marks[title]]
    return lines


def piece_table(piece: Piece) -> str:
    """One piece: facts, corners, edges, runs, notches."""
    parts = [_title(piece) + "\n" + "\n".join(_facts(piece))]
    parts += [_corners(piece), _edges(piece), _runs(piece), _notches(piece)]
    return "\n\n".join(part for part in parts if part)


def _sizes_table(pattern: Pattern, name: str) -> str:
    """A piece of a nest: one row for each size."""
    rows = []
    for piece in pattern.sizes_of(name):
        x0, y0, x1, y1 = piece.bounds
        corners, length = len(piece.drawn.corners), piece.drawn.path.length
        rows.append((str(corners), *map(_cm2, (x1 - x0, y1 - y0, length)), piece.size or "-"))
    head = ("corners", "width cm", "height cm", "round it cm", "size")
    return f"{name}\n{'-' * _WIDTH}\n{_columns(head, rows)}"


def _heading(pattern: Pattern, name: str) -> str:
    count = len(pattern.pieces)
    facts = ["no piece" if not count else f"{count} piece{'' if count == 1 else 's'}"]
    if pattern.sizes:
        facts.append(f"size{'' if len(pattern.sizes) == 1 else 's'} {', '.join(pattern.sizes)}")
    if pattern.base_size:
        facts.append(f"base size {pattern.base_size}")
    if pattern.page:
        facts.append(f"page {_cm(pattern.page[0])} x {_cm(pattern.page[1])} cm")
    lines = [name, *([pattern.title] if pattern.title else [])]
    return "\n".join([*lines, *textwrap.wrap("; ".join(facts), _WIDTH)])


def _title(piece: Piece) -> str:
    words = _LINES[piece.drawn_kind]
    if piece.cut_line is not None:
        words += ", sewing line within"
    size = f", size {piece.size}" if piece.size else ""
    head = f"{piece.name}{size}"
    return f"{head}{words:>{max(_WIDTH - len(head), len(words) + 2)}}\n{'-' * _WIDTH}"


def _facts(piece: Piece) -> list[str]:
    x0, y0, x1, y1 = piece.bounds
    across, up = x1 - x0, y1 - y0
    around = piece.drawn.path.length
    lines = [
        _two("width", format_length(across, Unit.CM), _inches(across) + " in"),
        _two("height", format_length(up, Unit.CM), _inches(up) + " in"),
        _two("round it", format_length(around, Unit.CM), _inches(around) + " in"),
        _two("area", f"{piece.area / 100:.1f} cm2", f"{piece.area / _SQUARE_INCH:.1f} sq in"),
    ]
    facts = [("cut", _quantity(piece))]
    if piece.allowance is not None:
        facts.append(("allowance", f"{both(piece.allowance)}, within the cutting line"))
    if piece.side != "both":
        facts.append(("side", f"{piece.side} only"))
    facts.append(("grain", _grain(piece)))
    fold = drawn_fold(piece)
    if fold is not None:
        edge, start, end = fold
        ends = f", corner {start} to {end}" if start and end else ""
        facts.append(("fold", f"edge {edge.number}{ends}: place it on the fold of the cloth"))
    facts.append(("grading", _axes(piece)))
    if extras := _extras(piece):
        facts.append(("also", extras))
    for word, text in facts:
        lines += _fact(word, text)
    return lines


def _corners(piece: Piece) -> str:
    drawn = drawn_named(piece)
    rows = []
    for number, vertex in enumerate(drawn.corners, start=1):
        point = drawn.point(vertex)
        x, y = drawn.vertex_at(vertex)
        rows.append((str(number), _cm2(x), _cm2(y), _named(point.name, point.rule)))
    rows += [("-", _cm2(x), _cm2(y), _named(p.name, p.rule)) for p, x, y in named_points(piece)]
    return _columns(("corner", "across cm", "up cm", "name (- is a point on a curve)"), rows)


def _edges(piece: Piece) -> str:
    rows = []
    for edge in drawn_named(piece).edges:
        ends = f"{edge.from_corner} to {edge.to_corner}" if edge.from_corner else "all round"
        length = edge.length
        rows.append((str(edge.number), ends, _cm2(length), _inches(length), edge.name or ""))
    head = ("edge", "corners", "length cm", "in, to 1/16", "name")
    return _columns(head, rows)


def _runs(piece: Piece) -> str:
    """Named runs of the sewing line, from where they count, with darts and pleats closed."""
    outline = piece.outline
    rows = []
    for run in (r for r in outline.runs if r.name):
        ends = [outline.reference(v) or "-" for v in run_ends(piece, run)]
        sewn = piece.sewn_length(run)
        rows.append((_cm2(sewn), _inches(sewn), run.name or "", f"from {' to '.join(ends)}"))
    width = max((len(row[2]) for row in rows), default=0)
    rows = [(*row[:2], f"{row[2]:<{width}}", row[3]) for row in rows]
    return _columns(("sewn cm", "in, to 1/16", "run", "counts"), rows)


def _notches(piece: Piece) -> str:
    rows = []
    for notch, (edge, along) in zip(piece.notches, drawn_notches(piece), strict=True):
        kind = notch.kind if notch.count == 1 else f"{notch.kind} x {notch.count}"
        side = "" if notch.side == "both" else f"{notch.side} only"
        depth = _cm2(notch.depth) if notch.depth else "-"
        label = " ".join(part for part in (notch.name or "", side) if part)
        corner = edge.from_corner or "start"
        start = f"{edge.number} from {corner}"
        rows.append((kind, start, _cm2(along), _inches(along), depth, label))
    head = ("notch", "on edge", "at cm", "at in", "depth cm", "name")
    return _columns(head, rows)


def _quantity(piece: Piece) -> str:
    parts = ", ".join(f"{q.count} {q.material}" for q in piece.quantity)
    if not parts:
        parts = "how many is not said"
    return f"{parts}; a pair, half of them turned over" if piece.pair else parts


def _grain(piece: Piece) -> str:
    if piece.grain is None:
        return "none drawn"
    (x0, y0), (x1, y1) = piece.grain.start, piece.grain.end
    ways = "one way" if piece.grain.ends == 1 else "both ways"
    turn = math.degrees(math.atan2(y1 - y0, x1 - x0)) % (360 if piece.grain.ends == 1 else 180)
    known = {0: "across the page", 90: "up the page", 270: "down the page", 360: "across the page"}
    known[180] = "across the page" + (" to the left" if piece.grain.ends == 1 else "")
    for angle, words in known.items():
        if abs(turn - angle) < 0.05:
            return f"{words}, {ways}"
    return f"turned {turn:.1f} degrees counter-clockwise from level, {ways}"


def _axes(piece: Piece) -> str:
    from ..model.frame import axis_frame

    frame, _ = axis_frame(piece)
    if not frame.away_from or frame.centre is not None or abs(frame.out[0]) < 0.5:
        return frame.words()
    return f"{frame.words()}, to the {'right' if frame.out[0] > 0 else 'left'}"


def _extras(piece: Piece) -> str:
    def group(found: Sequence[object], one: str, names: Iterable[str | None] = ()) -> str:
        if not found:
            return ""
        known = ", ".join(sorted({n for n in names if n}))
        word = one if len(found) == 1 else f"{one}s"
        return f"{len(found)} {word}" + (f" ({known})" if known else "")

    darts = [d.name for d in piece.darts] + [eye.name for eye in eye_darts(piece)]
    marks = [m for m in piece.marks if not is_eye_dart(m)]
    return "; ".join(
        text
        for text in (
            group(darts, "dart", darts),
            group(piece.pleats, "pleat", (p.name for p in piece.pleats)),
            group(piece.drills, "drill hole", (d.name for d in piece.drills)),
            group(marks, "mark", (m.name or m.kind for m in marks)),
            group(piece.cutouts, "cut-out", (c.name for c in piece.cutouts)),
            group(piece.adjusts, "lengthen-or-shorten line", (a.name for a in piece.adjusts)),
            group(piece.holds, "held group", (h.name for h in piece.holds)),
            group(piece.labels, "label"),
        )
        if text
    )


def _named(name: str | None, rule: str | None) -> str:
    text = name or ""
    if not rule or rule == name:
        return text
    if is_mixture(rule):
        rules = ", ".join(parse_mixture(rule).rules)
        return f"{text} [mixture of {rules}]".strip()
    return f"{text} [rule {rule}]".strip()


def _columns(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Right-aligned columns under their heads, the last one to the left."""
    if not rows:
        return ""
    count = len(head) - 1
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(count)]
    return "\n".join(
        ("  " + "  ".join([*(row[i].rjust(widths[i]) for i in range(count)), row[-1]])).rstrip()
        for row in (head, *rows)
    )


def _list(title: str, rows: Iterable[str]) -> str:
    lines = [title]
    for row in rows:
        lines += textwrap.wrap(
            row, _WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
        )
    return "\n".join(lines)


def _fact(word: str, text: str) -> list[str]:
    first = f"  {word:<{_FACT}}"
    return textwrap.wrap(
        text, _WIDTH, initial_indent=first, subsequent_indent=" " * len(first)
    ) or [first]


def _two(word: str, metric: str, imperial: str) -> str:
    return f"  {word:<{_FACT}}{metric:<16}{imperial}"


def _inches(mm: float) -> str:
    return format_length(mm, Unit.IN, mark="").removesuffix(" in")


def _cm(mm: float) -> str:
    return format_length(mm, Unit.CM).removesuffix(" cm")


def _cm2(mm: float) -> str:
    """Centimetres with two decimals, for columns."""
    return f"{Unit.CM.from_mm(mm) + 0.0:.2f}"
