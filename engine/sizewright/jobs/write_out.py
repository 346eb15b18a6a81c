"""Writing what a job made into its folder."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path, PurePosixPath

from ..errors import UsageError
from ..formats.safely import checked_targets, write_all

#: Names that some systems keep for devices, whatever their ending.
_DEVICES = re.compile(r"(?:con|prn|aux|nul|conin\$|conout\$|(?:com|lpt)[0-9¹²³])(?:\..*)?", re.I)


def is_device(name: str) -> bool:
    """Whether some system takes a name for a device's."""
    return _DEVICES.fullmatch(name.strip()) is not None


def plain_output(name: str) -> str:
    """The name of an output as it is used: below a folder, its parts joined by `/`.

    Raises UsageError where it leaves the folder, would be hidden there, has characters that
    cannot be seen or that file systems take for something else, or names a device.
    """
    plain = name.replace("\\", "/")
    path = PurePosixPath(plain)
    what = ""
    if path.is_absolute() or ".." in path.parts or re.match("~|.*:", plain) or not path.name:
        what = "leaves the output folder"
    elif not name.isprintable() or re.search('[<>"|?*]', plain):
        what = "has characters that a file name should not have"
    elif any(part.startswith(".") for part in path.parts):
        what = "would be hidden (a part begins with a dot)"
    elif any(part.endswith((" ", ".")) for part in path.parts):
        what = "has a part that ends in a blank or a dot"
    elif any(is_device(part) for part in path.parts):
        what = "is what some systems call a device"
    if what:
        shown = name.encode("unicode_escape").decode() if not name.isprintable() else name
        raise UsageError(
            f'the output "{shown[:100]}" {what}',
            cure="Name it below the folder, as out/front.svg, and choose that with --into.",
        )
    return str(path)


def check_name(name: str, may: Sequence[str] = ("size",)) -> None:
    """Raise UsageError for the name of an output that has other words in braces than it may."""
    unknown = [word for word in re.findall(r"\{([^{}]*)\}", name) if word not in may]
    if unknown:
        known = " and ".join(", ".join(f"{{{word}}}" for word in may).rsplit(", ", 1))
        what = f'the name "{name}" has {{{unknown[0]}}} in it'
        raise UsageError(what, cure=f"It may have {known}.")


def check_out(folder: Path, names: Iterable[str], sources: Iterable[Path] = ()) -> None:
    """Raise what `write_out` would of files of these names, as far as can be told before."""
    names = [plain_output(name) for name in names]
    checked_targets([folder / name for name in names], sources, below=folder)


def write_out(
    folder: Path,
    files: Mapping[str, bytes],
    *,
    sources: Iterable[Path] = (),
    kept: Mapping[Path, bytes] | None = None,
) -> None:
    """Write files by name below `folder`, all or none; folders are made as needed.

    `kept` are written with them, by their whole paths, into folders that are there.
    Raises UsageError where a folder cannot be made, for a link that leads out of it, and what
    `write_all` raises.
    """
    folder = Path(os.path.expanduser(folder))
    sources = tuple(sources)
    check_out(folder, files, sources)
    paths = {folder / plain_output(name): data for name, data in files.items()}
    for parent in {path.parent for path in paths}:
        try:
            parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UsageError(
                f"this folder cannot be made: {error.strerror}",
                where=str(parent),
                cure="Choose another folder, or ask for leave to write there.",
            ) from None
    write_all(paths | dict(kept or {}), sources=sources)
