"""The way from a row of the ledger to the angle from a picture."""

from __future__ import annotations

from django import template

from clinic.models.care import Visit
from outcomes.core.grades import is_pelvic_drop
from outcomes.core.values import Limb, Measure

register = template.Library()


@register.filter
def has_picture(measure: Measure, visit: Visit) -> bool:
    """Whether the visit's site reads the grade of this measure off pictures too."""
    return visit.site.pictures and is_pelvic_drop(measure=measure)


@register.filter
def opposite(limb: Limb) -> str:
    """The other limb's word.

    >>> opposite(Limb.LEFT)
    'right'
    """
    return limb.opposite.value
