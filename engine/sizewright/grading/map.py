"""The grade map of a piece: one fixed matrix from rule amounts to moves of its points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from ..errors import GeometryError
from ..findings import Finding
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model.features import Dart, Drill, Notch
from ..model.frame import Frame, axis_frame, centre_vertices
from ..model.mixture import Mixture, parse_mixture
from ..model.outline import Outline
from ..model.piece import Piece
from ..model.rule_weights import RuleWeights
from .carried import carried, carried_by, placed
from .curves import follow
from .field import Field
from .notches import NotchNote, moved_notches
from .stations import settle
from .tables import Growth

#: The four axes of a table as (x, y) of the standard, or as (width, length).
_STANDARD = {"x": (1.0, 0.0), "y": (0.0, 1.0)}
_OWN = {"width": (1.0, 0.0), "length": (0.0, 1.0)}


@dataclass(frozen=True, eq=False)
class GradeMap:
    """How every point of one piece moves, linear in the rule amounts.

    Make one with `grade_map`. `rules` are those that the piece's points use, alone or in
    mixtures; rule i has
    the columns 2 i (width) and 2 i + 1 (length) of an amounts array, in mm. Rows are the
    control points: three for each segment of the outline (its fourth is the next one's
    first), three for each of the cutting line if it has one of its own, then the free
    features. `base` (rows, 2) in mm; `matrix` (rows, 2, columns).
    """

    piece: Piece
    frame: Frame
    rules: tuple[str, ...]
    base: Floats
    matrix: Floats
    riding: tuple[int, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def columns(self) -> int:
        """Length of an amounts array: two for each rule."""
        return 2 * len(self.rules)

    @property
    def outline_rows(self) -> int:
        """How many rows, from the first, belong to the outline."""
        return 3 * len(self.piece.outline.path)

    def amounts(self, growth: Growth) -> Floats:
        """What rules give as this piece's axes take it, (columns,); rules not used are left.

        Arrays (k,) of amounts for k bodies give (k, columns). A rule that `growth` has not
        counts as no amount.
        """
        used = [amount for rule in self.rules for amount in growth.get(rule, {}).values()]
        out = np.zeros((*np.broadcast_shapes(*map(np.shape, used)), self.columns))
        units = {axis: self.frame.from_standard(*xy) for axis, xy in _STANDARD.items()}
        for k, rule in enumerate(self.rules):
            for axis, amount in growth.get(rule, {}).items():
                width, length = units[axis] if axis in units else _OWN[axis]
                out[..., 2 * k] += np.asarray(amount) * width
                out[..., 2 * k + 1] += np.asarray(amount) * length
        return out

    def moves(self, amounts: Floats) -> Floats:
        """Moves (rows, 2) in mm of all control points for amounts (columns,)."""
        # Summed alike in every row, so that points with the same weights move by the same bits.
        moved: Floats = (self.matrix * np.asarray(amounts, dtype=np.float64)).sum(axis=-1)
        return moved

    def batch(self, amounts: Floats) -> Floats:
        """Places (k, rows, 2) of all control points for amounts (k, columns): one product.

        This is the map alone: darts are not evened, corners not squared, notches not
        placed. No amounts give the base's own numbers.
        """
        amounts = np.asarray(amounts, dtype=np.float64)
        if amounts.ndim != 2 or amounts.shape[1] != self.columns:
            raise GeometryError(
                f"amounts of shape {amounts.shape} are not (bodies, {self.columns})"
            )
        full = np.empty((len(amounts), self.columns + 1))
        full[:, :-1] = amounts
        full[:, -1] = 1.0
        return (full @ self._product).reshape(len(amounts), *self.base.shape)

    @cached_property
    def _product(self) -> Floats:
        """The matrix with the base as its last row, (columns + 1, 2 rows)."""
        flat = self.matrix.reshape(-1, self.columns).T
        return np.ascontiguousarray(np.vstack([flat, self.base.reshape(1, -1)]))

    def apply(self, amounts: Floats) -> tuple[Piece, tuple[NotchNote, ...]]:
        """The piece at `amounts` (columns,), before truing, and what its notches met.

        No amounts give the base piece itself.
        """
        amounts = np.asarray(amounts, dtype=np.float64)
        if not amounts.any():
            return self.piece, ()
        places = self.base + self.moves(amounts)
        piece = self.piece
        n = self.outline_rows
        outline = piece.outline.with_path(_path(piece.outline.path, places[:n]))
        cut, at = piece.cut_line, n
        if cut is not None:
            at = n + 3 * len(cut.path)
            cut = cut.with_path(_path(cut.path, places[n:at]))
        moved = placed(replace(piece, outline=outline, cut_line=cut), places[at:])
        notches, notes = self.notches_on(outline, amounts)
        return replace(moved, notches=notches), notes

    def notches_on(
        self, outline: Outline, amounts: Floats
    ) -> tuple[tuple[Notch, ...], tuple[NotchNote, ...]]:
        """The notches on the graded `outline`, and which could not keep their distance."""
        page = self.frame.basis.T
        columns = _columns(self.rules)
        moves = {
            rule: page @ (_weights(parse_mixture(rule), columns, 1.0) @ np.asarray(amounts))
            for rule in _notch_rules(self.piece)
        }
        return moved_notches(self.piece, outline, moves, self.frame)


def grade_map(piece: Piece) -> GradeMap:
    """The grade map of a piece as it is drawn: its vertices and notches bear rule names.

    A cutting line whose allowance is meant is no part of it: it is derived in each size.

    Built from the piece's geometry alone, whatever the amounts will be. A piece without
    any rule moves not at all, and a finding says so.
    """
    if piece.allowances is not None:
        piece = replace(piece, cut_line=None)
    frame, findings = axis_frame(piece)
    outline = piece.outline
    rules = _rules(piece, notches=True)

    parts = carried(piece)
    bases = [outline.path.controls[:, :3].reshape(-1, 2)]
    if piece.cut_line is not None:
        bases.append(piece.cut_line.path.controls[:, :3].reshape(-1, 2))
    base = np.concatenate([*bases, *(part.points for part in parts)])
    if not _ruled(piece):
        note = _finding(
            piece, "no-rules", "warn", "no point has a grade rule, so it stays as it is"
        )
        note = replace(note, cure="Give its points rules in the drawing or in a points table.")
        still = np.zeros((len(base), 2, 2 * len(rules)))
        return GradeMap(piece, frame, rules, base, still, (), (*findings, note))

    own, riding = _of_outline(piece, frame, rules)
    blocks = [own.reshape(-1, 2, own.shape[3])]
    field = Field(outline.path, own)
    if piece.cut_line is not None:
        blocks.append(_beside(field, piece.cut_line, frame))
    blocks += [field.of(part, own[:, 0]) for part in parts]
    if riding:
        names = ", ".join(_name(outline, v) for v in riding)
        text = f"corners without a rule go along with their neighbours: {names}"
        findings = (*findings, _finding(piece, "corners-ride", "note", text))
    return GradeMap(piece, frame, rules, base, np.concatenate(blocks), riding, findings)


def outline_weights(piece: Piece) -> RuleWeights:
    """What the control points of the outline take of each rule, as `grade_map` has it."""
    rules = _rules(piece)
    if not rules:
        return RuleWeights((), np.zeros((len(piece.outline.path), 4, 2, 0)))
    own, _ = _of_outline(piece, axis_frame(piece)[0], rules)
    return RuleWeights(rules, np.concatenate([own, np.roll(own[:, :1], -1, axis=0)], axis=1))


@lru_cache(maxsize=64)
def rule_weights(piece: Piece) -> RuleWeights:
    """`outline_weights`, with what lies at one place within the piece and has a name.

    Kept, as steps of a job ask for it again of each piece that the step before left alone.
    """
    weights = outline_weights(piece)
    own = weights.controls[:, :3]
    field = Field(piece.outline.path, own)
    free = {
        f"{type(one).__name__.lower()} {one.name}": field.of(carried_by(one), own[:, 0])[0]
        for one in piece.features
        if isinstance(one, Drill | Dart) and one.name
    }
    return replace(weights, free=free)


def _ruled(piece: Piece) -> dict[int, Mixture]:
    """The mixtures of rules of the vertices that have any."""
    return {p.vertex: parse_mixture(p.rule) for p in piece.outline.points if p.rule is not None}


def _rules(piece: Piece, *, notches: bool = False) -> tuple[str, ...]:
    """All rules that the vertices of a piece take of, and its notches."""
    found = [*_ruled(piece).values()]
    if notches:
        found += map(parse_mixture, _notch_rules(piece))
    return tuple(dict.fromkeys(rule for mixture in found for rule in mixture.rules))


def _of_outline(piece: Piece, frame: Frame, rules: Sequence[str]) -> tuple[Floats, tuple[int, ...]]:
    """Weights (n, 3, 2, columns), by the page's axes, of a piece with rules; what rides."""
    path = piece.outline.path
    columns = _columns(rules)
    signs = frame.signs(path.vertices)
    mixtures = _ruled(piece)
    ruled = {v: _weights(one, columns, signs[v]) for v, one in mixtures.items()}
    local = path.with_controls(frame.local(path.controls))
    found = settle(piece, local.controls, ruled, centre_vertices(piece, frame))
    told = _told(mixtures, path, columns, frame)
    own = follow(local, _corners(piece.outline), found.weights, found.known, found.rigid, told)
    return frame_to_page(frame, own), found.riding


def _notch_rules(piece: Piece) -> list[str]:
    return [x.rule for x in piece.notches if x.rule is not None]


def _columns(rules: Sequence[str]) -> dict[str, int]:
    return {rule: 2 * k for k, rule in enumerate(rules)}


def _told(
    mixtures: Mapping[int, Mixture], path: Path, columns: Mapping[str, int], frame: Frame
) -> dict[tuple[int, int], Floats]:
    """The changes at ends of segments that mixtures settle, as `follow` takes them."""
    told = {}
    for v, mixture in mixtures.items():
        for side, segment, end, handle in (
            (mixture.before, (v - 1) % len(path), 1, 2),
            (mixture.after, v, 0, 1),
        ):
            if side is not None:
                sign = frame.signs(path.controls[segment, handle][None])[0]
                told[segment, end] = _weights(side, columns, float(sign))
    return told


def _weights(mixture: Mixture, columns: Mapping[str, int], sign: float) -> Floats:
    """Weights (2, columns) of a point with a mixture; `sign` is that of its width."""
    out = np.zeros((2, 2 * len(columns)))
    for row, along, terms in (
        (0, 0, mixture.width),
        (0, 1, mixture.width_from_length),
        (1, 0, mixture.length_from_width),
        (1, 1, mixture.length),
    ):
        for name, weight in terms:
            out[row, columns[name] + along] = weight
    out[0] *= sign
    return out


def frame_to_page(frame: Frame, weights: Floats) -> Floats:
    """Weights (..., 2, columns) along width and length as weights along the page's axes."""
    page: Floats = np.einsum("ap,...ac->...pc", frame.basis, weights)
    return page


def _beside(field: Field, cut: Outline, frame: Frame) -> Floats:
    """The cutting line: each vertex goes with the nearest point of the outline."""
    near = nearest(field.path, cut.path.vertices)
    page = field.on_outline(near.segment, near.t)
    weights: Floats = np.einsum("ap,mpc->mac", frame.basis, page)
    every = np.ones(len(cut.path), dtype=bool)
    local = cut.path.with_controls(frame.local(cut.path.controls))
    own = follow(local, _corners(cut), weights, every, ~every)
    return frame_to_page(frame, own).reshape(-1, 2, own.shape[3])


def _corners(outline: Outline) -> np.ndarray:
    corners = np.zeros(len(outline.path), dtype=bool)
    corners[list(outline.corners)] = True
    return corners


def _path(base: Path, rows: Floats) -> Path:
    """A closed path from three control points for each segment."""
    three = rows.reshape(-1, 3, 2)
    controls = np.concatenate([three, np.roll(three[:, :1], -1, axis=0)], axis=1)
    return base.with_controls(controls)


def _name(outline: Outline, vertex: int) -> str:
    return outline.point(vertex).name or f"#{outline.corner_number(vertex)}"


def _finding(piece: Piece, code: str, level: str, text: str) -> Finding:
    return piece.finding(code, "warn" if level == "warn" else "note", text)
