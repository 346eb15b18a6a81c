"""Jobs: files in and out, and whole jobs, as the command line runs them; tables of seams, joints
and pieces; grade rules as the open standard tells them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..lazy import door

if TYPE_CHECKING:
    from .commands import Told, run_job_file
    from .files import encode_pattern, open_pattern, save_pattern
    from .joint_table import joint_data
    from .rule_files import numbered
    from .seam_table import SeamRow, seam_rows
    from .summary import summarise_piece

__all__ = [
    "SeamRow",
    "Told",
    "encode_pattern",
    "joint_data",
    "numbered",
    "open_pattern",
    "run_job_file",
    "save_pattern",
    "seam_rows",
    "summarise_piece",
]

_HOMES = {
    "SeamRow": "seam_table",
    "Told": "commands",
    "encode_pattern": "files",
    "joint_data": "joint_table",
    "numbered": "rule_files",
    "open_pattern": "files",
    "run_job_file": "commands",
    "save_pattern": "files",
    "seam_rows": "seam_table",
    "summarise_piece": "summary",
}

__getattr__ = door(__name__, _HOMES)
