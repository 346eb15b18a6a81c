"""What is read: a file by its name or path, or its bytes; and plain refusals."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from ..errors import InputError
from ..shipped import found_file

#: A file by its name or path, or what is in it.
Source = str | os.PathLike[str] | bytes
#: Files larger than this are refused before they are read, bytes.
LARGEST = 64 * 1024 * 1024


def content(source: Source, name: str, otherwise: str = "drawing") -> tuple[bytes, str]:
    """The bytes of a source, and what messages call it: `name`, its path, or `otherwise`.

    Raises InputError for a file that cannot be read.
    """
    if isinstance(source, bytes):
        return source, name or otherwise
    return read_bytes(source), name or os.fspath(source)


def read_bytes(path: str | os.PathLike[str]) -> bytes:
    """The content of an ordinary file of at most `LARGEST` bytes; `~/` is the user's home.

    Raises InputError.
    """
    name = os.fspath(path)
    try:
        path = found_file(name)
        status = os.stat(path)
        if stat.S_ISDIR(status.st_mode):
            raise InputError("this is a folder", where=name, cure="Name a file in it.")
        if not stat.S_ISREG(status.st_mode):
            raise InputError("this is not an ordinary file", where=name, cure="Name a drawing.")
        with open(path, "rb") as file:
            data = file.read(LARGEST + 1)
    except InputError:
        raise
    except FileNotFoundError:
        cure = "Check the name and the folder." + _near(Path(path))
        raise InputError("there is no such file", where=name, cure=cure) from None
    except PermissionError:
        cure = "Change its permissions, or copy it to a folder of yours."
        raise InputError("this file may not be read", where=name, cure=cure) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise InputError(f"this file cannot be read ({why})", where=name) from None
    if not data:
        raise InputError("this file is empty", where=name, cure="Save the drawing again.")
    if len(data) > LARGEST:
        raise InputError(
            f"this file is larger than {LARGEST // 2**20} MB",
            where=name,
            cure="A pattern of outlines is far smaller: take embedded pictures out of it.",
        )
    return data


def _near(path: Path) -> str:
    """A file in the same folder whose name is nearly the one asked for."""
    import difflib

    try:
        there = [p.name for p in path.parent.iterdir() if p.is_file()]
    except OSError:
        return ""
    close = difflib.get_close_matches(path.name, there, n=1, cutoff=0.75)
    return f' Did you mean "{close[0]}"?' if close else ""
