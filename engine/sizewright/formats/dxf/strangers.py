"""Drawings that say nothing of pieces: what lies in or at each piece, and what it is."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ..svg.drawn import Drawn, Group
from ..svg.marking import marking_of
from ..svg.text import TextLine
from .board import SMALLEST, Board, Strange, StrangePiece, mark_kind
from .entities import Entity
from .layers import hint
from .loops_in import Loop, lines_of, samples
from .naming import assign_texts, name_pieces
from .nodes import EntityNode
from .outlines_in import pick_pieces

#: A notch or fold is sought within this of an outline, in mm.
_REACH = 5.0
_FOLD_REACH = 2.0
_OPENED = frozenset({"notch", "grain", "axis", "fold", "adjust", "drill"})


def stranger_shapes(entities: Iterable[Entity], root: EntityNode, tolerance: float) -> Strange:
    """Everything sorted into pieces; `tolerance` in mm joins loose ends."""
    found = list(entities)
    board = Board(found, lines_of(found, tolerance), root)
    for copy in board.lines.copies:
        board.aside(copy, "a copy exactly on another line")
    for loop in pick_pieces(board):
        _inner(board, loop)
    for path, members in board.lines.open:
        _open(board, path, members)
    _points(board)
    assign_texts(board)
    name_pieces(board)
    for piece in board.pieces:
        _put(board, piece)
    for position, drawn in enumerate(board.out.drawn):
        drawn.position = position
    return board.out


def _inner(board: Board, loop: Loop) -> None:
    """A closed line on a layer that hints at a role."""
    role, first = hint(loop.layer), loop.entities[0]
    reach = _REACH if role == "notch" else 0.0
    piece = board.piece_of(samples(loop.path), first, reach)
    if piece is None:
        outlying = loop.side >= SMALLEST and role not in ("frame", "aside")
        reason = f"on layer {loop.layer}, in no piece" if outlying else f"on layer {loop.layer}"
        board.aside(first, reason)
    elif role in ("label", "aside", "frame"):
        board.aside(first, f"on layer {loop.layer}")
    else:
        role = role if role in ("cutout", "drill", "notch") else "mark"
        piece.shapes.append((role, mark_kind(loop.layer), [loop.path], first))


def _open(board: Board, path: Path, members: tuple[Entity, ...]) -> None:
    first = members[0]
    role = hint(first.layer)
    reach = _REACH if role in ("notch", "fold") else 0.0
    piece = board.piece_of(samples(path), first, reach)
    if role in ("label", "aside", "frame"):
        board.aside(first, f"on layer {first.layer}")
        return
    if piece is None:
        board.aside(first, "open line in no piece")
        _nearly(board, path)
        return
    if role == "fold" and not _along(path, piece.working):
        role = "mark"
    if role == "drill" or (role in ("grain", "axis") and len(path) > 1):
        role = "mark"
    # Lines that were joined may be several marks that only meet: they go on as drawn.
    paths = [path] if role not in _OPENED else [e.path for e in members if e.path is not None]
    role = role if role in _OPENED else "mark"
    piece.shapes.append((role, mark_kind(first.layer), paths, first))


def _nearly(board: Board, path: Path) -> None:
    """An open line that nearly closes round something is told."""
    gap = float(np.hypot(*(path.end - path.start)))
    x0, y0, x1, y1 = path.bounds
    if len(path) > 2 and gap < 0.1 * path.length and max(x1 - x0, y1 - y0) >= SMALLEST:
        board.find(
            "open-outline",
            "fail",
            f"a line is open: its ends are {gap:.2f} mm apart",
            "Close it in the editor, or join ends that far apart.",
            place=f"({path.end[0]:.1f}, {path.end[1]:.1f}) mm",
        )


def _points(board: Board) -> None:
    for entity in board.entities:
        if entity.place is None:
            continue
        role = hint(entity.layer)
        piece = board.piece_of(np.array([entity.place]), entity, _REACH)
        if piece is None or role not in ("notch", "drill"):
            board.aside(entity, "a point" if piece is not None else "a point in no piece")
            continue
        x, y = entity.place
        dot = Path.polyline([(x - 0.01, y), (x + 0.01, y)])
        piece.shapes.append((role, "", [dot], entity))


def _put(board: Board, piece: StrangePiece) -> None:
    first = piece.loop.entities[0]
    about = {"data-piece": piece.name}
    if piece.size:
        about["data-size"] = piece.size
    if "quantity" in piece.fields:
        about["data-quantity"] = piece.fields["quantity"]
    if "pair" in piece.fields:
        about["data-pair"] = piece.fields["pair"]
    kind = hint(piece.loop.layer)
    sewn = any(role == "sew" for role, *_ in piece.shapes)
    if (
        kind == "sew"
        or (kind == "cut" and not piece.loop.layer.casefold().startswith("outline"))
        or sewn
    ):
        about["data-outline"] = "sew" if kind == "sew" and not sewn else "cut"
    node = EntityNode("g", about, board.root, f"the piece {piece.name}")
    group = Group(node, Group(board.root, None))
    _shape(board, group, "outline", "", [piece.loop.path], first)
    if not any(role == "fold" for role, *_ in piece.shapes):
        _folds(board, group, piece)
    for role, mark, paths, entity in piece.shapes:
        if role in ("cutout", "mark", "drill", "notch", "adjust"):
            for path in paths:
                _shape(board, group, role, mark if role == "mark" else "", [path], entity)
        else:
            _shape(board, group, role, "", paths, entity)
    for entity, text in piece.labels:
        _shape(board, group, "label", "", [], entity, [text])
    _tell(board, piece)


def _folds(board: Board, group: Group, piece: StrangePiece) -> None:
    """Parts of the outline that stand on a layer for folds."""
    parts = [e for e in piece.loop.entities if hint(e.layer) == "fold" and e.path]
    along = all(_along(e.path, piece.working) for e in parts if e.path)
    if parts and along and len(parts) < len(piece.loop.entities):
        _shape(board, group, "fold", "", [e.path for e in parts if e.path], parts[0])


def _shape(
    board: Board,
    group: Group,
    role: str,
    kind: str,
    paths: list[Path],
    entity: Entity,
    texts: list[TextLine] | None = None,
) -> None:
    attributes = {"data-role": role}
    if kind and role == "mark":
        attributes["data-kind"] = kind
    tag = "text" if texts else "path"
    node = EntityNode(tag, attributes, group.node, entity.shown())
    drawn = Drawn(node, group, marking_of(node), paths=list(paths), texts=texts or [])
    board.out.drawn.append(drawn)


def _tell(board: Board, piece: StrangePiece) -> None:
    if piece.holes:
        board.find(
            "inner-cutouts",
            "note",
            f"{len(piece.holes)} closed line(s) on the outline's layer were taken for cut-outs",
            "Put lines that are not cut on another layer.",
            piece.name,
        )
    if piece.marks:
        board.find(
            "inner-marks",
            "note",
            f"{piece.marks} closed line(s) on another layer were taken for marks",
            "Put cut-outs on the layer of the outline.",
            piece.name,
        )


def _along(line: Path, outline: Path) -> bool:
    """Whether a line lies along an outline."""
    points = line.at(np.array([0.25, 0.5, 0.75]) * line.length)
    return float(nearest(outline, points).distance.max()) <= _FOLD_REACH
