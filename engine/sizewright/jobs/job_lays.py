"""The cloths of a job, and the lays on them: kept ones, and those that are looked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import InputError
from ..findings import Finding
from ..laying import (
    Cloth,
    Item,
    Lay,
    Panel,
    count_of,
    faults,
    grain_angle,
    items_for,
    look,
    opened,
    pieced,
)
from ..model import Pattern, Piece
from .cloth_orders import ClothOrder
from .files import open_pattern, safe, some_piece
from .lay_file import KeptLay, read_lay, write_lay

if TYPE_CHECKING:
    from ..plugin import Plugins

#: What a panel's drawing calls a worn or stained place.
_FLAW = "flaw"


class JobLays:
    """All cloths of a job. A lay is looked for once; what is found is kept beside the job.

    `kept` are the files to write, by their paths. `told` hears how a search goes. With
    `look_further` kept lays are where a search begins, else they are what is used.
    """

    def __init__(
        self,
        orders: Sequence[ClothOrder],
        folder: Path,
        plugins: Plugins,
        *,
        look_further: bool = False,
    ) -> None:
        self.findings: list[Finding] = []
        self.cloths = tuple(self._read(order, plugins) for order in orders)
        self.sources = tuple(order.panels for order in orders if order.panels is not None)
        self.told: Callable[[str], None] = lambda _words: None
        self.kept: dict[Path, bytes] = {}
        self.fills: dict[str, str] = {}
        self._folder = folder
        self.look_further = look_further
        self._found: dict[tuple[str, tuple[Piece, ...]], tuple[Lay, tuple[Finding, ...]]] = {}
        self._remembered: dict[Path, KeptLay] = {}
        self._files: dict[tuple[str, tuple[str, ...]], str] = {}

    def _read(self, order: ClothOrder, plugins: Plugins) -> Cloth:
        if order.panels is None:
            return order.cloth
        reading = some_piece(open_pattern(order.panels, plugins=plugins), str(order.panels))
        self.findings += [f for f in reading.findings if f.level != "note"]
        panels = []
        for piece in reading.pattern.pieces:
            if piece.grain is None:
                self.findings.append(
                    Finding("no-grain", "warn", f"a panel of {order.cloth.name} has no grain line: "
                            "taken to run up the page", piece.title,
                            cure="Draw its grain (data-role grain).")
                )  # fmt: skip
            panels.append(panel_of(piece))
        return replace(order.cloth, panels=tuple(panels))

    # --- what lies where ----------------------------------------------------------

    def items(self, cloth: Cloth, pattern: Pattern) -> tuple[list[Item], list[Finding]]:
        """What of a pattern is laid on a cloth, and what is to be known about it.

        A piece that two cloths could take lies on the one that the job has first.
        """
        findings: list[Finding] = []
        pieces = list(opened(pattern, cloth).pieces)
        for other in self.cloths[: self.cloths.index(cloth)]:
            taken = [p for p in pieces if _takes(other, p)] if _same(other, cloth) else []
            for piece in taken:
                if _takes(cloth, piece):
                    text = (
                        f'it could lie on "{other.name}" and on "{cloth.name}": laid on the first'
                    )
                    cure = 'Say pieces = ["..."] of each cloth.'
                    findings.append(piece.finding("two-cloths", "warn", text, cure=cure))
            pieces = [p for p in pieces if p not in taken]
        items, found = items_for(cloth, pieces)
        if cloth.piecing:
            items, more = pieced(cloth, items)
            found += more
        return items, [*findings, *found]

    def homeless(self, pattern: Pattern) -> list[Finding]:
        """A warning for each piece of a material for which there is no cloth."""
        found = []
        for piece in pattern.pieces:
            materials = [q.material for q in piece.quantity] or ["main"]
            for material in materials:
                if not any(
                    c.material == material and (not c.pieces or piece.name in c.pieces)
                    for c in self.cloths
                ):
                    text = f"there is no cloth of {material} to lay it on"
                    cure = f'Add one to [[cloths]] with material = "{material}".'
                    found.append(piece.finding("no-cloth", "warn", text, cure=cure))
        return found

    # --- lays -----------------------------------------------------------------------

    def lay(
        self, cloth: Cloth, pattern: Pattern, seconds: float, seed: int = 1
    ) -> tuple[Lay, tuple[Finding, ...]]:
        """The lay of a pattern on a cloth, kept or looked for, and findings of its making.

        Raises InputError for a kept file that cannot be read, with the line.
        """
        key = (cloth.name, pattern.pieces)
        if key not in self._found:
            self._found[key] = self._lay(cloth, pattern, seconds, seed)
        return self._found[key]

    def trial(self, cloth: Cloth, pattern: Pattern, seconds: float, seed: int) -> Lay:
        """A lay that is looked for and not kept."""
        items, _ = self.items(cloth, pattern)
        return look(cloth, items, seconds, seed=seed, told=self._tell(cloth))

    def kept_file(self, cloth: Cloth, sizes: Sequence[str]) -> Path:
        """Where the lay of some sizes on a cloth is kept; the first asked for is `lay-CLOTH`."""
        key = (cloth.name, tuple(sizes))
        if key not in self._files:
            first = all(name != cloth.name for name, _ in self._files)
            behind = "" if first else "".join(f"-{safe(size)}" for size in sizes)
            self._files[key] = f"lay-{cloth.name}{behind}.csv"
        return self._folder / self._files[key]

    def kept_lay(self, path: Path) -> KeptLay | None:
        """A kept lay, where there is one. Raises InputError, with the line, for one unreadable."""
        if path in self._remembered:
            return self._remembered[path]
        return read_lay(path) if path.is_file() else None

    def usable(self, cloth: Cloth, pattern: Pattern, kept: KeptLay) -> Lay | None:
        """A kept lay as one of this pattern, if it is proved."""
        return _usable(kept, cloth, self.items(cloth, pattern)[0])[0]

    def remember(self, path: Path, lay: Lay) -> None:
        """Take a lay that was found before as if `path` had kept it."""
        self._remembered[path] = KeptLay.of(lay, self.fills)

    def _keep(self, path: Path, lay: Lay) -> None:
        self.kept[path] = write_lay(lay, self.fills)

    def _tell(self, cloth: Cloth) -> Callable[[str, float], None]:
        return lambda words, share: self.told(f"{cloth.name} {share:.0%}: {words}")

    def _lay(
        self, cloth: Cloth, pattern: Pattern, seconds: float, seed: int
    ) -> tuple[Lay, tuple[Finding, ...]]:
        items, findings = self.items(cloth, pattern)
        path = self.kept_file(cloth, pattern.sizes)
        kept = self.kept_lay(path)
        start = None
        if kept is not None:
            start, why = _usable(kept, cloth, items)
            if start is None:
                aside = path.with_name(f"{path.stem}-before.csv")
                self.kept[aside] = path.read_bytes()
                findings.append(
                    Finding("lay-kept-unfit", "warn", f"the kept lay {path.name} does not serve: "
                            f"{why}; a new one was looked for", place=cloth.name,
                            cure=f"The old one is {aside.name} now.")
                )  # fmt: skip
        if start is not None and path in self._remembered:
            self._keep(path, start)
        elif start is None or self.look_further:
            lay = look(cloth, items, seconds, seed=seed, start=start, told=self._tell(cloth))
            if start is None or lay.rank < start.rank:
                self._keep(path, lay)
            start = lay
        return start, tuple(findings)


@dataclass(frozen=True)
class SomeCloths:
    """Some cloths of a job with their lays, as a writer gets them (`sizewright.laying.Cloths`)."""

    cloths: tuple[Cloth, ...]
    lays: JobLays

    def lay(
        self, cloth: Cloth, pattern: Pattern, seconds: float, seed: int = 1
    ) -> tuple[Lay, tuple[Finding, ...]]:
        """The lay of a pattern on a cloth, with findings of its making."""
        return self.lays.lay(cloth, pattern, seconds, seed)

    def homeless(self, pattern: Pattern) -> list[Finding]:
        """A warning for each piece of a material for which the job has no cloth."""
        return self.lays.homeless(pattern)


def _usable(kept: KeptLay, cloth: Cloth, items: Sequence[Item]) -> tuple[Lay | None, str]:
    """The kept lay if it is proved, else why not."""
    lay = kept.lay(cloth, items)
    if lay is None:
        return None, "it is of other pieces"
    found = faults(lay)
    if found:
        more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
        return None, f"{found[0].piece}: {found[0].text}{more}"
    return lay, ""


def _same(a: Cloth, b: Cloth) -> bool:
    return a.material == b.material


def _takes(cloth: Cloth, piece: Piece) -> bool:
    return bool(count_of(piece, cloth.material)) and (
        not cloth.pieces or piece.name in cloth.pieces
    )


def panel_of(piece: Piece) -> Panel:
    """A piece of a drawing as a panel of cloth; cut-outs are its holes, flaws its bad places."""
    flaws = [m for m in piece.marks if _FLAW in (m.kind, m.name)]
    for flaw in flaws:
        if not flaw.path.closed:
            raise InputError(
                "a flaw is not a closed line",
                where=piece.title,
                cure="Draw it round the bad place.",
            )
    return Panel(
        piece.title,
        piece.drawn.path,
        grain_angle(piece),
        tuple(c.path for c in piece.cutouts),
        tuple(m.path for m in flaws),
    )
