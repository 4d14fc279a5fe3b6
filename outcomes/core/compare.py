"""A value against a threshold: exact, by cross-multiplication, never by binary floats."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from outcomes.core.values import Operator, Result


def holds(*, value: Fraction, operator: Operator, threshold: Decimal) -> bool:
    """Whether the exact value meets the threshold. ``>`` and ``>=`` are different rules.

    >>> holds(value=Fraction(189, 210) * 100, operator=Operator.AT_LEAST, threshold=Decimal(90))
    True
    """
    cut = Fraction(threshold)
    match operator:
        case Operator.GREATER:
            return value > cut
        case Operator.AT_LEAST:
            return value >= cut
        case Operator.LESS:
            return value < cut
        case Operator.AT_MOST:
            return value <= cut


def judge_value(
    *, value: Fraction, operator: Operator, threshold: Decimal, margin: Decimal | None
) -> Result:
    """Met or not met, and borderline within the margin (1.645 x SEM) of the threshold.

    ``margin`` is in the unit of the value; None, where no error is published, gives no borderline.
    """
    met = holds(value=value, operator=operator, threshold=threshold)
    near = margin is not None and abs(value - Fraction(threshold)) <= Fraction(margin)
    if met:
        return Result.MET_BORDERLINE if near else Result.MET
    return Result.NOT_MET_BORDERLINE if near else Result.NOT_MET
