"""Height of a jump from the time in the air."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from outcomes.core.quantities import STANDARD_GRAVITY


def jump_height(*, flight_time: Decimal) -> Fraction:
    """Height in cm from the flight time in s, g t^2 / 8, exact.

    It holds where take-off and landing are in the same posture: landing with bent knees flatters.
    Source: free fall under standard gravity; the use for jumps is Bosco 1983, from memory.

    >>> jump_height(flight_time=Decimal("0.4"))
    Fraction(196133, 10000)
    """
    return Fraction(STANDARD_GRAVITY) * Fraction(flight_time) ** 2 / 8 * 100
