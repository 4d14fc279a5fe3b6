"""A criterion's value relative to the body: for each kg, or per cent of weight, height or leg."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.evidence import Evidence
from outcomes.core.quantities import EXACT
from outcomes.core.relative import BODY, body_for, relative_value
from outcomes.core.values import Form, NotAssessable, Reading, Relative, Why

RELATIVE: Final[Mapping[Form, Relative]] = {
    Form.PER_BODY_MASS: Relative.BODY_MASS,
    Form.PER_BODY_WEIGHT: Relative.BODY_WEIGHT,
    Form.PER_HEIGHT: Relative.HEIGHT,
    Form.PER_LEG_LENGTH: Relative.LEG_LENGTH,
}
"""What each form is relative to."""


def body_of(*, form: Form, reading: Reading, evidence: Evidence) -> Reading | None:
    """The newest measurement of the body that a value is relative to; None for other forms."""
    relative = RELATIVE.get(form)
    if relative is None:
        return None
    if relative in (Relative.BODY_MASS, Relative.BODY_WEIGHT):
        return evidence.body_mass
    return body_for(
        relative=relative,
        reading=reading,
        catalogue=evidence.catalogue,
        readings=evidence.of(code=BODY[relative]),
        on=evidence.on,
    )


def normalised(*, form: Form, value: Decimal, body: Reading | None) -> Fraction | NotAssessable:
    """The value as the form asks for it: itself, or relative to the body."""
    relative = RELATIVE.get(form)
    if relative is None:
        return Fraction(value)
    if body is None or not body.value:
        mass = relative in (Relative.BODY_MASS, Relative.BODY_WEIGHT)
        return NotAssessable(why=Why.NO_BODY_MASS if mass else Why.NO_BODY_SIZE)
    return relative_value(relative=relative, value=value, body=body.value)


def margin_in_form(*, form: Form, edge: Decimal, body: Reading | None) -> Decimal:
    """The margin of error of a value in the unit of the form."""
    relative = RELATIVE.get(form)
    if relative is None or body is None or not body.value:
        return edge
    if relative is Relative.BODY_MASS:
        return edge / body.value
    found = relative_value(relative=relative, value=edge, body=body.value)
    return EXACT.divide(Decimal(found.numerator), Decimal(found.denominator))
