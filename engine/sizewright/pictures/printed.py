"""Pieces at full size, as they are printed and cut from: one size, or several in a nest.

What `piece_picture` shows for reading (corner numbers, lengths, the grade axis) is left
out here; what is needed to cut and sew is put on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from ..geometry.path import Path
from ..geometry.regions import contains
from ..geometry.types import Floats
from ..model import Label, Piece
from ..palette import (
    FOLD_LINE,
    FOLDING,
    GRAIN,
    LINEN,
    MARKING,
    NOTCH_LINE,
    QUIET,
    SIZE_LINES,
    Line,
)
from . import symbols
from .facts import allowance_words, cutting_words
from .labels import LEADING, Candidate, Style, Text, beside, choose, off_words, upright, write
from .on_pages import Pages
from .piece_lines import draw_lines, fold_path, notch_places
from .room import RATHER_NOT, SIGN, Box, Room, cos_sin
from .size_labels import SizeLabels
from .sketch import Sketch, Stroke, Words
from .symbols import left_of, unit
from .text import width

#: Letter height of the small words on a printed piece, mm.
LETTERS = 3.6
# Letter heights of a piece's name, mm, the largest that fits is taken.
_TITLES = (11.0, 8.5, 6.5, 5.0, 4.0, 3.2, 2.6)
# Room kept round words, mm.
_CLEAR = 1.5
# Letter height of the names of notches, mm.
_NOTCH_LETTERS = 2.6
# A name in letters of at least this, mm, keeps off the joints of pages.
_OFF_JOINTS = 3.2
# How far, mm, a label is moved off a joint at most, and in what steps.
_FURTHEST, _LABEL_STEP = 150.0, 6.0
# Words further than this from what they name, mm, are tied to it.
_TIED = 3.0
# Places round a point: cost, how far off, and in what direction, degrees; the cheapest first.
_ROUND = sorted(
    (
        (reach + abs(90 - degrees) / 90, reach, degrees)
        for reach in (1.2, 2.5, 4.0, 6.0)
        for degrees in (90, 45, 135, 0, 180, -45, -135, -90)
    ),
    key=lambda place: place[0],
)
# Places along a line: cost, share of it, side, and how many letters off; the cheapest first.
_ALONG = sorted(
    (
        (abs(share - 0.5) + (0.1 if side < 0 else 0.0) + 0.4 * k, share, side, k)
        for share in (0.5, 0.36, 0.64, 0.24, 0.76, 0.12, 0.88)
        for side in (1.0, -1.0)
        for k in (0.0, 0.6, 1.3)
    ),
    key=lambda place: place[0],
)
# Folds of two sizes within this of each other, mm, are one line.
_SAME = 0.2


_NO_PAGES = Pages()


def printed_piece(
    piece: Piece, pages: Pages = _NO_PAGES, titles: Sequence[float] = _TITLES
) -> Sketch:
    """One piece in one size, in its own coordinates, mm, y up.

    Words keep clear of the joints of `pages` where there is room. `titles` are the letter heights
    that its name may have, mm, largest first.
    """
    drawing = Printed(piece, titles, pages=pages)
    plain = replace(piece, axis=None, labels=())
    draw_lines(drawing.sketch, drawing.room, plain, LETTERS)
    drawing.drop_tint()
    drawing.words(_facts([piece]), piece.drawn.path)
    drawing.notch_names()
    return drawing.sketch


def printed_nest(
    pieces: Sequence[Piece], lines: Sequence[Line], pages: Pages = _NO_PAGES
) -> Sketch:
    """One piece in several sizes on top of each other, each in its own line.

    `pieces` in order of size, laid as they shall lie; `lines` has one for each of them.
    Grain, labels and adjust lines are those of the middle size. Words keep clear of the joints
    of `pages` where there is room, and every page names the sizes whose lines it shows.
    """
    middle = pieces[len(pieces) // 2]
    drawing = Printed(middle, pages=pages)
    for piece, line in zip(pieces, lines, strict=True):
        drawing.size_lines(piece, line)
    drawing.folds(pieces)
    shared = replace(
        middle, axis=None, labels=(), notches=(), darts=(), drills=(), pleats=(), cutouts=(),
        marks=(), cut_line=None, fold=None,
    )  # fmt: skip
    extra = Sketch()
    draw_lines(extra, drawing.room, shared, LETTERS)
    # The first strokes are the outline, which the sizes have drawn already.
    own = [p for p in extra.parts if not (isinstance(p, Stroke) and p.path is middle.outline.path)]
    drawing.sketch.parts.extend(own)
    drawing.size_labels(pieces, lines)
    smallest = min(pieces, key=lambda p: p.drawn.path.area)
    drawing.words(_facts(pieces), smallest.drawn.path)
    return drawing.sketch


def size_lines(count: int) -> tuple[Line, ...]:
    """The line of each of `count` sizes, smallest first."""
    return tuple(SIZE_LINES[i % len(SIZE_LINES)] for i in range(count))


def _facts(pieces: Sequence[Piece]) -> list[str]:
    """Name first, then what stands under it."""
    one = pieces[len(pieces) // 2]
    sizes = [p.size for p in pieces if p.size]
    lines = [one.name]
    if sizes:
        lines.append(f"size {sizes[0]}" if len(sizes) == 1 else f"sizes {', '.join(sizes)}")
    lines += [w for w in (cutting_words(one), allowance_words(one)) if w]
    return lines


class Printed:
    """A drawing under way: its strokes, and the room that is taken.

    `titles` are the letter heights that a name may have, mm, largest first; `small` is the
    least height of what stands under it.
    """

    def __init__(
        self,
        piece: Piece,
        titles: Sequence[float] = _TITLES,
        small: float = 2.4,
        *,
        pages: Pages = _NO_PAGES,
    ) -> None:
        self.piece = piece
        self.titles = titles
        self.small = small
        self.sketch = Sketch()
        self.room = Room(1.0)
        self.pages = pages.about(piece.bounds)
        self.pages.keep_clear(self.room)

    def drop_tint(self) -> None:
        """Take out the colour that pieces are filled with on a screen."""
        kept = [p for p in self.sketch.parts if not (isinstance(p, Stroke) and p.fill == LINEN)]
        self.sketch.parts[:] = kept

    # --- lines of a nest ------------------------------------------------------

    def size_lines(self, piece: Piece, line: Line, *, signs: float = LETTERS) -> None:
        """What differs from size to size, in that size's line; `signs` is how large signs are."""
        drawn = piece.drawn.path
        fold = fold_path(piece)
        rest = drawn if fold is None else fold[1]
        if rest is not None:
            self.sketch.stroke(rest, line)
        self.room.add_path(drawn)
        for cutout in piece.cutouts:
            self._line(cutout.path, line)
        for mark in piece.marks:
            self._line(mark.path, Line(line.colour, line.width * 0.7, line.dashes))
        for dart in piece.darts:
            a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
            apex = np.array(dart.apex)
            if dart.tip is None:
                self._line(Path.polyline([a, apex, b]), line)
            elif piece.cut_line is not None:
                # The cutting line does not follow the legs that the sewing line has.
                self._line(piece.outline.path.segments(dart.a, dart.b), line)
            self.sketch.dot(apex, 0.7, None, line.colour)
        for pleat in symbols.drawn_pleats(piece):
            a, b = (piece.outline.vertex_at(v) for v in (pleat.a, pleat.b))
            symbols.pleat(self.sketch, self.room, a, b, left_of(unit(b - a)), signs)
        ink = Line(line.colour, NOTCH_LINE.width)
        for hole in piece.drills:
            symbols.drill(self.sketch, self.room, np.array(hole.at), signs, line=ink)
        for one, (at, along) in zip(piece.notches, notch_places(piece), strict=True):
            depth = max(one.depth, signs)
            symbols.notch(self.sketch, self.room, at, along, one.kind, depth, one.count, line=ink)

    def folds(self, pieces: Sequence[Piece]) -> None:
        """The folds of all sizes: one line for those that lie in one line."""
        left = [fold[0] for fold in map(fold_path, pieces) if fold is not None]
        while left:
            first = left[0]
            along = unit(first.end - first.start)
            in_line = [p for p in left if _off_line(p, first.start, along) < _SAME]
            # A fold that is not straight is in line with nothing, not even with itself.
            if not in_line:
                self.sketch.stroke(left.pop(0), FOLD_LINE)
                continue
            reach = np.concatenate([(p.vertices - first.start) @ along for p in in_line])
            ends = first.start + np.outer([reach.min(), reach.max()], along)
            self.sketch.polyline(ends, FOLD_LINE)
            left = [p for p in left if p not in in_line]

    def _line(self, path: Path, line: Line) -> None:
        self.sketch.stroke(path, line)
        self.room.add_path(path)

    def size_labels(self, pieces: Sequence[Piece], lines: Sequence[Line]) -> None:
        """Each size's name on its line, again and again, and on every page."""
        drawn = []
        for piece, line in zip(pieces, lines, strict=True):
            fold = fold_path(piece)
            rest = piece.drawn.path if fold is None else fold[1]
            if rest is not None and piece.size:
                drawn.append((piece.drawn.path, rest, piece.size, line))
        if drawn:
            outlines, paths, names, own = zip(*drawn, strict=True)
            SizeLabels(self.sketch, self.room, outlines, paths, names, own).write(self.pages)

    # --- words ----------------------------------------------------------------

    def words(self, facts: Sequence[str], within: Path) -> None:
        """All words: those of the drawing, the title, then the small ones by their lines."""
        self._labels()
        bar = None
        fold = fold_path(self.piece)
        if fold is not None:
            bar = symbols.fold_bracket(self.sketch, self.room, fold[0], LETTERS)
        self._title(facts, within)
        # A label of the piece's own may say it already.
        told = any("on the fold" in x.text for x in self.piece.labels if not _fold_only(x))
        if bar is not None and not told:
            self._along(*bar, ("place on the fold", "on the fold", "fold"), FOLDING, sides=(1.0,))
        grain = self.piece.grain
        if grain is not None:
            words = "grain, one way" if grain.ends == 1 else "grain"
            self._along(np.array(grain.start), np.array(grain.end), (words,), GRAIN)
        for adjust in self.piece.adjusts:
            path = adjust.path
            self._along(path.start, path.end, ("lengthen or shorten here",), QUIET)
        for at, words in self._features():
            style = Style(LETTERS * 0.9, colour=MARKING)
            self._choose(_round(at, Text(((words, style),))))

    def _labels(self) -> None:
        for label in self.piece.labels:
            if self.piece.fold is not None and _fold_only(label):
                continue  # the bracket says it, where it has room
            if label.text.strip().casefold() == self.piece.name.casefold():
                continue  # the title says it
            lines = _label_lines(label)
            move = self._off_others([line.box for line in lines])
            for line in lines:
                x, y = np.array([line.box.x, line.box.y]) + move
                box = replace(line.box, x=float(x), y=float(y))
                self.sketch.words(replace(line, box=box))
                self.room.add_words(box)
                self.room.add_box(box)

    def _off_others(self, boxes: Sequence[Box]) -> Floats:
        """How far to move a label off other words and the joints of pages: the least move.

        Nothing where it lies clear already, or where it finds no such place in the piece.
        """
        still = np.zeros(2)
        if not any(self.room.covered(box) for box in boxes):
            return still
        steps = np.arange(-_FURTHEST, _FURTHEST + 1.0, _LABEL_STEP)
        moves = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
        within = self.piece.drawn.path
        corners = np.concatenate([box.corners for box in boxes])
        for move in moves[np.argsort(np.hypot(*moves.T), kind="stable")]:
            dx, dy = move.tolist()
            moved = [Box(b.x + dx, b.y + dy, b.width, b.height, b.angle) for b in boxes]
            if not all(self.room.free(box, _CLEAR) for box in moved):
                continue
            if contains(within, corners + move).all():
                place: Floats = move
                return place
        return still

    def _title(self, facts: Sequence[str], within: Path) -> None:
        """Inside where there is room, as large as fits; else above the piece."""
        inside = inside_points(within)
        texts = []
        for height in self.titles:
            small = max(0.42 * height, self.small)
            head = (facts[0], Style(height, bold=True))
            block = Text((head, *((fact, Style(small)) for fact in facts[1:])))
            texts.append((block, height))
            if height <= 4.0:
                one = f"{facts[0]} · {' · '.join(facts[1:])}" if len(facts) > 1 else facts[0]
                texts.append((Text(((one, Style(small, bold=True)),)), small))
        # Off the joints of pages, unless that makes a large piece's name small.
        stages = ((0, _OFF_JOINTS), (RATHER_NOT, 0.0), (SIGN, 0.0))
        for over, least in stages if self.pages.joints else ((0, 0.0),):
            for text, height in texts:
                for angle in (0.0, 90.0) if height >= least else ():
                    clear = max(_CLEAR, 0.25 * height)
                    box = free_box(self.room, text, angle, inside, within, clear, over)
                    if box is not None:
                        write(self.sketch, self.room, Candidate(text, box, 0.0))
                        return
        x0, _, x1, y1 = self.sketch.bounds
        small = max(2.8, self.small)
        text = Text(tuple((fact, Style(small, bold=i == 0)) for i, fact in enumerate(facts)))
        box = beside(np.array([(x0 + x1) / 2, y1]), np.array([0.0, 1.0]), 1.5, text)
        write(self.sketch, self.room, off_words(self.room, Candidate(text, box, 0.0)))

    def _along(
        self,
        a: Floats,
        b: Floats,
        wordings: Sequence[str],
        colour: str,
        *,
        sides: Sequence[float] = (1.0, -1.0),
    ) -> None:
        """Words along a straight line, a little off it: the first wording that finds room."""
        along = unit(b - a)
        turn = upright(float(np.degrees(np.arctan2(along[1], along[0]))))

        def places(words: str) -> Iterator[Candidate]:
            text = Text(((words, Style(LETTERS * 0.9, colour=colour)),))
            wide, tall = text.width, text.height
            for cost, share, side, k in _ALONG:
                if side in sides:
                    off = 1.0 + k * LETTERS + tall / 2
                    x, y = a + share * (b - a) + left_of(along) * side * off
                    yield Candidate(text, Box(float(x), float(y), wide, tall, turn), cost)

        self._choose(*map(places, wordings))

    def _features(self) -> Iterator[tuple[Floats, str]]:
        piece = self.piece
        for dart in piece.darts:
            a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
            apex = np.array(dart.apex)
            yield apex + unit(apex - (a + b) / 2) * LETTERS, f"dart {dart.name}"
        for pleat in piece.pleats:
            a, b = (piece.outline.vertex_at(v) for v in (pleat.a, pleat.b))
            yield (a + b) / 2 + left_of(unit(b - a)) * 4 * LETTERS, f"pleat {pleat.name}"
        for hole in piece.drills:
            yield np.array(hole.at), _sided(hole.name or "", hole.side)
        for mark in piece.marks:
            yield _top(mark.path), _sided(mark.words, mark.side)
        for cutout in piece.cutouts:
            yield _top(cutout.path), _sided("cut out", cutout.side)
        for notch, (at, along) in zip(piece.notches, notch_places(piece), strict=True):
            if notch.side != "both":
                yield at + left_of(along) * max(notch.depth, LETTERS), f"{notch.side} only"

    def notch_names(self) -> None:
        """The name of each notch, or of the seam that placed it, where it finds room."""
        places = notch_places(self.piece)
        for notch, (at, along) in zip(self.piece.notches, places, strict=True):
            words = (notch.name or notch.seam or "").replace("-", " ")
            if not words:
                continue
            inward = left_of(along)
            tip = at + inward * max(notch.depth, LETTERS)
            text = Text(((words, Style(_NOTCH_LETTERS, colour=QUIET)),))
            found = []
            turn = upright(float(np.degrees(np.arctan2(along[1], along[0]))))
            for side in (1.0, -1.0):
                for off in (0.9, 1.8):
                    way = along * side * (text.width / 2 + 1.2) + inward * (text.height / 2 + off)
                    x, y = at + way
                    box = Box(float(x), float(y), text.width, text.height, turn)
                    found.append(Candidate(text, box, off))
            for reach in (0.8, 1.6, 2.6):
                found.append(Candidate(text, beside(tip, inward, reach, text), 2.0 + reach))
            free = [c for c in found if self.room.free(c.box, 0.3)]
            if free:
                write(self.sketch, self.room, min(free, key=lambda c: c.cost))

    def _choose(self, *stages: Iterable[Candidate]) -> None:
        chosen = choose(self.room, *stages, margin=0.6)
        if chosen is not None and chosen.text.lines[0][0]:
            write(self.sketch, self.room, chosen)


def _off_line(path: Path, start: Floats, along: Floats) -> float:
    """How far a path leaves the straight line through `start` along a unit vector."""
    return float(np.abs((path.controls.reshape(-1, 2) - start) @ left_of(along)).max())


def _fold_only(label: Label) -> bool:
    """Whether a label says no more than that an edge lies on the fold."""
    return label.text.strip().lower() in ("place on the fold", "place on fold", "on the fold")


def _label_lines(label: Label) -> list[Words]:
    """The lines of a label where the pattern has them, never on their head."""
    turn = np.radians(label.angle)
    along = np.array([np.cos(turn), np.sin(turn)])
    lines = []
    for k, text in enumerate(label.text.splitlines()):
        wide = width(text, label.height)
        base = np.array(label.at) - left_of(along) * k * LEADING * label.height
        middle = base + along * wide / 2 + left_of(along) * 0.36 * label.height
        tall = label.height * LEADING
        box = Box(float(middle[0]), float(middle[1]), wide, tall, upright(label.angle))
        lines.append(Words(text, box, label.height))
    return lines


def _sided(words: str, side: str) -> str:
    return words if side == "both" else f"{words}, {side} only".lstrip(", ")


def _top(path: Path) -> Floats:
    x0, _, x1, y1 = path.bounds
    return np.array([(x0 + x1) / 2, y1])


def _round(at: Floats, text: Text) -> Iterator[Candidate]:
    """Level places round a point, above it first; the further ones tied to it by a thin line."""
    for cost, reach, degrees in _ROUND:
        box = beside(at, np.array(cos_sin(degrees)), reach, text)
        if reach < _TIED:
            yield Candidate(text, box, cost)
        else:
            near = box.nearest(at)
            yield Candidate(text, box, cost, (at + 0.5 * unit(near - at), near), True)


def inside_points(path: Path) -> Floats:
    """Points well spread inside a closed path, those in the middle first, (m, 2)."""
    x0, y0, x1, y1 = path.bounds
    columns = int(np.clip((x1 - x0) / 12, 7, 25))
    rows = int(np.clip((y1 - y0) / 12, 7, 35))
    across, up = (np.linspace(a, b, n + 2)[1:-1] for a, b, n in ((x0, x1, columns), (y0, y1, rows)))
    grid = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
    grid = grid[contains(path, grid)]
    middle = grid.mean(axis=0) if len(grid) else np.zeros(2)
    off = np.hypot(*(grid - middle).T)
    ordered: Floats = grid[np.argsort(off, kind="stable")]
    return ordered


def free_box(
    room: Room, text: Text, angle: float, places: Floats, within: Path, clear: float, over: int
) -> Box | None:
    """The first of `places` where a text lies inside a closed path and over nothing."""
    x0, y0, x1, y1 = within.bounds
    own = text.width, text.height
    wide, tall = own if angle == 0 else own[::-1]
    if wide > x1 - x0 or tall > y1 - y0:
        return None
    corners = Box(0.0, 0.0, *own, angle).corners
    low, high = places + corners.min(axis=0), places + corners.max(axis=0)
    boxed = ((low >= (x0, y0)) & (high <= (x1, y1))).all(axis=1)
    places = places[boxed]
    for at in places[~room.crowded(places, wide + 2 * clear, tall + 2 * clear)]:
        box = Box(float(at[0]), float(at[1]), *own, angle)
        if room.free(box, clear, over=over) and bool(contains(within, corners + at).all()):
            return box
    return None
