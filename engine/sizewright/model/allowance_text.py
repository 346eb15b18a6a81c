"""What is meant by an allowance as one line of text, as files keep it.

    default 15 mm; hem 40 mm; side 15 mm to 10 mm; corner hem-side fold-back before

Stretches are named runs or edges (`hem`, `#3`), or go from point to point (`#2..underarm`),
counter-clockwise; `@7` is a vertex. A width of one side of the wearer ends in `left` or `right`.
`corners bevel` is the kind of all other corners, `mitre-limit 4` where a mitre is cut off. A
squared or folded corner says whether it belongs to the edge `before` it or `after` it,
counter-clockwise.
"""

from __future__ import annotations

from ..errors import InputError, SizewrightError
from ..units import parse_length
from .allowances import CORNER_KINDS, MITRE_LIMIT, Allowances, CornerKind, CornerShape, WidthStretch
from .outline import Outline, Run
from .vec import Side

_WORDS = ("default", "corner", "corners", "mitre-limit")
_SIDES = {"before": True, "after": False}
_WEARER: dict[str, Side] = {"left": "left", "right": "right"}
_QUOTED = (("%", "%25"), (";", "%3B"), ("..", "%2E%2E"))


def format_allowances(allowances: Allowances, outline: Outline) -> str:
    """The text that `parse_allowances` reads on the same outline."""
    parts = [f"default {_mm(allowances.default)}"]
    names = {(e.start, e.end): f"#{e.number}" for e in outline.edges}
    names |= {
        (r.start, r.end): _quoted(r.name) for r in outline.runs if r.name and not _odd(r.name)
    }
    for one in allowances.stretches:
        ends = f"{_end(outline, one.start)}..{_end(outline, one.end)}"
        words = names.get((one.start, one.end), ends)
        widths = _mm(one.w0) + ("" if one.w0 == one.w1 else f" to {_mm(one.w1)}")
        parts.append(f"{words} {widths}" + (f" {one.side}" if one.side != "both" else ""))
    if allowances.corner != "mitre":
        parts.append(f"corners {allowances.corner}")
    for corner in allowances.corners:
        side = "before" if corner.before else "after"
        told = f" {side}" if corner.belongs else ""
        parts.append(f"corner {_end(outline, corner.vertex)} {corner.kind}{told}")
    if allowances.limit != MITRE_LIMIT:
        parts.append(f"mitre-limit {allowances.limit:.12g}")
    return "; ".join(parts)


def parse_allowances(text: str, outline: Outline) -> Allowances:
    """Read what `format_allowances` writes. Raises InputError, with the part that is wrong."""
    default: float | None = None
    corner: CornerKind = "mitre"
    limit = MITRE_LIMIT
    stretches: list[WidthStretch] = []
    corners: list[CornerShape] = []
    for part in (p.strip() for p in text.split(";")):
        head, _, rest = part.partition(" ")
        if not part:
            continue
        try:
            if head == "default":
                default = parse_length(rest)
            elif head == "corners":
                corner = _kind(rest.strip())
            elif head == "corner":
                corners.append(_corner(rest.split(), outline))
            elif head == "mitre-limit":
                limit = float(rest)
            else:
                stretches.append(_stretch(part, outline))
        except (SizewrightError, ValueError, IndexError) as error:
            why = error.what if isinstance(error, SizewrightError) else "it cannot be read"
            raise InputError(
                f'"{part[:60]}" is no allowance: {why}',
                cure="Write it like default 15 mm; hem 40 mm; side 15 mm to 10 mm; "
                "corner hem-side fold-back before.",
            ) from None
    if default is None:
        raise InputError(
            "it is not said how wide the allowance is elsewhere", cure="Begin with default 15 mm."
        )
    return Allowances(default, tuple(stretches), corner, tuple(corners), limit)


def _stretch(part: str, outline: Outline) -> WidthStretch:
    side: Side = "both"
    head, _, word = part.rpartition(" ")
    if word in _WEARER:
        part, side = head.rstrip(), _WEARER[word]
    first, to, last = part.rpartition(" to ")
    words, w1 = (first, parse_length(last)) if to else (part, None)
    name, number, unit = words.rsplit(" ", 2)
    w0 = parse_length(f"{number} {unit}")
    run = _run(name.strip(), outline)
    return WidthStretch(run.start, run.end, w0, w0 if w1 is None else w1, side)


def _run(name: str, outline: Outline) -> Run:
    if ".." in name:
        first, last = name.split("..", 1)
        return Run(_vertex(first, outline), _vertex(last, outline))
    return outline.run(_plain(name))


def _corner(words: list[str], outline: Outline) -> CornerShape:
    before = True
    if words[-1] in _SIDES:
        before = _SIDES[words.pop()]
    kind = _kind(words.pop())
    return CornerShape(_vertex(" ".join(words), outline), kind, before)


def _kind(word: str) -> CornerKind:
    for kind in CORNER_KINDS:
        if kind == word:
            return kind
    raise InputError(f'there is no kind of corner "{word}"')


def _vertex(text: str, outline: Outline) -> int:
    text = text.strip()
    if text.startswith("@"):
        number = int(text[1:]) if text[1:].isdecimal() and len(text) < 9 else -1
        if not 0 <= number < len(outline.path):
            raise InputError(f"the outline has no vertex {text[1:20]}")
        return number
    return outline.vertex(_plain(text))


def _end(outline: Outline, vertex: int) -> str:
    name = outline.point(vertex).name
    # A dot at the end of a name would run into those between two points.
    plain = name is not None and name == " ".join(name.split()) and name == name.strip(".")
    if name is not None and plain and not name.startswith(("#", "@")):
        return _quoted(name)
    number = outline.corner_number(vertex)
    return f"@{vertex}" if number is None else f"#{number}"


def _odd(name: str) -> bool:
    """Whether a run's name would be read as something else."""
    spaced = name != " ".join(name.split()) or " to " in f" {name} "
    return spaced or name.startswith(("#", "@")) or name.partition(" ")[0] in _WORDS


def _quoted(name: str) -> str:
    for sign, code in _QUOTED:
        name = name.replace(sign, code)
    return name


def _plain(name: str) -> str:
    for sign, code in reversed(_QUOTED):
        name = name.replace(code, sign)
    return name


def _mm(width: float) -> str:
    return f"{width!r} mm" if width != int(width) else f"{int(width)} mm"
