"""Nests as printers draw them, out of graded patterns, written by code that is not ours."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from sizewright.geometry import Path
from sizewright.geometry.nearest import nearest
from sizewright.model import Pattern, Piece
from tests import operations

MM = 72 / 25.4
SIZES = ("8", "10", "12", "14", "16", "18")
COLOURS = ("#d00000", "#0060d0", "#008040", "#e08000", "#8000a0", "#00a0a0", "#804020", "#606060")
DASHES: tuple[tuple[float, ...], ...] = (
    (), (6, 2), (2, 2), (8, 2, 1, 2), (4, 4), (12, 3), (0.8, 1.6), (10, 2, 1, 2, 1, 2),
)  # fmt: skip
WIDTHS = (0.2, 0.35, 0.5, 0.7, 0.9, 1.2, 1.5, 1.8)


@dataclass(frozen=True)
class Line:
    """One drawn line: its path, how it is drawn, and its layer."""

    path: Path
    colour: str = "#000000"
    width: float = 0.35
    dashes: tuple[float, ...] = ()
    layer: str = "pattern"


@dataclass(frozen=True)
class Word:
    """One word: where it begins, and how high its letters are, mm."""

    text: str
    at: tuple[float, float]
    height: float = 4.0
    colour: str = "#000000"
    layer: str = "pattern"


Drawn = list[Line | Word]


def sizes_of(pattern: Pattern, name: str) -> dict[str, Piece]:
    """One piece in all its sizes."""
    return {str(p.size): p for p in pattern.pieces if p.name == name}


# --- what is drawn ---------------------------------------------------------------------------


def nest(
    names: Sequence[str],
    by: str = "colour",
    *,
    sizes: tuple[str, ...] = SIZES,
    share: str = "none",
    words: str = "beside",
    split: bool = False,
) -> Drawn:
    """A nest of some pieces of the basic set.

    `by` is what tells sizes apart: `colour`, `dash`, `width`, `layer` or `nothing`. `share`:
    `none`, every size is drawn whole; `fold`, the fold is one black line for all; `first`, no
    size draws again what a smaller one has drawn. `words` are size words `beside` the lines, in
    a `key` of sample lines, or `none`. `split` draws each edge as a line of its own.
    """
    pattern = operations.nest("basic-set", *sizes)
    styles = {size: style(k, by, size) for k, size in enumerate(sizes)}
    drawn: Drawn = []
    left = 20.0
    for name in names:
        pieces = sizes_of(pattern, name)
        bounds = np.array([p.outline.path.bounds for p in pieces.values()])
        shift = np.array([left - bounds[:, 0].min(), 60.0 - bounds[:, 1].min()])
        left += float(bounds[:, 2].max() - bounds[:, 0].min()) + 30
        drawn += _piece(pieces, shift, styles, share, words, split)
    if words == "key":
        for k, (size, one) in enumerate(styles.items()):
            at = np.array([20.0 + 60 * k, 20.0])
            drawn.append(one(Path.polyline([at, at + np.array([25, 0])])))
            drawn.append(Word(size, (float(at[0]) + 28, 18.5)))
    return drawn


def style(k: int, by: str, size: str) -> Callable[[Path], Line]:
    """How the k-th size is drawn."""
    match by:
        case "colour":
            return lambda path: Line(path, colour=COLOURS[k])
        case "dash":
            return lambda path: Line(path, dashes=DASHES[k])
        case "width":
            return lambda path: Line(path, width=WIDTHS[k])
        case "layer":
            return lambda path: Line(path, layer=size)
    return Line


def moved(path: Path, shift: np.ndarray) -> Path:
    """A path laid elsewhere."""
    return path.with_controls(path.controls + shift)


def _piece(
    pieces: dict[str, Piece],
    shift: np.ndarray,
    styles: dict[str, Callable[[Path], Line]],
    share: str,
    words: str,
    split: bool,
) -> Drawn:
    drawn: Drawn = []
    before: list[Path] = []
    folds = []
    for k, (size, piece) in enumerate(pieces.items()):
        whole = moved(piece.outline.path, shift)
        parts = [whole]
        if share == "fold" and piece.fold is not None:
            folds.append(whole.segments(piece.fold.start, piece.fold.end))
            parts = [whole.segments(piece.fold.end, piece.fold.start)]
        elif share == "first":
            parts = _not_yet(whole, before)
            before.append(whole)
        if split:
            parts = [edge for part in parts for edge in _edges(part)]
        drawn += map(styles[size], parts)
        if words == "beside":
            vertex = piece.outline.corners[len(piece.outline.corners) // 2]
            drawn += [_beside(whole, vertex, size, others=len(pieces), k=k)]
    if folds:
        ends = np.array([[f.start, f.end] for f in folds]).reshape(-1, 2)
        along = np.array(folds[0].end) - folds[0].start
        order = (ends @ along).argsort()
        drawn.append(Line(Path.polyline([ends[order[0]], ends[order[-1]]]), layer="all"))
    first = next(iter(pieces.values()))
    if first.grain is not None:
        grain = np.array([first.grain.start, first.grain.end]) + shift
        drawn.append(Line(Path.polyline(grain), layer="all"))
        drawn.append(Word(first.name, tuple(grain.mean(axis=0) + np.array([4, 8])), 6, layer="all"))
    return drawn


def _beside(path: Path, vertex: int, size: str, others: int, k: int) -> Word:
    """A size word on the line itself, a little on from a corner."""
    at = path.at((path.cumulative[vertex] + 12) % path.length)
    return Word(size, (float(at[0]) - 1, float(at[1]) - 1.2), 2.4)


def _edges(path: Path) -> list[Path]:
    opened = path.opened() if path.closed else path
    cuts = [0, *(i for i in range(1, len(opened)) if abs(opened.turns[i]) > 3), len(opened)]
    return [opened.segments(a, b) for a, b in pairwise(cuts)]


def _not_yet(path: Path, before: Sequence[Path]) -> list[Path]:
    """What of a closed line does not lie on lines drawn before."""
    if not before:
        return [path]

    def on(s: np.ndarray) -> np.ndarray:
        places = path.at(np.mod(s, path.length))
        return np.min([nearest(b, places).distance for b in before], axis=0) < 2e-3

    s = np.union1d(np.linspace(0, path.length, int(path.length)), path.cumulative)
    middle = (s[:-1] + s[1:]) / 2
    free = ~on(middle)
    # Where lines only cross, nothing is shared.
    runs = np.flatnonzero(np.diff(np.concatenate([[True], free, [True]]).astype(int)))
    for a, b in zip(runs[::2], runs[1::2], strict=True):
        free[a:b] |= s[b] - s[a] < 5
    if free.all():
        return [path]
    first = int(np.flatnonzero(~free)[0])
    turned = np.roll(free, -first)
    starts = np.roll(s[:-1], -first)
    found, begin = [], None
    for k, is_free in enumerate([*turned, False]):
        at = starts[k % len(starts)]
        if is_free and begin is None:
            begin = _edge(path, on, at)
        elif not is_free and begin is not None:
            end = _edge(path, on, at)
            if (end - begin) % path.length > 0.5:
                found.append(path.part(begin, end))
            begin = None
    return found


def _edge(path: Path, on: Callable[[np.ndarray], np.ndarray], at: float) -> float:
    """Where a line leaves another, about `at`."""
    low, high = at - 2.0, at + 2.0
    if bool(on(np.array([low]))[0]) == bool(on(np.array([high]))[0]):
        return float(at % path.length)
    began = bool(on(np.array([low]))[0])
    for _ in range(22):  # to 1e-6 mm
        half = (low + high) / 2
        if bool(on(np.array([half]))[0]) == began:
            low = half
        else:
            high = half
    return float(high % path.length)


# --- writers -----------------------------------------------------------------------------------


def _page(drawn: Iterable[Line | Word]) -> tuple[float, float]:
    boxes = np.array([one.path.bounds for one in drawn if isinstance(one, Line)])
    return float(boxes[:, 2].max()) + 20, float(boxes[:, 3].max()) + 20


def as_svg(drawn: Drawn) -> bytes:
    """As SVG written by hand, layers as groups with labels."""
    width, height = _page(drawn)
    layers: dict[str, list[str]] = {}
    for one in drawn:
        rows = layers.setdefault(one.layer, [])
        if isinstance(one, Word):
            x, y = one.at[0], height - one.at[1]
            rows.append(
                f'<text x="{x:.3f}" y="{y:.3f}" font-size="{one.height}" fill="{one.colour}">'
                f"{one.text}</text>"
            )
            continue
        dashes = " ".join(f"{d:g}" for d in one.dashes)
        rows.append(
            f'<path d="{_data(one.path, height)}" fill="none" stroke="{one.colour}" '
            f'stroke-width="{one.width}"'
            + (f' stroke-dasharray="{dashes}"' if dashes else "")
            + "/>"
        )
    inkscape = "http://www.inkscape.org/namespaces/inkscape"
    groups = "".join(
        f'<g inkscape:groupmode="layer" inkscape:label="{layer}">{"".join(rows)}</g>'
        for layer, rows in layers.items()
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="{inkscape}" '
        f'width="{width:.3f}mm" height="{height:.3f}mm" viewBox="0 0 {width:.3f} {height:.3f}">'
        f"{groups}</svg>"
    ).encode()


def _data(path: Path, height: float) -> str:
    def put(p: np.ndarray) -> str:
        return f"{p[0]:.4f},{height - p[1]:.4f}"

    parts = [f"M{put(path.start)}"]
    for controls, line in zip(path.controls, path.lines, strict=True):
        parts.append(f"L{put(controls[3])}" if line else "C" + " ".join(map(put, controls[1:])))
    return "".join(parts) + ("Z" if path.closed else "")


def as_reportlab(drawn: Drawn) -> bytes:
    """As a PDF of one page, by reportlab."""
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    width, height = _page(drawn)
    canvas = Canvas(out, pagesize=(width * MM, height * MM), invariant=1)
    for one in drawn:
        if isinstance(one, Word):
            canvas.setFont("Helvetica", one.height * MM)
            canvas.setFillColor(one.colour)
            canvas.drawString(one.at[0] * MM, one.at[1] * MM, one.text)
            continue
        canvas.setStrokeColor(one.colour)
        canvas.setLineWidth(one.width * MM)
        canvas.setDash([d * MM for d in one.dashes])
        path = canvas.beginPath()
        path.moveTo(*(one.path.start * MM))
        for controls, line in zip(one.path.controls, one.path.lines, strict=True):
            if line:
                path.lineTo(*(controls[3] * MM))
            else:
                path.curveTo(*(controls[1:] * MM).ravel())
        if one.path.closed:
            path.close()
        canvas.drawPath(path)
    canvas.save()
    return out.getvalue()


def as_dxf(drawn: Drawn) -> bytes:
    """As DXF by ezdxf: splines and lines, colours and line types by entity, layers as said."""
    import ezdxf
    from ezdxf import colors

    doc = ezdxf.new("R2010", setup=True)
    doc.units = 4
    space: Any = doc.modelspace()
    types = ("CONTINUOUS", "DASHED", "DOT", "DASHDOT", "CENTER", "PHANTOM", "DIVIDE", "BORDER")
    for one in drawn:
        if one.layer not in doc.layers:
            doc.layers.add(one.layer)
        about = {"layer": one.layer, "true_color": colors.rgb2int(_rgb(one.colour))}
        if isinstance(one, Word):
            space.add_text(one.text, height=one.height, dxfattribs=about).set_placement(one.at)
            continue
        about["linetype"] = types[DASHES.index(one.dashes)]
        about["lineweight"] = round(one.width * 100) if one.width in (0.35, 0.5, 0.7, 0.2) else 100
        for controls, line in zip(one.path.controls, one.path.lines, strict=True):
            if line:
                space.add_line(controls[0], controls[3], dxfattribs=about)
            else:
                space.add_open_spline(controls, dxfattribs=about)
    text = io.StringIO()
    doc.write(text)
    return text.getvalue().encode()


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
