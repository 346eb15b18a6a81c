"""SVG -> SVG: everything that a pattern is comes back, within 1e-6 mm and to the letter."""

from __future__ import annotations

import dataclasses
import re
import subprocess
import typing
from pathlib import Path as FilePath

import numpy as np
import pytest
from hypothesis import given, settings

import sizewright.model as model
from sizewright.formats.svg.reader import read_svg
from sizewright.formats.svg.writer import write_svg
from sizewright.geometry import affine
from sizewright.geometry.path import Path
from sizewright.model import (
    CORNER_ANGLE,
    Hold,
    Label,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Run,
)
from tests.formats.full_pattern import full_pattern
from tests.formats.same import differences
from tests.programs import need
from tests.strategies import patterns

FIXTURES = FilePath(__file__).resolve().parents[1] / "fixtures"


#: What a reader may well say of a pattern that was meant.
_HARMLESS = {"impossible-size"}


def trip(pattern: Pattern) -> Pattern:
    """The pattern through SVG and back, nothing lost and nothing found on the way."""
    written = write_svg(pattern)
    assert [f for f in written.findings if f.level != "note"] == []
    reading = read_svg(written.text.encode())
    assert [f for f in reading.findings if f.code not in _HARMLESS] == []
    titles = tuple(f" of {piece.title}" for piece in reading.pattern.pieces)
    assert [a for a in reading.set_aside if not a.reason.endswith(titles)] == []
    assert write_svg(reading.pattern).text == written.text
    return reading.pattern


def same_after_trip(pattern: Pattern) -> None:
    assert differences(pattern, trip(pattern)) == []


@settings(max_examples=settings.default.max_examples * 3 // 4)
@given(pattern=patterns())
def test_random_patterns_come_back(pattern: Pattern) -> None:
    same_after_trip(pattern)


def test_a_pattern_of_everything_comes_back() -> None:
    pattern = full_pattern()
    same_after_trip(pattern)
    assert trip(pattern).page == pattern.page


def _classes() -> list[type]:
    """Pattern and every class that one of its fields, or theirs, may hold in a file."""
    found: list[type] = []
    todo: list[object] = [Pattern]
    while todo:
        kind = todo.pop()
        todo += typing.get_args(kind)
        if dataclasses.is_dataclass(kind) and kind is not Path and kind not in found:
            assert isinstance(kind, type)
            found.append(kind)
            # Some names are imported for the type checker alone: look them up in the model.
            hints = typing.get_type_hints(kind, localns=vars(model))
            # What takes no part in comparing is not the pattern's own.
            todo += [hints[f.name] for f in dataclasses.fields(kind) if f.compare]
    return found


@pytest.mark.parametrize("kind", _classes(), ids=lambda c: c.__name__)
def test_the_pattern_of_everything_leaves_no_field_out(kind: type) -> None:
    """A field that is new in the model must be put into it, and so into the files."""
    seen: dict[str, set[str]] = {}

    def look(thing: object) -> None:
        if isinstance(thing, tuple):
            for one in thing:
                look(one)
        elif isinstance(thing, dict):
            look(tuple(thing.values()))
        elif dataclasses.is_dataclass(thing) and not isinstance(thing, Path):
            for field in dataclasses.fields(thing):
                value = getattr(thing, field.name)
                default = field.default
                if default is dataclasses.MISSING or value != default:
                    seen.setdefault(type(thing).__name__, set()).add(field.name)
                look(value)

    look(full_pattern())
    assert seen[kind.__name__] == {f.name for f in dataclasses.fields(kind) if f.compare}


def test_differences_are_seen() -> None:
    """The comparison that the other tests rest on fails where it must."""
    pattern = full_pattern()
    front = pattern.pieces[0]
    shifted = front.outline.path.controls.copy()
    shifted[2] += 3e-6
    changes: list[dict[str, object]] = [
        {"outline": front.outline.with_path(front.outline.path.with_controls(shifted))},
        {"pair": False},
        {"notches": front.notches[:1]},
        {"notches": (dataclasses.replace(front.notches[0], rule="n2"), front.notches[1])},
        {"labels": (dataclasses.replace(front.labels[0], angle=12.4),)},
        {"drills": ()},
        {"holds": (Hold((4, 5, 6), "placket"), Hold((1,)))},
    ]
    for change in changes:
        other = front.with_changes(**change)
        assert differences(pattern, pattern.with_pieces([other, *pattern.pieces[1:]]))
    assert differences(pattern, dataclasses.replace(pattern, seams=pattern.seams[:1]))
    turned = dataclasses.replace(front.labels[0], angle=12.5 - 360.0)
    same = pattern.with_pieces([front.with_changes(labels=(turned,)), *pattern.pieces[1:]])
    assert differences(pattern, same) == []


@pytest.mark.parametrize("file", sorted(p for p in FIXTURES.glob("*.svg")), ids=lambda p: p.stem)
def test_drawings_come_back(file: FilePath) -> None:
    pattern = read_svg(file).pattern
    written = write_svg(pattern)
    again = read_svg(written.text.encode()).pattern
    shifted = any(f.code == "shifted" for f in written.findings)
    if not shifted:
        assert differences(pattern, again) == []
    assert write_svg(again).text == written.text


def _square(size: float = 100.0, at: float = 20.0) -> Path:
    low, high = at, at + size
    return Path.polyline([(low, low), (high, low), (high, high), (low, high)], closed=True)


def _circle_of_chords(n: int) -> Path:
    angle = np.arange(n) * 2 * np.pi / n
    return Path.polyline(200 + 150 * np.stack([np.cos(angle), np.sin(angle)], axis=1), closed=True)


@pytest.mark.parametrize("n", [6, 12, 64, 500])
def test_chords_that_are_meant_stay_chords(n: int) -> None:
    same_after_trip(Pattern((Piece("round", Outline.of(_circle_of_chords(n))),)))


def test_ten_metres_keep_every_figure() -> None:
    rng = np.random.default_rng(7)
    path = Path.polyline(
        np.array([(1, 1), (9998, 2), (9997, 9996), (3, 9999)]) + rng.uniform(0, 1, (4, 2)),
        closed=True,
    )
    outline = Outline.of(path)
    notches = tuple(Notch(outline.spot(float(s))) for s in rng.uniform(0, path.length, 30))
    pattern = Pattern((Piece("sail", outline, notches=notches),), page=(10_000.0, 10_000.0))
    again = trip(pattern)
    assert differences(pattern, again) == []
    assert again.page == (10_000.0, 10_000.0)


def test_a_mirrored_piece_comes_back() -> None:
    front = full_pattern().pieces[0]
    mirrored = front.transformed(affine.affine(-1, 0, 0, 1, 400.0, 0))
    same_after_trip(Pattern((front, mirrored.with_changes(name="front turned over"))))


def test_corner_numbers_stay_where_grading_left_them() -> None:
    outline = Outline.of(_square())
    for corners in ((2, 3, 0, 1), (0, 2), ()):
        kept = dataclasses.replace(outline, corners=corners)
        again = trip(Pattern((Piece("a", kept),))).pieces[0]
        assert again.outline.corners == corners


def test_a_turn_near_the_corner_angle_is_not_judged_again() -> None:
    turn = np.radians(CORNER_ANGLE)
    for extra in (-1e-7, -1e-10, 0.0, 1e-10, 1e-7):
        rise = 40 * np.tan(turn + extra)
        path = Path.polyline([(20, 20), (60, 20), (100, 20 + rise), (60, 120)], closed=True)
        same_after_trip(Pattern((Piece("a", Outline.of(path)),)))


def test_notches_at_and_near_corners_keep_their_edge() -> None:
    outline = Outline.of(_square())
    spots = [0.0, 1e-7, 1e-5, 0.01, 99.99, 100.0 - 1e-7, 100.0, 100.0 + 1e-7, 399.9999999]
    notches = tuple(
        Notch(model.Spot(e.start, d), kind)
        for kind in model.NOTCH_KINDS
        for s in spots
        for e, d in [outline.edge_along(s)]
    )
    same_after_trip(Pattern((Piece("a", outline, notches=notches),)))


def test_notches_in_a_narrow_piece_keep_their_side() -> None:
    path = Path.polyline([(20, 20), (220, 20), (220, 25), (20, 25)], closed=True)
    outline = Outline.of(path)
    notches = tuple(
        Notch(outline.spot(s), kind, 5.0, count)
        for kind in model.NOTCH_KINDS
        for s in (50.0, 250.0)
        for count in (1, 2)
    )
    same_after_trip(Pattern((Piece("strap", outline, notches=notches),)))


def test_a_notch_that_is_dragged_follows_its_shape() -> None:
    outline = Outline.of(_square())
    cut = outline.transformed(affine.affine(1.2, 0, 0, 1.2, -14.0, -14.0))
    piece = Piece("a", outline, "sew", cut_line=cut, notches=(Notch(outline.spot(40.0)),))
    text = write_svg(Pattern((piece,))).text
    assert 'data-at="1 40"' in text
    dragged = re.sub(
        r'data-at="1 40"\s+d="M (\S+) (\S+) L (\S+) (\S+)"',
        lambda m: f'data-at="1 40" d="M {float(m[1]) + 9} {m[2]} L {float(m[3]) + 9} {m[4]}"',
        text,
    )
    assert dragged != text
    again = read_svg(dragged.encode()).pattern.pieces[0]
    assert again.notches[0].at.distance == pytest.approx(49.0, abs=1e-5)


def test_names_with_signs_of_their_own_come_back() -> None:
    path = _square()
    names = [
        "a..b",
        "#2",
        "@1",
        "7",
        "50%",
        "a;b=c",
        "<&\">'",
        "%3B",
        "front.notch",
        "京 ä",
        "hem.",
        ".K*C/qjf8BW.",
    ]
    for name in names:
        outline = Outline.of(
            path, points=[Point(1, name)], runs=[Run(1, 3, name), Run(0, 1, f"{name} too")]
        )
        same_after_trip(Pattern((Piece("front.point.a", outline),)))


def test_texts_keep_their_blanks_and_lines() -> None:
    texts = ["one", "two\nlines", "three\n\nwith one between", "  wide   gaps  ", "<b>&amp;</b>"]
    labels = tuple(Label(text, (30.0, 30.0 + i), 4.0, 33.3 * i) for i, text in enumerate(texts))
    same_after_trip(Pattern((Piece("a", Outline.of(_square()), labels=labels),)))


def test_vertices_and_segment_kinds_stay() -> None:
    """A straight cubic stays a cubic, points on a straight edge stay vertices."""
    path = Path.of(
        [
            [(20, 20), (60, 20)],
            [(60, 20), (120, 20)],
            [(120, 20), (120, 50), (120, 80), (120, 120)],
            [(120, 120), (70, 120), (70, 120), (20, 120)],
            [(20, 120), (20, 20)],
        ],
        closed=True,
    )
    for k in range(len(path)):
        same_after_trip(Pattern((Piece("a", Outline.of(path.rolled(k))),)))


def test_a_dart_without_a_tip_keeps_to_itself() -> None:
    back = full_pattern().pieces[1]
    assert back.darts[0].tip is None
    near = dataclasses.replace(back.darts[0], apex=(220.5, 209.5))
    same_after_trip(Pattern((back.with_changes(darts=(near,)),)))


@pytest.mark.parametrize("option", ["--export-type=svg", "--export-plain-svg"])
def test_a_general_editor_saves_it_whole(tmp_path: FilePath, option: str) -> None:
    pattern = full_pattern()
    (tmp_path / "in.svg").write_text(write_svg(pattern).text, "utf-8")
    out = tmp_path / "out.svg"
    command = [need("inkscape"), str(tmp_path / "in.svg"), option, f"--export-filename={out}"]
    subprocess.run(command, capture_output=True, check=True)
    assert differences(pattern, read_svg(out).pattern) == []


def test_ids_and_labels_say_the_names_where_an_editor_drops_the_attributes() -> None:
    pattern = full_pattern()
    text = write_svg(pattern).text
    bare = re.sub(r'\s+data-[a-z-]+="[^"]*"', "", text)
    assert "data-" not in bare
    again = read_svg(bare.encode()).pattern
    assert [p.key for p in again.pieces] == [p.key for p in pattern.pieces]
    ours, theirs = pattern.pieces[0], again.pieces[0]
    assert {p.name for p in theirs.outline.points} >= {"waist centre", "bust & side"}
    assert {r.name for r in theirs.outline.runs} == {"side", "neck = top; 100%"}
    assert theirs.fold == ours.fold
    assert theirs.cut_line is not None
    assert [d.name for d in theirs.darts] == ["waist"]
    assert [p.name for p in theirs.pleats] == ["tuck"]
    assert [c.name for c in theirs.cutouts] == ["slot"]
    assert len(theirs.notches) == len(ours.notches)
    assert theirs.grain is not None
    assert [label.text for label in theirs.labels] == [label.text for label in ours.labels]
