"""What grading is asked for: base pieces, rules at points, sizes; and whether all is there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from ..errors import InputError, LookupFailed, UsageError
from ..findings import Finding
from ..model.mixture import parse_mixture
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.references import split_reference
from .sizes import same_size, shown_size
from .tables import PointRule, RuleTable
from .truing import Truing


def base_pieces(pattern: Pattern, base_size: str | None = None) -> tuple[str, list[Piece]]:
    """The base size, and for each piece name the piece that grading starts from.

    That is the kept base of a graded piece, else the piece in the base size or without a
    size. Raises UsageError where no base size is given and several or none are drawn.
    """
    base = base_size or pattern.base_size
    if base is None:
        if len(pattern.sizes) != 1:
            drawn = ", ".join(pattern.sizes) or "none"
            raise UsageError(
                f"the size that the pattern was drawn in is not known (sizes marked: {drawn})",
                cure='Say it: --base 12 on the command line, base = "12" in a job, or '
                'data-base-size="12"' + " on the root of the drawing.",
            )
        base = pattern.sizes[0]
    base = shown_size(base)
    if not pattern.pieces:
        raise InputError("there is no piece to grade", cure="Look at it with sizewright show.")
    kept_in = [p.base.size for p in pattern.pieces if p.base is not None]
    there = list(dict.fromkeys(s for s in (*pattern.sizes, *kept_in) if s))
    unsized = any(p.size is None for p in pattern.pieces)
    if there and not unsized and not any(same_size(s) == same_size(base) for s in there):
        raise LookupFailed(
            f"nothing is drawn in the base size {base}; sizes drawn: {', '.join(there)}",
            cure="Say one of these as the base (--base), or none where only one is drawn.",
        )
    found = []
    for name in pattern.names:
        several = pattern.sizes_of(name)
        kept = [p.base for p in several if p.base is not None]
        fitting = [p for p in several if p.size is None or same_size(p.size) == same_size(base)]
        pick = next((p for p in fitting if p.base is None), None)
        pick = pick or next(iter(kept), None)
        if pick is None or (pick.size is not None and same_size(pick.size) != same_size(base)):
            its = ", ".join(p.size or "none" for p in several)
            raise LookupFailed(
                f'the piece "{name}" is not there in the base size {base}',
                cure=f"Its sizes: {its}.",
            )
        found.append(pick)
    return base, found


def with_points(piece: Piece, points: Iterable[PointRule]) -> Piece:
    """The piece with the rules that `points` gives it, in place of its own at those points.

    Raises LookupFailed, with the table's line, for a point that is not there.
    """
    outline, notches = piece.outline, piece.notches
    for one in points:
        if one.piece != piece.name:
            continue
        named = [x for x in notches if x.name == one.point]
        if named and not any(p.name == one.point for p in outline.points):
            notches = tuple(replace(x, rule=one.rule) if x in named else x for x in notches)
            continue
        try:
            vertex = outline.vertex(one.point)
        except LookupFailed as error:
            raise error.at(f"{one.where or 'points'}: {piece.name}") from None
        outline = outline.with_point(vertex, rule=one.rule)
    if outline is piece.outline and notches is piece.notches:
        return piece
    return replace(piece, outline=outline, notches=notches)


def named_alike(marked: Iterable[Piece], rules: RuleTable) -> tuple[list[Piece], list[Finding]]:
    """The pieces with the rules that the table has for places of its own: `front:underarm` in
    place of what that point bears, else the rule of its own name at each named point that has
    none, with a note for each piece with such points.

    Raises InputError where no point or notch of any piece has a rule then.
    """
    pieces = list(marked)
    found: list[Finding] = []
    for k, piece in enumerate(pieces):
        outline = piece.outline
        for point in outline.points:
            own = f"{piece.name}:{point.name}"
            if own in rules.names:
                outline = outline.with_point(point.vertex, rule=own)
        points = [p for p in outline.points if p.rule is None and p.name in rules.names]
        for point in points:
            outline = outline.with_point(point.vertex, rule=point.name)
        if outline is not piece.outline:
            pieces[k] = replace(piece, outline=outline)
        if points:
            text = (
                f"points take the rule of their own name: {', '.join(p.name or '' for p in points)}"
            )
            found.append(piece.finding("rule-by-name", "note", text))
    if not any(True for _ in _ruled_places(pieces)):
        names = sorted({p.name for piece in pieces for p in piece.outline.points if p.name})
        there = f"points named {', '.join(names)}" if names else "no named point"
        raise InputError(
            f"no point uses any rule of this table, so every size would be the same; "
            f"the pattern has {there}",
            where=rules.name,
            cure=f"Name points after its rules ({', '.join(rules.names)}), or give them rules "
            "in the drawing or in a table of points (piece,point,rule).",
        )
    return pieces, found


def check_points(pieces: Sequence[Piece], points: Iterable[PointRule]) -> None:
    names = {p.name for p in pieces}
    for one in points:
        if one.piece not in names:
            raise LookupFailed(
                f'no piece "{one.piece}"',
                where=one.where,
                cure=f"Pieces: {', '.join(sorted(names))}.",
            )


def check_rules(pieces: Sequence[Piece], rules: RuleTable) -> None:
    """Every rule that a point or notch bears must be in the table."""
    missing: dict[str, list[str]] = {}
    for where, rule in _ruled_places(pieces):
        for name in rules_in(rule, where):
            if name not in rules.names:
                missing.setdefault(name, []).append(where)
    if missing:
        each = "; ".join(f'"{rule}" at {", ".join(at)}' for rule, at in missing.items())
        raise LookupFailed(
            f"the table has no rule {each}",
            where=rules.name,
            cure=f"Its rules: {', '.join(rules.names)}.",
        )


def _ruled_places(pieces: Iterable[Piece]) -> Iterator[tuple[str, str]]:
    """Every point and notch with a rule, as messages name it, and the rule."""
    for piece in pieces:
        for point in piece.outline.points:
            if point.rule is not None:
                number = piece.outline.corner_number(point.vertex)
                name = point.name or (f"#{number}" if number else f"vertex {point.vertex}")
                yield f"{piece.name}:{name}", point.rule
        for notch in piece.notches:
            if notch.rule is not None:
                yield f"{piece.name}:{notch.name or 'notch'}", notch.rule


def rules_in(rule: str, where: str) -> tuple[str, ...]:
    """Names of the rules in a rule or mixture; InputError tells `where` it cannot be read."""
    try:
        return parse_mixture(rule).rules
    except InputError as error:
        raise error.at(where) from None


def check_truing(pieces: Sequence[Piece], truing: Truing) -> None:
    names = {p.name for p in pieces}
    for reference in truing.square:
        piece, _ = split_reference(reference)
        if piece is None:
            raise InputError(
                f'"{reference}" does not name a corner', cure="Write it as piece:point."
            )
        if piece not in names:
            raise LookupFailed(f'no piece "{piece}"', cure=f"Pieces: {', '.join(sorted(names))}.")
    for one in pieces:
        truing.square_on(one)


def unused_rules(pieces: Sequence[Piece], rules: RuleTable) -> list[Finding]:
    used = {name for where, rule in _ruled_places(pieces) for name in rules_in(rule, where)}
    idle = [name for name in rules.names if name not in used]
    if not idle:
        return []
    return [
        Finding(
            "rules-unused",
            "note",
            f"no point uses {'these rules' if len(idle) > 1 else 'this rule'}: {', '.join(idle)}",
            cure="Give points their rules, or look for a misspelt name.",
        )
    ]


def far_from_base(size: str, base: str, steps: float) -> Finding:
    return Finding(
        "far-from-base",
        "warn",
        f"size {size} is {round(steps, 2):g} sizes from the base {base}, where rules are less sure",
        size=size,
        cure="Sew a trial garment before cutting the cloth.",
    )
