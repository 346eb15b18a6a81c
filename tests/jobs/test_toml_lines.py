"""Where each key of a TOML file stands."""

from __future__ import annotations

from pathlib import Path

import pytest

from sizewright.errors import InputError
from sizewright.jobs.toml_lines import read_toml

TEXT = '''# a job
title = "Sunday"
note = """
[not.a.table]
x = 1
"""
[pieces.front]
corners = 3
points = { hip = "1/3 along side", "low hip" = "#2" }

[pieces."side front"]
corners = 4
[[steps]]
do = "allow"
[steps.widths]
"front:hem" = "3 cm"
[[steps]]
  do = "notch"
'''


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("trail", "line"),
    [
        (("title",), 2),
        (("pieces", "front"), 7),
        (("pieces", "front", "corners"), 8),
        (("pieces", "front", "points", "low hip"), 9),
        (("pieces", "side front", "corners"), 12),
        (("steps", 0), 13),
        (("steps", 0, "do"), 14),
        (("steps", 0, "widths", "front:hem"), 16),
        (("steps", 1, "do"), 18),
        (("steps", 1, "missing"), 17),
    ],
)
def test_lines(job: Path, trail: tuple[str | int, ...], line: int) -> None:
    toml = read_toml(job)
    assert toml.where(*trail) == f"job.toml, line {line}"
    key = trail[-1]
    if key not in (0, 1, "missing"):
        shown = TEXT.splitlines()[line - 1]
        assert str(key) in shown


def test_text_in_quotes_is_no_table(job: Path) -> None:
    assert ("not", "a", "table") not in read_toml(job).lines


def test_broken_toml_tells_the_line(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("title = 1.5 cm\n")
    with pytest.raises(InputError, match="line 1"):
        read_toml(path)
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="UTF-8"):
        read_toml(path)
    with pytest.raises(InputError, match="no such file"):
        read_toml(tmp_path / "none.toml")


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(b'\xef\xbb\xbftitle = "x"\r\n')
    assert read_toml(path).data == {"title": "x"}


@pytest.mark.parametrize("deep", ["a{0} = 1", "[a{0}]", "a = {1}1{2}"])
def test_what_is_nested_without_end_is_refused(tmp_path: Path, deep: str) -> None:
    path = tmp_path / "job.toml"
    for times in (30, 400):
        path.write_text(deep.format(".b" * times, "[" * times, "]" * times))
        with pytest.raises(InputError, match=r"deep|valid TOML"):
            read_toml(path)
    path.write_text(deep.format(".b" * 9, "[" * 9, "]" * 9))
    read_toml(path)
