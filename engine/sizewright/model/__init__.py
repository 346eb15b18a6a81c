"""The model: patterns, pieces, outlines, seams. Frozen, in mm, y up."""

from .allowances import edge_allowances
from .counting import counts_backward
from .features import (
    MIRRORED,
    NOTCH_KINDS,
    Adjust,
    Axis,
    Cutout,
    Dart,
    Drill,
    Fold,
    Grain,
    Hold,
    Label,
    Mark,
    Notch,
    NotchKind,
    Pleat,
    Quantity,
    format_quantity,
    parse_quantity,
)
from .frame import CENTRES, Frame, axis_frame
from .matching import SeamMatch, match_seam, place_seam_notches
from .outline import CORNER_ANGLE, Edge, Outline, Point, Run, Spot, number_corners
from .pattern import Pattern
from .piece import OutlineKind, Piece
from .place import Place, find_place, parse_place
from .references import RunReference, find_run, parse_run, split_reference
from .seam_text import format_chain, format_seam, parse_chain, parse_seam, parse_seams
from .seams import ChainPart, Ease, PairedNotch, Seam
from .vec import Side, Vec
from .walk import ChainStep, ChainWalk, Walk, run_ends, walk, walk_chain

__all__ = [
    "CENTRES",
    "CORNER_ANGLE",
    "MIRRORED",
    "NOTCH_KINDS",
    "Adjust",
    "Axis",
    "ChainPart",
    "ChainStep",
    "ChainWalk",
    "Cutout",
    "Dart",
    "Drill",
    "Ease",
    "Edge",
    "Fold",
    "Frame",
    "Grain",
    "Hold",
    "Label",
    "Mark",
    "Notch",
    "NotchKind",
    "Outline",
    "OutlineKind",
    "PairedNotch",
    "Pattern",
    "Piece",
    "Place",
    "Pleat",
    "Point",
    "Quantity",
    "Run",
    "RunReference",
    "Seam",
    "SeamMatch",
    "Side",
    "Spot",
    "Vec",
    "Walk",
    "axis_frame",
    "counts_backward",
    "edge_allowances",
    "find_place",
    "find_run",
    "format_chain",
    "format_quantity",
    "format_seam",
    "match_seam",
    "number_corners",
    "parse_chain",
    "parse_place",
    "parse_quantity",
    "parse_run",
    "parse_seam",
    "parse_seams",
    "place_seam_notches",
    "run_ends",
    "split_reference",
    "walk",
    "walk_chain",
]
