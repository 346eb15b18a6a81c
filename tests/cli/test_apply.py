"""`sizewright apply`: one operation on a file, as a job of one step would do it."""

from __future__ import annotations

from pathlib import Path

import pytest

from sizewright.jobs.files import open_pattern
from tests.cli.runs import FIXTURES, run

DRAWING = FIXTURES / "two-sizes-attributes.svg"


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    path = tmp_path / "cloth.svg"
    path.write_text(
        """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm"
 viewBox="0 0 200 200"><g data-piece="towel" data-outline="sew">
 <path data-role="outline" d="M10 10H190V110H10Z"/>
 <circle data-edge="top" cx="100" cy="10" r="1"/>
 <circle data-edge="hem" cx="100" cy="110" r="1"/></g></svg>"""
    )
    return path


def test_it_gives_what_a_job_of_one_step_gives(
    drawing: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, out = drawing.with_name("job.toml"), drawing.with_name("out.svg")
    job.write_text(
        'source = "cloth.svg"\n[[steps]]\ndo = "seam-allowance"\nwidth = "1.5 cm"\n'
        'widths = { hem = "4 cm", "towel:top" = "5/8 in" }\n[[outputs]]\nfile = "made.svg"\n'
    )
    assert run(capsys, "run", job).code == 0
    ran = run(
        *(capsys, "apply", "seam-allowance", drawing, out),
        *("width=1.5 cm", "widths.hem=4cm", "widths.towel:top=5/8 in"),
    )
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.splitlines()[0] == str(out)
    made = open_pattern(drawing.with_name("made.svg")).pattern.pieces
    (piece,) = open_pattern(out).pattern.pieces
    assert piece == made[0]
    x0, y0, x1, y1 = piece.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((180 + 30, 100 + 40 + 15.875))


def test_lists_counts_and_choices(drawing: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = drawing.with_name("out.svg")
    places = ("at=middle of top", "at=towel: 1/4 along hem")
    ran = run(capsys, "apply", "notches", drawing, out, *places, "count=2", "kind=v", "seams=no")
    assert ran.code == 0, ran.err
    notches = open_pattern(out).pattern.pieces[0].notches
    assert [(n.count, n.kind) for n in notches] == [(2, "v"), (2, "v")]


def test_one_size_or_a_file_for_each(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sizes = open_pattern(DRAWING).pattern.sizes
    assert len(sizes) > 1
    one = tmp_path / "one.svg"
    options = ("--size", sizes[1], "width=1 cm")
    assert run(capsys, "apply", "seam-allowance", DRAWING, one, *options).code == 0
    assert open_pattern(one).pattern.sizes == (sizes[1],)
    each = tmp_path / "each-{size}.svg"
    ran = run(capsys, "apply", "seam-allowance", DRAWING, each, "width=1 cm")
    assert ran.code == 0
    for size in sizes:
        assert open_pattern(tmp_path / f"each-{size}.svg").pattern.sizes == (size,)
    assert run(capsys, "apply", "notches", DRAWING, one, "--size", "99").code == 2


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("no-such-thing", "{}", "out.svg"), "There are: "),
        (("seam-allowance", "{}", "out.svg", "width=15"), "does not say its unit"),
        (("seam-allowance", "{}", "out.svg", "widths=15 mm"), "widths.NAME=15 mm"),
        (("notches", "{}", "out.svg", "count=few"), '"count" of "notches"'),
        (("notches", "{}", "out.svg", "at=middle of brim"), "brim"),
        (("notches", "{}", "out.svg", "at"), "SETTING=VALUE"),
        (("notches", "{}", "out.xls"), '".xls"'),
        (("notches", "{}", "{}"), "overwrite the source"),
        (("notches", "nowhere.svg", "out.svg"), "no such file"),
        (("notches", "{}", "out.svg", "--set", "kerf=1 mm"), 'svg" has no setting "kerf"'),
    ],
)
def test_refusals_write_nothing(
    drawing: Path, capsys: pytest.CaptureFixture[str], args: tuple[str, ...], words: str
) -> None:
    before = drawing.read_bytes()
    given = [a.format(drawing) for a in args]
    if given[2].startswith("out"):
        given[2] = str(drawing.with_name(given[2]))
    ran = run(capsys, "apply", *given)
    assert (ran.code, ran.out) == (2, "")
    assert words in ran.err
    assert ran.err.count("\n") == 1
    assert drawing.read_bytes() == before
    assert [p.name for p in drawing.parent.iterdir()] == [drawing.name]
