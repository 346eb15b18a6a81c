"""Rooms whose names are imported when they are first asked for, so that no part costs the time of
another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def door(room: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """The `__getattr__` of a package `room`: `homes` tells the module in it that has each name."""

    def get(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        return getattr(import_module(f".{homes[name]}", room), name)

    return get
