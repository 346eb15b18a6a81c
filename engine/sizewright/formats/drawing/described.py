"""A pattern as any file draws it: shapes with what they say, no format in it.

Each writer puts these down in its own way: SVG as elements with `data-` attributes, DXF as
entities with extended data. What a piece, a line or a point says is settled here alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ...errors import SizewrightError
from ...findings import Finding
from ...geometry.path import Path
from ...model import (
    ChainPart,
    Dart,
    Pattern,
    Piece,
    Quantity,
    Seam,
    Side,
    counts_backward,
    format_allowances,
    format_bodies,
    format_seam,
    parse_seams,
)
from .described_lines import draw_fold, draw_markers, draw_outlines, marked_edges, runs_text
from .described_notches import draw_notches
from .scribe import Facts, Figure, Ids, Named, Scribe, can_hold, without_forbidden
from .settled import number, settled

_DRILL_RADIUS = 1.5
_HOLD_RADIUS = 1.6
#: A dart's point this near its vertex, in mm, is at it.
_AT = 1e-6


class Described(NamedTuple):
    """A piece with its numbers as files hold them, what it says, its story, and its shapes.

    `suffix` stands behind all its ids.
    """

    piece: Piece
    suffix: str
    named: Named
    says: Facts
    story: tuple[str, ...]
    shapes: tuple[Figure, ...]


class Description(NamedTuple):
    """A pattern: what it says as a whole, its pieces size by size, and what cannot be said.

    `ids` hands out further ids that are not taken.
    """

    title: str
    says: Facts
    pieces: tuple[Described, ...]
    findings: tuple[Finding, ...]
    ids: Ids


def describe(pattern: Pattern, *, taken: Iterable[str] = ()) -> Description:
    """What a pattern puts on paper, where it lies. `taken` ids are not given to shapes."""
    findings: list[Finding] = []
    base = pattern.base_size
    if not all(can_hold(text) for text in (pattern.title, base or "")):
        text = "the title or base size has characters that XML cannot hold"
        findings.append(Finding("name-changed", "warn", text))
    says: Facts = {
        "base-size": None if base is None else without_forbidden(base),
        "seams": _seams(pattern, findings),
        "bodies": format_bodies(pattern.bodies) if pattern.bodies else None,
    }
    ids = Ids(*taken)
    pieces = []
    for size in dict.fromkeys(piece.size for piece in pattern.pieces):
        for piece in pattern.pieces:
            if piece.size == size:
                pieces.append(_piece(pattern, piece, ids, findings))
    title = without_forbidden(pattern.title)
    return Description(title, says, tuple(pieces), tuple(findings), ids)


# --- the pattern ------------------------------------------------------------------------


def _seams(pattern: Pattern, findings: list[Finding]) -> str | None:
    """The seams as phrases, each tried on the reader first."""
    phrases = []
    for seam in (_as_read(pattern, one, findings) for one in pattern.seams):
        phrase = format_seam(seam)
        try:
            again = parse_seams(phrase)
        except SizewrightError:
            again = ()
        if can_hold(phrase) and [_words(s) for s in again] == [_words(seam)]:
            phrases.append(phrase)
        else:
            text = "a seam with such names cannot be written down"
            cure = "Use names without any of : ; = + , and line breaks."
            findings.append(Finding("seam-not-held", "warn", text, place=seam.name, cure=cure))
    return "; ".join(phrases) or None


def _as_read(pattern: Pattern, seam: Seam, findings: list[Finding]) -> Seam:
    """A seam as it is named for who reads the file, where pieces have lost their bases.

    Which way a run counts is settled on the base. Without it the shape of the size tells, and a
    run that then counts the other way gets the other sign.
    """

    def turned(part: ChainPart) -> ChainPart:
        ways = set()
        for piece in pattern.pieces:
            if piece.name == part.piece and piece.base is not None:
                try:
                    run = piece.run(part.run)
                except SizewrightError:
                    return part  # a broken seam is for the check of seams to tell
                alone = piece if _has_base(pattern, piece) else replace(piece, base=None)
                ways.add(counts_backward(piece, run) != counts_backward(alone, run))
        if len(ways) > 1:
            text = f"{part.piece}:{part.run} will not count alike in all sizes"
            cure = "Write the base size too, or each size into a file of its own."
            findings.append(Finding("run-turned", "warn", text, part.piece, "", seam.name, cure))
        return replace(part, reverse=not part.reverse) if ways == {True} else part

    return replace(
        seam, first=tuple(map(turned, seam.first)), second=tuple(map(turned, seam.second))
    )


def _words(seam: Seam) -> Seam:
    """A seam without its amounts, which a phrase holds to twelve figures only."""
    ease = seam.ease and replace(seam.ease, amount=0.0)
    return replace(seam, ease=ease, notches=tuple(replace(n, along=0.0) for n in seam.notches))


# --- a piece ------------------------------------------------------------------------------


def _piece(pattern: Pattern, piece: Piece, ids: Ids, findings: list[Finding]) -> Described:
    first = next(p for p in pattern.pieces if p.name == piece.name)
    suffix = "" if piece is first else f"-{piece.size or 'no-size'}"
    scribe = Scribe(settled(piece), ids, suffix)
    marked = marked_edges(scribe.piece.outline)
    named = ids.named(piece.name, suffix)
    says = _about(scribe)
    says["base"] = _base(pattern, piece, scribe)
    says["runs"] = runs_text(scribe, scribe.piece.outline, marked)
    story = tuple(_story(scribe))
    _draw_shaping(scribe)
    draw_outlines(scribe)
    draw_fold(scribe)
    _draw_directions(scribe)
    _draw_inner(scribe)
    draw_notches(scribe)
    _draw_labels(scribe)
    draw_markers(scribe, marked)
    findings += scribe.findings
    return Described(scribe.piece, suffix, named, says, story, tuple(scribe.shapes))


def _about(scribe: Scribe) -> Facts:
    """All that is said of a piece as a whole."""
    piece = scribe.piece
    if piece.cut_line is not None and piece.kind != "sew":
        scribe.found("kind-not-held", f"the inner line will be a sewing line, not {piece.kind}")
    return {
        "piece": scribe.held(piece.name, "the name of the piece"),
        "size": scribe.held(piece.size, "the size"),
        "quantity": ", ".join(_quantity(scribe, q) for q in piece.quantity) or None,
        "pair": "yes" if piece.pair else None,
        "outline": piece.drawn_kind,
        "allowance": None if piece.allowance is None else f"{number(piece.allowance)} mm",
        "allowances": _allowances(scribe),
        "side": _side(piece.side),
        "faces": piece.faces,
    }


def _allowances(scribe: Scribe) -> str | None:
    """What is meant by the allowance, in the names of the sewing line."""
    piece = scribe.piece
    if piece.allowances is None:
        return None
    return scribe.held(format_allowances(piece.allowances, piece.outline), "the allowance")


def _quantity(scribe: Scribe, quantity: Quantity) -> str:
    material = scribe.held(quantity.material, "a material") or ""
    plain = " ".join(material.replace(",", " ").split())
    if plain != quantity.material or not plain:
        scribe.found("name-changed", f'the material "{material}" is written "{plain or "main"}"')
    return f"{plain or 'main'} {quantity.count}"


def _base(pattern: Pattern, piece: Piece, scribe: Scribe) -> str | None:
    """The size of the piece that this one was graded from, where the file holds that piece."""
    base = piece.base
    if base is None:
        return None
    if _has_base(pattern, piece):
        return without_forbidden(base.size or "")
    text = "the piece that it was graded from is not in the file"
    cure = "Write the base size too, to grade on from it."
    scribe.found("base-not-held", text, cure=cure, level="note")
    return None


def _has_base(pattern: Pattern, piece: Piece) -> bool:
    """Whether the pattern holds what a piece was graded from."""
    base = piece.base
    return base is not None and any(
        p.key == base.key and p.outline == base.outline for p in pattern.pieces
    )


def _story(scribe: Scribe) -> Iterable[str]:
    for step in scribe.piece.story:
        text = scribe.held(step, "a step of the story") or ""
        line = " ".join(text.split())
        if line != text or not line:
            scribe.found("story-changed", "blanks or line breaks in the story were lost")
        if line:
            yield line


def _side(side: Side) -> str | None:
    return None if side == "both" else side


# --- what it bears --------------------------------------------------------------------------


def _draw_shaping(scribe: Scribe) -> None:
    """Darts, pleats and holds: lines between vertices."""
    for dart in scribe.piece.darts:
        name = scribe.held(dart.name, "the name of a dart")
        says: Facts = {"dart": name, "tip": "no" if dart.tip is None else None}
        scribe.through("dart", says, _legs(scribe, dart), name)
    for pleat in scribe.piece.pleats:
        name = scribe.held(pleat.name, "the name of a pleat")
        ends = [scribe.vertex(pleat.a), scribe.vertex(pleat.b)]
        scribe.through("pleat", {"pleat": name}, ends, name)
    for hold in scribe.piece.holds:
        name = scribe.held(hold.name, "the name of a hold")
        places = [scribe.vertex(v) for v in hold.vertices]
        if len(places) == 1:
            says = {"hold": "point", "name": name}
            scribe.dot("hold", says, places[0], _HOLD_RADIUS, name)
        else:
            scribe.through("hold", {"hold": "yes", "name": name}, places, name)


def _legs(scribe: Scribe, dart: Dart) -> list[tuple[float, float]]:
    """Mouth, point, mouth; the outline's own vertex twice where the point lies off it."""
    places = [dart.apex]
    if dart.tip is not None:
        tip = scribe.vertex(dart.tip)
        off = np.hypot(tip[0] - dart.apex[0], tip[1] - dart.apex[1])
        places = [tip] if off <= _AT else [tip, dart.apex, tip]
    return [scribe.vertex(dart.a), *places, scribe.vertex(dart.b)]


def _draw_directions(scribe: Scribe) -> None:
    """Grade axis, adjust lines and grain."""
    axis, grain = scribe.piece.axis, scribe.piece.grain
    if axis is not None:
        given = None if axis.given else "no"
        says: Facts = {"role": "axis", "ends": "1", "given": given, "away": axis.away}
        scribe.line("axis", says, Path.polyline([axis.start, axis.end]))
    for adjust in scribe.piece.adjusts:
        name = scribe.held(adjust.name, "the name of an adjust line")
        scribe.line("adjust", {"role": "adjust", "name": name}, adjust.path, name)
    if grain is not None:
        says = {"role": "grain", "ends": str(grain.ends)}
        scribe.line("grain", says, Path.polyline([grain.start, grain.end]))


def _draw_inner(scribe: Scribe) -> None:
    """Cut-outs, marks and drill holes."""

    def about(role: str, name: str | None, side: Side, kind: str = "") -> Facts:
        return {
            "role": role,
            "kind": scribe.held(kind, f"the kind of a {role}") or None,
            "name": scribe.held(name, f"the name of a {role}"),
            "side": _side(side),
        }

    piece = scribe.piece
    for cutout in piece.cutouts:
        says = about("cutout", cutout.name, cutout.side)
        scribe.line("cutout", says, cutout.path, cutout.name)
    for mark in piece.marks:
        says = about("mark", mark.name, mark.side, mark.kind)
        scribe.line("mark", says, mark.path, mark.name)
    for drill in piece.drills:
        says = about("drill", drill.name, drill.side)
        scribe.dot("drill", says, drill.at, _DRILL_RADIUS, drill.name)


def _draw_labels(scribe: Scribe) -> None:
    for label in scribe.piece.labels:
        text = scribe.held(label.text, "a label") or ""
        if not text.strip():
            scribe.found("label-empty", "a label without text may be lost")
        scribe.write({"role": "label"}, replace(label, text=text))
