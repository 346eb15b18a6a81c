"""Drafting: one way to cut and remake outlines, and what follows an edit.

An edit tells each new outline as a ring of stretches of old ones and new lines; `redraft`
does it in every size and rewrites the seams. A cutting line is derived from what is meant by
the allowance. The public door of the room.
"""

from .cutting_line import allowance_faults, cutting_line, tight_places, with_cutting_line
from .divide import divide
from .opening import open_out
from .redraft import Edit, Redrafted, redraft
from .ring import Line, Ring, Settled, Span, Zone
from .structure import prove
from .told_allowances import EdgeAllowance, edge_allowances, known_allowances, measured_allowances

__all__ = [
    "EdgeAllowance",
    "Edit",
    "Line",
    "Redrafted",
    "Ring",
    "Settled",
    "Span",
    "Zone",
    "allowance_faults",
    "cutting_line",
    "divide",
    "edge_allowances",
    "known_allowances",
    "measured_allowances",
    "open_out",
    "prove",
    "redraft",
    "tight_places",
    "with_cutting_line",
]
