"""Files whose reading may end a process, or use it up, read in one of their own."""

from __future__ import annotations

import json
import subprocess
import sys
from contextlib import suppress

#: The process may take so long, s; its own limit of processor time is less.
_LONGEST = 60.0
# A child finds this package where its parent did.
_BEGIN = "import sys, json; sys.path[:] = json.loads(sys.argv[1])\n"


def run_apart(program: str, data: bytes) -> tuple[bytes, bytes] | None:
    """What a Python `program` writes, and its errors, with `data` on its standard input.

    None where it fails or takes too long.
    """
    command = [sys.executable, "-c", _BEGIN + program, json.dumps(sys.path)]
    try:
        done = subprocess.run(command, input=data, capture_output=True, timeout=_LONGEST)
    except subprocess.TimeoutExpired:
        return None
    return (done.stdout, done.stderr) if done.returncode == 0 else None


def limit_process(memory: int, seconds: int) -> None:
    """Hold this process to bytes of memory and seconds of processor time."""
    with suppress(ImportError):  # Windows has no such limits; there the parent's time-out stands
        import resource

        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
