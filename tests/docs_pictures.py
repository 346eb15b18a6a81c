"""Pictures of the docs that are made by the program, by their place in docs/."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

from sizewright.formats import read_svg
from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import perform
from sizewright.model import Pattern
from sizewright.pictures import picture
from sizewright.plugin import Plugins, apply_operation, check_settings
from sizewright.shipped import shipped

EXAMPLES = Path(__file__).parent.parent / "docs" / "examples"


def yoke_line() -> str:
    """The demo's front, and what the tutorial's plugin makes of it."""
    file = EXAMPLES / "yoke-line" / "yoke_line.py"
    spec = importlib.util.spec_from_file_location("yoke_line", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    (operation,) = module.add_operations()
    given = {
        "piece": "front",
        "line": ["1/2 along armhole", "2/3 along fold"],
        "parts": {"yoke": "neck-side", "lower": "waist-centre"},
    }
    values = check_settings(operation.name, operation.settings, given)
    before = read_svg(shipped("examples/supper-top/supper-top.svg")).pattern
    after = apply_operation(operation, before, values).pattern
    pieces = (before.piece("front"), after.piece("yoke"), after.piece("lower"))
    return picture(Pattern(pieces, title="A front, before and after"))


@cache
def _tablecloth() -> Mapping[str, bytes]:
    """What the job of the tablecloth makes; its lays are kept beside it."""
    job = read_job(EXAMPLES / "tablecloth" / "tablecloth.toml")
    done = perform(job, Plugins.discover())
    assert not done.kept, "the lays of the tablecloth are to be found and kept anew: run its job"
    return done.files


def lay_on_panels() -> str:
    """The demo's pieces on a round tablecloth with flaws."""
    return _tablecloth()["lay-tablecloth.svg"].decode("utf-8")


def lay_on_length() -> str:
    """The demo's interfacing on a length."""
    return _tablecloth()["lay-stiffening.svg"].decode("utf-8")


PICTURES: Mapping[str, Callable[[], str]] = {
    "pictures/yoke-line.svg": yoke_line,
    "pictures/lay-panels.svg": lay_on_panels,
    "pictures/lay-length.svg": lay_on_length,
}
