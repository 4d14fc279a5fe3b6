"""A period of days for counts: from and to, the last twelve weeks where nothing is asked."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any, Final

from django import forms

from clinic import words
from clinic.forms.base import DayField

USUAL: Final = timedelta(weeks=12)
"""How far back counts go where nobody asks otherwise (setting of this house)."""


class PeriodForm(forms.Form):
    """Two days, both included. What is left out is filled in: today, and twelve weeks before."""

    def __init__(self, data: Mapping[str, Any], *, today: date) -> None:
        until = data.get("to") or today.isoformat()
        super().__init__({"from": data.get("from") or _before(until, today), "to": until})
        self.fields["from"] = DayField(label="From")
        self.fields["to"] = DayField(label="To")

    def clean(self) -> dict[str, Any]:
        """The first day is not after the last."""
        cleaned = super().clean() or {}
        since, until = cleaned.get("from"), cleaned.get("to")
        if since and until and until < since:
            self.add_error("to", "The last day lies before the first.")
        return cleaned

    @property
    def period(self) -> tuple[date, date]:
        """First and last day, once they are valid."""
        return self.cleaned_data["from"], self.cleaned_data["to"]

    @property
    def words(self) -> str:
        """The period as it is said: "2 Sep 2026 to 25 Nov 2026"."""
        since, until = self.period
        return f"{words.day(since)} to {words.day(until)}"


def _before(until: str, today: date) -> str:
    """Twelve weeks before the last day; before today where that is no day."""
    try:
        last = date.fromisoformat(until)
    except ValueError:
        last = today
    return (max(last, date.min + USUAL) - USUAL).isoformat()
