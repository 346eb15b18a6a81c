"""Mixtures of rules through files."""

from __future__ import annotations

from dataclasses import replace

from sizewright.formats import read_dxf
from sizewright.formats.dxf.writer import write_dxf
from sizewright.formats.svg.reader import read_svg
from sizewright.formats.svg.writer import write_svg
from sizewright.model import Pattern, Piece, Point
from tests.formats.full_pattern import full_pattern

MIXTURE = 'width 7 0.25 "arm hole; a" 0.75; length 7 0.55; width from length 7 -0.012345678901'


def mixed() -> Pattern:
    pattern = full_pattern()
    front = pattern.pieces[0]
    points = (*(p for p in front.outline.points if p.vertex != 5), Point(5, "cut", MIXTURE))
    outline = replace(front.outline, points=tuple(sorted(points, key=lambda p: p.vertex)))
    return pattern.with_pieces([replace(front, outline=outline), *pattern.pieces[1:]])


def rule(piece: Piece) -> str | None:
    return piece.outline.point(piece.outline.vertex("cut")).rule


def test_a_mixture_comes_back_from_svg() -> None:
    pattern = mixed()
    back = read_svg(write_svg(pattern).text.encode()).pattern
    assert rule(back.pieces[0]) == rule(pattern.pieces[0]) == MIXTURE


def test_a_mixture_comes_back_from_dxf_curves() -> None:
    back = read_dxf(write_dxf(mixed(), "curves").data).pattern
    assert rule(back.pieces[0]) == MIXTURE
