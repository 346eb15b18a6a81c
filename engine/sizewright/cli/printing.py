"""The one gate for all that is printed: what others wrote is shown, never obeyed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from ..findings import Finding

#: What a terminal would act on or hide: control characters but for tab and line end, marks
#: that turn the direction of writing, separators of lines, halves of characters.
_UNSEEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f"
    "\ud800-\udfff\ufeff\ufff9-\ufffb\U000e0000-\U000e007f]"
)


def printable(text: str) -> str:
    """`text` with what a terminal would act on spelt out, as JSON spells it.

    >>> printable("hem" + chr(27) + "[2J")
    'hem\\\\u001b[2J'
    """
    return _UNSEEN.sub(_spelt, text)


def say(text: str, *, err: bool = False) -> None:
    """Print a text on standard output, or with `err` on standard error."""
    click.echo(printable(text), err=err)


def tell(lines: Iterable[str], findings: Iterable[Finding]) -> int:
    """Print what a command tells, line by line; the code that it exits with for its findings."""
    from ..findings import worst

    for line in lines:
        say(line)
    return 1 if worst(findings) == "fail" else 0


def _spelt(found: re.Match[str]) -> str:
    code = ord(found[0])
    if code > 0xFFFF:  # as two halves, which JSON reads as one character again
        code -= 0x10000
        return f"\\u{0xD800 + (code >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"
    return f"\\u{code:04x}"
