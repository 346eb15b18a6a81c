"""Photographs rendered from known pieces, read and compared with what was rendered."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
import zlib
from contextlib import suppress
from functools import cache
from importlib.util import find_spec
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pytest

from sizewright.errors import InputError
from sizewright.formats import claims_photo, read_photo, read_svg, write_svg
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


@cache
def seen() -> Reading:
    """The small photograph, read."""
    return read_photo(photo())


def apart(piece: Piece, wanted: Path) -> tuple[float, float]:
    """Median and largest distance of a known outline from the one found, wherever it lies."""
    found, corners = piece.outline.path, piece.outline.corners
    assert len(corners) == len(wanted)
    truth = dense(chords(wanted), 1.0)
    starts = [found.vertices[np.roll(corners, -k)] for k in range(len(corners))]
    known = wanted.vertices
    start = min(starts, key=lambda at: np.abs(_rigid(known, at, known) - at).max())
    moved = _rigid(known, start, truth)
    for _ in range(12):
        moved = _rigid(moved, nearest(found, moved).point, moved)
    off = nearest(found, moved).distance
    return float(np.median(off)), float(off.max())


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
    reading = seen()
    median, most = apart(only(reading), PIECE)
    assert median < 0.1
    assert most < min(0.4, told(reading))
    assert told(reading) < 1.5
    # Corners, straight lines and few curves as drawn.
    assert list(only(reading).outline.path.lines).count(True) == 3
    assert len(only(reading).outline.corners) == 6
    told_of = {"photo-doubtful", "photo-faint", "photo-touches", "photo-print"}
    assert not told_of & set(codes(reading))


def test_a_piece_by_a_plain_sheet() -> None:
    data = photo(marks=False)
    with pytest.raises(InputError, match="no sheet of marks") as caught:
        read_photo(data)
    assert "sheet=A4" in caught.value.cure
    reading = read_photo(data, sheet="A4")
    _, most = apart(only(reading), PIECE)
    assert most < min(1.0, told(reading))


def test_the_error_told_covers_bent_sheets() -> None:
    dice = np.random.default_rng(3)
    covered = []
    for lift in (0.0, 0.0, 1.0, 2.0):
        scene = Scene(SMALL)
        scene.area([chords(PIECE)], (222.0, 214.0, 190.0))
        bow = float(dice.uniform(0.0, 0.8))

        def bent(p: np.ndarray, lift: float = lift, bow: float = bow) -> np.ndarray:
            corner = np.maximum(1 - np.hypot(*p.T) / 150.0, 0.0) ** 2
            return np.column_stack([p, lift * corner + bow * (1 - (2 * p[:, 1] / 297 - 1) ** 2)])

        scene.paper(Sheet("A4", 1), (300.0, 150.0), 3.0, bent=bent)
        reading = read_photo(coded(scene.finished()))
        covered.append(apart(only(reading), PIECE)[1] <= told(reading))
    assert all(covered)


@pytest.mark.parametrize("printed", [0.97, 0.995])
def test_a_sheet_not_printed_at_its_size_is_told(printed: float) -> None:
    scene = Scene(SMALL)
    scene.area([chords(PIECE)], (222.0, 214.0, 190.0))
    scene.paper(Sheet("A4", 1), (300.0, 150.0), 3.0, printed=printed)
    reading = read_photo(coded(scene.finished()))
    (said,) = (f.text for f in reading.findings if f.code == "photo-print")
    assert said.endswith(f"{100 * printed:.1f} %")
    assert apart(only(reading), PIECE)[1] < told(reading)


def test_a_shadow_is_told_and_not_taken_for_the_piece() -> None:
    scene = Scene(SMALL, table=(150.0, 140.0, 130.0))
    scene.area([chords(PIECE) + np.array([5.0, -4.0])], (85.0, 80.0, 74.0))
    scene.area([chords(PIECE)], (235.0, 228.0, 205.0))
    scene.paper(Sheet("A4", 1), (300.0, 150.0))
    reading = read_photo(coded(scene.finished()))
    assert "photo-doubtful" in codes(reading)
    assert apart(only(reading), PIECE)[1] < 0.5
    # Nothing is promised of outlines that are in doubt.
    (error,) = (f for f in reading.findings if f.code == "photo-error")
    assert error.level == "warn"
    assert error.text.endswith("how far the outlines lie off the paper is not known")


def test_joints_of_a_table_and_a_shadow_are_not_followed() -> None:
    scene = Scene(SMALL, table=(150.0, 140.0, 130.0))
    for x in range(-600, 800, 70):
        joint = np.array([[x, -500], [x + 1.2, -500], [x + 41.2, 900], [x + 40, 900]])
        scene.area([joint], (80.0, 70.0, 60.0))
    scene.area([chords(PIECE) + np.array([4.0, -3.0])], (75.0, 70.0, 65.0))
    scene.area([chords(PIECE)], (222.0, 200.0, 150.0))
    scene.paper(Sheet("A4", 1), (300.0, 150.0))
    reading = read_photo(coded(scene.finished()))
    off = apart(only(reading), PIECE)[1]
    assert off < 0.7
    assert "photo-doubtful" in codes(reading) or off < told(reading)


def test_a_spur_is_told_from_a_corner() -> None:
    from sizewright.formats.photo.proof import bridged, odd

    tip = dense(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 40.0]]), 0.5)
    assert not odd(tip, 5.0).any()
    spur = np.array([[0, 0], [40, 0], [41, -6], [43, -6], [44, 0], [90, 0], [90, 60], [0, 60.0]])
    line = dense(spur, 0.5)
    there = odd(line, 5.0)
    assert (line[there, 1] < 0).all()
    assert there.sum() > 20
    assert bridged(line, there, 8)[:, 1].min() > -0.5


def test_lines_printed_within_a_piece_are_no_doubt() -> None:
    import shapely

    within = shapely.Polygon(chords(PIECE)).buffer(-12.0)
    scene = Scene(SMALL)
    scene.area([chords(PIECE)], (222.0, 214.0, 190.0))
    for area, colour in (
        (within, (60.0, 60.0, 60.0)),
        (within.buffer(-1.0), (222.0, 214.0, 190.0)),
    ):
        scene.area([shapely.get_coordinates(area.exterior)[:-1]], colour)
    scene.paper(Sheet("A4", 1), (300.0, 150.0))
    reading = read_photo(coded(scene.finished()))
    assert "photo-doubtful" not in codes(reading)
    assert apart(only(reading), PIECE)[1] < 0.5


def test_a_piece_that_touches_the_sheet_or_the_edge_is_told() -> None:
    scene = Scene(SMALL)
    scene.area([chords(PIECE)], (222.0, 214.0, 190.0))
    scene.area([chords(PIECE) + np.array([-350.0, 0.0])], (222.0, 214.0, 190.0))
    scene.paper(Sheet("A4", 1), (229.0, 150.0), 2.0)
    reading = read_photo(coded(scene.finished()))
    assert {"photo-touches", "photo-cut-off"} <= set(codes(reading))
    assert [one.reason for one in reading.set_aside] == ["cut off by the photo's edge"]


def test_a_sheet_on_chequered_cloth_is_found() -> None:
    from sizewright.formats.photo.squares import find_sheets

    scene = Scene(SMALL, table=(236.0, 234.0, 230.0))
    for x in range(-600, 800, 24):
        for y in range(-400, 700, 24):
            cell = np.array([[x, y], [x + 12, y], [x + 12, y + 12], [x, y + 12]])
            scene.area([cell], (70.0, 100.0, 80.0))
    scene.paper(Sheet("A4", 3), (150.0, 150.0), 4.0)
    grey = scene.finished().mean(axis=2).astype(np.float32)
    assert [seen.sheet for seen in find_sheets(grey)] == [Sheet("A4", 3)]


def test_a_mirrored_photo_is_told() -> None:
    import cv2

    data = cv2.imdecode(np.frombuffer(photo(), np.uint8), cv2.IMREAD_COLOR)
    with pytest.raises(InputError, match="mirrored"):
        read_photo(coded(np.ascontiguousarray(data[:, ::-1])))


def test_grey_and_deep_pictures_are_read() -> None:
    import cv2

    picture = cv2.imdecode(np.frombuffer(photo(), np.uint8), cv2.IMREAD_COLOR)
    for other in (cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), picture.astype(np.uint16) * 257):
        assert apart(only(read_photo(coded(other, ".png"))), PIECE)[1] < 0.4


@pytest.mark.parametrize(
    ("begins", "kind"),
    [
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "HEIC"),
        (b"RIFF\x10\0\0\0WEBPVP8 ", "WebP"),
        (b"II*\0", "TIFF"),
        (b"GIF89a", "GIF"),
        (b"BM\x36\0\0\0\0\0\0\0", "BMP"),
    ],
)
def test_pictures_of_other_kinds_are_named(begins: bytes, kind: str) -> None:
    data = begins + bytes(200)
    assert claims_photo(data)
    with pytest.raises(InputError, match=kind) as caught:
        read_photo(data)
    assert "JPEG" in caught.value.cure


def test_no_piece_is_an_error() -> None:
    scene = Scene(SMALL)
    scene.paper(Sheet("Letter", 3), (150.0, 150.0))
    with pytest.raises(InputError, match="no piece was found"):
        read_photo(coded(scene.finished()))


def test_the_photo_stands_behind_the_drawing_and_is_left_aside() -> None:
    reading = seen()
    assert reading.behind is not None
    with_it, without = write_svg(reading.pattern, reading.behind), write_svg(reading.pattern)
    assert b"data:image/jpeg;base64," in with_it.data
    assert b"image" not in without.data
    again = read_svg(with_it.data)
    assert write_svg(again.pattern).data == write_svg(read_svg(without.data).pattern).data


# --- files that cannot be read ----------------------------------------------------------


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def _png(width: int, height: int) -> bytes:
    """A PNG that says to be so large, of nothing but zeros."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(bytes(1000))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        [_chunk(b"IHDR", head), _chunk(b"IDAT", rows), _chunk(b"IEND", b"")]
    )


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (lambda: _png(60_000, 60_000), "million"),
        (lambda: _png(40, 40), "too few"),
        (lambda: photo()[: len(photo()) // 2], "cut short"),
        (lambda: photo()[:300], "cut short"),
        (lambda: _png(2000, 1500)[:60], "cut short"),
        (lambda: b"\xff\xd8\xff" + bytes(500), "cut short"),
    ],
)
def test_a_bad_picture_gets_one_message(data: Any, what: str) -> None:
    assert claims_photo(data())
    with pytest.raises(InputError, match=what) as caught:
        read_photo(data(), name="x.jpg")
    assert caught.value.where == "x.jpg"
    assert caught.value.cure


def test_damage_within_ends_in_a_message_or_a_finding() -> None:
    dice = np.random.default_rng(5)
    for _ in range(6):
        spoilt = bytearray(photo())
        for at in dice.integers(700, len(spoilt) - 2, 40):
            spoilt[at] ^= 0x55
        # Whatever else it raised would fail the test.
        with suppress(InputError):
            assert any(f.level == "warn" for f in read_photo(bytes(spoilt)).findings)


def test_without_opencv_the_cure_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sizewright.formats.photo.picture.find_spec", lambda _name: None)
    with pytest.raises(InputError) as caught:
        read_photo(photo())
    assert "pip install sizewright[photo]" in caught.value.cure


def test_opencv_is_imported_by_photographs_alone(tmp_path: FilePath) -> None:
    code = (
        "import sys; from sizewright.cli.main import main;"
        f"main(['convert', 'examples/patch-pocket.svg', {str(tmp_path / 'x.svg')!r}]);"
        "sys.exit('cv2' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True).returncode == 0
