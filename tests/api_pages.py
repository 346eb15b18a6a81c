"""Pages about all that a plugin may use, made from the source of what each room exports.

Everything is taken from the source as it is written, so that every Python gives the same pages.
"""

from __future__ import annotations

import ast
import re
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ENGINE = Path(__file__).parent.parent / "engine"
#: The rooms and top modules that plugins may import from, in the order in which they are told.
ROOMS = (
    *("units", "errors", "findings", "geometry", "model", "drafting", "grading", "formats"),
    *("pictures", "laying", "plugin", "jobs", "palette", "shipped", "budget"),
)
_WIDE = 88
_LONG = 14
_EMPTY = {"dict": "{}", "list": "[]"}
_SENTENCE = re.compile(r"(?<=\.)\s+(?=[A-Z`\[(])|\n\n")

Function = ast.FunctionDef | ast.AsyncFunctionDef
Thing = Function | ast.ClassDef | ast.Assign | ast.AnnAssign | ast.Module


@dataclass(frozen=True)
class Source:
    """One module of the engine, read."""

    path: Path

    @property
    def text(self) -> str:
        return _text(self.path)

    @property
    def tree(self) -> ast.Module:
        return _tree(self.path)

    def words(self, node: ast.AST) -> str:
        """A node as it is written; `ast` would part the whole text into lines each time."""
        assert isinstance(node, (ast.expr, ast.stmt))
        assert node.end_lineno is not None
        lines = _lines(self.path)[node.lineno - 1 : node.end_lineno]
        # Columns count bytes; the end first, since both may be on one line.
        lines[-1] = lines[-1][: node.end_col_offset]
        lines[0] = lines[0][node.col_offset :]
        return b"".join(lines).decode("utf-8")

    def comment(self, node: ast.stmt) -> str:
        """The `#:` lines just above a constant."""
        lines = self.text.splitlines()[: node.lineno - 1]
        found: list[str] = []
        while lines and lines[-1].startswith("#:"):
            found.insert(0, lines.pop()[2:].strip())
        return " ".join(found)

    def top(self) -> Iterator[ast.stmt]:
        """Statements of the module, those for type checkers too."""
        for node in self.tree.body:
            yield from node.body if isinstance(node, ast.If) else [node]


@cache
def _text(path: Path) -> str:
    return path.read_text("utf-8")


@cache
def _lines(path: Path) -> list[bytes]:
    return _text(path).encode("utf-8").splitlines(keepends=True)


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(_text(path))


def source(module: str) -> Source:
    """A module by its dotted name."""
    place = ENGINE.joinpath(*module.split("."))
    return Source(place / "__init__.py" if place.is_dir() else place.with_suffix(".py"))


def exported(room: str) -> list[str]:
    """The public names of a room, as it lists them; of a top module, all without underscore."""
    home = source(f"sizewright.{room}")
    for node in home.tree.body:
        if isinstance(node, ast.Assign) and _target(node) == "__all__":
            return sorted(ast.literal_eval(node.value), key=_order)
    names = [n for node in home.tree.body if (n := _target(node)) and not n.startswith("_")]
    return sorted(names, key=_order)


def _order(name: str) -> tuple[str, str]:
    return name.casefold(), name


def _target(node: ast.stmt) -> str:
    if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
        return node.name
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
        return node.targets[0].id
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        return node.target.id
    return ""


def found(module: str, name: str) -> tuple[Source, Thing]:
    """The statement that defines a name that a module has, wherever it comes from."""
    home = source(module)
    for node in home.top():
        if _target(node) == name:
            assert isinstance(node, Thing)
            return home, node
    for node in home.top():
        if not isinstance(node, ast.ImportFrom):
            continue
        if name in (a.asname or a.name for a in node.names):
            if home.path.name != "__init__.py":
                package = module.split(".")[: -node.level]
            else:
                package = module.split(".")[: 1 - node.level or None]
            inner = ".".join([*package, *filter(None, [node.module])])
            if node.module is None:
                whole = source(f"{inner}.{name}")
                return whole, whole.tree
            return found(inner, name)
    raise LookupError(f"{module} has no {name}")


# --- words ---------------------------------------------------------------------------------


def doc(node: Function | ast.ClassDef | ast.Module) -> str:
    """A docstring as Markdown: examples in fences, all else as it stands."""
    out: list[str] = []
    inside = False
    for line in (ast.get_docstring(node) or "").splitlines():
        if line.startswith(">>> ") and not inside:
            out.append("```pycon")
            inside = True
        elif inside and not line.strip():
            out.append("```")
            inside = False
        out.append(line)
    return "\n".join([*out, *(["```"] if inside else [])])


def first_sentence(node: Function | ast.ClassDef | ast.Module) -> str:
    """The first sentence of a docstring, on one line."""
    text = ast.get_docstring(node) or ""
    return " ".join(_SENTENCE.split(text, maxsplit=1)[0].split())


def _arguments(home: Source, node: Function, *, bound: bool) -> list[str]:
    a = node.args
    positional = [*a.posonlyargs, *a.args]
    defaults = [None] * (len(positional) - len(a.defaults)) + list(a.defaults)
    out = [_argument(home, p, d) for p, d in zip(positional, defaults, strict=True)]
    if a.posonlyargs:
        out.insert(len(a.posonlyargs), "/")
    out = out[1:] if bound else out
    if a.vararg:
        out.append("*" + _argument(home, a.vararg, None))
    elif a.kwonlyargs:
        out.append("*")
    out += [_argument(home, p, d) for p, d in zip(a.kwonlyargs, a.kw_defaults, strict=True)]
    if a.kwarg:
        out.append("**" + _argument(home, a.kwarg, None))
    return out


def _argument(home: Source, one: ast.arg, default: ast.expr | None) -> str:
    kind = f": {home.words(one.annotation)}" if one.annotation else ""
    if default is None:
        return one.arg + kind
    return f"{one.arg}{kind} = {_flat(_value(home, default))}"


def _value(home: Source, default: ast.expr) -> str:
    """A default as it is written; the value of a number's or a private name."""
    if isinstance(default, ast.Name):
        module = ".".join(home.path.relative_to(ENGINE).with_suffix("").parts)
        where, node = found(module, default.id)
        value = getattr(node, "value", None)
        if value is not None and (isinstance(value, ast.Constant) or default.id.startswith("_")):
            return where.words(value)
    return home.words(default)


def _flat(text: str) -> str:
    return " ".join(text.split())


def signature(name: str, arguments: list[str], returns: str = "") -> str:
    """A call on one line, or with a line for each argument where it is long."""
    end = f" -> {returns}" if returns else ""
    line = f"{name}({', '.join(arguments)}){end}"
    if len(line) <= _WIDE:
        return line
    return "\n".join([f"{name}(", *(f"    {a}," for a in arguments), f"){end}"])


def _decorators(home: Source, node: Function | ast.ClassDef) -> str:
    return " ".join(home.words(d) for d in node.decorator_list)


def _fields(home: Source, node: ast.ClassDef) -> list[str]:
    """The fields that a record is made with, those of its bases first."""
    out: dict[str, str] = {}
    for base in _bases(home, node):
        out |= {field.split(":")[0]: field for field in _fields(home, base)}
    for one in node.body:
        if not isinstance(one, ast.AnnAssign) or not isinstance(one.target, ast.Name):
            continue
        kind = home.words(one.annotation)
        name = one.target.id
        default = home.words(one.value) if one.value else ""
        if kind.startswith("ClassVar") or name.startswith("_"):
            continue
        if made := re.match(r"field\((.*)\)$", _flat(default)):
            factory = re.search(r"default_factory=([\w.]+)", made[1])
            plain = re.search(r"default=([\w.]+)", made[1])
            made_by = factory[1] if factory else ""
            default = plain[1] if plain else _EMPTY.get(made_by, f"{made_by}()" if made_by else "")
        out[name] = f"{name}: {kind}" + (f" = {_flat(default)}" if default else "")
    return list(out.values())


def _bases(home: Source, node: ast.ClassDef) -> Iterator[ast.ClassDef]:
    for base in node.bases:
        for one in home.top():
            if isinstance(one, ast.ClassDef) and one.name == home.words(base):
                yield one


# --- entries -------------------------------------------------------------------------------


def entry(room: str, name: str) -> str:
    """What is told of one exported class, function or module, under a heading."""
    home, node = found(f"sizewright.{room}", name)
    assert not isinstance(node, (ast.Assign, ast.AnnAssign))
    if isinstance(node, ast.Module):
        inner = [n for n in home.tree.body if isinstance(n, ast.FunctionDef)]
        rows = [_row(home, n) for n in inner if not n.name.startswith("_")]
        parts = [f"A module: `from sizewright.{room} import {name}`.", doc(node), "\n".join(rows)]
    elif isinstance(node, ast.ClassDef):
        parts = _class(home, node)
    else:
        returns = home.words(node.returns) if node.returns else ""
        call = _code(signature(name, _arguments(home, node, bound=False), _flat(returns)))
        with_it = "contextmanager" in _decorators(home, node)
        parts = [call, "For a `with` statement." if with_it else "", doc(node)]
    return "\n\n".join([f"## {name}", *filter(None, parts)])


def _code(text: str) -> str:
    return f"```py\n{text}\n```"


def constant(room: str, name: str) -> str:
    """A value or a name for a type, with what its comment says."""
    home, node = found(f"sizewright.{room}", name)
    assert isinstance(node, (ast.Assign, ast.AnnAssign))
    lines = home.words(node).splitlines()
    if len(lines) > _LONG:
        lines = [*lines[: _LONG - 2], "    ...", lines[-1]]
    words = textwrap.wrap(home.comment(node), _WIDE)
    return "\n".join([*(f"# {line}" for line in words), *lines])


def _class(home: Source, node: ast.ClassDef) -> list[str]:
    bases = [home.words(base) for base in node.bases]
    members = [n for n in node.body if isinstance(n, ast.FunctionDef)]
    start = next((n for n in members if n.name == "__init__"), None)
    if "Enum" in bases:
        values = [home.words(n) for n in node.body if isinstance(n, ast.Assign)]
        call = _code("\n".join(values))
    elif "Protocol" in bases:
        call = "Anything that has these:"
    elif start is not None and "Exception" not in bases:
        call = _code(signature(node.name, _arguments(home, start, bound=True)))
    elif set(bases) - {"NamedTuple"} and not start and "dataclass" not in _decorators(home, node):
        call = f"{_article(bases[0])} {' and a '.join(f'`{base}`' for base in bases)}."
    elif start is not None:
        call = _code(signature(node.name, _arguments(home, start, bound=True)))
    else:
        call = _code(signature(node.name, _fields(home, node)))
    rows = [_row(home, n, node.name) for n in members if not n.name.startswith("_")]
    return [call, doc(node), "\n".join(rows)]


def _article(word: str) -> str:
    return "An" if word[0] in "AEIOU" else "A"


def _row(home: Source, node: Function, owner: str = "") -> str:
    """A method of `owner`, or a function of a module, on one line."""
    kinds = _decorators(home, node)
    returns = _flat(home.words(node.returns)) if node.returns else ""
    if "property" in kinds:
        call = f"{node.name}: {returns}"
    else:
        arguments = ", ".join(_arguments(home, node, bound=bool(owner) and "static" not in kinds))
        of_class = f"{owner}." if "classmethod" in kinds else ""
        call = f"{of_class}{node.name}({arguments}) -> {returns}"
    words = first_sentence(node)
    return f"- `{call}`" + (f": {words}" if words else "")


def page(room: str) -> str:
    """All that a room exports: links, an entry for each name, then the values."""
    classes, functions, values = [], [], []
    for name in exported(room):
        _, node = found(f"sizewright.{room}", name)
        if isinstance(node, (ast.Assign, ast.AnnAssign)):
            values.append(name)
        elif isinstance(node, ast.ClassDef):
            classes.append(name)
        else:
            functions.append(name)
    taken: dict[str, int] = {}
    links = []
    for title, names in (("Classes", classes), ("Functions", functions)):
        found_links = []
        for name in names:
            anchor = name.lower()
            number = taken[anchor] = taken.get(anchor, -1) + 1
            found_links.append(f"[{name}](#{anchor}{f'-{number}' if number else ''})")
        if names:
            links.append(_filled(f"**{title}**: {', '.join(found_links)}"))
    if values:
        links.append(_filled(f"**[Values](#values)**: {', '.join(f'`{v}`' for v in values)}"))
    parts = [doc(source(f"sizewright.{room}").tree), *links]
    parts += [entry(room, name) for name in (*classes, *functions)]
    if values:
        told = [constant(room, name) for name in values]
        parts += ["## Values", _code("\n".join(told) if room == "palette" else "\n\n".join(told))]
    return "\n\n".join(parts)


def _filled(text: str) -> str:
    return textwrap.fill(text, 98, break_on_hyphens=False, break_long_words=False)


def rooms() -> str:
    """A table of the rooms."""
    rows = ["| from | what |", "| --- | --- |"]
    for room in ROOMS:
        words = first_sentence(source(f"sizewright.{room}").tree)
        rows.append(f"| [`sizewright.{room}`]({room}.md) | {words} |")
    return "\n".join(rows)
