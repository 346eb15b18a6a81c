"""One operation on a pattern, with what grade rules weigh at its points handed along."""

from __future__ import annotations

from ..model import Pattern
from ..plugin import Operation, Outcome, Values, apply_operation


def operate(operation: Operation, pattern: Pattern, values: Values) -> Outcome:
    """What `apply_operation` gives; points that it made on the base have mixtures of rules.

    Only an operation that may run before grading makes such points.
    """
    if not operation.before_grading:
        return apply_operation(operation, pattern, values)
    from ..grading import with_mixtures, with_rule_weights

    weighed = with_rule_weights(pattern)
    outcome = apply_operation(operation, weighed, values)
    # What the operation left alone is as it was.
    untouched = {id(one): was for one, was in zip(weighed.pieces, pattern.pieces, strict=True)}
    after = outcome.pattern.replacing(lambda piece: untouched.get(id(piece), piece))
    return outcome._replace(pattern=with_mixtures(after))
