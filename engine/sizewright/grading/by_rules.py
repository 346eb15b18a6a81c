"""Grading a pattern: every piece in every size asked for, always from its kept base."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from ..errors import GeometryError
from ..findings import Finding
from ..geometry.types import Floats
from ..model.pattern import Pattern
from ..model.piece import Piece
from .asked import (
    base_pieces,
    check_points,
    check_rules,
    check_truing,
    far_from_base,
    named_alike,
    unused_rules,
    with_points,
)
from .bends import spread_bends
from .bows import keep_bows
from .checks import changed_allowance, kinks, nest_crossings, notch_finding, refuse_fold_over
from .dart_share import darts_sharing
from .line_ends import lines_ended
from .map import GradeMap, grade_map
from .mixed import Origin, SizedPiece, growth_by_point, joined, parted, sized_pieces
from .seam_notches import placed_on_seams
from .set_in import caps_following
from .sizes import position
from .tables import Growth, PointRule, RuleTable, SizeChart
from .target import Asked, Tables, Target, targets
from .truing import Truing, trued
from .uncut import without_allowance


class Graded(NamedTuple):
    """A graded pattern: all pieces of all sizes asked for, and what was found on the way."""

    pattern: Pattern
    findings: tuple[Finding, ...]


def grade(
    pattern: Pattern,
    rules: RuleTable,
    sizes: Sequence[str] = (),
    *,
    base_size: str | None = None,
    chart: SizeChart | None = None,
    points: Iterable[PointRule] = (),
    truing: Truing | None = None,
    allow_far: bool = False,
    far: int = 2,
    asked: Asked | None = None,
) -> Graded:
    """The pattern in each of `sizes`, graded by `rules` from the size that it was drawn in.

    The base is the kept base of each piece, so grading twice is grading once, and the base
    size gives the base piece itself. `points` gives or replaces rules of points. A `shares`
    table needs `chart`. A named point without a rule takes the rule of its own name, where the
    table has one. A number between two sizes is made between them. `allow_far` lets a
    numbered size lie beyond the table's end, where the last step is repeated; sizes more
    than `far` from the base draw a warning. `asked` wants a body, or other sizes at levels;
    then at most one size goes with it, and the pieces come out under its label.

    Pieces that are cutting lines lose their stated allowance first and come out as sewing
    lines. A cutting line whose allowance is meant is derived anew in each size. Seams are left
    as they are.

    Raises LookupFailed for points whose rule is not in the table, for pieces, points,
    levels, measures and sizes that are not there; InputError where no point uses any rule;
    GeometryError where a size would fold
    over itself, with the place; UsageError where the base size is not known.
    """
    base, bases = base_pieces(pattern, base_size)
    points = tuple(points)
    tables = Tables(rules, chart, allow_far)
    wanted, told = targets(tables, base, sizes, asked or Asked())
    check_points(bases, points)
    marked, alike = named_alike([with_points(piece, points) for piece in bases], rules)
    check_rules(marked, rules)

    findings: list[Finding] = [*told, *alike, *unused_rules(marked, rules)]
    ready: list[Piece] = []
    for piece in marked:
        sewn, found = without_allowance(piece)
        ready.append(sewn)
        findings += found
    maps = [grade_map(piece) for piece in ready]
    for one in maps:
        findings += one.findings

    truing = truing or Truing()
    check_truing(ready, truing)
    start = position(tables.order, base, what=rules.name)
    made: dict[str, list[Piece]] = {}
    for target in wanted:
        size = target.label
        reach = (target.place, *target.levels.values(), *target.reach)
        steps = max(abs(place - start) for place in reach)
        if steps > far:
            findings.append(far_from_base(size, base, steps))
        plain = target.place == start and not target.mixed and not target.body
        pieces: list[Piece] = []
        moves, noted = _moves(maps, pattern, target, rules, chart, start)
        findings += noted
        for source, (map_, amounts) in zip(ready, moves, strict=True):
            kept = source if source.size is not None else replace(source, size=base)
            if plain:
                pieces.append(kept if source.size is not None else replace(source, size=size))
                continue
            piece, noted = _one_size(map_, amounts, truing, base, size, target.mixed)
            findings += noted
            piece = joined(piece, source) if target.mixed else piece
            piece = replace(piece, base=kept)
            if piece.allowances is not None:
                from ..drafting import allowance_faults, with_cutting_line

                piece = with_cutting_line(piece)
                findings += allowance_faults(piece)
            pieces.append(piece)
        if not plain:
            named = {p.name: p for p in pieces}
            onto, off = placed_on_seams({p.name: p for p in ready}, named, pattern.seams)
            findings += off
            pieces = [onto[p.name] for p in pieces]
        made[size] = pieces
    by_place = sorted(wanted, key=lambda one: one.place)
    findings += nest_crossings({one.label: made[one.label] for one in by_place})
    everything = tuple(p for one in wanted for p in made[one.label])
    return Graded(replace(pattern, pieces=everything, base_size=base), tuple(findings))


def _moves(
    maps: Sequence[GradeMap],
    pattern: Pattern,
    target: Target,
    rules: RuleTable,
    chart: SizeChart | None,
    start: float,
) -> tuple[list[tuple[GradeMap, Floats]], list[Finding]]:
    """For each piece a map and its amounts; where sizes are mixed, with a rule for each point."""

    def gains(place: float) -> Growth:
        return target.gains(rules, chart, start, place)

    pieces = [one.piece for one in maps]
    missing: tuple[Finding, ...] = ()
    if target.levels:
        sized, missing = sized_pieces(
            pieces, pattern.seams, target.place, target.levels, wanted=target.asked
        )
    if not target.mixed:
        growth = gains(target.place)
        return [(one, one.amounts(growth)) for one in maps], list(missing)
    by_point = {whole.name: parted(whole) for whole in pieces}
    points = {name: (grade_map(piece), origin) for name, (piece, origin) in by_point.items()}

    def amounts_of(one: SizedPiece) -> Floats:
        map_, origin = points[one.piece.name]
        return map_.amounts(growth_by_point(one, origin, gains))

    def drawn(one: SizedPiece) -> Piece:
        return points[one.piece.name][0].apply(amounts_of(one))[0]

    caps = caps_following(sized, pattern.seams, target.levels, drawn)
    if caps:
        sized, missing = sized_pieces(
            pieces, pattern.seams, target.place, target.levels, wanted=target.asked, caps=caps
        )
    order = rules.order(chart)
    out, findings = [], [*missing, *(cap.told(order, target.label) for cap in caps)]
    for one in sized:
        map_, origin = points[one.piece.name]

        amounts = amounts_of(one)

        def more(
            place: float,
            map_: GradeMap = map_,
            origin: Origin = origin,
            amounts: Floats = amounts,
        ) -> Floats:
            growth = gains(place)
            whole = map_.amounts({name: growth.get(rule, {}) for name, (rule, _) in origin.items()})
            return map_.moves(amounts - whole)[: map_.outline_rows : 3]

        outline = map_.piece.outline
        columns = {
            p.vertex: map_.rules.index(p.rule) for p in outline.points if p.rule in map_.rules
        }
        shared = darts_sharing(one, columns, more)
        shifts = shared.at_vertices() * one.frame.signs(outline.path.vertices)
        amounts = amounts.copy()
        for vertex, column in columns.items():
            amounts[2 * column] += shifts[vertex]
        out.append((map_, amounts))
        findings += shared.told(one.piece.name, target.label)
    return out, findings


def _one_size(
    one: GradeMap, amounts: Floats, truing: Truing, base: str, size: str, mixed: bool
) -> tuple[Piece, list[Finding]]:
    source = one.piece
    try:
        piece, notes = one.apply(amounts)
    except GeometryError:
        raise GeometryError(
            "the outline would be turned inside out",
            where=f"{source.name} {size}",
            cure="Look at the steps of its rules, or stay nearer the base size.",
        ) from None
    piece = replace(piece, size=size)
    findings: list[Finding] = []
    if amounts.any():
        before = piece.outline
        piece, found = trued(source, piece, one.frame, truing)
        findings += found
        if mixed:
            piece, found = spread_bends(source, piece, one.frame)
            findings += found
        piece, found = keep_bows(source, piece, one.riding)
        findings += found
        if piece.outline is not before:
            notches, notes = one.notches_on(piece.outline, amounts)
            piece = replace(piece, notches=notches)
    piece = lines_ended(source, piece)
    refuse_fold_over(source, piece, size)
    findings += changed_allowance(source, piece)
    findings += kinks(source.outline, piece)
    findings += [notch_finding(piece, note) for note in notes]
    step = f"graded from {base} to {size}"
    return piece.with_changes(step), findings
