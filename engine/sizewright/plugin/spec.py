"""The hooks that a plugin may offer: the whole contract, on one screen.

A plugin is a module (or object) found through the entry-point group
`sizewright.plugins`. It says `api = 1` and marks with `@hookimpl` the hooks that it
offers. Each hook takes nothing and returns a list; what is in the list says what it
does, with which settings (see `declare.py`).
"""

from __future__ import annotations

import pluggy

from .declare import Check, Operation, Reader, Writer

#: The newest plugin interface that this engine speaks.
API = 1
#: Where plugins are looked for.
GROUP = "sizewright.plugins"

hookspec = pluggy.HookspecMarker("sizewright")
#: Put before each hook of a plugin.
hookimpl = pluggy.HookimplMarker("sizewright")


class Hooks:
    """The hook specifications."""

    @hookspec
    def add_operations(self) -> list[Operation]:  # type: ignore[empty-body]
        """Operations: a pattern in, a new pattern out."""

    @hookspec
    def add_readers(self) -> list[Reader]:  # type: ignore[empty-body]
        """Readers of file formats, each claiming files by their content."""

    @hookspec
    def add_writers(self) -> list[Writer]:  # type: ignore[empty-body]
        """Writers of outputs, chosen by name or by file ending."""

    @hookspec
    def add_checks(self) -> list[Check]:  # type: ignore[empty-body]
        """Checks: a pattern in, findings out."""
