"""Spoilt files fed through the program's doors, in a process of its own.

`python -m tests.mutant_worker KIND FIRST COUNT` prints one line of JSON as a mutant begins
(`start`) and one as it ends: `read`, `refused`, or a fault. A hang in compiled code, or one
that ends the process, is seen by whoever reads the lines.
"""

from __future__ import annotations

import json
import os
import re
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import numpy as np

from sizewright.errors import PluginError, SizewrightError
from sizewright.formats.dxf.fenced import fence_ezdxf
from sizewright.formats.reading import Reading
from sizewright.grading import read_chart, read_points
from sizewright.jobs.commands import run_job_file
from sizewright.jobs.files import encode_pattern, open_pattern
from sizewright.jobs.rule_files import open_rules
from tests.mutants import FIXTURES, ROOT, Mutant, kinds, mutant
from tests.operations import plugins

#: No file takes longer, s. A guard against hanging, not a speed.
LONGEST = 20
#: All memory that the process may take, bytes: the machine is kept from harm.
_MOST = 6 * 1024**3
_APRON = ROOT / "docs" / "examples" / "half-apron"


class Hung(BaseException):
    """A file took too long. No `except Exception` may swallow this."""


def _ring(_signal: int, _frame: FrameType | None) -> None:
    raise Hung


class Watch:
    """What the process opens for writing, connects to or starts outside of `allowed`."""

    def __init__(self) -> None:
        self.allowed = ""
        self.seen: list[str] = []
        sys.addaudithook(self._event)

    def _event(self, event: str, args: tuple[Any, ...]) -> None:
        if event == "open":
            path, _, flags = args
            writes = flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            inside = self.allowed and str(path).startswith(self.allowed)
            if writes and not isinstance(path, int) and not inside:
                self.seen.append(f"opened {path} for writing")
        elif event in ("os.rename", "os.remove", "os.mkdir"):
            if not (self.allowed and str(args[0]).startswith(self.allowed)):
                self.seen.append(f"{event} {args[0]}")
        elif event == "subprocess.Popen" and "formats.pdf.extract" in str(args[1]):
            pass  # the process in which a PDF is read
        elif event in ("socket.connect", "subprocess.Popen", "os.system"):
            self.seen.append(f"{event} {args!r:.100}")


def _read_pattern(path: Path, _out: Path) -> None:
    reading = open_pattern(path, plugins=plugins())
    _sound(reading)
    # What was read can be written again, or it is said why not.
    encode_pattern(reading.pattern, "again.svg", plugins=plugins())


def _sound(reading: Reading) -> None:
    for piece in reading.pattern.pieces:
        assert np.isfinite(piece.outline.path.controls).all(), piece.name
        assert piece.outline.path.area > 0, piece.name


def _read_table(path: Path, _out: Path) -> None:
    name = path.name
    read = read_chart if "chart" in name else read_points if "points" in name else open_rules
    read(path)


def _run_job(path: Path, out: Path) -> None:
    run_job_file(path, into=out)


DOORS: dict[str, Callable[[Path, Path], None]] = {
    "svg": _read_pattern,
    "dxf": _read_pattern,
    "interchange": _read_pattern,
    "tape": _read_pattern,
    "pdf": _read_pattern,
    "rul": _read_table,
    "csv": _read_table,
    "toml": _run_job,
}


def _furnish(folder: Path) -> Path:
    """The files that jobs name, and the folder to put a job in."""
    jobs = folder / "jobs"
    jobs.mkdir()
    (folder / "features.svg").write_bytes((FIXTURES / "features.svg").read_bytes())
    for source in (*_APRON.iterdir(), *(FIXTURES / "jobs").glob("*.csv")):
        (jobs / source.name).write_bytes(source.read_bytes())
    return jobs


def _state(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def feed(spoilt: Mutant, watch: Watch) -> tuple[str, str]:
    """How one file ended (`read`, `refused` or a fault) and what was told of it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name).resolve()
        jobs = _furnish(folder) if spoilt.kind == "toml" else folder
        ending = Path(spoilt.source).suffix
        path = jobs / f"{Path(spoilt.source).stem}{ending}"
        path.write_bytes(spoilt.data)
        before, out = _state(folder), folder / "out"
        watch.allowed, watch.seen = str(out), []
        signal.setitimer(signal.ITIMER_REAL, LONGEST)
        try:
            with warnings.catch_warnings():
                # A warning would come as a line of Python on a user's terminal.
                warnings.simplefilter("error")
                for harmless in (DeprecationWarning, PendingDeprecationWarning, ResourceWarning):
                    warnings.simplefilter("ignore", harmless)
                DOORS[spoilt.kind](path, out)
            ended, told = "read", ""
        except PluginError as error:
            ended, told = "plugin failed", f"{error}\n{traceback.format_exc()}"
        except SizewrightError as error:
            ended, told = "refused", str(error)
        except Hung:
            ended, told = "hung", traceback.format_exc()
        except BaseException:
            ended, told = "raised", traceback.format_exc()
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)
        seen, watch.seen, watch.allowed = watch.seen, [], str(folder)
        after = _state(folder)
        if ended == "read":
            after = {p: data for p, data in after.items() if not p.startswith(f"{out}{os.sep}")}
        if seen or after != before:
            files = sorted({*after} ^ {*before})
            return "wrote", f"{'; '.join(seen)} {files} {told}"
        if ended == "refused" and not told.strip():
            return "silent", "no message"
        return ended, told


def _peak() -> float:
    """The most memory that the process has held so far, MB.

    From Linux's own count of this program: `ru_maxrss` begins at what the process that
    started it held.
    """
    status = Path("/proc/self/status")
    if status.exists():
        found = re.search(r"VmHWM:\s*(\d+) kB", status.read_text("ascii", "replace"))
        if found:
            return int(found[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(kind: str, first: int, count: int) -> None:
    """Feed mutants `first` to `first + count - 1` of a kind."""
    resource.setrlimit(resource.RLIMIT_AS, (_MOST, _MOST))
    signal.signal(signal.SIGALRM, _ring)
    # Bringing ezdxf in keeps it from the user's files by a folder of its own, once.
    fence_ezdxf()
    known, watch = kinds(), Watch()
    for name, data in known[kind].files.items():
        # The good files come first: what they take is the measure for the others.
        ended, told = feed(Mutant(kind, -1, name, (), data), watch)
        expected = ended in ("read", "refused")
        print(json.dumps({"good": name, "ended": ended, "told": "" if expected else told}))
    print(json.dumps({"peak": _peak()}), flush=True)
    for number in range(first, first + count):
        spoilt = mutant(kind, number, known)
        print(json.dumps({"start": number, "title": spoilt.title}), flush=True)
        held, begun = _peak(), time.monotonic()
        ended, told = feed(spoilt, watch)
        lasted = time.monotonic() - begun
        told = told if ended not in ("read", "refused") else told[:200]
        line = {"number": number, "title": spoilt.title, "ended": ended, "told": told}
        line |= {"seconds": round(lasted, 3), "grown": round(_peak() - held, 1)}
        print(json.dumps(line), flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
