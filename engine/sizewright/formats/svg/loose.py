"""Closed paths that say nothing of themselves: each is a piece, named by label or id."""

from __future__ import annotations

from ...errors import InputError
from ...geometry.path import Path
from .drafts import Draft, Gathered
from .drawn import Drawn
from .frames import Found, sides, without_copies, without_frames, without_inner
from .loops import MOST_LOOPS, Loops, gap_of, loops_of, regions_of
from .names import clean, id_of, label_of, name_of, without_copy_suffix, without_size_suffix
from .page import Page
from .sizes import Sizes

#: Closed paths whose larger side is below this, in mm, are no pieces.
SMALLEST = 20.0
#: More closed paths than this are a drawing, not a pattern.
MOST_PIECES = 1000
#: An open line whose ends are closer than this share of its length was surely to be
#: closed; up to the other share it may have been.
_NEARLY_CLOSED, _PERHAPS_CLOSED = 0.1, 0.6


def loose_pieces(
    plain: list[Drawn],
    page: Page,
    sizes: Sizes,
    ids: frozenset[str],
    out: Gathered,
    grouped: bool,
) -> list[Draft]:
    """Drafts of the unmarked shapes `plain` that are pieces; the others are set aside.

    None is where there are groups that are marked as pieces (`grouped`). `ids` are all
    ids of the drawing.
    """
    return _Loose(page, sizes, ids, out).run(plain, grouped)


class _Loose:
    def __init__(self, page: Page, sizes: Sizes, ids: frozenset[str], out: Gathered) -> None:
        self.page = page
        self.sizes = sizes
        self.ids = ids
        self.out = out
        self.taken = {(d.name, d.size) for d in out.drafts}

    def run(self, plain: list[Drawn], grouped: bool) -> list[Draft]:
        found: list[Found] = []
        open_lines: list[tuple[Drawn, Path]] = []
        for drawn in plain:
            loops = loops_of(drawn.paths)
            reason = self._no_piece(drawn, loops, grouped)
            if reason:
                self.out.aside(drawn, reason)
                if not loops.closed and loops.open and not drawn.unpainted:
                    open_lines.append((drawn, loops.open[0]))
                continue
            regions = [r for r in regions_of(loops.closed) if sides(r.outer)[1] >= SMALLEST]
            found.extend((drawn, region) for region in regions)
            if len(found) > MOST_PIECES:
                raise InputError(
                    f"the drawing has more than {MOST_PIECES} closed paths",
                    cure="Mark the pieces (data-piece), or take out everything else.",
                )
        if not grouped:
            for drawn, line in open_lines:
                self._tell_open(drawn, line, alone=not found)
        found = without_frames(found, self.page, self.out)
        found = without_copies(found, self.sizes, self.out)
        return self._drafts(without_inner(found, self._outlined(), self.sizes, self.out))

    def _outlined(self) -> list[tuple[str, str | None, Path]]:
        """Outlines of the pieces that are there by their names already."""
        found = []
        for draft in self.out.drafts:
            marked = [d for d in draft.marks if d.marking is not None and d.marking.outlining]
            for drawn in marked or draft.shapes:
                loops = loops_of(drawn.paths).closed
                found += [(draft.title, draft.size, loop) for loop in loops]
        return found

    def _no_piece(self, drawn: Drawn, loops: Loops, grouped: bool) -> str:
        """Why a shape is no piece; "" when it may be one."""
        if drawn.texts and not drawn.paths:
            return "text"
        if not loops.closed:
            return "open line" if loops.open else "draws nothing"
        if drawn.unpainted:
            return "neither filled nor stroked"
        if max(sides(p)[1] for p in loops.closed) < SMALLEST:
            return f"smaller than {SMALLEST:.0f} mm"
        if len(loops.closed) > MOST_LOOPS:
            return f"{len(loops.closed)} loops in one path"
        return "outside the groups that are marked as pieces" if grouped else ""

    def _tell_open(self, drawn: Drawn, line: Path, *, alone: bool) -> None:
        """Tell an open line that was likely meant to be an outline.

        `alone`: there is no closed one, so it is taken for one that failed.
        """
        gap = gap_of(line)
        if sides(line)[0] < SMALLEST or gap > _PERHAPS_CLOSED * line.length:
            return
        sure = alone or gap < _NEARLY_CLOSED * line.length
        self.out.find(
            "open-outline",
            "fail" if sure else "warn",
            f'"{name_of(drawn.node) or drawn.kind}" is open: its ends are {gap:.2f} mm apart; '
            "it was not taken for a piece",
            cure="Close the path in the editor, if it is a piece.",
            place=f"({line.end[0]:.1f}, {line.end[1]:.1f}) mm",
        )

    # --- names --------------------------------------------------------------------

    def _drafts(self, found: list[Found]) -> list[Draft]:
        by_shape: dict[int, int] = {}
        by_use: dict[int, int] = {}
        for drawn, _ in found:
            by_shape[id(drawn)] = by_shape.get(id(drawn), 0) + 1
            if drawn.via is not None:
                by_use[id(drawn.via)] = by_use.get(id(drawn.via), 0) + 1
        drafts: list[Draft] = []
        for drawn, region in found:
            size = self.sizes.of(drawn)
            alone = drawn.via is not None and by_use[id(drawn.via)] == 1
            name = self._name(drawn, size, alone) or self._numbered("piece", size, 1)
            if (name, size) in self.taken:
                name = self._another(drawn, name, size, several=by_shape[id(drawn)] > 1)
            self.taken.add((name, size))
            nodes = [drawn.node] if drawn.via is None else [drawn.via, drawn.node]
            drafts.append(
                Draft(
                    name,
                    size,
                    nodes,
                    drawn.group,
                    shapes=[drawn],
                    region=region,
                    position=drawn.position,
                )
            )
        return drafts

    def _name(self, drawn: Drawn, size: str | None, alone: bool) -> str:
        """Label or id; a clone's own first where it brought in one piece (`alone`)."""
        nodes = [drawn.node]
        if drawn.via is not None:
            nodes = [drawn.via, drawn.node] if alone else [drawn.node, drawn.via]
        for node in nodes:
            if label_of(node):
                return self.out.cleaned(label_of(node))
            ident = id_of(node)
            if not ident:
                continue
            short = without_size_suffix(ident, size)
            if short == ident and size is not None:
                short = without_copy_suffix(ident, self.ids)
            return self.out.cleaned(ident if (clean(short), size) in self.taken else short)
        return ""

    def _numbered(self, name: str, size: str | None, first: int) -> str:
        while (f"{name}-{first}", size) in self.taken:
            first += 1
        return f"{name}-{first}"

    def _another(self, drawn: Drawn, name: str, size: str | None, *, several: bool) -> str:
        """Another name where one is taken, with a finding."""
        new = self._numbered(name, size, 2)
        if several:
            self.out.find(
                "loops-apart",
                "warn",
                f'"{name}" is several loops in one path; each was taken for a piece',
                cure="Break the path apart and name each piece.",
                place=drawn.node.shown(),
            )
        else:
            self.out.find(
                "name-twice",
                "warn",
                f'two pieces are named "{name}"; the second is called "{new}"',
                cure="Give each piece its own name.",
                place=drawn.node.shown(),
            )
        return new
