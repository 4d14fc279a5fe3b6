"""Measurement error: what can be told from noise and what cannot."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.kinds import Better
from outcomes.core.quantities import EXACT
from outcomes.core.symmetry import ratio_index

Number = Decimal | Fraction

Z: Final = {90: Decimal("1.645"), 95: Decimal("1.96")}
"""Two-sided normal quantiles by confidence in per cent."""

ROOT_TWO: Final = Decimal(2).sqrt(EXACT)


def sem(*, sd: Decimal, icc: Decimal) -> Decimal:
    """Standard error of measurement, SD x sqrt(1 - ICC), in the unit of the SD.

    Raises ``ValueError`` for an ICC outside 0 to 1 or a negative SD.

    >>> round(sem(sd=Decimal("7.56"), icc=Decimal(".95")), 2)
    Decimal('1.69')
    """
    if not 0 <= icc <= 1 or sd < 0:
        raise ValueError("an ICC lies between 0 and 1 and an SD is not negative")
    return EXACT.multiply(sd, root(square=EXACT.subtract(1, icc)))


def mdc(*, sem: Decimal, confidence: int) -> Decimal:
    """Minimal detectable change, z x sqrt(2) x SEM. ``confidence`` is 90 or 95 per cent.

    Never compare an MDC90 with an MDC95. Raises ``KeyError`` for another confidence.

    >>> round(mdc(sem=Decimal("2.54"), confidence=95), 2)
    Decimal('7.04')
    """
    return EXACT.multiply(Z[confidence], EXACT.multiply(ROOT_TWO, sem))


def margin(*, sem: Decimal) -> Decimal:
    """How near to a threshold one value is borderline: 1.645 x SEM (our rule for one value).

    >>> margin(sem=Decimal(2))
    Decimal('3.290')
    """
    return EXACT.multiply(Z[90], sem)


def symmetry_error(
    *,
    involved: Number,
    other: Number,
    cv_involved: Decimal,
    cv_other: Decimal,
    better: Better = Better.HIGHER,
) -> Decimal | None:
    """SEM of a ratio index in percentage points, from each limb's coefficient of variation.

    First-order propagation: index x sqrt(CV1^2 + CV2^2), whichever way the index is formed. The
    CVs are fractions (0.05 is 5 %). None where there is no index. Raises ``ValueError`` for a
    negative CV.

    >>> cv = Decimal("0.05")
    >>> e = symmetry_error(involved=Decimal(142), other=Decimal(160), cv_involved=cv, cv_other=cv)
    >>> round(e, 3)
    Decimal('6.276')
    """
    if min(cv_involved, cv_other) < 0:
        raise ValueError("a coefficient of variation is not negative")
    index = ratio_index(involved=involved, other=other, better=better)
    if index is None:
        return None
    return root(square=index**2 * (Fraction(cv_involved) ** 2 + Fraction(cv_other) ** 2))


@dataclass(frozen=True, kw_only=True, slots=True)
class ReliableChange:
    """A change in units of the standard error of a difference, and whether it is reliable."""

    value: Decimal
    reliable: bool


def reliable_change(
    *, before: Number, after: Number, sd: Decimal, reliability: Decimal
) -> ReliableChange:
    """Reliable change index: change over sqrt(2) x SD x sqrt(1 - reliability), with its sign.

    Reliable above 1.96, judged on exact squares: 1.96 itself is not.
    Raises ``ValueError`` unless the SD is positive and the reliability from 0 to under 1. Source:
    Jacobson and Truax 1991, J Consult Clin Psychol 59:12-19.

    >>> found = reliable_change(
    ...     before=Decimal("32.5"), after=Decimal("47.5"), sd=Decimal("7.5"),
    ...     reliability=Decimal("0.80"),
    ... )
    >>> round(found.value, 2), found.reliable
    (Decimal('3.16'), True)
    """
    if sd <= 0 or not 0 <= reliability < 1:
        raise ValueError("an SD is above zero and a reliability from 0 to under 1")
    change = Fraction(after) - Fraction(before)
    squared = change**2 / (2 * Fraction(sd) ** 2 * (1 - Fraction(reliability)))
    size = root(square=squared)
    return ReliableChange(
        value=size.copy_negate() if change < 0 else size, reliable=squared > Fraction(Z[95]) ** 2
    )


def real_change(*, before: Number, after: Number, sem: Decimal | None) -> bool | None:
    """Whether a change is at least the MDC95. None where no SEM is known: then nobody can say.

    >>> real_change(before=Decimal(80), after=Decimal(88), sem=Decimal("2.54"))
    True
    """
    if sem is None:
        return None
    return abs(Fraction(after) - Fraction(before)) >= Fraction(mdc(sem=sem, confidence=95))


def root(*, square: Number) -> Decimal:
    """Square root to 60 digits; exact where the root is a short decimal.

    >>> root(square=Decimal("2.25"))
    Decimal('1.5')
    """
    exact = Fraction(square)
    return EXACT.divide(Decimal(exact.numerator), Decimal(exact.denominator)).sqrt(EXACT)
