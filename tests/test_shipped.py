"""Shipped files are found from a checkout, and from a wheel far away from it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import sizewright.shipped
from sizewright.errors import LookupFailed
from sizewright.formats import read_svg
from sizewright.shipped import shipped, shipped_names

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = {"grade_tables": ROOT / "grade_tables", "examples": ROOT / "docs" / "examples"}

ASK = """
import json, sizewright.shipped as s, sizewright_plugins
names = [n for folder in ("grade_tables", "examples") for n in s.shipped_names(folder)]
print(json.dumps({
    "modules": [s.__file__, sizewright_plugins.__file__],
    "files": {n: str(s.shipped(n)) for n in names},
}))
"""


@pytest.fixture(scope="session")
def wheel_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that holds nothing but the project's wheel, unpacked by pip."""
    built = tmp_path_factory.mktemp("wheel")
    home = tmp_path_factory.mktemp("away") / "home"
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q"]
    for command in (
        [*pip, "wheel", "--no-deps", "--no-build-isolation", "-w", str(built), str(ROOT)],
        [
            *pip,
            "install",
            "--no-deps",
            "--no-index",
            "--no-compile",
            "-f",
            built,
            "-t",
            home,
            "sizewright",
        ],
    ):
        done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=built)
        assert done.returncode == 0, done.stderr
    return home


def _in_checkout(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
        and not any(p.startswith(".") or p == "__pycache__" for p in path.relative_to(folder).parts)
    }


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_checkout_finds_the_files_that_are_edited(folder: str) -> None:
    assert Path(sizewright.shipped.__file__).is_relative_to(ROOT / "engine")
    expected = {f"{folder}/{name}" for name in _in_checkout(FOLDERS[folder])}
    assert expected
    assert set(shipped_names(folder)) == expected
    for name in expected:
        assert shipped(name) == FOLDERS[folder] / name.removeprefix(f"{folder}/")


def test_a_wheel_away_from_the_checkout_finds_its_own_copies(
    wheel_home: Path, tmp_path: Path
) -> None:
    environment = {**os.environ, "PYTHONPATH": str(wheel_home)}
    done = subprocess.run(
        [sys.executable, "-c", ASK],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    for place in (*told["modules"], *told["files"].values()):
        assert Path(place).is_relative_to(wheel_home.resolve())
    found = {name: Path(path).read_bytes() for name, path in told["files"].items()}
    assert found == {
        f"{folder}/{name}": content
        for folder, place in FOLDERS.items()
        for name, content in _in_checkout(place).items()
    }


def test_an_installed_package_does_not_look_into_folders_around_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "lib" / "sizewright"
    (package / "_shipped" / "examples").mkdir(parents=True)
    (package / "_shipped" / "examples" / "own.svg").write_text("own")
    (tmp_path / "docs" / "examples").mkdir(parents=True)
    (tmp_path / "docs" / "examples" / "stray.svg").write_text("stray")
    (tmp_path / "pyproject.toml").write_text("")
    monkeypatch.setattr(sizewright.shipped, "_PACKAGE", package)
    assert shipped_names("examples") == ["examples/own.svg"]
    with pytest.raises(LookupFailed):
        shipped("examples/stray.svg")


def test_the_packed_copy_comes_before_the_checkout(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "engine" / "sizewright"
    for home in (package / "_shipped" / "examples", tmp_path / "docs" / "examples"):
        home.mkdir(parents=True)
        (home / "a.svg").write_text("")
    (tmp_path / "docs" / "examples" / "b.csv").write_text("")
    (tmp_path / "pyproject.toml").write_text("")
    monkeypatch.setattr(sizewright.shipped, "_PACKAGE", package)
    assert shipped("examples/a.svg").is_relative_to(package)
    assert shipped("examples/b.csv").is_relative_to(tmp_path / "docs")
    assert shipped_names("examples", suffix=".svg") == ["examples/a.svg"]


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("examples/nothing-of-the-kind.svg", "There is examples/README.md"),
        ("grade_tables", "There is "),
        ("pyproject.toml", "Names start with grade_tables/ or examples/"),
        ("examples/../../pyproject.toml", "not the name of a shipped file"),
        ("/etc/passwd", "not the name of a shipped file"),
        ("", "not the name of a shipped file"),
    ],
)
def test_what_is_not_shipped_is_refused_with_what_there_is(name: str, says: str) -> None:
    with pytest.raises(LookupFailed) as caught:
        shipped(name)
    assert says in str(caught.value)


def test_a_drawing_is_found_by_its_shipped_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("examples/basic-set/basic-set.svg", "basic-set/basic-set.svg"):
        assert len(read_svg(name).pattern.pieces) == 7
    (tmp_path / "examples/basic-set").mkdir(parents=True)
    (tmp_path / "examples/basic-set/basic-set.svg").write_text("<svg/>", "utf-8")
    assert not read_svg("examples/basic-set/basic-set.svg").pattern.pieces  # one's own comes first
