"""Pictures of the docs that are made by the program, by their place in docs/.

A page shows an operation before and after by a job that it shows too:

    <!-- before-after: lower-neck front = front -->
    ```toml
    [[steps]]
    ...
    ```

    ![The front before and after](../pictures/lower-neck.svg)

The picture holds the named pieces as they are drawn, then those that the job makes. A block
without a source of its own works on the supper top.
"""

from __future__ import annotations

import importlib.util
import re
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path

from sizewright.formats import read_pdf, read_svg, read_tape
from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import perform
from sizewright.model import Pattern, Piece
from sizewright.pictures import NumberedLine, nest_picture, picture
from sizewright.plugin import apply_operation, check_settings
from tests.operations import drawn, plugins

EXAMPLES = Path(__file__).parent.parent / "docs" / "examples"


def yoke_line() -> str:
    """The demo's front, and what the tutorial's plugin makes of it."""
    file = EXAMPLES / "yoke-line" / "yoke_line.py"
    spec = importlib.util.spec_from_file_location("yoke_line", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    (operation,) = module.add_operations()
    given = {
        "piece": "front",
        "line": ["1/2 along armhole", "2/3 along fold"],
        "parts": {"yoke": "neck-side", "lower": "waist-centre"},
    }
    values = check_settings(operation.name, operation.settings, given)
    before = drawn("supper-top")
    after = apply_operation(operation, before, values).pattern
    pieces = (before.piece("front"), after.piece("yoke"), after.piece("lower"))
    return picture(Pattern(pieces, title="A front, before and after"))


@dataclass(frozen=True)
class Shown:
    """A job that a page shows, and the pieces of its picture: drawn, and made."""

    name: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    job: str


DOCS = EXAMPLES.parent
_SHOWN = re.compile(
    r"<!-- before-after: (\S+) (.*?) = (.*?) -->\n```toml\n(.*?)^```$", re.MULTILINE | re.DOTALL
)
_FRAME = 'source = "shipped:examples/supper-top/supper-top.svg"\nbase = "12"\n\n'
_SIZES = """

[grade]
to = ["8", "12", "16"]
rules = "shipped:grade_tables/supper-top-steps.csv"
"""


@cache
def shown_jobs() -> dict[str, Shown]:
    """The jobs that pages show with a picture, by its place in docs/."""
    found = {}
    for page in sorted(DOCS.glob("**/*.md")):
        for name, before, after, job in _SHOWN.findall(page.read_text(encoding="utf-8")):
            one = Shown(name, tuple(before.split()), tuple(after.split()), job)
            found[f"pictures/{name}.svg"] = one
    return found


@cache
def job_made(job: str, *, sizes: bool = False) -> Pattern:
    """What a shown job makes, as it is drawn or in three sizes."""
    text = (job if "source =" in job else _FRAME + job) + (_SIZES if sizes else "")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "job.toml")
        file.write_text(text, encoding="utf-8")
        return perform(read_job(file), plugins(), write=False).pattern


def before_after(one: Shown) -> str:
    """The picture of a shown job."""
    before = job_made(re.sub(r"^\[\[.*", "", one.job, flags=re.MULTILINE | re.DOTALL))
    after = job_made(one.job)

    def titled(pattern: Pattern, names: tuple[str, ...], word: str) -> tuple[Piece, ...]:
        pieces = (pattern.piece(name) for name in names)
        return tuple(replace(p, name=f"{p.name} {word}", size=None, base=None) for p in pieces)

    pieces = (*titled(before, one.before, "before"), *titled(after, one.after, "after"))
    return picture(Pattern(pieces))


@cache
def _tablecloth() -> Mapping[str, bytes]:
    """What the job of the tablecloth makes; its lays are kept beside it."""
    job = read_job(EXAMPLES / "tablecloth" / "tablecloth.toml")
    done = perform(job, plugins())
    assert not done.kept, "the lays of the tablecloth are to be found and kept anew: run its job"
    return done.files


def lay_on_panels() -> str:
    """The demo's pieces on a round tablecloth with flaws."""
    return _tablecloth()["lay-tablecloth.svg"].decode("utf-8")


def lay_on_length() -> str:
    """The demo's interfacing on a length."""
    return _tablecloth()["lay-stiffening.svg"].decode("utf-8")


def marked() -> str:
    """The pocket of the page on drawings, as it is read."""
    return picture(read_svg(EXAMPLES / "patch-pocket.svg").pattern)


def corners() -> str:
    """One pocket with each kind of corner that an allowance may have."""
    (pocket,) = read_svg(EXAMPLES / "patch-pocket.svg").pattern.pieces
    operation = plugins().operation("seam-allowance")
    pieces: list[Piece] = []
    for kind in ("mitre", "square", "fold-back", "bevel"):
        given = {"width": "2 cm", "corners": kind}
        values = check_settings(operation.name, operation.settings, given)
        made = apply_operation(operation, Pattern((replace(pocket, name=kind),)), values)
        pieces += made.pattern.pieces
    return picture(Pattern(tuple(pieces), title="Corners"))


def blend() -> str:
    """The demo's front in 12, and in 12 with the waist of 16."""
    asked = '\n[grade]\nto = ["12"]\nrules = "shipped:grade_tables/supper-top-steps.csv"\n'
    plain, wide = (job_made(_FRAME + asked + at) for at in ("", 'at = { waist = "16" }\n'))
    front = (plain.piece("front"), replace(wide.piece("front"), size="12/16"))
    return nest_picture(Pattern(front, title="Front"))


def growth() -> str:
    """The demo's front in three sizes, over what does not grow."""
    asked = _FRAME + _SIZES.lstrip()
    pieces = (p for p in job_made(asked).pieces if p.name == "front")
    return nest_picture(Pattern(tuple(pieces), title="Front"))


def measured() -> str:
    """An apron as tape and ruler measured it."""
    return picture(read_tape(EXAMPLES / "measured" / "apron-half.csv").pattern)


def out_of_pdf() -> str:
    """A pocket out of a PDF."""
    return picture(read_pdf(EXAMPLES / "patch-pocket.pdf").pattern)


def pages_out_of_pdf() -> str:
    """An apron put together from pages."""
    reading = read_pdf(EXAMPLES / "half-apron" / "half-apron-pages.pdf")
    return picture(reading.pattern, pages=reading.pages)


def nest_out_of_pdf() -> str:
    """A skirt front in four kinds of line, with their numbers."""
    reading = read_pdf(EXAMPLES / "skirt-nest.pdf")
    lines = [
        NumberedLine(o.number, o.words(), o.paths, o.colour, o.dashes, o.outlines)
        for o in reading.lines
    ]
    return picture(reading.pattern, lines=lines)


PICTURES: Mapping[str, Callable[[], str]] = {
    "pictures/yoke-line.svg": yoke_line,
    **{name: partial(before_after, one) for name, one in shown_jobs().items()},
    "pictures/marked.svg": marked,
    "pictures/corners.svg": corners,
    "pictures/blend.svg": blend,
    "pictures/growth.svg": growth,
    "pictures/measured.svg": measured,
    "pictures/from-pdf.svg": out_of_pdf,
    "pictures/from-pdf-pages.svg": pages_out_of_pdf,
    "pictures/from-a-nest.svg": nest_out_of_pdf,
    "pictures/lay-panels.svg": lay_on_panels,
    "pictures/lay-length.svg": lay_on_length,
}
