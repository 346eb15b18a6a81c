"""DXF files of every version and encoding, damaged ones, and what is no DXF at all."""

from __future__ import annotations

import random
import time
from itertools import pairwise

import pytest
from ezdxf.lldxf.const import DXFStructureError
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError, SizewrightError
from sizewright.formats import any_dxf, claims_dxf, read_dxf
from sizewright.formats.dxf import entities
from sizewright.formats.dxf import load as loading
from sizewright.formats.dxf.load import load
from sizewright.formats.dxf.writer import write_dxf
from sizewright.formats.interchange.reader import looks_like_interchange
from sizewright.formats.reading import Reading
from tests.formats.dxf_made import bare, document, fresh, line
from tests.formats.full_pattern import full_pattern

pytestmark = pytest.mark.release


def tried(data: bytes) -> tuple[Reading | None, str]:
    """What reading gives, or the message of the one kind of error that it may end in."""
    try:
        return read_dxf(data, name="x.dxf"), ""
    except SizewrightError as error:
        return None, str(error)


SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
CURVES = write_dxf(full_pattern()).data
CUTTER = write_dxf(full_pattern(), "cutter").data


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
@pytest.mark.parametrize("binary", [False, True])
def test_every_version(version: str, binary: bool) -> None:
    doc = fresh(version)
    space = doc.modelspace()
    if version == "R12":
        space.add_polyline2d(SQUARE, close=True)
    else:
        space.add_lwpolyline(SQUARE, close=True)
    space.add_text("manché 京").set_placement((10, 10))
    data = document(doc, binary=binary)
    assert claims_dxf(data[:4096])
    (piece,) = read_dxf(data).pattern.pieces
    assert piece.area == pytest.approx(10000)
    assert piece.name == "manché 京"


def test_line_ends_and_marks_at_the_head() -> None:
    plain = document(fresh())
    for data in (plain.replace(b"\n", b"\r\n"), b"999\nhello\n" + plain, b"\xef\xbb\xbf" + plain):
        assert claims_dxf(data[:4096])
        assert load(data).findings == ()
    assert load(b"999\nhello\n999\nthere\n" + plain).comments == ("hello", "there")


def test_what_is_claimed() -> None:
    assert claims_dxf(bare(line((0, 0), (1, 1))))
    for data in (b"<svg/>", b"", b"0\n", b"%PDF-1.7", b"SECTION", b"AC1032\0", b"1\nSECTION"):
        assert not claims_dxf(data)


def test_the_header_is_the_file_s_own() -> None:
    doc = fresh(units=5)
    assert load(document(doc)).header == {"$INSUNITS": 5, "$MEASUREMENT": 1}
    assert load(document(doc, binary=True)).header == {"$INSUNITS": 5, "$MEASUREMENT": 1}
    assert load(document(fresh("R12"))).header == {}
    assert load(bare(line((0, 0), (1, 1)))).header == {}


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"   \n",
        b"\0" * 5000,
        b"hello",
        b"AC1032 and so on",
        b"0\nSECTION\n",
        b"0\nSECTION\n2\nENTITIES\n0\nLINE\nx\ny\n",
        b"AutoCAD Binary DXF\r\n\x1a\x00",
        b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(range(256)) * 20,
        b"SECTION" * 1000,
        b"0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\nmany\n0\nENDSEC\n0\nEOF\n",
    ],
)
def test_what_is_no_drawing(data: bytes) -> None:
    reading, message = tried(data)
    if reading is None:
        assert message.startswith("x.dxf: ")
    else:
        assert reading.pattern.pieces == ()
        assert any(f.level == "fail" for f in reading.findings)


def test_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "LARGEST", 1000)
    with pytest.raises(InputError, match="more than"):
        load(CURVES)


def test_cut_short_is_told_and_what_is_there_is_read() -> None:
    doc = fresh()
    for k in range(20):
        doc.modelspace().add_lwpolyline([(x + 150 * k, y) for x, y in SQUARE], close=True)
    data = document(doc)
    # After the tenth polyline, in the middle of the eleventh.
    at = data.index(b"\nLWPOLYLINE\n", data.index(b"\nENTITIES\n"))
    for _ in range(10):
        at = data.index(b"\nLWPOLYLINE\n", at + 1)
    reading = read_dxf(data[: at + 130])
    assert {"cut-short", "repaired"} <= {f.code for f in reading.findings}
    assert 9 <= len(reading.pattern.pieces) <= 11


def _survives(data: bytes) -> None:
    began = time.process_time()
    reading, message = tried(data)
    assert reading is not None or message.startswith("x.dxf: ")
    assert time.process_time() - began < 2.0


@given(share=st.floats(0.0, 1.0), which=st.sampled_from([CURVES, CUTTER]))
def test_truncated_anywhere(share: float, which: bytes) -> None:
    _survives(which[: int(len(which) * share)])


@given(seed=st.integers(0, 2**31), which=st.sampled_from([CURVES, CUTTER]))
def test_mutated_anywhere(seed: int, which: bytes) -> None:
    rng = random.Random(seed)
    lines = which.split(b"\n")
    for _ in range(rng.randint(1, 8)):
        k = rng.randrange(len(lines))
        act = rng.randrange(6)
        if act == 0:
            del lines[k]
        elif act == 1:
            lines[k] = rng.choice([b"nan", b"1e400", b"-1", b"0", b"99999999999", b"", b"\xff\xfe"])
        elif act == 2:
            lines.insert(k, lines[rng.randrange(len(lines))])
        elif act == 3:
            lines[k] = bytes(rng.randrange(256) for _ in range(20))
        elif act == 4:
            j = rng.randrange(len(lines))
            lines[k], lines[j] = lines[j], lines[k]
        else:
            lines[k] = rng.choice([b"0", b"10", b"SECTION", b"ENDSEC", b"1071", b"SPLINE", b"1e18"])
    _survives(b"\n".join(lines))


@given(noise=st.binary(max_size=400), binary=st.booleans())
def test_noise(noise: bytes, binary: bool) -> None:
    head = b"AutoCAD Binary DXF\r\n\x1a\x00" if binary else b"0\nSECTION\n2\nENTITIES\n"
    _survives(head + noise)


def test_binary_damage() -> None:
    data = document(fresh(), binary=True)
    for cut in range(30, len(data), max(1, len(data) // 25)):
        _survives(data[:cut])
        _survives(data[:cut] + b"\xff" * 9 + data[cut + 9 :])


def test_impossible_numbers_are_set_aside() -> None:
    reading = read_dxf(
        bare(
            line((0, 0), (float("inf"), 1)),
            line((0, 0), (float("nan"), 1)),
            line((0, 0), (1e300, 1)),
            line((5, 5), (5, 5)),
            "0;CIRCLE;8;0;10;0;20;0;40;-0.0",
            "0;CIRCLE;8;0;10;0;20;0;40;inf",
            "0;SPLINE;8;0;71;3;72;4;73;2;40;0;40;1;40;0;40;1;10;0;20;0;10;1;20;1",
            "0;ELLIPSE;8;0;10;0;20;0;11;0;21;0;40;1;41;0;42;6",
        )
    )
    assert reading.pattern.pieces == ()
    assert {"cannot-be-drawn", "no-pieces"} <= {f.code for f in reading.findings}
    assert len(reading.set_aside) >= 4


def test_new_kinds_of_entity_in_an_old_file() -> None:
    """LWPOLYLINE and SPLINE in a file that names no version, as some programs write them."""
    square = ";".join(f"10;{x};20;{y}" for x, y in SQUARE)
    knots = ";".join(f"40;{k}" for k in (0, 0, 1, 2, 3, 4, 4))
    ring = ";".join(f"10;{x + 300};20;{y}" for x, y in [*SQUARE, SQUARE[0]])
    reading = read_dxf(
        bare(
            f"0;LWPOLYLINE;8;a;90;4;70;1;{square}",
            f"0;SPLINE;8;b;70;1;71;1;72;7;73;5;{knots};{ring}",
            "0;HATCH;8;0;10;0;20;0",
        )
    )
    assert [p.area for p in reading.pattern.pieces] == pytest.approx([10000, 10000])
    assert "repaired" in {f.code for f in reading.findings}


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    read_dxf(CURVES)
    _survives(CURVES[:9000])
    out, err = capfd.readouterr()
    assert (out, err) == ("", "")


def test_an_entity_of_no_known_kind_is_set_aside() -> None:
    """It has no layer to ask for."""
    doc = fresh()
    doc.modelspace().add_lwpolyline(SQUARE, close=True)
    doc.modelspace().add_line((5.0, 5.0), (50.0, 5.0), dxfattribs={"layer": "1"})
    data = document(doc).replace(b"  0\nLINE\n", b"  0\nSTRANGE\n")
    reading = read_dxf(data)
    assert [p.area for p in reading.pattern.pieces] == [10000.0]
    (aside,) = [a for a in reading.set_aside if a.kind == "strange"]
    assert "not known" in aside.reason
    assert not looks_like_interchange(load(data, "x.dxf").doc)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "entity",
    [
        "0;TEXT;8;1;10;inf;20;5.0;40;5.0;1;x",
        "0;TEXT;8;1;10;5.0;20;5.0;40;inf;1;x",
        "0;POINT;8;1;10;1e308;20;-1e308",
        "0;POINT;8;1;10;nan;20;0.0",
    ],
)
def test_texts_and_points_beyond_any_measure_are_set_aside(entity: str) -> None:
    lines = [line(a, b) for a, b in pairwise([*SQUARE, SQUARE[0]])]
    reading = read_dxf(bare(*lines, entity))
    assert len(reading.pattern.pieces) == 1
    assert any("cannot be drawn" in a.reason for a in reading.set_aside)


@pytest.mark.parametrize("place", ["entity", "drawing"])
def test_what_ezdxf_raises_over_broken_data_is_told(
    monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    """In one entity that is set aside and the rest is read; else the drawing is refused."""

    def raising(*_: object, **__: object) -> None:
        raise DXFStructureError("missing SEQEND")

    data = bare(*(line(a, b) for a, b in pairwise([*SQUARE, SQUARE[0]])))
    if place == "entity":
        monkeypatch.setattr(entities, "curve_of", raising)
        reading = read_dxf(data)
        assert [a.reason for a in reading.set_aside] == [
            "cannot be drawn: its data make no sense (4 of them)"
        ]
    else:
        monkeypatch.setattr(any_dxf, "reading_of", raising)
        with pytest.raises(InputError, match=r"damaged \(missing SEQEND\)"):
            read_dxf(data, name="x.dxf")
