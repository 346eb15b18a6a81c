"""Sizes of a nest told apart: every line and word goes to the sizes that it is drawn for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from shapely.geometry import Point

from ...errors import InputError
from ...geometry.path import Path
from ..reading import LineKind
from .drafts import Gathered
from .kinds import Kind, dashes_of, is_grey, kinds_of, lined, rgb, same_colour
from .lines import role_of, samples
from .names import given, size_of_layer
from .nests import Bit, Nest, Outline, by_rank, in_rows, mates_of, nest_of
from .shapes import Drawing, Element, Group, Shape, Text
from .size_words import named_by_words, size_words, sizes_beside
from .sizes import Sizes

#: A line or word belongs to the pieces that it lies in, or this near to, mm.
_REACH = 5.0
#: Lines of two sizes are the same mark where their middles are so near, as a share of the
#: piece, and their lengths so alike.
_BESIDE, _LENGTHS = 0.2, 0.6
#: A drawing with more kinds of line is no nest; nor are more outlines in one another sizes.
_MOST_KINDS, _MOST_SIZES = 60, 30
#: So many size words beside one kind of line speak of a nest.
_SEVERAL = 3
#: Size words are equally high within this share.
_AS_HIGH = 0.03
#: Roles of lines that lie within a piece.
_WITHIN = ("sew", "cutout")
_NUMBER = re.compile(r"\d+")
#: A line as the setting `sizes` names it, and what stands between several.
_LINE, _AND = re.compile(r"(?:lines?)?\s*(\d{1,4})", re.I), re.compile(r"[,;+&]|\band\b")
_SIZED_LAYER = re.compile(r"[\s_.:-]+")


@dataclass
class Apart:
    """The shapes with their sizes. `pieces` tells which outlines are one piece, by `id`."""

    shapes: list[Shape]
    pieces: dict[int, int] = field(default_factory=dict)


def told_apart(plain: list[Shape], drawing: Drawing, sizes: Sizes, out: Gathered) -> Apart:
    """`plain`, with a size for all that is drawn for one where they are a nest of sizes.

    Lines that run together are taken into each of the sizes, and what is drawn once for all,
    once for each. The kinds of line are told to `out`, and asked about where nothing says
    which size they are.
    """
    drawn = [s for s in plain if s.paths and not s.unpainted and lined(s.style)]
    drawn = [s for s in drawn if role_of(s) not in _WITHIN] or drawn
    tolerance = out.options.join_tolerance
    wanted = out.options.sizes
    labels = list(dict.fromkeys(filter(None, map(sizes.of, drawn))))
    if labels and not wanted:
        if len(labels) < 2:
            return Apart(plain)
        return _of_labels(plain, drawn, labels, drawing, sizes, out)
    nest = _recognised(drawn, drawing, tolerance)
    if wanted:
        named = _as_said(nest, wanted, out)
        nest = _merged(nest, named, drawing, tolerance)
        nest.mates = mates_of(nest.outlines, named)
        _refuse_roundless(nest, named)
        _tell_unclosed(nest, named, out)
        _tell_order([kind for kind in nest.sized if kind in named], named, out)
        out.lines = _records(nest, named, plain)
        others = {kind: kind.name for kind in nest.sized if kind not in named}
        left = frozenset(others.values()) - set(named.values())
        return _Sharing(plain, nest, named | others, out, left=left).run()
    kinds = nest.sized
    if not 1 < len(kinds) <= _MOST_SIZES:
        _tell_alike(nest, plain, out)
        return Apart(plain)
    named = _by_words(nest, kinds, plain)
    if len(named) < len(kinds):
        named = _by_layers(kinds) or named
    _tell(kinds, named, plain, out)
    _tell_unclosed(nest, named, out, all_kinds=True)
    if len(named) < len(kinds):
        named = {kind: kind.name for kind in kinds}
    out.lines = _records(nest, named, plain)
    return _Sharing(plain, nest, named, out).run()


# --- which kinds are sizes ------------------------------------------------------------------


def _recognised(drawn: list[Shape], drawing: Drawing, tolerance: float) -> Nest:
    """The nest by how lines look, else by their layers too, else by which lies in which."""
    kinds = kinds_of(drawn, layers=False)
    if len(kinds) > _MOST_KINDS:
        return Nest(kinds)
    nest = nest_of(kinds, drawing, tolerance)
    alike = nest.twice()
    if nest.mates and not alike:
        return nest
    layers = kinds_of(drawn, layers=True)
    if len(kinds) < len(layers) <= _MOST_KINDS:
        layered = nest_of(layers, drawing, tolerance)
        if layered.mates and not layered.twice():
            return layered
    if any(len({one.kind for one in group}) > 1 for group in nest.mates):
        return Nest(kinds, alike=alike)
    for k, kind in enumerate(kinds):
        rows = in_rows(kind, drawing, tolerance)
        if rows.mates and by_rank(rows):
            rows.kinds = [*kinds[:k], *rows.kinds, *kinds[k + 1 :]]
            for number, one in enumerate(rows.kinds, 1):
                one.number = number
            return rows
    return Nest(kinds, alike=alike)


def _as_said(nest: Nest, wanted: Mapping[str, str], out: Gathered) -> dict[Kind, str]:
    """The kinds that the setting `sizes` names. Raises InputError for one that is not there."""
    by_number = {kind.number: kind for kind in nest.kinds}
    named: dict[Kind, str] = {}
    there = "; ".join(f"{kind.name} is {kind.text}" for kind in nest.kinds[:20])
    for said, text in wanted.items():
        size = said.strip().strip("\"'")
        for number in _numbers(size, text, there):
            kind = by_number.get(number)
            if kind is None:
                what = f'"sizes" says that size {size} is "{text}", but no line {number} is drawn'
                raise InputError(what, cure=f"The lines are: {there or 'none'}.")
            if kind in named:
                what = f'"sizes" says that {kind.name} is size {named[kind]} and size {size}'
                if named[kind] == size:
                    what = f'"sizes" says twice that {kind.name} is size {size}'
                raise InputError(what, cure="Give each size lines of its own.")
            named[kind] = size
    return named


def _numbers(size: str, text: str, there: str) -> list[int]:
    """The numbers of lines that a size was said to be: `line 2`, `lines 2 and 5`, `2, 5`."""
    parts = [part.strip() for part in _AND.split(text.strip())]
    found = [_LINE.fullmatch(part) for part in parts]
    numbers = [int(one[1]) for one in found if one]
    if len(numbers) == len(parts):
        return numbers
    odd = next(part for part, one in zip(parts, found, strict=True) if not one)
    what = f'"sizes" says that size {size} is "{text}", which names no line'
    cure = f'Write it as "line 2". The lines are: {there or "none"}.'
    if digits := _NUMBER.findall(text):
        what = f'"sizes" says that size {size} is "{text}", and "{odd}" is no line'
        meant = ", ".join(f"line {number}" for number in digits)
        cure = f'Did you mean "{meant}"? The lines are: {there or "none"}.'
    raise InputError(what, cure=cure)


def _refuse_roundless(nest: Nest, named: Mapping[Kind, str]) -> None:
    """Raise InputError for a size said to be a line that goes round nothing."""
    round_ = {one.kind for one in nest.outlines} | set(nest.unclosed())
    for kind, size in named.items():
        if kind not in round_:
            what = f'"sizes" says that size {size} is {kind.name} ({kind.text}), '
            raise InputError(
                what + "but no line of that kind goes round a piece",
                cure=f"Those that do: {', '.join(k.name for k in nest.kinds if k in round_)}.",
            )


def _merged(nest: Nest, named: dict[Kind, str], drawing: Drawing, tolerance: float) -> Nest:
    """The nest where several kinds of line were said to be one size: as one kind."""
    first: dict[str, Kind] = {}
    kinds = []
    for kind in nest.kinds:
        size = named.get(kind)
        if size is None or size not in first:
            kinds.append(kind)
            if size is not None:
                first[size] = kind
        else:
            first[size].bits += kind.bits
            first[size].text += f"; {kind.text}"
            del named[kind]
    return nest if len(kinds) == len(nest.kinds) else nest_of(kinds, drawing, tolerance)


def _by_words(nest: Nest, kinds: Sequence[Kind], plain: Iterable[Shape]) -> dict[Kind, str]:
    words = size_words(plain)
    lines = {kind: [path for _, path in kind.bits] for kind in kinds}
    apart = all(
        not same_colour(a.style.colour, b.style.colour) for a in kinds for b in kinds if a is not b
    )
    colours = {kind: kind.style.colour for kind in kinds} if apart else {}
    return named_by_words(words, lines, colours)


def _by_layers(kinds: Sequence[Kind]) -> dict[Kind, str]:
    """Sizes that stand in the names of layers, such as `nest 12` and `nest 14`."""
    found: dict[Kind, str] = {}
    for kind in kinds:
        layers = {shape.group.element.name for shape, _ in kind.bits}
        words = [_SIZED_LAYER.split(layer) for layer in layers if given(layer)]
        size = size_of_layer(words[0][-1]) if len(words) == 1 else None
        if size is not None and size not in found.values():
            found[kind] = size
    return found if len(found) == len(kinds) else {}


def _of_labels(
    plain: list[Shape],
    drawn: list[Shape],
    labels: Sequence[str],
    drawing: Drawing,
    sizes: Sizes,
    out: Gathered,
) -> Apart:
    """A drawing whose groups or layers say the sizes."""
    kinds = [Kind(k + 1, drawn[0].style, label, [], label) for k, label in enumerate(labels)]
    by_label: dict[str | None, Kind] = dict(zip(labels, kinds, strict=True))
    by_label[None] = rest = Kind(len(kinds) + 1, drawn[0].style, None)
    for shape in drawn:
        by_label[sizes.of(shape)].bits += [(shape, path) for path in shape.paths]
    nest = nest_of([*kinds, rest], drawing, out.options.join_tolerance)
    named = {kind: label for label, kind in by_label.items() if label is not None}
    _tell_unclosed(nest, named, out)
    if not rest.bits and not any(one.made for one in nest.outlines):
        return Apart(plain)
    return _Sharing(plain, nest, named, out, said=sizes).run()


# --- what is told ---------------------------------------------------------------------------


def _tell(
    kinds: Sequence[Kind], named: Mapping[Kind, str], plain: Iterable[Shape], out: Gathered
) -> None:
    """Tell which line is which size, or ask; `named` are those that words or layers name."""
    if len(named) == len(kinds):
        listed = ", ".join(f"{named[k]} is {k.name}" for k in kinds)
        text = f"sizes of a nest were told apart by their lines, from the inside out: {listed}"
        out.find("nest-sizes", "note", text, 'If that is wrong, say it with "sizes".')
        if missing := _lineless(size_words(plain), named):
            text = f"no line of a size was found for the size words {', '.join(missing)}"
            cure = "Look in the picture (show --picture) which lines were taken; say them with "
            out.find("sizes-missing", "warn", text, cure + '"sizes".')
        _tell_order(kinds, named, out)
        return
    listed = ", ".join(f"{k.name} ({k.text})" for k in kinds)
    text = (
        f"the drawing holds a nest of {len(kinds)} sizes, and nothing says which size these "
        f"lines are, from the inside out: {listed}; they are called so for now"
    )
    said = sorted({size for _, _, size in size_words(plain)}, key=_rank)
    guess = said if len(said) == len(kinds) else [f"SIZE{k + 1}" for k in range(len(kinds))]
    out.find("sizes-asked", "warn", text, _cure(kinds, guess))


def _tell_order(kinds: Sequence[Kind], named: Mapping[Kind, str], out: Gathered) -> None:
    """Tell sizes of which a larger one lies within a smaller one."""
    sizes = sorted((named[k] for k in kinds), key=_rank)
    if [_rank(named[k]) for k in kinds] != [_rank(size) for size in sizes]:
        listed = ", ".join(f"{named[k]} is {k.name}" for k in kinds)
        text = f"the sizes do not grow in their order, from the inside out: {listed}"
        out.find("sizes-out-of-order", "warn", text, _cure(kinds, sizes))


def _lineless(words: Sequence[tuple[Shape, Text, str]], named: Mapping[Kind, str]) -> list[str]:
    """Sizes in words as high as those that name lines, which name none."""
    known = set(named.values())
    heights = {text.height for _, text, size in words if size in known}
    rest = {
        size for _, text, size in words if any(abs(text.height / h - 1) < _AS_HIGH for h in heights)
    }
    return sorted(rest - known, key=_rank)


def _cure(kinds: Sequence[Kind], sizes: Sequence[str]) -> str:
    """The setting to paste."""
    pairs = list(zip(sizes, kinds, strict=True))
    job = ", ".join(f'"{size}" = "{kind.name}"' for size, kind in pairs)
    line = " ".join(f'--set "sizes.{size}={kind.name}"' for size, kind in pairs)
    return f"Say it: {line}; or in a job's [reading]: sizes = {{ {job} }}"


def _tell_unclosed(
    nest: Nest, named: Mapping[Kind, str], out: Gathered, *, all_kinds: bool = False
) -> None:
    """Tell sizes whose line does not close to a piece that others have; with `all_kinds` also
    other lines that look like one."""
    for kind, strand in nest.unclosed().items():
        if kind not in named and not all_kinds:
            continue
        (x0, y0), (x1, y1) = strand.path.start, strand.path.end
        what = f"size {named[kind]}" if kind in named else f"{kind.name} ({kind.text})"
        text = (
            f"{what} is drawn round a piece as its sizes are, but does not close, and is left "
            f"out there: a line of it ends at ({x0:.1f}, {y0:.1f}) and ({x1:.1f}, {y1:.1f}) mm"
        )
        cure = "Lead it to the line that it shares with other sizes, or let ends farther apart "
        out.find("sizes-open", "warn", text, cure + "meet: --join 2mm (join in a job's [reading]).")


def _tell_alike(nest: Nest, plain: Iterable[Shape], out: Gathered) -> None:
    """Tell a nest where several sizes are drawn in one kind of line."""
    alike = list(nest.alike)
    if not alike:
        lines = {kind: [path for _, path in kind.bits] for kind in nest.kinds}
        beside = sizes_beside(size_words(plain), lines)
        alike = [kind for kind, sizes in beside.items() if len(sizes) >= _SEVERAL]
    twice = sorted({k.name for k in alike}, key=lambda name: int(name.split()[1]))
    if not twice:
        return
    out.lines = _records(nest, {}, plain)
    text = f"sizes of a nest cannot be told apart: {', '.join(twice)} draws several of them"
    cure = "Give each size a colour, a dash or a layer of its own in the drawing."
    out.find("sizes-alike", "warn", text, cure)


#: Sizes in letters, such as S, XXL, 3XL and 2X.
_LETTERS = re.compile(r"(\d*)(x*)([sml]?)", re.I)


def _rank(size: str) -> tuple[float, str]:
    letters, number = _LETTERS.fullmatch(size), _NUMBER.search(size)
    if letters and (letters[2] or letters[3]):
        times = int(letters[1] or 1) * len(letters[2])
        return {"s": -1.0 - times, "m": 0.0}.get(letters[3].lower(), 1.0 + times), size
    return (float(number[0]) if number else np.inf), size


def _records(nest: Nest, named: Mapping[Kind, str], plain: Iterable[Shape]) -> list[LineKind]:
    records = []
    lines = {kind: [path for _, path in kind.bits] for kind in nest.kinds}
    beside = sizes_beside(size_words(plain), lines)
    mates = [one for group in nest.mates for one in group]
    for kind in nest.kinds:
        style = kind.style
        # Squares and other shapes that are in one kind only are no pieces of a nest.
        round_ = [one.path for one in mates if one.kind is kind] or [
            one.path for one in nest.outlines if one.kind is kind
        ]
        red, green, blue = rgb(style.colour) or (0, 0, 0)
        records.append(
            LineKind(
                kind.number,
                kind.text,
                named.get(kind, ""),
                tuple(path for _, path in kind.bits),
                f"#{red:02x}{green:02x}{blue:02x}",
                dashes_of(style),
                tuple(round_),
                tuple(sorted(beside.get(kind, ()), key=_rank)),
            )
        )
    return records


# --- who gets what --------------------------------------------------------------------------


class _Sharing:
    """Gives each size its own lines, its share of those that run together, and what all have.

    `said` tells what the drawing itself says is which size's. Sizes of `left` are left out.
    """

    def __init__(
        self,
        plain: list[Shape],
        nest: Nest,
        named: Mapping[Kind, str],
        out: Gathered,
        *,
        said: Sizes | None = None,
        left: frozenset[str] = frozenset(),
    ) -> None:
        self.plain, self.nest, self.named, self.out = plain, nest, named, out
        self.said, self.left = said, left
        self.groups: dict[tuple[int, str], Group] = {}
        # Outlines of sizes: those with mates, and what else only goes on along other lines.
        mates = {id(one) for group in nest.mates for one in group}
        self.outlines = [
            one for one in nest.outlines if one.kind in named and (id(one) in mates or one.made)
        ]
        self.labels = list(dict.fromkeys(named.values()))
        own = {id(path) for one in self.outlines for _, path in one.bits}
        followed = {
            id(path)
            for one in self.outlines
            for line, _ in one.along
            for _, path in self._bits_of(line)
        }
        self.own, self.shared = own, followed - own
        self.kind_of = {id(path): kind for kind in nest.kinds for _, path in kind.bits}
        self.marks = [
            (kind, bit)
            for kind in named
            for bit in kind.bits
            if id(bit[1]) not in own and id(bit[1]) not in followed
        ]

    def run(self) -> Apart:
        """The shapes, each in a group of its size."""
        made: list[Shape] = []
        pieces: dict[int, int] = {}
        taken = {id(path) for one in self.outlines if one.made for _, path in one.bits}
        shapes_of: dict[int, list[Shape]] = {}
        for one in self.outlines:
            if one.made and self.named[one.kind] not in self.left:
                shapes = list(self._made(one))
                made += shapes
                shapes_of[id(one)] = shapes[:1]
        for shape in self.plain:
            made += self._given(shape, taken)
        by_path = {id(path): shape for shape in made for path in shape.paths}
        for number, group in enumerate(self.nest.mates):
            for one in group:
                found = shapes_of.get(id(one)) or [
                    by_path[id(path)] for _, path in one.bits if id(path) in by_path
                ]
                pieces |= {id(shape): number for shape in found}
        made.sort(key=lambda shape: shape.position)
        return Apart(made, pieces)

    def _bits_of(self, line: int) -> list[Bit]:
        """What a line of the web is made of: strands first, closed outlines behind them."""
        strands = self.nest.strands
        if line < len(strands):
            return strands[line].bits
        return []

    def _made(self, one: Outline) -> Iterable[Shape]:
        """The shape of an outline that goes on along other lines, and the folds among these."""
        first = one.bits[0][0]
        size = self.named[one.kind]
        yield replace(first, group=self._group(first.group, size), paths=[one.path], texts=[])
        for line, part in one.along:
            for shape, _ in self._bits_of(line)[:1]:
                if role_of(shape) == "fold":
                    group = self._group(shape.group, size)
                    yield replace(shape, group=group, paths=[part], texts=[])

    def _given(self, shape: Shape, taken: set[int]) -> list[Shape]:
        """A shape as each size has it: its own lines, those that all have, its words."""
        if self.said is not None and self.said.of(shape) is not None:
            # What the drawing says stays as it is, but for what outlines were made of.
            left = [p for p in shape.paths if id(p) not in taken and id(p) not in self.shared]
            whole = len(left) == len(shape.paths)
            return [shape] if whole else [replace(shape, paths=left)] if left else []
        known = [self.kind_of.get(id(path)) for path in shape.paths]
        own = next((self.named[k] for k in known if k is not None and k in self.named), None)
        parts: dict[str | None, list[Path]] = {}
        for path, kind in zip(shape.paths, known, strict=True):
            if id(path) in taken or id(path) in self.shared:
                continue
            for size in self._sizes_of(shape, path, kind):
                parts.setdefault(size, []).append(path)
        words = [text for text in shape.texts if text]
        given: list[Shape] = []
        if not shape.paths and not words and shape.dot is None:
            return [shape]
        if words and not shape.paths:
            holding = self._holding(np.array([text.at for text in words]))
            if own is None and self._is_size_word(shape, holding):
                self.out.aside(shape, "a size word of the nest")
                return []
            return self._each(shape, holding)
        if shape.dot is not None and not shape.paths:
            return self._each(shape, self._holding(np.array([shape.dot])))
        if parts and set(parts) <= self.left:
            self.out.aside(shape, f"of another size of the nest ({', '.join(map(str, parts))})")
        for size, paths in parts.items():
            if size in self.left:
                continue
            if size is None and len(paths) == len(shape.paths):
                given.append(shape)
                continue
            group = shape.group if size is None else self._group(shape.group, size)
            given.append(replace(shape, group=group, paths=paths))
        return given

    def _each(self, shape: Shape, sizes: Sequence[str]) -> list[Shape]:
        if not sizes:
            return [shape]
        return [replace(shape, group=self._group(shape.group, size)) for size in sizes]

    def _is_size_word(self, shape: Shape, holding: Sequence[str]) -> bool:
        """Whether it says sizes of the nest and nothing else, or one size of several."""
        said = [size for _, _, size in size_words([shape])]
        known = len(holding) > 1 or set(said) <= set(self.labels)
        return bool(said) and len(said) == len(shape.texts) and known

    def _sizes_of(self, shape: Shape, path: Path, kind: Kind | None) -> list[str | None]:
        """The sizes that a line is drawn for; None for what is no size's."""
        if id(path) in self.own and kind is not None:
            return [self.named[kind]]
        if kind is not None and kind in self.named:
            if not self._once(kind, path):
                return [self.named[kind]]
        elif kind is not None and (companion := self._companion(kind)) is not None:
            return [companion]
        holding: list[str | None] = list(self._holding(samples(path)))
        return holding or [None]

    def _once(self, kind: Kind, path: Path) -> bool:
        """Whether a line of one size is drawn in no other, as what all sizes share is."""
        if self.said is not None or len(self.named) == 1:
            return False
        middle = path.at(path.length / 2)
        spans = [
            max(o.path.bounds[2] - o.path.bounds[0], o.path.bounds[3] - o.path.bounds[1])
            for o in self.outlines
            if o.kind is kind
        ]
        near = _BESIDE * max(spans, default=0.0)
        for other, (_, mark) in self.marks:
            if other is kind or not _LENGTHS <= mark.length / path.length <= 1 / _LENGTHS:
                continue
            if float(np.hypot(*(mark.at(mark.length / 2) - middle))) <= near:
                return False
        return True

    def _companion(self, kind: Kind) -> str | None:
        """The size whose colour lines of another width or dash have."""
        if is_grey(kind.style.colour):
            return None
        colours = [k for k in self.named if same_colour(k.style.colour, kind.style.colour)]
        return self.named[colours[0]] if len(colours) == 1 and len(self.named) > 1 else None

    def _holding(self, places: np.ndarray) -> list[str]:
        """Sizes of a piece that most of some places lie in or near; all of one piece together."""
        points = [Point(*place) for place in places]
        held: list[str] = []
        for group in self._pieces():
            inside = [
                one
                for one in group
                if sum(one.polygon.distance(p) <= _REACH for p in points) * 2 > len(points)
            ]
            held += [self.named[one.kind] for one in inside]
        return [label for label in self.labels if label in held and label not in self.left]

    def _pieces(self) -> list[list[Outline]]:
        known = {id(one) for one in self.outlines}
        grouped = [[o for o in group if id(o) in known] for group in self.nest.mates]
        inner = {id(one) for group in grouped for one in group}
        return grouped + [[one] for one in self.outlines if id(one) not in inner]

    def _group(self, group: Group, size: str) -> Group:
        """A group of a size within the group that something was drawn in."""
        key = (id(group), size)
        if key not in self.groups:
            element = Element("g", {"data-size": size}, place=group.element.place)
            self.groups[key] = Group(element, group)
        return self.groups[key]


def one_name(names: Sequence[str]) -> str:
    """The name of a piece whose sizes were named apart: what they agree on."""
    counted = {name: names.count(name) for name in names}
    most = max(counted, key=lambda name: counted[name])
    if counted[most] * 2 > len(names):
        return most
    words = [name for name in names if not re.fullmatch(r"piece-\d+", name)]
    if not words:
        return most
    common = words[0]
    for name in words:
        while not name.startswith(common):
            common = common[:-1]
    common = common.rstrip(" -_.")
    return common if len(common) >= 3 else words[0]
