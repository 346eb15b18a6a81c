"""A job file: what to read, what each piece is, what to do, what to write. Checked on reading."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..errors import InputError, SizewrightError, UsageError, meant
from ..model import Faces, Seam, parse_seam
from ..shipped import found_file, is_there
from ..units import parse_length
from .bodies import read_measure
from .cloth_orders import ClothOrder, FillOrder, cloth_orders, fill_orders
from .orders import GradeOrder, Step, steps_after
from .toml_lines import TomlFile, Trail, read_toml
from .write_out import check_name, plain_output


@dataclass(frozen=True)
class PieceNotes:
    """What a job says of one piece beyond its drawing; None or empty where it is silent."""

    name: str
    corners: int | None = None
    perimeter: float | None = None
    outline: str | None = None
    allowance: float | None = None
    quantity: str | None = None
    pair: bool | None = None
    faces: Faces | None = None
    fold: str | None = None
    points: Mapping[str, str] = field(default_factory=dict)
    edges: Mapping[str, str] = field(default_factory=dict)
    rules: Mapping[str, str] = field(default_factory=dict)
    darts: Mapping[str, str] = field(default_factory=dict)
    pleats: Mapping[str, str] = field(default_factory=dict)
    hold: tuple[str, ...] = ()
    rename: str | None = None
    leave_out: bool = False


@dataclass(frozen=True)
class OutputOrder:
    """One file to write (or one for each size or piece, where the name says so).

    `writer` is its writer's name where one is named, else the ending of `file` chooses.
    """

    file: str
    writer: str | None
    settings: Mapping[str, Any]
    sizes: tuple[str, ...]
    trail: Trail


@dataclass(frozen=True)
class Job:
    """A whole job, as read from its file."""

    toml: TomlFile
    title: str
    source: Path
    units: str | None
    reading: Mapping[str, Any]
    base: str | None
    seams: tuple[Seam, ...]
    pieces: tuple[PieceNotes, ...]
    before: tuple[Step, ...]
    grade: GradeOrder | None
    steps: tuple[Step, ...]
    checks: tuple[Step, ...]
    outputs: tuple[OutputOrder, ...]
    cloths: tuple[ClothOrder, ...] = ()
    fills: tuple[FillOrder, ...] = ()

    def where(self, *trail: str | int) -> str:
        """File and line of a key, for messages."""
        return self.toml.where(*trail)

    def path(self, text: str, trail: Trail) -> Path:
        """A file that the job names, from the job's folder. Raises InputError for none."""
        return _path(self.toml, text, trail)


_TOP = {
    "title": str,
    "source": str,
    "units": str,
    "reading": dict,
    "base": (str, int),
    "seams": list,
    "pieces": dict,
    "before": list,
    "grade": dict,
    "steps": list,
    "checks": list,
    "outputs": list,
    "cloths": list,
    "fill": list,
}
_PIECE = {
    "corners": int,
    "perimeter": str,
    "outline": str,
    "allowance": str,
    "quantity": str,
    "pair": bool,
    "faces": str,
    "fold": (str, int),
    "points": dict,
    "edges": dict,
    "rules": dict,
    "darts": dict,
    "pleats": dict,
    "hold": list,
    "rename": str,
    "leave-out": bool,
}
_GRADE = {
    "to": (list, str, int),
    "rules": str,
    "points": str,
    "square": list,
    "beyond-table": bool,
    "deltas": str,
    "chart": str,
    "measure": dict,
    "at": dict,
    "label": str,
    "stretch": bool,
    "true-seams": (bool, str),
    "align": (list, str),
}
_IN_NAMES = ("size", "piece", "cloth")
_OUTPUT_OWN = {"file", "write", "profile", "sizes"}


def read_job(path: Path) -> Job:
    """Read and check a job file. Raises InputError or UsageError with file and line."""
    toml = read_toml(path)
    data = toml.data
    reader = JobReader(toml)
    reader.check_keys(data, _TOP, (), "a job")
    if "source" not in data:
        raise UsageError(
            "the job names no source", where=path.name, cure='Add source = "drawing.svg".'
        )
    cloths = cloth_orders(reader, data.get("cloths", ()))
    return Job(
        toml=toml,
        title=str(data.get("title", path.stem)),
        source=_path(toml, data["source"], ("source",)),
        units=data.get("units"),
        reading=data.get("reading", {}),
        base=str(data["base"]) if "base" in data else None,
        seams=tuple(
            reader.guard(("seams",), lambda text=text: parse_seam(str(text)))
            for text in data.get("seams", ())
        ),
        pieces=tuple(reader.piece(name, raw) for name, raw in data.get("pieces", {}).items()),
        before=reader.steps("before", "do"),
        grade=reader.grade(data["grade"]) if "grade" in data else None,
        steps=reader.steps("steps", "do"),
        checks=reader.steps("checks", "check"),
        outputs=tuple(reader.output(i, raw) for i, raw in enumerate(data.get("outputs", ()))),
        cloths=cloths,
        fills=fill_orders(reader, data.get("fill", ()), cloths),
    )


class JobReader:
    """Checks the tables of a job file; every error tells file and line."""

    def __init__(self, toml: TomlFile) -> None:
        self.toml = toml

    def path(self, text: str, trail: Trail) -> Path:
        """A file that the job names. Raises InputError for none."""
        return _path(self.toml, text, trail)

    def guard(self, trail: Trail, read: Any) -> Any:
        """What `read()` gives; its error tells where the key stands."""
        try:
            return read()
        except SizewrightError as error:
            raise error.at(self.toml.where(*trail)) from None

    def check_keys(self, table: Any, allowed: Mapping[str, Any], trail: Trail, what: str) -> None:
        """Raise UsageError for a key that is not `allowed`, or not of its kind."""
        if not isinstance(table, Mapping):
            raise UsageError(f"{what} must be a table", where=self.toml.where(*trail))
        for key, value in table.items():
            where = self.toml.where(*trail, key)
            if key not in allowed:
                raise UsageError(
                    f'{what} has no "{key}"',
                    where=where,
                    cure=f"{meant(key, allowed)}It may have: {', '.join(allowed)}.",
                )
            kinds = allowed[key]
            takes = kinds if isinstance(kinds, tuple) else (kinds,)
            wrong_flag = isinstance(value, bool) and bool not in takes
            if not isinstance(value, kinds) or wrong_flag:
                raise UsageError(
                    f'"{key}" cannot be {value!r}',
                    where=where,
                    cure=f"It takes {_kind_words(kinds)}.",
                )

    def piece(self, name: str, raw: Any) -> PieceNotes:
        trail: Trail = ("pieces", name)
        self.check_keys(raw, _PIECE, trail, f'piece "{name}"')

        def length(key: str) -> float | None:
            if key not in raw:
                return None
            value: float = self.guard((*trail, key), lambda: parse_length(raw[key]))
            return value

        def table(key: str) -> dict[str, str]:
            return {str(k): _reference(v) for k, v in raw.get(key, {}).items()}

        if raw.get("outline", "sew") not in ("sew", "cut", "unknown"):
            raise UsageError(
                f'"outline" cannot be "{raw["outline"]}"',
                where=self.toml.where(*trail, "outline"),
                cure='It is "sew", "cut" or "unknown".',
            )
        faces = raw.get("faces")
        if faces not in (None, "front", "back"):
            raise UsageError(
                f'"faces" cannot be "{faces}"',
                where=self.toml.where(*trail, "faces"),
                cure='It is "front" or "back": where the piece lies on the wearer.',
            )
        return PieceNotes(
            name=name,
            corners=raw.get("corners"),
            perimeter=length("perimeter"),
            outline=raw.get("outline"),
            allowance=length("allowance"),
            quantity=raw.get("quantity"),
            pair=raw.get("pair"),
            faces=faces,
            fold=_reference(raw["fold"]) if "fold" in raw else None,
            points=table("points"),
            edges=table("edges"),
            rules=table("rules"),
            darts=table("darts"),
            pleats=table("pleats"),
            hold=tuple(_reference(v) for v in raw.get("hold", ())),
            rename=raw.get("rename"),
            leave_out=raw.get("leave-out", False),
        )

    def grade(self, raw: Any) -> GradeOrder:
        self.check_keys(raw, _GRADE, ("grade",), "[grade]")
        if not raw.get("to") and not raw.get("measure"):
            raise UsageError(
                '[grade] needs "to" or "measure"',
                where=self.toml.where("grade"),
                cure='As in to = ["10", "12"], or measure = { bust = "92 cm" }.',
            )
        if raw.get("deltas", "sample") not in ("sample", "neighbour"):
            raise UsageError(
                f'"deltas" cannot be "{raw["deltas"]}"',
                where=self.toml.where("grade", "deltas"),
                cure='It is "sample" or "neighbour".',
            )
        to = raw.get("to", [])
        to = to if isinstance(to, list) else [to]

        def table(key: str) -> Path | None:
            return _path(self.toml, raw[key], ("grade", key)) if key in raw else None

        def pairs(key: str, read: Callable[[str, str], Any]) -> dict[str, Any]:
            found: dict[str, Any] = {}
            for name, value in raw.get(key, {}).items():
                text = str(value)
                found[str(name)] = self.guard(
                    ("grade", key, name), lambda name=name, text=text: read(str(name), text)
                )
            return found

        return GradeOrder(
            to=tuple(str(size) for size in to),
            rules=table("rules"),
            points=table("points"),
            chart=table("chart"),
            measures=pairs("measure", read_measure),
            at=pairs("at", lambda _name, text: text),
            label=raw.get("label", ""),
            stretch=bool(raw.get("stretch", False)),
            after=steps_after(raw.get("true-seams", False), raw.get("align", ())),
            square=tuple(str(v) for v in raw.get("square", ())),
            beyond_table=bool(raw.get("beyond-table", False)),
            deltas=raw.get("deltas"),
        )

    def steps(self, table: str, verb: str) -> tuple[Step, ...]:
        steps = []
        for i, raw in enumerate(self.toml.data.get(table, ())):
            trail: Trail = (table, i)
            if not isinstance(raw, Mapping) or not isinstance(raw.get(verb), str):
                raise UsageError(
                    f'each entry of [[{table}]] needs {verb} = "NAME"',
                    where=self.toml.where(*trail),
                    cure="`sizewright plugins` lists the names.",
                )
            settings = {k: v for k, v in raw.items() if k != verb}
            steps.append(Step(raw[verb], settings, trail))
        return tuple(steps)

    def output(self, i: int, raw: Any) -> OutputOrder:
        trail: Trail = ("outputs", i)
        if not isinstance(raw, Mapping) or not isinstance(raw.get("file"), str):
            raise UsageError(
                'each entry of [[outputs]] needs file = "NAME"', where=self.toml.where(*trail)
            )
        file: str = self.guard((*trail, "file"), lambda: plain_output(raw["file"]))
        self.guard((*trail, "file"), lambda: check_name(raw["file"], _IN_NAMES))
        settings = {k: v for k, v in raw.items() if k not in _OUTPUT_OWN}
        named = [key for key in ("write", "profile") if key in raw]
        if len(named) > 1 or not all(isinstance(raw[key], str) for key in named):
            raise UsageError(
                "an output is written by one writer",
                where=self.toml.where(*trail, *named[-1:]),
                cure='Name it once, as write = "pages", or profile = "cutter".',
            )
        sizes = raw.get("sizes", [])
        return OutputOrder(
            file=file,
            writer=raw[named[0]] if named else None,
            settings=settings,
            sizes=tuple(str(s) for s in (sizes if isinstance(sizes, Sequence) else [sizes])),
            trail=trail,
        )


def _path(toml: TomlFile, text: str, trail: Trail) -> Path:
    # As it is written, or with the folders as other systems part them.
    for spelt in (text, text.replace("\\", "/")):
        try:
            path = found_file(spelt, toml.path.parent)
        except SizewrightError as error:
            raise error.at(toml.where(*trail)) from None
        if is_there(path):
            return path
    raise InputError(
        f'there is no file "{text}"',
        where=toml.where(*trail),
        cure=f"Paths count from {toml.path.parent.resolve()}.",
    )


def _reference(value: Any) -> str:
    return f"#{value}" if isinstance(value, int) and not isinstance(value, bool) else str(value)


def _kind_words(kinds: Any) -> str:
    words = {str: "text in quotes", int: "a whole number", bool: "true or false"}
    words |= {list: "a list in [ ]", dict: "a table"}
    return " or ".join(words[k] for k in (kinds if isinstance(kinds, tuple) else (kinds,)))
