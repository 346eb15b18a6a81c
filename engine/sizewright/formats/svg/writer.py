"""Patterns as SVG: small, true to scale, and the same to the byte for the same pattern."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ...errors import SizewrightError
from ...findings import Finding
from ...model import Pattern, Piece, Quantity, Seam, format_seam, parse_seams
from ...palette import CUT_LINE, GRAIN, PLAIN_LINE, SEW_LINE, SIZE_LINES, Line
from .features_out import inner_tags, label_tags, line_tags, shaping_tags
from .names_out import picture_tags
from .notches_out import notch_tags
from .numbers_out import Frame, number
from .outline_out import marker_tags, outline_tag, runs_text
from .page_out import on_page
from .pen import Pen, stroke
from .sizes_out import Key, SizeName, size_names, size_tags
from .xml_out import Ids, Tag, can_hold, without_forbidden

_OUTLINE = {"sew": SEW_LINE, "cut": CUT_LINE, "unknown": PLAIN_LINE}


@dataclass(frozen=True, slots=True)
class Written:
    """The text of an SVG file, and what of the pattern it could not hold as it was."""

    text: str
    findings: tuple[Finding, ...] = ()


def write_svg(pattern: Pattern) -> Written:
    """The pattern as SVG in mm on its page, for any vector editor and for `read_svg`.

    Everything of the model comes back within 1e-6 mm; what cannot (a name with characters
    that XML does not know, a seam that no phrase can say) is in the findings. A pattern of
    several sizes has a layer for each.
    """
    pattern, frame, findings = on_page(pattern)
    ids = Ids()
    for known in ("arrow", "arrow-back"):
        ids.take(known)
    root = _root(pattern, frame, findings)
    if any(piece.grain for piece in pattern.pieces):
        root.children.append(_arrows())
    named = size_names(pattern, frame)
    for size in dict.fromkeys(piece.size for piece in pattern.pieces):
        pieces = [
            _piece(pattern, p, frame, ids, findings, named)
            for p in pattern.pieces
            if p.size == size
        ]
        if len(pattern.sizes) > 1 and size is not None:
            pieces = [_layer(size, pieces, ids)]
        root.children += pieces
    text = "\n".join(['<?xml version="1.0" encoding="UTF-8"?>', *root.lines(), ""])
    return Written(text, tuple(findings))


def _root(pattern: Pattern, frame: Frame, findings: list[Finding]) -> Tag:
    width, height = number(frame.width), number(frame.height)
    base = pattern.base_size
    if not all(can_hold(text) for text in (pattern.title, base or "")):
        text = "the title or base size has characters that XML cannot hold"
        findings.append(Finding("name-changed", "warn", text))
    root = Tag(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "xmlns:inkscape": "http://www.inkscape.org/namespaces/inkscape",
            "width": f"{width}mm",
            "height": f"{height}mm",
            "viewBox": f"0 0 {width} {height}",
            "fill": "none",
            "stroke-linejoin": "round",
            "font-family": "sans-serif",
            "data-base-size": None if base is None else without_forbidden(base),
            "data-seams": _seams(pattern, findings),
        },
    )
    if pattern.title:
        root.children.append(Tag("title", {}, without_forbidden(pattern.title)))
    return root


def _seams(pattern: Pattern, findings: list[Finding]) -> str | None:
    """The seams as phrases, each tried on the reader first."""
    phrases = []
    for seam in pattern.seams:
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


def _words(seam: Seam) -> Seam:
    """A seam without its amounts, which a phrase holds to twelve figures only."""
    ease = seam.ease and replace(seam.ease, amount=0.0)
    return replace(seam, ease=ease, notches=tuple(replace(n, along=0.0) for n in seam.notches))


def _arrows() -> Tag:
    """Arrow heads for both ends of a grain line; editors draw them, readers leave them out."""
    heads = (
        ("arrow", "M 0 0.5 L 7 3 L 0 5.5 Z", "7"),
        ("arrow-back", "M 7 0.5 L 0 3 L 7 5.5 Z", "0"),
    )
    return Tag(
        "defs",
        children=[
            Tag(
                "marker",
                {
                    "id": name,
                    "orient": "auto",
                    "markerUnits": "userSpaceOnUse",
                    "markerWidth": "8",
                    "markerHeight": "6",
                    "refX": ref,
                    "refY": "3",
                },
                children=[Tag("path", {"d": data, "fill": GRAIN, "stroke": "none"})],
            )
            for name, data, ref in heads
        ],
    )


def _layer(size: str, pieces: list[Tag], ids: Ids) -> Tag:
    held = without_forbidden(size)
    attributes: dict[str, str | None] = {
        "id": ids.take(f"size-{held}"),
        "inkscape:groupmode": "layer",
        "inkscape:label": held,
        "data-size": held,
    }
    return Tag("g", attributes, children=pieces)


def _piece(
    pattern: Pattern,
    piece: Piece,
    frame: Frame,
    ids: Ids,
    findings: list[Finding],
    named_sizes: Mapping[Key, SizeName],
) -> Tag:
    first = next(p for p in pattern.pieces if p.name == piece.name)
    pen = Pen(piece, frame, ids, "" if piece is first else f"-{piece.size or 'no-size'}")
    named = pen.named(pen.held(piece.name, "the name of the piece") or "")
    tag = Tag("g", {**named, **_about(pattern, pen)})
    if piece.story:
        tag.children.append(Tag("desc", {}, "\n".join(_story(pen))))
    tag.children += shaping_tags(pen) + _outlines(pattern, pen)
    tag.children += line_tags(pen) + inner_tags(pen) + notch_tags(pen) + label_tags(pen)
    tag.children += marker_tags(pen)
    tag.children += size_tags(pen, named_sizes.get(piece.key), _size_line(pattern, piece))
    own = [place.body for key, place in named_sizes.items() if key[0] == piece.name]
    taken_up = np.vstack(own) if own else None
    whole = piece is _shown(pattern, piece)
    tag.children += picture_tags(pen, whole=whole, taken_up=taken_up)
    findings += pen.findings
    return tag


def _about(pattern: Pattern, pen: Pen) -> dict[str, str | None]:
    piece = pen.piece
    if piece.cut_line is not None and piece.kind != "sew":
        pen.found("kind-not-held", f"the inner line will be a sewing line, not {piece.kind}")
    quantity = ", ".join(_quantity(pen, q) for q in piece.quantity)
    allowance = None if piece.allowance is None else f"{number(piece.allowance)} mm"
    return {
        "data-piece": pen.held(piece.name, "the name of the piece"),
        "data-size": pen.held(piece.size, "the size"),
        "data-quantity": quantity or None,
        "data-pair": "yes" if piece.pair else None,
        "data-outline": piece.drawn_kind,
        "data-allowance": allowance,
        "data-side": None if piece.side == "both" else piece.side,
        "data-base": _base(pattern, pen),
        "data-runs": runs_text(pen, piece.outline),
    }


def _quantity(pen: Pen, quantity: Quantity) -> str:
    material = pen.held(quantity.material, "a material") or ""
    plain = " ".join(material.replace(",", " ").split())
    if plain != quantity.material or not plain:
        pen.found("name-changed", f'the material "{material}" is written "{plain or "main"}"')
    return f"{plain or 'main'} {quantity.count}"


def _base(pattern: Pattern, pen: Pen) -> str | None:
    """The size of the piece that this one was graded from, where the file holds that piece."""
    base = pen.piece.base
    if base is None:
        return None
    if any(p.key == base.key and p.outline == base.outline for p in pattern.pieces):
        return without_forbidden(base.size or "")
    pen.found(
        "base-not-held",
        "the piece that it was graded from is not in the file",
        cure="Write the base size too, to grade on from it.",
        level="note",
    )
    return None


def _story(pen: Pen) -> Iterable[str]:
    for step in pen.piece.story:
        text = pen.held(step, "a step of the story") or ""
        line = " ".join(text.split())
        if line != text or not line:
            pen.found("story-changed", "blanks or line breaks in the story were lost")
        if line:
            yield line


def _shown(pattern: Pattern, piece: Piece) -> Piece:
    """The one of a piece's sizes that bears its name for the eye."""
    return pattern.piece(piece.name)


def _outlines(pattern: Pattern, pen: Pen) -> list[Tag]:
    piece = pen.piece
    nest = _size_line(pattern, piece)
    if piece.cut_line is None:
        return [outline_tag(pen, piece.outline, "outline", nest or _OUTLINE[piece.kind])]
    outer = outline_tag(pen, piece.cut_line, "outline", nest or CUT_LINE)
    inner = outline_tag(pen, piece.outline, "sew", SEW_LINE)
    if nest is not None:
        inner.attributes = {**inner.attributes, **stroke(SEW_LINE), "stroke": nest.colour}
    return [outer, inner]


def _size_line(pattern: Pattern, piece: Piece) -> Line | None:
    if len(pattern.sizes) < 2 or piece.size is None:
        return None
    return SIZE_LINES[pattern.sizes.index(piece.size) % len(SIZE_LINES)]
