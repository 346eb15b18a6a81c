"""The public door of the formats: every reader takes a name, a path or bytes; claims are cheap."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import sizewright.formats as formats
from sizewright.errors import InputError
from sizewright.formats import (
    claims_dxf,
    claims_svg,
    read_dxf,
    read_interchange,
    read_rule_file,
    read_svg,
    write_dxf,
    write_interchange,
)
from sizewright.model import Pattern
from tests.shapes import bodice

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
SVG = FIXTURES / "features.svg"


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> dict[Callable[..., Any], Path]:
    """A file for each reader."""
    folder = tmp_path_factory.mktemp("drawn")
    pattern = Pattern((bodice(),))
    (folder / "curves.dxf").write_bytes(write_dxf(pattern).data)
    (folder / "open.dxf").write_bytes(write_interchange(pattern).dxf)
    rules = next((FIXTURES / "interchange").glob("*.rul"))
    return {
        read_svg: SVG,
        read_dxf: folder / "curves.dxf",
        read_interchange: folder / "open.dxf",
        read_rule_file: rules,
    }


@pytest.mark.parametrize("read", [read_svg, read_dxf, read_interchange, read_rule_file])
def test_a_reader_takes_a_name_a_path_or_bytes(
    read: Callable[..., Any], drawn: dict[Callable[..., Any], Path], tmp_path: Path
) -> None:
    path = drawn[read]
    assert read(str(path)) == read(path) == read(path.read_bytes())
    for missing in (tmp_path / "none.svg", str(tmp_path / "none.svg")):
        with pytest.raises(InputError, match="there is no such file"):
            read(missing)
    with pytest.raises(InputError, match="a folder"):
        read(str(tmp_path))


def test_dxf_of_either_kind_is_read_by_one_name(drawn: dict[Callable[..., Any], Path]) -> None:
    piece = read_dxf(drawn[read_dxf]).pattern.pieces[0]
    assert piece.run("waist").name == "waist"
    assert read_dxf(drawn[read_interchange]) == read_interchange(drawn[read_interchange])


def test_every_name_of_the_door_is_there() -> None:
    for name in formats.__all__:
        assert getattr(formats, name) is not None
    assert not hasattr(formats, "read_everything")


@pytest.mark.parametrize(
    ("head", "svg"),
    [
        (b"<svg/>", True),
        (b'\xef\xbb\xbf \n<?xml version="1.0"?><!-- <a> --><svg xmlns="x">', True),
        (b'<!DOCTYPE svg PUBLIC "-//W3C" "x.dtd" [<!ENTITY a "<b>">]><s:svg >', True),
        ("<svg>".encode("utf-16"), True),
        (b"<", True),
        (b"<!-- so long a comment", True),
        (b'<!DOCTYPE svg [<!ENTITY a "', True),
        (b"<html>", False),
        (b"<!DOCTYPE html><html lang='en'>", False),
        (b'<?xml version="1.0"?><cloth width="3"/>', False),
        (b"svg", False),
        (b"", False),
    ],
)
def test_what_is_svg_is_told_from_the_root(head: bytes, svg: bool) -> None:
    assert claims_svg(head) is svg
    assert not claims_dxf(head)


def test_claims_import_nothing_that_is_heavy() -> None:
    code = (
        "import sys\nfrom sizewright.formats import claims_dxf, claims_svg\n"
        "claims_dxf(b'x'), claims_svg(b'<svg>')\nprint(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "ezdxf", "svgelements"} & set(done.stdout.split())
