"""The cutting line: derived from a sewing line and its allowance, and proved against both."""

from .derive import cutting_line, with_cutting_line
from .proof import allowance_faults, tight_places

__all__ = ["allowance_faults", "cutting_line", "tight_places", "with_cutting_line"]
