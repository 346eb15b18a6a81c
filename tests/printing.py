"""Patterns to print, and printed pages as pictures."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from functools import cache
from pathlib import Path as FilePath
from typing import Any

import numpy as np
from PIL import Image

from sizewright.geometry.path import Path
from sizewright.jobs.files import open_pattern
from sizewright.model import Grain, Outline, Pattern, Piece, parse_quantity
from sizewright.plugin import Output, check_settings
from sizewright_plugins.tiling import add_writers
from sizewright_plugins.tiling.layout import Layout, lay_out
from tests.programs import need

FEATURES = FilePath(__file__).parent / "fixtures" / "features.svg"
WRITER = add_writers()[0]


def settings(**given: Any) -> dict[str, Any]:
    """Checked settings of the writer."""
    return check_settings("pages", WRITER.settings, given)


def layout_of(pattern: Pattern, **given: Any) -> Layout:
    """The sheet that the writer would print."""
    return lay_out(pattern, settings(**given))[0]


def written(pattern: Pattern, **given: Any) -> Output:
    """What the writer writes."""
    output = WRITER.write(pattern, settings(**given))
    assert isinstance(output, Output)
    return output


@cache
def drawn() -> Pattern:
    """The fixture with every feature, one size."""
    return open_pattern(FEATURES).pattern


def rectangle(name: str, width: float, height: float, **fields: Any) -> Piece:
    """An upright rectangle with its allowance, from the origin."""
    path = Path.polyline([[0, 0], [width, 0], [width, height], [0, height]], closed=True)
    grain = Grain((width / 2, height * 0.15), (width / 2, height * 0.85))
    return Piece(name, Outline.of(path), kind="cut", allowance=15.0, grain=grain, **fields)


def in_sizes(pattern: Pattern, sizes: tuple[str, ...] = ("8", "10", "12", "14", "16")) -> Pattern:
    """The pattern in several sizes, each a little wider and longer than the one before."""
    pieces = []
    middle = sizes[len(sizes) // 2]
    for k, size in enumerate(sizes):
        step = k - len(sizes) // 2
        wide, tall = 1 + 0.035 * step, 1 + 0.01 * step
        for piece in pattern.pieces:
            x0, _, x1, y1 = piece.bounds
            fold = piece.fold and piece.outline.vertex_at(piece.fold.start)[0]
            still = float(fold) if fold is not None else (x0 + x1) / 2
            m = np.array([[wide, 0, still * (1 - wide)], [0, tall, y1 * (1 - tall)]])
            pieces.append(replace(piece.transformed(m), size=size, labels=()))
    return replace(pattern, pieces=tuple(pieces), base_size=middle)


def wardrobe() -> Pattern:
    """A dozen pieces, wide and narrow, straight and curved, in one size."""
    main = parse_quantity("main 2")
    base = drawn().pieces
    return Pattern(
        (
            *base,
            *(replace(p, name=f"{p.name} lining", labels=()) for p in base),
            rectangle("waistband", 60, 740, quantity=main),
            rectangle("skirt front", 560, 700, quantity=main),
            rectangle("skirt back", 560, 700, quantity=main),
            rectangle("tie", 25, 900, quantity=main, pair=True),
            rectangle("loop", 8, 60),
            rectangle("tab", 40, 70, quantity=parse_quantity("main 4")),
        ),
        title="Wardrobe",
    )


def raster(pdf: FilePath, page: int, dpi: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """One page as grey, 0 black to 1 white, rows from the top."""
    out = pdf.with_suffix("")
    command = [need("pdftoppm"), "-r", str(dpi), "-f", str(page), "-l", str(page), "-gray",
               "-singlefile", str(pdf), str(out)]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True)
    with Image.open(out.with_suffix(".pgm")) as image:
        return np.asarray(image, dtype=np.float64) / 255


def told(program: str, *arguments: str) -> str:
    """What a poppler program prints."""
    return subprocess.run(
        [need(program), *arguments], check=True, capture_output=True, text=True
    ).stdout
