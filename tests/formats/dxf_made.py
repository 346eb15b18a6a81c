"""DXF documents for tests: made with ezdxf, opened with ezdxf, in bytes."""

from __future__ import annotations

import io
from typing import Any

import ezdxf
from ezdxf.document import Drawing


def fresh(version: str = "R2010", units: int = 4) -> Drawing:
    """An empty document; `units` is `$INSUNITS`."""
    doc = ezdxf.new(version)
    if version != "R12":
        doc.header["$INSUNITS"] = units
        doc.header["$MEASUREMENT"] = 0 if units in (1, 2, 10) else 1
    return doc


def document(doc: Drawing, *, binary: bool = False) -> bytes:
    """The bytes of a document, as a text file or binary."""
    if binary:
        raw = io.BytesIO()
        doc.write(raw, fmt="bin")
        return raw.getvalue()
    stream = io.StringIO()
    doc.write(stream)
    data: bytes = doc.encode(stream.getvalue())
    return data


def opened(data: bytes) -> Drawing:
    """A document read strictly by ezdxf alone."""
    return ezdxf.read(io.StringIO(data.decode("cp1252")))


def bare(*entities: str) -> bytes:
    """A file of entities and nothing else, each as `code value` lines."""
    body = "".join(f"{line.strip()}\n" for entity in entities for line in entity.split(";"))
    return f"0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n".encode()


def line(a: tuple[float, float], b: tuple[float, float], layer: str = "0") -> str:
    """A LINE for `bare`."""
    parts: list[Any] = [0, "LINE", 8, layer, 10, a[0], 20, a[1], 11, b[0], 21, b[1]]
    return ";".join(str(p) for p in parts)
