"""Layer numbers of the interchange format, and the names that stand for them in other files."""

from __future__ import annotations

import re
from functools import lru_cache

from ...model import NotchKind

BOUNDARY, TURN, CURVE, NOTCH, REFERENCE, MIRROR, GRAIN, INTERNAL = range(1, 9)
STRIPE, PLAID, CUTOUT = 9, 10, 11
DRILL, SEW, TEXT = 13, 14, 15
#: Curves to judge a reader's own curves by: of the boundary and of the sewing lines.
BOUNDARY_CHECK, INTERNAL_CHECK, CUTOUT_CHECK, SEW_CHECK = 84, 85, 86, 87

#: Layer of each kind of notch; slit and V share one.
NOTCH_LAYERS: dict[NotchKind, int] = {
    "slit": NOTCH,
    "v": NOTCH,
    "t": 80,
    "castle": 81,
    "check": 82,
    "u": 83,
}
NOTCHES: dict[int, NotchKind] = {4: "slit", 80: "t", 81: "castle", 82: "check", 83: "u"}
#: The cuts of a double or triple notch stand this far apart along the line, mm.
NOTCH_PITCH = 5.0

_COUNTED = re.compile(r"(?:layers?|lyr|l|aama|astm)?[\s_.-]*0*(\d{1,2})", re.IGNORECASE)
_WORDS = {
    BOUNDARY: "boundary pieceboundary boundaryline perimeter cut cutline cuttingline",
    TURN: "turnpoints turnpoint turns turn",
    CURVE: "curvepoints curvepoint curves",
    NOTCH: "notches notch vnotch vnotches slitnotch slitnotches slits",
    REFERENCE: "gradereferenceline gradereferencelines gradereference gradeline gradeaxis",
    MIRROR: "mirrorline mirrorlines mirror foldline fold",
    GRAIN: "grainline grainlines grain",
    INTERNAL: "internallines internalline internals internal",
    STRIPE: "stripereferencelines stripereference stripelines stripe stripes",
    PLAID: "plaidreferencelines plaidreference plaidlines plaid plaids",
    CUTOUT: "internalcutouts internalcutout cutouts cutout",
    DRILL: "drillholes drillhole drills drill",
    SEW: "sewlines sewline sewinglines sewingline sew stitchlines stitchline",
    TEXT: "annotationtext annotations annotation text texts",
    80: "tnotch tnotches",
    81: "castlenotch castlenotches",
    82: "checknotch checknotches",
    83: "unotch unotches",
}
_BY_WORD = {word: number for number, words in _WORDS.items() for word in words.split()}


@lru_cache(maxsize=512)
def layer_number(name: str) -> int | None:
    """The layer that a name means: `1`, `Layer 01`, `Turn Points`; None for others."""
    plain = name.strip()
    if match := _COUNTED.fullmatch(plain):
        return int(match[1])
    return _BY_WORD.get(re.sub(r"[^a-z]", "", plain.casefold()))
