"""How a form's field is drawn: label, hint, error, unit and last value, tied together by id."""

from typing import Any

from django import template
from django.forms import BoundField, CheckboxInput

register = template.Library()


@register.filter
def spaced(code: str) -> str:
    """A code as words: ``front_desk`` is "front desk"."""
    return str(code).replace("_", " ")


@register.inclusion_tag("_field.html")
def field(
    bound: BoundField, *, unit: str = "", last: str = "", look: str = "", hide_label: bool = False
) -> dict[str, Any]:
    """Draw one field of a form.

    unit: stands beside a large number. last: last value and date, under the field, never in it.
    look: ``drawn`` for choices with pictures, or any class of the page. hide_label: the row
    already names the field; the label stays for screen readers.
    """
    ids = [
        f"{bound.auto_id}_{part}"
        for part, there in (
            ("helptext", bound.help_text), ("error", bound.errors), ("unit", unit), ("last", last),
        )
        if there
    ]  # fmt: skip
    described_by = " ".join(ids)
    fieldset = bound.use_fieldset
    attributes: dict[str, str | bool] = (
        {"aria-describedby": described_by} if described_by and not fieldset else {}
    )
    return {
        "field": bound,
        "widget": bound.as_widget(attrs=attributes),
        "described_by": described_by,
        "fieldset": fieldset,
        "tick": isinstance(bound.field.widget, CheckboxInput),
        "unit": unit,
        "last": last,
        "look": look,
        "hide_label": hide_label,
    }
