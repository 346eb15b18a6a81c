"""Speed against named references, and how time grows; `docs/speed.md` tells what it shows.

    python -m tests.benchmarks [--small]

Each row has the processor time of ours and of the reference (that on the clock where it says
so), the least of some runs in turn, their ratio, and, for a job done in several sizes, the
exponent of its growth: 1 is in proportion.
With `--small` it shows only that it runs, without what takes long.
"""

from __future__ import annotations

import io
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path as File
from typing import Any

import ezdxf
import numpy as np
import shapely
from reportlab.pdfgen.canvas import Canvas

from sizewright.drafting import with_cutting_line
from sizewright.drafting.cutting_line import sides
from sizewright.formats import read_dxf, read_interchange, write_dxf, write_interchange
from sizewright.geometry import Path, flatten
from sizewright.grading import grade, grade_map, read_rules
from sizewright.model import Allowances, Outline, Pattern, Piece, Run, parse_seam
from sizewright.plugin import Plugins, check_settings, run_check
from sizewright.shipped import shipped
from tests.benchmarks.bench_geometry import waves
from tests.benchmarks.bench_grading import random_amounts
from tests.grading.outlines import bodice_half
from tests.printing import rectangle, written

Job = Callable[[], object]
#: What every command brings in, and nothing else.
_BARE = "import numpy, shapely, ezdxf, svgelements, click"
_DEMO = shipped("examples/supper-top/supper-top.svg")
_RULES = shipped("grade_tables/supper-top-steps.csv")


@dataclass(frozen=True)
class Row:
    """A line of the table: what is done in which sizes, and what it is held against."""

    what: str
    against: str
    sizes: tuple[int, ...]
    jobs: Callable[[int], tuple[Job, Job]]
    long: bool = False
    clock: Callable[[], float] | None = None


def main(*, small: bool) -> None:
    """Print the table."""
    print("| what | size | ours, ms | reference | ratio | growth |")
    print("| --- | ---: | ---: | --- | ---: | ---: |")
    with tempfile.TemporaryDirectory() as folder:
        for row in rows(File(folder)):
            if small and row.long:
                continue
            sizes = row.sizes[:1] if small else row.sizes
            spent = []
            for size in sizes:
                ours, theirs = row.jobs(size)
                mine, other = least((ours, theirs), 1 if small else 5, row.clock or _clock)
                spent.append(mine)
            growth = ""
            if len(sizes) > 1:
                growth = f"{np.polyfit(np.log(sizes), np.log(spent), 1)[0]:.2f}"
            cells = (row.what, sizes[-1], f"{mine * 1e3:.1f}", row.against, f"{mine / other:.2f}")
            print(f"| {' | '.join(map(str, cells))} | {growth} |", flush=True)


def least(jobs: tuple[Job, ...], rounds: int, clock: Callable[[], float]) -> list[float]:
    """Least time of each job, run in turn, in seconds."""
    spent: list[list[float]] = [[] for _ in jobs]
    for _ in range(rounds):
        for job, times in zip(jobs, spent, strict=True):
            begun, done = clock(), 0
            while done == 0 or (clock() - begun < 0.02 and rounds > 1):
                job()
                done += 1
            times.append((clock() - begun) / done)
    return [min(times) for times in spent]


def _clock() -> float:
    """Processor time of this process and of those that it started, s."""
    both = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(used.ru_utime + used.ru_stime for used in both)


def rows(folder: File) -> Iterator[Row]:
    """All lines of the table."""
    for what, args in (
        ("show", ("show", _DEMO)),
        ("convert to SVG", ("convert", _DEMO, folder / "a.svg")),
        ("convert to DXF", ("convert", _DEMO, folder / "a.dxf")),
        ("grade, 1 size", ("grade", _DEMO, folder / "b.svg", "--to", "14", "--rules", _RULES)),
        ("run the demo", ("run", _DEMO.with_suffix(".toml"), "--into", folder / "made")),
    ):
        jobs = partial(_program, "-m", "sizewright", *args), partial(_program, "-c", _BARE)
        yield Row(what, "bare imports", (1,), lambda _, jobs=jobs: jobs, long=what != "show")
    demo = "-m", "sizewright", "run", _DEMO.with_suffix(".toml"), "--into", folder / "made"
    cores = partial(_program, *demo), partial(_program, *demo, SIZEWRIGHT_CORES="1")
    yield Row(
        "run the demo, time passed", "on one core", (1,), lambda _: cores, True, time.perf_counter
    )
    yield Row("read DXF, chords", "ezdxf's load", (1_000, 4_000, 16_000), _chords)
    yield Row("read DXF, curved nodes", "ezdxf's load", (250, 1_000, 4_000), _nodes)
    yield Row("read interchange, pieces", "ezdxf's load", (4, 16, 64), _interchange)
    yield Row("write DXF, pieces", "ezdxf's load of it", (4, 16, 64), _writing)
    yield Row("cutting line, curved nodes", "shapely's buffer", (100, 1_000, 10_000), _cutting)
    yield Row("batch, bodies", "numpy's bare product", (1_000, 4_000, 16_000), _bodies)
    yield Row("grade, sizes", "their maps built", (4, 8, 16), partial(_graded, 1))
    yield Row("grade, pieces", "their maps built", (4, 8, 16), lambda n: _graded(n, 4))
    yield Row("walk seams, seams", "length of the lines", (8, 32, 128), _seams)
    yield Row("pages, pieces", "the lines by reportlab", (2, 8, 32), _pages)


def _program(*args: object, **environment: str) -> None:
    # As installed: modules are compiled by the first run, like those of the packages.
    told = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    command = [sys.executable, *map(str, args)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=told | environment)


def _load(data: bytes) -> Any:
    # Line ends as ezdxf.readfile takes them: with others it finds no section at all.
    doc = ezdxf.read(io.StringIO(data.decode(), newline=None))  # type: ignore[attr-defined]
    assert len(doc.modelspace()) or len(doc.blocks) > 2
    return doc


def _ring(count: int) -> Piece:
    ring = waves(count)
    wide = max(1.0, count / 300)
    return Piece("ring", Outline.of(Path(ring.controls * wide, ring.lines, True)), kind="sew")


def _chords(count: int) -> tuple[Job, Job]:
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * 900
    outline = Outline.of(Path.polyline(ring, closed=True))
    data = write_dxf(Pattern((Piece("ring", outline, kind="sew"),)), "cutter").data
    return partial(read_dxf, data), partial(_load, data)


def _nodes(count: int) -> tuple[Job, Job]:
    data = write_dxf(Pattern((_ring(count),)), "curves").data
    return partial(read_dxf, data), partial(_load, data)


def _copies(count: int) -> Pattern:
    piece = bodice_half()
    return Pattern(tuple(replace(piece, name=f"p{k}", size="10") for k in range(count)), "10")


def _interchange(count: int) -> tuple[Job, Job]:
    data = write_interchange(_copies(count)).dxf
    return partial(read_interchange, data), partial(_load, data)


def _writing(count: int) -> tuple[Job, Job]:
    pattern = _copies(count)
    data = write_dxf(pattern, "curves").data
    return partial(write_dxf, pattern, "curves"), partial(_load, data)


def _cutting(count: int) -> tuple[Job, Job]:
    piece = replace(_ring(count), allowances=Allowances(15.0))
    path = piece.outline.path

    def cut() -> None:
        # Each time anew: the parallels of a line are kept for a while.
        sides._sides.cache_clear()
        with_cutting_line(piece)

    return (
        cut,
        lambda: shapely.Polygon(flatten(path, 0.01)).buffer(15.0),
    )


def _bodies(count: int) -> tuple[Job, Job]:
    one = grade_map(bodice_half())
    amounts = random_amounts(one, count)
    bare = np.ascontiguousarray(one.matrix.reshape(-1, one.columns).T)
    return partial(one.batch, amounts), lambda: amounts @ bare


def _graded(pieces: int, sizes: int) -> tuple[Job, Job]:
    pattern, labels = _copies(pieces), [str(s) for s in range(2, 34, 2)]
    rules = [
        f"{point.rule},{axis},mm,{',1' * (len(labels) - 1)}"
        for point in bodice_half().outline.points
        for axis in ("width", "length")
    ]
    table = read_rules("\n".join([",".join(["rule,axis,unit", *labels]), *rules]))
    return (
        partial(grade, pattern, table, labels[:sizes]),
        lambda: [grade_map(piece) for piece in pattern.pieces],
    )


def _seams(count: int) -> tuple[Job, Job]:
    pieces, seams = [], []
    for k in range(count):
        for name in (f"a{k}", f"b{k}"):
            piece = rectangle(name, 200 + k, 300)
            outline = replace(piece.outline, runs=(Run(0, 1, "top"),))
            pieces.append(replace(piece, outline=outline))
        seams.append(parse_seam(f"s{k}: a{k}:top = b{k}:top"))
    pattern = Pattern(tuple(pieces), None, tuple(seams))
    check = Plugins.discover().check("seams")
    return (
        lambda: run_check(check, pattern, check_settings(check.name, check.settings, {})),
        lambda: [shapely.LineString(p.outline.path.vertices).length for p in pieces],
    )


def _pages(count: int) -> tuple[Job, Job]:
    pieces = tuple(rectangle(f"p{k}", 150 + 10 * (k % 9), 220) for k in range(count))

    def bare() -> bytes:
        canvas = Canvas(io.BytesIO())
        for piece in pieces:
            line = canvas.beginPath()
            line.moveTo(*piece.outline.path.start)
            for at in piece.outline.path.vertices[1:]:
                line.lineTo(*at)
            canvas.drawPath(line)
            canvas.showPage()
        data: bytes = canvas.getpdfdata()
        return data

    return partial(written, Pattern(pieces)), bare


if __name__ == "__main__":
    main(small="--small" in sys.argv)
