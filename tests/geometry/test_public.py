"""The public door of the geometry room."""

from __future__ import annotations

import subprocess
import sys

import sizewright.geometry as room

_ASKED = """
import sys
import sizewright.geometry.nearest, sizewright.geometry.crossings, sizewright.geometry.flatten
import sizewright.geometry as room
from types import ModuleType
modules = [n for n in room.__all__ if isinstance(getattr(room, n), ModuleType)]
print(*modules, *(m for m in ("scipy", "shapely") if m in sys.modules))
"""


def test_every_public_name_is_there_and_in_order():
    assert len(set(room.__all__)) == len(room.__all__)
    for name in room.__all__:
        assert hasattr(room, name)


def test_functions_are_not_hidden_by_modules_of_their_name_and_the_door_is_light():
    run = subprocess.run(
        [sys.executable, "-c", _ASKED], capture_output=True, text=True, check=True, timeout=60
    )
    assert run.stdout.split() == ["affine", "bezier"]
