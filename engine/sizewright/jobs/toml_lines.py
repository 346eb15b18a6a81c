"""A TOML file with the line of each key, so that a message can point to it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..formats.source import read_bytes

Trail = tuple[str | int, ...]

#: A job, or a table of its kind, is at most this large, in bytes.
LARGEST = 1_000_000
#: No count of a job is larger.
_LARGEST_NUMBER = 10**9
#: Tables and lists may stand in one another so deep; a message can still show them.
DEEPEST = 16

_HEADER = re.compile(r"\s*+(\[\[?)\s*+([^\[\]]++)\]\]?\s*+(?:#.*)?$")
_ONE = r"(?:[A-Za-z0-9_-]++|\"[^\"]*+\"|'[^']*+')"
_KEY = re.compile(rf"\s*+({_ONE}(?:\s*+\.\s*+{_ONE})*+)\s*+=")
_PART = re.compile(_ONE)
#: A key in more tables than may stand in one another.
_DEEP_KEY = re.compile(
    rf"(?:^[ \t]*+|(?<=[{{,\[])[ \t]*+)(?:{_ONE}[ \t]*+\.[ \t]*+){{{DEEPEST}}}", re.MULTILINE
)


@dataclass(frozen=True)
class TomlFile:
    """The tables of a TOML file, and where in it each key stands."""

    path: Path
    data: Mapping[str, Any]
    lines: Mapping[Trail, int]

    def where(self, *trail: str | int) -> str:
        """`job.toml, line 12` for a key; the nearest key above it where it has no line."""
        for end in range(len(trail), 0, -1):
            line = self.lines.get(trail[:end])
            if line:
                return f"{self.path.name}, line {line}"
        return self.path.name


def read_toml(path: Path) -> TomlFile:
    """Read a TOML file; InputError tells the line where it cannot be read."""
    data = read_bytes(path)
    if len(data) > LARGEST:
        raise InputError(
            f"it has more than {LARGEST // 1_000_000} MB",
            where=str(path),
            cure="A job is far smaller: is it the right file?",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            "it is not UTF-8 text", where=str(path), cure="Save it as UTF-8."
        ) from None
    if deep := _DEEP_KEY.search(text):
        raise _too_deep(f"{path}, line {text.count(chr(10), 0, deep.start()) + 1}")
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(
            f"it is not valid TOML: {error}", where=str(path), cure=_toml_cure(text, str(error))
        ) from None
    except ValueError:
        raise InputError(
            "a number in it has thousands of digits",
            where=str(path),
            cure=f"Look for the longest line (line {_longest(text)}).",
        ) from None
    if _deeper(tables, DEEPEST):
        raise _too_deep(str(path))
    file = TomlFile(path, tables, _lines(text))
    for trail in _beyond(tables):
        raise InputError(
            "the number is larger than any that a job needs",
            where=file.where(*trail),
            cure=f"Give one of at most {_LARGEST_NUMBER}.",
        )
    return file


def _too_deep(where: str) -> InputError:
    return InputError(
        f"its tables and lists stand in one another more than {DEEPEST} deep",
        where=where,
        cure="No key of a job needs that: look for stray brackets and dots.",
    )


def _longest(text: str) -> int:
    lines = text.split("\n")
    return 1 + max(range(len(lines)), key=lambda k: len(lines[k]))


def _beyond(data: Any, trail: Trail = ()) -> Iterator[Trail]:
    """Trails of whole numbers larger than any that a job needs."""
    if isinstance(data, int) and abs(data) > _LARGEST_NUMBER:
        yield trail
    elif isinstance(data, dict | list):
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from _beyond(value, (*trail, key))


def _deeper(data: Any, most: int) -> bool:
    """Whether tables and lists stand in one another more than `most` deep."""
    level = [data]
    for _ in range(most + 1):
        level = [
            inner
            for one in level
            if isinstance(one, dict | list)
            for inner in (one.values() if isinstance(one, dict) else one)
        ]
    return bool(level)


def _toml_cure(text: str, error: str) -> str:
    """What most likely mends a TOML error, from what it says and the lines about it."""
    if "Unescaped '" in error or "hex value" in error:
        return "Write folders with /, as sub/x.svg, or the text in single quotes."
    if "declare" in error:
        return "A table that may come several times has double brackets, as [[steps]]."
    found = re.search(r"line (\d+)", error)
    last = int(found[1]) if found else text.count("\n") + 1
    opened: list[int] = []
    for number, line in enumerate(text.split("\n")[:last], 1):
        plain = re.sub(r"\"[^\"]*\"|'[^']*'", "", line).split("#")[0]
        if _HEADER.match(plain) and not opened:
            continue
        for mark in re.findall(r"[\[\]]", plain):
            if mark == "[":
                opened.append(number)
            elif opened:
                opened.pop()
    if opened and opened[0] < last:
        return f"The list that begins on line {opened[0]} is not closed by a bracket."
    return 'Texts and lengths stand in quotes, as width = "1.5 cm".'


def _lines(text: str) -> dict[Trail, int]:
    found: dict[Trail, int] = {}
    counts: dict[Trail, int] = {}
    table: Trail = ()
    inside = ""
    for number, line in enumerate(text.split("\n"), 1):
        if inside:
            if line.count(inside) % 2:
                inside = ""
            continue
        for fence in ('"""', "'''"):
            if line.count(fence) % 2:
                inside = fence
        if m := _HEADER.match(line):
            table = _resolve(_parts(m[2]), counts)
            if m[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
                table = (*table, counts[table])
            for end in range(1, len(table) + 1):
                found.setdefault(table[:end], number)
        elif m := _KEY.match(line):
            trail = table + _parts(m[1])
            found.setdefault(trail, number)
            for key in re.findall(
                r"[{,]\s*([A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')\s*=", line[m.end() :]
            ):
                found.setdefault((*trail, key.strip("\"'")), number)
    return found


def _parts(text: str) -> Trail:
    return tuple(part.strip("\"'") for part in _PART.findall(text))


def _resolve(trail: Trail, counts: Mapping[Trail, int]) -> Trail:
    """A header's trail with the index of the last entry of each array of tables on its way."""
    done: Trail = ()
    for i, part in enumerate(trail):
        done = (*done, part)
        if i < len(trail) - 1 and done in counts:
            done = (*done, counts[done])
    return done
