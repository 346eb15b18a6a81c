"""Pieces drawn for people: pictures to read (SVG), and full-size drawings to cut from.

A drawing is a `Sketch`: strokes, dots and words in mm, y up, which any output can put on
its own kind of page.
"""

from .canvas import Canvas, escape
from .facts import allowance_words, cutting_words
from .lay_picture import Ground, LaySheet, Lying, lay_picture
from .line_kinds import NumberedLine
from .nest_picture import Move, nest_picture
from .nesting import laid_over, nested, sizes_in_order
from .on_pages import Pages
from .piece_lines import scaled
from .piece_picture import piece_picture
from .printed import LETTERS, printed_nest, printed_piece, size_lines
from .room import Box
from .rows import in_rows, letter_size
from .sheet import picture
from .sketch import Dot, Sketch, Stroke, Words

__all__ = [
    "LETTERS",
    "Box",
    "Canvas",
    "Dot",
    "Ground",
    "LaySheet",
    "Lying",
    "Move",
    "NumberedLine",
    "Pages",
    "Sketch",
    "Stroke",
    "Words",
    "allowance_words",
    "cutting_words",
    "escape",
    "in_rows",
    "laid_over",
    "lay_picture",
    "letter_size",
    "nest_picture",
    "nested",
    "picture",
    "piece_picture",
    "printed_nest",
    "printed_piece",
    "scaled",
    "size_lines",
    "sizes_in_order",
]
