"""Photographs rendered from known pieces, read and compared with what was rendered."""

from __future__ import annotations

import os
from functools import cache
from importlib.util import find_spec
from typing import Any

import numpy as np
import pytest

from sizewright.formats import read_photo
from sizewright.formats.photo.marks import Sheet
from sizewright.formats.reading import Reading
from sizewright.geometry import Path, nearest
from sizewright.model import Piece
from tests.formats.drawing import codes, only
from tests.photo_scenes import Camera, Scene, bodice, chords, dense

if find_spec("cv2") is None and not os.environ.get("CI"):
    pytest.skip("OpenCV is not installed (pip install sizewright[photo])", allow_module_level=True)

#: A small photograph: a piece of 30 cm beside a sheet, two pixels and more to a mm.
SMALL = Camera((1800, 1350), 15.0, 40.0, 4.0, 620.0, (120.0, 150.0), 0.8, -0.03)
PIECE = bodice(300.0)


def coded(picture: np.ndarray, kind: str = ".jpg") -> bytes:
    import cv2

    return bytes(cv2.imencode(kind, picture)[1])


@cache
def photo(**settings: Any) -> bytes:
    """The small photograph, with a sheet of marks or a plain one."""
    scene = Scene(SMALL)
    scene.area([chords(PIECE)], (222.0, 214.0, 190.0))
    scene.paper(Sheet("A4", 2), (300.0, 150.0), 5.0, marks=settings.get("marks", True))
    return coded(scene.finished(shade=0.3))


def apart(piece: Piece, wanted: Path) -> tuple[float, float]:
    """Median and largest distance of a known outline from the one found, wherever it lies."""
    found, corners = piece.outline.path, piece.outline.corners
    assert len(corners) == len(wanted)
    truth = dense(chords(wanted), 1.0)
    best = (np.inf, np.inf)
    for k in range(len(corners)):
        start = found.vertices[np.roll(corners, -k)]
        moved = _rigid(wanted.vertices, start, truth)
        for _ in range(12):
            moved = _rigid(moved, nearest(found, moved).point, moved)
        off = nearest(found, moved).distance
        best = min(best, (float(off.max()), float(np.median(off))))
    return best[1], best[0]


def _rigid(of: np.ndarray, to: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Places moved as `of` has to be moved, without any stretch, to lie nearest `to`."""
    p, q = of - of.mean(axis=0), to - to.mean(axis=0)
    turn = np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum())
    way = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray((places - of.mean(axis=0)) @ way + to.mean(axis=0))


def told(reading: Reading) -> float:
    """The error that was told, mm."""
    text = next(f.text for f in reading.findings if f.code == "photo-error")
    return float(text.split("within ")[1].split(" mm")[0])


def test_a_piece_by_a_sheet_of_marks() -> None:
    reading = read_photo(photo())
    median, most = apart(only(reading), PIECE)
    assert median < 0.1
    assert most < min(0.4, told(reading))
    assert told(reading) < 1.5
    # Corners, straight lines and few curves as drawn.
    assert list(only(reading).outline.path.lines).count(True) == 3
    assert len(only(reading).outline.corners) == 6
    assert not {"photo-doubtful", "photo-faint", "photo-touches"} & set(codes(reading))
