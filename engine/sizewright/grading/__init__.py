"""Grading: tables of rules and sizes, the grade map, truing.

The public door of the room. Amounts are in mm; axes are each piece's own (see `Frame`). Names
are imported when they are first asked for, so that grading does not cost the time of learning.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..lazy import door

if TYPE_CHECKING:
    from .asked import base_pieces, check_points, named_alike, with_points
    from .by_rules import Graded, grade
    from .choose import (
        FRAME_BUST,
        GARMENTS,
        GOES_BY,
        HEIGHT,
        Fit,
        Garment,
        by_height,
        fit_measures,
        frame_fit,
        garment_size,
    )
    from .drawn_nest import nest_sizes, size_from_nest
    from .fade import Fade
    from .given_back import OutlineResidual, PointResidual
    from .learning import Learned, learn
    from .levels import LEVELS, LevelPoint, level_name, level_points
    from .map import GradeMap, grade_map
    from .mixed import SizedPiece, sized_pieces
    from .mixtures import with_mixtures, with_rule_weights
    from .nest import Step, nest_growth
    from .plausible import doubtful_tables
    from .seam_lengths import true_seams
    from .sizes import same_size, shown_size, size_at
    from .table_files import (
        read_chart,
        read_points,
        read_rules,
        write_chart,
        write_points,
        write_rules,
    )
    from .tables import (
        AXES,
        Amount,
        Axis,
        Growth,
        PointRule,
        RuleTable,
        ShareRule,
        SizeChart,
        StepRule,
    )
    from .target import MAIN, Asked, main_measure, wanted_sizes
    from .truing import Truing
    from .uncut import without_allowance

__all__ = [
    "AXES",
    "FRAME_BUST",
    "GARMENTS",
    "GOES_BY",
    "HEIGHT",
    "LEVELS",
    "MAIN",
    "Amount",
    "Asked",
    "Axis",
    "Fade",
    "Fit",
    "Garment",
    "GradeMap",
    "Graded",
    "Growth",
    "Learned",
    "LevelPoint",
    "OutlineResidual",
    "PointResidual",
    "PointRule",
    "RuleTable",
    "ShareRule",
    "SizeChart",
    "SizedPiece",
    "Step",
    "StepRule",
    "Truing",
    "base_pieces",
    "by_height",
    "check_points",
    "doubtful_tables",
    "fit_measures",
    "frame_fit",
    "garment_size",
    "grade",
    "grade_map",
    "learn",
    "level_name",
    "level_points",
    "main_measure",
    "named_alike",
    "nest_growth",
    "nest_sizes",
    "read_chart",
    "read_points",
    "read_rules",
    "same_size",
    "shown_size",
    "size_at",
    "size_from_nest",
    "sized_pieces",
    "true_seams",
    "wanted_sizes",
    "with_mixtures",
    "with_points",
    "with_rule_weights",
    "without_allowance",
    "write_chart",
    "write_points",
    "write_rules",
]

_HOMES = {
    "AXES": "tables",
    "FRAME_BUST": "choose",
    "GARMENTS": "choose",
    "GOES_BY": "choose",
    "HEIGHT": "choose",
    "LEVELS": "levels",
    "MAIN": "target",
    "Amount": "tables",
    "Asked": "target",
    "Axis": "tables",
    "Fade": "fade",
    "Fit": "choose",
    "Garment": "choose",
    "GradeMap": "map",
    "Graded": "by_rules",
    "Growth": "tables",
    "Learned": "learning",
    "LevelPoint": "levels",
    "OutlineResidual": "given_back",
    "PointResidual": "given_back",
    "PointRule": "tables",
    "RuleTable": "tables",
    "ShareRule": "tables",
    "SizeChart": "tables",
    "SizedPiece": "mixed",
    "Step": "nest",
    "StepRule": "tables",
    "Truing": "truing",
    "base_pieces": "asked",
    "by_height": "choose",
    "check_points": "asked",
    "doubtful_tables": "plausible",
    "fit_measures": "choose",
    "frame_fit": "choose",
    "garment_size": "choose",
    "grade": "by_rules",
    "grade_map": "map",
    "learn": "learning",
    "level_name": "levels",
    "level_points": "levels",
    "main_measure": "target",
    "named_alike": "asked",
    "nest_growth": "nest",
    "nest_sizes": "drawn_nest",
    "read_chart": "table_files",
    "read_points": "table_files",
    "read_rules": "table_files",
    "same_size": "sizes",
    "shown_size": "sizes",
    "size_at": "sizes",
    "size_from_nest": "drawn_nest",
    "sized_pieces": "mixed",
    "true_seams": "seam_lengths",
    "wanted_sizes": "target",
    "with_mixtures": "mixtures",
    "with_points": "asked",
    "with_rule_weights": "mixtures",
    "without_allowance": "uncut",
    "write_chart": "table_files",
    "write_points": "table_files",
    "write_rules": "table_files",
}

__getattr__ = door(__name__, _HOMES)
