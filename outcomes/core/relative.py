"""A value relative to the body: by mass, weight, height or leg length, with the newest of those."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.quantities import STANDARD_GRAVITY
from outcomes.core.reach import reach_percent
from outcomes.core.readings import conditions_of
from outcomes.core.strength import per_body_mass
from outcomes.core.values import Limb, Measure, Reading, ReadingStatus, Relative

BODY: Final[Mapping[Relative, str]] = {
    Relative.BODY_MASS: "body_mass",
    Relative.BODY_WEIGHT: "body_mass",
    Relative.HEIGHT: "height",
    Relative.LEG_LENGTH: "leg_length",
}
"""The measure of the body that each is relative to."""

SIGN: Final[Mapping[Relative, str]] = {
    Relative.BODY_MASS: "N·m/kg",
    Relative.BODY_WEIGHT: "% of body weight",
    Relative.HEIGHT: "% of height",
    Relative.LEG_LENGTH: "% of leg length",
}
"""How the unit is written after the number."""

DECIMALS: Final[Mapping[Relative, int]] = {
    Relative.BODY_MASS: 2,
    Relative.BODY_WEIGHT: 1,
    Relative.HEIGHT: 0,
    Relative.LEG_LENGTH: 1,
}


def relative_value(*, relative: Relative, value: Decimal, body: Decimal) -> Fraction:
    """The value relative to the body, exact: N.m/kg, or per cent.

    ``body`` is the mass in kg, or the height or leg length in cm. A force in N is taken as per
    cent of the mass times standard gravity (9.80665 m/s2). Raises ``TypedError`` unless ``body``
    is above zero.

    >>> round(
    ...     relative_value(relative=Relative.BODY_WEIGHT, value=Decimal(182), body=Decimal(62)), 2
    ... )
    Fraction(2993, 100)
    """
    if relative is Relative.BODY_MASS:
        return per_body_mass(value=value, body_mass=body)
    if relative is Relative.BODY_WEIGHT:
        each = per_body_mass(value=value, body_mass=body)
        return each / Fraction(STANDARD_GRAVITY) * 100
    return reach_percent(reach=value, leg_length=body)


def body_for(
    *,
    relative: Relative,
    reading: Reading,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    on: date,
) -> Reading | None:
    """The newest measurement of the body for a reading that is not out of date, or None.

    Up to the day ``on``. A leg length is that of the limb, or of the limb that the test's
    condition ``leg_length_used`` names for both.
    """
    code = BODY[relative]
    measure = catalogue.get(code)
    if measure is None:
        return None
    age = measure.maximum_age_days
    oldest = date.min if age is None else on - timedelta(days=age)
    limb = carried_limb(code=code, limb=reading.limb, key=reading.key)
    limb = limb if measure.per_limb else Limb.NONE
    found = [
        one
        for one in readings
        if (one.measure, one.limb, one.status) == (code, limb, ReadingStatus.MEASURED)
        and one.value
        and oldest <= one.on <= on
    ]
    return max(found, key=lambda one: (one.on, one.ref), default=None)


def carried_limb(*, code: str, limb: Limb, key: str) -> Limb:
    """Whose value of the body counts under a comparison key: the limb's own, or one for both.

    >>> carried_limb(code="leg_length", limb=Limb.LEFT, key="leg_length_used=right")
    <Limb.RIGHT: 'right'>
    """
    used = conditions_of(key=key).get(f"{code}_used", "own")
    return Limb(used) if used in (Limb.LEFT, Limb.RIGHT) else limb
