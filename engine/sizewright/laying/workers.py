"""Searches in processes of their own: started, listened to, and ended, whatever happens.

A worker gets its task as JSON on its standard input, which stays open: when it closes, as it
does when this process ends in any way, the worker ends too. It tells each find as a line of
JSON on its standard output, the first of which says that it is ready.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from queue import Empty, Queue
from threading import Thread
from typing import Any

#: What a worker runs: a function of the task that tells its finds.
Tell = Callable[[Mapping[str, Any]], None]

# A child finds this package where its parent did.
_BEGIN = (
    "import sys, json; sys.path[:] = json.loads(sys.argv[1]);"
    "from sizewright.laying.workers import serve; serve()"
)
# One thread each: the searches themselves are what runs side by side.
_ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "RAYON_NUM_THREADS": "1"}
_POLL = 0.1


@contextmanager
def working(tasks: Sequence[Mapping[str, Any]]) -> Iterator[Callable[[float], Any]]:
    """Workers on `tasks`, each of which names its `engine`; ended when the block is left.

    Gives a function that waits up to so many seconds for the next find of any of them: the
    number of its task, and a mapping; None when the time is up; False when all have ended.
    """
    finds: Queue[Any] = Queue()
    started: list[subprocess.Popen[str]] = []
    try:
        for number, task in enumerate(tasks):
            started.append(_start(number, task, finds))
        running = len(started)

        def next_find(seconds: float) -> Any:
            nonlocal running
            until = time.monotonic() + seconds
            while running:
                try:
                    found = finds.get(timeout=max(until - time.monotonic(), 0.0))
                except Empty:
                    return None
                if found is not None:
                    return found
                running -= 1
            return False

        yield next_find
    finally:
        for process in started:
            process.kill()
        for process in started:
            process.wait()
            for stream in (process.stdin, process.stdout):
                if stream is not None:
                    _close(stream)


def _close(stream: Any) -> None:
    with suppress(OSError):
        stream.close()


def _start(number: int, task: Mapping[str, Any], finds: Queue[Any]) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", _BEGIN, json.dumps(sys.path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        encoding="utf-8",
        env={**os.environ, **_ONE_THREAD},
    )

    def talk() -> None:
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(json.dumps(task) + "\n")
            process.stdin.flush()
            for line in process.stdout:
                finds.put((number, json.loads(line)))
        except (OSError, ValueError):
            pass  # it was ended
        finds.put(None)

    Thread(target=talk, daemon=True).start()
    return process


# --- in the worker ----------------------------------------------------------------


def serve() -> None:
    """Do the task that stands on standard input, until it is done or the input closes."""
    # An interrupt is for the parent, which ends this process when it likes.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    task = json.loads(sys.stdin.readline())
    Thread(target=_end_with_parent, daemon=True).start()
    from importlib import import_module

    try:
        engine = import_module(f"{__package__}.{task['engine']}")  # heavy, and so only here
        _tell({"ready": True})
        engine.search(task, _tell)
    except BaseException as error:  # a library's panic is no Exception
        _tell({"trouble": f"{type(error).__name__}: {error}"})
    sys.stdout.flush()
    os._exit(0)


def _tell(found: Mapping[str, Any]) -> None:
    print(json.dumps(found), flush=True)


def _end_with_parent() -> None:
    sys.stdin.read()
    os._exit(1)
