"""What there is to tell of a lay: length, share, what is left, what did not go on, advice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from sizewright.findings import Finding
from sizewright.laying import Item, Lay, fold_length, largest_left
from sizewright.units import Unit, both, format_length

# A rectangle of cloth that is left over is told where both its sides are at least this, mm.
_WORTH = 50.0
# A row on the fold decides the length of a lay that is no longer than this more, mm.
_ALONE = 5.0


def facts(lay: Lay) -> list[str]:
    """Size of the cloth, how much is used, and what is left, in a few words each."""
    cloth = lay.cloth
    words = []
    if cloth.width is not None:
        size = format_length(cloth.width, Unit.CM)
        folded = ", folded" if cloth.folded else ""
        words.append(f"{size} wide{folded}")
        there = "" if cloth.length is None else f" of {format_length(cloth.length, Unit.CM)}"
        words.append(f"{both(lay.length)} long used{there}")
    else:
        count = len(cloth.panels)
        words.append(f"{count} panel{'s' if count != 1 else ''}")
    words.append(f"pieces cover {lay.share:.1%}")
    long, wide, panel = largest_left(lay)
    if min(long, wide) >= _WORTH:
        where = f" of {panel}" if panel else ""
        words.append(f"largest piece left{where} {long / 10:g} x {wide / 10:g} cm along the grain")
    return words


def report(lay: Lay) -> Iterator[Finding]:
    """Findings of a lay."""
    name = lay.cloth.name
    if not lay.laid and not lay.left:
        text = f"no piece is of {lay.cloth.material}, or another cloth has it: nothing lies here"
        yield Finding("lay-empty", "warn", text, place=name)
        return
    said = facts(lay)
    yield Finding("lay", "note", "; ".join(said), place=name)
    row = fold_length(lay.cloth, [one.item for one in lay.laid]) if lay.cloth.folded else 0.0
    if row and row > lay.length - _ALONE and lay.whole:
        yield Finding(
            "lay",
            "note",
            "the pieces on the fold alone make it so long, one beside the other",
            place=name,
            cure="Single cloth (folded = false) may take less.",
        )
    if lay.left:
        yield Finding(
            "lay-short",
            "fail",
            f"not found: no lay with everything on it; left over {_counted(lay.left)} "
            f"({sum(i.area for i in lay.left) / 100:.0f} cm2)",
            place=name,
            cure=" ".join(_advice(lay)),
        )
    for item in lay.left:
        text = _too_large(lay, item)
        if text:
            yield item.piece.finding("too-large", "fail", text, name)
    for piece in {item.item.piece.key: item.item.piece for item in lay.laid}.values():
        if piece.drawn_kind == "sew":
            yield piece.finding(
                "no-allowance",
                "warn",
                "it is laid by its sewing line, without any seam allowance",
                cure="Add it first: the step seam-allowance.",
            )


def _counted(items: tuple[Item, ...]) -> str:
    counts = Counter(item.piece.title for item in items)
    return ", ".join(f"{n} x {t}" if n > 1 else t for t, n in counts.items())


def _too_large(lay: Lay, item: Item) -> str:
    """By how much an item is larger than a length of cloth; empty where it is not."""
    if lay.cloth.width is None:
        return ""
    low, high = lay.cloth.band
    wide, tall = item.turned(0.0).max(axis=0)
    if tall > high - low + 1e-6:
        return f"it is {format_length(tall - (high - low))} wider than the cloth between selvedges"
    if lay.cloth.length is not None and wide > lay.cloth.length + 1e-6:
        return f"it is {format_length(wide - lay.cloth.length)} longer than the cloth"
    return ""


def _advice(lay: Lay) -> Iterator[str]:
    cloth = lay.cloth
    ground = sum(panel.sound.area for panel in lay.panels)
    need = sum(i.area for i in lay.left) + sum(a.area for a in lay.areas)
    if need > ground:
        yield f"The pieces alone are {need / ground - 1:.0%} larger than the cloth."
    else:
        yield "That is no proof that there is none: look longer (seconds)."
    ways = ["narrower allowances"]
    if cloth.gap > 2.0:
        ways.append("a smaller gap")
    if cloth.nap == "one-way":
        ways.append('nap = "none", if the cloth bears it')
    if cloth.folded:
        ways.append("single cloth")
    if not cloth.piecing:
        ways.append("piecing = true")
    yield f"What may help: {', '.join(ways)}."
