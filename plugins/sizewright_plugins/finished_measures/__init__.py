"""Checks what a garment measures when it is sewn, and how much room that leaves on a body."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from sizewright.errors import SizewrightError
from sizewright.findings import Finding, Level
from sizewright.model import Pattern, Piece
from sizewright.plugin import Check, Setting, Values, hookimpl
from sizewright.shipped import found_file
from sizewright.units import both

if TYPE_CHECKING:
    from sizewright.grading import SizeChart

    from .terms import Term

api = 1

_INCH = 25.4
#: Wearing ease as published, mm: bust 1 1/2 to 4 in, waist of a dress 1/2 to 1 1/2 in, hip
#: 2 to 4 in (a university costume text, an encyclopedia and a shop's lesson, taken together);
#: the biceps of a sleeve at least 2 in (Threads).
COMMON_EASE: Mapping[str, tuple[float, float | None]] = {
    "bust": (1.5 * _INCH, 4 * _INCH),
    "waist": (0.5 * _INCH, 1.5 * _INCH),
    "hip": (2 * _INCH, 4 * _INCH),
    "biceps": (2 * _INCH, None),
}
#: No cloth for clothes is worn stretched so far that it is this share smaller than the body
#: (chosen: even what clings is cut less than a quarter smaller).
_STRETCH = 0.3
#: What a chart may call a measure.
_ALIKE = {"bust": ("bust", "chest"), "biceps": ("biceps", "upper-arm")}


@hookimpl
def add_checks() -> list[Check]:
    """The check `finished-measures`."""
    return [
        Check(
            "finished-measures",
            "bust, waist, hip and more of the sewn garment in every size, and the ease",
            check_measures,
            (
                Setting(
                    "measures",
                    "text",
                    "measures of your own, as a sum of runs: "
                    '`waist = "2 x front:waist + 2 x back:waist"`',
                    {},
                    shape="table",
                ),
                Setting("chart", "text", "a size chart to take the ease against", ""),
                Setting("size", "text", "the column of the chart, where it is not the size's", ""),
                Setting(
                    "body",
                    "length",
                    'a body to take the ease against: `bust = "92 cm"`',
                    {},
                    shape="table",
                    low=0,
                ),
                Setting("stretch", "flag", "the cloth stretches: less than no ease is fine", False),
            ),
        ),
        Check(
            "ease",
            "the ease of a garment on the body that it was graded to",
            check_ease,
            when="job",
        ),
    ]


def check_ease(pattern: Pattern, values: Values) -> list[Finding]:
    """A note for each finished measure of each size that was graded to a body, with the ease
    there; a failure where there is less than none and the cloth does not stretch."""
    if not pattern.bodies:
        return []
    ready, findings = _sewing_lines(pattern)
    for size, body in pattern.bodies.items():
        found, left = _measured(ready, size)
        findings += left
        for name, length in found.items():
            findings.append(_told(name, length, size, body.measures, body.stretch, on_body=True))
        findings += _not_compared(found, body.measures, size)
    return findings


def _measured(ready: Pattern, size: str | None) -> tuple[dict[str, float], list[Finding]]:
    from .named import measured

    pieces = [p for p in ready.pieces if p.size in (size or None, None)]
    found, left = measured(pieces, ready.seams)
    notes = [
        Finding("not-measured", "warn", why, name, size or "", level, cure)
        for name, level, why, cure in left
    ]
    return dict(found), notes


def check_measures(pattern: Pattern, values: Values) -> list[Finding]:
    """A note for each measure of each size, and a failure where the body has no room."""
    from sizewright.grading import read_chart

    from .terms import parse_terms

    declared = {name: parse_terms(name, text) for name, text in values["measures"].items()}
    chart = read_chart(found_file(Path(values["chart"]))) if values["chart"] else None
    findings: list[Finding] = []
    ready, left = _sewing_lines(pattern)
    findings += left
    given = bool(declared or chart or values["body"])
    for size in pattern.sizes or (None,):
        if (size or "") in pattern.bodies and not given:
            continue  # told by the check of its ease
        body = _body(values, chart, size)
        found, not_measured = _measured(ready, size)
        findings += not_measured
        for name, terms in declared.items():
            length = _declared(ready, terms, size, name, findings)
            if length is not None:
                found[name] = length
        for name, length in found.items():
            findings.append(_told(name, length, size or "", body, values["stretch"]))
        findings += _not_compared(found, dict(values["body"]), size or "")
    return findings


def _not_compared(
    found: Mapping[str, float], body: Mapping[str, float], size: str
) -> Iterator[Finding]:
    """That some measures of the body have no match among those of the garment."""
    from .named import OF

    met = {m for name in found for m in _alike(name.partition(OF)[0])}
    if lost := [m for m in body if m not in met]:
        text = "the garment is not measured there, so no room is told for it"
        yield Finding("not-compared", "note", text, "", size, ", ".join(lost))


def _sewing_lines(pattern: Pattern) -> tuple[Pattern, list[Finding]]:
    """The pattern in sewing lines; pieces of which they are not known are left out."""
    from sizewright.grading import without_allowance

    pieces: list[Piece] = []
    unknown: list[str] = []
    for piece in pattern.pieces:
        if piece.kind == "sew":
            pieces.append(piece)
        elif piece.kind == "cut" and piece.allowance is not None:
            pieces.append(without_allowance(piece)[0])
        else:
            unknown.append(piece.name)
    if not unknown:
        return pattern.with_pieces(pieces), []
    note = Finding(
        "not-measured",
        "note",
        "their sewing lines are not known, so they are not measured: "
        + ", ".join(dict.fromkeys(unknown)),
        cure='Say outline = "sew", or "cut" with its allowance.',
    )
    return pattern.with_pieces(pieces), [note]


def _body(values: Values, chart: SizeChart | None, size: str | None) -> Mapping[str, float]:
    """The measures of the body that a size is for, mm; empty where it is not known."""
    from sizewright.grading import same_size

    body: dict[str, float] = {}
    wanted = values["size"] or size
    if chart is not None and wanted:
        known = next((s for s in chart.sizes if same_size(s) == same_size(wanted)), None)
        if known is None and values["size"]:
            chart.value(chart.measures[0], wanted)  # refuses it, or finds it between two
            known = wanted
        if known is not None:
            body = {m: chart.value(m, known) for m in chart.measures}
    return body | dict(values["body"])


def _declared(
    pattern: Pattern,
    terms: tuple[Term, ...],
    size: str | None,
    name: str,
    findings: list[Finding],
) -> float | None:
    try:
        return sum(term.length(pattern, size) for term in terms)
    except SizewrightError as error:
        findings.append(
            Finding("measure-broken", "fail", error.what, error.where, size or "", name, error.cure)
        )
        return None


def _told(
    name: str,
    length: float,
    size: str,
    body: Mapping[str, float],
    stretch: bool,
    *,
    on_body: bool = False,
) -> Finding:
    from .named import OF

    girth = name.partition(OF)[0]
    has = next((body[m] for m in _alike(girth) if m in body), None)
    code = "ease-on-body" if on_body else "finished-measure"
    said = f"{name} is " if on_body else ""
    if has is None:
        text = f"{said}{both(length)} finished"
        return Finding(code, "note", text, size=size, place=name)
    ease = length - has
    room = f"{both(abs(ease))} {'more' if ease > 0 else 'less'} than the body's {both(has)}"
    if abs(ease) < 0.05:
        room = "as the body"
    text = f"{said}{both(length)} finished, {room}"
    low = COMMON_EASE.get(girth, (0.0, None))[0]
    level: Level = "note"
    cure = ""
    if girth in COMMON_EASE:
        if ease < (-_STRETCH * has if stretch else -0.05):
            code, level = "finished-small", "fail"
            cure = (
                "No cloth is worn stretched so far: take a larger size."
                if stretch
                else "Take a larger size, or a cloth that stretches (stretch = true)."
            )
        elif ease < low - 0.05 and not stretch:
            code = code if on_body else "little-ease"
            cure = f"Common wearing ease there is {_common(girth)}: sew a trial garment."
    return Finding(code, level, text, "", size, name, cure)


def _alike(girth: str) -> tuple[str, ...]:
    """The measures of a body that a girth of the garment is compared with."""
    return _ALIKE.get(girth, (girth,))


def _common(name: str) -> str:
    low, high = COMMON_EASE[name]
    return f"at least {both(low)}" if high is None else f"{both(low)} to {both(high)}"
