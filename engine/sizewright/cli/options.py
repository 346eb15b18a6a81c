"""Options and kinds of values that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from .printing import say

if TYPE_CHECKING:
    from ..units import Unit

    _UnitType = click.ParamType[Unit]
else:
    # Not every version of click that we allow can be given the type at run time.
    _UnitType = click.ParamType

Command = TypeVar("Command", bound=Callable[..., Any])
_DEBUG, _JOIN = "sizewright.debug", "sizewright.join"


class UnitName(_UnitType):
    """A unit of length by its name: mm, cm, in, px and the rest, or words such as inches."""

    name = "unit"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Unit:
        """The unit; a usage error that lists what there is when it is not known."""
        from ..errors import UnitError
        from ..units import Unit, parse_unit

        if isinstance(value, Unit):
            return value
        for unit in Unit:
            if unit.symbol == str(value).strip():
                return unit
        try:
            return parse_unit(str(value))
        except UnitError:
            known = ", ".join(unit.symbol for unit in Unit)
            self.fail(f"{value!r} is not a unit of length. Use one of {known}.", param, ctx)

    def get_metavar(self, param: click.Parameter, ctx: click.Context | None = None) -> str:
        """What help texts call the value."""
        return "U"


def file_option(name: str, metavar: str, help: str, **more: Any) -> Callable[[Command], Command]:
    """An option that takes the path of a file or folder."""
    return click.option(name, type=click.Path(path_type=Path), metavar=metavar, help=help, **more)


def debug_option(command: Command) -> Command:
    """`--debug`, which any command takes as well as the program itself."""
    return click.option(
        "--debug",
        is_flag=True,
        expose_value=False,
        is_eager=True,
        callback=_remember_debug,
        help="Show the whole traceback when something goes wrong.",
    )(command)


def _remember_debug(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    root = ctx.find_root()
    if root.obj is None:
        root.obj = {}
    if value:
        root.obj[_DEBUG] = True


def version_option(command: Command) -> Command:
    """`--version`; with `--debug`, the versions of what the program stands on too."""
    return click.option(
        "--version",
        is_flag=True,
        expose_value=False,
        callback=_tell_version,
        help="Show the version and exit; with --debug, those of Python and the packages too.",
    )(command)


def _tell_version(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    if not value:
        return
    import platform
    import re
    from importlib.metadata import requires, version

    say(f"sizewright, version {version('sizewright')}")
    if wants_debug(ctx.find_root().obj):
        say(
            f"{platform.python_implementation()} {platform.python_version()}, {platform.platform()}"
        )
        for need in requires("sizewright") or ():
            name = re.split(r"[^\w.-]", need)[0]
            if "extra ==" not in need:
                say(f"{name} {version(name)}")
    ctx.exit()


def wants_debug(obj: Any) -> bool:
    """Whether `--debug` was given, from the object of the root context."""
    return bool(isinstance(obj, dict) and obj.get(_DEBUG))


notes_option = click.option(
    "--notes", is_flag=True, help="Tell every note, not only how many there are."
)
units_option = click.option(
    "--units",
    type=UnitName(),
    help="What a bare number in FILE means (mm, in, px, ...), where the file is wrong.",
)


def set_option(command: Command) -> Command:
    """`--set NAME=VALUE`, and `--join` for the setting of that name."""
    join = click.option(
        "--join",
        metavar="LENGTH",
        is_eager=True,
        expose_value=False,
        callback=_remember_join,
        help="Join loose lines of FILE whose ends are so far apart (0.1mm unless you say).",
    )
    settings = click.option(
        "--set",
        "settings",
        multiple=True,
        metavar="NAME=VALUE",
        callback=_with_join,
        help="A setting of what reads FILE (see: sizewright plugins). May be repeated.",
    )
    return join(settings(command))


def _remember_join(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    ctx.meta[_JOIN] = value


def _with_join(
    ctx: click.Context, param: click.Parameter, value: tuple[str, ...]
) -> tuple[str, ...]:
    join = ctx.meta.get(_JOIN)
    return value if join is None else (*value, f"join={join}")


profile_option = click.option(
    "--profile",
    metavar="interchange|cutter|curves",
    help="Which kind of DXF to write; or any other writer, by its name.",
)
deltas_option = click.option(
    "--deltas",
    type=click.Choice(["sample", "neighbour"]),
    help="What the numbers of a rule table file (.rul) count from (default: sample).",
)
size_option = click.option("--size", metavar="S", help="Only the pieces of this size.")


class SpreadOptions(click.Command):
    """A command whose `--measure` and `--at` take several NAME=VALUE after one option."""

    _spread = ("--measure", "--at")

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """The arguments, with the option put before each further NAME=VALUE that follows it."""
        out: list[str] = []
        option = ""
        for k, arg in enumerate(args):
            if arg in self._spread:
                option = arg
            elif option and not (k and args[k - 1] == option):
                if "=" not in arg or arg.startswith("-"):
                    option = ""
                else:
                    out.append(option)
            out.append(arg)
        return super().parse_args(ctx, out)


stretch_option = click.option(
    "--stretch", is_flag=True, help="The cloth stretches: it may be smaller than the body."
)
measure_option = click.option(
    "--measure",
    "measures",
    multiple=True,
    metavar="NAME=LENGTH",
    help="A body measure, as bust=92cm. Several may follow.",
)
