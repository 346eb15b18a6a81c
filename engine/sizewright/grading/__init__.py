"""Grading: tables of rules and sizes, the grade map, truing.

The public door of the room. Amounts are in mm; axes are each piece's own (see `Frame`).
"""

from .asked import base_pieces, check_points, named_alike, with_points
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
from .grade import Graded, grade
from .learn import Learned, learn
from .levels import LEVELS, LevelPoint, level_name, level_points
from .map import GradeMap, grade_map
from .mixed import SizedPiece, sized_pieces
from .mixtures import with_mixtures, with_rule_weights
from .nest import Step, nest_growth
from .plausible import doubtful_tables
from .sizes import same_size, shown_size, size_at
from .table_files import (
    read_chart,
    read_points,
    read_rules,
    write_chart,
    write_points,
    write_rules,
)
from .tables import AXES, Amount, Axis, Growth, PointRule, RuleTable, ShareRule, SizeChart, StepRule
from .target import MAIN, Asked, main_measure, wanted_sizes
from .true_seams import true_seams
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
