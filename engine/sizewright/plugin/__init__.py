"""The plugin door: what a plugin needs to declare itself, and what runs it."""

from .declare import Check, Making, Operation, Outcome, Output, Reader, Values, Writer, working_on
from .line_settings import line_settings
from .manager import (
    Plugin,
    Plugins,
    apply_operation,
    look_over,
    run_check,
    run_reader,
    run_writer,
)
from .piece_settings import piece_settings, pieces_asked
from .settings import Setting, check_settings
from .spec import API, GROUP, hookimpl

__all__ = [
    "API",
    "GROUP",
    "Check",
    "Making",
    "Operation",
    "Outcome",
    "Output",
    "Plugin",
    "Plugins",
    "Reader",
    "Setting",
    "Values",
    "Writer",
    "apply_operation",
    "check_settings",
    "hookimpl",
    "line_settings",
    "look_over",
    "piece_settings",
    "pieces_asked",
    "run_check",
    "run_reader",
    "run_writer",
    "working_on",
]
