"""Drafts as pieces of the model: lines, names and features put together."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TypeVar

import numpy as np

from ...errors import InputError
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...model import (
    Adjust,
    Cutout,
    Drill,
    Label,
    Mark,
    Notch,
    Outline,
    OutlineKind,
    Piece,
    is_diamond,
    is_eye_dart,
    parse_allowances,
)
from .drafts import Draft
from .edge_darts import with_edge_darts
from .features import (
    drawn_closed,
    mouth_ends,
    read_axis,
    read_dart,
    read_fold,
    read_grain,
    read_hold,
    read_pleat,
    vec,
)
from .loops import closed_within
from .marking import DATA_ROLES, choice, faces, flag, length, quantities, side
from .names import dotted, dotted_of, given, plain_name
from .notches import feet_of, read_notch
from .outlines import Line, Lines, find_lines, refitted, with_vertices
from .shapes import Element, Marking, Shape
from .spelling import meant_role
from .vertices import (
    EDGE_REACH,
    POINT_REACH,
    centre_of,
    corners_of,
    edge_runs,
    place_of,
    points_on,
    refuse_far,
    written_runs,
)

#: Sides of pieces beyond these, in mm, are hardly meant.
_WIDE, _TOO_WIDE, _TINY = 5_000.0, 50_000.0, 10.0

_SIZE_CURE = "Check the page size and unit of the drawing, or say its unit (--units)."

_MOST_MARKS = 2000

_T = TypeVar("_T")
_S = TypeVar("_S")


def build_piece(draft: Draft) -> Piece | None:
    """The piece of a draft; None, with findings, where it has no usable outline.

    Raises InputError for marks and attributes that cannot be meant as they are.
    """
    if len(draft.marks) > _MOST_MARKS:
        raise InputError(
            f"the piece has {len(draft.marks)} marks, more than {_MOST_MARKS}",
            where=draft.title,
            cure="Take out what is no mark.",
        )
    return _Builder(draft).build()


class _Builder:
    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.element = draft.elements[0]

    def build(self) -> Piece | None:
        draft = self.draft
        lines = find_lines(draft)
        lines = lines and with_edge_darts(draft, lines)
        self._list_marks()
        if lines is None:
            for drawn in (
                *draft.shapes,
                *(d for d in draft.marks if d.marking and d.marking.outlining),
            ):
                self.draft.out.aside(drawn, f"{draft.title} was left out")
            return None
        outline, cut_line = self._outlines(lines)
        kind, allowance = self._kind(lines)
        quantity = draft.get("data-quantity")
        piece = Piece(
            draft.name,
            outline,
            kind,
            allowance,
            cut_line,
            draft.size,
            self._said("data-quantity", lambda e: quantities(e, quantity) if quantity else (), ()),
            self._said("data-pair", lambda e: flag(e, "data-pair"), False),
            self._said("data-side", side, "both"),
            self._single("axis", read_axis),
            self._single("grain", read_grain),
            self._single("fold", lambda d: read_fold(d, outline, draft)),
            self._notches(outline, cut_line),
            self._all(lambda m: m.role == "drill", self._drill),
            self._marks(),
            self._cutouts(lines),
            tuple(
                Label(t.text, t.at, t.height, t.angle) for d in self._of("label") for t in d.texts
            ),
            tuple(Adjust(path, self._name(d)) for d in self._of("adjust") for path in d.paths),
            self._each(self._darts(within=False), lambda d: read_dart(d, outline, draft)),
            self._all(lambda m: m.pleat is not None, lambda d: read_pleat(d, outline, draft)),
            self._all(lambda m: bool(m.hold), lambda d: read_hold(d, outline, draft)),
            self._story(),
            faces=self._said("data-faces", faces, None),
        )
        piece = self._with_allowances(piece)
        judge_size(piece, draft, _SIZE_CURE)
        return piece

    # --- attributes ---------------------------------------------------------------

    def _bearer(self, attribute: str) -> Element:
        """The element of the piece that has an attribute; the foremost where none has."""
        return next((n for n in self.draft.elements if attribute in n.attributes), self.element)

    def _kind(self, lines: Lines) -> tuple[OutlineKind, float | None]:
        word = self._said(
            "data-outline",
            lambda e: choice(e, "data-outline", ("sew", "cut", "unknown"), "unknown"),
            "unknown",
        )
        allowance = self._said("data-allowance", lambda e: length(e, "data-allowance"), None)
        if lines.sewn or lines.sew is not None:
            # The allowance is what lies between the two lines, if both are drawn.
            return "sew", None
        return ("sew" if word == "sew" else "cut" if word == "cut" else "unknown"), allowance

    def _with_allowances(self, piece: Piece) -> Piece:
        """With what the file says is meant by the allowance of a sewing line."""
        text = self.draft.get("data-allowances")
        if not text or piece.kind != "sew":
            return piece
        with self.draft.guarded():
            try:
                return replace(piece, allowances=parse_allowances(text, piece.outline))
            except InputError as error:
                raise error.at("data-allowances") from None
        return piece

    def _story(self) -> tuple[str, ...]:
        """Lines that tell what was done to the piece."""
        return next((e.story for e in self.draft.elements if e.story), ())

    def _name(self, drawn: Shape) -> str | None:
        """The name that its marking says; else its label, or an id that no program gave."""
        if drawn.marking is not None and drawn.marking.name:
            return drawn.marking.name
        element = drawn.element
        name = element.label or (element.ident if given(element.ident) else "")
        return None if not name or dotted(name) else plain_name(name)

    # --- marks ----------------------------------------------------------------------

    def _list_marks(self) -> None:
        """List every mark as set aside, since none is a piece; tell unknown roles."""
        for drawn in self.draft.marks:
            assert drawn.marking is not None
            marking = drawn.marking
            if marking.role and marking.role not in DATA_ROLES:
                self.draft.out.aside(drawn, f"has the unknown role {marking.role}")
                text = f'there is no role "{marking.role}"; the shape was left out'
                cure = f"{meant_role(marking.role)}Roles are {', '.join(DATA_ROLES)}."
                self.draft.find("role-unknown", "warn", text, cure, place=drawn.place)
            elif not marking.outlining:
                self.draft.out.aside(drawn, f"{marking.says()} of {self.draft.title}")

    def _of(self, role: str) -> list[Shape]:
        return [d for d in self.draft.marks if d.marking and d.marking.role == role]

    def _single(self, role: str, read: Callable[[Shape], _T]) -> _T | None:
        found = self._of(role)
        if len(found) > 1:
            text = f"the piece has {len(found)} lines with the role {role}; the first was taken"
            cure = "Leave one of them."
            self.draft.find("mark-twice", "warn", text, cure, place=found[1].place)
        return next(iter(self._each(found[:1], read)), None)

    def _all(
        self, means: Callable[[Marking], bool], read: Callable[[Shape], _T | None]
    ) -> tuple[_T, ...]:
        return self._each((d for d in self.draft.marks if d.marking and means(d.marking)), read)

    def _each(self, marks: Iterable[Shape], read: Callable[[Shape], _T | None]) -> tuple[_T, ...]:
        """What marks say, without those that say what cannot be meant."""
        made: list[_T] = []
        for drawn in marks:
            with self.draft.guarded(place_of(drawn)):
                one = read(drawn)
                if one is not None:
                    made.append(one)
        return tuple(made)

    def _notches(self, outline: Outline, cut_line: Outline | None) -> tuple[Notch, ...]:
        marks = self._of("notch")
        feet = iter(feet_of(marks, outline, cut_line))
        return self._each(marks, lambda d: read_notch(d, next(feet), outline, self.draft))

    def _drill(self, drawn: Shape) -> Drill:
        return Drill(vec(centre_of(drawn)), self._name(drawn), side(drawn.element))

    def _said(self, attribute: str, read: Callable[[Element], _S], otherwise: _S) -> _S:
        """What an attribute of the piece says; `otherwise` where it cannot be meant."""
        with self.draft.guarded():
            return read(self._bearer(attribute))
        return otherwise

    def _darts(self, *, within: bool) -> list[Shape]:
        """Marks of darts: those drawn closed within the piece, or the others."""
        darts = [d for d in self.draft.marks if d.marking and d.marking.dart is not None]
        return [d for d in darts if drawn_closed(d) == within]

    def _marks(self) -> tuple[Mark, ...]:
        """Lines that are drawn; among them darts with a point at each end."""
        guessed = 0

        def read(drawn: Shape) -> list[Mark]:
            nonlocal guessed
            made: list[Mark] = []
            for path in drawn.paths:
                kind = drawn.marking.kind if drawn.marking else ""
                mark = Mark(path, kind, self._name(drawn), side(drawn.element))
                if path.closed and not kind:
                    named = is_eye_dart(replace(mark, kind=mark.name or ""))
                    if named or is_diamond(path):
                        guessed += not named
                        mark = replace(mark, kind="dart")
                made.append(mark)
            return made

        def eye(drawn: Shape) -> list[Mark]:
            name = drawn.marking.dart if drawn.marking else None
            return [Mark(drawn.paths[0], "dart", name or None, side(drawn.element))]

        found = (*self._each(self._of("mark"), read), *self._each(self._darts(within=True), eye))
        if guessed:
            text = f"{guessed} closed diamond(s) within the piece were taken for darts"
            cure = 'Give one that is none a kind of its own, as data-kind="pocket".'
            self.draft.find("inner-darts", "note", text, cure)
        return tuple(mark for marks in found for mark in marks)

    def _cutouts(self, lines: Lines) -> tuple[Cutout, ...]:
        found = [Cutout(self._refitted(p, lines.outline.element)) for p in lines.holes]
        for drawn in self._of("cutout"):
            for path in drawn.paths:
                closed = closed_within(path, self.draft.out.options.join_tolerance)
                if not closed.closed:
                    text = "a cut-out is open and was left out"
                    cure = "Close its path in the editor."
                    self.draft.find("open-cutout", "warn", text, cure, place=drawn.place)
                    continue
                with self.draft.guarded(place_of(drawn)):
                    done = self._refitted(closed, drawn.element)
                    found.append(Cutout(done, self._name(drawn), side(drawn.element)))
        return tuple(found)

    def _refitted(self, path: Path, element: Element) -> Path:
        return refitted(path, element, "cut-out", self.draft)

    # --- outlines and names ---------------------------------------------------------

    def _outlines(self, lines: Lines) -> tuple[Outline, Outline | None]:
        """The working outline and the cutting line round it, with their names."""
        points = self._shown(lambda m: m.vertex)
        edges = self._shown(lambda m: m.edge is not None)
        runs = self.draft.get("data-runs")
        if lines.sew is None:
            outline, far = self._named(lines.outline, points, edges, runs)
            self._far(outline, far)
            return outline, None
        for_cut = [d for d in points if d.element.get("data-on") == "cut"]
        rest = [d for d in points if d not in for_cut]
        on_cut = lines.outline.element.get("data-runs") or None
        near_cut = self._edges_of_cut(lines, edges)
        edges = [d for d in edges if d not in near_cut]
        outline, far = self._named(lines.sew, rest, edges, runs)
        cut_line, nowhere = self._named(
            lines.outline, for_cut + far, near_cut, on_cut, mouths=False
        )
        self._far(outline, nowhere)
        return outline, cut_line

    def _shown(self, means: Callable[[Marking], bool]) -> list[Shape]:
        """Marks of a kind, without those that have no shape."""
        marks = [d for d in self.draft.marks if d.marking and means(d.marking)]
        return list(self._each(marks, lambda d: d if len(centre_of(d)) else None))

    def _far(self, outline: Outline, marks: Iterable[Shape]) -> None:
        for drawn in marks:
            with self.draft.guarded(place_of(drawn)):
                raise refuse_far(outline, drawn, self.draft)

    def _edges_of_cut(self, lines: Lines, edges: list[Shape]) -> list[Shape]:
        """Edge marks out of reach of the sewing line and on the cutting line."""
        if not edges or lines.sew is None:
            return []
        places = np.array([centre_of(d) for d in edges])
        sewn = nearest(lines.sew.path, places).distance
        cut = nearest(lines.outline.path, places).distance
        return [d for d, a, b in zip(edges, sewn, cut, strict=True) if a > EDGE_REACH >= b]

    def _named(
        self,
        line: Line,
        points: list[Shape],
        edges: list[Shape],
        runs: str | None,
        *,
        mouths: bool = True,
    ) -> tuple[Outline, list[Shape]]:
        """One outline with its names, and the point marks that are at none of its vertices.

        With `mouths` it bears the darts and pleats too.
        """
        draft = self.draft
        asked = [(d, centre_of(d)) for d in points]
        for drawn in draft.marks if mouths else ():
            asked += [(drawn, end) for end in mouth_ends(drawn)]
        places = [(at, dotted_of(drawn.element) is not None) for drawn, at in asked]
        line, bare = with_vertices(line, places, POINT_REACH)
        if bare:
            marks = [asked[k][0].marking for k in bare]
            names = dict.fromkeys(m.says() if m else "" for m in marks)
            draft.find(
                "point-put-back",
                "note",
                f"a straight line of the outline had no node under a mark, and got one: "
                f"{', '.join(names)}",
                at=asked[bare[0]][1],
            )
        named, rest = points_on(line.path, points, draft)
        attribute = line.element.attributes.get("data-corners")
        corners = corners_of(line, attribute, draft.out.options.corner_angle, draft)
        outline = Outline(line.path, corners, named)
        found = edge_runs(outline, edges, draft)
        if runs:
            with draft.guarded():
                found += written_runs(outline, runs, "data-runs")
        order = sorted(found, key=lambda run: (run.start, run.end))
        return Outline(line.path, corners, named, tuple(order)), rest


def judge_size(piece: Piece, draft: Draft, cure: str) -> None:
    """Tell a piece that no garment has, `cure` what to check then."""
    x0, y0, x1, y1 = piece.bounds
    longest = max(x1 - x0, y1 - y0)
    if not _TINY <= longest <= _WIDE:
        size = f"{longest / 1000:.1f} m" if longest > _WIDE else f"{longest:.1f} mm"
        text = f"the piece is {size} long, which is hardly meant; nothing was changed"
        draft.find("impossible-size", "fail" if longest > _TOO_WIDE else "warn", text, cure)
