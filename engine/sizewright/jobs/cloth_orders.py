"""`[[cloths]]` and `[[fill]]` of a job file, checked on reading."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import UsageError
from ..units import format_length, parse_length
from .toml_lines import Trail

if TYPE_CHECKING:
    from ..laying import Cloth
    from .job_file import JobReader

_CLOTH = {
    "name": str,
    "material": str,
    "width": str,
    "length": str,
    "panels": str,
    "selvedge": (str, int),
    "nap": str,
    "folded": bool,
    "gap": (str, int),
    "pieces": list,
    "piecing": (bool, str),
}
_FILL = {"set": str, "from": (str, int), "to": (str, int), "cloth": str, "exact": str}
_NAPS = ("one-way", "two-way", "none")
#: No cloth is wider or longer, mm.
_WIDEST, _LONGEST = 10_000.0, 200_000.0
_WIDEST_GAP = 200.0
# Allowance at piecing seams where the job says none, mm.
_PIECING = 10.0


@dataclass(frozen=True)
class ClothOrder:
    """One cloth: all but its panels, which are still to be read from a file."""

    cloth: Cloth
    panels: Path | None
    trail: Trail


@dataclass(frozen=True)
class FillOrder:
    """The setting of a step that is made as large as a cloth allows.

    `low` and `high` as written; the value is found within `exact`, mm (of a length) or as a
    share of the way from one to the other.
    """

    step: str
    setting: str
    low: Any
    high: Any
    cloth: str
    exact: float | None
    trail: Trail


def cloth_orders(reader: JobReader, raws: Any) -> tuple[ClothOrder, ...]:
    """All cloths of a job. Raises UsageError with file and line."""
    orders = tuple(_cloth(reader, ("cloths", i), raw) for i, raw in enumerate(raws))
    names = [order.cloth.name for order in orders]
    for order in orders:
        if names.count(order.cloth.name) > 1:
            raise UsageError(
                f'two cloths are named "{order.cloth.name}"',
                where=reader.toml.where(*order.trail, "name"),
                cure="Give each a name of its own.",
            )
    return orders


def _cloth(reader: JobReader, trail: Trail, raw: Any) -> ClothOrder:
    reader.check_keys(raw, _CLOTH, trail, "a cloth")

    def wrong(key: str, what: str, cure: str) -> UsageError:
        return UsageError(what, where=reader.toml.where(*trail, key), cure=cure)

    def length(key: str, default: float | None, most: float, least: float = 0.0) -> float | None:
        if key not in raw:
            return default
        text = "0 mm" if raw[key] == 0 else str(raw[key])
        value: float = reader.guard((*trail, key), lambda: parse_length(text))
        if not least <= value <= most:
            raise wrong(
                key,
                f'"{key}" cannot be {raw[key]}',
                f"It is from {format_length(least)} to {format_length(most)}.",
            )
        return value

    name = raw.get("name", "")
    if not re.fullmatch(r"[^\s/\\:{}][^/\\:{}]*", name):
        raise wrong("name", "a cloth needs a name for files", 'As in name = "tablecloth".')
    given = [key for key in ("width", "panels") if key in raw]
    if len(given) != 1:
        raise wrong(
            given[-1] if given else "name",
            f'cloth "{name}" is either a length of cloth or panels',
            'Give width = "140 cm", or panels = "panels.svg".',
        )
    for key in ("length", "selvedge", "folded"):
        if "panels" in given and raw.get(key):
            raise wrong(key, f'panels have no "{key}"', "Take it out: they are as drawn.")
    if raw.get("nap", "none") not in _NAPS:
        raise wrong("nap", f'"nap" cannot be "{raw["nap"]}"', f"It is one of {', '.join(_NAPS)}.")
    width = length("width", None, _WIDEST, 10.0)
    selvedge = length("selvedge", 0.0, _WIDEST) or 0.0
    folded = bool(raw.get("folded", False))
    if width is not None and (width / 2 - selvedge if folded else width - 2 * selvedge) < 10.0:
        raise wrong("selvedge", "the selvedges leave no cloth", "Give a narrower selvedge.")
    from ..laying import Cloth

    cloth = Cloth(
        name,
        raw.get("material", "main"),
        width,
        length("length", None, _LONGEST, 10.0),
        selvedge=selvedge,
        nap=raw.get("nap", "none"),
        folded=folded,
        gap=length("gap", 4.0, _WIDEST_GAP) or 0.0,
        pieces=tuple(map(str, raw.get("pieces", ()))),
        piecing=_piecing(reader, trail, raw.get("piecing", False)),
    )
    panels = reader.path(raw["panels"], (*trail, "panels")) if "panels" in raw else None
    return ClothOrder(cloth, panels, trail)


def _piecing(reader: JobReader, trail: Trail, raw: Any) -> float:
    """The allowance at piecing seams, mm; 0 where pieces stay whole."""
    if isinstance(raw, bool):
        return _PIECING if raw else 0.0
    value: float = reader.guard((*trail, "piecing"), lambda: parse_length(raw))
    if not 0.0 < value <= _WIDEST_GAP:
        raise UsageError(
            f'"piecing" cannot be {raw}',
            where=reader.toml.where(*trail, "piecing"),
            cure='It is true, or the allowance at the new seams, as "1.5 cm".',
        )
    return value


def fill_orders(
    reader: JobReader, raws: Any, cloths: tuple[ClothOrder, ...]
) -> tuple[FillOrder, ...]:
    """All that is to be filled. Raises UsageError with file and line."""
    orders = []
    for i, raw in enumerate(raws):
        trail: Trail = ("fill", i)
        reader.check_keys(raw, _FILL, trail, "a fill")
        for key in ("set", "from", "to"):
            if key not in raw:
                raise UsageError(
                    f'a fill needs "{key}"',
                    where=reader.toml.where(*trail),
                    cure='As in set = "skirt-fullness.by", from = "0 cm", to = "40 cm".',
                )
        step, dot, setting = raw["set"].rpartition(".")
        if not dot or not step or not setting:
            raise UsageError(
                f'"{raw["set"]}" names no setting of a step',
                where=reader.toml.where(*trail, "set"),
                cure='Write the step\'s name, a dot and the setting: "skirt-fullness.by".',
            )
        names = [order.cloth.name for order in cloths]
        cloth = raw.get("cloth", names[0] if len(names) == 1 else "")
        if cloth not in names:
            raise UsageError(
                f'there is no cloth "{cloth}"' if cloth else "a fill needs the cloth",
                where=reader.toml.where(*trail, "cloth"),
                cure=f"Cloths: {', '.join(names) or 'none, add [[cloths]]'}.",
            )
        exact = None
        if "exact" in raw:
            exact = reader.guard((*trail, "exact"), lambda raw=raw: parse_length(raw["exact"]))
        orders.append(FillOrder(step, setting, raw["from"], raw["to"], cloth, exact, trail))
    return tuple(orders)
