"""The benchmarks run; how quick anything is depends on the machine, and is not judged here."""

from __future__ import annotations

import pytest

from tests.benchmarks.__main__ import main


def test_the_table_of_benchmarks_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    main(small=True)
    head, _, *rows = capsys.readouterr().out.splitlines()
    assert len(rows) > 10
    assert all(row.count("|") == head.count("|") for row in rows)
