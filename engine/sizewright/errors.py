"""What goes wrong, as exceptions with a message that a maker can act on.

Every message says what is wrong, where, and how to mend it. The command line
prints the message alone and exits with `exit_code`.
"""

from __future__ import annotations

from collections.abc import Iterable


def meant(name: str, known: Iterable[str]) -> str:
    """`Did you mean "hem"? ` for a name that is nearly a known one, to put before a cure; else "".

    >>> meant("hme", ["hem", "side"]), meant("cuff", ["hem", "side"])
    ('Did you mean "hem"? ', '')
    """
    from difflib import get_close_matches

    by_case = {one.casefold(): one for one in known}
    plain = name.casefold().replace("_", "-")
    near = get_close_matches(plain, by_case, n=1, cutoff=0.6)
    return f'Did you mean "{by_case[near[0]]}"? ' if near else ""


class SizewrightError(Exception):
    """Base of all errors that are shown to a user.

    Parameters: `what` is wrong; `where` it is (file, line, piece, point); `cure`
    is how to mend it. `str(error)` joins them in one message.

    >>> str(InputError("it has no grain", where="front", cure="Draw a line with the role grain."))
    'front: it has no grain. Draw a line with the role grain.'
    """

    exit_code = 2

    def __init__(self, what: str, *, where: str = "", cure: str = "") -> None:
        self.what = what
        self.where = where
        self.cure = cure
        super().__init__(what)

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.cure:
            text = f"{text.rstrip('.')}. {self.cure}"
        return text

    def at(self, place: str) -> SizewrightError:
        """The same error with `place` put before its trail (file -> piece -> point).

        A trail that begins with it already, as where a piece is called after what drafts it,
        stays as it is.
        """
        if self.where != place and not self.where.startswith(f"{place}: "):
            self.where = f"{place}: {self.where}" if self.where else place
        return self


class InputError(SizewrightError, ValueError):
    """A file, table or drawing that cannot be used as it is."""


class UnitError(InputError):
    """A length whose unit is missing, unknown or doubtful."""


class GeometryError(SizewrightError, ValueError):
    """A shape that an operation cannot work on (self-crossing, empty, not closed)."""


class LookupFailed(SizewrightError, KeyError):
    """A name (piece, point, edge, size, rule) that is not there; lists the ones that are."""

    def __str__(self) -> str:
        return SizewrightError.__str__(self)


class UsageError(SizewrightError):
    """A command or setting used in a way that it does not allow."""


class PluginError(SizewrightError):
    """A plugin that failed or cannot be loaded."""

    exit_code = 3
