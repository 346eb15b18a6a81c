"""Random operations on random garments: what must hold of any of them.

A half front and a half back on the fold, laid anyhow on the page, in one size or two; one operation
after another. Either a clear error, or: outlines are simple (by shapely), other pieces keep their
bits, no seam names what is not there, every name and feature is there or told, and a garment
turned or mirrored on the page comes out turned or mirrored.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import event, given
from hypothesis import strategies as st

from sizewright.errors import PluginError, SizewrightError
from sizewright.findings import Finding
from sizewright.geometry import Floats, Path, affine, flatten
from sizewright.model import (
    Adjust,
    Dart,
    Drill,
    Fold,
    Grain,
    Label,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Quantity,
    Run,
    match_seam,
    parse_seams,
)
from sizewright.plugin import Plugins, apply_operation, check_settings

POINTS = (
    *("waist-centre", "dart-inner", "dart-tip", "dart-outer", "side-waist", "underarm"),
    *("armhole-middle", "shoulder-tip", "neck-side", "neck-centre"),
)
SEAMS = 'side: front:side = back:side, notch "side" 60 mm; shoulder: front:shoulder = back:shoulder'
#: Features that are counted, and the word that a finding has for each.
COUNTED = {
    "notches": "notch",
    "darts": "dart",
    "drills": "drill hole",
    "marks": "mark",
    "labels": "label",
    "adjusts": "adjust line",
}


def bodice(name: str, scale: float, low: float, drop: float, curved: bool, dart: float) -> Piece:
    """A half bodice, centre at x = 0: `low` mm longer at the side, neck `drop` mm deep."""

    def at(x: float, y: float) -> list[float]:
        return [x * scale, y * scale]

    c, i, t, o = at(0, 0), at(90 - dart, 0), at(90, 140), at(90 + dart, 0)
    s, u, m = at(230, -low), at(245, 220), at(185, 300)
    tip, n, top = at(175, 390), at(70, 430), at(0, 430 - drop)
    hem: list[list[list[float]]] = [[c, i], [i, t], [t, o], [o, s]]
    if curved:
        hem[3] = [o, at(130, 0), at(200, -low + 6), s]
    side = [s, at(238, 70), at(250, 150), u] if curved else [s, u]
    armhole = [[u, at(205, 222), at(188, 250), m], [m, at(183, 335), at(172, 360), tip]]
    neck = [n, at(62, 430 - drop * 0.6), at(40, 430 - drop), top]
    path = Path.of([*hem, side, *armhole, [tip, n], neck, [top, c]], closed=True)
    runs = [
        *(Run(0, 4, "waist"), Run(4, 5, "side"), Run(5, 7, "armhole"), Run(7, 8, "shoulder")),
        Run(8, 9, "neck"),
    ]
    outline = Outline.of(path, points=[Point(v, p) for v, p in enumerate(POINTS)], runs=runs)
    here = outline.path.cumulative

    def line(*ends: tuple[float, float]) -> Path:
        return Path.polyline([at(*end) for end in ends])

    return Piece(
        name,
        outline,
        kind="sew",
        fold=Fold(9, 0),
        quantity=(Quantity("main", 1),),
        grain=Grain((40 * scale, 60 * scale), (40 * scale, 330 * scale), ends=1),
        notches=(
            Notch(outline.spot(float(here[5] + 60 * scale)), count=2, name="armhole"),
            Notch(outline.spot(float(here[4] + 45 * scale))),
        ),
        darts=(Dart("waist", 1, 3, (90 * scale, 140 * scale), 2),),
        drills=(Drill((95 * scale, 200 * scale), "bust-point"),),
        marks=(Mark(line((130, 260), (165, 262)), "pocket", "pocket"),),
        labels=(Label(name, (100 * scale, 240 * scale)),),
        adjusts=(Adjust(line((0, 170), (240, 170)), "body"),),
    )


@st.composite
def garments(draw: st.DrawFn) -> Pattern:
    curved = draw(st.booleans())
    sizes = draw(st.sampled_from(((None,), ("10", "12"))))
    drop = {"front": draw(st.integers(30, 110)), "back": draw(st.integers(15, 40))}
    low = {"front": draw(st.integers(-5, 12)), "back": draw(st.integers(-5, 12))}
    darts = draw(st.integers(8, 20))
    pieces = [
        dataclasses.replace(bodice(name, scale, low[name], drop[name], curved, darts), size=size)
        for size, scale in zip(sizes, (1.0, 1.06), strict=False)
        for name in ("front", "back")
    ]
    return Pattern(tuple(pieces), sizes[0], parse_seams(SEAMS))


@st.composite
def lays(draw: st.DrawFn) -> Floats:
    """A way to lay a piece on the page: turned, turned over, moved."""
    m = affine.rotation(draw(st.sampled_from((0.0, 37.0, 90.0, 180.0, 301.5))), (20.0, 10.0))
    if draw(st.booleans()):
        m = affine.compose(m, affine.mirror(np.array([0.0, 0.0]), np.array([0.0, 1.0])))
    return affine.compose(m, affine.translation(draw(st.integers(-400, 400)), 0.0))


def share(draw: st.DrawFn, run: str) -> str:
    return f"{draw(st.integers(8, 92))}% along {run}"


def style_line(draw: st.DrawFn) -> dict[str, Any]:
    upper = draw(st.sampled_from(("armhole", "side", "shoulder", "neck")))
    to = draw(st.sampled_from(("fold", "armhole"))) if upper == "side" else "fold"
    parts = {"upper": "neck-side", "lower": "side-waist"}
    return {"piece": "front", "through": [share(draw, upper), share(draw, to)], "parts": parts}


def redraw(draw: st.DrawFn) -> dict[str, Any]:
    start, run, end = draw(
        st.sampled_from(
            (
                ("neck-centre", "neck", "neck-side"),
                ("underarm", "armhole", "shoulder-tip"),
                ("side-waist", "side", "underarm"),
            )
        )
    )
    inside = draw(st.integers(3, 40))
    given: dict[str, Any] = {"piece": "front", "from": start, "to": end}
    if draw(st.booleans()):
        given["from"] = share(draw, run)
    given["through"] = [f"{inside} mm inside middle of {run}"]
    given["line"] = draw(st.sampled_from(("straight", "curve")))
    return given


def dart(draw: st.DrawFn) -> dict[str, Any]:
    run = draw(st.sampled_from(("waist", "side", "shoulder", "neck", "armhole")))
    take, length = draw(st.integers(5, 40)), draw(st.integers(40, 120))
    at = share(draw, run)
    return {"piece": "front", "at": [at], "take": f"{take} mm", "length": f"{length} mm"}


def move_dart(draw: st.DrawFn) -> dict[str, Any]:
    run = draw(st.sampled_from(("side", "shoulder", "neck", "armhole")))
    into = draw(st.sampled_from(("dart", "gather", "ease", "flare")))
    return {"piece": "front", "dart": "waist", "to": share(draw, run), "into": into}


def spread(draw: st.DrawFn) -> dict[str, Any]:
    to = draw(st.sampled_from(("shoulder", "neck", "armhole")))
    by, kind = draw(st.integers(0, 80)), draw(st.sampled_from(("flare", "gather")))
    return {"piece": "front", "from": "waist", "to": to, "by": f"{by} mm", "kind": kind}


def lengthen(draw: st.DrawFn) -> dict[str, Any]:
    return {"pieces": ["front", "back"], "at": ["body"], "by": f"{draw(st.integers(-30, 60))} mm"}


def true_edge(draw: st.DrawFn) -> dict[str, Any]:
    seam, ends = draw(
        st.sampled_from(
            (
                ("side", ("side-waist", "underarm")),
                ("shoulder", ("shoulder-tip", "neck-side")),
            )
        )
    )
    move = f"{draw(st.sampled_from(('front', 'back')))}:{draw(st.sampled_from(ends))}"
    return {"seam": seam, "move": move, "share": draw(st.booleans())}


def seam_ease(draw: st.DrawFn) -> dict[str, Any]:
    given: dict[str, Any] = {
        "seam": "shoulder",
        "side": draw(st.sampled_from(("front", "back"))),
        "amount": f"{draw(st.integers(1, 60))} mm",
        "kind": draw(st.sampled_from(("ease", "gather"))),
    }
    if draw(st.booleans()):
        given["between"] = ["10% along shoulder", share(draw, "shoulder")]
    return given


def opened(draw: st.DrawFn) -> dict[str, Any]:
    return {"open": [draw(st.sampled_from(("front", "back")))]}


ASKED: Mapping[str, Callable[[st.DrawFn], dict[str, Any]]] = {
    "style-line": style_line,
    "redraw": redraw,
    "dart": dart,
    "move-dart": move_dart,
    "spread": spread,
    "lengthen": lengthen,
    "true-edge": true_edge,
    "seam-ease": seam_ease,
    "fold-marks": opened,
}
PLUGINS = Plugins.discover()
KNOWN = [name for name in ASKED if name in {op.name for op in PLUGINS.operations}]


@st.composite
def steps(draw: st.DrawFn, names: Sequence[str] = tuple(KNOWN)) -> tuple[str, dict[str, Any]]:
    """An operation and its settings."""
    name = draw(st.sampled_from(names))
    return name, ASKED[name](draw)


def done(pattern: Pattern, step: tuple[str, dict[str, Any]]) -> tuple[Pattern, Sequence[Finding]]:
    """What a step makes, and what it told; an error that a user can mend is raised on."""
    name, given = step
    operation = PLUGINS.operation(name)
    result = apply_operation(
        operation, pattern, check_settings(name, operation.settings, dict(given))
    )
    return result.pattern, result.findings


def laid(pattern: Pattern, m: Floats) -> Pattern:
    return pattern.with_pieces([piece.transformed(m) for piece in pattern.pieces])


def assert_sound(pattern: Pattern) -> None:
    for piece in pattern.pieces:
        ring = shapely.Polygon(flatten(piece.outline.path, 0.01))
        assert ring.is_valid, shapely.is_valid_reason(ring)
        length = float(piece.outline.path.length)
        for notch in piece.notches:
            assert 0 <= piece.outline.arc_length_of(notch.at) <= length + 1e-6
    for seam in pattern.seams:
        for size in pattern.sizes or (None,):
            match_seam(pattern, seam, size)


def assert_nothing_lost(before: Pattern, after: Pattern, findings: Sequence[Finding]) -> None:
    told = [f"{f.text} {f.place}" for f in findings]
    size = before.pieces[0].size
    old = [p for p in before.pieces if p.size == size]
    new = [p for p in after.pieces if p.size == size]

    def there(name: str, names: set[str]) -> bool:
        return any(name in one for one in names) or any(name in text for text in told)

    points = {p.name for piece in new for p in piece.outline.points if p.name}
    runs = {r.name for piece in new for r in piece.outline.runs if r.name}
    for piece in old:
        for point in piece.outline.points:
            assert there(str(point.name), points), f"{piece.name}: the point {point.name}"
        for run in piece.outline.runs:
            assert there(str(run.name), runs), f"{piece.name}: the run {run.name}"
    for kind, word in COUNTED.items():
        gone = sum(len(getattr(p, kind)) for p in old) - sum(len(getattr(p, kind)) for p in new)
        assert gone <= sum(word in text for text in told), f"{gone} {kind}"
    seams = {seam.name for seam in after.seams}
    for seam in before.seams:
        assert there(seam.name, seams), f"the seam {seam.name}"


def assert_law(step: tuple[str, dict[str, Any]], before: Pattern, after: Pattern) -> None:
    """What must hold of this operation by itself, in every size."""
    name, asked = step
    for old in before.pieces:
        if old.name not in (asked.get("piece"), *asked.get("open", ())):
            continue
        now = [p for p in after.pieces if p.size == old.size]
        areas = {p.name: p.outline.path.area for p in now}
        was = old.outline.path.area
        if name == "style-line":
            assert areas["upper"] + areas["lower"] == pytest.approx(was, rel=1e-9)
        elif name == "fold-marks":
            assert areas[old.name] == pytest.approx(2 * was, rel=1e-9)
        elif name == "spread" and asked["by"] == "0 mm":
            assert areas[old.name] == pytest.approx(was, rel=1e-9)
        elif name == "move-dart":
            new = next(p for p in now if p.name == old.name)
            for run in ("side", "shoulder", "neck", "armhole"):
                if run not in asked["to"] and any(r.name == run for r in new.outline.runs):
                    assert new.sewn_length(new.run(run)) == pytest.approx(
                        old.sewn_length(old.run(run)), abs=1e-6
                    )
    if name == "true-edge":
        for size in after.sizes or (None,):
            seam = next(s for s in after.seams if s.name == asked["seam"])
            assert abs(match_seam(after, seam, size).off) < 0.005
    if name == "seam-ease":
        for piece in after.pieces:
            assert piece.outline is before.piece(piece.name, piece.size).outline


@given(garments(), lays(), st.lists(steps(), min_size=1, max_size=2))
def test_whatever_is_drafted_is_sound_and_nothing_is_lost(
    pattern: Pattern, m: Floats, asked: Sequence[tuple[str, dict[str, Any]]]
) -> None:
    pattern = laid(pattern, m)
    for step in asked:
        try:
            after, findings = done(pattern, step)
        except PluginError:
            raise
        except SizewrightError as error:
            event(f"{step[0]} refused: {error.what[:40]}")
            return
        event(f"{step[0]} done")
        assert_sound(after)
        assert_nothing_lost(pattern, after, findings)
        assert_law(step, pattern, after)
        meant = {step[1].get("piece"), *step[1].get("pieces", ()), *step[1].get("open", ())}
        if "seam" not in step[1] or step[0] == "style-line":
            for piece in pattern.pieces:
                if piece.name not in meant:
                    assert after.piece(piece.name, piece.size).outline == piece.outline
        pattern = after


@given(garments(), lays(), steps())
def test_turned_or_mirrored_it_comes_out_alike(
    pattern: Pattern, m: Floats, step: tuple[str, dict[str, Any]]
) -> None:
    try:
        plain, told = done(pattern, step)
    except PluginError:
        raise
    except SizewrightError as error:
        with pytest.raises(type(error)):
            done(laid(pattern, m), step)
        return
    other, also = done(laid(pattern, m), step)
    assert sorted(f.code for f in told) == sorted(f.code for f in also)
    assert other.names == plain.names
    for piece in plain.pieces:
        twin = other.piece(piece.name, piece.size)
        wanted = shapely.Polygon(flatten(piece.transformed(m).outline.path, 0.01))
        found = shapely.Polygon(flatten(twin.outline.path, 0.01))
        assert wanted.symmetric_difference(found).area < 1e-4 * wanted.length
        assert {p.name for p in twin.outline.points} == {p.name for p in piece.outline.points}
        assert {r.name for r in twin.outline.runs} == {r.name for r in piece.outline.runs}
        for kind in COUNTED:
            assert len(getattr(twin, kind)) == len(getattr(piece, kind))
    assert [s.name for s in other.seams] == [s.name for s in plain.seams]
    for seam in plain.seams:
        one, same = (
            match_seam(p, p_seam, p.sizes[0] if p.sizes else None)
            for p, p_seam in (
                (plain, seam),
                (other, next(s for s in other.seams if s.name == seam.name)),
            )
        )
        assert same.off == pytest.approx(one.off, abs=1e-5)
