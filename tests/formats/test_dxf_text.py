"""The text of a DXF file against ezdxf: its tags, its letters, and what its texts show."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

import ezdxf
import pytest
from ezdxf.layouts import Modelspace
from ezdxf.lldxf.encoding import encode
from ezdxf.tools.text import fast_plain_mtext, plain_text
from hypothesis import given, settings
from hypothesis import strategies as st

from sizewright.formats.dxf.r2000 import letters
from sizewright.formats.dxf.texts import words_in_line, words_in_lines
from sizewright.formats.dxf.writer import write_dxf
from sizewright.geometry.path import Path
from sizewright.model import Label, Outline, Pattern, Piece
from sizewright.shipped import shipped
from sizewright.units import Unit
from tests.formats.dxf_made import document, opened
from tests.formats.full_pattern import full_pattern
from tests.strategies import patterns

#: The version whose empty drawing ours is; others may fill in more.
MADE_BY = "1.4.5"
SQUARE = Outline.of(Path.polyline([(0, 0), (90, 0), (90, 90), (0, 90)], closed=True))
SIGNS = r'a\P{b} %%d 50% ^J "x" =+ \U-00E4 é'
_CODES = ("%%c", "%%D", "%%u", "%%%", "%%x", "^J", "\\P", "\\N", "\\L", "\\\\", "\\{", "\\}", "\\S")
_SIGNS = (*'ab\\{}%^\n;J"\x81€\x9f é京\U0001f9f5', *_CODES)
ODD = st.lists(st.sampled_from(_SIGNS), max_size=40).map("".join)


def _curve(space: Modelspace, spline: Any) -> Any:
    made = space.add_spline(degree=3)
    made.control_points, made.knots = spline.control_points, spline.knots
    made.dxf.flags = spline.dxf.flags
    return made


ADDED: dict[str, Callable[[Modelspace, Any], Any]] = {
    "POINT": lambda space, e: space.add_point(e.dxf.location),
    "LINE": lambda space, e: space.add_line(e.dxf.start, e.dxf.end),
    "CIRCLE": lambda space, e: space.add_circle(e.dxf.center, e.dxf.radius),
    "LWPOLYLINE": lambda space, e: space.add_lwpolyline(e.get_points("xy"), close=e.closed),
    "SPLINE": _curve,
    "TEXT": lambda space, e: space.add_text(e.dxf.text, height=e.dxf.height),
    "MTEXT": lambda space, e: space.add_mtext(
        e.text, dxfattribs={"char_height": e.dxf.char_height}
    ),
}


def by_ezdxf(data: bytes) -> bytes:
    """The drawing that ezdxf reads, made anew by ezdxf alone."""
    read = opened(data)
    doc = ezdxf.new("R2000")
    for name in ("$INSUNITS", "$MEASUREMENT"):
        doc.header[name] = read.header[name]
    for layer in read.layers:
        if layer.dxf.name not in doc.layers:
            doc.layers.add(layer.dxf.name, color=layer.color)
    doc.appids.add("SIZEWRIGHT")
    space, made = doc.modelspace(), {}
    for entity in read.modelspace():
        again = made[entity.dxf.handle] = ADDED[entity.dxftype()](space, entity)
        again.dxf.layer = entity.dxf.layer
        if entity.dxftype() in ("TEXT", "MTEXT"):
            again.dxf.insert, again.dxf.rotation = entity.dxf.insert, entity.dxf.rotation
        if entity.has_xdata("SIZEWRIGHT"):
            again.set_xdata("SIZEWRIGHT", entity.get_xdata("SIZEWRIGHT"))
    for name, group in read.groups:
        handles = sorted(group.handles(), key=lambda handle: int(handle, 16))
        doc.groups.new(name).extend(made[handle] for handle in handles)
    box = read.modelspace().dxf
    space.reset_extents(box.extmin, box.extmax)
    per_mm = b"0.0393701" if doc.header["$MEASUREMENT"] else b"0.039370079"
    return document(doc).replace(b"\n0.03937007874\n", b"\n" + per_mm + b"\n")


def _odd() -> Pattern:
    """Names and labels with signs that mean something, and long ones."""
    words = (SIGNS, f"{SIGNS}\n  two", "x" * 249 + "^\n" + "\n" * 300, "京\n\x81 €", "a\rb^", "")
    labels = tuple(Label(w, (10.0, -0.0 - 7 * k), 5.0 - k, -30.0) for k, w in enumerate(words))
    first = Piece("bord 京 <a> | %%c", SQUARE, size="38/40 é", labels=labels, story=("s" * 700,))
    return Pattern((first, Piece("BORD 京 <a> | %%c", SQUARE, size="38/40 é")), "Odd\nones")


@pytest.fixture
def fixed_marks(monkeypatch: pytest.MonkeyPatch) -> None:
    """ezdxf writes no dates, versions or random numbers."""
    monkeypatch.setattr(ezdxf.options, "write_fixed_meta_data_for_testing", True)


@pytest.mark.usefixtures("fixed_marks")
@pytest.mark.parametrize("unit", [Unit.MM, Unit.IN])
@pytest.mark.parametrize(
    "pattern", [Pattern(()), full_pattern(), _odd()], ids=["no", "full", "odd"]
)
def test_every_byte_is_as_ezdxf_writes_it(pattern: Pattern, unit: Unit) -> None:
    ours = write_dxf(pattern, "curves", unit).data
    theirs = by_ezdxf(ours)
    if ezdxf.__version__ != MADE_BY:
        ours, theirs = (data.partition(b"\nENTITIES\n")[2] for data in (ours, theirs))
        ours, theirs = (data.partition(b"\nENDSEC\n")[0] for data in (ours, theirs))
    assert ours.splitlines() == theirs.splitlines()


@settings(max_examples=settings.default.max_examples // 4)
@given(pattern=patterns(), words=st.lists(ODD, max_size=3))
def test_ezdxf_finds_nothing_to_mend(pattern: Pattern, words: list[str]) -> None:
    labels = tuple(Label(text, (10.0, 10.0)) for text in words)
    pieces = [replace(piece, labels=labels) for piece in pattern.pieces]
    auditor = opened(write_dxf(pattern.with_pieces(pieces)).data).audit()
    assert (auditor.errors, auditor.fixes) == ([], [])


@given(st.text(st.characters(exclude_categories=("Cs",))) | ODD)
def test_letters_are_put_as_ezdxf_puts_them(text: str) -> None:
    assert letters(text).encode("cp1252") == encode(text, "cp1252")


@given(ODD)
def test_words_are_those_that_ezdxf_finds(text: str) -> None:
    assert words_in_line(text) == plain_text(text)
    # Of a stack that is not ended ezdxf gives the letters twice.
    ended = text.replace("\\S", "")
    assert words_in_lines(ended) == fast_plain_mtext(ended)


@pytest.mark.parametrize("text", [r"\SA^ B; c", r"1\S1/2;%%d", r"{\H2x;\S1#4;}\P~", r"\S;", r"%%"])
def test_stacks_are_those_that_ezdxf_finds(text: str) -> None:
    assert words_in_lines(text) == fast_plain_mtext(text)


def test_a_code_that_is_none_stays_as_it_is() -> None:
    assert words_in_line(r"a\U+zz \U+12 \U+00e9") == r"a\U+zz \U+12 é"
    assert words_in_lines(r"\Sone") == r"\Sone"


@pytest.mark.parametrize("profile", ["curves", "cutter", "interchange"])
def test_ezdxf_is_not_imported_to_write(profile: str, tmp_path: FilePath) -> None:
    """It takes longer than all the rest of such a command."""
    code = "import sys; from sizewright.cli.main import main\ntry: main()\n"
    code += "finally: sys.stderr.write(' '.join(m for m in sys.modules if m.startswith('ezdxf')))"
    source = str(shipped("examples/patch-pocket.svg"))
    args = ["convert", source, str(tmp_path / "a.dxf"), "--profile", profile]
    done = subprocess.run([sys.executable, "-c", code, *args], capture_output=True, check=True)
    assert done.stderr == b""
    opened((tmp_path / "a.dxf").read_bytes().replace(b"\r\n", b"\n"))
