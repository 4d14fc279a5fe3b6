"""Torque and strength by body mass."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from outcomes.core.quantities import TypedError, canonical


def torque(*, force: Decimal, lever_arm: Decimal) -> Decimal:
    """Torque in N.m from a force in N and a lever arm in m (knee joint line to pad centre).

    The definition of torque. Symmetry is judged on torque, not on force: if the pad moves, a
    ratio of forces is wrong. Raises ``TypedError`` unless both are positive.

    >>> torque(force=Decimal(420), lever_arm=Decimal("0.34"))
    Decimal('142.800000')
    """
    if force <= 0 or lever_arm <= 0:
        raise TypedError(
            code="not_positive", message="Type a force and a lever arm that are both above zero."
        )
    return canonical(value=force * lever_arm)


def per_body_mass(*, value: Decimal, body_mass: Decimal) -> Fraction:
    """A value for each kg of body mass, exact (N.m and kg give N.m/kg).

    Raises ``TypedError`` unless the body mass is positive.

    >>> per_body_mass(value=Decimal("142.8"), body_mass=Decimal(70))
    Fraction(51, 25)
    """
    if body_mass <= 0:
        raise TypedError(code="not_positive", message="Type a body mass above zero.")
    return Fraction(value) / Fraction(body_mass)
