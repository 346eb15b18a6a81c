"""Where the files are that come with the program: size tables and examples.

An installed package carries them in its own `_shipped` folder. In a checkout they stand
where people edit them, `grade_tables/` and `docs/examples/`. Nothing else looks for them.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from sizewright.errors import LookupFailed

# Folder name -> where the checkout keeps it. pyproject.toml copies the same into the wheel.
_FOLDERS = {"grade_tables": "grade_tables", "examples": "docs/examples"}

#: What a name of a shipped file begins with where any path may stand.
PREFIX = "shipped:"

_PACKAGE = Path(__file__).resolve().parent


def shipped(name: str) -> Path:
    """The shipped file `name`, such as `grade_tables/README.md` or `examples/a.svg`.

    Raises LookupFailed, listing the names that there are.

    >>> shipped("grade_tables/README.md").name
    'README.md'
    """
    folder, inside = _split(name)
    for home in _homes(folder):
        path = home / inside
        try:
            if path.is_file():
                return path
        except OSError:  # a name longer than any file's
            continue
    there = ", ".join(shipped_names(folder)) or "nothing"
    raise LookupFailed(f"no shipped file {name!r}", cure=f"There is {there}")


def found_file(name: str | Path, folder: Path = Path()) -> Path:
    """A path as it was given, counted from `folder`, `~/` being the user's home.

    `shipped:grade_tables/a.csv` is the shipped file of that name, and so is a bare `a.csv`
    where the user has no file so called. Raises LookupFailed for a `shipped:` that is none.
    """
    text = os.path.expanduser(name)
    if text.startswith(PREFIX):
        return shipped(text.removeprefix(PREFIX))
    path = folder / text
    if not is_there(path) and not os.path.isabs(text):
        for home in ("", *(f"{top}/" for top in _FOLDERS)):
            try:
                return shipped(home + Path(text).as_posix())
            except LookupFailed:
                continue
    return path


def is_there(path: Path) -> bool:
    """Whether there is such a file or folder; not so for a name that none may have."""
    try:
        return path.exists()
    except (OSError, ValueError):  # too long, or with signs that no name may have
        return False


def shipped_names(folder: str, *, suffix: str = "") -> list[str]:
    """The names of all shipped files in `folder` that end in `suffix`, sorted.

    Each is a name that `shipped` takes, with `/` between its parts. Hidden files are left
    out. Raises LookupFailed for a folder that is not shipped.
    """
    top, inside = _split(folder)
    names: set[str] = set()
    for home in _homes(top):
        for path in (home / inside).rglob("*"):
            below = path.relative_to(home)
            hidden = any(part.startswith((".", "__pycache__")) for part in below.parts)
            if path.is_file() and not hidden and path.name.endswith(suffix):
                names.add(f"{top}/{below.as_posix()}")
    return sorted(names)


def _split(name: str) -> tuple[str, str]:
    """The shipped folder that `name` starts with, and the path inside it."""
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or not path.parts:
        raise LookupFailed(f"{name!r} is not the name of a shipped file", cure=_known())
    if path.parts[0] not in _FOLDERS:
        raise LookupFailed(f"no shipped folder {path.parts[0]!r}", cure=_known())
    return path.parts[0], str(PurePosixPath(*path.parts[1:]))


def _known() -> str:
    return f"Names start with {' or '.join(f'{folder}/' for folder in _FOLDERS)}"


def _homes(folder: str) -> Iterator[Path]:
    """The places where `folder` may be: in the package, then in the checkout."""
    packed = _PACKAGE / "_shipped" / folder
    if packed.is_dir():
        yield packed
    root = _PACKAGE.parent.parent
    # Installed somewhere else, the folders above are not ours, whatever they are called.
    if _PACKAGE.parent.name == "engine" and (root / "pyproject.toml").is_file():
        loose = root / _FOLDERS[folder]
        if loose.is_dir():
            yield loose
