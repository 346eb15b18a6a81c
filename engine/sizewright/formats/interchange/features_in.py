"""What a block bears besides its outline: grain, axis, inner lines, labels, how many to cut."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from ...errors import InputError
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import (
    Axis,
    Grain,
    Label,
    Mark,
    OutlineKind,
    Piece,
    Quantity,
    parse_quantity,
)
from ...units import parse_length
from ..drawing.chains import join_ends
from ..drawing.drafts import Draft
from ..drawing.features import vec
from .blocks_in import Block
from .boundary_in import JOIN, Loop
from .layers import CUTOUT, GRAIN, INTERNAL, PLAID, REFERENCE, SEW, STRIPE

_MOST = 1000
_COUNTS = re.compile(r"[\d\s,;x/.]+")
_OWN_WORDS = re.compile(
    r"(?P<cut>CUT)\s+(?P<what>.+)|(?P<pair>PAIR)|OUTLINE\s+(?P<kind>sew|cut)|"
    r"ALLOWANCE\s+(?P<width>.+)|SIDE\s+(?P<side>left|right)",
    re.IGNORECASE,
)


def with_axis(block: Block, piece: Piece, draft: Draft) -> Piece:
    """The piece with its grain, and as its axis the x of rules: start to end of the grade
    reference line, else of the grain."""
    grains = sorted(block.paths.get(GRAIN, []), key=lambda p: -p.length)
    if len(grains) > 1:
        text = f"{len(grains)} lines on the grain's layer; the longest was taken"
        draft.find("grain-twice", "note", text)
    grain = Grain(vec(grains[0].start), vec(grains[0].end)) if grains else None
    piece = replace(piece, grain=grain)
    lines = [p for p in block.paths.get(REFERENCE, []) if (p.start != p.end).any()]
    ruled = any(p.rule for p in piece.outline.points)
    if lines:
        _tell_turned(lines, draft)
        axis = Axis(vec(lines[0].start), vec(lines[0].end))
        as_grain = grain is not None and (grain.start, grain.end) == (axis.start, axis.end)
        return replace(piece, axis=replace(axis, given=not as_grain))
    if ruled and grain is not None:
        text = "no grade reference line: rules count along the grain, from its start to its end"
        draft.find("axis-from-grain", "note", text)
        return replace(piece, axis=Axis(grain.start, grain.end, given=False))
    if ruled:
        text = "rules, but neither grade reference line nor grain: x was taken up the page"
        draft.find("axis-missing", "warn", text, "Draw a line on layer 5.")
    return piece


def _tell_turned(lines: list[Path], draft: Draft) -> None:
    step = lines[0].end - lines[0].start
    turned = [p for p in lines[1:] if abs(_sine(step, p.end - p.start)) > 1e-3]
    if turned:
        draft.find(
            "alternate-reference",
            "warn",
            f"{len(turned)} further grade reference lines lie in other directions; rules count "
            "from the first",
            "Check the points that should go by the others.",
        )


def mark_lines(block: Block, sewn: Loop | None) -> list[tuple[str, Path]]:
    """Internal, stripe and plaid lines joined end to end, and of which kind each is."""
    layers = {INTERNAL: "", STRIPE: "stripe", PLAID: "plaid"}
    if sewn is None:
        layers[SEW] = "sew"
    joined = {kind: join_ends(block.paths.get(layer, []), JOIN) for layer, kind in layers.items()}
    return [(k, c.path) for k, made in joined.items() for c in (*made.closed, *made.open)]


def marks_of(
    lines: Sequence[tuple[str, Path]],
    boundary: Loop,
    sewn: Loop | None,
    mirror: Floats | None,
    draft: Draft,
) -> tuple[Mark, ...]:
    """Marks of the inner lines, settled, and of lines that turned out to be part of no outline."""
    marks = [] if sewn is None else [Mark(p, "sew") for p in (*sewn.closed, *sewn.open)]
    marks += [Mark(path, kind) for kind, path in lines]
    if boundary.open:
        text = f"{len(boundary.open)} lines on the boundary's layer are no part of it; now marks"
        draft.find("boundary-loose", "warn", text)
        marks += [Mark(p) for p in boundary.open]
    if mirror is not None:
        marks.append(Mark(Path.polyline(mirror), "mirror"))
    return tuple(marks)


def cutout_lines(block: Block, boundary: Loop) -> tuple[list[Path], list[Path]]:
    """Closed lines of the cut-outs' layer and further ones of the boundary's; then open ones."""
    joined = join_ends(block.paths.get(CUTOUT, []), JOIN)
    return [*(c.path for c in joined.closed), *boundary.closed], [c.path for c in joined.open]


def tell_cutouts(boundary: Loop, left: Sequence[Path], draft: Draft) -> None:
    """Tell cut-outs that stood with the boundary, and those `left` out, which do not close."""
    if boundary.closed:
        text = f"{len(boundary.closed)} more closed lines on the boundary's layer became cut-outs"
        draft.find("inner-boundaries", "warn", text, "Put cut-outs on layer 11.")
    for path in left:
        text = "a cut-out does not close and was left out"
        draft.find("open-cutout", "warn", text, "Close it.", at=vec(path.end))


def labels_of(block: Block) -> tuple[Label, ...]:
    """Annotation texts."""
    return tuple(Label(t.text, t.at, t.height or 5.0, t.angle) for t in block.texts)


def with_words(block: Block, piece: Piece, draft: Draft) -> Piece:
    """The piece with quantity, material and annotation as its texts say them."""
    changes: dict[str, Any] = {}
    material = block.first("material") or "main"
    text = block.first("quantity")
    counts = [int(v) for v in re.findall(r"\d{1,4}", text)] if _COUNTS.fullmatch(text) else []
    if counts and sum(counts) < _MOST:
        changes["quantity"] = (Quantity(material, sum(counts)),)
        if len(counts) == 2 and counts[0] == counts[1] > 0:
            changes["pair"] = True
    elif text:
        draft.find("quantity-unknown", "warn", f'QUANTITY says "{text[:30]}", which is no number')
    else:
        draft.find("quantity-absent", "note", "the piece does not say how many to cut")
    labels: list[Label] = []
    for annotation in block.said.get("annotation", ()):
        rest = []
        for part in filter(None, map(str.strip, annotation.split(";"))):
            own = _own_words(part, piece.kind)
            if own is None:
                rest.append(part)
            else:
                changes |= own
        if rest:
            x0, y0, x1, y1 = piece.bounds
            labels.append(Label("; ".join(rest), ((x0 + x1) / 2, (y0 + y1) / 2)))
    return replace(piece, labels=(*piece.labels, *labels), **changes)


def _own_words(part: str, kind: OutlineKind) -> dict[str, Any] | None:
    """What words that Sizewright writes into an annotation say; None for other words."""
    match = _OWN_WORDS.fullmatch(part)
    if match is None:
        return None
    try:
        if match["cut"]:
            return {"quantity": parse_quantity(match["what"])}
        if match["pair"]:
            return {"pair": True}
        if match["side"]:
            return {"side": match["side"].lower()}
        if kind == "sew":
            return {}
        return (
            {"kind": match["kind"].lower()}
            if match["kind"]
            else {"allowance": parse_length(match["width"])}
        )
    except InputError:
        return None


def _sine(a: Floats, b: Floats) -> float:
    size = float((a @ a) * (b @ b)) ** 0.5
    return float(a[0] * b[1] - a[1] * b[0]) / size if size else 0.0
