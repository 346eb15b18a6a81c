"""Opening and saving patterns: the right format, and plain refusals."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from sizewright.errors import InputError, UsageError
from sizewright.formats import source as sources
from sizewright.formats.source import read_bytes
from sizewright.jobs.files import open_pattern, save_pattern
from sizewright.units import Unit
from tests.pictures.patterns import garment

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"


def refused(path: str | os.PathLike[str]) -> str:
    with pytest.raises(InputError) as caught:
        open_pattern(path)
    assert caught.value.exit_code == 2
    message = str(caught.value)
    assert message.startswith(os.fspath(path))
    assert "\n" not in message
    return message


def test_a_missing_file_and_one_of_nearly_that_name(tmp_path: Path) -> None:
    (tmp_path / "skirt.svg").write_text("<svg/>")
    assert "no such file" in refused(tmp_path / "coat.svg")
    assert 'Did you mean "skirt.svg"?' in refused(tmp_path / "skrit.svg")
    assert "no such file" in refused(tmp_path / "none" / "skirt.svg")
    assert "cannot be read" in refused(tmp_path / "skirt.svg" / "more")


def test_folders_devices_and_odd_names(tmp_path: Path) -> None:
    assert "a folder" in refused(tmp_path)
    assert "not an ordinary file" in refused("/dev/zero")
    assert "cannot be read" in refused("a\0b.svg")
    assert "cannot be read" in refused("x" * 5000)


def test_empty_and_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.svg"
    path.write_bytes(b"")
    assert "empty" in refused(path)
    monkeypatch.setattr(sources, "LARGEST", 2**20)
    path.write_bytes(b"<" * (2**20 + 1))
    assert "larger than 1 MB" in refused(path)


def test_a_file_that_may_not_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    def forbid(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", forbid)
    with pytest.raises(InputError, match="may not be read"):
        read_bytes(FIXTURES / "simple.svg")


@pytest.mark.parametrize(
    ("data", "hint"),
    [
        (b"\x1f\x8b\x08", "a compressed file"),
        (b"PK\x03\x04", "a ZIP archive"),
        (b"AC1032\0\0", "a DWG drawing"),
        (b"name,price\n", ""),
        (b"\0\1\2\3" * 100, ""),
    ],
)
def test_other_kinds_of_file(tmp_path: Path, data: bytes, hint: str) -> None:
    path = tmp_path / "pattern.svg"
    path.write_bytes(data)
    message = refused(path)
    assert "not a format that sizewright reads" in message
    assert (f"looks like {hint}" in message) if hint else "looks like" not in message
    assert "It reads dxf, pdf, photo, svg" in message


def test_content_decides_and_not_the_ending(tmp_path: Path) -> None:
    path = tmp_path / "pattern.txt"
    path.write_bytes((FIXTURES / "simple.svg").read_bytes())
    (piece,) = open_pattern(path).pattern.pieces
    assert piece.name == "pocket-bag"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_marked_encodings_are_known(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "pattern.svg"
    path.write_bytes((FIXTURES / "simple.svg").read_text("utf-8").encode(encoding))
    assert len(open_pattern(path).pattern.pieces) == 1


def test_units_are_handed_on() -> None:
    plain = open_pattern(FIXTURES / "units-absent.svg").pattern.pieces[0]
    inches = open_pattern(FIXTURES / "units-absent.svg", units=Unit.IN).pattern.pieces[0]
    assert inches.area == pytest.approx(plain.area * 96**2)


def test_saving_and_opening(tmp_path: Path) -> None:
    out = tmp_path / "out.SVG"
    out.write_text("old")
    save_pattern(garment(), out)
    again = open_pattern(out).pattern
    assert again.names == garment().names
    for a, b in zip(again.pieces, garment().pieces, strict=True):
        assert a.area == pytest.approx(b.area, rel=1e-9)


@pytest.mark.parametrize("name", ["out.xls", "out"])
def test_no_format_has_that_ending(tmp_path: Path, name: str) -> None:
    with pytest.raises(UsageError, match=r"Use one of .*\.svg"):
        save_pattern(garment(), tmp_path / name)
    assert not (tmp_path / name).exists()


def test_a_source_is_never_overwritten(tmp_path: Path) -> None:
    source = tmp_path / "a.svg"
    source.write_text("mine")
    for name in (source, tmp_path / "." / "a.svg"):
        with pytest.raises(UsageError, match="overwrite the source"):
            save_pattern(garment(), name, sources=[source])
    assert source.read_text() == "mine"
