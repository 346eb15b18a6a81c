"""Pieces drawn for people: pictures to read (SVG), and full-size drawings to cut from.

A drawing is a `Sketch`: strokes, dots and words in mm, y up, which any output can put on
its own kind of page.
"""

from .facts import allowance_words, cutting_words
from .lay_picture import Ground, LaySheet, Lying, lay_picture
from .nest_picture import Move, nest_picture
from .nesting import laid_over, nested, sizes_in_order
from .on_pages import Pages
from .piece_picture import piece_picture
from .printed import printed_nest, printed_piece, size_lines
from .room import Box
from .sheet import picture
from .sketch import Dot, Sketch, Stroke, Words

__all__ = [
    "Box",
    "Dot",
    "Ground",
    "LaySheet",
    "Lying",
    "Move",
    "Pages",
    "Sketch",
    "Stroke",
    "Words",
    "allowance_words",
    "cutting_words",
    "laid_over",
    "lay_picture",
    "nest_picture",
    "nested",
    "picture",
    "piece_picture",
    "printed_nest",
    "printed_piece",
    "size_lines",
    "sizes_in_order",
]
