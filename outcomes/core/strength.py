"""Torque, strength by body mass and by body weight, hamstrings against quadriceps."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from outcomes.core.quantities import STANDARD_GRAVITY, TypedError

Number = Decimal | Fraction


def torque(*, force: Number, lever_arm: Number) -> Fraction:
    """Torque in N.m from a force in N and a lever arm in m (knee joint line to pad centre), exact.

    The definition of torque. Symmetry is judged on torque, not on force: if the pad moves, a
    ratio of forces is wrong. Raises ``TypedError`` unless both are positive.

    >>> torque(force=Decimal(420), lever_arm=Decimal("0.34"))
    Fraction(714, 5)
    """
    if force <= 0 or lever_arm <= 0:
        raise TypedError(
            code="not_positive", message="Type a force and a lever arm that are both above zero."
        )
    return Fraction(force) * Fraction(lever_arm)


def per_body_mass(*, value: Number, body_mass: Number) -> Fraction:
    """A value for each kg of body mass, exact (N.m and kg give N.m/kg).

    Raises ``TypedError`` unless the body mass is positive.

    >>> per_body_mass(value=Decimal("142.8"), body_mass=Decimal(70))
    Fraction(51, 25)
    """
    if body_mass <= 0:
        raise TypedError(code="not_positive", message="Type a body mass above zero.")
    return Fraction(value) / Fraction(body_mass)


def percent_body_weight(*, force: Number, body_mass: Number) -> Fraction:
    """A force in N as per cent of body weight, the mass in kg times standard gravity, exact.

    It cannot be exchanged for N.m/kg: it falls as the lever gets longer. Raises ``TypedError``
    unless the body mass is positive. Source: definition of the kilogram-force, 9.80665 N.

    >>> percent_body_weight(force=Decimal("196.133"), body_mass=Decimal(80))
    Fraction(25, 1)
    """
    weight = Fraction(STANDARD_GRAVITY)
    return per_body_mass(value=Fraction(force) * 100 / weight, body_mass=body_mass)


def hamstring_quadriceps_ratio(*, hamstrings: Number, quadriceps: Number) -> Fraction | None:
    """Knee flexor over extensor torque of one limb at one speed and mode, as a ratio, exact.

    It rises when the quadriceps are weak: read it beside their symmetry. None where the
    quadriceps gave zero. Source: definition as used by Gokeler 2017, PMC5315711.

    >>> hamstring_quadriceps_ratio(hamstrings=Decimal(96), quadriceps=Decimal(160))
    Fraction(3, 5)
    """
    return Fraction(hamstrings) / Fraction(quadriceps) if quadriceps else None
