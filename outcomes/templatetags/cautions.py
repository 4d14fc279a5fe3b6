"""What stands with every list of criteria: who decides, and what such lists cannot tell."""

from __future__ import annotations

from functools import cache

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from outcomes.core.wording import DECISION_OPEN
from outcomes.queries.honest import HONEST

register = template.Library()


@register.simple_tag
def decision_open() -> str:
    """The sentence that travels with every list of criteria.

    >>> decision_open()
    'Decision open: physiotherapist with surgeon and patient.'
    """
    return DECISION_OPEN


@register.simple_tag
@cache
def honest_limits() -> SafeString:
    """What lists of criteria cannot tell, folded; written once, as it never changes."""
    return render_to_string("outcomes/_honest.html", {"lines": [one.line for one in HONEST]})
