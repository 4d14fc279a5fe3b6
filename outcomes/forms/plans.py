"""The answer to a proposal, or a level set by hand: one form for each progression."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.http import QueryDict

from clinic.forms.base import ActForm
from outcomes.core.progressions import Progression
from outcomes.models.plans import ANSWERS, REASONS
from outcomes.queries.plan import NOTHING_NOW, progressions

DECLINED: Final = "declined"
BUTTONS: Final = (
    *(code for code, _ in ANSWERS if code != DECLINED),
    *(f"{DECLINED}:{code}" for code, _ in REASONS),
)
FIELDS: Final = (
    "progression", "answer", "reason", "plan", "level", "sets", "count", "load_kg", "at",
    "days_a_week", "note",
)  # fmt: skip


def _number(label: str, *, least: int = 1, most: int, hint: str = "") -> forms.IntegerField:
    widget = forms.NumberInput(attrs={"inputmode": "numeric"})
    return forms.IntegerField(
        label=label, required=False, min_value=least, max_value=most, widget=widget,
        help_text=hint,
    )  # fmt: skip


def _decimal(label: str, *, most: int, hint: str) -> forms.DecimalField:
    widget = forms.TextInput(attrs={"inputmode": "decimal"})
    return forms.DecimalField(
        label=label, required=False, min_value=0, max_value=most, decimal_places=1,
        widget=widget, help_text=hint,
    )  # fmt: skip


class PlanForm(ActForm):
    """``answer`` is the button that was touched; a blank dose takes that of the progression.

    ``seen`` is the mark of the proposal that the page showed, ``plan`` the step that stood.
    """

    decline_reasons = REASONS
    progression = forms.SlugField(max_length=60, widget=forms.HiddenInput)
    seen = forms.CharField(max_length=64, required=False, widget=forms.HiddenInput)
    plan = forms.IntegerField(min_value=0, widget=forms.HiddenInput)
    answer = forms.ChoiceField(
        choices=[(code, code) for code in BUTTONS],
        error_messages={"required": "Touch one of the answers."},
    )
    level = forms.ChoiceField(label="Level", required=False, choices=[])
    sets = _number("Sets", most=20)
    count = _number("Repetitions, or seconds of a hold", most=600)
    load_kg = _decimal("Load in kg", most=200, hint="In steps of 0.5.")
    at = _decimal("Height in cm, or per cent", most=400, hint="For a level that has steps.")
    days_a_week = _number("Days a week", most=7)
    note = forms.CharField(label="Note", max_length=300, required=False)

    def __init__(
        self, data: QueryDict | None = None, *, progression: str = "", **more: Any
    ) -> None:
        super().__init__(data, **more)
        found = progressions()
        code = data.get("progression", "") if data is not None else progression
        level = self.fields["level"]
        if isinstance(level, forms.ChoiceField):
            level.choices = _levels(found.get(code))

    def clean(self) -> dict[str, Any]:
        """The reason that a decline's button carries, taken apart from the answer."""
        chosen: dict[str, Any] = super().clean() or {}
        answer, _, reason = chosen.get("answer", "").partition(":")
        return {**chosen, "answer": answer, "reason": reason}


def _levels(progression: Progression | None) -> list[tuple[str, str]]:
    """The levels in their order, and none of them."""
    levels = progression.levels if progression else ()
    return [("", NOTHING_NOW), *((one.code, one.label) for one in levels)]
