"""Files are written whole or not at all, and sources stay."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from sizewright.errors import UsageError
from sizewright.formats.safely import write_all, write_safely

pytestmark = pytest.mark.release


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_writes_bytes_and_text_and_replaces(tmp_path: Path) -> None:
    out = tmp_path / "out.svg"
    write_safely(out, b"one\r\n")
    assert out.read_bytes() == b"one\r\n"
    write_safely(str(out), "zwei ü\n")
    assert out.read_bytes() == "zwei ü\n".encode()
    assert names(tmp_path) == ["out.svg"]


def test_a_new_file_is_made_as_the_system_makes_files(tmp_path: Path) -> None:
    write_safely(tmp_path / "ours", b"")
    (tmp_path / "theirs").touch()
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "theirs").stat().st_mode


def test_a_replaced_file_keeps_its_mode(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.touch()
    out.chmod(0o640)
    write_safely(out, b"x")
    assert out.stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("spelling", ["same", "dots", "relative", "symlink", "hard", "source-link"])
def test_no_spelling_overwrites_a_source(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, spelling: str
) -> None:
    monkeypatch.chdir(tmp_path)
    source = tmp_path / "in.svg"
    source.write_bytes(b"precious")
    (tmp_path / "sub").mkdir()
    out, given = source, source
    if spelling == "dots":
        out = tmp_path / "sub" / ".." / "in.svg"
    elif spelling == "relative":
        out = Path("in.svg")
    elif spelling == "symlink":
        out = tmp_path / "link.svg"
        out.symlink_to(source)
    elif spelling == "hard":
        out = tmp_path / "hard.svg"
        out.hardlink_to(source)
    elif spelling == "source-link":
        given = tmp_path / "link.svg"
        given.symlink_to(source)
    before = names(tmp_path)
    with pytest.raises(UsageError, match="overwrite the source") as caught:
        write_safely(out, b"new", sources=[tmp_path / "other", given])
    assert caught.value.exit_code == 2
    assert source.read_bytes() == b"precious"
    assert names(tmp_path) == before


def test_the_same_file_in_another_case_is_a_source(tmp_path: Path) -> None:
    source = tmp_path / "In.svg"
    source.write_bytes(b"precious")
    out = tmp_path / "IN.SVG"
    if out.exists():  # the file system does not tell them apart
        with pytest.raises(UsageError, match="overwrite the source"):
            write_safely(out, b"new", sources=[source])
    else:
        write_safely(out, b"new", sources=[source])
    assert source.read_bytes() == b"precious"


def test_a_source_that_is_gone_is_known_by_its_name(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="overwrite the source"):
        write_safely(tmp_path / "in.svg", b"x", sources=[tmp_path / "." / "in.svg"])


def test_a_link_to_another_file_is_written_through(tmp_path: Path) -> None:
    real, link = tmp_path / "real", tmp_path / "link"
    real.write_bytes(b"old")
    link.symlink_to(real)
    write_safely(link, b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"


def test_clear_refusals(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").touch()
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    before = names(tmp_path)
    for out, text in [
        ("no/where/out.svg", "no such folder"),
        ("folder", "in the way"),
        ("file/out.svg", "no such folder|file stands"),
        ("x" * 300, "too long"),
        ("loop", "one another"),
        ("nul\0", "no file name"),
    ]:
        with pytest.raises(UsageError, match=text):
            write_safely(tmp_path / out, b"x")
    with pytest.raises(UsageError, match="no plain file"):
        write_safely(os.devnull, b"x")
    with pytest.raises(UsageError, match="character"):
        write_safely(tmp_path / "out", "\ud800")
    assert names(tmp_path) == before


@pytest.mark.parametrize(
    ("code", "text"),
    [(errno.ENOSPC, "disk is full"), (errno.EACCES, "may not be written"), (errno.EIO, "cannot")],
)
@pytest.mark.parametrize("where", ["open", "fsync", "replace"])
def test_a_fault_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str, code: int, text: str
) -> None:
    out = tmp_path / "out"
    out.write_bytes(b"old")

    def fail(*args: object, **kwargs: object) -> None:
        raise OSError(code, os.strerror(code))

    with monkeypatch.context() as patch:
        patch.setattr(os, where, fail)
        with pytest.raises(UsageError, match=text):
            write_safely(out, b"new")
    assert out.read_bytes() == b"old"
    assert names(tmp_path) == ["out"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_permissions_are_kept(tmp_path: Path) -> None:
    shut = tmp_path / "shut"
    shut.mkdir()
    (shut / "locked").touch(mode=0o444)
    with pytest.raises(UsageError, match="may not be written"):
        write_safely(shut / "locked", b"x")
    shut.chmod(0o555)
    with pytest.raises(UsageError, match="may not be written"):
        write_safely(shut / "out", b"x")
    shut.chmod(0o755)


def test_an_interrupt_leaves_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(handle: int) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", stop)
        with pytest.raises(KeyboardInterrupt):
            write_safely(tmp_path / "out", b"x")
    assert names(tmp_path) == []


def test_several_files_come_together_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    a, b, c = (tmp_path / name for name in "abc")
    a.write_bytes(b"old")
    real = os.replace
    calls = []

    def third_fails(source: object, target: object) -> None:
        calls.append(target)
        if target == c:
            raise OSError(errno.EIO, "no")
        real(source, target)  # type: ignore[call-overload]

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", third_fails)
        with pytest.raises(UsageError):
            write_all({a: b"1", b: b"2", c: b"3"})
    assert c in calls
    assert names(tmp_path) == ["a"]
    assert a.read_bytes() == b"old"

    with pytest.raises(UsageError):
        write_all({a: b"1", b: b"2", tmp_path / "no" / "c": b"3"})
    assert names(tmp_path) == ["a"]
    assert a.read_bytes() == b"old"

    write_all({a: b"1", b: "2", c: b"3"})
    assert [p.read_bytes() for p in (a, b, c)] == [b"1", b"2", b"3"]
    assert names(tmp_path) == ["a", "b", "c"]


def test_two_outputs_must_not_be_one_file(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="one file"):
        write_all({tmp_path / "a": b"1", tmp_path / "." / ".." / tmp_path.name / "a": b"2"})
    (tmp_path / "a").touch()
    (tmp_path / "b").hardlink_to(tmp_path / "a")
    with pytest.raises(UsageError, match="one file"):
        write_all({tmp_path / "a": b"1", tmp_path / "b": b"2"})


@pytest.mark.skipif(os.name == "nt", reason="a process cannot be asked for there")
def test_what_a_killed_run_left_is_cleared_by_the_next(tmp_path: Path) -> None:
    code = (
        "import os, sys; from sizewright.formats import safely; "
        "os.fsync = lambda _: os._exit(9); safely.write_safely(sys.argv[1], 'half')"
    )
    killed = subprocess.run([sys.executable, "-c", code, str(tmp_path / "a.svg")], check=False)
    assert killed.returncode == 9
    (left,) = names(tmp_path)
    assert left.startswith(".sizewright-")
    mine = tmp_path / f".sizewright-{os.getpid()}-{'0' * 16}.part"
    other = tmp_path / ".sizewright-notes.part"
    for kept in (mine, other):
        kept.touch()
    write_safely(tmp_path / "b.svg", "whole")
    assert names(tmp_path) == sorted(["b.svg", mine.name, other.name])


def test_home_is_written_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    write_safely("~/a.svg", "x")
    assert names(tmp_path) == ["a.svg"]
