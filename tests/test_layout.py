"""The house keeps its plan: who imports whom, and what stands at the top."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.imports import engine_faults, plugin_faults
from tests.programs import need
from tests.readme import README, commands

ROOT = Path(__file__).resolve().parents[1]
TOP = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "docs",
    "engine",
    "grade_tables",
    "plugins",
    "pyproject.toml",
    "tests",
}


def _modules(home: Path) -> list[tuple[str, Path]]:
    """Module name and file of everything under the import root `home`."""
    found = []
    for path in sorted(home.rglob("*.py")):
        parts = path.relative_to(home).with_suffix("").parts
        found.append((".".join(parts[:-1] if parts[-1] == "__init__" else parts), path))
    return found


def _check(modules: list[tuple[str, Path]], faults: Callable[..., list[str]]) -> None:
    assert modules
    found = [
        fault
        for name, path in modules
        for fault in faults(path.read_text("utf-8"), name, package=path.name == "__init__.py")
    ]
    assert not found, "\n".join(found)


def test_engine_imports_run_one_way() -> None:
    _check(_modules(ROOT / "engine"), engine_faults)


def test_plugins_use_only_public_names() -> None:
    _check(_modules(ROOT / "plugins"), plugin_faults)


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("sizewright.model.piece", "from sizewright.geometry.paths import x"),
        ("sizewright.model.piece", "from sizewright.model import point"),
        ("sizewright.model.piece", "from . import point"),
        ("sizewright.model.piece", "from ..geometry import paths"),
        ("sizewright.grading.map", "from sizewright import errors, units, model"),
        ("sizewright.cli.main", "import sizewright.jobs.run, numpy, json"),
        ("sizewright.formats.svg", "from sizewright.palette import INK"),
        (
            "sizewright.formats.svg.page",
            "from ..drawing.shapes import Box",
        ),
        ("sizewright.formats.dxf.load", "from ..drawing import shapes"),
        ("sizewright.formats.interchange.reader", "from ..dxf.load import load"),
        ("sizewright.shipped", "from sizewright.errors import LookupFailed"),
    ],
)
def test_the_import_rule_lets_pass(module: str, source: str) -> None:
    assert engine_faults(source, module) == []


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("sizewright.geometry.paths", "from sizewright.model import Piece"),
        ("sizewright.geometry.paths", "from ..model import Piece"),
        ("sizewright.geometry.paths", "from .. import model"),
        ("sizewright.geometry.paths", "from sizewright import model"),
        ("sizewright.geometry.paths", "def f():\n    import sizewright.model.piece as p"),
        ("sizewright.model.piece", "from sizewright.palette import INK"),
        ("sizewright.grading.map", "import sizewright.formats"),
        ("sizewright.formats.svg", "from sizewright.plugin import Setting"),
        ("sizewright.formats.drawing.names", "from ..svg.page import Page"),
        ("sizewright.formats.drawing.names", "from .. import dxf"),
        ("sizewright.formats.dxf.load", "from ..svg.page import Page"),
        ("sizewright.formats.interchange.reader", "from sizewright.formats import svg"),
        ("sizewright.pictures.page", "from sizewright.grading import nest"),
        ("sizewright.plugin.manager", "from sizewright.jobs import run"),
        ("sizewright.jobs.run", "if TYPE_CHECKING:\n    from sizewright.cli import main"),
        ("sizewright.plugin.manager", "import sizewright_plugins.notches"),
        ("sizewright.plugin.manager", "import_module('sizewright_plugins.notches')"),
        ("sizewright.plugin.manager", "importlib.import_module('sizewright.cli')"),
        ("sizewright.errors", "from sizewright.units import Unit"),
        ("sizewright.attic.old", "import json"),
    ],
)
def test_the_import_rule_catches(module: str, source: str) -> None:
    assert len(engine_faults(source, module)) == 1


def test_a_package_counts_its_dots_from_itself() -> None:
    assert engine_faults("from .piece import Piece", "sizewright.model", package=True) == []
    assert engine_faults("from ..jobs import run", "sizewright.model", package=True)
    assert engine_faults("from sizewright.model import Piece", "sizewright", package=True)


@pytest.mark.parametrize(
    "source",
    [
        "from sizewright.units import Unit, parse_length",
        "from sizewright import errors, units\nunits.parse_length('1 cm')",
        "import sizewright.units as u\nu.parse_length('1 cm')",
        "import numpy as np\nnp._core\nfrom sizewright_plugins import _shared",
    ],
)
def test_the_plugin_rule_lets_pass(source: str) -> None:
    assert plugin_faults(source, "sizewright_plugins.some") == []


@pytest.mark.parametrize(
    "source",
    [
        "from sizewright.geometry.paths import Path",
        "import sizewright.geometry.paths",
        "from sizewright.units import _plain",
        "from sizewright.units import re",
        "from sizewright.units import nothing_of_the_kind",
        "from sizewright.units import *",
        "from sizewright import _private",
        "from sizewright import nothing_of_the_kind",
        "from sizewright.cli import main",
        "from sizewright import cli",
        "from sizewright import units\nunits._plain('1')",
        "import sizewright.units as u\nu._plain('1')",
        "import sizewright.units\nsizewright.units._plain('1')",
    ],
)
def test_the_plugin_rule_catches(source: str) -> None:
    assert len(plugin_faults(source, "sizewright_plugins.some")) == 1


def test_nothing_else_stands_at_the_top() -> None:
    git = need("git")
    listed = subprocess.run(
        [git, "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    top = {name.split("/")[0] for name in listed.split("\0") if name}
    assert top == TOP


def test_readme_gives_each_command_once_on_one_line() -> None:
    assert set(commands(README.read_text("utf-8"))) == {"job", "tests"}
    block = "<!-- command: tests -->\n```sh\none\n```\n"
    assert commands(block) == {"tests": "one"}
    for wrong in (block + block, block.replace("one", "one\ntwo")):
        with pytest.raises(ValueError, match="once, in one line"):
            commands(wrong)


def test_a_missing_program_skips_but_fails_in_ci(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", os.devnull)
    monkeypatch.setenv("CI", "")
    with pytest.raises(pytest.skip.Exception, match="poppler-utils"):
        need("pdftoppm")
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="poppler-utils"):
        need("pdftoppm")
    with pytest.raises(KeyError):
        need("some-program-that-is-not-listed")
