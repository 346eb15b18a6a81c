"""The card in a real browser: Debian's Chromium, driven by Playwright; axe-core looks for what
keeps people out."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from sizewright.findings import Finding
from sizewright.formats import read_svg
from sizewright.geometry import Path as Line
from sizewright.jobs.commands import run_job_file
from sizewright.jobs.show import looked_over, summary_json
from sizewright.model import ChainPart, Outline, Pattern, Piece, Point, Quantity, Run, Seam
from sizewright.plugin import Making, Plugins, check_settings
from sizewright.units import both
from tests.programs import need

AXE = Path(__file__).parents[1] / "vendored" / "axe-core" / "axe.min.js"
# The back is made longer than the front, so that the side seam does not match.
JOB = """title = "A top"
source = "shipped:examples/supper-top/supper-top.svg"
base = "12"

[grade]
to = ["10", "12", "14"]
rules = "shipped:grade_tables/supper-top-steps.csv"

[[steps]]
do = "lengthen"
pieces = ["back"]
at = ["middle of side"]
by = "2 cm"

[[steps]]
do = "seam-allowance"
width = "1.5 cm"

[[cloths]]
name = "linen"
width = "140 cm"

[[outputs]]
file = "{size}.svg"

[[outputs]]
file = "card.html"
write = "card"
cut = ["14"]
seconds = 1
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        # As root, as in containers, it does not start with its sandbox.
        found = playwright.chromium.launch(executable_path=need("chromium"), args=["--no-sandbox"])
        yield found
        found.close()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("card")
    job = folder / "job.toml"
    job.write_text(JOB, encoding="utf-8")
    run_job_file(job, into=folder)
    return folder


class Seen:
    """A page, with what it said and asked for while it was open."""

    def __init__(self, browser: Any, file: Path, width: int = 1200) -> None:
        self.page = browser.new_page(viewport={"width": width, "height": 900})
        self.faults: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda said: self.faults.append(said.text))
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("dialog", lambda box: (self.faults.append(box.message), box.dismiss()))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.url = file.as_uri()
        self.page.goto(self.url)

    def close(self) -> None:
        assert self.faults == []
        assert self.asked == [self.url]
        self.page.close()


@pytest.fixture
def card(browser: Any, made: Path) -> Iterator[Any]:
    seen = Seen(browser, made / "card.html")
    yield seen.page
    seen.close()


def lengths(page: Any) -> dict[tuple[str, str], str]:
    """What the edges in front tell, by piece and number."""
    rows = page.locator(".edge").evaluate_all(
        "(all) => all.map((e) => [e.closest('.piece').querySelector('title').textContent,"
        " e.dataset.edge, e.dataset.length, e.getAttribute('aria-label')])"
    )
    assert all(length in label for _, _, length, label in rows)
    return {(piece, edge): length for piece, edge, length, _ in rows}


@cache
def shown(folder: Path, size: str) -> dict[tuple[str, str], str]:
    """The sewn lengths of the same edges as `show --json` has them."""
    told = json.loads(summary_json(looked_over(folder / f"{size}.svg")))
    return {
        (piece["name"], str(edge["number"])): both(edge["sewn"])
        for piece in told["pieces"]
        for edge in piece["sew"]["edges"]
    }


def test_edges_tell_what_show_tells_in_every_size(card: Any, made: Path) -> None:
    found = {}
    for size in ("14", "10", "12", "14"):
        card.select_option("#front", label=size)
        found[size] = lengths(card)
        assert found[size] == shown(made, size)
        assert card.locator("article .size").first.inner_text() == size
    assert len(found["14"]) > 20
    assert found["14"] != found["10"]


def test_sizes_are_switched_on_and_off(card: Any) -> None:
    def visible() -> list[bool]:
        return [card.locator(f".nest[data-size='{k}']").first.is_visible() for k in range(3)]

    assert visible() == [True, True, False]  # 14 is in front
    card.uncheck(".sizes input >> nth=0")
    assert visible() == [False, True, False]
    card.select_option("#front", label="12")
    card.check(".sizes input >> nth=0")
    assert visible() == [True, False, True]


def test_an_edge_lights_its_mate(card: Any) -> None:
    edge = card.locator(".edge[aria-label^='front, shoulder:']")
    box = edge.bounding_box()
    card.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert "lit" in edge.get_attribute("class")
    mates = card.locator(".edge.mate").evaluate_all(
        "(all) => all.map((e) => e.getAttribute('aria-label').split(':')[0])"
    )
    assert mates == ["back, shoulder"]
    told = card.locator("#told").inner_text()
    assert edge.get_attribute("data-length") in told
    assert "sewn to back: shoulder" in told
    assert "matches" in told


def test_it_is_driven_by_keys_alone(card: Any) -> None:
    card.focus("#board")
    before = card.get_attribute("#board", "viewBox")
    card.keyboard.press("+")
    nearer = card.get_attribute("#board", "viewBox")
    card.keyboard.press("ArrowRight")
    aside = card.get_attribute("#board", "viewBox")
    assert len({before, nearer, aside}) == 3
    card.keyboard.press("0")
    assert card.get_attribute("#board", "viewBox") == before
    card.keyboard.press("Tab")
    reached = []
    for _ in range(len(lengths(card))):
        reached.append(card.evaluate("document.activeElement.getAttribute('aria-label')"))
        card.keyboard.press("ArrowRight")
    assert len(set(reached)) == len(reached)
    card.keyboard.press("Tab")
    assert not card.evaluate("document.activeElement.matches('.edge')")


def test_what_does_not_match_comes_first_with_its_cure(card: Any) -> None:
    first = card.locator(".seam").first
    text = first.inner_text()
    assert text.startswith("side")
    assert "✗ does not match" in text
    assert 'do = "true-edge"' in first.locator("pre").inner_text()
    first.locator("[data-show-seam]").click()
    assert card.locator(".edge.mate").count() > 0
    finding = card.locator(".findings li").first
    assert "✗ to mend" in finding.inner_text()
    finding.locator("button").last.click()
    assert card.locator(".edge.own, .edge.mate, .piece.lit").count() > 0
    assert card.locator("figure").count() == 2  # the lay, and the map of the pages


@pytest.mark.parametrize("width", [360, 1400])
def test_it_keeps_nobody_out(browser: Any, made: Path, width: int) -> None:
    """axe-core finds nothing serious; nothing is wider than a telephone."""
    seen = Seen(browser, made / "card.html", width)
    seen.page.eval_on_selector_all("details", "(all) => all.forEach((d) => { d.open = true; })")
    assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
    seen.page.evaluate(AXE.read_text(encoding="utf-8"))
    # It names each node at fault, but of what passes only one for each rule, which is quick.
    found = seen.page.evaluate("axe.run({ resultTypes: ['violations'] })")
    assert len(found["passes"]) > 20
    grave = [
        (one["id"], [node["html"][:200] for node in one["nodes"][:3]])
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]
    assert grave == []
    seen.close()


BITES = (
    "<script>alert(1)<-script>",
    "</svg></template><img src onerror>",
    "'){}`${alert(2)}&lt",
    "עליונית\u202e שמלה",
    "👗🪡",
    "x" * 300,
)


def test_names_that_bite_are_text(browser: Any, tmp_path: Path) -> None:
    path = Line.polyline([(0, 0), (200, 0), (220, 300), (0, 320)], closed=True)
    runs = [Run(0, 1, "hem"), Run(1, 2, "side</script><b>")]
    outline = Outline.of(path, points=[Point(0, "<i>")], runs=runs)
    sizes = ("<u>1", '"2" onfocus')
    pieces = tuple(
        Piece(name, outline, kind="sew", size=size, quantity=(Quantity("<main>", 1),),
              story=("<img src=x onerror=alert(3)>",))
        for name in BITES
        for size in sizes
    )  # fmt: skip
    one, other = (
        ChainPart(name, run) for name, run in zip(BITES, ("hem", "side</script><b>"), strict=False)
    )
    pattern = Pattern(pieces, sizes[0], (Seam("</script>", (one,), (other,)),), title="<h1>")
    bad = Finding("x", "fail", "<img src=x onerror=alert(4)>", BITES[0], sizes[0], "</script>",
                  "Do.\n    [[steps]]\n    do = \"<script>alert(5)</script>\"")  # fmt: skip
    writer = Plugins.discover().writer("card")
    values = check_settings("card", writer.settings, {"making": Making(pattern, lambda: (bad,))})
    output = writer.write(replace(pattern), values)
    file = tmp_path / "card.html"
    file.write_bytes(output.data)  # type: ignore[union-attr]
    seen = Seen(browser, file)
    page = seen.page
    assert page.locator("main img, main script, main b:not([class])").count() == 0
    assert page.locator("article h3").all_text_contents() == list(BITES)
    page.select_option("#front", index=1)
    edge = page.locator(".edge").first
    edge.dispatch_event("click")
    assert BITES[0] in page.locator("#told").inner_text()
    assert "</script>" in page.locator("#told").inner_text()
    seen.close()


def test_a_finding_leads_to_its_place(browser: Any, made: Path, tmp_path: Path) -> None:
    pattern = read_svg(made / "14.svg").pattern
    piece = pattern.pieces[-1]
    corner = piece.outline.vertex_at(piece.outline.corners[0])
    at = (float(corner[0]), float(corner[1]))
    found = (
        Finding("x", "warn", "look here", piece.name, piece.size or "", at=at),
        Finding("x", "warn", "nowhere", piece.name, piece.size or "", at=(-9999.0, 0.0)),
    )
    writer = Plugins.discover().writer("card")
    values = check_settings("card", writer.settings, {"making": Making(pattern, lambda: found)})
    file = tmp_path / "card.html"
    file.write_bytes(writer.write(pattern, values).data)  # type: ignore[union-attr]
    seen = Seen(browser, file)
    page = seen.page
    page.locator(".findings button").first.click()
    ring = page.locator(".spot").evaluate("(c) => [c.cx.baseVal.value, c.cy.baseVal.value]")
    # The first edge begins at the first corner.
    edge = page.locator(f".piece[data-piece='{len(pattern.pieces) - 1}'] .edge[data-edge='1']")
    start = edge.evaluate("(e) => { const p = e.getPointAtLength(0); return [p.x, p.y]; }")
    assert ring == pytest.approx(start, abs=0.02)
    page.locator(".findings button").nth(1).click()
    assert page.locator(".spot").count() == 0
    seen.close()
