"""The page on grading shows tables that read and names every finding of the room."""

from __future__ import annotations

import re
from pathlib import Path

from sizewright.grading import grade, read_chart, read_points, read_rules
from sizewright.model import Pattern, Piece

from .outlines import bodice_half

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "grading.md").read_text("utf-8")


def test_every_table_on_the_page_reads() -> None:
    steps, shares, chart, points = re.findall(r"```csv\n(.*?)```", PAGE, re.DOTALL)
    table = read_rules(steps)
    assert table.growth("8", "12")["side"]["width"] == 0.625 * 25.4
    body = read_chart(chart)
    growth = read_rules(shares).growth("8", "12", chart=body)
    assert growth["side-bust"]["width"] == 20.0
    assert growth["neck"]["length"] == 10.0
    rules = {p.rule for p in read_points(points)}
    assert rules <= set(table.names)


def test_the_pages_tell_every_finding() -> None:
    room = ROOT / "engine" / "sizewright" / "grading"
    learning = (ROOT / "docs" / "learning.md").read_text("utf-8")
    told = set(re.findall(r"`([a-z]+(?:-[a-z]+)*)`", PAGE + learning))
    for source in room.glob("*.py"):
        text = source.read_text("utf-8")
        codes = set(re.findall(r'Finding\(\s*"([a-z-]+)"', text))
        codes |= set(re.findall(r'_finding\(piece, "([a-z-]+)"', text))
        codes |= set(re.findall(r'_note\((?:piece|base), "([a-z-]+)"', text))
        codes |= set(re.findall(r'self\.found\(\s*"([a-z-]+)"', text))
        assert codes <= told, source.name


def test_the_python_example_runs(tmp_path: Path) -> None:
    (code,) = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
    rows = ["rule,axis,unit,8,10,12"]
    piece: Piece = bodice_half()
    rows += [f"{p.rule},width,mm,,1,1" for p in piece.outline.points]
    table = tmp_path / "rules.csv"
    table.write_text("\n".join(rows), "utf-8")
    code = code.replace('Path("rules.csv")', f"Path({str(table)!r})")
    names: dict[str, object] = {"pattern": Pattern((piece,), "10")}
    exec(code, names)
    graded = names["graded"]
    assert isinstance(graded, type(grade(Pattern((piece,), "10"), read_rules(table), ["8"])))
