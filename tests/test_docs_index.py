"""The docs can be found: every page is in the index, and every link leads to a file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
PAGES = [*sorted(ROOT.glob("*.md")), *sorted(DOCS.rglob("*.md")), ROOT / "grade_tables/README.md"]
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)


def links(page: Path) -> Iterator[tuple[str, str]]:
    """File and heading of every link on a page that stays within the project."""
    for target in _LINK.findall(_FENCE.sub("", page.read_text("utf-8"))):
        if "://" not in target:
            file, _, heading = target.partition("#")
            yield file, heading


def headings(page: Path) -> set[str]:
    """Headings as links name them: small letters, hyphens for spaces, a number where one is
    there again."""
    names: dict[str, int] = {}
    for text in re.findall(r"^#+ (.*)$", page.read_text("utf-8"), re.MULTILINE):
        name = re.sub(r"[^a-z0-9_ -]", "", text.lower()).replace(" ", "-")
        names[name] = names.get(name, 0) + 1
    return {name + (f"-{k}" if k else "") for name, count in names.items() for k in range(count)}


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    for file, heading in links(page):
        target = (page.parent / file).resolve() if file else page
        assert target.exists(), file
        if heading:
            assert heading in headings(target), f"{file}#{heading}"


def test_every_page_is_in_the_index() -> None:
    index = DOCS / "README.md"
    linked = {(DOCS / file).resolve() for file, _ in links(index)}
    pages = {*DOCS.glob("*.md"), *(DOCS / "plugins").glob("*.md")} - {index}
    assert pages <= linked, sorted(p.name for p in pages - linked)
    linked = {(DOCS / "api" / file).resolve() for file, _ in links(DOCS / "api" / "README.md")}
    assert {*(DOCS / "api").glob("*.md")} - linked == {DOCS / "api" / "README.md"}
