"""Bytes of a DXF file as an ezdxf document: strictly first, else by recovery."""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from ...budget import spend
from ...errors import InputError
from ...findings import Finding, Level
from ..claims import BOM, DXF_BINARY
from .fenced import fence_ezdxf
from .mending import closed, with_classes

if TYPE_CHECKING:
    from ezdxf.document import Drawing

#: Files larger than this are refused; damaged ones, which take longer, beyond that. Bytes.
LARGEST, LARGEST_DAMAGED = 32_000_000, 12_000_000
#: Faults that a finding spells out; the rest is counted.
_SPELT = 3
_VARIABLE = re.compile(rb"\n[ \t]*9[ \t]*\r?\n[ \t]*\$(INSUNITS|MEASUREMENT)[ \t]*\r?\n")
_INTEGER = re.compile(rb"[ \t]*70[ \t]*\r?\n[ \t]*(-?\d{1,6})[ \t]*\r?\n")
_END = re.compile(rb"(?:^|\n)[ \t]*0[ \t]*\r?\nEOF\s*\Z")
#: Entities of a text file, and of those the loose lines; what each costs of the budget.
_ENTITY = re.compile(rb"\n[ \t]*0[ \t]*\r?\n[ \t]*(LINE\b)?")
_ENTITY_STEPS, _LINE_STEPS = 60, 300
_CURE = "Open it in the program that made it and save it as DXF again."


class Loaded(NamedTuple):
    """A document, what the file's own header says, and what had to be repaired.

    `header` holds `$INSUNITS` and `$MEASUREMENT` where the file itself has them (ezdxf
    fills in values of its own). `comments` are the `999` lines at the head of the file.
    """

    doc: Drawing
    header: Mapping[str, int]
    comments: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def load(data: bytes, where: str = "drawing") -> Loaded:
    """The document in `data`, text or binary, of any version that ezdxf reads.

    What cannot be read strictly goes through ezdxf's recovery, and a finding (`repaired`)
    says so. Raises InputError, with `where`, for what is no DXF, is too large, or cannot be
    recovered.
    """
    _check(data, where)
    fence_ezdxf()
    data = data.removeprefix(BOM)
    broken = ""
    if data.startswith(DXF_BINARY):
        data, broken = _as_text(data)
        if not data:
            raise InputError("the binary DXF holds nothing", where=where, cure=_CURE)
    for entity in _ENTITY.finditer(data):
        spend(_LINE_STEPS if entity[1] else _ENTITY_STEPS, "its entities")
    findings: list[Finding] = []
    if broken or _END.search(data[-200:]) is None:
        text = "the file breaks off before its end; what came after is lost"
        findings.append(Finding("cut-short", "warn", text, cure=_CURE))
    doc, fault = _strictly(data)
    if doc is None:
        doc = _recovered(data, where, fault, cut=bool(findings))
        text = "the file is damaged and was repaired"
        findings.append(_told("repaired", "warn", text, [fault]))
    elif faults := _audited(doc):
        # Read strictly all the same: what was wrong is beside the drawing, mostly.
        findings.append(_told("put-right", "note", "entries of the file were put right", faults))
    return Loaded(doc, _header(data), _comments(data), tuple(findings))


def _check(data: bytes, where: str) -> None:
    if not data.strip():
        raise InputError("the file is empty", where=where, cure=_CURE)
    if len(data) > LARGEST:
        raise InputError(
            f"the drawing has {len(data) // 1_000_000} MB, more than {LARGEST // 1_000_000}",
            where=where,
            cure="Take everything but the pieces out of it.",
        )
    if data.startswith(b"AC10"):
        raise InputError("this is a DWG drawing, not DXF", where=where, cure="Save it as DXF.")
    if not data.startswith(DXF_BINARY) and b"SECTION" not in data and b"LINE" not in data:
        raise InputError("this is no DXF drawing", where=where, cure="Save the drawing as DXF.")


def _as_text(data: bytes) -> tuple[bytes, str]:
    """A binary file as text, and why that ended before the end, if it did."""
    from ezdxf.lldxf.tagger import binary_tags_loader

    lines: list[str] = []
    fault = ""
    try:
        for tag in binary_tags_loader(data):
            value = tag.value
            shown = value.hex().upper() if isinstance(value, bytes) else str(value)
            lines.append(f"{tag.code}\n{shown}\n")
    except Exception as error:  # whatever a broken stream brings ezdxf to raise
        fault = str(error) or type(error).__name__
    text = "".join(lines)
    return text.encode(_encoding(text), errors="surrogateescape"), fault


def _encoding(text: str) -> str:
    from ezdxf.filemanagement import dxf_stream_info

    try:
        found: str = dxf_stream_info(io.StringIO(text)).encoding
        "".encode(found)
    except Exception:
        return "utf-8"
    return found


def _strictly(data: bytes) -> tuple[Drawing | None, str]:
    """The document, or None and what is wrong."""
    from ezdxf.document import Drawing

    encoding = _encoding(data[:200_000].decode("utf-8", errors="ignore"))
    try:
        # Decoded at once: ezdxf asks for line after line.
        text = data.decode(encoding, errors="surrogateescape")
        return Drawing.read(io.StringIO(text, newline=None)), ""
    except Exception as error:  # ezdxf lets many kinds of error out of broken files
        return None, str(error) or type(error).__name__


def _recovered(data: bytes, where: str, fault: str, *, cut: bool) -> Drawing:
    if len(data) > LARGEST_DAMAGED:
        raise InputError(f"the drawing is damaged ({_short(fault)})", where=where, cure=_CURE)
    data = closed(data) if cut else data
    doc = _recover(data)
    if doc is None:
        # Strictly first: for old versions recovery takes the names of classes out again.
        data = with_classes(data)
        doc = _strictly(data)[0] or _recover(data)
    if doc is None:
        raise InputError(
            f"the drawing cannot be read as DXF ({_short(fault)})", where=where, cure=_CURE
        )
    return doc


def _recover(data: bytes) -> Drawing | None:
    from ezdxf import recover

    try:
        return recover.read(io.BytesIO(data))[0]
    except Exception:  # ezdxf lets many kinds of error out of broken files
        return None


def _audited(doc: Drawing) -> list[str]:
    """What ezdxf's audit put right or could not."""
    try:
        auditor = doc.audit()
    except Exception as error:
        return [str(error) or type(error).__name__]
    return [entry.message for entry in (*auditor.fixes, *auditor.errors)]


def dxf_errors() -> tuple[type[Exception], ...]:
    """What ezdxf itself raises over broken data, once it is imported."""
    from ezdxf.lldxf.const import DXFError

    return (DXFError,)


def damaged(error: Exception, where: str) -> InputError:
    """The error for a drawing over which ezdxf raised `error` after it was loaded."""
    fault = _short(str(error) or type(error).__name__)
    return InputError(f"the drawing is damaged ({fault})", where=where, cure=_CURE)


def _told(code: str, level: Level, text: str, faults: list[str]) -> Finding:
    spelt = "; ".join(_short(fault) for fault in faults[:_SPELT])
    more = f"; and {len(faults) - _SPELT} more" if len(faults) > _SPELT else ""
    cure = "Check that every piece is there, or save the drawing again where it was made."
    return Finding(code, level, f"{text}: {spelt}{more}", cure=cure)


def _short(fault: str) -> str:
    plain = " ".join(fault.encode("ascii", "replace").decode().split())
    return plain if len(plain) <= 120 else f"{plain[:117]}..."


def _header(data: bytes) -> dict[str, int]:
    """`$INSUNITS` and `$MEASUREMENT` as the file has them."""
    found: dict[str, int] = {}
    for match in _VARIABLE.finditer(data, 0, 200_000):
        value = _INTEGER.match(data, match.end())
        if value is not None:
            found.setdefault(f"${match[1].decode()}", int(value[1]))
    return found


def _comments(data: bytes) -> tuple[str, ...]:
    found: list[str] = []
    lines = data[:4096].splitlines()
    while len(lines) >= 2 and lines[0].strip() == b"999":
        found.append(lines[1].decode("utf-8", errors="replace").strip())
        lines = lines[2:]
    return tuple(found)
