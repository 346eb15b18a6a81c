"""Good files spoilt in many ways, the same ones each time.

Mutant n of a kind depends on nothing but the kind, n and the good files, so that one that
does harm can be made again: `python -m tests.mutants svg 17 > spoilt.svg`.
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FIXTURES = ROOT / "tests" / "fixtures"

Spoil = Callable[[bytes, random.Random], bytes]

POINTS = b"# invented\npiece,point,rule\nfront,underarm,side\nfront,neck,neck\nback,#3,side\n"
#: What a number may become.
_NUMBERS = [
    *(b"nan", b"NaN", b"inf", b"-inf", b"1e308", b"-1e308", b"1e999", b"1e-320", b"-0", b"0"),
    *(b"", b"-", b".", b"1e", b"99999999999999999999999999", b"-1", b"0.0000001", b"1,5"),
    *(b"0x10", b"1_000", b"1e9", b"--5", "\u0663".encode(), b"9" * 400, b"1/2", b"true"),
]
_NUMBER = re.compile(rb"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_WORD = re.compile(rb"[A-Za-z][A-Za-z-]+")
_ODD = [
    *(b"\x00", b"\xff", b"\xfe\xff", b"\r", b"\n", b"\t", b'"', b"'", b"<", b">", b"&", b"&#0;"),
    *(b"]]>", b"<!--", b"#", b";", b",", b"=", b"[", b"{", b"\\", b"%", "\u202e".encode()),
    *("\U0001f9f5".encode(), b"\xed\xa0\x80", b"\x1b[2J", b"../", b"${x}", b"\x1a"),
]


# --- any file ---------------------------------------------------------------------------


def _span(data: bytes, rng: random.Random, most: int = 400) -> tuple[int, int]:
    """A stretch of the data, seldom longer than `most` bytes."""
    start = rng.randrange(len(data) + 1)
    length = int(min(most, len(data)) ** rng.random())
    return start, min(len(data), start + length)


def flip(data: bytes, rng: random.Random) -> bytes:
    """A few bits turned over."""
    changed = bytearray(data)
    for _ in range(rng.choice([1, 1, 2, 8])):
        if changed:
            changed[rng.randrange(len(changed))] ^= 1 << rng.randrange(8)
    return bytes(changed)


def truncate(data: bytes, rng: random.Random) -> bytes:
    """The start alone, or the end alone."""
    at = rng.randrange(len(data) + 1)
    return data[:at] if rng.random() < 0.8 else data[at:]


def cut(data: bytes, rng: random.Random) -> bytes:
    """A stretch taken out."""
    a, b = _span(data, rng)
    return data[:a] + data[b:]


def double(data: bytes, rng: random.Random) -> bytes:
    """A stretch there twice, or very often."""
    a, b = _span(data, rng)
    return data[:b] + data[a:b] * rng.choice([1, 1, 3, 50]) + data[b:]


def swap(data: bytes, rng: random.Random) -> bytes:
    """Two stretches in each other's place."""
    a, b = _span(data, rng)
    c, d = _span(data[b:], rng)
    c, d = c + b, d + b
    return data[:a] + data[c:d] + data[b:c] + data[a:b] + data[d:]


def lines(data: bytes, rng: random.Random) -> bytes:
    """Lines taken out, doubled, swapped, or all of them in another order."""
    rows = data.splitlines(keepends=True)
    if not rows:
        return data
    i, j = rng.randrange(len(rows)), rng.randrange(len(rows))
    what = rng.randrange(5)
    if what == 0:
        del rows[i : i + rng.choice([1, 1, 2, 5])]
    elif what == 1:
        rows[i:i] = rows[i : i + rng.choice([1, 2, 5])]
    elif what == 2:
        rows[i], rows[j] = rows[j], rows[i]
    elif what == 3:
        rows[i] = rows[j]
    else:
        rng.shuffle(rows)
    return b"".join(rows)


def numbers(data: bytes, rng: random.Random) -> bytes:
    """Numbers that are none, or absurd ones."""
    found = list(_NUMBER.finditer(data))
    for match in sorted(
        rng.sample(found, min(len(found), rng.choice([1, 1, 2, 6]))), key=lambda m: -m.start()
    ):
        new = rng.choice(_NUMBERS)
        if rng.random() < 0.4:
            factor = rng.choice([-1.0, 10.0, 1000.0, 1e-3, 1e6, 1.0001])
            new = f"{float(match[0]) * factor:.9g}".encode()
        data = data[: match.start()] + new + data[match.end() :]
    return data


def one_number(data: bytes, rng: random.Random) -> bytes:
    """Every number that is like one of them changed alike."""
    found = _NUMBER.findall(data)
    if not found:
        return data
    return data.replace(rng.choice(found), rng.choice(_NUMBERS))


def words(data: bytes, rng: random.Random) -> bytes:
    """A word in the place of another, here or everywhere; or none, or another spelling."""
    found = _WORD.findall(data)
    if not found:
        return data
    old, new = rng.choice(found), rng.choice(found)
    new = rng.choice([new, new, b"", old.upper(), old[:-1], old + b"x", old * 500])
    if rng.random() < 0.5:
        return data.replace(old, new)
    at = rng.choice([m.start() for m in re.finditer(re.escape(old), data)])
    return data[:at] + new + data[at + len(old) :]


def odd(data: bytes, rng: random.Random) -> bytes:
    """Signs put in that mean something, or nothing, or are not text."""
    for _ in range(rng.choice([1, 1, 3])):
        at = rng.randrange(len(data) + 1)
        data = data[:at] + rng.choice(_ODD) * rng.choice([1, 1, 1, 300]) + data[at:]
    return data


def encoding(data: bytes, rng: random.Random) -> bytes:
    """The same text in another encoding, or with other line ends."""
    text = data.decode("latin-1")
    ways: Sequence[Callable[[], bytes]] = [
        lambda: text.encode("utf-16"),
        lambda: text.encode("utf-16-be"),
        lambda: text.encode("utf-32"),
        lambda: text.encode("utf-8-sig"),
        lambda: text.encode("utf-7"),
        lambda: text.encode("cp037"),
        lambda: data.replace(b"\n", b"\r\n"),
        lambda: data.replace(b"\n", b"\r"),
        lambda: data.replace(b"\n", b" "),
        lambda: b"\xff" + data,
        lambda: data.replace(b"UTF-8", rng.choice([b"UTF-16", b"ascii", b"klingon", b"cp1252"])),
        lambda: data.replace(b"e", "\u00e9".encode("latin-1")),
    ]
    return rng.choice(ways)()


_ANY: tuple[Spoil, ...] = (
    *(flip, flip, truncate, truncate, cut, cut, double, double, swap, lines, lines),
    *(numbers, numbers, numbers, numbers, one_number, words, words, odd, encoding),
)


# --- SVG --------------------------------------------------------------------------------

_ATTRIBUTE = re.compile(rb"\s[\w:-]+\s*=\s*\"[^\"]*\"")
_ELEMENT = re.compile(rb"<[A-Za-z][^<>]*?/>")
_TAG = re.compile(rb"(?<=<)[A-Za-z][\w:]*|(?<=</)[A-Za-z][\w:]*")
_TAGS = [
    *(b"g", b"svg", b"path", b"use", b"symbol", b"defs", b"switch", b"a", b"text", b"rect"),
    *(b"circle", b"polygon", b"line", b"style", b"clipPath", b"foreignObject", b"image"),
]


def attribute(data: bytes, rng: random.Random) -> bytes:
    """An attribute taken out, there twice, with another's value or with none."""
    found = list(_ATTRIBUTE.finditer(data))
    if not found:
        return data
    here, there = rng.choice(found), rng.choice(found)
    name, _, value = here[0].partition(b"=")
    other = there[0].partition(b"=")
    new = rng.choice([b"", here[0] * 2, name + b"=" + other[2], other[0] + b"=" + value])
    new = rng.choice([new, new, name + b'=""', there[0]])
    return data[: here.start()] + new + data[here.end() :]


def element(data: bytes, rng: random.Random) -> bytes:
    """A shape taken out, there again, or in another's place."""
    found = list(_ELEMENT.finditer(data))
    if not found:
        return data
    here, there = rng.choice(found), rng.choice(found)
    new = rng.choice([b"", here[0] * rng.choice([2, 2, 200]), there[0], there[0] + here[0]])
    return data[: here.start()] + new + data[here.end() :]


def tag(data: bytes, rng: random.Random) -> bytes:
    """A kind of element made another."""
    found = _TAG.findall(data)
    if not found:
        return data
    old, new = rng.choice(found), rng.choice(_TAGS)
    return re.sub(rb"(</?)" + re.escape(old) + rb"\b", lambda m: m[1] + new, data)


def nested(data: bytes, rng: random.Random) -> bytes:
    """All of it inside many groups, scaled, turned, named or hidden."""
    start, end = data.find(b">", data.find(b"<svg")) + 1, data.rfind(b"</svg>")
    if not 0 < start <= end:
        return data
    around = rng.choice(
        [
            b"<g>",
            b'<g transform="scale(%s)">' % rng.choice([b"2", b"-1", b"0", b"1e30", b"0.5 3"]),
            b'<g transform="rotate(%d) skewX(%d)">' % (rng.randrange(360), rng.randrange(90)),
            b'<g data-piece="a">',
            b'<g id="12" data-size="12">',
            b'<g style="display:none">',
            b'<svg viewBox="0 0 9 9" width="99mm">',
        ]
    )
    times = rng.choice([1, 1, 2, 10, 100, 3000])
    close = b"</svg>" if around.startswith(b"<svg") else b"</g>"
    return data[:start] + around * times + data[start:end] + close * times + data[end:]


def path_data(data: bytes, rng: random.Random) -> bytes:
    """Letters of a path made others, or very many of them."""
    found = list(re.finditer(rb"\sd=\"([^\"]*)\"", data))
    if not found:
        return data
    here = rng.choice(found)
    text = here[1]
    letters = [m.start() for m in re.finditer(rb"[A-Za-z]", text)] or [0]
    at = rng.choice(letters)
    letter = rng.choice([*b"MmLlHhVvCcSsQqTtAaZzXe"])
    new = text[:at] + bytes([letter]) + text[at + 1 :]
    new = rng.choice([new, new, text * rng.choice([2, 40]), text[at:], text + b"Z" * 2000])
    return data[: here.start(1)] + new + data[here.end(1) :]


# --- DXF --------------------------------------------------------------------------------

_KINDS = [
    *(b"LINE", b"POLYLINE", b"LWPOLYLINE", b"VERTEX", b"SEQEND", b"SPLINE", b"ARC", b"CIRCLE"),
    *(b"ELLIPSE", b"INSERT", b"TEXT", b"MTEXT", b"POINT", b"BLOCK", b"ENDBLK", b"SECTION"),
    *(b"ENDSEC", b"TABLE", b"ENDTAB", b"EOF", b"HATCH", b"3DFACE", b"ACAD_PROXY_ENTITY"),
]


def _pairs(data: bytes) -> list[tuple[bytes, bytes]]:
    rows = data.splitlines()
    return list(zip(rows[::2], rows[1::2], strict=False))


def _joined(pairs: Sequence[tuple[bytes, bytes]]) -> bytes:
    return b"".join(code + b"\n" + value + b"\n" for code, value in pairs)


def group_code(data: bytes, rng: random.Random) -> bytes:
    """A group code made another, or a pair taken out or doubled."""
    pairs = _pairs(data)
    if not pairs:
        return data
    for _ in range(rng.choice([1, 1, 3])):
        i = rng.randrange(len(pairs))
        code, value = pairs[i]
        new = b"%d" % rng.choice([0, 1, 2, 8, 10, 20, 30, 40, 41, 42, 62, 66, 70, 71, 72, 73])
        new = rng.choice([new, new, b"-5", b"1000", b"1071", b"9999", b"x"])
        other = pairs[rng.randrange(len(pairs))][1]
        pairs[i : i + 1] = rng.choice([[], [pairs[i]] * 2, [(new, value)], [(code, other)]])
        if not pairs:
            break
    return _joined(pairs)


def entity(data: bytes, rng: random.Random) -> bytes:
    """An entity (or head or end of a section) taken out, doubled, moved, or of another kind."""
    pairs = _pairs(data)
    starts = [i for i, (code, _) in enumerate(pairs) if code.strip() == b"0"]
    if not starts:
        return data
    k = rng.randrange(len(starts))
    a = starts[k]
    b = starts[k + 1] if k + 1 < len(starts) else len(pairs)
    what = rng.randrange(4)
    if what == 0:
        del pairs[a:b]
    elif what == 1:
        pairs[b:b] = pairs[a:b] * rng.choice([1, 1, 30])
    elif what == 2:
        pairs[a] = (pairs[a][0], rng.choice(_KINDS))
    else:
        there = rng.choice(starts)
        pairs[there:there] = pairs[a:b]
    return _joined(pairs)


def into_itself(data: bytes, rng: random.Random) -> bytes:
    """A block that holds itself, or one that is put in very often."""
    pairs = _pairs(data)
    ends = [i for i, (c, v) in enumerate(pairs) if c.strip() == b"0" and v == b"ENDBLK"]
    names = [value for i, (code, value) in enumerate(pairs) if code.strip() == b"2" and i and value]
    if not ends or not names:
        return entity(data, rng)
    insert = [(b"0", b"INSERT"), (b"8", b"1"), (b"2", rng.choice(names))]
    insert += [(b"10", b"0"), (b"20", b"0"), (b"41", rng.choice([b"1", b"0", b"-2", b"1e200"]))]
    if rng.random() < 0.5:
        insert += [(b"70", b"9000"), (b"71", b"9000"), (b"44", b"1"), (b"45", b"1")]
    at = rng.choice(ends)
    pairs[at:at] = insert * rng.choice([1, 2, 20])
    return _joined(pairs)


# --- tables, rule table files and jobs ----------------------------------------------------


def cells(data: bytes, rng: random.Random) -> bytes:
    """Cells emptied, swapped, doubled, in quotes, or a whole column taken out or turned."""
    comma = rng.choice([b",", b",", b";", b"\t"]) if b";" in data else b","
    rows = [row.split(comma) for row in data.splitlines()]
    full = [row for row in rows if len(row) > 1]
    if not full:
        return data
    row = rng.choice(full)
    i, j = rng.randrange(len(row)), rng.randrange(len(row))
    what = rng.randrange(7)
    if what == 0:
        row[i] = rng.choice([b"", b" ", b"2026-03-04", b"4. Mrz", b'"', b"#REF!", b"=1+1"])
    elif what == 1:
        row[i], row[j] = row[j], row[i]
    elif what == 2:
        row[i] = rng.choice([row[j], row[j] * 2000, b'"' + row[i], b'"' + row[i] + b'"'])
    elif what == 3:
        row.extend([b"7"] * rng.choice([1, 3000]))
    elif what == 4:
        for each in full:
            del each[min(i, len(each) - 1)]
    elif what == 5:
        for each in full:
            each.reverse()
    else:
        comma = rng.choice([b";", b"\t", b"|", b",,", b" "])
    return b"\n".join(comma.join(row) for row in rows) + b"\n"


def key(data: bytes, rng: random.Random) -> bytes:
    """A key of a job taken out, named otherwise, in another table, or with another value."""
    rows = data.splitlines(keepends=True)
    keyed = [i for i, row in enumerate(rows) if b"=" in row]
    if not keyed:
        return data
    i, j = rng.choice(keyed), rng.choice(keyed)
    name, _, value = rows[i].partition(b"=")
    other_name, _, other_value = rows[j].partition(b"=")
    odd_value = rng.choice(
        [
            *(b"[]", b"{}", b'""', b"0", b"-1", b"1.5", b"nan", b"inf", b"true", b"1979-05-27"),
            *(b"[[[[[]]]]]", b'["", ""]', b"{ a = { b = 1 } }", b'"1e308 cm"', b'"nan mm"'),
            *(b'"-5 cm"', b'"99999 km"', b"9" * 30, b'"/etc/hostname"', b'"."', b'"{size}{piece}"'),
            *(b'["a", 1, true]', b'"' + b"x" * 5000 + b'"', b"[" * 3000, b'"""', b'"\\u0000"'),
        ]
    )
    rows[i] = rng.choice(
        [
            b"",
            name + b"=" + other_value,
            other_name + b"=" + value,
            name + b"= " + odd_value + b"\n",
            name + b"= " + odd_value + b"\n",
            name.strip() + b".deeper" * rng.choice([1, 2000]) + b" =" + value,
        ]
    )
    return b"".join(rows)


def header(data: bytes, rng: random.Random) -> bytes:
    """The head of a table of a job taken out, doubled, single for double, or deeper."""
    rows = data.splitlines(keepends=True)
    heads = [i for i, row in enumerate(rows) if row.startswith(b"[")]
    if not heads:
        return data
    i, j = rng.choice(heads), rng.choice(heads)
    text = rows[i].strip(b"[]\r\n\t ").partition(b"]")[0]
    deep = b"[" + text + b".a" * rng.choice([1, 3000]) + b"]\n"
    rows[i] = rng.choice(
        [b"", rows[i] * 2, b"[" + text + b"]\n", b"[[" + text + b"]]\n", rows[j], deep]
    )
    return b"".join(rows)


# --- kinds ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Kind:
    """A kind of file: the good ones by name, and how they are spoilt."""

    files: Mapping[str, bytes]
    own: tuple[Spoil, ...]
    ending: str

    @property
    def ways(self) -> tuple[Spoil, ...]:
        """All ways to spoil it, those of its own kind as likely as the others together."""
        return (*_ANY, *self.own * round(len(_ANY) / max(1, len(self.own))))


@dataclass(frozen=True)
class Mutant:
    """A spoilt file, which good one it was, and what was done to it."""

    kind: str
    number: int
    source: str
    how: tuple[str, ...]
    data: bytes

    @property
    def title(self) -> str:
        """What it is, and how to make it again."""
        return f"{self.kind} {self.number} ({self.source}: {', '.join(self.how)})"


def _files(folder: Path, pattern: str, *, most: int = 80_000) -> dict[str, bytes]:
    found = {p.name: p.read_bytes() for p in sorted(folder.glob(pattern))}
    return {name: data for name, data in found.items() if len(data) <= most}


def kinds() -> dict[str, Kind]:
    """Every kind of file that is read."""
    svg = (attribute, element, tag, nested, path_data)
    dxf = (group_code, entity, into_itself)
    apron = ROOT / "docs" / "examples" / "half-apron" / "half-apron.toml"
    tables = _files(FIXTURES / "tables", "*.csv") | _files(ROOT / "grade_tables", "*.csv")
    pages = _files(ROOT / "docs" / "examples" / "half-apron", "*.pdf")
    return {
        "svg": Kind(_files(FIXTURES, "*.svg"), svg, ".svg"),
        "dxf": Kind(_files(FIXTURES / "dxf", "*.dxf"), dxf, ".dxf"),
        "interchange": Kind(_files(FIXTURES / "interchange", "*.dxf"), dxf, ".dxf"),
        "rul": Kind(_files(FIXTURES / "interchange", "*.rul"), (), ".rul"),
        "csv": Kind(tables | {"points.csv": POINTS}, (cells,), ".csv"),
        "tape": Kind(_files(ROOT / "docs" / "examples" / "measured", "*.csv"), (cells,), ".csv"),
        "pdf": Kind(_files(ROOT / "docs" / "examples", "*.pdf") | pages, (), ".pdf"),
        "toml": Kind(
            _files(FIXTURES / "jobs", "*.toml") | {apron.name: apron.read_bytes()},
            (key, header),
            ".toml",
        ),
    }


def mutant(kind: str, number: int, known: Mapping[str, Kind] | None = None) -> Mutant:
    """Mutant `number` of a kind of file; the good files take turns."""
    of = (known or kinds())[kind]
    rng = random.Random(f"{kind} {number}")
    names = list(of.files)
    name = names[number % len(names)]
    data, how = of.files[name], []
    for _ in range(rng.choice([1, 1, 1, 2, 4])):
        way = rng.choice(of.ways)
        how.append(way.__name__)
        data = way(data, rng)
    return Mutant(kind, number, name, tuple(how), data)


if __name__ == "__main__":
    made = mutant(sys.argv[1], int(sys.argv[2]))
    print(made.title, file=sys.stderr)
    sys.stdout.buffer.write(made.data)
