"""Measurement error: what can be told from noise and what cannot."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final

Z: Final = {90: Decimal("1.645"), 95: Decimal("1.96")}
"""Two-sided normal quantiles by confidence in per cent."""

ROOT_TWO: Final = Decimal(2).sqrt()


def sem(*, sd: Decimal, icc: Decimal) -> Decimal:
    """Standard error of measurement, SD x sqrt(1 - ICC), in the unit of the SD.

    Raises ``ValueError`` for an ICC outside 0 to 1 or a negative SD.

    >>> round(sem(sd=Decimal("7.56"), icc=Decimal(".95")), 2)
    Decimal('1.69')
    """
    if not 0 <= icc <= 1 or sd < 0:
        raise ValueError("an ICC lies between 0 and 1 and an SD is not negative")
    return sd * (1 - icc).sqrt()


def mdc(*, sem: Decimal, confidence: int) -> Decimal:
    """Minimal detectable change, z x sqrt(2) x SEM. ``confidence`` is 90 or 95 per cent.

    Never compare an MDC90 with an MDC95. Raises ``KeyError`` for another confidence.

    >>> round(mdc(sem=Decimal("2.54"), confidence=95), 2)
    Decimal('7.04')
    """
    return Z[confidence] * ROOT_TWO * sem


def margin(*, sem: Decimal) -> Decimal:
    """How near to a threshold one value is borderline: 1.645 x SEM (our rule for one value).

    >>> margin(sem=Decimal(2))
    Decimal('3.290')
    """
    return Z[90] * sem


def symmetry_error(
    *, involved: Decimal, other: Decimal, cv_involved: Decimal, cv_other: Decimal
) -> Decimal:
    """SEM of a ratio index in percentage points, from each limb's coefficient of variation.

    First-order propagation: index x sqrt(CV1^2 + CV2^2). The CVs are fractions (0.05 is 5 %).

    >>> cv = Decimal("0.05")
    >>> e = symmetry_error(involved=Decimal(142), other=Decimal(160), cv_involved=cv, cv_other=cv)
    >>> round(e, 3)
    Decimal('6.276')
    """
    index = involved / other * 100
    return index * (cv_involved**2 + cv_other**2).sqrt()


def real_change(
    *, before: Decimal | Fraction, after: Decimal | Fraction, sem: Decimal | None
) -> bool | None:
    """Whether a change is at least the MDC95. None where no SEM is known: then nobody can say.

    >>> real_change(before=Decimal(80), after=Decimal(88), sem=Decimal("2.54"))
    True
    """
    if sem is None:
        return None
    return abs(Fraction(after) - Fraction(before)) >= Fraction(mdc(sem=sem, confidence=95))
