"""Bands of a number as a grade, decided on the unrounded value."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

PELVIS_BANDS = ((Decimal(2), "level"), (Decimal(5), "slight"))
PELVIS_MODERATE = Decimal(10)


def extension_grade(*, short: Decimal | Fraction) -> str:
    """Grade A to D of a lack of extension in degrees against the other knee.

    Published for whole degrees: A under 3, B 3 to 5, C 6 to 10, D over 10 (knee examination form
    of the IKDC, 2000). Between them the unrounded value decides: B runs to under 6.

    >>> [extension_grade(short=Decimal(d)) for d in ("2.9", "3", "5.5", "10", "10.1")]
    ['A', 'B', 'B', 'C', 'D']
    """
    if short < 3:
        return "A"
    if short < 6:
        return "B"
    return "C" if short <= 10 else "D"


def pelvis_grade(*, degrees: Decimal | Fraction) -> str:
    """Grade word of a pelvic drop from an angle; a free side held higher is level.

    Our own bands, not validated: level under 2, slight 2 to under 5, moderate 5 to 10, marked over
    10 degrees.

    >>> [pelvis_grade(degrees=Decimal(d)) for d in ("-3", "2", "5", "10", "10.1")]
    ['level', 'slight', 'moderate', 'moderate', 'marked']
    """
    for below, word in PELVIS_BANDS:
        if degrees < below:
            return word
    return "moderate" if degrees <= PELVIS_MODERATE else "marked"
