"""Bands of a number as a grade, decided unrounded, and a grade with how it was kept."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.values import Measure, Reading

PELVIS_BANDS = ((Decimal(2), "level"), (Decimal(5), "slight"))
PELVIS_MODERATE = Decimal(10)
PELVIS: Final = ("level", "slight", "moderate", "marked")
KEPT: Final = {
    "trunk_leans": "by leaning",
    "hand_used": "with a hand",
    "free_side_hitched": "by hitching the free side",
}
"""How a grade was kept good by a trick, in short."""


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


def is_pelvic_drop(*, measure: Measure) -> bool:
    """Whether it grades what the pelvis does over the standing leg."""
    return measure.standing and measure.grades == PELVIS


def grade_from_picture(*, degrees: float, error: float) -> str | None:
    """The pelvis grade of an angle from a picture, or None where its error spans two grades.

    ``error`` is one standard error in degrees; both ends of the angle minus and plus it must have
    one grade. Then a grade is proposed, never entered (setting of this house).

    >>> grade_from_picture(degrees=7.5, error=1.7), grade_from_picture(degrees=4.0, error=1.7)
    ('moderate', None)
    """
    ends = (Fraction(degrees) - Fraction(error), Fraction(degrees) + Fraction(error))
    words = {pelvis_grade(degrees=end) for end in ends}
    return words.pop() if len(words) == 1 else None


def seen_grade(*, measure: Measure, reading: Reading) -> str:
    """The grade word, with the trick that kept it so: "level, by leaning" is not "level".

    Raises ``AssertionError`` for a reading without a value.
    """
    if reading.value is None:
        raise AssertionError("a grade without a value was let through")
    trick = kept_by(measure=measure, reading=reading)
    word = measure.word(value=reading.value)
    return f"{word}, {trick}" if trick else word


def kept_by(*, measure: Measure, reading: Reading) -> str:
    """The trick that a grade was kept good by, in short; empty when there was none."""
    for detail in measure.details:
        code = reading.details.get(detail.code, "")
        if code in detail.spoils:
            label = next((one.label for one in detail.choices if one.code == code), code)
            return KEPT.get(code, label)
    return ""
