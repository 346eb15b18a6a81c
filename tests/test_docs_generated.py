"""Parts and pictures of the docs that are made by the program or from files are up to date.

Run this file to write them anew: `python -m tests.test_docs_generated`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import pytest

from sizewright.jobs.plugin_list import default_words, entries
from sizewright.plugin import Setting
from tests import api_pages
from tests.docs_pictures import PICTURES, job_made, shown_jobs
from tests.formats import kept
from tests.imports import FREE, RANKS
from tests.operations import plugins

DOCS = Path(__file__).parent.parent / "docs"
SETTINGS = re.compile(r"<!-- settings: (\S+) -->\n(.*?)<!-- end -->", re.DOTALL)
API = re.compile(r"<!-- api: (\w+) -->\n(.*?)<!-- end -->", re.DOTALL)
ROOMS = re.compile(r"<!-- rooms -->\n(.*?)<!-- end -->", re.DOTALL)
FORMATS = re.compile(r"<!-- formats -->\n(.*?)<!-- end -->", re.DOTALL)
FILES = re.compile(r"<!-- file: (\S+) -->\n```(\w+)\n(.*?)```", re.DOTALL)


def settings_table(settings: Sequence[Setting]) -> str:
    """Settings as a Markdown table, for the docs page of what declares them."""
    if not settings:
        return "It has no settings."
    rows = ["| setting | takes | default | what it does |", "| --- | --- | --- | --- |"]
    for s in settings:
        takes = _cell(s.expected() + (f" ({s.limits()})" if s.limits() else ""))
        default = "needed" if s.required else default_words(s)
        rows.append(f"| `{s.name}` | {takes} | {_cell(default)} | {_cell(s.help)} |")
    return "\n".join(rows)


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def pages() -> list[Path]:
    return sorted(DOCS.glob("**/*.md"))


def fresh(text: str) -> str:
    """The text of a page with its generated parts made anew."""

    def table(match: re.Match[str]) -> str:
        name, _, kind = match[1].partition("/")
        found = [
            entry
            for plugin in plugins().all
            for what, entry in entries(plugin)
            if entry.name == name and what == (kind or what)
        ]
        assert found, f"nothing is named {match[1]}"
        made = settings_table(found[0].settings)
        return f"<!-- settings: {match[1]} -->\n{made}\n<!-- end -->"

    def file(match: re.Match[str]) -> str:
        content = (DOCS / match[1]).read_text(encoding="utf-8")
        return f"<!-- file: {match[1]} -->\n```{match[2]}\n{content}```"

    def formats(_match: re.Match[str]) -> str:
        return f"<!-- formats -->\n{kept.table()}\n<!-- end -->"

    def api(match: re.Match[str]) -> str:
        return f"<!-- api: {match[1]} -->\n{api_pages.page(match[1])}\n\n<!-- end -->"

    def rooms(_match: re.Match[str]) -> str:
        return f"<!-- rooms -->\n{api_pages.rooms()}\n<!-- end -->"

    for part, made in (
        (FORMATS, formats),
        (SETTINGS, table),
        (FILES, file),
        (API, api),
        (ROOMS, rooms),
    ):
        text = part.sub(made, text)
    return text


@pytest.mark.parametrize("page", pages(), ids=lambda p: p.relative_to(DOCS).as_posix())
def test_generated_parts_are_fresh(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert text == fresh(text), "run: python -m tests.test_docs_generated"


@pytest.mark.parametrize("name", PICTURES)
def test_pictures_are_fresh(name: str) -> None:
    found = (DOCS / name).read_text(encoding="utf-8")
    assert found == PICTURES[name](), "run: python -m tests.test_docs_generated"


@pytest.mark.parametrize("name", shown_jobs())
def test_jobs_that_pages_show_run_in_several_sizes(name: str) -> None:
    one = shown_jobs()[name]
    pattern = job_made(one.job, sizes=True)
    for piece in one.after:
        assert [p.size for p in pattern.pieces if p.name == piece] == ["8", "12", "16"]


def test_every_built_in_has_its_page_with_all_its_settings() -> None:
    told = "\n".join(p.read_text(encoding="utf-8") for p in (DOCS / "plugins").glob("*.md"))
    tables = {match[1] for match in SETTINGS.finditer(told)}
    for plugin in plugins().all:
        if "sizewright_plugins" in plugin.origin:
            assert (DOCS / "plugins" / f"{plugin.name}.md").exists(), plugin.name
            for kind, entry in entries(plugin):
                assert {entry.name, f"{entry.name}/{kind}"} & tables, entry.name


def test_every_room_that_plugins_may_use_has_its_page() -> None:
    assert {*api_pages.ROOMS} == {*RANKS, *FREE} - {"spreadsheets", "cli", "lazy", "__main__"}
    for room in api_pages.ROOMS:
        text = (DOCS / "api" / f"{room}.md").read_text(encoding="utf-8")
        assert [match[1] for match in API.finditer(text)] == [room]
        for name in api_pages.exported(room):
            assert name in text, f"{room}.{name}"


if __name__ == "__main__":
    for path in pages():
        before = path.read_text(encoding="utf-8")
        path.write_text(fresh(before), encoding="utf-8")
    for name, draw in PICTURES.items():
        (DOCS / name).write_text(draw(), encoding="utf-8")
