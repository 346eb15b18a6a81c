"""The commands in the documentation run, and print what it says they print.

In a fenced block marked `console` a line that begins with `$ sizewright` is a command; the lines
up to the next one are what it prints. A line of three dots stands for any lines. A command with
nothing after it is only run. The blocks of one page run in order in one folder, in which
`examples/` is a copy of docs/examples. `console exit-1` says that the commands exit with 1.
"""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from sizewright.cli.main import main
from sizewright.model import parse_seams

ROOT = Path(__file__).resolve().parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
_BLOCK = re.compile(r"^```console(?: exit-(\d))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_ANY = "..."


@dataclass(frozen=True)
class Step:
    """One command, what it should print (empty: not said), and its exit code."""

    command: str
    expected: tuple[str, ...]
    code: int


def steps(text: str) -> Iterator[Step]:
    """The commands of a page, in order."""
    for code, body in _BLOCK.findall(text):
        for part in re.split(r"^\$ ", body, flags=re.MULTILINE)[1:]:
            command, *lines = part.rstrip("\n").split("\n")
            yield Step(command, tuple(lines), int(code or 0))


def agrees(printed: str, expected: tuple[str, ...]) -> bool:
    """Whether the lines printed are those expected, `...` standing for any."""
    parts = [r"(?:.*\n)*?" if line == _ANY else re.escape(line) + r"\n" for line in expected]
    return re.fullmatch("".join(parts), printed.rstrip("\n") + "\n") is not None


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_commands_do_what_the_page_says(
    page: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = list(steps(page.read_text("utf-8")))
    if not found:
        return
    shutil.copytree(ROOT / "docs" / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    for step in found:
        program, *args = shlex.split(step.command)
        assert program == "sizewright", step.command
        code = main(args)
        printed = capsys.readouterr()
        assert code == step.code, f"{step.command}\n{printed.out}{printed.err}"
        shown = printed.out + (printed.err if step.code == 2 else "")
        if step.expected:
            assert agrees(shown, step.expected), f"{step.command}\n{shown}"


def test_some_pages_have_commands() -> None:
    assert sum(1 for page in PAGES for _ in steps(page.read_text("utf-8"))) >= 4


def test_what_differs_is_seen() -> None:
    assert agrees("a\nb\nc\n", ("a", _ANY, "c"))
    assert agrees("a\n", (_ANY, "a", _ANY))
    assert not agrees("a\nb\nc\n", ("a", "c"))
    assert not agrees("a\nb\n", ("a", _ANY, "c"))
    page = "```console exit-1\n$ sizewright a\nx\n\n$ sizewright b\n```\n"
    assert list(steps(page)) == [
        Step("sizewright a", ("x",), 1),
        Step("sizewright b", (), 1),
    ]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_python_on_the_page_runs(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Blocks marked `python` that are no file of their own run as they stand, in order."""
    text = re.sub(
        r"<!-- file: .*? -->\n```.*?^```$", "", page.read_text("utf-8"), flags=re.M | re.S
    )
    names: dict[str, object] = {}
    monkeypatch.chdir(tmp_path)
    for body in re.findall(r"^```python\n(.*?)^```$", text, re.MULTILINE | re.DOTALL):
        exec(compile(body, str(page), "exec"), names)


def test_the_seams_that_the_page_shows_can_be_read() -> None:
    page = (ROOT / "docs" / "files.md").read_text("utf-8")
    shown = re.findall(r"data-seams=([\"'])(.*)\1$", page, re.MULTILINE)
    assert len(shown) == 2
    clauses = {
        c.strip("` ")
        for row in re.findall(r"^\| (`[egn][a-z]+ .*?) \|", page, re.M)
        for c in row.split("`, `")
    }
    assert {"notch 5 cm", "notch 1/3 double", 'notch "a" 1/4'} <= clauses
    for _, text in shown:
        assert parse_seams(text)
    for clause in clauses:
        assert parse_seams(f"s: a:b = c:d, {clause}"), clause
