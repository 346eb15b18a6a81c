"""The program `sizewright`: its commands, and how it ends.

Exit codes: 0 done; 1 done, and a finding is `fail`; 2 bad input or use; 3 a plugin failed.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from ..errors import SizewrightError
from .options import debug_option, version_option, wants_debug
from .printing import say

# Command -> module of this package that has it under the same name, and its line of help,
# which stands here so that the list of commands imports none of them.
COMMANDS = {
    "show": "What is in a pattern file: pieces, corners, edges, lengths.",
    "convert": "Write a pattern file anew, in the format that the ending names.",
    "grade": "Grade a pattern to one size, or to several as a nest.",
    "learn": "Recover the grade rules of a nest: all sizes in one file, or a file for each.",
    "size": "Which size of a chart a body is, at each measure and on the whole.",
    "check": "Run every check on a pattern file, or on what a job makes, and write nothing.",
    "apply": "Do one operation on a pattern file, and write the pattern anew.",
    "run": "Carry out a job file: read, grade, change, check, write.",
    "sheet": "The sheet of marks to lay beside a paper pattern for a photo.",
    "plugins": "List the plugins, or tell all about one: what it offers, and its settings.",
    "demo": "Do the whole job on an invented garment, into DIR (default: sizewright-demo).",
}
_INTERRUPTED = 130
_PIPE_CLOSED = 141


class LazyCommands(click.Group):
    """A group that imports a command only when it is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All commands, in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name; None where there is none."""
        if cmd_name not in COMMANDS:
            return None
        from importlib import import_module

        module = import_module(f"{__package__}.{cmd_name}")
        command: click.Command = getattr(module, cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands in the help text."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that the first argument names, with a hint where it names none."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            import difflib

            close = difflib.get_close_matches(args[0], COMMANDS, n=1)
            hint = f' Did you mean "{close[0]}"?' if close else ""
            ctx.fail(f'No command "{args[0]}".{hint} There is {", ".join(COMMANDS)}.')
        return super().resolve_command(ctx, args)


@click.group(
    cls=LazyCommands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@debug_option
@version_option
def sizewright() -> None:
    """Grade and convert sewing patterns.

    Reads the outlines of a sewing pattern, shows what is in them, and writes them anew.
    Every command has its own help: sizewright show --help.
    """


def main(args: Sequence[str] | None = None) -> int:
    """Run the program on `args` (default: the command line's) and return its exit code."""
    state: dict[str, Any] = {}
    _make_printable()
    try:
        # Not click's own `main`, which ends an interrupt and a closed pipe in its own ways.
        given = sys.argv[1:] if args is None else list(args)
        with sizewright.make_context("sizewright", given, obj=state) as ctx:
            result = sizewright.invoke(ctx)
        sys.stdout.flush()
        return result if isinstance(result, int) else 0
    except click.exceptions.Exit as end:
        return end.exit_code
    except BrokenPipeError:
        # The reader of our output has gone: nothing is left to say to it.
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _PIPE_CLOSED
    except (click.Abort, KeyboardInterrupt):
        return _INTERRUPTED
    except click.ClickException as error:
        shown = io.StringIO()
        error.show(shown)
        say(shown.getvalue().rstrip("\n"), err=True)
        return 2
    except SizewrightError as error:
        _traceback(state)
        _say(str(error))
        return error.exit_code
    except Exception as error:
        _traceback(state)
        what = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        again = "" if wants_debug(state) else " Run it again with --debug to see where, and"
        again = again or " Please"
        _say(f"something went wrong inside the program ({what}).{again} report it.")
        return 2


def _make_printable() -> None:
    """A name that the terminal's encoding lacks is replaced, not a crash."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _traceback(state: dict[str, Any]) -> None:
    if wants_debug(state):
        import traceback

        say(traceback.format_exc(), err=True)


def _say(message: str) -> None:
    say(f"sizewright: {message}".replace("\n", " "), err=True)
