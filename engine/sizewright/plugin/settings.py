"""Settings that plugins declare, and how what a user wrote becomes checked values."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from ..errors import InputError, SizewrightError, UsageError
from ..model import parse_amount, parse_place, parse_run
from ..units import parse_length, parse_share

Kind = Literal[
    "length", "share", "angle", "count", "choice", "run", "place", "text", "flag", "rules",
    "cloths", "ending", "making", "behind",
]  # fmt: skip
Shape = Literal["one", "list", "table"]

_EXAMPLES: Mapping[str, str] = {
    "length": 'a length with its unit, as "1.5 cm" or "5/8 in"',
    "share": 'a share, as "25%" or "1/4"',
    "angle": "an angle in degrees, as 30",
    "count": "a whole number, as 2",
    "run": 'an edge or run, as "front:hem" or "hem"',
    "place": 'a place, as "front: 12 cm along armhole from underarm"',
    "text": "text in quotes",
    "flag": "true or false",
    "rules": 'a table of grade rules, as "rules.csv"',
    "cloths": "the cloths of a job, from its [[cloths]]",
    "ending": "the ending of the file's name",
    "making": "how the pattern came about",
    "behind": "the picture that the pattern was traced from",
}
#: Texts of settings may be so long, in characters.
LONGEST = 5000
_FLAGS = {"true": True, "yes": True, "false": False, "no": False}


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of an operation, reader, writer or check.

    `kind` says how its value is read: a `length` becomes mm, a `share` a fraction, an
    `angle` degrees, a `place` a `sizewright.model.Place`, a `run` a
    `sizewright.model.RunReference`, `rules` a `sizewright.grading.RuleTable`. Four kinds are
    handed to a writer and never written: `cloths`, the job's (`sizewright.laying.Cloths`; as a
    `list`, of all cloths in one file), `ending`, that of the file's name (`.svg`), `making`
    (`sizewright.plugin.Making`), and `behind`, the picture that the pattern was traced from
    (`sizewright.formats.Behind`).
    `default` is written as a user would write it; `required` ones have none. `low` and
    `high` limit numbers (mm, fraction, degrees). `shape`: `one` value, a `list` of
    them, or a `table` from a run, point or piece reference to a value. A `length` that may
    differ `by_size` becomes a `sizewright.model.Amount`: one value, a table from size to
    value, or "as front:waist + back:waist".
    """

    name: str
    kind: Kind
    help: str
    default: Any = None
    required: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    shape: Shape = "one"
    by_size: bool = False

    def expected(self) -> str:
        """What would be right, in words."""
        one = "one of " + ", ".join(self.choices) if self.choices else _EXAMPLES[self.kind]
        if self.by_size:
            one += ', a table of sizes, or "as front:waist + back:waist"'
        if self.shape == "list":
            return f"a list, each entry {one}"
        if self.shape == "table":
            return f"a table of reference = value, each value {one}"
        return one

    def unit(self) -> str:
        """The unit of the limits with a blank before it; empty for a bare number."""
        return {"length": " mm", "angle": " degrees"}.get(self.kind, "")

    def limits(self) -> str:
        """The limits in words; empty where there are none."""
        unit = self.unit()
        low = f"at least {self.low:g}{unit}" if self.low is not None else ""
        high = f"at most {self.high:g}{unit}" if self.high is not None else ""
        return ", ".join(part for part in (low, high) if part)


def check_settings(
    owner: str,
    declared: Sequence[Setting],
    given: Mapping[str, Any] | Sequence[str],
    *,
    where: Callable[[str], str] = lambda _name: "",
    rules: Callable[[str], Any] | None = None,
) -> dict[str, Any]:
    """Values for every declared setting: what was given, read and checked, else the default.

    `given` are values by name, as a job file has them, or texts `NAME=VALUE`, as a command
    line has them: several for a list, `NAME.KEY=VALUE` for an entry of a table. `owner` is
    the plugin's or operation's name for messages; `where(name)` tells the file and line of a
    setting; `rules` opens a table of rules. Raises UsageError that names owner, setting and
    place, and says what would be right.

    >>> depth = Setting("depth", "length", "how deep it is turned up", "4 cm", low=0)
    >>> check_settings("hem", [depth], {}), check_settings("hem", [depth], ["depth=1 1/2 in"])
    ({'depth': 40.0}, {'depth': 38.1})
    >>> check_settings("hem", [depth], {"depht": "1 cm"})
    Traceback (most recent call last):
    sizewright.errors.UsageError: "hem" has no setting "depht". Did you mean "depth"? ...
    """
    known = {s.name: s for s in declared}
    in_words = {}
    if not isinstance(given, Mapping):
        in_words = {
            "table": 'Write --set "{0}.NAME={1}", and for NAME what it is for: a size, say, or '
            "an edge."
        }
        given = _from_texts(owner, known, given)
    for name in given:
        if name not in known:
            near = _nearest(name, known)
            raise UsageError(
                f'"{owner}" has no setting "{name}"',
                where=where(name),
                cure=(f'Did you mean "{near}"? ' if near else "")
                + f"Its settings: {', '.join(known) or 'none'}.",
            )
    values: dict[str, Any] = {}
    for setting in declared:
        if setting.name in given:
            raw = given[setting.name]
        elif setting.required:
            raise UsageError(
                f'"{owner}" needs the setting "{setting.name}"',
                where=where(""),
                cure=f"Give {setting.expected()}.",
            )
        else:
            raw = setting.default
        if setting.kind == "rules" and isinstance(raw, str) and rules is not None:
            raw = rules(raw)
        try:
            values[setting.name] = None if raw is None else _read(setting, raw)
        except SizewrightError as error:
            reason, cure = error.what, f"It takes {setting.expected()}."
            if setting.kind == "place" and error.where and error.cure:
                # Of all that a place may be, the form that was meant.
                reason, cure = f"{error.where}: {reason}", error.cure
        except (TypeError, ValueError) as error:
            reason, cure = str(error), f"It takes {setting.expected()}."
        else:
            continue
        if isinstance(raw, str) and setting.shape in in_words:
            cure = in_words[setting.shape].format(setting.name, raw)
        raise UsageError(
            f'setting "{setting.name}" of "{owner}": {reason}',
            where=where(setting.name),
            cure=cure,
        )
    return values


def _from_texts(
    owner: str, known: Mapping[str, Setting], texts: Sequence[str]
) -> Mapping[str, Any]:
    """Texts `NAME=VALUE` as a job file would have them."""
    given: dict[str, Any] = {}
    for text in texts:
        whole, equals, value = (part.strip() for part in text.partition("="))
        name, dot, key = whole.partition(".")
        if not equals or not name or (dot and not key):
            raise UsageError(
                f'"{text}" is no setting of "{owner}"',
                cure="Write SETTING=VALUE, or SETTING.KEY=VALUE for one entry of a table.",
            )
        setting = known.get(name)
        typed = value if setting is None else _typed(setting.kind, value)
        if setting is not None and setting.shape == "list" and not dot:
            given.setdefault(name, []).append(typed)
            continue
        table = given.setdefault(name, {}) if dot else given
        if not isinstance(table, dict) or (key or name) in table:
            raise UsageError(
                f'the setting "{whole}" of "{owner}" is given twice', cure="Give it once."
            )
        table[key or name] = typed
    return given


def _typed(kind: Kind, text: str) -> Any:
    """A text as the value that a job file would hold; the text where it cannot be one."""
    try:
        match kind:
            case "count":
                return int(text)
            case "angle":
                return float(text.removesuffix("degrees").removesuffix("°"))
            case "flag":
                return _FLAGS.get(text.casefold(), text)
    except ValueError:
        pass
    return text


def _read(setting: Setting, raw: Any) -> Any:
    if setting.shape == "list":
        entries = raw if isinstance(raw, list | tuple) else [raw]
        read = tuple(_read_one(setting, entry) for entry in entries)
        twice = next((e for k, e in enumerate(read) if e in read[:k]), None)
        if twice is not None and setting.kind in ("run", "text"):
            raise InputError(f'"{twice}" is named twice')
        return read
    if setting.shape == "table":
        if not isinstance(raw, Mapping):
            raise InputError(f'nothing says what "{raw}" is for')
        return {str(key): _read_one(setting, entry) for key, entry in raw.items()}
    return _read_one(setting, raw)


def _read_one(setting: Setting, raw: Any) -> Any:
    match setting.kind:
        case "length":
            if setting.by_size:
                amount = parse_amount(raw)
                for value in amount.values():
                    _limited(setting, value)
                return amount
            if isinstance(raw, int | float) and raw == 0 and not isinstance(raw, bool):
                return 0.0
            return _limited(setting, parse_length(_text(raw)))
        case "share":
            return _limited(setting, parse_share(_text(raw)))
        case "angle":
            if isinstance(raw, bool) or not isinstance(raw, int | float):
                raise InputError(f"{raw!r} is not a number of degrees")
            return _limited(setting, float(raw))
        case "count":
            if isinstance(raw, bool) or not isinstance(raw, int):
                raise InputError(f"{raw!r} is not a whole number")
            return _limited(setting, raw)
        case "flag":
            if not isinstance(raw, bool):
                raise InputError(f"{raw!r} is neither true nor false")
            return raw
        case "choice":
            # "a4" is "A4".
            alike = (c for c in setting.choices if c.casefold() == str(raw).casefold())
            meant = raw if raw in setting.choices else next(alike, None)
            if meant is None:
                raise InputError(f"{raw!r} is not one of the choices")
            return meant
        case "place":
            return parse_place(_quoted(raw))
        case "run":
            return parse_run(_quoted(raw))
        case "rules":
            if isinstance(raw, str | int | float | list | dict):
                raise InputError(f"{raw!r} cannot be opened here")
            return raw
        case "cloths" | "ending" | "making" | "behind":
            if isinstance(raw, int | float | list | dict) or (
                isinstance(raw, str) != (setting.kind == "ending")
            ):
                raise InputError(f"{raw!r} cannot be given here")
            return raw
        case "text":
            return _quoted(raw)


def _limited(setting: Setting, value: float) -> float:
    if not math.isfinite(value):
        raise InputError(f"{value} is not a finite number")
    if (setting.low is not None and value < setting.low) or (
        setting.high is not None and value > setting.high
    ):
        raise InputError(f"{value:g}{setting.unit()} is out of bounds: {setting.limits()}")
    return value


def _text(raw: Any) -> str:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise InputError(f"{raw!r} cannot be read as that")
    return str(raw)


def _quoted(raw: Any) -> str:
    if not isinstance(raw, str):
        raise InputError(f"{raw!r} is not text in quotes")
    if len(raw) > LONGEST:
        raise InputError(f"a text of {len(raw)} characters is too long")
    return raw


def _nearest(name: str, known: Mapping[str, Setting]) -> str | None:
    from difflib import get_close_matches

    close = get_close_matches(name.replace("_", "-"), known, n=1, cutoff=0.6)
    return close[0] if close else None
