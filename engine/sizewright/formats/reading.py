"""What every reader returns, what it left out, and what a writer returns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..errors import InputError, SizewrightError
from ..findings import Finding
from ..geometry.path import Path
from ..model import Pattern

#: Of several errors so many are told after the first.
_SHOWN = 9


@dataclass(frozen=True, slots=True)
class SetAside:
    """A shape that was seen and not taken for a piece.

    `name` is its id or label (may be empty), `kind` what it is (`path`, `rect`,
    `text`), `reason` why it was set aside.
    """

    name: str
    kind: str
    reason: str

    def owner(self, titles: Iterable[str]) -> str | None:
        """Which of the pieces with these titles it is a mark of; None where of none.

        "left front" ends like "front": the longest title that fits is the owner's.
        """
        fitting = (t for t in titles if self.reason.endswith(f" of {t}"))
        return max(fitting, key=len, default=None)

    def as_dict(self) -> dict[str, str]:
        """The record as the JSON of the command line has it."""
        return {"name": self.name, "kind": self.kind, "reason": self.reason}


@dataclass(frozen=True, slots=True)
class LineKind:
    """A kind of line in a drawing of several sizes.

    `number` is what settings call it by (`line 3`), `text` how it looks, `size` the size that
    it is taken for ("" for none). `paths` are its lines, mm. `colour` is `#rrggbb`, `dashes`
    lengths of dashes and gaps, mm.
    """

    number: int
    text: str
    size: str
    paths: tuple[Path, ...] = ()
    colour: str = "#000000"
    dashes: tuple[float, ...] = ()
    outlines: tuple[Path, ...] = ()
    beside: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What settings call it."""
        return f"line {self.number}"

    def words(self) -> str:
        """`line 1: black solid 0.35 mm; goes round 7 pieces; size 12; beside it: 12`."""
        count, lines = len(self.outlines), len(self.paths)
        parts = [
            f"{self.name}: {self.text}",
            f"goes round {count} piece{'s' * (count != 1)}"
            if count
            else f"{lines} line{'s' * (lines != 1)}, round no piece",
            f"size {self.size}" if self.size not in ("", self.name) else "",
            f"beside it: {', '.join(self.beside)}" if self.beside else "",
        ]
        return "; ".join(part for part in parts if part)

    def as_dict(self) -> dict[str, object]:
        """The record as the JSON of the command line has it."""
        return {
            "number": self.number,
            "text": self.text,
            "count": len(self.paths),
            "pieces": len(self.outlines),
            "words": list(self.beside),
            "size": self.size or None,
        }


@dataclass(frozen=True, slots=True)
class Behind:
    """A picture to stand behind a drawing, for looking at only.

    `data` is a file of the type `media` (`image/jpeg`), `box` (x0, y0, x1, y1) where it lies
    on the drawing, mm, y up.
    """

    data: bytes
    media: str
    box: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Reading:
    """A pattern as read from a file, with what was set aside and what was found.

    `lines` are the kinds of line of a drawing that tells sizes apart by them.
    `behind` is the picture that it was traced from, where there is one.
    `pages` are numbers and boxes (x0, y0, x1, y1), mm, of pages that it was put together from.
    """

    pattern: Pattern
    set_aside: tuple[SetAside, ...] = ()
    findings: tuple[Finding, ...] = ()
    lines: tuple[LineKind, ...] = ()
    behind: Behind | None = None
    pages: tuple[tuple[int, tuple[float, float, float, float]], ...] = ()


class WrongMarks(InputError):
    """Marks of a drawing that cannot be meant, all of them together.

    `reading` is what was read without them, with a `fail` finding for each, for those who
    want to look; all else should let the error stand.
    """

    def __init__(self, errors: Sequence[SizewrightError], reading: Reading) -> None:
        first, *self.others = errors
        super().__init__(first.what, where=first.where, cure=first.cure)
        self.reading = reading

    def __str__(self) -> str:
        lines = [super().__str__(), *map(str, self.others[:_SHOWN])]
        if len(self.others) > _SHOWN:
            lines.append(f"and {len(self.others) - _SHOWN} more, which sizewright show lists.")
        return "\n".join(lines)


@dataclass(frozen=True, slots=True)
class Written:
    """The bytes of a file, and what of the pattern it could not hold as it was."""

    data: bytes
    findings: tuple[Finding, ...] = ()

    @property
    def text(self) -> str:
        """The file as text (UTF-8, as SVG is)."""
        return self.data.decode("utf-8")
