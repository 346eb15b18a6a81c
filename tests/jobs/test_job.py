"""Jobs: read and checked before anything runs, carried out in order, written all or none."""

from __future__ import annotations

from pathlib import Path

import pytest

from sizewright.errors import InputError, LookupFailed, SizewrightError, UsageError
from sizewright.findings import told
from sizewright.jobs import run_job
from sizewright.jobs.commands import check_file, run_job_file
from sizewright.jobs.files import open_pattern
from sizewright.jobs.job_file import read_job
from sizewright.shipped import shipped
from tests.operations import plugins

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="200mm"
 viewBox="0 0 400 200"><path id="front" d="M10 10H110V150H10Z"/>
 <path id="back" d="M200 10H{right}V150H200Z"/></svg>"""
GUARD = 'corners = 4\nperimeter = "48 cm"'
RULES = """# Invented for this test
rule,axis,unit,10,12,14
wide,width,mm,,4,4
"""


class Bench:
    """A folder with a drawing, a table and a job to be written."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "cloth.svg").write_text(DRAWING.format(right=300))
        (folder / "rules.csv").write_text(RULES)

    def job(self, text: str) -> Path:
        path = self.folder / "job.toml"
        path.write_text('source = "cloth.svg"\n' + text)
        return path

    def run(self, text: str) -> dict[str, str]:
        """Run a job; its outputs as text by name."""
        run_job_file(self.job(text), into=self.folder / "out")
        made = self.folder / "out"
        return {
            p.relative_to(made).as_posix(): p.read_text() for p in made.rglob("*") if p.is_file()
        }

    def error(self, text: str, kind: type[SizewrightError] = UsageError) -> str:
        """The message that a wrong job ends in; nothing may have been written."""
        with pytest.raises(kind) as caught:
            run_job_file(self.job(text), into=self.folder / "out")
        assert not (self.folder / "out").exists()
        assert caught.value.exit_code == 2
        return str(caught.value)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


DESCRIBED = f"""base = "12"
title = "Two squares"
seams = ["side: front:side = back:side, notch 5 cm"]
[pieces.front]
{GUARD}
outline = "sew"
quantity = "main 1, lining 1"
fold = "#4"
points = {{ hem-side = "#2", low = "4 cm up side from hem-side", under = "#3" }}
edges = {{ hem = 1, side = "#2" }}
rules = {{ hem-side = "wide", under = "wide" }}
[pieces.back]
{GUARD}
outline = "sew"
fold = 2
points = {{ hem-side = "#1", under = "#4" }}
edges = {{ side = "#4" }}
rules = {{ hem-side = "wide", under = "wide" }}
"""


def test_a_bare_drawing_is_described_by_its_job(bench: Bench) -> None:
    made = bench.run(DESCRIBED + '[[outputs]]\nfile = "all.svg"\n')
    assert list(made) == ["all.svg"]
    pattern = open_pattern(bench.folder / "out" / "all.svg").pattern
    assert pattern.base_size == "12"
    assert pattern.title == "Two squares"
    front = pattern.piece("front")
    assert front.kind == "sew"
    assert [(q.material, q.count) for q in front.quantity] == [("main", 1), ("lining", 1)]
    low = front.outline.vertex_at(front.outline.vertex("low"))
    assert low == pytest.approx([110, 90])
    assert front.fold is not None
    assert front.outline.point(front.outline.vertex("under")).rule == "wide"
    assert [s.name for s in pattern.seams] == ["side"]


def test_a_body_and_a_blend_by_job(bench: Bench) -> None:
    job = f"""{DESCRIBED}[grade]
rules = "rules.csv"
chart = "chart.csv"
label = "Ada"
measure = {{ waist = "92 cm" }}
at = {{ "#" = 12 }}
[[outputs]]
file = "{{size}}.svg"
"""
    (bench.folder / "chart.csv").write_text("measure,unit,10,12,14\nwaist,cm,84,88,92\n")
    made = bench.run(job.replace('at = { "#" = 12 }\n', ""))
    assert list(made) == ["Ada.svg"]
    pattern = open_pattern(bench.folder / "out" / "Ada.svg").pattern
    x0, _, x1, _ = pattern.piece("front").outline.path.bounds
    # The chart has 92 cm in size 14, in which the square is 104 mm wide.
    assert x1 - x0 == pytest.approx(104.0, abs=1e-6)
    mixed = job.replace('measure = { waist = "92 cm" }', 'to = "12"').replace('"#"', "under")
    made = bench.run(mixed.replace("= 12 }", '= "14" }'))
    pattern = open_pattern(bench.folder / "out" / "Ada.svg").pattern
    front = pattern.piece("front").outline
    wide = [float(front.vertex_at(front.vertex(name))[0]) for name in ("hem-side", "under")]
    assert wide[1] - wide[0] == pytest.approx(4.0, abs=1e-6)


def test_graded_allowed_notched_and_written_by_size(bench: Bench) -> None:
    made = bench.run(
        DESCRIBED
        + """[grade]
to = ["10", 12, "14"]
rules = "rules.csv"
[[steps]]
do = "seam-allowance"
width = "1 cm"
widths = { "front:hem" = "3 cm" }
[[steps]]
do = "notches"
[[checks]]
check = "seams"
[[outputs]]
file = "sizes/{size}.svg"
[[outputs]]
file = "only/{piece}-{size}.svg"
sizes = ["14"]
[[outputs]]
file = "list.txt"
"""
    )
    assert set(made) == {
        "sizes/10.svg",
        "sizes/12.svg",
        "sizes/14.svg",
        "only/front-14.svg",
        "only/back-14.svg",
        "list.txt",
    }
    for size, wide in (("10", 96.0), ("12", 100.0), ("14", 104.0)):
        pattern = open_pattern(bench.folder / "out" / "sizes" / f"{size}.svg").pattern
        for name in ("front", "back"):
            piece = pattern.piece(name, size)
            x0, _, x1, _ = piece.outline.path.bounds
            assert x1 - x0 == pytest.approx(wide, abs=1e-6), (name, size)
            cx0, _, cx1, _ = piece.bounds
            assert cx1 - cx0 == pytest.approx(wide + 10, abs=1e-6)
            assert len(piece.notches) == 1
    assert "Sizes: 10, 12, 14 (drawn in 12)" in made["list.txt"]


def test_the_same_job_gives_the_same_bytes(bench: Bench) -> None:
    text = DESCRIBED + '[[steps]]\ndo = "seam-allowance"\n[[outputs]]\nfile = "all.svg"\n'
    assert bench.run(text) == bench.run(text)


def test_a_changed_drawing_is_refused_with_the_difference(bench: Bench) -> None:
    (bench.folder / "cloth.svg").write_text(DRAWING.format(right=301))
    said = bench.error(DESCRIBED, InputError)
    assert '"back" has changed' in said
    assert "job.toml, line" in said
    assert "48.2 cm" in said
    assert 'perimeter = "482.00 mm"' in said


def test_corner_numbers_need_their_guard(bench: Bench) -> None:
    said = bench.error("[pieces.front]\nedges = { hem = 1 }\n")
    assert 'corners = 4 and perimeter = "480.00 mm"' in said
    assert bench.run('[pieces.front]\npair = true\n[[outputs]]\nfile = "a.svg"\n')


def test_all_missing_guards_are_told_at_once(bench: Bench) -> None:
    said = bench.error("[pieces.front]\nedges = { hem = 1 }\n[pieces.back]\nfold = 2\n")
    assert '[pieces.front] corners = 4 and perimeter = "480.00 mm"' in said
    assert '[pieces.back] corners = 4 and perimeter = "480.00 mm"' in said


NEST = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="200mm"
 viewBox="0 0 400 200"><path data-piece="front" data-size="10" d="M10 10H110V150H10Z"/>
 <path data-piece="front" data-size="12" d="M10 10H114V150H10Z"/>
 <path data-piece="front" data-size="14" d="M10 10H118V150{cut}H10Z"/></svg>"""


@pytest.mark.parametrize("perimeter", ["48 cm", "488 mm", "496 mm"])
def test_one_guard_does_for_all_sizes_of_a_nest(bench: Bench, perimeter: str) -> None:
    (bench.folder / "cloth.svg").write_text(NEST.format(cut=""))
    job = f'[pieces.front]\ncorners = 4\nperimeter = "{perimeter}"\nedges = {{ hem = 1 }}\n'
    made = bench.run(job + '[[outputs]]\nfile = "a.svg"\n')
    front = open_pattern(bench.folder / "out" / "a.svg").pattern
    assert {p.size: round(p.sewn_length(p.run("hem")), 3) for p in front.pieces} == {
        "10": 100.0,
        "12": 104.0,
        "14": 108.0,
    }
    assert made


@pytest.mark.parametrize(("cut", "perimeter"), [("", "481 mm"), ("L60 160", "48 cm")])
def test_a_nest_that_changed_is_refused(bench: Bench, cut: str, perimeter: str) -> None:
    (bench.folder / "cloth.svg").write_text(NEST.format(cut=cut))
    job = f'[pieces.front]\ncorners = 4\nperimeter = "{perimeter}"\nedges = {{ hem = 1 }}\n'
    assert '"front" has changed' in bench.error(job, InputError)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[piece.front]\n", ['no "piece"', "line 2"]),
        ("[pieces.sleeve]\npair = true\n", ['"sleeve"', "front, back", "line 2"]),
        ("[pieces.front]\npairs = true\n", ['no "pairs"', "line 3"]),
        ('[pieces.front]\npair = "yes"\n', ["true or false", "line 3"]),
        ('[pieces.front]\noutline = "sown"\n', ['"sown"', "sew", "line 3"]),
        ('[[steps]]\ndo = "seam-alowance"\n', ["seam-allowance", "line 2"]),
        ('[[steps]]\nwidth = "1 cm"\n', ["do =", "line 2"]),
        ('[[steps]]\ndo = "seam-allowance"\nwidth = "1"\n', ["unit", "line 4", '"width"']),
        (
            '[[steps]]\ndo = "seam-allowance"\n[steps.widths]\nfront = "1 cm"\nback = 2\n',
            ["unit", "line 4", "widths"],
        ),
        ('[[outputs]]\nwrite = "pages"\n', ["file =", "line 2"]),
        ('[[outputs]]\nfile = "../a.svg"\n', ["leaves the output folder", "line 3"]),
        ('[[outputs]]\nfile = "/tmp/a.svg"\n', ["leaves the output folder"]),
        ('[[outputs]]\nfile = "a.cdr"\n', [".cdr", "line 3"]),
        ('[[outputs]]\nfile = "{size}.svg"\n', ["no size", "line 2"]),
        ('[[outputs]]\nfile = "a.svg"\nsizes = ["14"]\n', ['no size "14"', "line 2"]),
        ('[[outputs]]\nfile = "a.svg"\n[[outputs]]\nfile = "a.svg"\n', ["two outputs"]),
        ('[grade]\nrules = "rules.csv"\n', ['"to"', '"measure"', "line 2"]),
        ('[grade]\nto = "12"\n', ["no nest of sizes", "line 2"]),
        (
            '[grade]\nto = "12"\nrules = "rules.csv"\nmeasure = { bust = 92 }\n',
            ["measure bust", "unit", "line 5"],
        ),
        (
            'base = "12"\n[grade]\nrules = "rules.csv"\nmeasure = { bust = "92 cm" }\n',
            ["need a size chart", "line 3"],
        ),
        (
            DESCRIBED + '[grade]\nto = 12\nrules = "rules.csv"\nat = { knee = "14" }\n',
            ['level "knee"', "line 22"],
        ),
        (
            '[grade]\nto = "12"\nrules = "rules.csv"\nchart = "none.csv"\n',
            ['no file "none.csv"', "line 5"],
        ),
        ('[[before]]\ndo = "seam-allowance"\n', ["before grading", "line 2"]),
        ('[[checks]]\ncheck = "seems"\n', ["seams", "line 2"]),
        ('units = "furlong"\n', ["furlong"]),
    ],
)
def test_wrong_jobs_tell_what_where_and_how_to_mend(
    bench: Bench, text: str, says: list[str]
) -> None:
    said = bench.error(text, SizewrightError)
    for part in says:
        assert part in said, said


def test_errors_inside_an_operation_have_the_whole_trail(bench: Bench) -> None:
    said = bench.error('[[steps]]\ndo = "notches"\nat = ["front: middle of brim"]\n', LookupFailed)
    for part in ("job.toml, line 2", "notches", "front", "middle of brim"):
        assert part in said


def test_missing_files(bench: Bench) -> None:
    assert "rules2.csv" in bench.error('[grade]\nto = "12"\nrules = "rules2.csv"\n', InputError)
    path = bench.folder / "job.toml"
    path.write_text('source = "nothing.svg"\n')
    with pytest.raises(InputError, match="nothing"):
        read_job(path)
    path.write_text('title = "x"\n')
    with pytest.raises(UsageError, match="source"):
        read_job(path)


def test_an_output_never_replaces_a_source(bench: Bench) -> None:
    path = bench.job('[[outputs]]\nfile = "cloth.svg"\n')
    before = (bench.folder / "cloth.svg").read_bytes()
    with pytest.raises(SizewrightError, match=r"cloth\.svg"):
        run_job_file(path)
    assert (bench.folder / "cloth.svg").read_bytes() == before


def test_check_runs_every_check_and_writes_nothing(bench: Bench) -> None:
    path = bench.job(DESCRIBED + '[[outputs]]\nfile = "all.svg"\n')
    told = check_file(path)
    assert any(f.code == "seam-matches" for f in told.findings)
    assert not (bench.folder / "all.svg").exists()
    bare = check_file(bench.folder / "cloth.svg")
    assert all(f.level != "fail" for f in bare.findings)


def test_seams_are_checked_before_anything_runs(bench: Bench) -> None:
    for wrong, says in (("front:sid", "front"), ("frnt:side", "front, back")):
        text = DESCRIBED.replace("front:side = back", f"{wrong} = back")
        said = bench.error(text + '[[outputs]]\nfile = "a.svg"\n', LookupFailed)
        assert "job.toml, line 4" in said
        assert 'seam "side"' in said
        assert says in said


def test_slips_get_a_hint(bench: Bench) -> None:
    assert "{size}, {piece} and {cloth}" in bench.error('[[outputs]]\nfile = "x-{sze}.svg"\n')
    assert '".pfd" is of no format' in bench.error('[[outputs]]\nfile = "x.pfd"\npaper = "A4"\n')
    assert 'Did you mean "steps"' in bench.error('[[step]]\ndo = "notches"\n')
    assert "double brackets" in bench.error('[steps]\ndo = "x"\n[steps]\ndo = "y"\n', InputError)
    unclosed = 'seams = [\n  "side: front:#1 = back:#1"\n[[outputs]]\nfile = "a.svg"\n'
    assert "line 2 is not closed" in bench.error(unclosed, InputError)


def test_notes_are_told_when_asked_for(bench: Bench) -> None:
    path = bench.job(DESCRIBED + '[grade]\nto = "14"\nrules = "rules.csv"\n')
    brief = run_job_file(path, into=bench.folder / "out")
    full = run_job_file(path, into=bench.folder / "out", notes=True)
    notes = [f for f in full.findings if f.level == "note"]
    lines = told(notes)
    assert brief.lines[-1] == f"({len(lines)} notes: --notes tells them)"
    assert full.lines[-len(lines) :] == lines


@pytest.mark.parametrize("name", ["x" * 5000, "a\\u0000b", "shipped:examples/" + "x" * 5000])
def test_a_name_that_no_file_may_have_is_refused(bench: Bench, name: str) -> None:
    text = f'[grade]\nto = ["12"]\nrules = "{name}"\n'
    assert "no " in bench.error(text, SizewrightError)


def test_a_bare_name_is_the_users_file_first_and_then_the_one_that_comes_along(
    bench: Bench,
) -> None:
    path = bench.folder / "job.toml"
    path.write_text(
        'source = "half-apron/half-apron.svg"\n[grade]\nrules = "rules.csv"\nto = "M"\n'
    )
    order = read_job(path)
    assert order.source == shipped("examples/half-apron/half-apron.svg")
    assert order.grade is not None
    assert order.grade.rules == bench.folder / "rules.csv"


def test_seams_are_walked_though_no_check_is_named(bench: Bench) -> None:
    (bench.folder / "cloth.svg").write_text(
        DRAWING.format(right=300).replace("V150H200", "V134H200")
    )
    head, back = DESCRIBED.split("[pieces.back]")
    job = f"{head}[pieces.back]{back.replace('48 cm', '44.8 cm')}"
    listed = '\n[[outputs]]\nfile = "list.txt"\nwrite = "cutting-list"\n'
    told = run_job_file(bench.job(job + listed), into=bench.folder / "out")
    (fail,) = [f for f in told.findings if f.level == "fail"]
    assert fail.text.startswith("front:side is 1.6 cm")
    assert "in the drawing already" in fail.cure
    assert "does NOT match: 1.6 cm too long" in (bench.folder / "out/list.txt").read_text()
    named = job + '\n[[checks]]\ncheck = "seams"\ntolerance = "2 cm"\n'
    assert not [f for f in run_job_file(bench.job(named)).findings if f.level == "fail"]


@pytest.mark.parametrize(
    ("outputs", "says"),
    [
        ('file = "a.svg"\n[[outputs]]\nfile = "a.svg"', 'two outputs are named "a.svg"'),
        (
            'file = "a-{size}.svg"\n[[outputs]]\nfile = "a-14.svg"',
            'two outputs are named "a-14.svg"',
        ),
        ('file = "a.svg"\nsizes = ["16"]', "Sizes made: 12, 14."),
        ('file = "../cloth.svg"', "leaves the output folder"),
        ('file = "~/a.svg"', "leaves the output folder"),
    ],
)
def test_outputs_are_refused_before_the_work(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, outputs: str, says: str
) -> None:
    monkeypatch.setattr(run_job, "open_pattern", lambda *_, **__: pytest.fail("it was read"))
    grade = '[grade]\nto = ["12", "14"]\nrules = "rules.csv"\n'
    said = bench.error(f"{DESCRIBED}\n{grade}[[outputs]]\n{outputs}\n")
    assert says in said
    assert "job.toml, line" in said
    assert "no size 15x" in bench.error(f"{grade.replace('14', '15x')}", LookupFailed)


def test_an_output_over_a_source_is_refused_before_the_work(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run_job, "open_pattern", lambda *_, **__: pytest.fail("it was read"))
    text = '[grade]\nto = ["12"]\nrules = "rules.csv"\n[[outputs]]\nfile = "cloth.svg"\n'
    with pytest.raises(UsageError, match="overwrite the source"):
        run_job_file(bench.job(text))


def test_a_link_does_not_lead_outputs_away(bench: Bench) -> None:
    away = bench.folder / "away"
    away.mkdir()
    (away / "kept.svg").write_text("kept")
    out = bench.folder / "out"
    out.mkdir()
    (out / "sub").symlink_to(away)
    (out / "a.svg").symlink_to(away / "kept.svg")
    for name in ("sub/new/x.svg", "a.svg"):
        with pytest.raises(UsageError, match="a link leads it out of the folder"):
            run_job_file(bench.job(f'[[outputs]]\nfile = "{name}"\n'), into=out)
    assert [p.name for p in away.iterdir()] == ["kept.svg"]
    assert (away / "kept.svg").read_text() == "kept"
    (bench.folder / "link").symlink_to(out)  # the folder itself may be one
    run_job_file(bench.job('[[outputs]]\nfile = "new/b.svg"\n'), into=bench.folder / "link")
    assert (out / "new/b.svg").exists()


def test_home_is_home(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(bench.folder))
    monkeypatch.setenv("USERPROFILE", str(bench.folder))
    job = bench.job('[[outputs]]\nfile = "a.svg"\n')
    job.write_text(job.read_text().replace("cloth.svg", "~/cloth.svg"))
    run_job_file(job, into=Path("~/made"))
    assert (bench.folder / "made/a.svg").exists()


def test_a_piece_says_where_it_lies_on_the_wearer(bench: Bench) -> None:
    text = DESCRIBED + '[[outputs]]\nfile = "a.svg"\n'
    said = bench.error(text.replace("[pieces.front]", '[pieces.front]\nfaces = "left"'), UsageError)
    assert '"faces" cannot be "left"' in said
    assert '"front" or "back"' in said


def test_rules_of_a_points_table_are_there_before_what_comes_before_grading(bench: Bench) -> None:
    """A half that is opened before grading grows on both sides alike."""
    drawing = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm"
     viewBox="0 0 400 400"><g data-piece="bag" data-size="M" data-outline="sew">
     <path data-role="outline" d="M20 20H170V300H20Z"/><path data-role="grain" d="M90 60V200"/>
     <path data-role="fold" d="M20 20V300"/>
     <circle data-point="top" cx="170" cy="20" r="1"/>
     <circle data-point="bottom" cx="170" cy="300" r="1"/></g></svg>"""
    (bench.folder / "bag.svg").write_text(drawing)
    (bench.folder / "w.csv").write_text("rule,axis,unit,M,L\nside,width,mm,,15\n")
    (bench.folder / "p.csv").write_text("piece,point,rule\nbag,top,side\nbag,bottom,side\n")
    path = bench.folder / "bag.toml"
    path.write_text(
        'source = "bag.svg"\nbase = "M"\n[[before]]\ndo = "fold-marks"\nopen = ["bag"]\n'
        '[grade]\nto = "L"\nrules = "w.csv"\npoints = "p.csv"\n[[outputs]]\nfile = "o.svg"\n'
    )
    done = run_job.perform(read_job(path), plugins())
    x0, _, x1, _ = done.pattern.piece("bag", "L").bounds
    assert x1 - x0 == pytest.approx(2 * 165.0)
    # So are those that points take by their own names.
    (bench.folder / "w.csv").write_text(
        "rule,axis,unit,M,L\ntop,width,mm,,15\nbottom,width,mm,,5\n"
    )
    path.write_text(path.read_text().replace('points = "p.csv"\n', ""))
    piece = run_job.perform(read_job(path), plugins()).pattern.piece("bag", "L")
    wide = [piece.outline.vertex_at(piece.outline.vertex(n))[0] for n in ("top", "top-mirrored")]
    assert wide[0] - wide[1] == pytest.approx(2 * 165.0)


def test_a_drawing_without_a_piece_says_why_and_writes_nothing(bench: Bench) -> None:
    open_line = '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" '
    open_line += 'viewBox="0 0 400 400"><path id="bag" d="M10 10H300V300H10" stroke="red" '
    open_line += 'fill="none"/></svg>'
    (bench.folder / "open.svg").write_text(open_line)
    path = bench.folder / "open.toml"
    path.write_text('source = "open.svg"\n[[outputs]]\nfile = "o.svg"\n')
    with pytest.raises(InputError, match=r"no piece could be read: .* 290\.00 mm apart"):
        run_job_file(path)
    assert not (bench.folder / "o.svg").exists()


def test_a_job_leaves_a_piece_out_and_renames_one(bench: Bench) -> None:
    text = """base = "12"
seams = ["hem: yoke:#1 = yoke:#3"]
[pieces.front]
leave-out = true
[pieces.back]
outline = "sew"
rename = "yoke"
[[outputs]]
file = "{piece}.svg"
"""
    assert list(bench.run(text)) == ["yoke.svg"]
    none = text.replace("[pieces.back]", "[pieces.back]\nleave-out = true")
    bench.folder.joinpath("out", "yoke.svg").unlink()
    bench.folder.joinpath("out").rmdir()
    assert "leaves out every piece" in bench.error(none)
    assert 'two pieces are named "back"' in bench.error(
        '[pieces.front]\nrename = "back"\n', InputError
    )


def test_a_pleat_the_wrong_way_round_and_one_too_wide(bench: Bench) -> None:
    pleat = f"""[pieces.front]
{GUARD}
points = {{ a = "4 cm along #1 from #1", b = "6 cm along #1 from #1" }}
pleats = {{ tuck = "b..a" }}
"""
    told = bench.error(pleat, InputError)
    assert 'the pleat "tuck" goes the long way round' in told
    assert 'write "a..b"' in told
    wide = pleat.replace("b..a", "a..b").replace('"6 cm', '"9.5 cm')
    assert 'mouth of the pleat "tuck" is 5.5 cm' in bench.error(wide, InputError)


def test_near_names_are_told(bench: Bench) -> None:
    assert 'Did you mean "front"?' in bench.error('[pieces.frontt]\noutline = "sew"\n')
    assert 'Did you mean "seam-allowance"?' in bench.error('[[steps]]\ndo = "seam-alowance"\n')
    assert 'Did you mean "darts"?' in bench.error('[[checks]]\ncheck = "dart"\n')


def test_a_quantity_that_says_nothing_is_told_with_its_line(bench: Bench) -> None:
    said = bench.error('[pieces.front]\noutline = "sew"\nquantity = "main two"\n', InputError)
    assert (
        'quantity = "main two"'
        in bench.folder.joinpath("job.toml")
        .read_text()
        .splitlines()[int(said.partition("line ")[2].partition(":")[0]) - 1]
    )
