"""The tutorial's plugin, installed in a folder of its own and used in a job."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "hang-loop"
DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm"
 viewBox="0 0 200 100"><g data-piece="towel">
 <path data-role="outline" d="M10 10H190V90H10Z"/>
 <circle data-edge="top" cx="100" cy="10" r="1"/></g></svg>"""
JOB = """source = "towel.svg"
[[steps]]
do = "hang-loop"
at = "towel: middle of top"
length = "3 cm"
[[outputs]]
file = "out.svg"
"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the plugin installed by pip, as its author would."""
    folder = tmp_path_factory.mktemp("site")
    subprocess.run(
        f"{sys.executable} -m pip install -q --no-deps --no-build-isolation".split()
        + f"--disable-pip-version-check --target {folder} {EXAMPLE}".split(),
        check=True,
        capture_output=True,
        timeout=120,
    )
    return folder


def sizewright(site: Path, *args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "sizewright", *args],
        env={**os.environ, "PYTHONPATH": str(site)},
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_it_is_listed_with_its_settings(site: Path) -> None:
    done = sizewright(site, "plugins", "hang-loop", "--json")
    assert done.returncode == 0, done.stderr
    (plugin,) = json.loads(done.stdout)["plugins"]
    assert not plugin["broken"]
    assert [s["name"] for s in plugin["offers"][0]["settings"]] == ["at", "length"]


def test_a_job_uses_it(site: Path, tmp_path: Path) -> None:
    (tmp_path / "towel.svg").write_text(DRAWING)
    job = tmp_path / "towel.toml"
    job.write_text(JOB)
    done = sizewright(site, "run", str(job), "--into", str(tmp_path / "made"))
    assert done.returncode == 0, done.stderr
    assert "1 note" in done.stdout
    drawn = (tmp_path / "made" / "out.svg").read_text()
    assert "hang-loop" in drawn
    assert "hanging loop at towel: middle of top" in drawn


def test_its_wrong_setting_names_file_line_and_right_form(site: Path, tmp_path: Path) -> None:
    (tmp_path / "towel.svg").write_text(DRAWING)
    job = tmp_path / "towel.toml"
    job.write_text(JOB.replace('"3 cm"', "3"))
    done = sizewright(site, "run", str(job))
    assert done.returncode == 2
    assert "towel.toml, line 5" in done.stderr
    assert '"length" of "hang-loop"' in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out.svg").exists()
