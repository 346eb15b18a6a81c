"""The pages that a full-size drawing is printed on: what of it words had better keep clear of."""

from __future__ import annotations

from dataclasses import dataclass

from .room import RATHER_NOT, SIGN, Box, Room


@dataclass(frozen=True)
class Pages:
    """In the coordinates of the drawing, mm.

    `windows` are boxes (x0, y0, x1, y1) of what each page shows away from its joints, `joints`
    the strips where two pages lie on each other, `signs` what is printed over the joints.
    """

    windows: tuple[tuple[float, float, float, float], ...] = ()
    joints: tuple[Box, ...] = ()
    signs: tuple[Box, ...] = ()

    def about(self, bounds: tuple[float, float, float, float]) -> Pages:
        """Those that a drawing within `bounds` meets."""
        x0, y0, x1, y1 = bounds
        whole = Box((x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0).grown(10.0)
        return Pages(
            tuple(w for w in self.windows if w[0] < x1 and w[2] > x0 and w[1] < y1 and w[3] > y0),
            tuple(b for b in self.joints if whole.overlaps(b)),
            tuple(b for b in self.signs if whole.overlaps(b)),
        )

    def keep_clear(self, room: Room) -> None:
        """Put joints and signs down in the room as places to keep clear of."""
        for strip in self.joints:
            room.add_box(strip, RATHER_NOT)
        for sign in self.signs:
            room.add_box(sign, SIGN)
