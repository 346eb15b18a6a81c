"""The model: patterns, pieces, outlines, seams. Frozen, in mm, y up."""

from .allowance_text import format_allowances, parse_allowances
from .allowances import CORNER_KINDS, MITRE_LIMIT, Allowances, CornerKind, CornerShape, WidthStretch
from .amount import Amount, parse_amount
from .body import Body, format_bodies, parse_bodies
from .carrying import Carry, free_points, moved, renumbered, with_free_points
from .counting import counts_backward
from .eye_darts import EyeDart, eye_darts, is_diamond, is_eye_dart, says_dart
from .features import (
    MIRRORED,
    NOTCH_KINDS,
    Adjust,
    Axis,
    Cutout,
    Dart,
    Drill,
    Fold,
    Grain,
    Hold,
    Label,
    Mark,
    Notch,
    NotchKind,
    Pleat,
    Quantity,
    format_quantity,
    parse_quantity,
)
from .frame import CENTRES, Frame, across_centre, axis_frame, drafting_axis
from .joints import JointSide, SewnJoint, dart_joints, sewn_joints
from .matching import SEAM_TOLERANCE, SeamMatch, match_seam, place_seam_notches, unjudged
from .mixture import Mixture, format_mixture, is_mixture, parse_mixture
from .mouths import refuse_wide, run_round
from .outline import CORNER_ANGLE, Edge, Outline, Point, Run, Spot, number_corners
from .pattern import Pattern
from .piece import FEATURES, Faces, OutlineKind, Piece
from .place import Located, Place, find_place, locate, on_outline, parse_place
from .references import RunReference, find_run, parse_run, split_reference
from .rule_weights import RuleWeights
from .seam_text import format_chain, format_seam, parse_chain, parse_seam, parse_seams
from .seams import ChainPart, Ease, PairedNotch, Seam
from .vec import Side, Vec
from .walk import ChainStep, ChainWalk, Walk, run_ends, walk, walk_chain
from .wearer import faces, right_of_centre, sides_unknown

__all__ = [
    "CENTRES",
    "CORNER_ANGLE",
    "CORNER_KINDS",
    "FEATURES",
    "MIRRORED",
    "MITRE_LIMIT",
    "NOTCH_KINDS",
    "SEAM_TOLERANCE",
    "Adjust",
    "Allowances",
    "Amount",
    "Axis",
    "Body",
    "Carry",
    "ChainPart",
    "ChainStep",
    "ChainWalk",
    "CornerKind",
    "CornerShape",
    "Cutout",
    "Dart",
    "Drill",
    "Ease",
    "Edge",
    "EyeDart",
    "Faces",
    "Fold",
    "Frame",
    "Grain",
    "Hold",
    "JointSide",
    "Label",
    "Located",
    "Mark",
    "Mixture",
    "Notch",
    "NotchKind",
    "Outline",
    "OutlineKind",
    "PairedNotch",
    "Pattern",
    "Piece",
    "Place",
    "Pleat",
    "Point",
    "Quantity",
    "RuleWeights",
    "Run",
    "RunReference",
    "Seam",
    "SeamMatch",
    "SewnJoint",
    "Side",
    "Spot",
    "Vec",
    "Walk",
    "WidthStretch",
    "across_centre",
    "axis_frame",
    "counts_backward",
    "dart_joints",
    "drafting_axis",
    "eye_darts",
    "faces",
    "find_place",
    "find_run",
    "format_allowances",
    "format_bodies",
    "format_chain",
    "format_mixture",
    "format_quantity",
    "format_seam",
    "free_points",
    "is_diamond",
    "is_eye_dart",
    "is_mixture",
    "locate",
    "match_seam",
    "moved",
    "number_corners",
    "on_outline",
    "parse_allowances",
    "parse_amount",
    "parse_bodies",
    "parse_chain",
    "parse_mixture",
    "parse_place",
    "parse_quantity",
    "parse_run",
    "parse_seam",
    "parse_seams",
    "place_seam_notches",
    "refuse_wide",
    "renumbered",
    "right_of_centre",
    "run_ends",
    "run_round",
    "says_dart",
    "sewn_joints",
    "sides_unknown",
    "split_reference",
    "unjudged",
    "walk",
    "walk_chain",
    "with_free_points",
]
