"""Drafting: one way to cut and remake outlines, and what follows an edit."""

from .cutting_line import allowance_faults, cutting_line, tight_places, with_cutting_line
from .told_allowances import EdgeAllowance, edge_allowances, known_allowances, measured_allowances

__all__ = [
    "EdgeAllowance",
    "allowance_faults",
    "cutting_line",
    "edge_allowances",
    "known_allowances",
    "measured_allowances",
    "tight_places",
    "with_cutting_line",
]
