"""Seams after an edit: every chain rewritten to the runs that there are now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..errors import SizewrightError
from ..findings import Finding
from ..model.features import MIRRORED
from ..model.matching import match_seam
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.seams import ChainPart, Ease, PairedNotch, Seam
from .bearing import Part, on_new_line
from .ring import Drawn

_SAME = 1e-3

Chain = tuple[ChainPart, ...]


@dataclass(frozen=True)
class Became:
    """What the runs of edited pieces became, by (piece, run).

    `parts` in the order in which the old run counts. `stands_for`: a run that is gone, and
    the one that stands for it. `gone`: runs of which nothing is left.
    """

    parts: Mapping[tuple[str, str], list[Part]]
    stands_for: Mapping[tuple[str, str], str] = field(default_factory=dict)
    gone: frozenset[tuple[str, str]] = frozenset()

    def touches(self, part: ChainPart) -> bool:
        """Whether a part of a chain speaks of an edited run."""
        key = (part.piece, part.run)
        return key in self.parts or key in self.stands_for or key in self.gone


def rewritten(
    before: Pattern,
    after: Pattern,
    became: Became,
    drawn: Mapping[str, Drawn],
    size: str | None,
) -> tuple[tuple[Seam, ...], tuple[Finding, ...]]:
    """The seams of `before` for the pieces of `after`, and what was lost.

    A run across an opened fold stands for both halves, so its mates count twice; a seam on
    one side of an opened piece gets a twin on the other.
    """
    seams: list[Seam] = []
    findings: list[Finding] = []
    for seam in before.seams:
        if not any(became.touches(part) for part in (*seam.first, *seam.second)):
            seams.append(seam)
            continue
        lost = [
            part
            for part in (*seam.first, *seam.second)
            if (part.piece, part.run) in became.gone
            and (part.piece, part.run) not in became.stands_for
        ]
        if lost:
            findings.append(_gone(seam, lost[0]))
            continue
        for k, new in enumerate(_followed(seam, before, became)):
            if any((new.first, new.second) == (s.first, s.second) for s in seams):
                continue  # both halves are one again, and so are their seams
            notches = _restated(seam, new, before, after, drawn, size, twin=k > 0)
            seams.append(replace(new, notches=notches))
    return tuple(seams), tuple(findings)


def _gone(seam: Seam, part: ChainPart) -> Finding:
    return Finding(
        "seam-gone",
        "warn",
        f"{part.piece}:{part.run} is no more, so the seam goes too",
        part.piece,
        place=seam.name,
        cure="Declare a seam for the edge that takes its place.",
    )


def _followed(seam: Seam, before: Pattern, became: Became) -> Iterator[Seam]:
    """The seam with its new chains; a second one where all of it stands on both sides."""
    parts = (*seam.first, *seam.second)

    def new(part: ChainPart) -> list[Part]:
        return became.parts.get((part.piece, part.run), [])

    def crosses(part: ChainPart) -> bool:
        return any(one.crosses for one in new(part))

    def aside(part: ChainPart) -> bool:
        return any(one.twin for one in new(part))

    halves = any(crosses(p) and p.count % 2 for p in parts)
    if halves:
        yield _doubled(seam, became)
        return
    yield _halved(
        replace(seam, first=_chain(seam.first, became), second=_chain(seam.second, became)), became
    )

    def other_side(part: ChainPart) -> bool:
        """Whether the piece has this run on the other side of the body too."""
        piece = before.piece(part.piece)
        return aside(part) or (not new(part) and (piece.pair or piece.fold is not None))

    if any(map(aside, parts)) and all(map(other_side, parts)):
        if any(p.count != 1 for p in parts):
            return

        def twin(chain: Chain) -> Chain:
            out: list[ChainPart] = []
            for part in chain:
                twins = [one for one in new(part) if one.twin]
                out += _parts(part, twins) if twins else (part,)
            return tuple(out)

        yield replace(
            seam, name=seam.name + MIRRORED, first=twin(seam.first), second=twin(seam.second)
        )


def _eased(seam: Seam, factor: float) -> Ease | None:
    """The ease of so many times as much cloth."""
    ease = seam.ease
    return ease if ease is None or ease.share else replace(ease, amount=ease.amount * factor)


def _doubled(seam: Seam, became: Became) -> Seam:
    """A seam that was said of one half, said of both, since one of its runs is whole now.

    Each chain is walked from the far end of the other half to the centre and out again; the
    other way round where the whole run stands at the end of its chain.
    """

    def new(part: ChainPart) -> list[Part]:
        return became.parts.get((part.piece, part.run), [])

    def whole(part: ChainPart) -> bool:
        return any(one.crosses for one in new(part))

    outward = any(whole(chain[0]) for chain in (seam.first, seam.second))

    def both(chain: Chain) -> Chain:
        ways: list[list[ChainPart]] = []
        middle: Chain = ()
        for twin in (True, False):
            way: list[ChainPart] = []
            for part in chain:
                plain = [n for n in new(part) if not n.twin]
                other = [n for n in new(part) if n.twin]
                if whole(part):
                    middle = _parts(part, plain)
                elif new(part):
                    way += _parts(part, (other or plain) if twin else plain)
                else:
                    way.append(part)
            ways.append(way)
        there, out = ways
        if outward:
            return _joined((*_back(there), *middle, *out))
        return _joined((*out, *middle, *_back(there)))

    return replace(seam, first=both(seam.first), second=both(seam.second), ease=_eased(seam, 2.0))


def _back(chain: Sequence[ChainPart]) -> Chain:
    """A chain walked from its end to its start."""
    return tuple(replace(part, reverse=not part.reverse) for part in chain[::-1])


def _halved(seam: Seam, became: Became) -> Seam:
    """A seam said of both halves, of which one run is a half again, said of one half."""
    seam = replace(seam, first=_joined(seam.first), second=_joined(seam.second))
    parts = (*seam.first, *seam.second)
    if not any((p.piece, p.run) in became.stands_for for p in parts):
        return seam
    halves = []
    for chain in (seam.first, seam.second):
        # A run that counts twice is walked there and back.
        units = [
            replace(part, count=1, reverse=part.reverse != bool(turn % 2))
            for part in chain
            for turn in range(part.count)
        ]
        if len(units) % 2 or units != list(_back(units)):
            return seam
        halves.append(_joined(units[len(units) // 2 :]))
    return replace(seam, first=halves[0], second=halves[1], ease=_eased(seam, 0.5))


def _joined(chain: Sequence[ChainPart]) -> Chain:
    """Neighbours that are one run walked there and back, counted together."""
    parts: list[ChainPart] = []
    for part in chain:
        last = parts[-1] if parts else None
        if last and (last.piece, last.run) == (part.piece, part.run):
            back = last.reverse != bool(last.count % 2)
            if back == part.reverse:
                parts[-1] = replace(last, count=last.count + part.count)
                continue
        parts.append(part)
    return tuple(parts)


def _chain(chain: Chain, became: Became) -> Chain:
    out: list[ChainPart] = []
    for part in chain:
        key = (part.piece, part.run)
        kept = became.stands_for.get(key)
        if kept is not None:
            new = [n for n in became.parts[part.piece, kept] if not n.twin]
            if kept == part.run:
                # Across the centre: half of it, walked to the centre and out again.
                twice = 2 * part.count
                parts = [ChainPart(n.piece, n.run, True, twice) for n in new]
            else:
                parts = list(_parts(part, new))
        elif key in became.parts:
            new = became.parts[key]
            plain = [n for n in new if not n.twin]
            if any(n.crosses for n in new):
                parts = list(_parts(replace(part, count=part.count // 2), plain))
            elif part.count == 2 and any(n.twin for n in new):
                one = replace(part, count=1)
                there = _parts(one, plain)
                parts = [*there, *_back(_parts(one, [n for n in new if n.twin]))]
            else:
                parts = list(_parts(part, plain))
        else:
            parts = [part]
        out += parts
    return tuple(out)


def _parts(part: ChainPart, new: list[Part]) -> tuple[ChainPart, ...]:
    """The parts of an old run in the place of it; walked backwards, the last comes first."""
    found = [ChainPart(one.piece, one.run, part.reverse != one.backward, part.count) for one in new]
    return tuple(found[::-1] if part.reverse else found)


def _restated(
    old: Seam,
    new: Seam,
    before: Pattern,
    after: Pattern,
    drawn: Mapping[str, Drawn],
    size: str | None,
    *,
    twin: bool,
) -> tuple[PairedNotch, ...]:
    """The paired notches of a seam where they stand on its new second chain.

    One that keeps its distance from the chain's start is said as before, any other as a share.
    """
    if not old.notches:
        return ()
    try:
        was = match_seam(before, old, size)
        now = match_seam(after, replace(new, notches=()), size)
    except SizewrightError:
        return old.notches  # a broken seam is for the check of seams to tell
    out: list[tuple[float, PairedNotch]] = []
    for notch in old.notches:
        along = was.notch_place(notch)
        piece, s = was.second.place(min(max(along, 0.0), was.second.length))
        found: list[tuple[float, bool]] = []
        for name, there, mirrored in _carried(piece, s, drawn):
            found += [(d, mirrored) for d in now.second.distances(name, there)]
        places: list[float] = []
        for distance, mirrored in sorted(found, key=lambda f: (f[1] != twin, f[0])):
            if any(abs(distance - p) < _SAME for p in places):
                continue
            places.append(distance)
            if any(n.count == notch.count and abs(d - distance) < _SAME for d, n in out):
                continue  # the twin of one that stands there
            words = notch.name and notch.name + (MIRRORED if mirrored or len(places) > 1 else "")
            whole = now.second.length
            share = notch.share or abs(distance - along) > _SAME
            amount = distance / whole if share else notch.along
            if notch.share and abs(amount - notch.along) < 1e-9:
                amount = notch.along
            out.append((distance, replace(notch, along=amount, share=share, name=words)))
    return tuple(n for _, n in out)


def _carried(
    piece: Piece, s: float, drawn: Mapping[str, Drawn]
) -> Iterator[tuple[str, float, bool]]:
    """Where an old place lies on the new pieces; itself where its piece was not edited."""
    edited = False
    for name, one in drawn.items():
        for placed in one.placed:
            if placed.zone.piece.name != piece.name:
                continue
            edited = True
            there = placed.arc_length(s, one.path)
            if there is not None:
                yield name, one.at(there), bool(placed.zone.ending)
        if one.ring.staying.piece.name == piece.name:
            for there in on_new_line(one, s):
                yield name, one.at(there), False
    if not edited:
        yield piece.name, s, False
