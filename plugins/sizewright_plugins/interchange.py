"""Writes the open sewn-products format (ASTM D6673): a DXF drawing, and its rule table file."""

from __future__ import annotations

from typing import Literal

from sizewright.errors import SizewrightError
from sizewright.findings import Finding
from sizewright.model import Pattern
from sizewright.plugin import Output, Setting, Values, Writer, hookimpl

api = 1


@hookimpl
def add_writers() -> list[Writer]:
    """The writer `interchange`."""
    return [
        Writer(
            "interchange",
            "DXF in the open sewn-products format, with its rule table file",
            write,
            (".dxf",),
            (
                Setting("unit", "choice", "the drawing's unit", "mm", choices=("mm", "in")),
                Setting(
                    "rules",
                    "rules",
                    "the grade rules to write beside the drawing (.rul); in a job that grades, "
                    "its own",
                ),
                Setting(
                    "deltas",
                    "choice",
                    "what the numbers of the rule table file count from",
                    "sample",
                    choices=("sample", "neighbour"),
                ),
                Setting("name", "text", "the name of the style's rule table", ""),
            ),
            by_ending=False,
        )
    ]


def write(pattern: Pattern, values: Values) -> Output:
    """The pattern in the interchange format; rules that it cannot tell are left out, and said."""
    from sizewright.formats import write_interchange
    from sizewright.jobs import numbered

    units: Literal["metric", "english"] = "english" if values["unit"] == "in" else "metric"
    name = values["name"]
    told: tuple[Finding, ...] = ()
    if values["rules"] is not None:
        try:
            pattern, file, told = numbered(pattern, values["rules"])
        except SizewrightError as error:
            made = write_interchange(pattern, units=units, name=name)
            text = f"no rule table file was written: {error.what}"
            why = Finding("no-rule-table", "warn", text, cure=error.cure)
            return Output(made.dxf, (why, *(f for f in made.findings if f.code != "no-rule-table")))
        made = write_interchange(
            pattern, units=units, rules=file, deltas=values["deltas"], name=name or file.name
        )
    else:
        made = write_interchange(pattern, units=units, name=name)
    beside = {} if made.rul is None else {".rul": made.rul}
    return Output(made.dxf, (*told, *made.findings), beside)
