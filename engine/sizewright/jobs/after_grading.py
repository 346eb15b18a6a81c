"""What grading is asked to do with its sizes at the end: true their seams, lay them over."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..errors import UsageError
from ..findings import Finding
from ..units import parse_length

if TYPE_CHECKING:
    from ..model import Pattern


def read_true_seams(value: bool | str) -> float | None:
    """How far an end may move to bring a seam to length, mm: None for not at all.

    True means the usual bound; a text is a length such as `2 mm`. Raises UsageError for a
    length that is none.
    """
    if value is False:
        return None
    if value is True:
        from ..grading.true_seams import MOST

        return MOST
    mm = parse_length(value)
    if mm <= 0:
        raise UsageError(f"an end cannot move by at most {value}", cure="Give more than 0 mm.")
    return mm


def after_grading(
    pattern: Pattern,
    findings: list[Finding],
    *,
    true: float | None = None,
    align: Sequence[str] = (),
) -> Pattern:
    """The graded pattern with its seams trued by at most `true` mm, and its sizes laid over
    each other at the places `align`; what truing did is added to `findings`.

    Raises InputError for a place that cannot be read, LookupFailed for one that is not there.
    """
    if true is not None:
        from ..grading import true_seams

        pattern, told = true_seams(pattern, true)
        findings += told
    if align:
        from ..model import parse_place
        from ..pictures import laid_over

        pattern = laid_over(pattern, [parse_place(text) for text in align])
    return pattern
