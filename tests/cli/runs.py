"""Running the program in tests, in this process or in one of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from sizewright.cli.main import main

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"


@dataclass(frozen=True)
class Ran:
    """How a run ended and what it printed."""

    code: int
    out: str
    err: str


def run(capsys: pytest.CaptureFixture[str], *args: str | Path) -> Ran:
    """Run in this process."""
    capsys.readouterr()
    code = main([str(a) for a in args])
    out, err = capsys.readouterr()
    return Ran(code, out, err)


def run_apart(
    args: Sequence[str | Path], *, cwd: Path | None = None, code: str | None = None
) -> Ran:
    """Run in a process of its own; with `code`, that Python text instead of the program."""
    start = ["-m", "sizewright"] if code is None else ["-c", code]
    done = subprocess.run(
        [sys.executable, *start, *map(str, args)],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=60,
    )
    return Ran(done.returncode, done.stdout, done.stderr)
