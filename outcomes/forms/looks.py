"""The answer to a reason to look: seen, a plan, and when to look again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django import forms
from django.http import QueryDict

from clinic import words
from clinic.forms.base import ActForm, DayField, OneOf
from outcomes.queries.look_words import Look
from outcomes.queries.looks import LONGEST

WEEKS: Final = (1, 2, 4)
ANOTHER_DAY: Final = "on"


class LookForm(ActForm):
    """One answer. ``cleaned_data["look_again_on"]`` comes from offered weeks or from a date."""

    code = forms.CharField(max_length=60, widget=forms.HiddenInput)
    size = forms.DecimalField(max_digits=15, decimal_places=6, widget=forms.HiddenInput)
    plan = forms.CharField(
        label="Plan",
        max_length=300,
        error_messages={"required": "Write in a few words what is planned."},
    )
    again = OneOf(
        label="Look again", choices=[], error_messages={"required": "Choose when to look again."}
    )
    on = DayField(label="Which day", required=False)

    def __init__(
        self, data: QueryDict | None = None, *, today: date, look_id: str = "look"
    ) -> None:
        super().__init__(data, auto_id=f"{look_id}-%s")
        self.today = today
        weeks = [(str(n), _in_weeks(n, today)) for n in WEEKS]
        again = self.fields["again"]
        if isinstance(again, forms.ChoiceField):
            again.choices = [*weeks, (ANOTHER_DAY, "another day")]

    def clean(self) -> dict[str, Any]:
        """Turn the choice into ``look_again_on``; a day lies ahead and within 26 weeks."""
        chosen: dict[str, Any] = super().clean() or {}
        again, day = chosen.get("again"), chosen.get("on")
        first, last = self.today + timedelta(days=1), self.today + LONGEST
        if again and again != ANOTHER_DAY:
            day = self.today + timedelta(weeks=int(again))
        elif again and "on" not in self.errors and not (day and first <= day <= last):
            self.add_error("on", f"Give a day from {words.day(first)} to {words.day(last)}.")
        chosen["look_again_on"] = day
        return chosen


def _in_weeks(number: int, today: date) -> str:
    day = words.short_day(today + timedelta(weeks=number), today=today)
    return f"in {words.several(number, 'week')}, {day}"


@dataclass(frozen=True, kw_only=True, slots=True)
class LookPart:
    """A reason in words with the form that answers it."""

    look: Look
    form: LookForm


def look_parts(
    *, looks: Iterable[Look], today: date, bound: LookForm | None = None
) -> list[LookPart]:
    """What ``outcomes/_looks.html`` prints; ``bound`` is a form that was not accepted."""
    code = bound.data.get("code") if bound else None
    return [
        LookPart(
            look=look,
            form=bound if bound and look.code == code else LookForm(today=today, look_id=look.id),
        )
        for look in looks
    ]
