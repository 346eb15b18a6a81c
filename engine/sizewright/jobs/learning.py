"""The job of `learn`: recover rules from a nest, write the tables, tell how well they fit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import InputError, UsageError
from .commands import Told, brief_lines
from .files import Given
from .nest_files import base_of, read_nest

if TYPE_CHECKING:
    from ..grading.learning import Learned
    from ..units import Unit


def learn_files(
    files: Sequence[Path],
    out: Path,
    *,
    points: Path | None = None,
    sizes: Sequence[str] = (),
    base: str | None = None,
    tolerance: str | None = None,
    align: Sequence[str] = (),
    each: bool = False,
    units: Unit | None = None,
    settings: Given = (),
) -> Told:
    """Learn rules from a nest in one file, or from a file for each size, and write them.

    The rules go to `out`; what the drawing does not say of its points goes to `points`, by
    default beside it. `sizes` as `read_nest` takes them. `tolerance` is a length as people
    write it, `align` are places to lay the sizes over each other at. `each` tells every
    point and not only each piece. `settings` are the reader's. Raises what reading, learning
    and writing raise; then nothing is written.
    """
    from ..formats.safely import write_all
    from ..grading import learn, write_points, write_rules
    from ..grading.learning import TOLERANCE
    from ..model import parse_place
    from ..model.overlay import check_places

    points = points or out.with_name(f"{out.stem}-points.csv")
    for path in (out, points):
        if path.suffix.lower() != ".csv":
            raise UsageError(
                "tables are written as CSV", where=str(path), cure="Let the name end in .csv."
            )
    nest = read_nest(files, sizes, units=units, settings=settings)
    size, told = base_of(nest, base)
    places = [parse_place(text) for text in align]
    check_places(nest.pattern, places)
    names = ", ".join(path.name for path in files)
    source = f"Source: {names}, sizes {', '.join(nest.order)}"
    learned = learn(
        nest.pattern,
        nest.order,
        base_size=size,
        tolerance=TOLERANCE if tolerance is None else _length(tolerance),
        align=places,
        notes=(f"Title: rules learned from {names}", source),
    )
    if not learned.rules.rules:
        raise InputError(
            "nothing to learn from was found: no piece has corners or marked points",
            where=names,
            cure="Mark points on the pieces, alike in every size.",
        )
    written = {out: write_rules(learned.rules)}
    if learned.points:
        title = f"Title: rules of points, for {out.name}"
        written[points] = write_points(learned.points, (title, source))
    write_all(written, sources=files)
    findings = (*nest.findings, *told, *learned.findings)
    drawing = nest.files.get(learned.base_size, files[0])
    lines = [
        *_what(learned, out, points),
        "",
        *_fit(learned, each),
        "",
        _how_back(learned, drawing, out, points, settings),
    ]
    return Told((*lines, *brief_lines(findings)), findings)


def _length(text: str) -> float:
    from ..units import parse_length

    mm = parse_length(text)
    if mm <= 0:
        raise UsageError(f"a tolerance of {text} is none", cure="Give more than 0 mm.")
    return mm


def _what(learned: Learned, out: Path, points: Path) -> Iterator[str]:
    sizes = learned.rules.sizes
    rules = len(learned.rules.names)
    counted = f"{rules} rule{'s' * (rules != 1)}"
    yield f"{out}: {counted} for sizes {', '.join(sizes)}, drawn in {learned.base_size}"
    if learned.points:
        count = len(learned.points)
        yield f"{points}: rules of {count} point{'s' * (count != 1)}"
    else:
        yield "no table of points is needed: the drawing says every point's rule"


def _fit(learned: Learned, each: bool) -> Iterator[str]:
    """How far the nest, graded back, misses the drawn one: in the worst size, by piece."""
    yield "graded back, the nest is off by at most"
    width = max(len(o.piece) for o in learned.outlines) if learned.outlines else 0
    for one in learned.outlines:
        mine = [r for r in learned.residuals if r.piece == one.piece]
        worst = max(mine, key=lambda r: r.off)
        ruled = sum(r.rule is not None for r in mine)
        yield (
            f"  {one.piece:<{width}}  {worst.off:6.2f} mm at points, {one.off:6.2f} mm along lines"
            f"  ({ruled} of {len(mine)} points have a rule)"
        )
        if each:
            for r in mine:
                rule = r.rule or "goes with its neighbours"
                yield f"    {r.off:6.3f} mm  {r.point}: {rule}" + (
                    f", in {r.size}" if r.off >= 0.0005 else ""
                )


def _how_back(learned: Learned, drawing: Path, out: Path, points: Path, settings: Given) -> str:
    """The command that makes a size with the new tables."""
    sizes = learned.rules.sizes
    other = next(s for s in (sizes[-1], sizes[0]) if s != learned.base_size)
    command = [
        "sizewright grade",
        _word(drawing),
        "OUT.svg",
        f"--base {_word(learned.base_size)} --to {_word(other)}",
        f"--rules {_word(out)}",
    ]
    if learned.points:
        command.append(f"--points {_word(points)}")
    if not isinstance(settings, Mapping):
        command += [f"--set {_word(text)}" for text in settings]
    return " ".join(command)


def _word(text: Path | str) -> str:
    import shlex

    return shlex.quote(str(text))
