"""Writing what a job made into its folder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from ..errors import UsageError
from ..formats.safely import write_all


def write_out(folder: Path, files: Mapping[str, bytes], *, sources: Iterable[Path] = ()) -> None:
    """Write files by name below `folder`, all or none; folders are made as needed.

    Raises UsageError where a folder cannot be made, or what `write_all` raises.
    """
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
    write_all(paths, sources=sources)
