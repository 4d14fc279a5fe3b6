"""What every form of an act has: its key, and a place for what the record refuses."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict

from clinic import words

Choices = Iterable[tuple[str, str]]
People = Iterable[tuple[int, str]]


class ActForm(forms.Form):
    """A form that is posted with a key, so that sending it twice has one effect."""

    key = forms.UUIDField(widget=forms.HiddenInput)

    def refuse(self, errors: Mapping[str, str]) -> None:
        """Put the sentences of a refusal beside their fields, or at the top."""
        for field, sentence in errors.items():
            known = next((f for f in (field, f"operation_{field}") if f in self.fields), None)
            self.add_error(known, sentence)

    def typed(self, names: Iterable[str]) -> dict[str, Any]:
        """The cleaned values of some fields."""
        return {name: self.cleaned_data[name] for name in names}


class EditForm(ActForm):
    """A form for a row that exists; ``seen`` is the version it was made from.

    The form's initial values are what is on record now.
    """

    seen = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    conflict = False

    def meet(self, what_happened: str) -> None:
        """Somebody changed the row meanwhile: keep what was typed, take up the new version."""
        self.conflict = True
        self.add_error(None, f"Changed by someone else meanwhile. {what_happened}")
        assert isinstance(self.data, QueryDict)  # noqa: S101  the posted form
        again = self.data.copy()
        again["seen"] = str(self.initial["seen"])
        self.data = again

    def on_record_now(self) -> list[tuple[str, str]]:
        """Label and value on record of each field that was typed otherwise."""
        return [
            (str(self.fields[name].label), self._shown(name))
            for name in self.changed_data
            if name not in ("key", "seen")
        ]

    def _shown(self, name: str) -> str:
        value = self.initial.get(name)
        if isinstance(value, date):
            return words.day(value)
        choices = {str(code): str(word) for code, word in getattr(self.fields[name], "choices", ())}
        values = value if isinstance(value, list | tuple) else [value]
        return ", ".join(choices.get(str(v), str(v)) for v in values if v not in (None, "")) or "–"


class DayField(forms.DateField):
    """A calendar date. Browsers send it as 2026-03-14 whatever they show.

    ``needed``: not called optional on the page, although another field may stand in for it.
    """

    def __init__(self, *, needed: bool = False, **kwargs: Any) -> None:
        self.needed = needed
        super().__init__(
            widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
            input_formats=["%Y-%m-%d", "%d %b %Y"],
            error_messages={"invalid": "Type the date as 2026-03-14."},
            **kwargs,
        )


class OneOf(forms.ChoiceField):
    """A choice shown as a row of buttons; an optional one starts with a button for no answer."""

    def __init__(self, *, choices: Choices, none: str = "", **kwargs: Any) -> None:
        first = [("", none)] if none else []
        super().__init__(
            choices=[*first, *choices], widget=forms.RadioSelect, required=not none, **kwargs
        )


class SomeoneField(forms.TypedChoiceField):
    """A person of a list by id, or nobody. The list is given when the form is made."""

    def __init__(self, *, nobody: str, needed: bool = False, **kwargs: Any) -> None:
        super().__init__(coerce=int, empty_value=None, required=needed, **kwargs)
        self.nobody = nobody


def offer(form: forms.BaseForm, name: str, people: People) -> None:
    """Give a field of a form the people to choose from."""
    field = form.fields[name]
    assert isinstance(field, SomeoneField)  # noqa: S101  said where the form is declared
    field.choices = [("", field.nobody), *((str(pk), word) for pk, word in people)]
