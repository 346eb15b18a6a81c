"""Writing what a job made into its folder."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from ..errors import UsageError
from ..formats.safely import checked_targets, write_all


def check_out(folder: Path, names: Iterable[str], sources: Iterable[Path] = ()) -> None:
    """Raise what `write_out` would of files of these names, as far as can be told before."""
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
    paths = {folder / name: data for name, data in files.items()}
    for parent in {path.parent for path in paths}:
        try:
            parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UsageError(
                f"this folder cannot be made: {error.strerror}",
                where=str(parent),
                cure="Choose another with --into.",
            ) from None
    write_all(paths | dict(kept or {}), sources=sources)
