"""Mixtures of grade rules: what a point has that was made between graded ones."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import NoReturn

from ..errors import InputError

#: Rules with their weights.
Terms = tuple[tuple[str, float], ...]

#: Weights are written to this; smaller ones are left out.
LEAST = 1e-12
#: How the parts of a mixture are said, in order.
_PARTS = ("width", "length", "width from length", "length from width")
_HEAD = re.compile(
    r"\s*(?:(before|after) )?(width from length|length from width|width|length)(?=\s|$)"
)
_TOKEN = re.compile(r'\s*(?:"((?:[^"]|"")*)"|([^\s;"]+))')
_PLAIN = re.compile(r'[^\s;"]+')
_MIXED = re.compile(r"\s*(?:width|length)\s+\S")


@dataclass(frozen=True, slots=True)
class Mixture:
    """The weights that a point takes each rule with, along each of its piece's axes.

    It gains in width the `width` weights times what the rules give in width, and the
    `width_from_length` weights times what they give in length; in length likewise. The
    crossed weights belong to places that turn as they grow: beside a curve, or in a zone
    that was turned.

    `before` and `after` tell the same of the curve that comes in and of the one that goes
    out, counter-clockwise: what it gains over the point for each mm away from it. So half of
    a curve keeps the slant of the whole. None: as the curve's own ends give it.
    """

    width: Terms = ()
    length: Terms = ()
    width_from_length: Terms = ()
    length_from_width: Terms = ()
    before: Mixture | None = None
    after: Mixture | None = None

    @property
    def rules(self) -> tuple[str, ...]:
        """Names of the rules in it, each once."""
        every = (self, *(side for side in (self.before, self.after) if side))
        return tuple(dict.fromkeys(r for one in every for terms in one._parts for r, _ in terms))

    @property
    def _parts(self) -> tuple[Terms, Terms, Terms, Terms]:
        return self.width, self.length, self.width_from_length, self.length_from_width

    def renamed(self, name: Callable[[str], str]) -> Mixture:
        """The same weights of rules with other names."""
        width, length, *crossed = (tuple((name(r), w) for r, w in p) for p in self._parts)
        before = self.before and self.before.renamed(name)
        after = self.after and self.after.renamed(name)
        return Mixture(width, length, crossed[0], crossed[1], before, after)


def is_mixture(rule: str) -> bool:
    """Whether the rule of a point is written as a mixture, not the name of one rule.

    That is so where it begins with the word `width` or `length` and goes on.

    >>> is_mixture("underarm"), is_mixture("width underarm 0.5; length underarm 1")
    (False, True)
    """
    return _MIXED.match(rule) is not None


def parse_mixture(text: str) -> Mixture:
    """A mixture from its text, such as `width underarm 0.25 armhole 0.75; length armhole 1`.

    Each part names one axis and then rules with their weights; an axis without a part
    gains nothing. `width from length` and `length from width` hold the crossed weights;
    `before` and `after` in front of any of the four tell of the curves beside the point. A
    name with spaces, semicolons or quotes stands in double quotes. The name of one rule is
    a mixture of that alone. Raises InputError that says which part is wrong.

    >>> half = parse_mixture("width underarm 0.25 armhole 0.75; length armhole 1")
    >>> half.width, half.length, half.rules
    ((('underarm', 0.25), ('armhole', 0.75)), (('armhole', 1.0),), ('underarm', 'armhole'))
    """
    if not is_mixture(text):
        one = ((text, 1.0),)
        return Mixture(one, one)
    found: dict[str, dict[str, Terms]] = {"": {}, "before": {}, "after": {}}
    at = 0
    while True:
        head = _HEAD.match(text, at)
        if head is None:
            _refuse(text, f'"{text[at:].strip()}" does not begin with width or length')
        side = found[head[1] or ""]
        if head[2] in side:
            _refuse(text, f"{head[0].strip()} is there twice")
        side[head[2]], at = _terms(text, head.end(), head[0].strip())
        if at == len(text):
            own, before, after = (_mixed(side) for side in found.values())
            return replace(
                own,
                before=before if found["before"] else None,
                after=after if found["after"] else None,
            )
        at += 1


def _mixed(side: Mapping[str, Terms]) -> Mixture:
    width, length, *crossed = (side.get(name, ()) for name in _PARTS)
    return Mixture(width, length, crossed[0], crossed[1])


def _terms(text: str, at: int, axis: str) -> tuple[Terms, int]:
    """The rules and weights of one part from place `at`, and where the part ends."""
    tokens: list[str] = []
    while (token := _TOKEN.match(text, at)) is not None:
        tokens.append(token[2] if token[1] is None else token[1].replace('""', '"'))
        at = token.end()
    at += len(text[at:]) - len(text[at:].lstrip())
    if at < len(text) and text[at] != ";":
        _refuse(text, "a quote is not closed")
    if tokens == ["0"]:
        return (), at
    terms: list[tuple[str, float]] = []
    for rule, weight in zip(tokens[::2], [*tokens[1::2], ""], strict=False):
        try:
            value = float(weight)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            there = f'"{weight}" is no weight' if weight else "no weight follows"
            _refuse(text, f'after "{rule}" in {axis}, {there}')
        if rule in (r for r, _ in terms):
            _refuse(text, f'"{rule}" is there twice in {axis}')
        terms.append((rule, value))
    return tuple(terms), at


def _refuse(text: str, what: str) -> NoReturn:
    raise InputError(
        f'the mixture of rules "{text}" cannot be read: {what}',
        cure='Write it like "width underarm 0.25 armhole 0.75; length underarm 1".',
    )


def format_mixture(mixture: Mixture) -> str:
    """A mixture as `parse_mixture` reads it; the rule's name where it is one rule whole.

    Weights have twelve decimals at most; what is less than the last is left out.

    >>> format_mixture(Mixture(width=(("side", 0.5),), length=(("hem", 1.0),)))
    'width side 0.5; length hem 1'
    >>> format_mixture(parse_mixture("side"))
    'side'
    """
    parts = [_written(terms) for terms in mixture._parts]
    curves = mixture.before is not None or mixture.after is not None
    plain = parts[0] == parts[1] and len(parts[0]) == 1 and not parts[2] and not parts[3]
    if plain and not curves:
        ((rule, weight),) = parts[0]
        if weight == "1" and not is_mixture(rule):
            return rule
    told = _sides(mixture, "") or ["width 0; length 0"]
    for side, name in ((mixture.before, "before "), (mixture.after, "after ")):
        if side is not None:
            told += _sides(side, name) or [f"{name}width 0"]
    return "; ".join(told)


def turned_over(rule: str | None) -> str | None:
    """The rule of a point whose outline now runs the other way round: curves change places."""
    if rule is None or not is_mixture(rule):
        return rule
    mixture = parse_mixture(rule)
    return format_mixture(replace(mixture, before=mixture.after, after=mixture.before))


def _sides(mixture: Mixture, side: str) -> list[str]:
    written = zip(_PARTS, map(_written, mixture._parts), strict=True)
    return [f"{side}{name} {_joined(part)}" for name, part in written if part]


def _joined(part: Iterable[tuple[str, str]]) -> str:
    return " ".join(f"{_quoted(rule)} {weight}" for rule, weight in part)


def _written(terms: Terms) -> list[tuple[str, str]]:
    return [(rule, _decimal(weight)) for rule, weight in terms if abs(weight) > LEAST]


def _decimal(weight: float) -> str:
    return f"{weight:.12f}".rstrip("0").rstrip(".")


def _quoted(rule: str) -> str:
    return rule if _PLAIN.fullmatch(rule) else '"' + rule.replace('"', '""') + '"'
