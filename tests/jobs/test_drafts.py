"""Pieces drafted from an edge are made anew when the edge changes."""

from __future__ import annotations

from dataclasses import replace

from sizewright.findings import Finding
from sizewright.geometry import Path, affine
from sizewright.jobs.drafts import Drafts
from sizewright.model import Outline, Pattern, Piece, parse_run, parse_seam
from sizewright.plugin import Outcome
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
    outcome = band(Pattern((bodice(),)))
    drafts.note(outcome, band)
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
