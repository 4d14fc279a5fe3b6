"""The caseload's filters: codes in the address, never names."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django import forms

from clinic import words
from clinic.models.care import CARE_STATES
from outcomes.queries.caseload import EVERYONE, FOLLOWED, SORTS, Filters, Tally

BEFORE: Final = "before"
BEFORE_WORDS: Final = "no week yet"
BANDS: Final = ("0-5", "6-11", "12-25", "26-38", "39-51", "52-104")
SYMMETRIES: Final = (("quadriceps", "Quadriceps"), ("hop", "Single hop"))
Choices = Sequence[tuple[str, str]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Offered:
    """What may be chosen now: clinicians, milestones and sites of the person's caseload."""

    tally: Tally
    milestones: Mapping[str, str]
    sites: Mapping[str, str]

    def choices(self) -> dict[str, Choices]:
        """The choices of each select, the open one first."""
        clinicians = [(str(ident), name) for ident, name in self.tally.clinicians.items()]
        bands = [(band, week_words(band)) for band in BANDS]
        grafts = [(code, word) for code, word in words.GRAFT.items() if code]
        milestones = [(code, f"next: {word.lower()}") for code, word in self.milestones.items()]
        sorts = [(code, label) for code, (label, _) in SORTS.items()]
        return {
            "care": self._care(),
            "clinician": [("", "all clinicians"), *clinicians],
            "graft": [("", "all grafts"), *grafts],
            "week": [("", "any week"), (BEFORE, BEFORE_WORDS), *bands],
            "milestone": [("", "any next milestone"), *milestones],
            "site": [("", "all my sites"), *self.sites.items()],
            "look": [("", "with or without a look"), ("1", "needs a look")],
            "sort": sorts,
        }

    def _care(self) -> Choices:
        """The care states with how many episodes each has."""
        found = [(FOLLOWED, "all followed", self.tally.followed)]
        found += [(code, word, self.tally.by_care.get(code, 0)) for code, word in CARE_STATES]
        found.append((EVERYONE, "all, also ended", sum(self.tally.by_care.values())))
        return [(code, f"{word} ({count})") for code, word, count in found]


def week_words(band: str) -> str:
    """A band of weeks as people say it.

    >>> week_words("6-12")
    'week 6 to 12'
    """
    first, _, last = band.partition("-")
    return f"week {first} to {last}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Select:
    """One filter as it is drawn: options are code, label and whether it is chosen."""

    name: str
    label: str
    options: list[tuple[str, str, bool]]


LABELS: Final[Mapping[str, str]] = {
    "care": "Care",
    "clinician": "Clinician",
    "graft": "Graft",
    "week": "Week",
    "milestone": "Next milestone",
    "site": "Site",
    "look": "Needs a look",
    "sort": "Order",
}


def _select(name: str, options: Choices, *, chosen: str) -> Select:
    """A week that is not one of the bands is offered too, so that the address stays readable."""
    found = list(options)
    if name == "week" and chosen not in dict(found) and "-" in chosen:
        found.append((chosen, week_words(chosen)))
    return Select(
        name=name,
        label=LABELS[name],
        options=[(code, label, code == chosen) for code, label in found],
    )


class CaseloadForm(forms.Form):
    """Filters, sort and page of the caseload, all optional; ``filters`` is what they ask for."""

    care = forms.ChoiceField(required=False)
    week = forms.CharField(required=False, max_length=9)
    graft = forms.ChoiceField(required=False)
    clinician = forms.ChoiceField(required=False)
    milestone = forms.ChoiceField(required=False)
    site = forms.ChoiceField(required=False)
    look = forms.ChoiceField(required=False)
    sort = forms.ChoiceField(required=False)
    of = forms.ChoiceField(required=False, choices=SYMMETRIES)
    page = forms.IntegerField(required=False, min_value=1, max_value=10_000)

    def __init__(self, data: Mapping[str, Any], *, offered: Offered) -> None:
        super().__init__(data)
        self.offered = offered.choices()
        for name, choices in self.offered.items():
            field = self.fields[name]
            if isinstance(field, forms.ChoiceField):
                field.choices = choices
                field.error_messages["invalid_choice"] = "Choose one of the list."

    def clean_week(self) -> str:
        """Two numbers of weeks, the smaller first, or "before"."""
        band: str = self.cleaned_data["week"]
        if band in ("", BEFORE):
            return band
        found = re.fullmatch(r"([0-9]{1,4})-([0-9]{1,4})", band)
        if found is None or int(found[1]) > int(found[2]):
            raise forms.ValidationError("Give weeks as 6-12, the smaller number first.")
        return band

    @property
    def kept(self) -> dict[str, str]:
        """The filters as they were asked for, without the page: for links and for saving."""
        return {name: self.data[name] for name in self.offered if self.data.get(name)}

    def selects(self) -> list[Select]:
        """Each filter as a select with what is chosen, for the template."""
        return [
            _select(name, options, chosen=self.data.get(name, ""))
            for name, options in self.offered.items()
            if name != "site" or len(options) > 2
        ]

    @property
    def filters(self) -> Filters:
        """What is asked for; call it after ``is_valid``."""
        chosen = self.cleaned_data
        band = chosen["week"]
        first, _, last = band.partition("-")
        return Filters(
            care=chosen["care"] or FOLLOWED,
            weeks=(int(first), int(last)) if last else None,
            before_surgery=band == BEFORE,
            graft=chosen["graft"],
            clinician=int(chosen["clinician"]) if chosen["clinician"] else None,
            milestone=chosen["milestone"],
            site=chosen["site"],
            look=bool(chosen["look"]),
            sort=chosen["sort"] or "look",
            page=chosen["page"] or 1,
        )

    @property
    def drawn(self) -> str:
        """Which symmetry is drawn: ``quadriceps`` or ``hop``."""
        return self.cleaned_data["of"] or "quadriceps"
