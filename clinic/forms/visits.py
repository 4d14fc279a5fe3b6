"""Booking, opening and marking visits."""

from __future__ import annotations

from django import forms

from clinic.forms.base import ActForm, DayField, SomeoneField


class BookForm(ActForm):
    """A visit that lies ahead, or today."""

    date = DayField(label="Date")
    time = forms.TimeField(
        label="Time",
        required=False,
        input_formats=["%H:%M", "%H:%M:%S"],
        error_messages={"invalid": "Type the time as 14:30."},
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
    )
    clinician_id = SomeoneField(label="With", nobody="anybody")


class OpenForm(ActForm):
    """A visit that is opened on a day: today, or a day that was not entered yet."""

    date = DayField(label="Date of the visit")


class MarkForm(ActForm):
    """What became of a booked visit."""

    seen = forms.IntegerField(min_value=1)
    state = forms.ChoiceField(
        choices=[(code, code) for code in ("arrived", "missed", "cancelled", "booked")]
    )


class DayForm(forms.Form):
    """Which day's list is shown."""

    on = DayField(label="Day", required=False)
