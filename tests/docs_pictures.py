"""Pictures of the docs that are made by the program, by their place in docs/."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Mapping
from pathlib import Path

from sizewright.formats import read_svg
from sizewright.model import Pattern
from sizewright.pictures import picture
from sizewright.plugin import apply_operation, check_settings
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


PICTURES: Mapping[str, Callable[[], str]] = {"pictures/yoke-line.svg": yoke_line}
