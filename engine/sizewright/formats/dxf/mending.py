"""Damage to a DXF text that ezdxf's own recovery cannot put right."""

from __future__ import annotations

import re

#: Start of an entity or section: group code 0, then a word.
_ENTITY = re.compile(rb"\n[ \t]*0[ \t]*\r?\n(?=[A-Z])")
_VERSION = re.compile(rb"(\$ACADVER\s*\n\s*1\s*\n)\s*AC10\d\d")
_HEADER = b"0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n0\nENDSEC\n"
_CLOSING = b"  0\nENDSEC\n  0\nEOF\n"
#: Kinds that are lost without the name of their class, and that name.
_CLASSES = {
    b"LWPOLYLINE": b"AcDbPolyline",
    b"SPLINE": b"AcDbSpline",
    b"ELLIPSE": b"AcDbEllipse",
    b"MTEXT": b"AcDbMText",
}
#: Kinds that no pattern needs and that stop the reading where they are not whole.
_DROPPED = frozenset({b"HATCH", b"MPOLYGON", b"IMAGE", b"WIPEOUT", b"OLE2FRAME"})
#: Group codes that belong to any entity and stand before those of its class.
_COMMON = frozenset({5, 6, 8, 48, 60, 62, 67, 330, 360, 370, 420, 430, 440})

_Tag = tuple[bytes, bytes]


def closed(data: bytes) -> bytes:
    """A text that breaks off, without its last, unfinished entity and with an end."""
    last = None
    for match in _ENTITY.finditer(data):
        last = match
    if last is None:
        return data
    return data[: last.start() + 1] + _CLOSING


def with_classes(data: bytes) -> bytes:
    """A text whose entities bear the names of their classes, as versions after R12 need."""
    lines = data.splitlines()
    out: list[bytes] = []
    entity: list[_Tag] = []
    for code, value in zip(lines[0::2], lines[1::2], strict=False):
        if code.strip() == b"0":
            _write(entity, out)
            entity = []
        entity.append((code, value))
    _write(entity, out)
    text = b"\n".join(out) + b"\n"
    # Classes count only from R2000 on.
    said, count = _VERSION.subn(rb"\1AC1015", text, count=1)
    return said if count else _HEADER + text


def _write(entity: list[_Tag], out: list[bytes]) -> None:
    if not entity:
        return
    kind = entity[0][1].strip()
    name = _CLASSES.get(kind)
    marks = [value.strip() for code, value in entity if code.strip() == b"100"]
    if kind in _DROPPED and b"AcDbEntity" not in marks:
        return
    if name is not None and (name not in marks or b"AcDbEntity" not in marks):
        rest = [tag for tag in entity[1:] if tag[0].strip() != b"100"]
        common = [tag for tag in rest if _code(tag) in _COMMON]
        own = [tag for tag in rest if _code(tag) not in _COMMON]
        entity = [entity[0], (b"100", b"AcDbEntity"), *common, (b"100", name), *own]
    for code, value in entity:
        out += (code, value)


def _code(tag: _Tag) -> int:
    text = tag[0].strip()
    return int(text) if text.isdigit() else -1
