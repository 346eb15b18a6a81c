"""Seams, joints, what to cut and what was found, as tables and lists."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sizewright.findings import Finding
from sizewright.jobs import SeamRow, joint_data, seam_rows
from sizewright.model import CORNER_ANGLE, SEAM_TOLERANCE, Pattern, Seam, format_seam
from sizewright.units import Unit, both, format_length

from ..cutting_list import to_cut
from .board import Board
from .html import Html, el, joined, name

_LEVELS = {"fail": ("✗", "to mend"), "warn": ("!", "to check"), "note": ("·", "to know")}
_MATCH, _MISS = ("✓", "matches"), ("✗", "does not match")


def seams(pattern: Pattern, findings: Iterable[Finding]) -> tuple[Html, list[dict[str, Any]]]:
    """The table of seams, those that do not match first; and each seam's facts for the script."""
    findings = list(findings)
    told, facts = [], []
    for number, seam in enumerate(pattern.seams):
        rows = seam_rows(pattern, seam)
        bad = any(map(_bad, rows))
        cure = next((f.cure for f in findings if f.place == seam.name and f.level == "fail"), "")
        told.append((not bad, number, _seam(number, seam, rows, cure)))
        sizes = {row.size: _sentence(row) for row in rows}
        facts.append({"name": seam.name, "text": format_seam(seam), "sizes": sizes})
    if not told:
        return el("p", "No seams are declared."), facts
    return joined(*(text for _, _, text in sorted(told, key=lambda one: one[:2]))), facts


def _bad(row: SeamRow) -> bool:
    return bool(row.trouble) or abs(row.off) > SEAM_TOLERANCE


def _seam(number: int, seam: Seam, rows: Sequence[SeamRow], cure: str) -> Html:
    bad = any(map(_bad, rows))
    lines = [_seam_row(row, seam) for row in rows]
    eased = [seam.ease.kind] if seam.ease else []
    heads = ("size", "so", "first side", "second side", *eased, "off")
    return el(
        "section",
        el("h3", name(seam.name), " ", _verdict(*(_MISS if bad else _MATCH), bad=bad)),
        el("p", el("code", format_seam(seam)), class_="phrase"),
        el("button", "Show in the drawing", type="button", data_show_seam=str(number)),
        table(heads, el("tbody", *lines), f"Both sides of {seam.name} in every size"),
        cured(cure),
        class_="seam",
        id=f"seam-{number}",
    )


def _seam_row(row: SeamRow, seam: Seam) -> Html:
    head = el("th", name(row.size or "–"), scope="row")
    if row.trouble:
        return el("tr", head, el("td", row.trouble, colspan="5"))
    bad = _bad(row)
    return el(
        "tr",
        head,
        el("td", _verdict(*(_MISS if bad else _MATCH), bad=bad)),
        el("td", both(row.first)),
        el("td", both(row.second)),
        el("td", _cm(row.wanted)) if seam.ease else Html(""),
        el("td", f"{round(row.off, 2) + 0.0:+.2f} mm"),
    )


def _sentence(row: SeamRow) -> str:
    if row.trouble:
        return row.trouble
    ease = f", {_cm(row.wanted)} eased or gathered in" if row.wanted else ""
    fit = f"does not match: {_cm(abs(row.off))} off" if _bad(row) else "matches"
    return f"{both(row.first)} to {both(row.second)}{ease}; {fit}"


def _cm(mm: float) -> str:
    return format_length(mm, Unit.CM)


def _verdict(sign: str, word: str, *, bad: bool) -> Html:
    mark = el("span", sign, aria_hidden="true")
    return el("span", mark, " ", word, class_="bad" if bad else "good")


def joints(pattern: Pattern) -> Html:
    """Edges that run on across seams and closed darts: the kink in every size, bad ones first."""
    groups: dict[tuple[str, str], dict[str, float]] = {}
    for one in joint_data(pattern):
        if one["kink"] is not None:
            over = one.get("seam") or one.get("dart")
            key = f"{one['first']} to {one['second']}", str(over)
            groups.setdefault(key, {})[one["size"] or ""] = one["kink"]
    if not groups:
        return Html("")
    sizes = list(dict.fromkeys(size for kinks in groups.values() for size in kinks))

    def worst(kinks: dict[str, float]) -> float:
        return max(abs(kink) for kink in kinks.values())

    rows = []
    for (edges, over), kinks in sorted(groups.items(), key=lambda one: -worst(one[1])):
        bad = worst(kinks) > CORNER_ANGLE
        verdict = ("✗", "kinks") if bad else ("✓", "runs on")
        cells = [el("td", f"{kinks[s] + 0.0:+.1f}°" if s in kinks else "–") for s in sizes]
        rows.append(
            el(
                "tr",
                el("th", name(edges), scope="row"),
                el("td", name(over)),
                *cells,
                el("td", _verdict(*verdict, bad=bad)),
            )
        )
    heads = ("edges", "across", *sizes, "so")
    return joined(
        el("h3", "Edges that run on"),
        el("p", "Kink in degrees where they meet: + a point, − a dip."),
        table(heads, el("tbody", *rows), "Kinks across joints"),
    )


def table(heads: Sequence[str], rows: Html, label: str) -> Html:
    """A table that scrolls by itself where it is wider than the page."""
    head = el("thead", el("tr", *(el("th", one, scope="col") for one in heads)))
    made = el("table", head, rows)
    return el("div", made, class_="wide", tabindex="0", role="region", aria_label=label)


def cutting(pattern: Pattern) -> Html:
    """What to cut, by material."""
    parts = []
    for material, lines in to_cut(pattern).items():
        parts.append(el("h3", name(material)))
        parts.append(el("ul", *(el("li", name(line)) for line in lines)))
    return joined(*parts)


def findings(pattern: Pattern, found: Sequence[Finding], board: Board) -> Html:
    """A list, the gravest first, each with a way to its place in the drawing."""
    if not found:
        return el("p", "Nothing was found.")
    grave = [_finding(pattern, one, board) for one in found if one.level != "note"]
    notes = [_finding(pattern, one, board) for one in found if one.level == "note"]
    parts = [el("ul", *grave, class_="findings") if grave else el("p", "Nothing is to be mended.")]
    if notes:
        words = f"{len(notes)} to know" if grave else f"Only {len(notes)} to know"
        parts.append(el("details", el("summary", words), el("ul", *notes, class_="findings")))
    return joined(*parts)


def _finding(pattern: Pattern, one: Finding, board: Board) -> Html:
    sign, word = _LEVELS[one.level]
    places = [part for part in (one.piece, one.size, one.place) if part]
    where = joined(name(" · ".join(places)), ": ") if places else Html("")
    text = el("p", el("b", sign, " ", word, class_=one.level), " ", where, name(one.text))
    return el("li", text, cured(one.cure), *_ways(pattern, one, board), class_=f"level-{one.level}")


def _ways(pattern: Pattern, one: Finding, board: Board) -> Iterator[Html]:
    """Buttons that lead to a finding's place."""
    named = one.size.removeprefix("in ").split(", ")
    first = next((s for s in named if s and s in board.sizes), None)
    size = "" if first is None else str(board.sizes.index(first))
    for number, seam in enumerate(pattern.seams):
        if one.place == seam.name or one.place.startswith(f"{seam.name} at "):
            yield el("button", "Show ", name(seam.name), type="button",
                     data_show_seam=str(number), data_to_size=size)  # fmt: skip
            return
    names = one.piece.split(", ")
    for number, piece in enumerate(pattern.names):
        if piece in names:
            spot = board.spot(piece, first, one.at) if one.at is not None else ""
            yield el("button", "Show ", name(piece), type="button",
                     data_show_piece=str(number), data_to_size=size,
                     data_place=one.place, data_at=spot)  # fmt: skip


def cured(cure: str) -> Html:
    """What would mend it; the steps of a job apart, to be copied."""
    if not cure:
        return Html("")
    lines = cure.split("\n")
    steps = [line.strip() for line in lines if line.startswith("    ")]
    words = el("p", " ".join(line for line in lines if not line.startswith("    ")), class_="cure")
    if not steps:
        return words
    copy = el("button", "Copy these lines", type="button", class_="copy")
    code = el("pre", el("code", "\n".join(steps)), tabindex="0", role="region",
              aria_label="Lines for a job")  # fmt: skip
    return joined(words, el("div", code, copy, class_="paste"))
