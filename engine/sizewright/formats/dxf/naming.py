"""Names, sizes and labels of pieces in a stranger's drawing."""

from __future__ import annotations

import numpy as np

from .board import PLAIN_LAYERS, Board, StrangePiece, alone, middle
from .entities import Entity
from .layers import hint
from .texts_in import plain_name, said_by


def assign_texts(board: Board) -> None:
    """Each text to the piece that it stands in, or whose block it is in."""
    single = alone(board.pieces)
    for entity in board.entities:
        if entity.text is None:
            continue
        piece = _text_piece(board, entity)
        if piece is None and entity.insert is not None:
            piece = single.get(entity.insert.number)
        if piece is None:
            board.aside(entity, f'text "{entity.text.text[:30]}" in no piece')
        else:
            piece.texts.append(entity)


def _text_piece(board: Board, entity: Entity) -> StrangePiece | None:
    text = entity.text
    assert text is not None
    turn = np.radians(text.angle)
    along = np.array([np.cos(turn), np.sin(turn)])
    width = 0.6 * text.height * max(len(line) for line in text.text.split("\n"))
    start = np.array(text.at) + 0.4 * text.height * np.array([-along[1], along[0]])
    for share in (0.5, 0.0, 1.0):
        piece = board.piece_of((start + share * width * along)[None], entity)
        if piece is not None:
            return piece
    return None


def name_pieces(board: Board) -> None:
    """A name of its own for each piece, and what its texts say besides."""
    single = alone(board.pieces)
    layers = [(p.loop.layer, p.size) for p in board.pieces]
    taken: set[tuple[str, str | None]] = set()
    numbers: dict[str | None, int] = {}
    for piece in board.pieces:
        said = said_by(piece.texts, named=False)
        piece.fields, piece.labels = said.fields, said.labels
        piece.size = piece.fields.pop("size", "") or piece.size
        name = piece.fields.pop("name", "") or _other_name(board, piece, single, layers)
        if not name:
            number = numbers.get(piece.size, 0) + 1
            while (f"piece-{number}", piece.size) in taken:
                number += 1
            numbers[piece.size] = number
            name = f"piece-{number}"
        if (name, piece.size) in taken:
            count = 2
            while (f"{name}-{count}", piece.size) in taken:
                count += 1
            board.find(
                "name-twice",
                "warn",
                f'two pieces are named "{name}"; the second is called "{name}-{count}"',
                "Give each piece its own name.",
                place=middle(piece.loop.path),
            )
            name = f"{name}-{count}"
        taken.add((name, piece.size))
        piece.name = name


def _other_name(
    board: Board,
    piece: StrangePiece,
    single: dict[int, StrangePiece],
    layers: list[tuple[str, str | None]],
) -> str:
    """The name of its block, where it is the only piece there, else of its layer."""
    insert = piece.loop.entities[0].insert
    if insert is not None and single.get(insert.number) is piece:
        name = insert.block
        while name.startswith("*") and insert.parent is not None:
            insert = insert.parent
            name = insert.block
        if not name.startswith("*"):
            return plain_name(name)
    layer = piece.loop.layer
    speaks = layer not in PLAIN_LAYERS and not hint(layer) and layer not in board.sizes
    return plain_name(layer) if speaks and layers.count((layer, piece.size)) == 1 else ""
