"""The page put together: head, board, seams, what to cut, findings; style and script inside."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from hashlib import sha256
from importlib.resources import files
from itertools import pairwise
from typing import Any

from sizewright import palette
from sizewright.findings import Finding, grouped
from sizewright.model import Pattern
from sizewright.palette import Line
from sizewright.pictures import Canvas, allowance_words, cutting_words
from sizewright.plugin import Making, Values
from sizewright.units import both

from ..cutting_list import next_steps
from . import tables
from .board import Board
from .html import Html, data, el, joined, name, void

_KEYS = (
    "Tab goes to the board and then to an edge; the arrow keys go from edge to edge, or move the "
    "board. Enter keeps an edge lit, Escape lets go. + and − zoom, 0 shows everything."
)
_COLOURS = ("INK", "SEWING", "FOLDING", "GRAIN", "FAULT", "QUIET", "LINEN", "CLOTH", "PAPER")


def page(pattern: Pattern, values: Values) -> tuple[str, tuple[Finding, ...]]:
    """The file's text, and findings of the lays that it shows."""
    making: Making | None = values["making"]
    cut = values["cut"] or _drawn_size(pattern)
    board = Board(pattern, cut[0] if cut else "", making.drawn if making else None)
    part = pattern.with_pieces(p for p in pattern.pieces if p.size in (None, *cut))
    lays, laid = _lays(part, values)
    pieces, to_cut = _board(board), _to_cut(pattern, part, lays, values)
    found = list(making.found()) if making else []
    shown = grouped([*found, *laid])
    seams, facts = tables.seams(pattern, found)
    told = {"sizes": list(board.sizes), "front": board.front, "seams": facts}
    seams = joined(el("div", seams, class_="seams"), tables.joints(pattern))
    steps = (el("li", step) for step in next_steps(pattern))
    body = joined(
        _head(pattern, values["note"], shown),
        el(
            "main",
            el("section", el("h2", "Pieces", id="board-head"), pieces),
            el("section", el("h2", "Seams", id="seams"), seams),
            el("section", el("h2", "To cut", id="to-cut"), to_cut),
            el(
                "section",
                el("h2", "Findings", id="findings"),
                tables.findings(pattern, shown, board),
            ),
            el("section", el("h2", "What to do next", id="next"), el("ol", *steps)),
        ),
        el("footer", el("p", "Made by sizewright. This page needs no network.")),
    )
    return _document(pattern.title or "Pattern", body, told), laid


def _drawn_size(pattern: Pattern) -> tuple[str, ...]:
    if pattern.base_size in pattern.sizes and pattern.base_size is not None:
        return (pattern.base_size,)
    return pattern.sizes[len(pattern.sizes) // 2 :][:1]


# --- parts ------------------------------------------------------------------------


def _head(pattern: Pattern, note: str, shown: Sequence[Finding]) -> Html:
    facts = [f"{len(pattern.names)} pieces" if len(pattern.names) > 1 else "1 piece"]
    if pattern.sizes:
        facts.append(f"size{'s' * (len(pattern.sizes) > 1)} {', '.join(pattern.sizes)}")
    if pattern.base_size:
        facts.append(f"drawn in {pattern.base_size}")
    parts = [el("h1", name(pattern.title or "Pattern")), el("p", name(" · ".join(facts)))]
    for size, body in pattern.bodies.items():
        measures = ", ".join(f"{measure} {both(mm)}" for measure, mm in body.measures.items())
        stretch = ", for cloth that stretches" if body.stretch else ""
        parts.append(el("p", "Size ", name(size), " is for ", name(measures), stretch))
    if note:
        parts.append(el("p", name(note)))
    bad = sum(one.level == "fail" for one in shown)
    doubtful = sum(one.level == "warn" for one in shown)
    if bad or doubtful:
        words = [f"{bad} to mend"] * bool(bad) + [f"{doubtful} to check"] * bool(doubtful)
        sign = el("span", "✗" if bad else "!", aria_hidden="true")
        link = el("a", f"{' and '.join(words)}: see the findings", href="#findings")
        parts.append(el("p", sign, " ", link, class_="bad" if bad else "warn"))
    links = (("board-head", "Pieces"), ("seams", "Seams"), ("to-cut", "To cut"),
             ("findings", "Findings"), ("next", "What to do next"))  # fmt: skip
    items = (el("li", el("a", words, href=f"#{to}")) for to, words in links)
    return el("header", *parts, el("nav", el("ul", *items), aria_label="On this page"))


def _board(board: Board) -> Html:
    return joined(
        _controls(board),
        el("div", board.svg(), class_="frame"),
        el("p", _KEYS, id="keys"),
        el("div", el("p", "Point at an edge, or tap it, for its length."), id="told"),
        _scale(board),
        el("div", *_pieces(board), class_="pieces"),
    )


def _to_cut(pattern: Pattern, part: Pattern, lays: Html, values: Values) -> Html:
    return joined(tables.cutting(pattern), lays, *([_map(part, values)] if values["map"] else []))


def _controls(board: Board) -> Html:
    parts = []
    if board.front:
        boxes, options = [], []
        for number, size in enumerate(board.sizes):
            line = board.lines[size]
            canvas = Canvas(30.0, 6.0, weight=2.6)
            canvas.polyline([(1.0, 3.0), (29.0, 3.0)], line)
            swatch = el("svg", Html(canvas.elements), viewBox="0 0 30 6", aria_hidden="true")
            box = void("input", type="checkbox", checked="", data_size=str(number))
            boxes.append(el("label", box, swatch, name(size)))
            chosen = {"selected": ""} if size == board.front else {}
            options.append(el("option", size, value=str(number), **chosen))
        parts.append(el("fieldset", el("legend", "Sizes shown"), *boxes, class_="sizes"))
        parts.append(el("label", "In front ", el("select", *options, id="front")))
    if board.drawn is not None:
        box = void("input", type="checkbox", id="before")
        base = board.pattern.base_size
        words = f"As it was drawn, size {base} (dotted)" if base else "As it was drawn (dotted)"
        parts.append(el("label", box, words))
    buttons = (("in", "+", "Zoom in"), ("out", "−", "Zoom out"), ("fit", "Show all", "Show all"))
    made = (el("button", words, type="button", data_zoom=do, aria_label=label)
            for do, words, label in buttons)  # fmt: skip
    parts.append(el("span", *made, class_="zoom"))
    return el("div", *parts, class_="controls", role="group", aria_label="The drawing")


def _scale(board: Board) -> Html:
    """A bar of 10 cm and one of 4 in, as long as they are on the board; the script keeps them."""
    mm = {"10 cm": 100.0, "4 in": 101.6}
    bars = (
        el("span", el("i", data_long=f"{long * board.scale:.3f}"), words)
        for words, long in mm.items()
    )
    return el("p", *bars, " on the drawing: do not cut from it", class_="scale", aria_hidden="true")


def _pieces(board: Board) -> Iterator[Html]:
    heads = ("edge", "as sewn", "allowance", "seam")
    for number, group in enumerate(board.groups):
        one = next((p for p in group if p.size == board.front), group[len(group) // 2])
        facts = ", ".join(fact for fact in (cutting_words(one), allowance_words(one)) if fact)
        kept = [
            el("template", el("table", board.edge_table(piece)),
               data_rows=str(number), data_size=str(board.sizes.index(piece.size)))
            for piece in group
            if piece.size is not None
        ]  # fmt: skip
        size = el("span", name(one.size or ""), class_="size") if one.size else Html("")
        yield el(
            "article",
            el("h3", name(one.name)),
            el("p", name(facts)),
            el("button", "Show in the drawing", type="button", data_show_piece=str(number)),
            board.story(number),
            el(
                "details",
                el("summary", "Edges", joined(" in size ", size) if one.size else ""),
                tables.table(heads, board.edge_table(one), f"Edges of {one.name}"),
            ),
            *kept,
            data_about=str(number),
        )


def _lays(part: Pattern, values: Values) -> tuple[Html, tuple[Finding, ...]]:
    """The lay of each cloth; findings of them."""
    if not values["cloths"]:
        return Html(""), ()
    from ..lay.drawings import as_svg
    from ..lay.report import facts, report

    parts: list[Html] = []
    found: list[Finding] = []
    for cloths in values["cloths"]:
        for cloth in cloths.cloths:
            lay, more = cloths.lay(cloth, part, float(values["seconds"]), values["seed"])
            found += [*cloths.homeless(part), *more, *report(lay)]
            words = "; ".join(facts(lay))
            svg = as_svg(part, lay).decode("utf-8").replace("<svg ", '<svg role="img" ', 1)
            parts.append(el("h3", "On the ", name(cloth.name)))
            caption = el("figcaption", name(words))
            parts.append(el("figure", Html(svg), caption))
    return joined(*parts), tuple(dict.fromkeys(found))


def _map(part: Pattern, values: Values) -> Html:
    """The map of the pages that the sizes to cut take."""
    from ..tiling.cover import draw_map, pages_words
    from ..tiling.layout import lay_out

    fixed = {"pack": True, "gap": 6.0, "turn": "quarter", "nest": True}
    layout, _ = lay_out(part, {**values, **fixed})
    scale = 180.0 / layout.width
    pen: Any = _MapPen(180.0, layout.height * scale)
    draw_map(pen, layout, 0.0, 0.0, scale)
    numbers = (f"{item.number} {item.name}" for item in layout.items)
    svg = el(
        "svg",
        Html(pen.elements),
        viewBox=f"-1 -1 182 {layout.height * scale + 2:.2f}",
        role="img",
        aria_label="Map of the pages",
    )
    sizes = ", ".join(part.sizes)
    words = f"{pages_words(layout)}{f' for size {sizes}' if sizes else ''}: {', '.join(numbers)}"
    return joined(el("h3", "Pages"), el("figure", svg, el("figcaption", name(words))))


class _MapPen(Canvas):
    """Draws on a picture what is drawn on a page of a PDF."""

    _window: tuple[float, float, float, float] | None = None

    def polyline(
        self,
        points: Any,
        line: Line | None,
        *,
        closed: bool = False,
        fill: str = "none",
    ) -> None:
        """Straight lines through points, as far as the window shows them."""
        if self._window is None:
            super().polyline(points, line, closed=closed, fill=fill)
            return
        from shapely import LineString, box

        for one in pairwise(points):
            shown = LineString(one).intersection(box(*self._window))
            if shown.length > 0.0:
                super().polyline(list(shown.coords), line)

    def box(
        self, x0: float, y0: float, x1: float, y1: float, line: Line | None, fill: str = "none"
    ) -> None:
        """An upright rectangle."""
        self.polyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], line, closed=True, fill=fill)

    @contextmanager
    def clipped(self, window: tuple[float, float, float, float]) -> Iterator[None]:
        """Only what lies within (x0, y0, x1, y1) is drawn."""
        self._window = window
        yield
        self._window = None


# --- the document -----------------------------------------------------------------


def _document(title: str, body: Html, told: Any) -> str:
    here = files(__package__)
    colours = "".join(f"--{c.lower()}:{getattr(palette, c)};" for c in _COLOURS)
    style = f":root{{{colours}}}\n" + here.joinpath("card.css").read_text("utf-8")
    script = here.joinpath("card.js").read_text("utf-8")
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    head = joined(
        void("meta", charset="utf-8"),
        void("meta", http_equiv="Content-Security-Policy", content=policy),
        void("meta", name="viewport", content="width=device-width, initial-scale=1"),
        void("meta", name="generator", content="sizewright"),
        el("title", title),
        el("style", Html(style)),
    )
    told_data = el("script", data(told), type="application/json", id="data")
    run = el("script", Html(script))
    whole = el("html", el("head", head), "\n", el("body", body, told_data, run), lang="en")
    return f"<!doctype html>\n{whole}\n"


def _hash(text: str) -> str:
    return "sha256-" + b64encode(sha256(text.encode("utf-8")).digest()).decode("ascii")
