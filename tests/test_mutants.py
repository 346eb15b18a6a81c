"""Spoilt files: each is read, or refused with one message; nothing hangs, swells or writes.

`SIZEWRIGHT_MUTANTS` says how many are tried in all. A failure names its mutant, and
`python -m tests.mutants KIND NUMBER > spoilt` makes that file again.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any

import pytest

from tests.mutants import ROOT, kinds, mutant

COUNT = int(os.environ.get("SIZEWRIGHT_MUTANTS", "300"))
#: Parts of the count: the doors with the most behind them get the most.
SHARES = {
    "svg": 0.32,
    "dxf": 0.1,
    "interchange": 0.2,
    "rul": 0.11,
    "csv": 0.12,
    "toml": 0.07,
    "tape": 0.04,
    "pdf": 0.04,
}
#: How much more memory than the good files one spoilt file may take, MB.
SWELLS = 300.0
#: A guard against hanging in compiled code, s; the worker itself sees any other.
_START, _EACH = 120.0, 1.0


def work(kind: str, count: int) -> list[dict[str, Any]]:
    """What a worker told of the first `count` mutants of a kind, line by line."""
    command = [sys.executable, "-m", "tests.mutant_worker", kind, "0", str(count)]
    return told(command, _START + _EACH * count)


def told(command: list[str], timeout: float) -> list[dict[str, Any]]:
    """The lines of a worker, with one of its own at the end if it did not come to its end."""
    environment = os.environ | {"PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            command, cwd=ROOT, env=environment, capture_output=True, timeout=timeout
        )
        out, why = done.stdout, "" if done.returncode == 0 else done.stderr.decode()[-2000:]
        why = why or ("" if done.returncode == 0 else f"it ended with {done.returncode}")
    except subprocess.TimeoutExpired as late:
        out, why = late.stdout or b"", "it hangs"
    rows = [json.loads(row) for row in out.decode().splitlines() if row.endswith("}")]
    if why:
        title = next((r["title"] for r in reversed(rows) if "title" in r), "before the first")
        rows.append({"title": title, "ended": "died", "told": why})
    return rows


def faults(rows: list[dict[str, Any]]) -> list[str]:
    """What went wrong, one text for each file."""
    ended = [row for row in rows if "ended" in row]
    wrong = [row for row in ended if row["ended"] not in ("read", "refused")]
    texts = [f"{row.get('title', row.get('good'))} {row['ended']}: {row['told']}" for row in wrong]
    swollen = [row for row in ended if row.get("grown", 0.0) > SWELLS]
    return texts + [f"{row['title']} took {row['grown']} MB more" for row in swollen]


@pytest.mark.parametrize("kind", SHARES)
def test_a_spoilt_file_is_read_or_refused(kind: str) -> None:
    count = max(1, round(SHARES[kind] * COUNT))
    rows = work(kind, count)
    found = faults(rows)
    assert not found, "\n\n".join(found[:5])
    ends = [row["ended"] for row in rows if "number" in row]
    assert len(ends) == count
    # Spoilt enough that some are refused, and not so much that no reader ever begins.
    if count >= 30:
        assert {"read", "refused"} == set(ends)
    assert sum("good" in row for row in rows) == len(kinds()[kind].files)


def test_every_kind_has_a_share() -> None:
    assert SHARES.keys() == kinds().keys()
    assert sum(SHARES.values()) == pytest.approx(1.0)


def test_mutants_are_the_same_each_time_and_spoilt() -> None:
    for kind, of in kinds().items():
        made = [mutant(kind, n) for n in range(30)]
        assert made == [mutant(kind, n) for n in range(30)]
        assert {m.source for m in made} == set(list(of.files)[:30])
        assert sum(m.data != of.files[m.source] for m in made) > 25


_HARM = """
import json, signal, socket, sys, time, warnings
import tests.mutant_worker as worker
from tests.mutants import Mutant
from sizewright.errors import InputError

def hang(path, out):
    while True:
        try:
            time.sleep(9)
        except Exception:
            pass

def write_and_refuse(path, out):
    out.mkdir()
    (out / "half.svg").write_text("<svg")
    raise InputError("no")

def write_elsewhere(path, out):
    (path.parent / "beside.svg").write_text("<svg")

def spoil_source(path, out):
    path.write_bytes(b"")

def refuse_in_silence(path, out):
    raise InputError("")

def connect(path, out):
    try:
        socket.create_connection(("127.0.0.1", 9), 1)
    except OSError:
        pass

def swell(path, out):
    bytearray(b"x") * 500_000_000

harm = {
    "raised": [lambda p, o: 1 / 0, lambda p, o: warnings.warn("x"), lambda p, o: sys.exit(2)],
    "hung": [hang],
    "wrote": [write_and_refuse, write_elsewhere, spoil_source, connect],
    "silent": [refuse_in_silence],
    "read": [lambda p, o: None, swell],
}
signal.signal(signal.SIGALRM, worker._ring)
watch = worker.Watch()
for wanted, doors in harm.items():
    for door in doors:
        worker.DOORS["csv"] = door
        worker.LONGEST = 0.3 if wanted == "hung" else 20
        held = worker._peak()
        ended, told = worker.feed(Mutant("csv", 0, "a.csv", (), b"x"), watch)
        grown = worker._peak() - held
        print(json.dumps({"title": wanted, "ended": ended, "told": told, "grown": grown}))
"""


def test_harm_is_seen() -> None:
    rows = told([sys.executable, "-c", _HARM], 60)
    assert len(rows) == 11
    assert [row["ended"] for row in rows] == [row["title"] for row in rows]
    found = faults(rows)
    assert len(found) == 10
    assert "MB more" in found[-1]


def test_a_worker_that_dies_or_hangs_is_seen() -> None:
    begin = "import json, os, time; print(json.dumps({'start': 1, 'title': 'one'}), flush=True);"
    for harm, why in (("os._exit(3)", "ended with 3"), ("time.sleep(60)", "hangs")):
        (fault,) = faults(told([sys.executable, "-c", f"{begin} {harm}"], 3.0))
        assert fault.startswith("one died")
        assert why in fault
