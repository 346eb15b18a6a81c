"""Names of outputs that a job may choose, and those that it may not."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from sizewright.errors import UsageError
from sizewright.jobs.files import safe
from sizewright.jobs.job_file import read_job
from sizewright.jobs.write_out import plain_output, write_out

pytestmark = pytest.mark.release


@pytest.mark.parametrize(
    ("name", "as_used"),
    [
        ("a.svg", "a.svg"),
        ("out/front.svg", "out/front.svg"),
        ("./a.svg", "a.svg"),
        (".\\sub\\x.svg", "sub/x.svg"),
        ("pages {size}.pdf", "pages {size}.pdf"),
        ("Ärmel (½).svg", "Ärmel (½).svg"),
        ("console.svg", "console.svg"),
    ],
)
def test_plain_names_are_taken(name: str, as_used: str) -> None:
    assert plain_output(name) == as_used


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("../a.svg", "leaves"),
        ("..\\a.svg", "leaves"),
        ("/etc/a.svg", "leaves"),
        ("\\\\server\\a.svg", "leaves"),
        ("C:\\a.svg", "leaves"),
        ("a.svg:stream", "leaves"),
        ("~/a.svg", "leaves"),
        ("", "leaves"),
        (".bashrc", "hidden"),
        (".ssh/authorized_keys", "hidden"),
        ("out/.git/config", "hidden"),
        ("a\x1b[2J.svg", "characters"),
        ("a\n.svg", "characters"),
        ("a\u202egvs.exe", "characters"),
        ("a*.svg", "characters"),
        ("CON", "device"),
        ("nul.svg", "device"),
        ("out/Lpt1.tar.svg", "device"),
        ("com¹.svg", "device"),
        ("aux/a.svg", "device"),
        ("a.svg.", "ends in a blank or a dot"),
        ("out /a.svg", "ends in a blank or a dot"),
    ],
)
def test_others_are_refused_by_jobs_and_when_written(name: str, why: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=why) as caught:
        plain_output(name)
    assert str(caught.value).isprintable()
    with pytest.raises(UsageError, match=why):
        write_out(tmp_path / "out", {name: b"x"})
    assert not any(tmp_path.rglob("*"))
    spelt = "".join(f"\\U{ord(c):08X}" for c in name)
    job = tmp_path / "job.toml"
    job.write_text(f'source = "job.toml"\n[[outputs]]\nfile = "{spelt}"\n')
    with pytest.raises(UsageError, match=rf"job.toml, line 3: .*{why}"):
        read_job(job)


def test_sizes_and_pieces_in_names_never_make_such_a_name() -> None:
    for text in ("../x", ".ssh", "CON", "nul.x", "a\x1b", "\u202e", "..", "a.", "C:\\x", "~"):
        assert plain_output(f"{safe(text)}.svg")
        assert plain_output(f"{safe(text)}/a.svg")


def test_sources_may_be_written_with_either_bar(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "x.svg").write_text("<svg/>")
    job = tmp_path / "job.toml"
    job.write_text("source = '.\\sub\\x.svg'")
    assert read_job(job).source.samefile(tmp_path / "sub" / "x.svg")


def test_two_runs_at_once_into_one_folder_leave_whole_files(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom pathlib import Path\nfrom sizewright.jobs.write_out import write_out\n"
        "for _ in range(60):\n"
        "    write_out(Path(sys.argv[1]), {n: sys.argv[2].encode() * 200_000 for n in 'abc'})\n"
    )
    runs = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path), who]) for who in "xy"]
    assert [run.wait(120) for run in runs] == [0, 0]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a", "b", "c"]
    for file in tmp_path.iterdir():
        assert file.read_bytes() in (b"x" * 200_000, b"y" * 200_000)
