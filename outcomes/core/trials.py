"""Several trials of one test: the value that stands for them, and how far they lie apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from statistics import median

from outcomes.core.kinds import Better, Summary
from outcomes.core.quantities import EXACT, TypedError


@dataclass(frozen=True, kw_only=True, slots=True)
class Spread:
    """Trials of one session: how many, the lowest and highest, their mean and how they scatter.

    ``sd`` is the sample standard deviation (n - 1), None for one trial; ``cv`` is sd over mean as
    a fraction, None where there is no sd or the mean is not positive.
    """

    n: int
    lowest: Decimal
    highest: Decimal
    mean: Fraction
    sd: Decimal | None
    cv: Decimal | None


def summary_of(*, trials: Sequence[Decimal], summary: Summary, better: Better) -> Fraction:
    """The one value that stands for the trials, exact; their order changes nothing.

    ``best`` follows the better direction: the highest, the lowest, or else the nearest to zero
    (of two as near, the positive one). Raises ``TypedError`` without trials, and for more than one
    where the test takes one.

    >>> shots = [Decimal("142"), Decimal("139"), Decimal("145")]
    >>> summary_of(trials=shots, summary=Summary.MEAN, better=Better.HIGHER)
    Fraction(142, 1)
    """
    if not trials:
        raise TypedError(code="no_trials", message="Type at least one trial.")
    exact = [Fraction(trial) for trial in trials]
    match summary:
        case Summary.SINGLE:
            if len(exact) > 1:
                raise TypedError(code="one_trial", message="Type one value: this test takes one.")
            return exact[0]
        case Summary.BEST:
            return _best(trials=exact, better=better)
        case Summary.MEAN:
            return sum(exact, Fraction(0)) / len(exact)
        case Summary.MEDIAN:
            return median(exact)


def _best(*, trials: Sequence[Fraction], better: Better) -> Fraction:
    if better is Better.HIGHER:
        return max(trials)
    if better is Better.LOWER:
        return min(trials)
    return min(trials, key=lambda trial: (abs(trial), -trial))


def spread_of(*, trials: Sequence[Decimal]) -> Spread:
    """How far the trials of one session lie apart. Raises ``TypedError`` without trials.

    >>> spread = spread_of(trials=[Decimal(90), Decimal(100), Decimal(110)])
    >>> str(spread.sd), str(spread.cv)
    ('10', '0.1')
    """
    mean = summary_of(trials=trials, summary=Summary.MEAN, better=Better.NEITHER)
    n = len(trials)
    squares = sum(((Fraction(trial) - mean) ** 2 for trial in trials), Fraction(0))
    sd = _decimal(squares / (n - 1)).sqrt(EXACT) if n > 1 else None
    return Spread(
        n=n,
        lowest=min(trials),
        highest=max(trials),
        mean=mean,
        sd=sd,
        cv=EXACT.divide(sd, _decimal(mean)) if sd is not None and mean > 0 else None,
    )


def _decimal(exact: Fraction) -> Decimal:
    return EXACT.divide(Decimal(exact.numerator), Decimal(exact.denominator))
