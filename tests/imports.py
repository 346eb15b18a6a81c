"""What a module imports, and which of it the layout does not allow."""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from dataclasses import dataclass
from types import ModuleType

# A room may import its own modules and rooms of lower rank; rooms of one rank not each other.
RANKS = {
    "units": 0,
    "spreadsheets": 1,
    "geometry": 1,
    "model": 2,
    "palette": 2,
    "drafting": 3,
    "grading": 4,
    "formats": 4,
    "pictures": 4,
    "laying": 4,
    "plugin": 4,
    "jobs": 5,
    "cli": 6,
    "__main__": 7,
}
FREE = frozenset({"budget", "errors", "findings", "lazy", "shipped"})
ENGINE = "sizewright"
#: Parts of `formats`, and the other parts that each may import.
FORMATS = {
    "drawing": frozenset({"drawing"}),
    "svg": frozenset({"svg", "drawing"}),
    "dxf": frozenset({"dxf", "drawing", "interchange"}),
    "pdf": frozenset({"pdf", "drawing"}),
    "interchange": frozenset({"interchange", "drawing", "dxf"}),
}
PLUGINS = "sizewright_plugins"


@dataclass(frozen=True)
class Import:
    """`import module` when `name` is empty, else `from module import name`."""

    line: int
    module: str
    name: str = ""


def imports(tree: ast.Module, module: str, *, package: bool = False) -> Iterator[Import]:
    """All imports in `tree`, the source of `module`; relative ones made absolute.

    Imports inside functions and for type checking count, and so do calls of
    `import_module` and `__import__` with a plain string.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(node.lineno, alias.name)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parts = module.split(".")
                up = node.level - 1 if package else node.level
                base = ".".join([*parts[: len(parts) - up], *([base] if base else [])])
            for alias in node.names:
                yield Import(node.lineno, base, alias.name)
        elif isinstance(node, ast.Call) and node.args:
            called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            called = node.func.id if isinstance(node.func, ast.Name) else called
            first = node.args[0]
            if called in ("import_module", "__import__") and isinstance(first, ast.Constant):
                yield Import(node.lineno, str(first.value))


def engine_faults(source: str, module: str, *, package: bool = False) -> list[str]:
    """What the engine module `module` (`sizewright.model.piece`) imports against the rule."""
    faults: list[str] = []
    room = _room(module)
    if room and room not in RANKS and room not in FREE:
        faults.append(f"{module}: the room {room!r} has no rank")
    for found in imports(ast.parse(source, module), module, package=package):
        top = found.module.split(".")[0]
        where = f"{module}:{found.line}"
        if top == PLUGINS:
            faults.append(f"{where}: the engine imports a plugin")
        if top != ENGINE:
            continue
        target = _room(found.module) or (found.name if _is_room(found.name) else "")
        if target and not _may(room, target):
            faults.append(f"{where}: {room or ENGINE} imports {target}")
        here, there = _part(module), _part(f"{found.module}.{found.name}")
        if here and there and there not in FORMATS[here]:
            faults.append(f"{where}: formats.{here} imports formats.{there}")
    return faults


def plugin_faults(source: str, module: str, *, package: bool = False) -> list[str]:
    """What the plugin module `module` uses of the engine that is not public."""
    tree = ast.parse(source, module)
    faults: list[str] = []
    bound: dict[str, str] = {}
    for found in imports(tree, module, package=package):
        parts = found.module.split(".")
        if parts[0] != ENGINE:
            continue
        where = f"{module}:{found.line}"
        if len(parts) > 2:
            faults.append(f"{where}: {found.module} is inside a room; import the room")
        elif "cli" in (*parts[1:], found.name):
            faults.append(f"{where}: the command line is no plugin's business")
        elif any(word.startswith("_") for word in (*parts, found.name)):
            faults.append(f"{where}: {found.module} {found.name} is private")
        elif found.name and not _is_public(found.module, found.name):
            faults.append(f"{where}: {found.module} does not export {found.name}")
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == ENGINE:
            bound |= {a.asname or a.name: f"{ENGINE}.{a.name}" for a in node.names}
        elif isinstance(node, ast.Import):
            bound |= {a.asname or a.name: a.name for a in node.names if _top(a.name) == ENGINE}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Attribute):
            continue
        owner = bound.get(ast.unparse(node.value))
        if owner is not None and owner.count(".") == 1 and not _is_public(owner, node.attr):
            faults.append(f"{module}:{node.lineno}: {owner} does not export {node.attr}")
    return faults


def _top(module: str) -> str:
    return module.split(".")[0]


def _room(module: str) -> str:
    """`model` of `sizewright.model.piece`; empty for `sizewright` itself."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


def _part(module: str) -> str:
    """`svg` of `sizewright.formats.svg.page`; empty outside such parts of `formats`."""
    parts = [*module.split("."), "", ""]
    return parts[2] if parts[1] == "formats" and parts[2] in FORMATS else ""


def _is_room(name: str) -> bool:
    return name in RANKS or name in FREE


def _may(room: str, target: str) -> bool:
    if target == room or target in FREE:
        return True
    if room in RANKS and target in RANKS:
        return RANKS[target] < RANKS[room]
    # The root package and the free modules lie under everything.
    return False


def _is_public(module: str, name: str) -> bool:
    """Whether `module` hands out `name` as one of its own, not as a module inside it."""
    if name == "*" or name.startswith("_"):
        return False
    if module == ENGINE and _is_room(name):
        return True
    home = importlib.import_module(module)
    public = getattr(home, "__all__", None)
    if public is None and isinstance(getattr(home, name, None), ModuleType):
        return False
    return name in (dir(home) if public is None else public)
