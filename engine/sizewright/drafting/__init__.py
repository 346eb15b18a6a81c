"""Drafting: one way to cut and remake outlines, and what follows an edit.

An edit tells each new outline as a ring of stretches of old ones and new lines; `redraft`
does it in every size and rewrites the seams. A cutting line is derived from what is meant by
the allowance. The public door of the room.
"""

from .cutting_line import allowance_faults, cutting_line, tight_places, with_cutting_line
from .divide import divide
from .drafted import drafted_piece, lengthwise_grain, with_drafted
from .fairing import Restretched, faired, with_stretch, with_vertices
from .lines import LineAsked, inner_parallel
from .redraft import Edit, Redrafted, redraft
from .ring import Line, Ring, Settled, Span, Zone
from .sliding import SeamEnd, seam_ends, slid
from .structure import prove
from .told_allowances import EdgeAllowance, edge_allowances, known_allowances, measured_allowances
from .true_edge import true_edge

__all__ = [
    "EdgeAllowance",
    "Edit",
    "Line",
    "LineAsked",
    "Redrafted",
    "Restretched",
    "Ring",
    "SeamEnd",
    "Settled",
    "Span",
    "Zone",
    "allowance_faults",
    "cutting_line",
    "divide",
    "drafted_piece",
    "edge_allowances",
    "faired",
    "inner_parallel",
    "known_allowances",
    "lengthwise_grain",
    "measured_allowances",
    "prove",
    "redraft",
    "seam_ends",
    "slid",
    "tight_places",
    "true_edge",
    "with_cutting_line",
    "with_drafted",
    "with_stretch",
    "with_vertices",
]
