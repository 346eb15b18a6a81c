"""JPEG and PNG as arrays: looked over first, and decoded in a process of its own."""

from __future__ import annotations

import json
import struct
import sys
import zlib
from importlib.util import find_spec
from typing import Any

import numpy as np

from ...errors import InputError
from ..apart import limit_process, run_apart
from ..claims import PNG, other_picture

#: More pixels than this are not decoded; a picture of fewer on its short side shows no edge well.
MOST_PIXELS, _LEAST_SIDE = 64_000_000, 600
#: Limits of the process that decodes.
_MEMORY, _SECONDS = 3 * 2**30, 30
_DECODE = "from sizewright.formats.photo.picture import serve; serve()"
_AGAIN = "Copy it from the camera again, or save it anew as JPEG."


def decoded(data: bytes) -> tuple[Any, bool]:
    """The picture (h, w, 3), 8 bits, blue first, and whether it was damaged a little.

    Raises InputError for what is no whole picture or too large, and where OpenCV is not there.
    """
    if other := other_picture(data):
        raise InputError(
            f"this is a {other} picture; photographs are read from JPEG and PNG",
            cure="Save or export it as JPEG in a photo program, at its full size. Many telephones "
            "write JPEG where their camera is set to the most compatible format.",
        )
    if find_spec("cv2") is None:
        raise InputError(
            "reading photographs needs OpenCV, which is not installed",
            cure="Install it: pip install sizewright[photo]",
        )
    width, height = _size(data)
    if min(width, height) < 1:
        raise InputError("this picture has no size", cure=_AGAIN)
    if width * height > MOST_PIXELS:
        raise InputError(
            f"this picture has {width} by {height} pixels, above {MOST_PIXELS // 10**6} million",
            cure="Make it smaller in a photo program; 12 million pixels are enough.",
        )
    if min(width, height) < _LEAST_SIDE:
        raise InputError(
            f"this picture has {width} by {height} pixels, too few to measure by",
            cure="Take the original from the camera, not a small copy.",
        )
    done = run_apart(_DECODE, data)
    head, _, body = (b"", b"", b"") if done is None else done[0].partition(b"\n")
    try:
        shape = tuple(json.loads(head))
    except ValueError:
        shape = ()
    if done is None or len(shape) != 3 or len(body) != np.prod(shape):
        raise InputError("this picture is broken and cannot be decoded", cure=_AGAIN)
    return np.frombuffer(body, dtype=np.uint8).reshape(shape), bool(done[1].strip())


def serve() -> None:
    """Decode what stands on standard input, within limits, to standard output."""
    limit_process(_MEMORY, _SECONDS)
    import cv2

    cv2.setNumThreads(1)
    picture = cv2.imdecode(np.frombuffer(sys.stdin.buffer.read(), np.uint8), cv2.IMREAD_COLOR)
    if picture is None:
        sys.exit(1)
    sys.stdout.buffer.write(json.dumps(picture.shape).encode() + b"\n")
    sys.stdout.buffer.write(np.ascontiguousarray(picture).data)


def _size(data: bytes) -> tuple[int, int]:
    """Width and height that the file says. Raises InputError where it is cut short."""
    short = InputError("this picture is cut short or damaged", cure=_AGAIN)
    try:
        return _png(data) if data.startswith(PNG) else _jpeg(data)
    except (struct.error, IndexError, _Cut):
        raise short from None


class _Cut(Exception):
    """The file ends too early, or its parts do not fit."""


def _png(data: bytes) -> tuple[int, int]:
    at, size = len(PNG), None
    while True:
        length, kind = struct.unpack_from(">I4s", data, at)
        body = data[at + 8 : at + 8 + length]
        (check,) = struct.unpack_from(">I", data, at + 8 + length)
        if zlib.crc32(kind + body) != check:
            raise _Cut
        if kind == b"IHDR" and size is None:
            size = struct.unpack_from(">II", body)
        if kind == b"IEND":
            break
        at += 12 + length
    if size is None:
        raise _Cut
    return int(size[0]), int(size[1])


def _jpeg(data: bytes) -> tuple[int, int]:
    at, size = 2, None
    while True:
        if data[at] != 0xFF:
            raise _Cut
        mark = data[at + 1]
        if mark == 0xFF:  # filling
            at += 1
            continue
        if mark == 0xD9:
            raise _Cut
        (length,) = struct.unpack_from(">H", data, at + 2)
        if 0xC0 <= mark <= 0xCF and mark not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack_from(">HH", data, at + 5)
            size = (width, height)
        at += 2 + length
        if mark == 0xDA:
            break
    if size is None or data.rfind(b"\xff\xd9") < at:
        raise _Cut
    return size
