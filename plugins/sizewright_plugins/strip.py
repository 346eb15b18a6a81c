"""Drafts strips: loops, ties, straps, bindings, straight or on the bias."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding
from sizewright.model import Pattern, Piece, Quantity
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl
from sizewright.units import both

api = 1

#: Narrower than this for each layer a strip can hardly be turned or folded, mm.
_NARROW = 1.0


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `strip`."""
    return [
        Operation(
            "strip",
            "draft strips for loops, ties, straps and bindings",
            draft,
            (
                Setting("width", "length", "its finished width", required=True, low=0.5),
                Setting("length", "length", "its length", by_size=True, low=1),
                Setting(
                    "layers",
                    "count",
                    "how many layers lie over each other when it is finished: 4 with both edges "
                    "folded to the middle and then in half",
                    4,
                    low=1,
                    high=8,
                ),
                Setting("bias", "flag", "cut on the bias", False),
                Setting("name", "text", "what to call it", "strip"),
                Setting("count", "count", "how many to cut", 1, low=1),
                Setting("loops", "count", "as long as so many button loops need", low=1),
                Setting("button", "length", "the diameter of the buttons", low=1),
                Setting("thickness", "length", "how thick they are", "3 mm", low=0),
                Setting("seam", "length", "what each end or join loses", "1 cm", low=0),
                Setting(
                    "cloth-width", "length", "the width of the cloth: tells joins and yield", low=10
                ),
            ),
            before_grading=True,
        )
    ]


def draft(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the strip; findings tell loops, joins and how much cloth it needs."""
    from sizewright.drafting import drafted_strip, lengthwise_grain, with_drafted

    name = values["name"]
    if (values["length"] is None) == (values["loops"] is None):
        raise InputError(
            "a strip has a length, or is as long as its loops need",
            where=name,
            cure='Say length = "60 cm", or loops = 12 and button = "12 mm".',
        )
    if (values["loops"] is None) != (values["button"] is None):
        raise InputError(
            "loops go over buttons of a diameter", where=name, cure='Say button = "12 mm" too.'
        )
    cut_width = values["width"] * values["layers"]
    findings: list[Finding] = []

    def make(size: str | None) -> list[Piece]:
        length = _length(pattern, size, values)
        if length < cut_width and values["loops"] is None:
            raise GeometryError(
                f"it would be {both(cut_width)} wide and only {both(length)} long",
                where=name,
                cure="Let it be longer, narrower, or of fewer layers.",
            )
        findings.extend(_told(size, length, cut_width, values))
        step = f"drafted {both(values['width'])} wide of {values['layers']} layers"
        piece = drafted_strip(
            name,
            size,
            (length, cut_width),
            step + (", on the bias" if values["bias"] else ""),
            [cut_width * k / values["layers"] for k in range(1, values["layers"])],
            quantity=(Quantity("main", values["count"]),),
            grain=lengthwise_grain((0.0, 0.0, length, cut_width), 45.0 if values["bias"] else 0.0),
        )
        return [piece]

    after = with_drafted(pattern, make)
    return Outcome(after, tuple(findings), (name,))


def _length(pattern: Pattern, size: str | None, values: Values) -> float:
    if values["length"] is not None:
        return float(values["length"].in_size(pattern, size))
    return float(values["loops"] * _loop(values))


def _loop(values: Values) -> float:
    """The length that one loop takes, mm: both sides of a buttonhole for its button (diameter
    and thickness: common practice, no source), and two ends in the seam."""
    return float(2 * (values["button"] + values["thickness"]) + 2 * values["seam"])


def _told(size: str | None, length: float, cut_width: float, values: Values) -> Iterator[Finding]:
    name = values["name"]
    shown = size or ""
    if values["loops"] is not None:
        yield Finding(
            "loops",
            "note",
            f"each of the {values['loops']} loops takes {both(_loop(values))}, ends in the seam "
            "included",
            name,
            shown,
        )
    if values["button"] is not None and values["width"] > values["button"]:
        yield Finding(
            "loop-wide",
            "warn",
            f"loops {both(values['width'])} wide do not bend round buttons "
            f"{both(values['button'])} across",
            name,
            shown,
            cure="Take a smaller width, or larger buttons.",
        )
    if values["width"] < _NARROW * values["layers"]:
        yield Finding(
            "too-narrow",
            "warn",
            f"{values['layers']} layers are to be {both(values['width'])} wide: it can hardly be "
            "folded so",
            name,
            shown,
            cure="Take fewer layers or more width; try it on a scrap.",
        )
    yield from _cloth(length, cut_width, values, name, shown)


def _cloth(
    length: float, cut_width: float, values: Values, name: str, size: str
) -> Iterator[Finding]:
    """How much cloth it needs, and the joins in it."""
    total = values["count"] * length
    if values["bias"]:
        # A bias strip yields its area over its width; each join across the cloth loses a seam.
        width = values["cloth-width"]
        side = math.sqrt(total * cut_width)
        if width is None:
            text = f"on the bias it takes a square of about {both(side)}, joins not counted"
        else:
            # Diagonals of a square of the cloth's width are so long at the most.
            longest = width * math.sqrt(2.0) - cut_width
            if longest <= 2 * values["seam"]:
                raise GeometryError(
                    f"no strip {both(cut_width)} wide lies on the bias of {both(width)} of cloth",
                    where=name,
                    cure="Take wider cloth, or a narrower strip.",
                )
            joins = max(math.ceil(total / (longest - values["seam"])) - values["count"], 0)
            whole = (total + joins * 2 * values["seam"]) * cut_width
            text = (
                f"on the bias it takes about {both(whole / width)} of cloth {both(width)} wide, "
                f"with {joins} joins at the least"
            )
        yield Finding("bias-yield", "note", text, name, size)
    elif values["cloth-width"] is not None and length > values["cloth-width"]:
        each = values["cloth-width"] - 2 * values["seam"]
        if each <= 0:
            raise GeometryError(
                "the cloth is narrower than the seams", where=name, cure="Say a wider cloth-width."
            )
        parts = math.ceil((length - 2 * values["seam"]) / each)
        yield Finding(
            "joins",
            "note",
            f"across cloth {both(values['cloth-width'])} wide it is cut in {parts} parts and "
            f"joined {parts - 1} times: {both(length + 2 * values['seam'] * (parts - 1))} in all",
            name,
            size,
        )
