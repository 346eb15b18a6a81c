"""What a PDF shows, as plain data. Runs in a process of its own, since PDFium may end it.

`serve` reads the file's bytes from the standard input and writes JSON: `pages`, each with its
`size` in mm, `paths`, `words` and number of `pictures`; or `trouble`, a word. Coordinates are mm,
y up, from the lower left corner of the page as it is shown.
"""

from __future__ import annotations

import ctypes
import json
import math
import re
import sys
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import pypdfium2.raw as c

from ..apart import limit_process

#: What the process may take: bytes of memory, seconds of processor time.
_MEMORY, _SECONDS = 1 << 30, 30
#: No pattern holds more: pages, objects and points on all of them, forms in one another.
MOST_PAGES, MOST_OBJECTS, MOST_POINTS, DEEPEST = 200, 100_000, 1_000_000, 30
_POINT = 25.4 / 72

Matrix = tuple[float, float, float, float, float, float]
Box = tuple[float, float, float, float]
Place = tuple[float, float]
_EVERYWHERE: Box = (-math.inf, -math.inf, math.inf, math.inf)


class _TooMuch(Exception):
    """More than any pattern holds; the text says of what."""


def serve() -> None:
    """Extract what stands on standard input, within limits, to standard output."""
    limit_process(_MEMORY, _SECONDS)
    data = sys.stdin.buffer.read()
    try:
        found = _extracted(data)
    except _TooMuch as error:
        found = {"trouble": "much", "of": str(error)}
    sys.stdout.write(json.dumps(found))  # in one go: a dump writes number by number


def _extracted(data: bytes) -> dict[str, Any]:
    c.FPDF_InitLibrary()
    document = c.FPDF_LoadMemDocument64(data, len(data), None)
    if not document:
        locked = c.FPDF_GetLastError() in (c.FPDF_ERR_PASSWORD, c.FPDF_ERR_SECURITY)
        return {"trouble": "locked" if locked else "broken"}
    count = c.FPDF_GetPageCount(document)
    if count > MOST_PAGES:
        raise _TooMuch(f"{count} pages; at most {MOST_PAGES} are read")
    said = _Said(_plain(document))
    if said.unit is None:
        return {"trouble": "units"}
    walker = _Walker(said)
    pages = []
    for number in range(count):
        page = c.FPDF_LoadPage(document, number)
        if not page:
            return {"trouble": "page", "of": str(number + 1)}
        pages.append(walker.page(page))
        c.FPDF_ClosePage(page)
    return {"pages": pages, "layers_unsure": said.unsure}


# --- what PDFium does not tell ------------------------------------------------------------


def _plain(document: Any) -> bytes:
    """The file written anew, which puts every dictionary in plain text; streams left out."""
    blocks: list[bytes] = []
    held = 0

    def take(_self: Any, data: Any, size: int) -> int:
        nonlocal held
        held += size
        blocks.append(ctypes.string_at(data, size))
        return 1 if held < _MEMORY // 4 else 0

    write = c.FPDF_FILEWRITE(version=1)
    write.WriteBlock = type(write.WriteBlock)(take)
    c.FPDF_SaveAsCopy(document, write, c.FPDF_NO_INCREMENTAL)
    return re.sub(rb"\bstream\r?\n.*?\bendstream\b", b"", b"".join(blocks), flags=re.DOTALL)


class _Said:
    """What the dictionaries say: the unit of all pages, in points, and layers that are off.

    `unit` is None where pages differ. `unsure`: layers are off, and things may stand on them
    in a way that is not told.
    """

    def __init__(self, plain: bytes) -> None:
        objects = dict(re.findall(rb"\b(\d+) 0 obj\b(.*?)\bendobj\b", plain, re.DOTALL))
        units = {
            float(found[1]) if (found := re.search(rb"/UserUnit\s*([\d.]+)", text)) else 1.0
            for text in objects.values()
            if re.search(rb"/Type\s*/Page\b", text)
        }
        self.unit = 1.0 if not units else units.pop() if len(units) == 1 else None
        off = re.findall(rb"/OFF\s*\[([^\]]*)\]", plain)
        numbers = re.findall(rb"(\d+) 0 R", off[0]) if off else []
        self.off = {name for n in numbers if (name := _name(objects.get(n, b"")))}
        sure = re.search(rb"/Type\s*/OCMD\b|/OC\s+\d+ 0 R", plain) is None
        self.unsure = bool(numbers) and not sure


def _name(text: bytes) -> str:
    """The name of a layer, out of its dictionary."""
    if found := re.search(rb"/Name\s*<([0-9A-Fa-f\s]*)>", text):
        digits = re.sub(rb"\s", b"", found[1]).decode()
        return _decoded(bytes.fromhex(digits + "0" * (len(digits) % 2)))
    if found := re.search(rb"/Name\s*\(((?:\\.|[^\\)])*)\)", text, re.DOTALL):
        return _decoded(re.sub(rb"\\([0-7]{1,3}|.)", _unescaped, found[1], flags=re.DOTALL))
    return ""


def _unescaped(found: re.Match[bytes]) -> bytes:
    said = found[1]
    if said[:1].isdigit():
        return bytes([int(said, 8) & 255])
    return {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}.get(said, said)


def _decoded(text: bytes) -> str:
    if text.startswith(b"\xfe\xff"):
        return text[2:].decode("utf-16-be", "replace")
    if text.startswith(b"\xef\xbb\xbf"):
        return text[3:].decode("utf-8", "replace")
    return text.decode("latin-1")


# --- what stands on a page ----------------------------------------------------------------


class _Walker:
    def __init__(self, said: _Said) -> None:
        self.said = said
        self.objects = self.points = 0

    def page(self, page: Any) -> dict[str, Any]:
        """One page, as it is shown."""
        rect = c.FS_RECTF()
        c.FPDF_GetPageBoundingBox(page, rect)
        x0, y0, x1, y1 = rect.left, rect.bottom, rect.right, rect.top
        s = _POINT * (self.said.unit or 1.0)
        shown: Matrix = (
            (s, 0, 0, s, -x0 * s, -y0 * s),
            (0, -s, s, 0, -y0 * s, x1 * s),
            (-s, 0, 0, -s, x1 * s, y1 * s),
            (0, s, -s, 0, y1 * s, -x0 * s),
        )[c.FPDFPage_GetRotation(page) % 4]
        box = _moved_box(shown, (x0, y0, x1, y1))
        self.out: dict[str, Any] = {"size": box[2:], "paths": [], "words": [], "pictures": 0}
        self.text = c.FPDFText_LoadPage(page)
        objects = (c.FPDFPage_GetObject(page, i) for i in range(c.FPDFPage_CountObjects(page)))
        self._walk(objects, shown, box, "", 0)
        c.FPDFText_ClosePage(self.text)
        return self.out

    def _walk(
        self, objects: Iterable[Any], to_mm: Matrix, clip: Box, layer: str, deep: int
    ) -> None:
        if deep > DEEPEST:
            raise _TooMuch(f"forms in one another deeper than {DEEPEST}")
        for item in objects:
            self.objects += 1
            if self.objects > MOST_OBJECTS:
                raise _TooMuch(f"more than {MOST_OBJECTS} objects")
            layers = _layers(item)
            if any(name in self.said.off for name in layers):
                continue
            inner = next(reversed(layers), layer)
            kind = c.FPDFPageObj_GetType(item)
            seen = _common(clip, _clip(item, to_mm))
            if kind == c.FPDF_PAGEOBJ_FORM:
                count = c.FPDFFormObj_CountObjects(item)
                parts = (c.FPDFFormObj_GetObject(item, i) for i in range(count))
                self._walk(parts, _then(_matrix(item), to_mm), seen, inner, deep + 1)
            elif kind == c.FPDF_PAGEOBJ_PATH:
                self._path(item, to_mm, seen, inner)
            elif kind == c.FPDF_PAGEOBJ_TEXT:
                self._words(item, to_mm, seen, inner)
            elif kind == c.FPDF_PAGEOBJ_IMAGE:
                self.out["pictures"] += 1

    def _path(self, item: Any, to_mm: Matrix, seen: Box, layer: str) -> None:
        matrix = _then(_matrix(item), to_mm)
        fill, stroke = ctypes.c_int(), ctypes.c_int()
        c.FPDFPath_GetDrawMode(item, fill, stroke)
        lined = bool(stroke.value) and _colour(c.FPDFPageObj_GetStrokeColor, item)
        filled = bool(fill.value) and _colour(c.FPDFPageObj_GetFillColor, item)
        if not lined and not filled:
            return
        count = c.FPDFPath_CountSegments(item)
        self._count(count)
        chains = _chains((c.FPDFPath_GetPathSegment(item, i) for i in range(count)), matrix)
        if not chains:
            return
        box = _box([p for chain in chains for kind in chain["segments"] for p in kind])
        scale = math.sqrt(abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]))
        width = ctypes.c_float()
        c.FPDFPageObj_GetStrokeWidth(item, width)
        self.out["paths"].append(
            {
                "number": self.objects,
                "layer": layer,
                "chains": chains,
                "colour": lined or "",
                "fill": filled or "",
                "width": width.value * scale if lined else None,
                "dashes": [d * scale for d in _dashes(item)] if lined else [],
                "cut": (cut := _outside(box, seen)),
                "seen": seen if cut else None,
            }
        )

    def _words(self, item: Any, to_mm: Matrix, seen: Box, layer: str) -> None:
        if c.FPDFTextObj_GetTextRenderMode(item) == c.FPDF_TEXTRENDERMODE_INVISIBLE:
            return
        size = c.FPDFTextObj_GetText(item, self.text, None, 0)
        buffer = ctypes.create_string_buffer(size)
        c.FPDFTextObj_GetText(
            item, self.text, ctypes.cast(buffer, ctypes.POINTER(c.FPDF_WCHAR)), size
        )
        text = buffer.raw[:size].decode("utf-16-le", "replace").rstrip("\0")
        self._count(len(text))
        font, corners = ctypes.c_float(), c.FS_QUADPOINTSF()
        c.FPDFTextObj_GetFontSize(item, font)
        m = _then(_matrix(item), to_mm)
        along = math.hypot(m[0], m[1])
        height = font.value * abs(m[0] * m[3] - m[1] * m[2]) / along if along else 0.0
        if not text.strip() or not height or not c.FPDFPageObj_GetRotatedBounds(item, corners):
            return
        points = [(getattr(corners, f"x{i}"), getattr(corners, f"y{i}")) for i in (1, 2, 3, 4)]
        reach = [_moved(to_mm, p) for p in points]
        ahead = [((p[0] - m[4]) * m[0] + (p[1] - m[5]) * m[1]) / along for p in reach]
        if _outside(_box(reach), seen) == "whole":
            return
        self.out["words"].append(
            {
                "number": self.objects,
                "layer": layer,
                "text": text,
                "fill": _colour(c.FPDFPageObj_GetFillColor, item),
                "at": (m[4], m[5]),
                "height": height,
                "angle": math.degrees(math.atan2(m[1], m[0])),
                "length": max(ahead),
            }
        )

    def _count(self, points: int) -> None:
        self.points += points
        if self.points > MOST_POINTS:
            raise _TooMuch(f"more than {MOST_POINTS} points")


def _layers(item: Any) -> list[str]:
    """The layers that an object stands on, outermost first."""
    found = []
    for i in range(c.FPDFPageObj_CountMarks(item)):
        mark = c.FPDFPageObj_GetMark(item, i)
        size, word = ctypes.c_ulong(), (c.FPDF_WCHAR * 8)()
        c.FPDFPageObjMark_GetName(mark, word, ctypes.sizeof(word), size)
        if bytes(word)[: size.value] != "OC\0".encode("utf-16-le"):
            continue
        c.FPDFPageObjMark_GetParamBlobValue(mark, b"Name", None, 0, size)
        room = (ctypes.c_ubyte * max(size.value, 1))()
        c.FPDFPageObjMark_GetParamBlobValue(mark, b"Name", room, size.value, size)
        if name := _decoded(bytes(room[: size.value])):
            found.append(name)
    return found


def _chains(segments: Iterable[Any], matrix: Matrix) -> list[dict[str, Any]]:
    """The chains of a path: segments of 2 or 4 points in mm, and whether it closes."""
    chains: list[dict[str, Any]] = []
    at: Place = (0.0, 0.0)
    start = at
    waiting: list[Place] = []
    x, y = ctypes.c_float(), ctypes.c_float()
    for segment in segments:
        c.FPDFPathSegment_GetPoint(segment, x, y)
        point = _moved(matrix, (x.value, y.value))
        kind = c.FPDFPathSegment_GetType(segment)
        if kind == c.FPDF_SEGMENT_MOVETO:
            start = point
            chains.append({"segments": [], "closed": False})
        elif not chains or chains[-1]["closed"]:  # goes on from where the last one closed
            chains.append({"segments": [], "closed": False})
        if kind == c.FPDF_SEGMENT_BEZIERTO:
            waiting.append(point)
            if len(waiting) == 3:
                chains[-1]["segments"].append([at, *waiting])
                waiting, at = [], point
        elif kind == c.FPDF_SEGMENT_LINETO:
            chains[-1]["segments"].append([at, point])
            at = point
        else:
            at = point
        if c.FPDFPathSegment_GetClose(segment) and chains[-1]["segments"]:
            chains[-1]["closed"] = True
            if at != start:
                chains[-1]["segments"].append([at, start])
                at = start
    return [chain for chain in chains if chain["segments"]]


def _colour(get: Callable[..., Any], item: Any) -> str:
    """`#rrggbb`; "" for what cannot be seen."""
    parts = [ctypes.c_uint() for _ in range(4)]
    if not get(item, *parts):
        return "#000000"
    red, green, blue, opaque = (p.value for p in parts)
    return f"#{red:02x}{green:02x}{blue:02x}" if opaque else ""


def _dashes(item: Any) -> list[float]:
    count = max(c.FPDFPageObj_GetDashCount(item), 0)
    found = (ctypes.c_float * max(count, 1))()
    c.FPDFPageObj_GetDashArray(item, found, count)
    return list(found)[: min(count, 20)]


def _clip(item: Any, to_mm: Matrix) -> Box:
    """The box within which an object is shown, mm."""
    box = _EVERYWHERE
    clip = c.FPDFPageObj_GetClipPath(item)
    for k in range(min(max(c.FPDFClipPath_CountPaths(clip), 0), 100) if clip else 0):
        points = list(_clip_points(clip, k, to_mm))
        box = _common(box, _box(points) if points else _EVERYWHERE)
    return box


def _clip_points(clip: Any, k: int, to_mm: Matrix) -> Iterator[Place]:
    x, y = ctypes.c_float(), ctypes.c_float()
    for i in range(min(c.FPDFClipPath_CountPathSegments(clip, k), 10_000)):
        segment = c.FPDFClipPath_GetPathSegment(clip, k, i)
        c.FPDFPathSegment_GetPoint(segment, x, y)
        yield _moved(to_mm, (x.value, y.value))


def _matrix(item: Any) -> Matrix:
    m = c.FS_MATRIX()
    c.FPDFPageObj_GetMatrix(item, m)
    return m.a, m.b, m.c, m.d, m.e, m.f


def _then(first: Matrix, second: Matrix) -> Matrix:
    """`first`, and `second` after it."""
    a, b, cc, d, e, f = first
    p, q, r, s, t, u = second
    return (
        *(a * p + b * r, a * q + b * s, cc * p + d * r, cc * q + d * s),
        *(e * p + f * r + t, e * q + f * s + u),
    )


def _moved(m: Matrix, p: Place) -> Place:
    return m[0] * p[0] + m[2] * p[1] + m[4], m[1] * p[0] + m[3] * p[1] + m[5]


def _moved_box(m: Matrix, box: Box) -> Box:
    return _box([_moved(m, (x, y)) for x in box[::2] for y in box[1::2]])


def _box(points: list[Place]) -> Box:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _common(a: Box, b: Box) -> Box:
    return max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3])


def _outside(box: Box, seen: Box, near: float = 0.1) -> str:
    """`whole` for what is not shown at all, `part` for what is cut, mm; else ""."""
    both = _common(box, seen)
    if both[2] < both[0] - near or both[3] < both[1] - near:
        return "whole"
    return "part" if any(abs(b - s) > near for b, s in zip(both, box, strict=True)) else ""
