"""Reach in balance on one leg, by leg length. The limb stood on is the limb that is tested."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from outcomes.core.quantities import TypedError


def reach_percent(*, reach: Decimal, leg_length: Decimal) -> Fraction:
    """A reach as per cent of leg length, exact; both in one unit of length.

    Leg length runs from the front of the pelvis to the inner ankle. Raises ``TypedError`` unless
    it is positive. Source: normalisation as in Plisky 2006, known second hand.

    >>> reach_percent(reach=Decimal(66), leg_length=Decimal(88))
    Fraction(75, 1)
    """
    if leg_length <= 0:
        raise TypedError(code="not_positive", message="Type a leg length above zero.")
    return Fraction(reach) / Fraction(leg_length) * 100


def reach_composite(
    *, anterior: Decimal, posteromedial: Decimal, posterolateral: Decimal, leg_length: Decimal
) -> Fraction:
    """The three reaches together: their sum as per cent of three leg lengths, exact.

    Raises ``TypedError`` unless the leg length is positive. Source: Plisky 2006, known second hand.

    >>> reach_composite(
    ...     anterior=Decimal(60), posteromedial=Decimal(90), posterolateral=Decimal(90),
    ...     leg_length=Decimal(80),
    ... )
    Fraction(100, 1)
    """
    reaches = (anterior, posteromedial, posterolateral)
    parts = [reach_percent(reach=reach, leg_length=leg_length) for reach in reaches]
    return sum(parts, Fraction(0)) / 3
