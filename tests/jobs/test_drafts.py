"""Pieces drafted from an edge are made anew when the edge changes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path as Path_

import numpy as np
import pytest

from sizewright.findings import Finding
from sizewright.geometry import Path, affine
from sizewright.jobs.drafts import Drafts
from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import Performed, perform
from sizewright.model import Outline, Pattern, Piece, match_seam, parse_run, parse_seam
from sizewright.plugin import Outcome
from tests.operations import plugins
from tests.shapes import bodice


def band(pattern: Pattern) -> Outcome:
    """A band as long as the waist, sewn to it."""
    (front,) = (p for p in pattern.pieces if p.name == "front")
    long = front.sewn_length(front.run("waist"))
    path = Path.polyline([(0, 0), (long, 0), (long, 30), (0, 30)], closed=True)
    piece = Piece("band", Outline.of(path))
    seam = parse_seam("waist: band:#1 = front:waist")
    made = replace(pattern, pieces=(*pattern.pieces, piece), seams=(*pattern.seams, seam))
    return Outcome(made, drafted=("band",), along=(parse_run("front:waist"),))


def drafted() -> tuple[Drafts, Pattern]:
    drafts = Drafts()
    plain = Pattern((bodice(),))
    outcome = band(plain)
    drafts.note(plain, outcome, band)
    return drafts, outcome.pattern


def wider(pattern: Pattern) -> Pattern:
    front = pattern.piece("front").transformed(affine.scaling(1.1, 1.0))
    return pattern.with_pieces([front, *(p for p in pattern.pieces if p.name != "front")])


def test_an_edge_that_changes_gets_its_piece_anew_and_says_so() -> None:
    drafts, pattern = drafted()
    findings: list[Finding] = []
    after = drafts.renewed(wider(pattern), findings)
    front = after.piece("front")
    assert after.piece("band").bounds[2] == front.sewn_length(front.run("waist"))
    assert [s.name for s in after.seams] == ["waist"]
    assert [(f.code, f.level, f.piece) for f in findings] == [("redrafted", "note", "band")]


def test_an_edge_that_only_moved_leaves_it() -> None:
    drafts, pattern = drafted()
    findings: list[Finding] = []
    moved = pattern.replacing(lambda p: p.transformed(affine.translation(30, -7)))
    assert drafts.renewed(moved, findings) is moved
    assert not findings


def test_what_was_done_to_it_since_is_lost_with_a_warning() -> None:
    drafts, pattern = drafted()
    findings: list[Finding] = []
    done = pattern.replacing(lambda p: replace(p, pair=True) if p.name == "band" else p)
    drafts.renewed(wider(done), findings)
    assert [f.level for f in findings] == ["warn"]


def test_before_grading_it_is_taken_out_and_made_for_every_size_after() -> None:
    drafts, pattern = drafted()
    plain = drafts.taken_out(pattern)
    assert plain.names == ("front",)
    assert not plain.seams
    findings: list[Finding] = []
    assert drafts.renewed(wider(plain), findings, graded=True).names == ("front", "band")
    assert not findings


# --- in a job, in every size ----------------------------------------------------------------

REDRAW = """
[[steps]]
do = "redraw"
piece = "front"
from = "4 cm down fold from neck-centre"
to = "neck-side"
line = "curve"
ends = ["square", "square"]
"""
FLARE = """
[[steps]]
do = "spread"
piece = "skirt-front"
from = "hem"
to = "waist"
by = "2 cm"
by-to = "5 mm"
"""
TRUE = """
[[steps]]
do = "seam-ease"
seam = "shoulder"
side = "front:shoulder"
kind = "gather"
amount = "8 mm"

[[steps]]
do = "true-edge"
seam = "shoulder"
move = "back:neck-side"
"""
NECK = '"front:neck", "back:neck"'


def run(folder: Path_, steps: str, pieces: tuple[str, ...]) -> Performed:
    every = ["front", "back", "sleeve", "skirt-front", "skirt-back"]
    every += ["trousers-front", "trousers-back"]
    left = [f"[pieces.{one}]\nleave-out = true" for one in every if one not in pieces]
    head = """source = "shipped:examples/basic-set/basic-set.svg"
base = "12"
[grade]
to = ["8", "12", "16"]
rules = "shipped:grade_tables/basic-set-steps.csv"
"""
    path = folder / "job.toml"
    path.write_text("\n".join([head, *left, steps]))
    return perform(read_job(path), plugins(), write=False)


@pytest.mark.parametrize(
    ("draft", "change", "names"),
    [
        (f'do = "facing"\nalong = [{NECK}]\nwidth = "4 cm"', REDRAW, "front-facing back-facing"),
        (f'do = "facing"\nalong = [{NECK}]\nwidth = "4 cm"', TRUE, "front-facing back-facing"),
        (
            'do = "facing"\nalong = ["front:neck"]\nwidth = "4 cm"\nshorter = "1 cm"',
            REDRAW,
            "front-facing",
        ),
        ('do = "band"\nfor = "skirt-front:waist"\nheight = "4 cm"', FLARE, "band"),
        ('do = "ruffle"\nfor = "skirt-front:hem"\ndepth = "8 cm"', FLARE, "ruffle"),
        (
            'do = "hem"\nalong = ["skirt-front:hem"]\ndepth = "4 cm"\nfinish = "faced"',
            FLARE,
            "skirt-front-hem-facing",
        ),
        (
            'do = "casing"\nalong = ["skirt-front:hem"]\nkind = "applied"\nat = "2 cm"\n'
            'elastic-width = "1 cm"',
            FLARE,
            "casing",
        ),
    ],
)
def test_drafted_before_or_after_its_edge_changes_is_the_same(
    tmp_path: Path_, draft: str, change: str, names: str
) -> None:
    pieces = ("front", "back") if change != FLARE else ("skirt-front", "skirt-back")
    step = f"[[steps]]\n{draft}\n"
    early, late = (run(tmp_path, text, pieces) for text in (step + change, change + step))
    for name in names.split():
        for size in ("8", "12", "16"):
            one, other = (p.pattern.piece(name, size).outline.path for p in (early, late))
            assert np.allclose(one.controls - one.start, other.controls - other.start, atol=1e-6)
            assert early.pattern.piece(name, size).story[-1].startswith("drafted anew")
    for whole in (early, late):
        assert not [f for f in whole.findings if f.code in ("mate-to-follow", "seam-changed")]
    for name in early.pattern.names:
        marks = [[m.name for m in p.pattern.piece(name).marks] for p in (early, late)]
        assert marks[0] == marks[1]
    assert len(early.pattern.seams) == len(late.pattern.seams)
    assert {f.level for f in early.findings if f.code == "redrafted"} == {"note"}


def test_a_real_loss_in_a_job_is_told(tmp_path: Path_) -> None:
    facing = '[[steps]]\ndo = "facing"\nalong = ["front:neck"]\nwidth = "4 cm"\n'
    allowed = '[[steps]]\ndo = "seam-allowance"\nwidth = "1 cm"\npieces = ["front-facing"]\n'
    made = run(tmp_path, facing + allowed + REDRAW, ("front", "back"))
    (told,) = [f for f in made.findings if f.code == "redrafted"]
    assert told.level == "warn"
    assert "lost" in told.text


def test_a_sleeve_gathered_into_its_cuff_leaves_the_cuff_as_it_is(tmp_path: Path_) -> None:
    cuff = '[[steps]]\ndo = "band"\nfor = "sleeve:hem"\nheight = "4 cm"\nname = "cuff"\n'
    full = '[[steps]]\ndo = "spread"\npiece = "sleeve"\nfrom = "hem"\nto = "cap"\n'
    full += 'kind = "gather"\nby = "12 cm"\nby-to = "4 cm"\n'
    plain, gathered = (run(tmp_path, text, ("sleeve",)) for text in (cuff, cuff + full))
    for size in ("8", "12", "16"):
        one, other = (p.pattern.piece("cuff", size) for p in (plain, gathered))
        assert one.outline.path.length == pytest.approx(other.outline.path.length, abs=1e-6)
        seam = next(s for s in gathered.pattern.seams if s.name == "cuff-lower")
        match = match_seam(gathered.pattern, seam, size)
        longer = match.first.length - match.second.length
        assert longer == pytest.approx(120, abs=3)
        assert abs(match.off) < 0.5
