"""How long `sizewright show` takes on a dozen pieces, against importing numpy alone.

    python tests/benchmarks/bench_show.py

Each is a bare interpreter of its own; the least of several runs counts.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from sizewright.jobs.files import save_pattern
from tests.pictures.patterns import twelve

RUNS = 7


def least(*args: str) -> float:
    """Seconds of the quickest of several runs of an interpreter."""
    best = float("inf")
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *args], check=True, stdout=subprocess.DEVNULL)
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    """Print seconds and ratios."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "twelve.svg"
        save_pattern(twelve(), path)
        picture = str(Path(folder) / "picture.svg")
        show = ("-m", "sizewright", "show", str(path))
        base = least("-c", "import numpy")
        rows = {
            "import numpy": base,
            "sizewright --help": least("-m", "sizewright", "--help"),
            "show, 12 pieces": least(*show),
            "show --json": least(*show, "--json"),
            "show --picture": least(*show, "--picture", picture),
        }
    for name, seconds in rows.items():
        print(f"{name:<20}{seconds * 1000:8.0f} ms{seconds / base:8.2f} x")


if __name__ == "__main__":
    main()
