"""Drafting: one way to cut and remake outlines, and what follows an edit.

An edit tells each new outline as a ring of stretches of old ones and new lines; `redraft`
does it in every size and rewrites the seams. A cutting line is derived from what is meant by
the allowance. The public door of the room.
"""

from .arches import ArchSide, arch_height, arch_sides, raised
from .cutting_line import allowance_faults, cutting_line, tight_places, with_cutting_line
from .dart_takes import darts_within, taken_up
from .divide import divide
from .drafted import (
    APART,
    drafted_piece,
    drafted_strip,
    lengthwise_grain,
    lower_left,
    placed_beside,
    with_drafted,
)
from .fairing import Restretched, faired, room, with_stretch, with_vertices
from .lines import LineAsked, inner_parallel
from .mates import graded_from_drawn, mates_to_follow, still_to_follow
from .mouths import PressedTo, bent, dart_cap, folded_cap, pressed_to
from .opening import open_out
from .redraft import Edit, Redrafted, redraft
from .ring import Line, Ring, Settled, Slides, Span, Zone
from .sizes import base_first, drawn_sizes, with_remade
from .slashing import runs_over, slashed
from .sliding import SeamEnd, seam_ends, slid
from .staying import staying
from .structure import prove
from .told_allowances import EdgeAllowance, edge_allowances, known_allowances, measured_allowances
from .true_edge import true_edge

__all__ = [
    "APART",
    "ArchSide",
    "EdgeAllowance",
    "Edit",
    "Line",
    "LineAsked",
    "PressedTo",
    "Redrafted",
    "Restretched",
    "Ring",
    "SeamEnd",
    "Settled",
    "Slides",
    "Span",
    "Zone",
    "allowance_faults",
    "arch_height",
    "arch_sides",
    "base_first",
    "bent",
    "cutting_line",
    "dart_cap",
    "darts_within",
    "divide",
    "drafted_piece",
    "drafted_strip",
    "drawn_sizes",
    "edge_allowances",
    "faired",
    "folded_cap",
    "graded_from_drawn",
    "inner_parallel",
    "known_allowances",
    "lengthwise_grain",
    "lower_left",
    "mates_to_follow",
    "measured_allowances",
    "open_out",
    "placed_beside",
    "pressed_to",
    "prove",
    "raised",
    "redraft",
    "room",
    "runs_over",
    "seam_ends",
    "slashed",
    "slid",
    "staying",
    "still_to_follow",
    "taken_up",
    "tight_places",
    "true_edge",
    "with_cutting_line",
    "with_drafted",
    "with_remade",
    "with_stretch",
    "with_vertices",
]
