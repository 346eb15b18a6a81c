"""Whether a file is one that a reader knows, told from its first bytes alone."""

from __future__ import annotations

import re

BOM = b"\xef\xbb\xbf"
PNG, JPEG = b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"
#: Pictures of other kinds, and how they begin.
_PICTURES = (
    ("HEIC", re.compile(rb"....ftyp(?:hei|hev|mif1|msf1|avif)", re.DOTALL)),
    ("WebP", re.compile(rb"RIFF....WEBP", re.DOTALL)),
    ("TIFF", re.compile(rb"II\*\0|MM\0\*")),
    ("GIF", re.compile(rb"GIF8[79]a")),
    ("BMP", re.compile(rb"BM.{4}\0{4}", re.DOTALL)),
)
DXF_BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
_DXF = re.compile(rb"\s*(?:999[ \t]*\r?\n[^\n]*\n\s*)*0[ \t]*\r?\n\s*SECTION\b")
_UTF_16 = ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_RULES = re.compile(
    rb"^[ \t]*(?:RULE[ \t]*[:=]?[ \t]*DELTA|(?:SIZE[ \t]*LIST|SAMPLE[ \t]*SIZE|"
    rb"NUMBER[ \t]*OF[ \t]*SIZES|GRADE[ \t]*RULE[ \t]*TABLE)[ \t]*[:=])",
    re.IGNORECASE | re.MULTILINE,
)
#: What may stand before the root of an XML file.
_BEFORE_ROOT = re.compile(r"\s+|<\?.*?\?>|<!--.*?-->|<![^\[<>]*(?:\[.*?\]\s*)?>", re.DOTALL)
_TAG = re.compile(r"<(?:[^\W\d][^\s<>/:]*:)?([^\W\d][^\s<>/:]*)[\s/>]")


def claims_svg(head: bytes) -> bool:
    """Whether a file that begins with `head` is SVG, or XML that does not yet say what it is.

    So a drawing that is damaged early is still refused as a drawing, with the line.
    """
    encoding = next((name for mark, name in _UTF_16 if head.startswith(mark)), "latin-1")
    text = head.removeprefix(BOM).decode(encoding, "replace").lstrip("\ufeff \t\r\n")
    if not text.startswith("<"):
        return False
    at = 0
    while before := _BEFORE_ROOT.match(text, at):
        at = before.end()
    root = _TAG.match(text, at)
    return root is None or root[1] == "svg"


def claims_dxf(head: bytes) -> bool:
    """Whether a file that begins with `head` is DXF, as text or in binary form."""
    return head.startswith(DXF_BINARY) or _DXF.match(head.removeprefix(BOM)) is not None


def claims_pdf(head: bytes) -> bool:
    """Whether a file that begins with `head` is a PDF; some begin with a few bytes of litter."""
    return b"%PDF-" in head[:1024]


def claims_photo(head: bytes) -> bool:
    """Whether a file that begins with `head` is a picture: JPEG, PNG, or one of another kind."""
    return head.startswith((PNG, JPEG)) or other_picture(head) is not None


def other_picture(head: bytes) -> str | None:
    """What a picture that is neither JPEG nor PNG is called; None for all else."""
    return next((name for name, begins in _PICTURES if begins.match(head)), None)


def claims_rules(head: bytes) -> bool:
    """Whether a file that begins with `head` is a rule table file of the open standard."""
    return b"\0" not in head and _RULES.search(head[:4096]) is not None


def claims_tape(head: bytes) -> bool:
    """Whether a file that begins with `head` is a table of measured points, or another of our
    tables, which `read_tape` refuses by its name."""
    if claims_svg(head) or claims_dxf(head):
        return False
    from .tape import is_table

    return is_table(head)
