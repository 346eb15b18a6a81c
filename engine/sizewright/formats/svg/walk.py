"""The drawing as it is seen: every shape in mm, with the groups it stands in.

Transforms, nested `svg`, `use`, `switch`, styles and visibility are settled here. What
is only defined (defs, symbols, clips, markers, patterns, metadata) is not walked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from ...budget import spend
from ...errors import InputError
from ...findings import Finding, Level
from ...geometry import affine
from ...geometry.types import Floats
from ..drawing.marking import marking_of
from ..drawing.shapes import Box, Drawing, Element, Group, Marking, Shape, Style
from .page import Page, fitted, view_box
from .path_data import MOST_SEGMENTS
from .shapes import SHAPES, Viewport, shape_data, to_path
from .styles import PAINT, Styles
from .text import first_words, font_size, text_line
from .transforms import parse_transform
from .values import numbers, user_length, within_reach
from .xml_tree import DEEPEST, Node

_CONTAINERS = frozenset({"svg", "g", "a", "switch", "symbol"})
_GEOMETRY = frozenset({"d", "x", "y", "cx", "cy", "r", "rx", "ry", "width", "height"})
#: What a shape costs of the budget of its file, and what the budget calls it.
_SHAPE_STEPS, _ON = 200, "its shapes"
#: So many elements may `use` add to those of the file.
_MOST_BY_USE = 10_000


class _State(NamedTuple):
    matrix: Floats
    group: Group
    viewport: Viewport
    font: float = 16.0
    gone: bool = False
    unseen: bool = False
    paint: Mapping[str, str] = MappingProxyType({})
    clear: bool = False
    carrier: Shape | None = None
    via: Node | None = None
    chain: tuple[Node, ...] = ()
    picture: bool = False


def walk(root: Node, page: Page) -> Drawing:
    """Every shape of the drawing. Raises InputError with the element that cannot be read."""
    # Transforms that run over are refused where a shape would be drawn by them.
    with np.errstate(over="ignore", invalid="ignore"):
        return _Walker(root, page).run()


class _Walker:
    def __init__(self, root: Node, page: Page) -> None:
        self.root = root
        self.page = page
        self.styles = Styles(root)
        self.by_id: dict[str, Node] = {}
        self.left = _MOST_BY_USE
        for node in root.below():
            self.left += 1
            if node.kind in SHAPES:
                spend(_SHAPE_STEPS, _ON)
            self.by_id.setdefault(node.get("id"), node)
        self.drawing = Drawing(root, page=page.size, border=page.border, title=_title(root))
        self.drawing.findings += page.findings
        self.clipped: list[tuple[Node, bool]] = []
        self.depth = 0
        self.segments = 0
        self._told: set[tuple[str, int]] = set()

    def run(self) -> Drawing:
        if self.styles.imports:
            text = "a style sheet asks for another file; it was not fetched"
            cure = "Save as plain SVG if something is missing."
            self._find("style-outside", "warn", text, cure)
        group = Group(self.root, None)
        declared = self.styles.of(self.root)
        state = _State(self.page.to_mm, group, self.page.viewport)
        state = self._inherit(state, declared, self.root)
        if "transform" in self.root.attributes or "transform" in declared:
            state = state._replace(matrix=self._moved(state, self.root, declared))
        self._children(self.root, state)
        clipped = [node for node, whole in self.clipped if not whole]
        if clipped:
            many = f" ({len(clipped)} things are)" if len(clipped) > 1 else ""
            text = f"clipped in the drawing{many}; read whole"
            cure = "Check the piece, or cut its line where the clip does."
            self._find("clipped", "warn", text, cure, clipped[0])
        return self.drawing

    def _find(
        self, code: str, level: Level, text: str, cure: str, node: Node | None = None
    ) -> None:
        """One finding, once for each element."""
        key = (code, id(node))
        if key not in self._told:
            self._told.add(key)
            place = node.place if node is not None else ""
            self.drawing.findings.append(Finding(code, level, text, place=place, cure=cure))

    # --- elements -------------------------------------------------------------

    def _children(self, node: Node, state: _State) -> None:
        for child in node.nodes:
            self._visit(child, state)

    def _visit(self, node: Node, state: _State) -> None:
        tag = node.kind
        if state.via is not None:
            spend(_SHAPE_STEPS, "what `use` adds")
        if tag not in SHAPES and tag not in _CONTAINERS and tag not in ("use", "text"):
            return
        if tag == "symbol":
            return
        self.left -= 1
        if self.left < 0:
            raise InputError(
                f"`use` adds more than {_MOST_BY_USE} elements to the drawing",
                where=node.place,
                cure="Unlink the clones, and take out everything but the pieces.",
            )
        if self.depth >= DEEPEST:
            raise InputError(
                f"groups and `use` are nested deeper than {DEEPEST}",
                where=node.place,
                cure="Unlink the clones.",
            )
        self.depth += 1
        try:
            self._element(node, state)
        except InputError as error:
            if not error.where.startswith("line "):
                error.at(node.place)
            raise
        self.depth -= 1

    def _element(self, node: Node, state: _State) -> None:
        declared = self.styles.of(node)
        state = self._inherit(state, declared, node)
        matrix = self._moved(state, node, declared)
        if matrix is not state.matrix:
            state = state._replace(matrix=matrix)
        first = len(self.drawing.shapes)
        self._drawn(node, state, declared)
        clips = [c for c in (declared.get("clip-path", ""), declared.get("mask", "")) if _clips(c)]
        if clips:
            box = self._clip_box(clips[0], state) if len(clips) == 1 else None
            shapes = self.drawing.shapes[first:]
            self.clipped.append((node, box is not None and _within(shapes, box)))

    def _clip_box(self, reference: str, state: _State) -> Box | None:
        """The box of a clip that is an upright rectangle, mm; None for any other."""
        clip = self.by_id.get(reference.strip().removeprefix("url(").strip("#'\") "))
        if clip is None or clip.kind != "clipPath" or len(clip.nodes) != 1 or clip.get("transform"):
            return None
        rect = clip.nodes[0]
        if (
            rect.kind != "rect"
            or rect.get("transform")
            or "BoundingBox" in clip.get("clipPathUnits")
        ):
            return None
        data = shape_data(rect, state.viewport, 1.0, MOST_SEGMENTS)
        path = to_path(data.subpaths[0], state.matrix) if len(data.subpaths) == 1 else None
        if path is None:
            return None
        x0, y0, x1, y1 = path.bounds
        upright = abs(abs(path.area) - (x1 - x0) * (y1 - y0)) <= 1e-6 * abs(path.area)
        return (x0, y0, x1, y1) if upright else None

    def _drawn(self, node: Node, state: _State, declared: dict[str, str]) -> None:
        marking = marking_of(node)
        if marking is not None and marking.picture:
            return
        if node.kind == "use":
            self._use(node, state, marking)
        elif node.kind in _CONTAINERS:
            self._container(node, self._carried(node, state, marking), state.via)
        else:
            self._shape(node, self._carried(node, state, marking), declared)

    def _carried(self, node: Node, state: _State, marking: Marking | None) -> _State:
        """The state below a marked element: what is drawn there belongs to its mark."""
        if marking is None:
            return state
        drawn = Shape(
            node,
            state.group,
            marking,
            len(self.drawing.shapes),
            state.via,
            state.gone or state.unseen,
        )
        self.drawing.shapes.append(drawn)
        return state._replace(carrier=drawn)

    def _container(self, node: Node, state: _State, via: Node | None) -> None:
        group = Group(node, state.group, via)
        if node.get("data-piece"):
            # A piece within a marked group stands for itself.
            state = state._replace(carrier=None)
        state = state._replace(group=group)
        if node.kind == "svg":
            state = self._nested(node, state)
        if node.kind == "switch":
            chosen = next((c for c in node.nodes if _fits(c)), None)
            if chosen is not None:
                self._visit(chosen, state)
            return
        self._children(node, state)

    def _nested(self, node: Node, state: _State, size: tuple[float, float] | None = None) -> _State:
        """The state inside an inner `svg`, or a symbol of a given size."""
        outer = state.viewport
        is_svg = node.kind == "svg"
        x = _length(node, "x", 0.0, outer.width) if is_svg else 0.0
        y = _length(node, "y", 0.0, outer.height) if is_svg else 0.0
        if size is None:
            size = (
                _length(node, "width", outer.width, outer.width),
                _length(node, "height", outer.height, outer.height),
            )
        width, height = size
        box = view_box(node)
        if box is None or not (width > 0 and height > 0):
            inner = affine.translation(x, y)
            viewport = Viewport(width, height)
        else:
            into: Box = (x, y, width, height)
            inner = fitted(box, into, node.get("preserveAspectRatio"))
            viewport = Viewport(box[2], box[3])
        return state._replace(matrix=affine.compose(state.matrix, inner), viewport=viewport)

    def _use(self, node: Node, state: _State, marking: Marking | None) -> None:
        href = node.href.strip()
        target = self.by_id.get(href[1:]) if href.startswith("#") else None
        if target is None:
            outside = bool(href) and not href.startswith("#")
            self._find(
                "use-nothing",
                "warn",
                f'a `use` refers to "{href[:40]}", which is '
                + ("outside the file and was not fetched" if outside else "not in the drawing"),
                "Put the shape itself in its place.",
                node,
            )
            return
        if target in state.chain or _holds(target, node):
            raise InputError(
                "a `use` refers to itself, directly or by way of others",
                where=node.place,
                cure="Unlink it, or take it out.",
            )
        if target.kind not in SHAPES and target.kind not in _CONTAINERS | {"use", "text"}:
            return
        x = _length(node, "x", 0.0, state.viewport.width)
        y = _length(node, "y", 0.0, state.viewport.height)
        state = state._replace(
            matrix=affine.compose(state.matrix, affine.translation(x, y)),
            via=state.via or node,
            chain=(*state.chain, target),
        )
        state = self._carried(node, state, marking)
        if node.get("data-piece"):
            state = state._replace(group=Group(node, state.group, state.via), carrier=None)
        if target.kind in ("symbol", "svg"):
            outer = state.viewport
            declared = self.styles.of(target)
            state = self._inherit(state, declared, target)
            state = state._replace(group=Group(target, state.group, state.via))
            given = target if target.kind == "svg" else None
            size = (
                _length(node, "width", _own(given, "width", outer.width), outer.width),
                _length(node, "height", _own(given, "height", outer.height), outer.height),
            )
            self._children(target, self._nested(target, state, size))
        else:
            self._visit(target, state)

    def _shape(self, node: Node, state: _State, declared: dict[str, str]) -> None:
        hidden = state.gone or state.unseen
        drawn = state.carrier
        if drawn is None:
            drawn = Shape(node, state.group, None, len(self.drawing.shapes), state.via, hidden)
            drawn.unpainted = state.clear or not _painted(state.paint)
            drawn.style = _style(state)
            self.drawing.shapes.append(drawn)
        elif hidden and not drawn.hidden:
            return
        elif not hidden and drawn.hidden and not drawn.paths:
            drawn.hidden = False
        within_reach(*state.matrix.ravel())
        if node.kind == "text":
            first = first_words(node)
            font = state.font
            for one in first[1:]:
                own = self.styles.of(one)
                font = font_size(own.get("font-size", ""), font)
                drawn.style = replace(drawn.style, fill=own.get("fill", drawn.style.fill))
            drawn.texts.append(text_line(first, state.matrix, font, state.viewport))
            return
        styled = sorted(_GEOMETRY & declared.keys())
        if styled and not hidden:
            text = f"the style gives the shape's {', '.join(styled)}, which is not read from there"
            cure = "Give it as an attribute."
            self._find("style-geometry", "warn", text, cure, node)
        # The Frobenius norm is at least the greatest stretch of the map.
        stretch = max(float(np.hypot.reduce(state.matrix[:, :2].ravel())), 1e-9)
        data = shape_data(node, state.viewport, stretch, MOST_SEGMENTS - self.segments)
        self.segments += sum(len(s.segments) for s in data.subpaths)
        if data.rest and not hidden:
            text = f'the shape is drawn only up to "{data.rest[:30]}", which cannot be read'
            cure = "Mend its coordinates, or draw it again."
            self._find("shape-broken", "fail", text, cure, node)
        spend(_SHAPE_STEPS * (len(data.subpaths) - 1), _ON)
        for subpath in data.subpaths:
            path = to_path(subpath, state.matrix)
            if path is not None:
                within_reach(float(np.abs(path.controls).max()))
                drawn.paths.append(path)

    # --- inherited things -----------------------------------------------------

    def _inherit(self, state: _State, declared: dict[str, str], node: Node) -> _State:
        changes: dict[str, object] = {}
        if declared.get("display", "").lower() == "none":
            changes["gone"] = True
        seen = declared.get("visibility", "").lower()
        if seen in ("visible", "hidden", "collapse"):
            changes["unseen"] = seen != "visible"
        paint = {n: declared[n].lower() for n in PAINT if declared.get(n, "inherit") != "inherit"}
        if paint:
            changes["paint"] = {**state.paint, **paint}
            changes["clear"] = state.clear or _zero(paint.get("opacity", ""))
        if "font-size" in declared:
            changes["font"] = font_size(declared["font-size"], state.font)
        return state._replace(**changes) if changes else state  # type: ignore[arg-type]

    def _moved(self, state: _State, node: Node, declared: dict[str, str]) -> Floats:
        """The matrix with the element's own transform; a CSS one beats the attribute."""
        text = declared.get("transform", node.get("transform"))
        if not text or text == "none":
            return state.matrix
        own = parse_transform(text)
        origin = declared.get("transform-origin", "").strip()
        if origin and origin not in ("0", "0 0", "0px 0px", "0px", "left top", "0% 0%"):
            own = self._about(own, origin, declared, node)
        return affine.compose(state.matrix, own)

    def _about(self, own: Floats, origin: str, declared: dict[str, str], node: Node) -> Floats:
        """A transform about an origin given in lengths; others are told, and not applied."""
        words = origin.split()
        try:
            if "fill-box" in declared.get("transform-box", "") or len(words) < 2:
                raise InputError("")
            x, y = user_length(words[0]), user_length(words[1])
        except InputError:
            text = f'the transform origin "{origin[:30]}" was not applied'
            cure = "Apply the transform in the editor (ungroup and group again often does)."
            self._find("transform-origin", "warn", text, cure, node)
            return own
        return affine.compose(affine.translation(x, y), own, affine.translation(-x, -y))


def _clips(reference: str) -> bool:
    return reference.strip() not in ("none", "")


def _within(shapes: Sequence[Shape], box: Box) -> bool:
    """Whether all lines of shapes lie in a box, mm; none do where there are no lines."""
    bounds = np.array([path.bounds for shape in shapes for path in shape.paths]).reshape(-1, 4)
    low, high = bounds[:, :2] >= np.array(box[:2]), bounds[:, 2:] <= np.array(box[2:])
    return len(bounds) > 0 and bool(low.all() and high.all())


_NOTHING = frozenset({"none", "transparent"})


def _painted(paint: Mapping[str, str]) -> bool:
    """Whether anything of a shape is seen. Without a word it is filled, and has no stroke."""
    filled = paint.get("fill", "black") not in _NOTHING and not _zero(paint.get("fill-opacity", ""))
    stroked = paint.get("stroke", "none") not in _NOTHING
    hidden = _zero(paint.get("stroke-width", "")) or _zero(paint.get("stroke-opacity", ""))
    return filled or (stroked and not hidden)


def _zero(text: str) -> bool:
    found, rest = numbers(text) if text else ([], "")
    return found == [0.0] and rest.strip() in ("", "%", "px", "mm", "cm", "in", "pt")


def _style(state: _State) -> Style:
    """How a shape's line is drawn; its width in mm where it is a plain number."""
    paint = state.paint
    try:
        width = user_length(paint.get("stroke-width", "1"), percent_of=state.viewport.diagonal)
    except InputError:
        width = 1.0
    scale = float(np.sqrt(abs(affine.determinant(state.matrix))))
    return Style(
        paint.get("stroke", "none"),
        round(width * scale, 3),
        _dashes(paint.get("stroke-dasharray", "none"), scale, state.viewport.diagonal),
        "none" if _zero(paint.get("fill-opacity", "")) else paint.get("fill", "black"),
    )


def _dashes(text: str, scale: float, diagonal: float) -> str:
    """Lengths of dashes and gaps in mm; as the file says them where they are none."""
    words = text.replace(",", " ").split()
    try:
        lengths = [scale * user_length(word, percent_of=diagonal) for word in words]
    except InputError:
        return "" if text == "none" else text
    # An odd number of them is gone through twice.
    lengths *= 1 + len(lengths) % 2
    return " ".join(f"{length:.3f}" for length in lengths) if any(lengths) else ""


def _title(root: Node) -> str:
    title = next((n for n in root.nodes if n.kind == "title"), None)
    return "" if title is None else " ".join(title.text().split())


def _fits(node: Node) -> bool:
    """Whether a `switch` may choose this child."""
    if node.kind not in SHAPES and node.kind not in _CONTAINERS | {"use", "text"}:
        return False
    if node.get("requiredExtensions").strip():
        return False
    languages = node.get("systemLanguage").lower()
    return not languages or any(w.strip().startswith("en") for w in languages.split(","))


def _holds(target: Node, node: Node) -> bool:
    at: Element | None = node
    while at is not None:
        if at is target:
            return True
        at = at.parent
    return False


def _length(node: Node, name: str, default: float, of: float) -> float:
    text = node.get(name)
    if not text or text == "auto":
        return default
    try:
        return user_length(text, percent_of=of)
    except InputError as error:
        raise error.at(f"{node.place}, {name}") from None


def _own(node: Node | None, name: str, default: float) -> float:
    return default if node is None else _length(node, name, default, default)
