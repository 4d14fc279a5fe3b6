"""The form of a measure of the clinic's own, its preview as a row, and the switch."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property
from typing import Any, Final

from django import forms
from django.http import QueryDict

from clinic.forms.base import ActForm, EditForm, OneOf
from outcomes.catalogue.fields import CODE, SeedError
from outcomes.catalogue.measures import measure_from
from outcomes.core.measures import OWN
from outcomes.core.quantities import SIGNS, UNITS, TypedError, parse_number
from outcomes.core.values import Measure
from outcomes.forms.own_mapping import CONDITIONS, code_for, lines_of, mapping_of
from outcomes.queries.catalogue import OFF, ON, RETIRED
from outcomes.queries.measure_list import BETTER

STATES: Final = tuple((state, state) for state in (ON, OFF, RETIRED))
WORDS: Final = {"{score}": "points", "1": "ratio, without a unit", "s": "s (seconds)"}
UNIT_CHOICES: Final = (
    ("", "choose a unit"),
    *((code, WORDS.get(code) or SIGNS.get(code) or code) for code in UNITS),
)
LIMITS: Final = ("lowest", "highest", "usual_low", "usual_high")
MOST_WORDS: Final = 12
LONGEST_WORD: Final = 40


class ExactField(forms.CharField):
    """A number as it is typed, kept exact; both decimal marks are read."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__(max_length=20, required=False, widget=widget, **kwargs)

    def clean(self, value: Any) -> Any:
        """The exact number, or None where nothing is typed."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse_number(text=text)
        except TypedError as error:
            raise forms.ValidationError(error.message) from error


def _long(label: str) -> forms.CharField:
    return forms.CharField(
        label=label, max_length=600, widget=forms.Textarea(attrs={"rows": 3, "maxlength": 600})
    )


def _words(label: str, help_text: str) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": 3})
    return forms.CharField(
        label=label, max_length=600, required=False, help_text=help_text, widget=widget
    )


class _MeasureFields(forms.Form):
    """What a measure is: its names, how it is entered, its limits, and how to do and read it."""

    label = forms.CharField(label="Name in full", max_length=80)
    short_label = forms.CharField(
        label="Short name", max_length=30, help_text="It heads the row of a visit."
    )
    kind = OneOf(
        label="What is entered",
        choices=[("number", "a number"), ("yes_no", "yes or no"), ("grades", "a grade")],
    )
    unit = forms.ChoiceField(
        label="Unit", choices=UNIT_CHOICES, required=False, help_text="For a number."
    )
    grades = _words("Words of the grades", "For a grade: one a line, from none to the most.")
    per_limb = OneOf(
        label="Entered for", choices=[("yes", "each limb"), ("no", "the whole person")]
    )
    better = forms.ChoiceField(label="Which way is better", choices=list(BETTER.items()))
    symmetry = OneOf(
        label="How the limbs are compared",
        choices=[("index", "index in %"), ("difference", "difference"), ("none", "not at all")],
    )
    lowest = ExactField(label="Lowest possible value", help_text="For a number. Below it: refused.")
    highest = ExactField(
        label="Highest possible value", help_text="For a number. Above it: refused."
    )
    usual_low = ExactField(
        label="Lowest usual value", help_text="Below it a reason is asked for. Blank: never."
    )
    usual_high = ExactField(
        label="Highest usual value", help_text="Above it a reason is asked for. Blank: never."
    )
    decimals = forms.IntegerField(
        label="Digits after the decimal mark", min_value=0, max_value=3, initial=0
    )
    trials = forms.IntegerField(label="Trials", min_value=1, max_value=6, initial=1)
    summary = OneOf(
        label="Value that counts",
        choices=[
            ("single", "the one trial"), ("best", "best"), ("mean", "mean"), ("median", "median"),
        ],
        initial="single",
    )  # fmt: skip
    when_to_use = _long("When to use it")
    how_to_do = _long("How to do it")
    how_to_read = _long("How to read it")

    measure: Measure | None = None

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number in range(1, CONDITIONS + 1):
            self.fields |= _condition_fields(number)

    @property
    def condition_groups(self) -> list[tuple[int, list[forms.BoundField]]]:
        """The fields of each condition."""
        parts = ("label", "choices", "unit")
        return [
            (number, [self[f"condition_{number}_{part}"] for part in parts])
            for number in range(1, CONDITIONS + 1)
        ]

    @property
    def version(self) -> int:
        """The version that is being made."""
        return 1

    def clean(self) -> dict[str, Any]:
        """Check what belongs together; at last the one strict reader of the catalogue."""
        data = super().clean() or {}
        for name, value in data.items():
            if isinstance(value, str):
                data[name] = value.replace("\r\n", "\n")
        for name, sentence in (_number_errors(data) | _other_errors(data)).items():
            if name in self.fields and name not in self.errors:
                self.add_error(name, sentence)
        for name, sentence in _conditions_errors(data).items():
            self.add_error(name, sentence)
        if not self.errors:
            self._read(data)
        return data

    def _read(self, data: dict[str, Any]) -> None:
        try:
            self.measure = measure_from(mapping_of(typed=data, version=self.version), where="")
        except SeedError as error:
            self.add_error(None, f"This measure contradicts itself: {str(error).strip(': ')}.")

    @property
    def mapping(self) -> dict[str, Any]:
        """What is kept of a form without errors."""
        return mapping_of(typed=self.cleaned_data, version=self.version)

    @cached_property
    def asks_for_preview(self) -> bool:
        """Whether the row is to be shown, and nothing kept."""
        return "preview" in self.data


def _condition_fields(number: int) -> dict[str, forms.Field]:
    return {
        f"condition_{number}_label": forms.CharField(
            label=f"Condition {number}", max_length=30, required=False
        ),
        f"condition_{number}_choices": _words(
            f"Choices of condition {number}", "One a line; or leave it blank and choose a unit."
        ),
        f"condition_{number}_unit": forms.ChoiceField(
            label=f"Unit of condition {number}", choices=UNIT_CHOICES, required=False
        ),
    }


def _number_errors(data: Mapping[str, Any]) -> dict[str, str]:
    if data.get("kind") != "number":
        return {}
    found: dict[str, str] = {}
    if not data.get("unit"):
        found["unit"] = "Choose the unit of the number."
    low, high, usual_low, usual_high = (data.get(name) for name in LIMITS)
    found |= {
        name: "Type a number."
        for name, value in (("lowest", low), ("highest", high))
        if value is None
    }
    if low is not None and high is not None:
        found |= _limit_errors(low, high, usual_low, usual_high)
    if str(data.get("unit")).startswith("{") and data.get("decimals"):
        found["decimals"] = "What is counted or given in points is a whole number: type 0."
    if (data.get("trials") == 1) != (data.get("summary") == "single"):
        found["summary"] = "One trial goes with “the one trial”, several with best, mean or median."
    if data.get("summary") == "best" and data.get("better") in ("match_other", "neither"):
        found["summary"] = "There is no best one where neither way is better: take mean or median."
    return found


def _limit_errors(
    low: Decimal, high: Decimal, usual_low: Decimal | None, usual_high: Decimal | None
) -> dict[str, str]:
    if low >= high:
        return {"highest": "The highest value lies above the lowest."}
    first = low if usual_low is None else usual_low
    last = high if usual_high is None else usual_high
    found = {}
    if not low <= first <= high:
        found["usual_low"] = "It lies between the lowest and the highest possible value."
    if not low <= last <= high or first >= last:
        found["usual_high"] = "It lies above the lowest usual and below the highest possible value."
    return found


def _other_errors(data: Mapping[str, Any]) -> dict[str, str]:
    found: dict[str, str] = {}
    if data.get("kind") == "grades":
        found |= _words_errors("grades", data.get("grades", ""))
    if data.get("per_limb") == "no" and data.get("symmetry") != "none":
        found["symmetry"] = "Limbs are compared only where each limb has a value."
    elif data.get("symmetry") == "index":
        if data.get("kind") != "number" or data.get("unit") in ("deg", "{score}"):
            found["symmetry"] = "Grades, points and angles have no index: take the difference."
        elif data.get("better") not in ("higher", "lower"):
            found["symmetry"] = "An index needs a better way, higher or lower."
    return found


def _words_errors(name: str, text: str) -> dict[str, str]:
    words = lines_of(text)
    if not 2 <= len(words) <= MOST_WORDS:
        return {name: f"Type 2 to {MOST_WORDS} words, one a line."}
    if len(set(words)) < len(words):
        return {name: "One word stands there twice."}
    if any(len(word) > LONGEST_WORD for word in words):
        return {name: f"One of them is longer than {LONGEST_WORD} characters."}
    return {}


def _conditions_errors(data: Mapping[str, Any]) -> dict[str, str]:
    found: dict[str, str] = {}
    labels: list[str] = []
    for number in range(1, CONDITIONS + 1):
        stem = f"condition_{number}"
        label, choices, unit = (
            data.get(f"{stem}_{part}", "") for part in ("label", "choices", "unit")
        )
        if not label and (lines_of(choices) or unit):
            found[f"{stem}_label"] = "Give this condition a name."
        if label.casefold() in labels:
            found[f"{stem}_label"] = "This condition stands there twice."
        if label and bool(lines_of(choices)) == bool(unit):
            found[f"{stem}_choices"] = "Type its choices, or choose its unit: one of the two."
        elif lines_of(choices):
            found |= _words_errors(f"{stem}_choices", choices)
        labels += [label.casefold()] if label else []
    return found


class AddMeasureForm(_MeasureFields, ActForm):
    """A new measure. Its code is made from the name, and is shown before anything is kept."""

    code = forms.CharField(
        label="Code",
        max_length=60,
        required=False,
        help_text="Made from the name: own_… It is written in files and cannot be changed later.",
    )

    def clean(self) -> dict[str, Any]:
        """Make the code where none is typed, and let the person look at it before saving."""
        data = self.cleaned_data
        if not data.get("code") and data.get("label"):
            data["code"] = code_for(label=data["label"])
            assert isinstance(self.data, QueryDict)  # noqa: S101  the posted form
            again = self.data.copy()
            again["code"] = data["code"]
            self.data = again
            if not self.asks_for_preview:
                self.add_error("code", "This code was made from the name: check it, then save.")
        elif data.get("code") and not own_code(data["code"]):
            self.add_error("code", "Type own_ and then small letters, digits and low lines.")
        return super().clean()


def own_code(code: str) -> bool:
    """Whether a text can be the code of an own measure."""
    return bool(CODE.fullmatch(code)) and code.startswith(OWN) and code != OWN


class ChangeMeasureForm(_MeasureFields, EditForm):
    """The next version of an own measure; ``seen`` is the version that it is made from."""

    @property
    def version(self) -> int:
        """One more than the version on record."""
        return int(self.initial["seen"]) + 1

    def clean(self) -> dict[str, Any]:
        """The code stays what it is."""
        self.cleaned_data["code"] = self.initial["code"]
        return super().clean()


class SwitchForm(ActForm):
    """On, off or retired. ``seen`` is the state that the page showed."""

    state = forms.ChoiceField(choices=STATES)
    seen = forms.ChoiceField(choices=STATES)
    anyway = forms.BooleanField(required=False)
