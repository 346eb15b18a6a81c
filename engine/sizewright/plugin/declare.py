"""What a plugin declares: operations, readers, writers, checks, and what they return."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Literal

from ..findings import Finding
from ..model import Pattern, Piece, RunReference
from ..units import Unit
from .settings import Setting

#: Where a check runs unasked.
When = Literal["reading", "job", "asked"]
#: Settings as an operation gets them: every declared name, read and checked.
Values = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an operation gives back: the new pattern, and what it found on the way.

    `drafted`: names of pieces that it drafted from the edges `along`; a job makes them anew
    where one of these changes later, and for every size after grading.
    """

    pattern: Pattern
    findings: tuple[Finding, ...] = ()
    drafted: tuple[str, ...] = ()
    along: tuple[RunReference, ...] = ()


@dataclass(frozen=True)
class Operation:
    """A change to a pattern.

    `apply(pattern, values)` gets the pattern (several sizes at once, where it is a
    nest) and the settings, and returns a new `Pattern` or an `Outcome`.
    `before_grading`: it may run on the base; points that it makes there by `redraft` get the
    mixture of grade rules that holds at their place.
    """

    name: str
    help: str
    apply: Callable[[Pattern, Values], Pattern | Outcome]
    settings: tuple[Setting, ...] = ()
    before_grading: bool = False


@dataclass(frozen=True)
class Reader:
    """A reader of one file format.

    `claim(head, name)` says from a file's first 4096 bytes and its name whether it is
    one of its own. Every reader is asked about every file, so it has to be quick.
    `read(data, name, units, values)` gets the whole file, what messages call it, what its
    bare numbers mean where the user said so, and the settings; it returns a
    `sizewright.formats.Reading`.
    """

    name: str
    help: str
    claim: Callable[[bytes, str], bool]
    read: Callable[[bytes, str, Unit | None, Values], Any]
    settings: tuple[Setting, ...] = ()


@dataclass(frozen=True)
class Writer:
    """A writer of one kind of output.

    `write(pattern, values)` returns the file's bytes, or an `Output`. `suffixes` are
    the file endings that it makes, as `(".pdf",)`; none: any that it is asked for by name.
    They also choose it where no writer is named, unless `by_ending` is False.
    """

    name: str
    help: str
    write: Callable[[Pattern, Values], bytes | Output]
    suffixes: tuple[str, ...] = ()
    settings: tuple[Setting, ...] = ()
    by_ending: bool = True


@dataclass(frozen=True, slots=True)
class Making:
    """How a pattern came about, for a writer that tells it: what a setting of kind `making` brings.

    `drawn` is the pattern as it was read. `found` gives all that was found until now; ask for it
    last, since it waits for outputs that are under way still.
    """

    drawn: Pattern
    found: Callable[[], Sequence[Finding]] = tuple


@dataclass(frozen=True, slots=True)
class Output:
    """One written file: its bytes, and what could not be kept in it.

    `beside` holds the bytes of further files by the endings (`.rul`) that set their names
    apart from the name of this one.
    """

    data: bytes
    findings: tuple[Finding, ...] = ()
    beside: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True)
class Check:
    """A check of a pattern: `run(pattern, values)` returns findings.

    `when` says where it runs unasked, with its settings as they are: on whatever a command
    reads and makes (`reading`), on what is made only (`job`), or nowhere (`asked`).
    """

    name: str
    help: str
    run: Callable[[Pattern, Values], list[Finding]]
    settings: tuple[Setting, ...] = ()
    when: When = "asked"


@dataclass(frozen=True)
class Offer:
    """All that one plugin offers."""

    operations: tuple[Operation, ...] = ()
    readers: tuple[Reader, ...] = ()
    writers: tuple[Writer, ...] = ()
    checks: tuple[Check, ...] = field(default=())

    def names(self) -> tuple[tuple[str, str], ...]:
        """(kind, name) of everything offered."""
        return (
            *(("operation", o.name) for o in self.operations),
            *(("reader", r.name) for r in self.readers),
            *(("writer", w.name) for w in self.writers),
            *(("check", c.name) for c in self.checks),
        )


@contextmanager
def working_on(piece: Piece) -> Iterator[None]:
    """While a plugin works on `piece`: an error raised inside is reported with its name."""
    try:
        yield
    except Exception as error:
        # The error bears it, so that one that is caught leaves nothing behind.
        error.__dict__.setdefault("piece_at_work", piece.title)
        raise


def piece_at_work(error: Exception) -> str:
    """Name and size of the piece that was worked on when `error` was raised; else empty."""
    return str(error.__dict__.get("piece_at_work", ""))
