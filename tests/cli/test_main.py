"""How the program starts, refuses and ends."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import click
import pytest

from sizewright.cli import main as program
from sizewright.errors import InputError, PluginError
from tests.cli.runs import FIXTURES, run, run_apart

pytestmark = pytest.mark.release

LISTED = (
    "import json, sys\n"
    "from sizewright.cli.main import main\n"
    "code = main(sys.argv[1:])\n"
    "print(json.dumps([code, sorted(sys.modules)]), file=sys.stderr)\n"
)
#: Packages that are slow to import and that no drawing in SVG needs for being shown. (shapely
#: is needed: it finds the pairs of chords that may cross.)
HEAVY = ("scipy", "svgelements", "ezdxf", "reportlab", "hypothesis", "fontTools", "PIL")


def imported(*args: str | Path) -> set[str]:
    """The modules that a run of the program has imported at its end."""
    done = run_apart(args, code=LISTED)
    code, names = json.loads(done.err.splitlines()[-1])
    assert code == 0, done.err
    return set(names)


def heavy(names: set[str]) -> set[str]:
    return {name for name in names if name.split(".")[0] in HEAVY}


def test_help_and_version_import_nearly_nothing() -> None:
    for args in (("--help",), ("--version",), ("show", "--help")):
        names = imported(*args)
        assert not heavy(names)
        assert "numpy" not in names
        assert not any(n.startswith(("sizewright.model", "sizewright.formats")) for n in names)


def test_show_imports_little_more_than_numpy() -> None:
    names = imported("show", FIXTURES / "features.svg")
    assert "numpy" in names
    assert not heavy(names)
    assert not any(n.startswith("sizewright.pictures") for n in names)


def test_a_picture_needs_no_more_packages(tmp_path: Path) -> None:
    names = imported("show", FIXTURES / "simple.svg", "--picture", tmp_path / "a.svg")
    assert not heavy(names)


def test_grading_to_a_size_needs_no_scipy(tmp_path: Path) -> None:
    order = ("--to", "14", "--rules", "shipped:grade_tables/supper-top-steps.csv")
    drawing = "shipped:examples/supper-top/supper-top.svg"
    names = imported("grade", drawing, tmp_path / "a.svg", *order)
    assert "sizewright.grading.by_rules" in names
    assert not names & {"scipy", "numpy.ma", "sizewright.drafting", "sizewright.laying.looking"}


def test_converting_loads_no_work_of_operations(tmp_path: Path) -> None:
    names = imported("convert", "shipped:examples/supper-top/supper-top.svg", tmp_path / "a.dxf")
    assert not names & {
        "ezdxf",
        "numpy.ma",
        "sizewright.drafting",
        "sizewright.formats.drawing.nests",
        "sizewright.spreadsheets",
        "sizewright_plugins.facing.made",
        "sizewright_plugins.band.shaped",
    }


def test_the_list_of_commands_says_what_each_command_says() -> None:
    ctx = click.Context(program.sizewright)
    for name, line in program.COMMANDS.items():
        command = program.sizewright.get_command(ctx, name)
        assert command is not None
        assert command.name == name
        assert command.get_short_help_str(100).rstrip(".") == line.rstrip(".")
        assert any("--debug" in p.opts for p in command.params)
    assert program.sizewright.get_command(ctx, "mend") is None


@pytest.mark.parametrize("args", [(), ("--help",), ("-h",)])
def test_help(capsys: pytest.CaptureFixture[str], args: tuple[str, ...]) -> None:
    ran = run(capsys, *args)
    text = ran.out + ran.err
    assert ran.code == (0 if args else 2)
    assert text.startswith("Usage: sizewright [OPTIONS] COMMAND")
    for name, line in program.COMMANDS.items():
        assert name in text
        assert line in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    from importlib.metadata import version

    assert run(capsys, "--version").out == f"sizewright, version {version('sizewright')}\n"


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("shwo", "a.svg"), 'Did you mean "show"?'),
        (("show",), "Missing argument 'FILE'"),
        (("show", "a.svg", "b.svg"), "unexpected extra argument"),
        (("show", "a.svg", "--jsno"), "--json"),
        (("show", "a.svg", "--units", "ells"), "'ells' is not a unit of length"),
        (("convert", "a.svg"), "Missing argument 'OUT'"),
        (("convert", "a.svg", "b.dxf", "--profile", "big"), "interchange"),
        (("--frobnicate",), "No such option"),
    ],
)
def test_wrong_use_exits_2(
    capsys: pytest.CaptureFixture[str], args: tuple[str, ...], words: str
) -> None:
    ran = run(capsys, *args)
    assert ran.code == 2
    assert ran.out == ""
    assert words in ran.err
    assert "Traceback" not in ran.err


@pytest.mark.parametrize(
    "hostile", sorted((FIXTURES / "hostile").glob("*.svg")), ids=lambda p: p.stem
)
def test_bad_files_end_in_one_message_or_a_finding(
    capsys: pytest.CaptureFixture[str], hostile: Path
) -> None:
    ran = run(capsys, "show", hostile, "--json")
    assert "Traceback" not in ran.err
    assert "something went wrong inside" not in ran.err
    if ran.code == 2:
        assert ran.out == ""
        assert ran.err.startswith("sizewright: ")
        assert hostile.name in ran.err
        assert ran.err.count("\n") == 1
    else:
        levels = {finding["level"] for finding in json.loads(ran.out)["findings"]}
        assert ran.code == (1 if "fail" in levels else 0)
        assert ran.err == ""


def fail_with(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def fail(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr("sizewright.jobs.show.look", fail)


def test_errors_have_their_exit_codes(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    fail_with(monkeypatch, InputError("it is torn", where="a.svg:3", cure="Mend it."))
    ran = run(capsys, "show", "a.svg")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == "sizewright: a.svg:3: it is torn. Mend it.\n"
    fail_with(monkeypatch, PluginError("it broke"))
    assert run(capsys, "show", "a.svg").code == 3


@pytest.mark.parametrize("args", [("--debug", "show", "a.svg"), ("show", "--debug", "a.svg")])
def test_a_traceback_only_when_asked_for(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...]
) -> None:
    fail_with(monkeypatch, ZeroDivisionError("division by zero"))
    plain = run(capsys, "show", "a.svg")
    assert plain.code == 2
    assert plain.err.count("\n") == 1
    assert "ZeroDivisionError: division by zero" in plain.err
    assert "--debug" in plain.err
    debug = run(capsys, *args)
    assert debug.code == 2
    assert "Traceback (most recent call last)" in debug.err
    assert "with --debug" not in debug.err
    fail_with(monkeypatch, InputError("it is torn"))
    assert "Traceback" not in run(capsys, "show", "a.svg").err
    assert "Traceback" in run(capsys, *args).err


@pytest.mark.parametrize("error", [KeyboardInterrupt(), click.Abort()])
def test_an_interrupt_is_quiet(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    fail_with(monkeypatch, error)
    ran = run(capsys, "show", "a.svg")
    assert (ran.code, ran.out, ran.err) == (130, "", "")


@pytest.mark.skipif(os.name != "posix", reason="pipes of another kind")
def test_a_reader_that_goes_away_is_no_error(tmp_path: Path) -> None:
    from sizewright.jobs.files import save_pattern
    from tests.pictures.patterns import twelve

    path = tmp_path / "twelve.svg"
    save_pattern(twelve(), path)
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(
        [sys.executable, "-m", "sizewright", "show", str(path), "--json"],
        stdout=writer,
        stderr=subprocess.PIPE,
        text=True,
    )
    os.close(writer)
    assert done.stderr == ""
    assert done.returncode == 128 + signal.SIGPIPE


def test_names_that_the_terminal_lacks_are_no_crash(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    text = (FIXTURES / "simple.svg").read_text("utf-8").replace("pocket-bag", "前身頃")
    path.write_text(text, "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "sizewright", "show", str(path)],
        env=os.environ | {"PYTHONIOENCODING": "latin-1"},
        capture_output=True,
    )
    assert done.returncode == 0, done.stderr
    assert b"???" in done.stdout


def test_version_with_debug_tells_what_it_stands_on(capsys: pytest.CaptureFixture[str]) -> None:
    from importlib.metadata import version

    for args in (("--version", "--debug"), ("--debug", "--version")):
        out = run(capsys, *args).out.splitlines()
        assert out[0] == f"sizewright, version {version('sizewright')}"
        assert {f"numpy {version('numpy')}", f"ezdxf {version('ezdxf')}"} <= set(out)
