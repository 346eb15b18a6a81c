"""`[[fill]]`: the greatest value of a setting with which everything still lies on a cloth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from ..errors import UsageError
from ..findings import Finding
from ..laying import Cloth, Lay
from ..model import Pattern
from ..plugin import Setting
from .cloth_orders import FillOrder
from .job_lays import JobLays

# How exactly a value is found, by kind: mm, share, degrees, pieces.
_EXACT = {"length": 1.0, "share": 0.005, "angle": 0.5, "count": 1.0}
_MOST_STEPS = 100_000


def check_fillable(setting: Setting) -> None:
    """Raise UsageError for a setting that has no smaller and larger values."""
    if setting.kind not in _EXACT or setting.shape != "one":
        raise UsageError(
            f'"{setting.name}" cannot be filled: it takes {setting.expected()}',
            cure="Fill a setting that takes a length, a share, an angle or a number.",
        )


@dataclass(frozen=True)
class Trial:
    """How the lays of a fill are looked for: of which sizes, how long, from which seed."""

    sizes: tuple[str, ...]
    seconds: float
    seed: int


@dataclass(frozen=True)
class Span:
    """The values that are tried: from `low` up to `high` in steps, as numbers of a kind."""

    setting: Setting
    low: float
    high: float
    exact: float

    @classmethod
    def of(cls, order: FillOrder, setting: Setting, low: float, high: float) -> Span:
        """The span of an order. Raises UsageError where it has no steps that can be tried."""
        if not low < high:
            raise UsageError(
                "a fill goes from a smaller value to a larger one", cure="Swap from and to."
            )
        exact = order.exact if order.exact and setting.kind == "length" else _EXACT[setting.kind]
        if (high - low) / exact > _MOST_STEPS:
            raise UsageError("from and to lie too far apart", cure="Bring them nearer.")
        return cls(setting, low, high, exact)

    @property
    def last(self) -> int:
        """The number of the last step; that of the first is 0."""
        return max(1, round((self.high - self.low) / self.exact))

    def raw(self, step: int) -> Any:
        """The value of a step as a job file would have it."""
        value = self.low + (self.high - self.low) * step / self.last
        match self.setting.kind:
            case "length":
                return f"{round(value, 3):g} mm"
            case "share":
                return f"{round(value * 100, 4):g}%"
            case "count":
                return round(value)
        return round(value, 4)

    def step(self, value: float) -> int | None:
        """The step of a value, cut down to a whole one; None beyond the span."""
        step = int((value - self.low) / (self.high - self.low) * self.last + 1e-6)
        return step if value >= self.low - 1e-6 and step <= self.last else None


def fill(
    order: FillOrder,
    span: Span,
    make: Callable[[Any], Pattern],
    read: Callable[[Any], float],
    cloth: Cloth,
    lays: JobLays,
    trial: Trial,
) -> tuple[Any, Finding]:
    """The greatest value found, as a job file would have it, and what there is to tell.

    `make` gives the pattern with a value, `read` its number. The lay is handed to `lays`, with
    the value, so that it is kept; a kept one with its value is taken as it is.
    """
    name = f"{order.step}.{order.setting}"
    if cloth.width is not None and cloth.length is None:
        raise UsageError(
            f'"{cloth.name}" is as long as it must be, so nothing fills it',
            cure="Give the cloth its length.",
        )
    path = lays.kept_file(cloth, trial.sizes)

    def pattern(step: int) -> Pattern:
        made = make(span.raw(step))
        return made.with_pieces(p for p in made.pieces if p.size in (None, *trial.sizes))

    least, best = 0, None
    kept = lays.kept_lay(path)
    if kept is not None and name in kept.fills:
        step = _kept_step(span, read, kept.fills[name])
        lay = None if step is None else lays.usable(cloth, pattern(step), kept)
        if step is not None and lay is not None and (lay.whole or step == 0):
            least, best = step, lay
    out: Lay | None = None
    if best is None or lays.look_further:
        least, best, out = _search(least, best, span.last, lambda k: lays.trial(
            cloth, pattern(k), trial.seconds, trial.seed))  # fmt: skip
    value = span.raw(least)
    lays.fills[name] = str(value)
    lays.remember(path, best)
    return value, _told(name, value, cloth, best, out, full=least == span.last)


def _kept_step(span: Span, read: Callable[[Any], float], text: str) -> int | None:
    raw: Any = int(text) if span.setting.kind == "count" and text.isdecimal() else text
    try:
        return span.step(read(float(text) if span.setting.kind == "angle" else raw))
    except (UsageError, ValueError):
        return None


def _search(
    least: int, best: Lay | None, last: int, lay: Callable[[int], Lay]
) -> tuple[int, Lay, Lay | None]:
    """The greatest step whose lay is whole, its lay, and the lay of the least that is not.

    As fullness only grows, what does not lie at one value does not at a greater one.
    """
    top = lay(last)
    if top.whole:
        return last, top, None
    most, out = last, top
    if best is None:
        best = lay(least)
        if not best.whole:
            return least, best, best
    while most - least > 1:
        middle = (least + most) // 2
        found = lay(middle)
        if found.whole:
            least, best = middle, found
        else:
            most, out = middle, found
    return least, best, out


def _told(
    name: str, value: Any, cloth: Cloth, best: Lay, out: Lay | None, *, full: bool
) -> Finding:
    first = ""
    if out is not None and out.left:
        piece = max(out.left, key=lambda item: item.area)
        first = f'; "{piece.title}" is the first that finds no place'
    if not best.whole:
        return Finding(
            "fill", "fail", f"not found: not even {value} lies on {cloth.name} with {name}{first}",
            cure="That is no proof: look longer (seconds), or begin with less.",
        )  # fmt: skip
    if full:
        return Finding("fill", "note", f"{name} = {value}, all that was asked for: it lies on "
                       f"{cloth.name}")  # fmt: skip
    return Finding(
        "fill", "note", f"{name} = {value} is the most found to lie on {cloth.name}{first}",
        cure="More was not found in the time given, which is no proof that there is no way.",
    )  # fmt: skip
