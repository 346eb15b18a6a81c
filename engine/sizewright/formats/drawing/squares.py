"""Test squares: squares of a known size, which prove the scale or set it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from ...errors import InputError
from ...findings import Finding
from ...geometry import affine
from .drafts import Gathered, Options
from .frames import is_rectangle
from .lines import Loop, lines_of
from .names import given
from .shapes import Drawing, Shape
from .sizes import Sizes
from .square_words import LENGTH, meant_by, mm, only_length, said_in, words_beside, words_in

#: Sides of test squares, mm; so far off, as a share, one is no square.
_SQUARES = (5.0, 250.0)
_SQUARE = 0.01
#: The scale is right so near, as shares: as drawn by a program, and as drawn by hand.
_EXACT, _TRUE = 3e-4, 0.005
#: A print is off by no more than this where nothing has slipped, as a share.
_NEARLY = 0.15
#: A square that sets the scale may be so many times as large or small as it should be, and where
#: its words say how large that is, as many as an inch has mm, and a little more.
_MOST, _SAID_MOST = 6.0, 26.0
#: Units to the inch that programs draw and read at.
PER_INCH = (72, 90, 96, 150, 300)


def slip(factor: float) -> str:
    """What makes a drawing `factor` times its size; "" where no usual slip does."""
    slips = [(25.4, "mm were taken for inches"), (1 / 25.4, "inches were taken for mm")]
    slips += [(10.0, "mm were taken for cm"), (0.1, "cm were taken for mm")]
    slips += [
        (made / read, f"it was drawn at {made} to the inch and is read at {read}")
        for read in sorted(PER_INCH, key=lambda n: n not in (72, 96))
        for made in PER_INCH
        if made != read
    ]
    near = min(slips, key=lambda one: abs(one[0] / factor - 1))
    return near[1] if abs(near[0] / factor - 1) <= 2e-3 else ""


def without_squares(loops: list[Loop], words: Sequence[Shape], out: Gathered) -> list[Loop]:
    """Without squares whose words say how large they should be; they prove the scale.

    Such a square says a length and that it is a test, or holds nothing but the length. Other
    words do not matter where a line of its own says just the side that it has, or one that is as
    much off as that of another square does, and nothing names it. One that has set the scale
    needs no words.
    """
    squares = _squares(loops, words)
    alone = [_times(s.loop, s.alone) for s in squares if s.alone]
    taken = set()
    for square in squares:
        loop, length = square.loop, square.meant
        if length is None and square.alone:
            by, said = _times(loop, square.alone)
            others = (other for other, its in alone if abs(its - said) > _TRUE * said)
            if any(abs(by / other - 1) <= _TRUE for other in (1.0, *others)):
                length = square.alone
        side = out.options.square
        known = side is not None and abs(_side(loop) / side - 1) <= _TRUE
        if length is None and not known:
            continue
        taken.add(id(loop))
        for shape in (*loop.shapes, *square.words):
            out.aside(shape, "a test square" if shape in loop.shapes else "words of a test square")
        if length is not None:
            _judge_square(loop, length, out)
    return [loop for loop in loops if id(loop) not in taken]


class _Square(NamedTuple):
    """A square, the words in it or beside it, the length that is `meant` as that of a test, and
    one that stands there `alone`, which other squares may prove."""

    loop: Loop
    words: list[Shape]
    meant: re.Match[str] | None
    alone: re.Match[str] | None


def _squares(loops: Sequence[Loop], words: Sequence[Shape]) -> list[_Square]:
    """All squares, with the words in them, or beside those that hold no length."""
    squares = [loop for loop in loops if _is_square(loop, _SAID_MOST)]
    held = {id(loop): words_in(loop, words) for loop in squares}
    silent = [loop for loop in squares if not LENGTH.search(said_in(held[id(loop)]))]
    for loop, beside in words_beside(silent, loops, words):
        both = [*held[id(loop)], *beside]
        length = meant_by(said_in(both))
        # A length alone may be of something else: it has to be about right.
        if length and not (only_length(said_in(both)) and _is_far(_side(loop) / mm(length))):
            held[id(loop)] = both
    return [_square(loop, held[id(loop)]) for loop in squares]


def _square(loop: Loop, held: list[Shape]) -> _Square:
    meant = meant_by(said_in(held), loop.shapes[0].name)
    if _is_square(loop):
        return _Square(loop, held, meant, _alone(loop, held))
    if meant and not _slipped(_side(loop), mm(meant)):
        meant = None
    return _Square(loop, held, meant, None)


def _times(loop: Loop, length: re.Match[str]) -> tuple[float, float]:
    """How many times as large a square is as its words say, and how large they say, mm."""
    return _side(loop) / mm(length), mm(length)


def _is_far(factor: float) -> bool:
    return abs(factor - 1) > _NEARLY and not slip(factor)


def _slipped(side: float, wanted: float) -> bool:
    """Whether a side beyond those of test squares is that of one in a drawing of a wrong unit."""
    return _SQUARES[0] <= wanted <= _SQUARES[1] and bool(slip(side / wanted))


def _alone(loop: Loop, held: Sequence[Shape]) -> re.Match[str] | None:
    """The length that stands on a line of its own in a square that nothing names."""
    if given(loop.shapes[0].name):
        return None
    lines = (t.text for s in held for t in s.texts if only_length(t.text))
    return next(filter(None, map(LENGTH.search, lines)), None)


def _side(loop: Loop) -> float:
    return loop.path.length / 4


def _is_square(loop: Loop, most: float = 1.0) -> bool:
    x0, y0, x1, y1 = loop.path.bounds
    a, b = sorted((x1 - x0, y1 - y0))
    fits = _SQUARES[0] / most <= b <= _SQUARES[1] * most and b - a <= _SQUARE * b
    return fits and not loop.holes and is_rectangle(loop.path)


def _judge_square(loop: Loop, length: re.Match[str], out: Gathered) -> None:
    wanted, found = mm(length), _side(loop)
    off, said = found / wanted - 1, length[0].strip()
    cure = f'--set "square={wanted:g} mm" reads everything true to scale by it.'
    if abs(off) <= _EXACT:
        out.find("test-square", "note", f"the test square of {said} is as large as it says")
    elif abs(off) <= _TRUE:
        text = (
            f"the test square of {said} measures {found:.2f} mm: everything is "
            f"{abs(off):.2%} too {'large' if off > 0 else 'small'}, {600 * abs(off):.1f} mm on "
            "60 cm; nothing was changed"
        )
        out.find("test-square", "warn", text, f"If the square was drawn true, {cure}")
    else:
        why = slip(found / wanted)
        text = (
            f"the test square of {said} measures {found:.1f} mm, not {wanted:.1f} mm: everything "
            f"is {found / wanted:.4g} times its size{f' ({why})' if why else ''}; nothing was "
            "changed"
        )
        more = f" Or make the drawing {wanted / found:.4g} times as large."
        out.find("scale-wrong", "warn", text, cure + more)


# --- a square that sets the scale ---------------------------------------------------------


def scale_by_square(drawing: Drawing, options: Options) -> None:
    """Make the drawing as large as its test square says, which is `options.square` mm wide.

    Raises InputError where there is no square, or squares of several sizes and no words.
    """
    side = options.square
    if side is None:
        return
    found = _set_by(drawing, side, options)
    factor = side / found
    if abs(factor - 1) <= 1e-5:
        text = f"the test square is {side:g} mm, as it should be: nothing was scaled"
    else:
        why = slip(1 / factor)
        text = (
            f"the test square measures {found:.2f} mm and should be {side:g} mm: everything was "
            f"made {factor:.5g} times as large{f' ({why})' if why else ''}"
        )
        _scale(drawing, factor)
    drawing.findings.append(Finding("scaled-by-square", "note", text))


def _set_by(drawing: Drawing, side: float, options: Options) -> float:
    """The side of the square that is meant, as drawn, mm."""
    most = _SAID_MOST * side
    small = []
    for shape in drawing.shapes:
        boxes = [path.bounds for path in shape.paths]
        if boxes and not shape.hidden:
            x0, y0 = min(b[0] for b in boxes), min(b[1] for b in boxes)
            x1, y1 = max(b[2] for b in boxes), max(b[3] for b in boxes)
            if x1 - x0 <= most and y1 - y0 <= most:
                small.append(shape)
    words = [s for s in drawing.shapes if s.texts and not s.hidden]
    loops = lines_of(small, Sizes(), Gathered(options)).loops
    squares = [lp for lp in loops if _is_square(lp, _SAID_MOST)]
    said = [lp for lp in squares if side <= _SAID_MOST * _side(lp) and _says(lp, side, words)]
    squares = [lp for lp in squares if side / _MOST <= _side(lp) <= _MOST * side]
    for best in (said, squares):
        sizes = sorted(map(_side, best))
        if sizes and sizes[-1] / sizes[0] - 1 <= _TRUE:
            return float(np.mean(sizes))
        if sizes:
            break
    if not squares:
        what = f"no square is drawn that could be the test square of {side:g} mm"
        raise InputError(what, cure="Check the drawing, or leave out the setting square.")
    listed = ", ".join(f"{s:.1f}" for s in sorted({round(_side(lp), 1) for lp in squares})[:8])
    raise InputError(
        f"squares of several sizes may be the test square of {side:g} mm: {listed} mm",
        cure="Write its length into the one that is meant, or take the others out.",
    )


def _says(loop: Loop, side: float, words: Sequence[Shape]) -> bool:
    """Whether a square says that it is `side` mm wide."""
    said = " ".join((loop.shapes[0].name, said_in(words_in(loop, words))))
    return any(abs(mm(length) / side - 1) <= _TRUE for length in LENGTH.finditer(said))


def _scale(drawing: Drawing, factor: float) -> None:
    by = affine.scaling(factor)
    for shape in drawing.shapes:
        shape.paths = [path.transformed(by) for path in shape.paths]
        shape.texts = [
            t._replace(at=(t.at[0] * factor, t.at[1] * factor), height=t.height * factor)
            for t in shape.texts
        ]
        if shape.dot is not None:
            shape.dot = (shape.dot[0] * factor, shape.dot[1] * factor)
    if drawing.page is not None:
        drawing.page = (drawing.page[0] * factor, drawing.page[1] * factor)
    if drawing.border is not None:
        x0, y0, x1, y1 = drawing.border
        drawing.border = (x0 * factor, y0 * factor, x1 * factor, y1 * factor)
    drawing.scaled = factor
