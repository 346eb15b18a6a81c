"""Shapes that say nothing of themselves: closed lines are pieces, and what lies in them theirs."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ...errors import InputError
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import is_diamond
from .drafts import MOST_PIECES, Draft, Gathered, spot
from .frames import without_frames
from .lines import APART, Lines, Loop, Strand, layer_of, lines_of, role_of, samples
from .loops import Region, gap_of, loops_of, middle, runs_beside, sides, would_close
from .names import given, hint, names_role, size_of_layer
from .naming import name_pieces
from .shapes import Box, Drawing, Element, Shape, Text
from .sizes import Sizes
from .squares import without_squares
from .words import Said

#: Closed lines whose longer side is below this, in mm, are no pieces.
SMALLEST = 20.0
_MOST_LINES = 1000
#: A line within that keeps more than this share of the area is no cut-out.
_NEARLY = 0.5
#: An open line whose ends are closer than this share of its length was surely to be
#: closed; up to the other share it may have been.
_NEARLY_CLOSED, _PERHAPS_CLOSED = 0.1, 0.6
#: A notch is sought within this of an outline, a fold within that, in mm.
_REACH, _FOLD_REACH = 5.0, 2.0
#: Roles whose closed lines are never outlines while others are there.
_INNER = APART | {"cutout", "fold"}
#: Roles that an open line can have; any other line in a piece is a mark.
_OPENED = frozenset({"notch", "grain", "axis", "fold", "adjust"})
_ASIDE = frozenset({"label", "aside", "frame"})


@dataclass(eq=False)
class Piece:
    """One piece in the making: its outline, and what lies in it.

    `draft` is set where the piece was known by a name before.
    """

    loop: Loop
    draft: Draft | None = None
    marks: list[Shape] = field(default_factory=list)
    words: list[Shape] = field(default_factory=list)
    holes: list[Loop] = field(default_factory=list)
    cut_out: int = 0
    inner: int = 0
    name: str = ""
    said: Said = field(default_factory=Said)

    def has(self, role: str) -> bool:
        """Whether a line of a role is there already."""
        return any(m.marking is not None and m.marking.role == role for m in self.marks)

    @property
    def working(self) -> Path:
        """The sewing line where there is one, else the outline."""
        sewn = (m.paths[0] for m in self.marks if m.marking and m.marking.role == "sew")
        return next(sewn, self.loop.path)


def plain_pieces(
    plain: list[Shape], drawing: Drawing, sizes: Sizes, ids: frozenset[str], out: Gathered
) -> list[Draft]:
    """Drafts of the unmarked shapes `plain` that are pieces, each with what lies in it.

    Pieces that `out` has already take what lies in them too; all else is set aside. `ids`
    are all ids of the drawing.
    """
    return _Sorter(plain, drawing, sizes, out).run(ids)


class _Sorter:
    def __init__(self, plain: list[Shape], drawing: Drawing, sizes: Sizes, out: Gathered) -> None:
        self.plain = [s for s in plain if not s.unpainted]
        if not out.drafts and not any(s.paths for s in self.plain) and any(s.paths for s in plain):
            self.plain = plain
            text = "no line of the drawing is filled or stroked; they were read all the same"
            out.find("unpainted", "note", text, cure="Give the lines of the pieces a stroke.")
        for shape in plain:
            if shape.unpainted and self.plain is not plain:
                out.aside(shape, "neither filled nor stroked")
        self.drawing = drawing
        self.sizes = sizes
        self.out = out
        self.pieces: list[Piece] = [p for d in out.drafts for p in self._known(d)]

    def _known(self, draft: Draft) -> list[Piece]:
        """A piece that is there by its name already."""
        marked = [d for d in draft.marks if d.marking is not None and d.marking.outlining]
        shapes = marked or draft.shapes
        loops = loops_of([p for d in shapes for p in d.paths], self.out.options.join_tolerance)
        if not loops.closed:
            return []
        outer = max(loops.closed, key=lambda p: abs(p.area))
        return [Piece(Loop(outer, tuple(shapes), draft.size), draft)]

    def run(self, ids: frozenset[str]) -> list[Draft]:
        lines = self._lines()
        words = [s for s in self.plain if s.texts and not s.paths]
        lines.loops = without_squares(lines.loops, words, self.out)
        gone = {id(s) for s in words if self.out.is_aside(s)}
        self.plain = [s for s in self.plain if id(s) not in gone]
        for loop in self._pick(lines.loops):
            self._inner(loop)
        self._tell_stray([s for s in lines.open if not self._open(s)])
        self._dots()
        self._words()
        new = [p for p in self.pieces if p.draft is None]
        name_pieces(new, self.sizes, ids, self.out)
        for piece in self.pieces:
            self._put(piece)
        return [p.draft for p in new if p.draft is not None]

    def _lines(self) -> Lines:
        drawn = []
        for shape in self.plain:
            if shape.paths:
                drawn.append(shape)
            elif not shape.texts and shape.dot is None:
                self.out.aside(shape, "draws nothing")
        return lines_of(drawn, self.sizes, self.out)

    # --- closed lines -----------------------------------------------------------------

    def _pick(self, found: list[Loop]) -> list[Loop]:
        """Pieces found; the closed lines on layers for inner things come back."""
        loops = [lp for lp in found if not _is_inner(lp)]
        inner = [lp for lp in found if _is_inner(lp)]
        if not self.pieces and not any(lp.side >= SMALLEST for lp in loops):
            # All is on layers named for drawing or marking: then that says nothing.
            loops += [lp for lp in inner if lp.hint == "mark"]
            inner = [lp for lp in inner if lp.hint != "mark"]
        large = without_frames([lp for lp in loops if lp.side >= SMALLEST], self.drawing, self.out)
        loops = large + [lp for lp in loops if lp.side < SMALLEST]
        order = {id(lp): i for i, lp in enumerate(found)}
        for loop in sorted(loops, key=lambda lp: -lp.area):
            around = self._around(loop)
            if around is None:
                self._outer(loop)
            else:
                self._within(loop, around, loops)
        self.pieces.sort(key=lambda p: order.get(id(p.loop), -1))
        return inner

    def _around(self, loop: Loop) -> Piece | None:
        """The smallest piece of the same size that a closed line lies in."""
        held = [
            p
            for p in self.pieces
            if p.loop.size == loop.size
            and p.loop.area > loop.area * (1 + 1e-9)
            and _meet(p.loop.path.bounds, loop.path.bounds)
            and p.loop.holds(loop.samples)
        ]
        return min(held, key=lambda p: p.loop.area, default=None)

    def _outer(self, loop: Loop) -> None:
        if loop.side < SMALLEST:
            self._aside(loop, f"smaller than {SMALLEST:.0f} mm")
            return
        if len(self.pieces) >= MOST_PIECES:
            raise InputError(
                f"the drawing has more than {MOST_PIECES} closed paths that might be pieces",
                cure="Mark the pieces (data-piece), or take out everything else.",
            )
        self.pieces.append(Piece(loop))

    def _aside(self, loop: Loop, reason: str) -> None:
        for shape in loop.shapes:
            self.out.aside(shape, reason)

    def _within(self, loop: Loop, around: Piece, loops: list[Loop]) -> None:
        """A closed line in a piece: cut-out, sewing line, mark, or a piece laid in a hole."""
        share = loop.area / around.loop.area
        first = loop.shapes[0]
        role = hint(first.element.name) if given(first.element.name) else ""
        role = role or loop.hint
        known = around.draft is not None
        same = loop.layer == around.loop.layer
        parallel = runs_beside(loop.path, around.loop.path)
        if not known and (role == "sew" or (share > _NEARLY and parallel and not same)):
            fits = not around.has("sew") and share > 0.25
            self._mark(around, loop, "sew" if fits else "mark")
        elif any(hole.holds(loop.samples) for hole in around.holes) or _in_hole(loop, around.loop):
            # Cloth inside a hole is another piece.
            self._outer(loop)
        elif role in ("notch", "drill", "cutout"):
            self._mark(around, loop, role)
        elif known or (not same and role != "cut"):
            self._mark(around, loop, "mark")
            around.inner += role != "mark"
        elif share <= _NEARLY:
            # What nothing says is to be cut is drawn: a mark can still be cut, a hole not undone.
            dart = is_diamond(loop.path)
            cut = role == "cut" and not dart
            self._mark(around, loop, "cutout" if cut else "mark")
            around.inner += not (cut or dart or role == "mark")
            if cut:
                around.holes.append(loop)
                around.cut_out += 1
        elif parallel and not self._nested(loop, loops):
            self._mark(around, loop, "sew")
            self._tell_sewn(first, around, loop.path)
        else:
            self._outer(loop)
            self.out.find(
                "lines-nested",
                "warn",
                "a closed line lies in another of nearly its size and was taken for a piece of "
                "its own",
                cure="If they are sizes of one piece, put each size on a layer named by it.",
                place=spot(middle(loop.path)),
            )

    def _mark(self, piece: Piece, loop: Loop, role: str) -> None:
        kind = _mark_kind(loop.layer, piece) if role == "mark" else ""
        first = loop.shapes[0]
        paths = [loop.path, *loop.holes] if role in ("mark", "cutout") else [loop.path]
        piece.marks.append(first.marked(role, kind, paths))

    def _tell_sewn(self, shape: Shape, piece: Piece, line: Path) -> None:
        text = "a line all round within an outline was taken for its sewing line"
        cure = "Put it on a layer named SEW, or leave it out."
        # Drawn in another way than the outline it is hardly anything else.
        alike = shape.style == piece.loop.shapes[0].style
        self.out.find(
            "inner-line", "warn" if alike else "note", text, cure, place=spot(middle(line))
        )

    def _nested(self, loop: Loop, loops: list[Loop]) -> bool:
        """Whether a line stands in a row of lines within one another, as sizes do."""
        smaller = any(
            lp is not loop
            and lp.layer == loop.layer
            and _NEARLY * loop.area < lp.area < loop.area
            and loop.holds(lp.samples)
            for lp in loops
        )
        around = [
            p for p in self.pieces if p.loop.layer == loop.layer and p.loop.holds(loop.samples)
        ]
        return smaller or len(around) > 1

    def _inner(self, loop: Loop) -> None:
        """A closed line on a layer that hints at a role."""
        role = loop.hint
        piece = self._piece_of(loop.samples, loop.shapes[0], _REACH if role == "notch" else 0.0)
        if piece is None:
            outlying = loop.side >= SMALLEST and role not in ("frame", "aside")
            self._aside(loop, f"on layer {loop.layer}{', in no piece' if outlying else ''}")
        elif role in _ASIDE:
            self._aside(loop, f"on layer {loop.layer}")
        else:
            self._mark(piece, loop, role if role in ("cutout", "drill", "notch") else "mark")

    def _piece_of(self, points: Floats, shape: Shape, reach: float = 0.0) -> Piece | None:
        """The smallest piece round most of `points`; else the nearest within `reach` mm."""
        size = self.sizes.of(shape)
        fits = [p for p in self.pieces if size is None or p.loop.size == size]
        held = [p for p in fits if p.loop.holds(points)]
        if held:
            return min(held, key=lambda p: p.loop.area)
        if not reach:
            return None
        away = [(float(nearest(p.loop.path, points).distance.min()), i) for i, p in enumerate(fits)]
        least = min(away, default=(np.inf, 0))
        return fits[least[1]] if least[0] <= reach else None

    # --- open lines, points, words --------------------------------------------------------

    def _open(self, strand: Strand) -> bool:
        """Whether an open line is some piece's, or on a layer that is none's."""
        shape = strand.first
        role = role_of(shape)
        if role in _ASIDE:
            for part, _ in strand.parts:
                self.out.aside(part, f"on layer {layer_of(part.group)}")
            return True
        reach = _REACH if role in ("notch", "fold") else 0.0
        piece = self._piece_of(samples(strand.path), shape, reach)
        if piece is None:
            for part, _ in strand.parts:
                self.out.aside(part, "open line in no piece")
            return False
        sewn = None if role or piece.has("sew") or piece.draft else _to_fold(strand, piece.loop)
        if sewn is not None:
            self._mark(piece, Loop(sewn, (shape,), piece.loop.size), "sew")
            self._tell_sewn(shape, piece, sewn)
            return True
        if role == "fold" and not _along(strand.path, piece.working):
            role = "mark"
        if role in ("grain", "axis") and len(strand.path) > 1:
            role = "mark"
        if role not in _OPENED:
            kind = _mark_kind(layer_of(shape.group), piece)
            piece.marks.append(shape.marked("mark", kind, [strand.path]))
        elif role in ("notch", "adjust"):
            # Lines that were joined may be several marks that only meet: they go on as drawn.
            piece.marks += [part.marked(role, "", [path]) for part, path in strand.parts]
        else:
            piece.marks.append(shape.marked(role, "", [path for _, path in strand.parts]))
        return True

    def _tell_stray(self, strands: list[Strand]) -> None:
        """Tell lines in no piece that were likely meant to be an outline."""
        wide = [s for s in strands if role_of(s.first) not in APART]
        told: set[int] = set()
        for reach, chain in would_close([s.path for s in wide], self.out.options.join_tolerance):
            if sides(chain.path)[0] >= SMALLEST:
                used = [wide[m] for m in chain.members]
                told |= {id(s) for s in used}
                self.out.tell_open(_called(used), reach, chain)
        for strand in strands:
            if id(strand) not in told:
                self._nearly(strand)

    def _nearly(self, strand: Strand) -> None:
        """Tell an open line that was likely meant to be an outline."""
        line = strand.path
        gap = gap_of(line)
        if sides(line)[0] < SMALLEST or gap > _PERHAPS_CLOSED * line.length:
            return
        around = Loop(
            Path.join([line, Path.polyline([line.end, line.start])], closed=True), (), None
        )
        swallowed = any(
            piece.draft is None
            and piece.loop.area < around.area
            and around.holds(piece.loop.samples)
            for piece in self.pieces
        )
        sure = not self.pieces or gap < _NEARLY_CLOSED * line.length or swallowed
        text = f"{_called([strand])} is open: its ends are {gap:.2f} mm apart; it was left out"
        text += ", and what lies in it was taken for a piece" if swallowed else ""
        cure = "Close it in the editor if it is a piece."
        self.out.find("open-outline", "fail" if sure else "warn", text, cure, place=spot(line.end))

    def _dots(self) -> None:
        for shape in self.plain:
            if shape.dot is None:
                continue
            role = role_of(shape)
            piece = self._piece_of(np.array([shape.dot]), shape, _REACH)
            if piece is None or role not in ("notch", "drill"):
                self.out.aside(shape, "a point" if piece is not None else "a point in no piece")
                continue
            x, y = shape.dot
            dot = Path.polyline([(x - 0.01, y), (x + 0.01, y)])
            piece.marks.append(shape.marked(role, "", [dot]))

    def _words(self) -> None:
        """Each text to the piece that it stands in, or whose group it is in."""
        held: dict[int, list[Piece]] = {}
        for found in self.pieces:
            for group in found.loop.shapes[0].group.chain():
                held.setdefault(id(group), []).append(found)
        for shape in self.plain:
            for text in shape.texts:
                piece: Piece | None = self._text_piece(text, shape)
                for group in shape.group.chain() if piece is None else ():
                    own = group.element.kind == "block" or given(group.element.name)
                    if own and group.parent is not None and len(held.get(id(group), ())) == 1:
                        (piece,) = held[id(group)]
                        break
                if piece is None:
                    words = " ".join(text.text.split())[:30]
                    self.out.aside(shape, f'text "{words}" in no piece')
                else:
                    piece.words.append(shape.marked("label", texts=[text]))

    def _text_piece(self, text: Text, shape: Shape) -> Piece | None:
        turn = np.radians(text.angle)
        along = np.array([np.cos(turn), np.sin(turn)])
        width = 0.6 * text.height * max(len(line) for line in text.text.split("\n"))
        start = np.array(text.at) + 0.4 * text.height * np.array([-along[1], along[0]])
        places = (start + share * width * along for share in (0.5, 0.0, 1.0))
        found = (self._piece_of(place[None], shape) for place in places)
        return next((piece for piece in found if piece is not None), None)

    # --- drafts -----------------------------------------------------------------------------

    def _put(self, piece: Piece) -> None:
        self._without_hatching(piece)
        if piece.draft is not None:
            piece.draft.marks += [*piece.marks, *piece.words]
            return
        loop, first = piece.loop, piece.loop.shapes[0]
        about = {f"data-{k}": v for k, v in piece.said.fields.items() if k in ("quantity", "pair")}
        layer = (loop.layer or "").casefold()
        if loop.hint == "sew" and not piece.has("sew"):
            about["data-outline"] = "sew"
        elif piece.has("sew") or (loop.hint == "cut" and layer.startswith("cut")):
            about["data-outline"] = "cut"
        elements = [first.element] if first.via is None else [first.via, first.element]
        elements.append(Element("g", about, place=first.place))
        if not piece.has("fold"):
            piece.marks += self._folds(piece)
        labels = [shape.marked("label", texts=[text]) for shape, text in piece.said.labels]
        piece.draft = Draft(
            self.out,
            piece.name,
            loop.size,
            elements,
            first.group,
            [first],
            [*piece.marks, *labels],
            Region(loop.path, loop.holes),
            first.position,
        )
        self._tell(piece)

    def _without_hatching(self, piece: Piece) -> None:
        """More lines that say nothing than any piece has are hatching or a picture."""
        lines = [m for m in piece.marks if m.marking is not None and m.marking.role == "mark"]
        if len(lines) <= _MOST_LINES:
            return
        for line in lines:
            self.out.aside(line, f"one of {len(lines)} lines in a piece")
        gone = set(map(id, lines))
        piece.marks = [m for m in piece.marks if id(m) not in gone]
        text = f"{len(lines)} lines in a piece are more than it can have, and were left out"
        cure = "Take out hatching and pictures."
        self.out.find(
            "too-many-lines", "warn", text, cure=cure, place=spot(middle(piece.loop.path))
        )

    def _folds(self, piece: Piece) -> list[Shape]:
        """Parts of the outline that stand on a layer for folds."""
        parts = [s for s in piece.loop.shapes if role_of(s) == "fold"]
        paths = [path for part in parts for path in part.paths]
        along = all(_along(path, piece.working) for path in paths)
        if not parts or not along or len(parts) == len(piece.loop.shapes):
            return []
        return [parts[0].marked("fold", "", paths)]

    def _tell(self, piece: Piece) -> None:
        if piece.cut_out:
            text = f"{piece.cut_out} closed line(s) on a layer for cutting were taken for cut-outs"
            cure = "Put lines that are not cut on another layer."
            self.out.find("inner-cutouts", "note", text, cure, draft=piece.draft)
        if piece.inner:
            text = f"{piece.inner} closed line(s) within the piece were taken for marks"
            cure = "Put cut-outs on a layer named CUT, or give them the role cutout."
            self.out.find("inner-marks", "note", text, cure, draft=piece.draft)


def _called(strands: list[Strand]) -> str:
    """What lines are called in messages."""
    shapes = {id(shape): shape for strand in strands for shape, _ in strand.parts}.values()
    told = ((shape.name, layer_of(shape.group) or shape.name) for shape in shapes)
    names = {own if given(own) else of for own, of in told} - {""}
    if len(names) == 1:
        return f'"{names.pop()}"'
    return (
        f"an outline of {len(shapes)} lines"
        if len(shapes) > 1
        else f'"{next(iter(shapes)).element.kind}"'
    )


def _meet(a: Box, b: Box) -> bool:
    """Whether two boxes come within a micrometre of each other."""
    return (
        a[0] <= b[2] + 1e-3 and b[0] <= a[2] + 1e-3 and a[1] <= b[3] + 1e-3 and b[1] <= a[3] + 1e-3
    )


def _is_inner(loop: Loop) -> bool:
    """Whether a closed line is on a layer for inner things; `inner pocket` is a piece's name."""
    layer = loop.layer or ""
    return loop.hint in _INNER and (names_role(layer) or size_of_layer(layer) is not None)


def _in_hole(loop: Loop, around: Loop) -> bool:
    """Whether a line lies in a hole that was drawn in the same shape as the outline."""
    return any(Loop(hole, around.shapes, None).holds(loop.samples) for hole in around.holes)


def _to_fold(strand: Strand, around: Loop) -> Path | None:
    """An open line from end to end of a straight side, closed along it, where it is a sewing line.

    Such a side lies on the fold.
    """
    line = strand.path
    if 2 * line.length < around.path.length:
        return None
    side = line.end + (line.start - line.end) * np.linspace(0, 1, 9)[:, None]
    if float(nearest(around.path, side).distance.max()) > _FOLD_REACH / 4:
        return None
    closed = Path.join([line, Path.polyline([line.end, line.start])], closed=True)
    return closed if runs_beside(closed, around.path) else None


def _along(line: Path, outline: Path) -> bool:
    """Whether a line lies along an outline."""
    points = line.at(np.array([0.25, 0.5, 0.75]) * line.length)
    return float(nearest(outline, points).distance.max()) <= _FOLD_REACH


def _mark_kind(layer: str | None, piece: Piece) -> str:
    """What a mark is, by its layer, where that says more than that it is one."""
    plain = (layer or "").strip().casefold()
    if not given(plain) or layer == piece.loop.layer:
        return ""
    plain = plain.partition("-")[0] if size_of_layer(plain) and hint(plain) else plain
    return "" if plain in ("mark", "marks") or size_of_layer(plain) else plain
