"""The pattern pages: a window on the sheet, and what helps to stick pages together.

Each page lies on the strips that its left and its upper neighbour keep free for it: it is
trimmed along its left and upper line, and laid with that edge on the neighbour's line.
Both lines are one line of the sheet, so that diamonds drawn on it meet again.
"""

from __future__ import annotations

from sizewright.palette import INK, QUIET, Line

from .layout import DIAMOND, Diamond, Layout, Page
from .pen import Pen
from .squares import draw_squares

FORM = "sheet"
_PALE = "#edf0f2"
_TRIM = Line(INK, 0.2)
_LAY = Line(QUIET, 0.25, (1.5, 1.5))
_MARK = Line(QUIET, 0.3)
_CROP = Line(INK, 0.25)
_SMALL = 2.5


def draw_sheet(pen: Pen, layout: Layout) -> None:
    """All pieces, stored once."""
    with pen.form(FORM, layout.width, layout.height):
        for drawing, dx, dy in layout.drawings:
            pen.sketch(drawing, dx, dy)
        if layout.squares is not None:
            draw_squares(pen, *layout.squares)


def draw_page(pen: Pen, layout: Layout, page: Page) -> None:
    """One pattern page."""
    with pen.page(layout.paper.width, layout.paper.height):
        _Furniture(pen, layout, page).draw()


class _Furniture:
    """What stands on a page; x0, y0, x1, y1 is the box within its margins."""

    def __init__(self, pen: Pen, layout: Layout, page: Page) -> None:
        self.pen, self.layout, self.page = pen, layout, page
        self.margin = layout.margin
        wide, tall = layout.tile
        self.x0, self.y0 = self.margin, self.margin
        self.x1, self.y1 = self.x0 + wide, self.y0 + tall
        row, column = page.row, page.column
        self.left = layout.printed(row, column - 1)
        self.right = layout.printed(row, column + 1)
        self.above = layout.printed(row - 1, column)
        self.below = layout.printed(row + 1, column)
        self.wide, self.tall = layout.step

    def draw(self) -> None:
        many = len(self.layout.pages) > 1
        frame = (self.x0, self.y0, self.x1, self.y1)
        if many:
            x, y = self.x0 + self.wide / 2, self.y1 - self.tall / 2
            tall = min(70.0, self.wide * 0.3)
            label = self.page.label
            self.pen.text(label, (x, y - 0.36 * tall), tall, bold=True, colour=_PALE)
        sx0, sy0, _, _ = self.layout.window(self.page)
        self.pen.show(FORM, self.x0 - sx0, self.y0 - sy0, frame)
        if many:
            self._joints()
        self._corners()
        self._margins(many)

    def _joints(self) -> None:
        pen, overlap = self.pen, self.layout.overlap
        lay_x, lay_y = self.x0 + self.wide, self.y1 - self.tall
        if self.right:
            pen.polyline([(lay_x, self.y0), (lay_x, self.y1)], _LAY)
            words = f"{self.right.label} lies here"
            if overlap >= 5:
                x, y = lay_x + overlap / 2 + 0.9, self.y1 - self.tall / 2
                self._say(words, x, y, 90.0)
        if self.below:
            pen.polyline([(self.x0, lay_y), (self.x1, lay_y)], _LAY)
            words = f"{self.below.label} lies here"
            if overlap >= 5:
                self._say(words, self.x0 + self.wide / 2, lay_y - overlap / 2 - 0.9, 0.0)
        if self.left:
            pen.polyline([(self.x0, self.y0), (self.x0, self.y1)], _TRIM)
        if self.above:
            pen.polyline([(self.x0, self.y1), (self.x1, self.y1)], _TRIM)
        self._diamonds()

    def _diamonds(self) -> None:
        """Those of the page's joints, each with its number in both halves."""
        joints = self.layout.joints
        row, column = self.page.row, self.page.column
        own = {
            joints.get(key)
            for key in (
                ("beside", row, column - 1),
                ("beside", row, column),
                ("under", row - 1, column),
                ("under", row, column),
            )
        }
        sx0, sy0, _, _ = self.layout.window(self.page)
        with self.pen.clipped((self.x0, self.y0, self.x1, self.y1)):
            for one in self.layout.diamonds:
                if one.number in own:
                    self._diamond(one, one.x - sx0 + self.x0, one.y - sy0 + self.y0)

    def _diamond(self, one: Diamond, x: float, y: float) -> None:
        d = DIAMOND
        corners = [(x - d, y), (x, y - d), (x + d, y), (x, y + d)]
        self.pen.polyline(corners, _MARK, closed=True)
        for side in (-1, 1):
            dx, dy = (side * 0.45 * d, 0.0) if one.level else (0.0, side * 0.45 * d)
            size = 2.6 if one.number < 100 else 1.9
            at = (x + dx, y + dy - 0.36 * size)
            self.pen.text(str(one.number), at, size, bold=True, colour=QUIET)

    def _corners(self) -> None:
        """Trim marks: the lines of the box, carried on into the margin at its corners."""
        reach = min(5.0, self.margin - 1.0)
        if reach < 1.5:
            return
        for x, out_x in ((self.x0, -1), (self.x1, 1)):
            for y, out_y in ((self.y0, -1), (self.y1, 1)):
                start = 0.8
                self.pen.polyline([(x + out_x * start, y), (x + out_x * reach, y)], _CROP)
                self.pen.polyline([(x, y + out_y * start), (x, y + out_y * reach)], _CROP)

    def _margins(self, many: bool) -> None:
        if self.margin < 7:
            return
        pen, layout = self.pen, self.layout
        low, high = self.y0 - 4.3, self.y1 + 2.2
        name = self.page.label if many else ""
        left = self.x0 + 7.0
        if name:
            left += pen.text(name, (left, low - 0.4), 4.2, anchor="start", bold=True) + 3.0
        fit = _shortened(layout.title, self.x1 - left - 62.0)
        pen.text(fit, (left, low), _SMALL, anchor="start")
        words = "true size: print at 100 %"
        pen.text(words, (self.x1 - 7.0, low), _SMALL, anchor="end", colour=QUIET)
        if self.above:
            words = f"cut along this line, lay on {self.above.label}"
            self._say(words, self.x0 + self.wide / 2, high, 0.0)
        if self.left:
            words = f"cut along this line, lay on {self.left.label}"
            self._say(words, self.x0 - 2.2, self.y1 - self.tall / 2, 90.0)

    def _say(self, words: str, x: float, y: float, angle: float) -> None:
        self.pen.text(words, (x, y), _SMALL, angle=angle, colour=QUIET)


def _shortened(text: str, width: float) -> str:
    """As much of a text as a width holds."""
    from .pen import measure

    if measure(text, _SMALL) <= width:
        return text
    while text and measure(text + "…", _SMALL) > width:
        text = text[:-1]
    return text.rstrip() + "…" if text else ""
