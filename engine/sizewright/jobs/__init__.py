"""Jobs: what the command line does; tables of seams, joints and pieces; grade rules as the open
standard tells them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..lazy import door

if TYPE_CHECKING:
    from .joint_table import joint_data
    from .rule_files import numbered
    from .seam_table import SeamRow, seam_rows
    from .summary import summarise_piece

__all__ = ["SeamRow", "joint_data", "numbered", "seam_rows", "summarise_piece"]

_HOMES = {
    "SeamRow": "seam_table",
    "joint_data": "joint_table",
    "numbered": "rule_files",
    "seam_rows": "seam_table",
    "summarise_piece": "summary",
}

__getattr__ = door(__name__, _HOMES)
