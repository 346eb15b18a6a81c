"""Jobs that lay their pieces on cloth: tables, outputs, the kept lay."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from sizewright.cli.main import main
from sizewright.errors import SizewrightError
from sizewright.jobs.job_file import read_job
from sizewright.shipped import shipped

HEAD = 'source = "drawing.svg"\n'
BOLT = '[[cloths]]\nname = "bolt"\nwidth = "60 cm"\n'
LAY = '[[outputs]]\nfile = "lay-{cloth}.svg"\nwrite = "lay"\nseconds = 1\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the drawing of a pocket."""
    data = shipped("examples/patch-pocket.svg").read_bytes()
    (tmp_path / "drawing.svg").write_bytes(data)
    return tmp_path


def run(folder: Path, text: str, *options: str) -> int:
    """Run a job in the folder; its exit code."""
    (folder / "job.toml").write_text(text)
    return main(["run", str(folder / "job.toml"), *options])


def files(folder: Path) -> dict[str, bytes]:
    """What the job made."""
    return {
        p.name: p.read_bytes()
        for p in folder.iterdir()
        if p.name not in ("job.toml", "drawing.svg")
    }


@cache
def kept_lay() -> str:
    """What the job of the bolt keeps of its lay."""
    with TemporaryDirectory() as name:
        place = Path(name, "drawing.svg")
        place.write_bytes(shipped("examples/patch-pocket.svg").read_bytes())
        assert run(place.parent, HEAD + BOLT + LAY) == 0
        return Path(name, "lay-bolt.csv").read_text()


def test_a_lay_is_kept_and_used_again(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = HEAD + BOLT + LAY + LAY.replace(".svg", ".pdf") + LAY.replace(".svg", ".dxf")
    assert run(folder, job) == 0
    assert "note: bolt: 60 cm wide" in capsys.readouterr().out
    made = files(folder)
    assert set(made) == {"lay-bolt.svg", "lay-bolt.pdf", "lay-bolt.dxf", "lay-bolt.csv"}
    assert b"piece,size,copy,side,panel,x,y,turn" in made["lay-bolt.csv"]
    assert run(folder, job) == 0
    assert files(folder) == made


def test_a_lay_may_be_edited(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept = folder / "lay-bolt.csv"
    rows = kept_lay().splitlines()
    rows[-1] = "pocket,,2,turned over,,123.5,7.25,0"
    rows[-2] = "pocket,,1,as drawn,,123.5,307.25,180"
    # As a spreadsheet of another country saves it.
    table = [r if r.startswith("#") else r.replace(",", ";").replace(".", ",") for r in rows]
    edited = "\n".join([*table, ""])
    kept.write_text(edited)
    assert run(folder, HEAD + BOLT + LAY) == 0
    assert kept.read_text() == edited
    capsys.readouterr()
    # One that hangs over is told, put aside and looked for anew.
    kept.write_text(edited.replace(";7,25", ";-7,25"))
    assert run(folder, HEAD + BOLT + LAY) == 0
    assert "hangs over" in capsys.readouterr().out
    assert "-7,25" in (folder / "lay-bolt-before.csv").read_text()
    assert "-7,25" not in kept.read_text()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (",1,as drawn", ",one,as drawn", '"one" is no number'),
        ("piece,size", "peace,size", "not the table of a lay"),
    ],
)
def test_a_spoilt_kept_lay_stops_the_job(
    folder: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, words: str
) -> None:
    kept = folder / "lay-bolt.csv"
    kept.write_text(kept_lay().replace(old, new))
    before = files(folder)
    assert run(folder, HEAD + BOLT + LAY) == 2
    assert words in capsys.readouterr().err
    assert files(folder) == before


def test_what_does_not_go_on_is_a_failure(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(folder, HEAD + BOLT.replace("60 cm", "3 cm") + LAY) == 1
    out = capsys.readouterr().out
    assert "not found" in out
    assert "wider than the cloth" in out


def test_no_cloth_and_two_cloths_are_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lining = BOLT.replace('"bolt"', '"lining"\nmaterial = "lining"')
    assert run(folder, HEAD + lining + LAY) == 0
    assert "there is no cloth of main" in capsys.readouterr().out
    two = BOLT + BOLT.replace("bolt", "rest")
    assert run(folder, HEAD + two + LAY) == 0
    assert "laid on the first" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (BOLT.replace("60 cm", "0 cm"), '"width" cannot be 0 cm'),
        (BOLT.replace("60 cm", "60"), "does not say its unit"),
        (BOLT + BOLT, "two cloths are named"),
        (BOLT + 'panels = "drawing.svg"\n', "either a length of cloth or panels"),
        ('[[cloths]]\nname = "bolt"\n', "either a length of cloth or panels"),
        (BOLT + 'nap = "up"\n', "one of one-way, two-way, none"),
        (BOLT + 'selvedge = "30 cm"\n', "leave no cloth"),
        (BOLT.replace('"bolt"', '"a/b"'), "needs a name"),
        (BOLT + "widht = 1\n", 'Did you mean "width"'),
        ('[[fill]]\nset = "x.by"\nfrom = "1 cm"\nto = "2 cm"\n', "needs the cloth"),
        (BOLT + '[[fill]]\nset = "x"\nfrom = "1 cm"\nto = "2 cm"\n', "names no setting"),
    ],
)
def test_wrong_tables_are_told(folder: Path, table: str, words: str) -> None:
    (folder / "job.toml").write_text(HEAD + table)
    with pytest.raises(SizewrightError) as told:
        read_job(folder / "job.toml")
    assert words in str(told.value)
    assert "job.toml, line" in str(told.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (LAY, "{cloth}"),
        (LAY.replace("-{cloth}", ""), 'needs the setting "cloths"'),
        (BOLT + BOLT.replace("bolt", "b") + LAY.replace("-{cloth}", ""), "one file for 2 cloths"),
        (BOLT + LAY.replace('write = "lay"\nseconds = 1\n', ""), "is to name a cloth"),
        (BOLT + LAY + "ending = 1\n", "not set by hand"),
    ],
)
def test_wrong_outputs_are_told_before_the_work(
    folder: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    assert run(folder, HEAD + text) == 2
    assert words in capsys.readouterr().err
    assert files(folder) == {}


PANELS = """<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm"
viewBox="0 0 600 600"><g data-piece="leg"><path data-role="outline" d="M 0 0 H 400 V 500 H 0 Z"/>
<line data-role="grain" x1="20" y1="400" x2="20" y2="100"/>
<rect data-role="flaw" x="150" y="100" width="60" height="60"/>
<circle data-role="cutout" cx="300" cy="400" r="30"/></g></svg>"""


def test_panels_are_read_with_their_flaws_and_holes(folder: Path) -> None:
    (folder / "panels.svg").write_text(PANELS)
    job = HEAD + '[[cloths]]\nname = "legs"\npanels = "panels.svg"\n' + LAY
    assert run(folder, job) == 0
    made = files(folder)
    assert b"leg" in made["lay-legs.csv"]
    assert b"worn or stained" in made["lay-legs.svg"]
    assert run(folder, job) == 0
    assert files(folder) == made
    # A panel drawing is a source: nothing writes over it.
    assert run(folder, job.replace("lay-{cloth}.svg", "panels.svg")) == 2


FILL = """[[cloths]]
name = "bolt"
width = "30 cm"
length = "24 cm"
[[steps]]
do = "seam-allowance"
name = "edges"
width = "5 mm"
[[fill]]
set = "edges.width"
from = "2 mm"
to = "80 mm"
cloth = "bolt"
"""


def test_the_widest_allowance_that_the_cloth_allows(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # The pocket is 140 by 160 mm, cut twice: side by side across 300 mm with a gap of 4 mm there
    # are 8 mm for four allowances; nested head to tail they have more.
    assert run(folder, HEAD + FILL + LAY) == 0
    out = capsys.readouterr().out
    assert "note: edges.width = " in out
    assert "first that finds no place" in out
    found = float(out.split("edges.width = ")[1].split(" mm")[0])
    assert 2 <= found < 40
    made = files(folder)
    assert f"# set edges.width = {found:g} mm".encode() in made["lay-bolt.csv"]
    assert run(folder, HEAD + FILL + LAY) == 0
    assert files(folder) == made


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("edges.width", "hem.width", 'no step is named "hem"'),
        ("edges.width", "edges.widht", 'has no setting "widht"'),
        ("edges.width", "edges.corners", "cannot be filled"),
        ('to = "80 mm"', 'to = "1 mm"', "from a smaller value to a larger"),
        ('length = "24 cm"\n', "", "as long as it must be"),
        ('from = "2 mm"', 'from = "x"', "'x' is not a length"),
    ],
)
def test_a_fill_that_cannot_be_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, words: str
) -> None:
    assert run(folder, HEAD + FILL.replace(old, new) + LAY) == 2
    err = capsys.readouterr().err
    assert words in err
    assert "job.toml, line" in err
    assert files(folder) == {}


def test_a_fill_that_finds_nothing_says_so(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder, HEAD + FILL.replace("24 cm", "12 cm") + LAY) == 1
    assert "not even 2 mm" in capsys.readouterr().out


def test_flaws_may_be_named_with_dots() -> None:
    from sizewright.formats import read_svg
    from sizewright.jobs.job_lays import panel_of

    svg = """<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm"
    viewBox="0 0 600 600"><path id="leg" d="M 0 0 H 400 V 500 H 0 Z"/>
    <path id="leg.grain" d="M 100 400 H 300"/>
    <path id="leg.flaw" d="M 150 100 h 60 v 60 h -60 Z"/>
    <path id="leg.flaw.2" d="M 10 10 h 30 v 30 h -30 Z"/></svg>"""
    (piece,) = read_svg(svg.encode(), name="legs").pattern.pieces
    panel = panel_of(piece)
    assert [round(abs(path.area)) for path in panel.flaws] == [3600, 900]
    assert panel.angle == 0.0
    assert panel.sound.area == pytest.approx(400 * 500 - 3600 - 900)
