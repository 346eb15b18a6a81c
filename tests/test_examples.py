"""The examples in docstrings do what they say."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MODULES = [
    ".".join(path.relative_to(home).with_suffix("").parts).removesuffix(".__init__")
    for home in (ROOT / "engine", ROOT / "plugins")
    for path in sorted(home.rglob("*.py"))
    if ">>> " in path.read_text("utf-8")
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_do_what_they_say(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert found.attempted
    assert not found.failed


def test_what_authors_use_first_has_examples() -> None:
    rooms = {name.split(".")[1] for name in MODULES}
    assert {"units", "errors", "findings", "geometry", "model", "drafting", "plugin"} <= rooms
