"""Writing files so that nothing is half made and no source is lost.

The bytes go to a temporary file in the same folder, reach the disk, and only then take
the name. A source is known by the file that it is, not by how its path is spelt; `~/` in
front is the user's home. What a killed run left behind is cleared by the next one that writes
there.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import stat
import time
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from ..errors import UsageError

Data = bytes | str
_LITTER = re.compile(r"\.sizewright-(\d+)-[0-9a-f]{16}\.(?:part|old)")
#: No run takes so long to write, s.
_LONG = 3600.0


def write_safely(path: Path | str, data: Data, *, sources: Iterable[Path | str] = ()) -> None:
    """Write `data` (text as UTF-8) to `path`: the whole of it, or nothing.

    A file that stands there is replaced, unless it is one of `sources` under whatever
    spelling, link or case. Through a symbolic link the file that it points to is written.
    Raises UsageError when that cannot be done, with what to mend.
    """
    write_all({Path(path): data}, sources=sources)


def write_all(files: Mapping[Path, Data], *, sources: Iterable[Path | str] = ()) -> None:
    """Write several files, all of them or none as far as the file system lets.

    All are checked and written under temporary names before the first takes its own. When
    a rename fails midway, the files before it are put back as they were, where the folder
    allows hard links.
    """
    targets = checked_targets(files, sources)
    for folder in {target.parent for target in targets.values()}:
        _clear_litter(folder)
    undo = contextlib.ExitStack()
    with contextlib.ExitStack() as litter:
        ready = []
        for path, data in files.items():
            with _explained(path):
                part = _write_part(targets[path], data, litter)
            ready.append((path, part, targets[path]))
        with undo:
            for path, part, target in ready:
                with _explained(path):
                    if len(ready) > 1:
                        _keep_old(target, litter, undo)
                    os.replace(part, target)
            undo.pop_all()
    for folder in {target.parent for target in targets.values()}:
        _sync_folder(folder)


def checked_targets(
    paths: Iterable[Path], sources: Iterable[Path | str] = (), *, below: Path | None = None
) -> dict[Path, Path]:
    """The real files that `paths` stand for. Raises UsageError where one must not be written.

    With `below` they must lie in that folder, and folders in it need not be there yet.
    """
    kept = [_home(source) for source in sources]
    inside = None if below is None else _home(below).resolve()
    targets = {path: _target(_home(path), kept, inside) for path in paths}
    _check_distinct(targets)
    return targets


def _home(path: Path | str) -> Path:
    return Path(os.path.expanduser(path))


def _target(path: Path, sources: list[Path], inside: Path | None) -> Path:
    with _explained(path):
        try:
            target = path.resolve()
        except RuntimeError:  # a loop of links, as Python before 3.13 tells it
            raise OSError(errno.ELOOP, "loop") from None
        try:
            mode = target.stat().st_mode
        except FileNotFoundError:
            mode = None
        if inside is not None and not target.is_relative_to(inside):
            raise UsageError(
                f"a link leads it out of the folder {inside}",
                where=str(path),
                cure="Take the link away, or choose another folder with --into.",
            )
        parent = target.parent
        while inside is not None and parent != inside and not parent.exists():
            parent = parent.parent
        if mode is None and not parent.is_dir() and (parent != inside or parent.exists()):
            raise UsageError(
                "there is no such folder",
                where=str(parent),
                cure="Make the folder first, or write elsewhere.",
            )
    what = cure = ""
    if mode is not None and stat.S_ISDIR(mode):
        what, cure = "a folder of that name is in the way", "Give another file name."
    elif mode is not None and not stat.S_ISREG(mode):
        what, cure = "that is no plain file", "Give another file name."
    elif source := next((s for s in sources if _same(target, s)), None):
        also = "" if str(source) == str(path) else f" (it is {source})"
        what, cure = f"this would overwrite the source{also}", "Give the output another name."
    elif mode is not None and not os.access(target, os.W_OK):
        what = "the file there may not be written"
        cure = "Write elsewhere, or let the file be written."
    if what:
        raise UsageError(what, where=str(path), cure=cure)
    return target


def _same(target: Path, source: Path) -> bool:
    try:
        return target.samefile(source)
    except OSError:  # one of them is not there: only the name is left to judge by
        return target == Path(os.path.realpath(source))


def _check_distinct(targets: Mapping[Path, Path]) -> None:
    seen: dict[Path, Path] = {}
    for path, target in targets.items():
        for other, first in seen.items():
            if target == other or (target.exists() and _same(target, other)):
                raise UsageError(
                    f"two outputs would be one file ({first} and {path})",
                    cure="Give each output its own name.",
                )
        seen[target] = path


def _write_part(target: Path, data: Data, litter: contextlib.ExitStack) -> Path:
    """The bytes in a new file beside `target`, safe on the disk; `litter` takes it away."""
    part = target.with_name(_litter_name("part"))
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    litter.callback(part.unlink, missing_ok=True)
    with os.fdopen(handle, "wb") as file:
        file.write(data.encode("utf-8") if isinstance(data, str) else data)
        file.flush()
        os.fsync(file.fileno())
    with contextlib.suppress(OSError):  # a replaced file keeps who may read it
        os.chmod(part, stat.S_IMODE(target.stat().st_mode))
    return part


def _litter_name(kind: str) -> str:
    return f".sizewright-{os.getpid()}-{os.urandom(8).hex()}.{kind}"


def _clear_litter(folder: Path) -> None:
    """Take away what runs that are no more left in a folder."""
    with contextlib.suppress(OSError):
        for left in folder.glob(".sizewright-*"):
            made = _LITTER.fullmatch(left.name)
            if made and not _runs(int(made[1]), left):
                left.unlink(missing_ok=True)


def _runs(process: int, left: Path) -> bool:
    """Whether the process that made a file may still be at work on it."""
    if os.name == "nt":  # where asking would end it
        return time.time() - left.stat().st_mtime < _LONG
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:  # somebody else's
        pass
    return True


def _keep_old(target: Path, litter: contextlib.ExitStack, undo: contextlib.ExitStack) -> None:
    """Arrange that `undo` brings back what stands at `target` now."""
    if not target.exists():
        undo.callback(target.unlink, missing_ok=True)
        return
    old = target.with_name(_litter_name("old"))
    with contextlib.suppress(OSError):
        os.link(target, old)
        litter.callback(old.unlink, missing_ok=True)
        undo.callback(_put_back, old, target)


def _put_back(old: Path, target: Path) -> None:
    with contextlib.suppress(OSError):
        os.replace(old, target)


def _sync_folder(folder: Path) -> None:
    """Bring a folder's new names to the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def _explained(path: Path) -> Iterator[None]:
    """Faults of the file system as messages about `path`."""
    try:
        yield
    except (OSError, ValueError, UnicodeEncodeError) as error:
        if isinstance(error, UsageError):
            raise
        what, cure = _reason(error)
        raise UsageError(what, where=str(path), cure=cure) from error


#: What went wrong and how to mend it, by the system's number of the fault.
_REASONS = {
    errno.ENOSPC: ("the disk is full", "Make room, or write elsewhere."),
    errno.EDQUOT: ("the disk is full", "Make room, or write elsewhere."),
    errno.EROFS: ("the disk can only be read", "Write elsewhere."),
    errno.ENAMETOOLONG: ("the file name is too long", "Give a shorter one."),
    errno.ELOOP: ("its links point at one another", "Give another file name."),
    errno.ENOTDIR: ("a file stands where a folder should be", "Give another folder."),
}


def _reason(error: Exception) -> tuple[str, str]:
    if isinstance(error, UnicodeEncodeError):
        return "a character in it cannot be written", "Take odd characters out of the names."
    if not isinstance(error, OSError):
        return "that is no file name", "Give another file name."
    if isinstance(error, PermissionError):
        return "the folder may not be written to", "Write elsewhere, or ask for leave to write."
    plain = f"it cannot be written ({error.strerror or error})", "Write elsewhere."
    return _REASONS.get(error.errno or 0, plain)
