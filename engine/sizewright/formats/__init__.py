"""Files in and out: readers give a `Reading`, writers take a pattern.

Names are imported when they are first asked for, so that one format does not cost the
time of another.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..lazy import door

if TYPE_CHECKING:
    from .any_dxf import read_dxf
    from .claims import claims_dxf, claims_pdf, claims_photo, claims_svg, claims_tape
    from .dxf.writer import write_dxf
    from .interchange.reader import read_interchange
    from .interchange.rules_in import read_rule_file
    from .interchange.rules_out import write_rule_file
    from .interchange.writer import write_interchange
    from .pdf.reader import read_pdf
    from .photo.reader import read_photo
    from .reading import Behind, Reading, SetAside, Written, WrongMarks
    from .svg.reader import read_svg
    from .svg.writer import write_svg
    from .tape import read_tape

__all__ = [
    "Behind",
    "Reading",
    "SetAside",
    "Written",
    "WrongMarks",
    "claims_dxf",
    "claims_pdf",
    "claims_photo",
    "claims_svg",
    "claims_tape",
    "read_dxf",
    "read_interchange",
    "read_pdf",
    "read_photo",
    "read_rule_file",
    "read_svg",
    "read_tape",
    "write_dxf",
    "write_interchange",
    "write_rule_file",
    "write_svg",
]

_HOMES = {
    "Behind": "reading",
    "Reading": "reading",
    "SetAside": "reading",
    "Written": "reading",
    "WrongMarks": "reading",
    "claims_dxf": "claims",
    "claims_pdf": "claims",
    "claims_photo": "claims",
    "claims_svg": "claims",
    "claims_tape": "claims",
    "read_dxf": "any_dxf",
    "read_interchange": "interchange.reader",
    "read_pdf": "pdf.reader",
    "read_photo": "photo.reader",
    "read_rule_file": "interchange.rules_in",
    "read_svg": "svg.reader",
    "read_tape": "tape",
    "write_dxf": "dxf.writer",
    "write_interchange": "interchange.writer",
    "write_rule_file": "interchange.rules_out",
    "write_svg": "svg.writer",
}

__getattr__ = door(__name__, _HOMES)
