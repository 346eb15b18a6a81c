"""Drafting: one way to cut and remake outlines, and what follows an edit.

An edit tells each new outline as a ring of stretches of old ones and new lines; `redraft`
does it in every size and rewrites the seams. The public door of the room.
"""

from .divide import divide
from .redraft import Edit, Redrafted, redraft
from .ring import Line, Ring, Settled, Span, Zone
from .structure import prove

__all__ = [
    "Edit",
    "Line",
    "Redrafted",
    "Ring",
    "Settled",
    "Span",
    "Zone",
    "divide",
    "prove",
    "redraft",
]
