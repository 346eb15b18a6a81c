"""Patterns in from files and out to them: which reader, which writer, and plain refusals."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import InputError, UsageError
from ..findings import Finding

if TYPE_CHECKING:
    from ..formats.reading import Reading
    from ..model import Pattern
    from ..units import Unit

#: Files larger than this are refused before they are read, bytes.
LARGEST = 64 * 1024 * 1024
# So much of a file's start is looked at to tell what it is, bytes.
_HEAD = 4096

Reader = Callable[[bytes, str, "Unit | None"], "Reading"]
Writer = Callable[["Pattern"], tuple[bytes, tuple[Finding, ...]]]


@dataclass(frozen=True)
class Format:
    """A kind of pattern file.

    `claims` looks at the first bytes of a file; `endings` are for writing. `read` takes the
    bytes, the file's name for messages, and the unit of its bare numbers where that is given.
    `profiles` are the kinds of the format that may be asked for by name; `write` is the one
    that is meant where none is.
    """

    name: str
    endings: tuple[str, ...]
    claims: Callable[[bytes], bool]
    read: Reader | None = None
    write: Writer | None = None
    profiles: Mapping[str, Writer] = field(default_factory=dict)


def _claims_svg(head: bytes) -> bool:
    # What an XML file may begin with, in the encodings that XML readers know by themselves.
    # Whether it is SVG or some other XML is for the reader to say, with the line.
    plain = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    return plain.startswith((b"<", b"\xff\xfe<\x00", b"\xfe\xff\x00<"))


def _read_svg(data: bytes, name: str, units: Unit | None) -> Reading:
    from ..formats.svg.reader import read_svg

    return read_svg(data, name=name, units=units)


def _write_svg(pattern: Pattern) -> tuple[bytes, tuple[Finding, ...]]:
    from ..formats.svg.writer import write_svg

    written = write_svg(pattern)
    return written.data, written.findings


def _claims_dxf(head: bytes) -> bool:
    from ..formats.dxf.load import claims

    return claims(head)


def _read_dxf(data: bytes, name: str, units: Unit | None) -> Reading:
    from ..formats.dxf.load import load
    from ..formats.dxf.reader import reading_of
    from ..formats.interchange.reader import interchange_of, looks_like_interchange

    loaded = load(data, name)
    read = interchange_of if looks_like_interchange(loaded.doc) else reading_of
    return read(loaded, name=name, units=units)


def _write_curves(pattern: Pattern) -> tuple[bytes, tuple[Finding, ...]]:
    from ..formats.dxf.writer import write_dxf

    written = write_dxf(pattern, "curves")
    return written.data, written.findings


def _write_cutter(pattern: Pattern) -> tuple[bytes, tuple[Finding, ...]]:
    from ..formats.dxf.writer import write_dxf

    written = write_dxf(pattern, "cutter")
    return written.data, written.findings


def _write_interchange(pattern: Pattern) -> tuple[bytes, tuple[Finding, ...]]:
    from ..formats.interchange.writer import write_interchange

    written = write_interchange(pattern)
    return written.dxf, written.findings


_DXF_PROFILES: Mapping[str, Writer] = {
    "curves": _write_curves,
    "cutter": _write_cutter,
    "interchange": _write_interchange,
}

#: Every format there is, in the order in which they look at a file.
FORMATS: tuple[Format, ...] = (
    Format("SVG", (".svg",), _claims_svg, _read_svg, _write_svg),
    Format("DXF", (".dxf",), _claims_dxf, _read_dxf, _write_curves, _DXF_PROFILES),
)


def open_pattern(path: str | os.PathLike[str], *, units: Unit | None = None) -> Reading:
    """The pattern in a file, read by whichever format its content shows.

    `units`: what a bare number in the file means, where the file itself is wrong or silent.
    Raises InputError for a file that is missing, empty, too large or of no known format, and
    whatever the reader finds wrong with it.
    """
    data = read_bytes(path)
    name = os.fspath(path)
    for known in FORMATS:
        if known.read is not None and known.claims(data[:_HEAD]):
            return known.read(data, name, units)
    raise InputError(
        f"this is not a format that sizewright reads{_looks_like(data)}",
        where=name,
        cure=f"It reads {_names(lambda f: f.read)}: save or export the drawing as that.",
    )


def read_bytes(path: str | os.PathLike[str]) -> bytes:
    """The content of an ordinary file of at most `LARGEST` bytes. Raises InputError."""
    name = os.fspath(path)
    try:
        status = os.stat(path)
        if stat.S_ISDIR(status.st_mode):
            raise InputError("this is a folder", where=name, cure="Name a file in it.")
        if not stat.S_ISREG(status.st_mode):
            raise InputError("this is not an ordinary file", where=name, cure="Name a drawing.")
        with open(path, "rb") as file:
            data = file.read(LARGEST + 1)
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


def save_pattern(
    pattern: Pattern,
    out: str | os.PathLike[str],
    *,
    profile: str | None = None,
    sources: Iterable[str | os.PathLike[str]] = (),
) -> tuple[Finding, ...]:
    """Write a pattern in the format that the ending of `out` names; what it could not hold.

    An existing file is replaced as a whole or not at all; `sources` are never overwritten.
    Raises UsageError for an ending or profile that no format has, and what `write_safely`
    raises.
    """
    data, findings = encode_pattern(pattern, out, profile=profile)
    save_bytes(out, data, sources=sources)
    return findings


def encode_pattern(
    pattern: Pattern, out: str | os.PathLike[str], *, profile: str | None = None
) -> tuple[bytes, tuple[Finding, ...]]:
    """The bytes that `save_pattern` would write, and what the format cannot hold."""
    ending = Path(out).suffix.lower()
    for known in FORMATS:
        if known.write is not None and ending in known.endings:
            return _writer(known, profile, out)(pattern)
    raise unknown_ending(out)


def unknown_ending(out: str | os.PathLike[str]) -> UsageError:
    """The error for a file name whose ending no format of the engine has."""
    ending = Path(out).suffix.lower()
    what = f'the ending "{ending}" is of no format' if ending else "the name has no ending"
    return UsageError(
        f"{what} that sizewright writes",
        where=os.fspath(out),
        cure="Use one of " + ", ".join(e for f in FORMATS if f.write for e in f.endings) + ".",
    )


def _writer(known: Format, profile: str | None, out: str | os.PathLike[str]) -> Writer:
    """The writer of a format's profile; UsageError where it has none of that name."""
    if profile is None:
        assert known.write is not None
        return known.write
    if profile in known.profiles:
        return known.profiles[profile]
    of = [f.name for f in FORMATS if profile in f.profiles]
    if known.profiles:
        raise UsageError(
            f'{known.name} has no profile "{profile}"',
            where=os.fspath(out),
            cure=f"Use one of {', '.join(known.profiles)}.",
        )
    raise UsageError(
        f'the profile "{profile}" is for {" and ".join(of) or "DXF"}',
        where=os.fspath(out),
        cure="Leave it out.",
    )


def save_bytes(
    out: str | os.PathLike[str],
    data: bytes | str,
    *,
    sources: Iterable[str | os.PathLike[str]] = (),
) -> None:
    """Write one file whole or not at all, and never over one of `sources`."""
    from ..formats.safely import write_safely

    write_safely(Path(out), data, sources=tuple(Path(s) for s in sources))


def _names(door: Callable[[Format], object]) -> str:
    return ", ".join(known.name for known in FORMATS if door(known) is not None)


def _looks_like(data: bytes) -> str:
    """A hint at what a refused file is, from its first bytes."""
    head = data[:_HEAD]
    signs = (
        (b"%PDF", "a PDF"),
        (b"\x89PNG", "a PNG picture"),
        (b"\xff\xd8\xff", "a JPEG picture"),
        (b"\x1f\x8b", "a compressed file"),
        (b"PK\x03\x04", "a ZIP archive"),
        (b"AC10", "a DWG drawing"),
    )
    for sign, what in signs:
        if head.startswith(sign):
            return f" (it looks like {what})"
    return ""


def _near(path: Path) -> str:
    """A file in the same folder whose name is nearly the one asked for."""
    import difflib

    try:
        there = [p.name for p in path.parent.iterdir() if p.is_file()]
    except OSError:
        return ""
    close = difflib.get_close_matches(path.name, there, n=1, cutoff=0.75)
    return f' Did you mean "{close[0]}"?' if close else ""
