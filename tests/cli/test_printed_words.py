"""Words from strangers are text: nothing that is printed moves a terminal."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest

import sizewright
from sizewright.cli.printing import printable, tell
from sizewright.findings import Finding
from tests.cli.runs import run
from tests.formats.drawing import box, drawing

pytestmark = pytest.mark.release

ENGINE = Path(sizewright.__file__).parent
#: Escape, erase, bell, an eight-bit control, overrides and marks of direction, a line separator.
HARM = "\x1b\x7f\x07\x9b\u202e\u2066\u061c\u200f\u2028\ufeff\U000e0041"


def harmless(text: str) -> bool:
    return not set(text) & (set(HARM) | {chr(c) for c in range(32)} - {"\n"})


def test_what_a_terminal_would_act_on_is_spelt_out() -> None:
    assert harmless(printable(HARM))
    kept = "Ärmel ½ 袖 \t\n שלום \u200d\U0001f9f5"
    assert printable(kept) == kept
    assert json.loads(f'"{printable(HARM)}"') == HARM


def test_only_a_failure_fails(capsys: pytest.CaptureFixture[str]) -> None:
    odd = Finding("odd", "warn", "odd")
    assert tell(["one", "two"], []) == tell([], [odd]) == 0
    assert capsys.readouterr().out == "one\ntwo\n"
    assert tell([], [odd, Finding("x", "fail", "bad")]) == 1


def test_names_in_drawings_reach_a_terminal_as_text(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = "a" + "".join(c for c in HARM if c >= " ")  # XML has no spelling for the others
    file = tmp_path / "a.svg"
    file.write_bytes(drawing(box(10, 10, 90, 90, id="x").replace('"x"', f'"{name}"')))
    ran = run(capsys, "show", file)
    assert "\\u202e" in ran.out
    assert harmless(ran.out + ran.err)
    told = run(capsys, "show", file, "--json").out
    assert harmless(told)
    assert json.loads(told)["pieces"][0]["name"] == name


def test_words_of_jobs_and_of_the_command_line_are_text(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    spelt = "".join(f"\\U{ord(c):08X}" for c in HARM)
    for text in (
        f'source = "{spelt}"',
        f'"{spelt}" = 1',
        f'source = "job.toml"\nseams = ["{spelt}"]',
        f'source = "job.toml"\ntitle = "a\\nfail: b"\nbase = "{spelt}"',
    ):
        job.write_text(text, "utf-8")
        ran = run(capsys, "check", job)
        assert ran.code == 2
        assert harmless(ran.out + ran.err)
        assert len(ran.err.splitlines()) == 1
    for args in (("show", HARM), (HARM,), ("show", "a", f"--{HARM}"), ("plugins", HARM)):
        ran = run(capsys, *args)
        assert ran.code == 2
        assert harmless(ran.out + ran.err)
        assert ran.err.strip()


def test_all_that_is_printed_goes_through_the_gate() -> None:
    printing = []
    for path in sorted(ENGINE.rglob("*.py")):
        text = path.read_text("utf-8")
        if not any(word in text for word in ("print(", "echo(", ".write(")):
            continue
        for node in ast.walk(ast.parse(text)):
            called = ast.unparse(node.func) if isinstance(node, ast.Call) else ""
            if called in ("print", "click.echo", "click.secho") or called.endswith("std.write"):
                printing.append(path.name)
    # Workers of the search for lays answer their parent, in numbers and plain letters.
    assert sorted(set(printing)) == ["printing.py", "progress.py", "workers.py"]
