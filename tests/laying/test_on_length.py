"""Lays on a length of cloth."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from sizewright.errors import SizewrightError
from sizewright.laying import Cloth, Lay, faults, look
from tests.laying.lays import check, gore, items, piece

CLOTH = Cloth("bolt", width=900.0, selvedge=10.0)


def test_pieces_lie_apart_along_the_grain() -> None:
    every = items(CLOTH, gore("gore", 300, 500, 4, pair=True), gore("yoke", 200, 150, 2))
    lay = look(CLOTH, every, 1)
    assert lay.whole
    assert [i.item.side for i in lay.laid].count("turned over") == 2
    check(lay)
    # The pieces alone fill 2 x 300 across twice; no lay is shorter than their area asks for.
    assert sum(i.area for i in every) / 880 < lay.length < 1500
    assert 0.5 < lay.share < 1.0


def test_a_nap_turns_nothing() -> None:
    cloth = replace(CLOTH, nap="one-way")
    lay = look(cloth, items(cloth, gore("gore", 300, 500, 4)), 0.5)
    assert {one.turn for one in lay.laid} == {0}
    check(lay)


def test_a_piece_as_wide_as_the_cloth_fits_exactly() -> None:
    lay = look(CLOTH, items(CLOTH, piece("band", [(0, 0), (880, 0), (880, 50), (0, 50)], 2)), 0.5)
    assert lay.whole
    check(lay)
    assert lay.length == pytest.approx(104, abs=1.5)


def test_what_is_too_wide_is_left_over() -> None:
    wide = piece("curtain", [(0, 0), (881, 0), (881, 50), (0, 50)])
    lay = look(CLOTH, items(CLOTH, wide, gore("gore", 300, 300)), 0.5)
    assert [item.piece.name for item in lay.left] == ["curtain"]
    assert [one.item.piece.name for one in lay.laid] == ["gore"]


def test_a_cloth_of_given_length_is_kept_within() -> None:
    cloth = replace(CLOTH, length=560.0)
    begun = time.monotonic()
    lay = look(cloth, items(cloth, gore("gore", 250, 500, 3)), 30)
    assert lay.whole
    assert time.monotonic() - begun < 15  # it ends when all lies
    check(lay)
    short = replace(CLOTH, length=520.0)
    lay = look(short, items(short, gore("gore", 250, 500, 12)), 1)
    assert 0 < len(lay.laid) < 12
    assert len(lay.laid) + len(lay.left) == 12
    check(lay)


def test_a_spoilt_lay_is_found_out() -> None:
    lay = look(CLOTH, items(CLOTH, gore("gore", 300, 500, 2)), 0.5)
    a, b = lay.laid

    def codes(*laid: object) -> set[str]:
        return {f.code for f in faults(Lay(CLOTH, laid))}  # type: ignore[arg-type]

    assert codes(a, b) == set()
    assert codes(a, replace(b, x=a.x + 3, y=a.y)) == {"lay-overlap"}
    assert codes(a, replace(b, x=b.x, y=-1.0)) >= {"lay-over-edge"}
    assert "lay-gap" in codes(a, replace(b, x=a.x, turn=a.turn, y=a.y + 300 + 2.0)) | codes(
        a, replace(b, x=a.x, turn=a.turn, y=a.y - 300 - 2.0)
    )
    assert codes(a, replace(b, turn=90)) >= {"lay-turned"}


def test_a_kill_leaves_no_search_running(tmp_path: Path) -> None:
    words = str(tmp_path / "mark").encode().hex()
    code = (
        "from tests.laying.lays import *; from sizewright.laying import look\n"
        f"cloth = Cloth('{words}', width=900.0)\n"
        "look(cloth, items(cloth, gore('gore', 300, 500, 9)), 300, told=lambda *a: print('on'))"
    )
    root = Path(__file__).resolve().parents[2]
    parent = subprocess.Popen(
        [sys.executable, "-u", "-c", code], stdout=subprocess.PIPE, cwd=root, text=True
    )
    assert parent.stdout is not None
    parent.stdout.readline()
    children = _children(parent.pid)
    assert children
    os.kill(parent.pid, signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    until = time.monotonic() + 20
    while any(_running(pid) for pid in children) and time.monotonic() < until:
        time.sleep(0.1)
    assert not any(_running(pid) for pid in children)


def _children(pid: int) -> list[int]:
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(child) for task in tasks for child in task.read_text().split()]


def _running(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_an_interrupt_keeps_a_whole_lay() -> None:
    every = items(CLOTH, gore("gore", 300, 500, 4))
    begun = time.monotonic()

    def told(words: str, _share: float) -> None:
        if words.endswith("cm"):
            raise KeyboardInterrupt

    lay = look(CLOTH, every, 300, told=told)
    assert lay.whole
    check(lay)
    assert time.monotonic() - begun < 120
    with pytest.raises(KeyboardInterrupt):
        look(CLOTH, every, 300, told=_stop)


def _stop(words: str, _share: float) -> None:
    assert words == "no lay yet"
    raise KeyboardInterrupt


def test_the_grain_decides_and_not_the_grade_axis() -> None:
    from sizewright.laying import items_for, opened
    from sizewright.model import Axis, Fold, Grain, Outline, Pattern, Piece, Quantity
    from tests.shapes import rectangle

    band = Piece(
        "band", Outline.of(rectangle(400, 60)), kind="cut", quantity=(Quantity("main", 2),),
        grain=Grain((50, 30), (150, 30)), axis=Axis((50, 10), (50, 50)), fold=Fold(3, 0),
    )  # fmt: skip
    lay = look(CLOTH, items_for(CLOTH, opened(Pattern((band,)), CLOTH).pieces)[0], 0.5)
    for area in lay.areas:
        x0, y0, x1, y1 = area.bounds
        assert (x1 - x0, y1 - y0) == pytest.approx((800, 60))
    # Its fold lies across its grain: on folded cloth it is opened out too, and cut once for two.
    folded = replace(CLOTH, folded=True)
    (item,), told = items_for(folded, opened(Pattern((band,)), folded).pieces)
    assert (item.side, told) == ("both layers", [])
    assert item.area == pytest.approx(800 * 60)


def test_a_search_library_that_is_not_there_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "spyrrow.py").write_text("raise ImportError('no spyrrow here')\n", "utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(SizewrightError, match="the search for a lay failed: ImportError") as told:
        look(CLOTH, items(CLOTH, gore("gore", 300, 500)), 1)
    assert told.value.exit_code == 3
