"""The fields of a person, an episode and an operation, put together page by page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from clinic.forms.base import ActForm, DayField, EditForm, OneOf, People, SomeoneField, offer
from clinic.models import care
from clinic.models.people import LIMBS, SEXES

_LINES = forms.Textarea(attrs={"rows": 2})
_UNKNOWN_HINT = "The day on which you asked for it."

PERSON = (
    "name", "birth_date", "sex", "preferred_limb", "phone", "email", "address", "guardian_name",
    "guardian_phone", "goal_words",
)  # fmt: skip
EPISODE = (
    "knee", "kind", "goal", "sport", "level_before", "injury_date", "injury_asked_on",
    "other_limb", "responsible_id", "referrer_id", "referrer_new_name", "referrer_new_practice",
    "surgeon_id", "surgeon_new_name", "surgeon_new_practice",
)  # fmt: skip
OPERATION = (
    "state", "date", "date_asked_on", "graft", "graft_from", "graft_asked_on",
    "procedures_asked_on",
)  # fmt: skip


class PersonFields(forms.Form):
    """Who, how reached, and what they want to get back to."""

    name = forms.CharField(label="Name", max_length=160, widget=forms.TextInput())
    birth_date = DayField(label="Birth date")
    sex = OneOf(label="Sex, for comparison values", choices=SEXES)
    preferred_limb = OneOf(
        label="Preferred leg", choices=LIMBS, none="not asked", help_text="The leg that kicks."
    )
    phone = forms.CharField(label="Phone", max_length=40, required=False)
    email = forms.EmailField(label="E-mail", required=False)
    address = forms.CharField(label="Address", max_length=400, required=False, widget=_LINES)
    guardian_name = forms.CharField(
        label="Parent or guardian", max_length=160, required=False, help_text="Under 18 years."
    )
    guardian_phone = forms.CharField(label="Their phone", max_length=40, required=False)
    goal_words = forms.CharField(
        label="Goal in the patient’s own words", max_length=400, required=False, widget=_LINES
    )

    def person(self) -> dict[str, Any]:
        """What was typed about the person."""
        return {name: self.cleaned_data[name] for name in PERSON}


class EpisodeFields(forms.Form):
    """One knee: what happened to it, and who looks after it."""

    knee = OneOf(label="Knee", choices=LIMBS)
    kind = OneOf(label="Kind", choices=care.EPISODE_KINDS)
    injury_date = DayField(label="Date of the injury", required=False, needed=True)
    injury_asked_on = DayField(
        label="Date of the injury unknown, asked on",
        required=False,
        needed=True,
        help_text=_UNKNOWN_HINT,
    )
    other_limb = OneOf(label="Other limb", choices=care.OTHER_LIMB)
    goal = OneOf(label="Goal", choices=care.GOALS)
    sport = forms.CharField(label="Sport", max_length=80, required=False)
    level_before = forms.CharField(label="Level before the injury", max_length=80, required=False)
    responsible_id = SomeoneField(label="Responsible clinician", nobody="not decided yet")
    surgeon_id = SomeoneField(label="Surgeon", nobody="not known, or a new one below")
    surgeon_new_name = forms.CharField(label="New surgeon", max_length=120, required=False)
    surgeon_new_practice = forms.CharField(label="Their hospital", max_length=120, required=False)
    referrer_id = SomeoneField(label="Referred by", nobody="nobody, or a new one below")
    referrer_new_name = forms.CharField(label="New referrer", max_length=120, required=False)
    referrer_new_practice = forms.CharField(label="Their practice", max_length=120, required=False)

    def choose_from(self, *, clinicians: People, referrers: Sequence[tuple[int, str]]) -> None:
        """Offer these clinicians, and these surgeons and referrers."""
        offer(self, "responsible_id", clinicians)
        offer(self, "surgeon_id", referrers)
        offer(self, "referrer_id", referrers)

    def clean(self) -> dict[str, Any]:
        """Somebody of the list or somebody new, not both."""
        cleaned = super().clean() or {}
        for part in ("surgeon", "referrer"):
            if cleaned.get(f"{part}_id") and cleaned.get(f"{part}_new_name"):
                self.add_error(f"{part}_new_name", "Choose from the list or type a new name.")
        return cleaned

    def episode(self) -> dict[str, Any]:
        """What was typed about the episode."""
        return {name: self.cleaned_data[name] for name in EPISODE}


class OperationFields(forms.Form):
    """An operation; each part may be unknown, asked on a day. Nothing is guessed."""

    operation_state = OneOf(
        label="Planned or performed", choices=[("planned", "planned"), ("performed", "performed")]
    )
    operation_date = DayField(label="Date", required=False, needed=True)
    operation_date_asked_on = DayField(
        label="Date unknown, asked on", required=False, needed=True, help_text=_UNKNOWN_HINT
    )
    operation_graft = OneOf(label="Graft", choices=care.GRAFTS, none="no graft")
    operation_graft_from = OneOf(label="Graft taken from", choices=care.GRAFT_FROM, none="no graft")
    operation_graft_asked_on = DayField(
        label="Graft unknown, asked on", required=False, needed=True, help_text=_UNKNOWN_HINT
    )
    operation_procedures = forms.MultipleChoiceField(
        label="What else was done",
        choices=[
            ("nothing", "nothing else"),
            *care.PROCEDURES,
            ("unknown", "unknown, asked"),
        ],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    operation_procedures_asked_on = DayField(
        label="What else was done unknown, asked on",
        required=False,
        needed=True,
        help_text=_UNKNOWN_HINT,
    )

    def clean_operation_procedures(self) -> list[str]:
        """Nothing else, or something, or unknown: one of the three."""
        ticked: list[str] = self.cleaned_data["operation_procedures"]
        if {"nothing", "unknown"} & set(ticked) and len(ticked) > 1:
            raise forms.ValidationError(
                "Tick what was done, or “nothing else”, or “unknown” alone."
            )
        return ticked

    def operation(self, what: str) -> dict[str, Any] | None:
        """What was typed about the operation, or None where none was named."""
        if not self.cleaned_data["operation_state"]:
            return None
        done = [code for code in self.cleaned_data["operation_procedures"] if code != "nothing"]
        known = bool(self.cleaned_data["operation_procedures"]) and "unknown" not in done
        return {
            "operation": what,
            **{name: self.cleaned_data[f"operation_{name}"] for name in OPERATION},
            "procedures": tuple(done) if known else None,
        }


class _WithOperation(EpisodeFields, OperationFields):
    """An episode with the operation of its kind, where there is one."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["operation_state"] = OneOf(
            label="Operation",
            choices=[("planned", "planned"), ("performed", "performed")],
            none="none",
        )

    def clean(self) -> dict[str, Any]:
        """What is said of an operation needs the word whether it was performed."""
        cleaned = super().clean()
        said = [n for n, value in cleaned.items() if n.startswith("operation_") and value]
        if said and not cleaned.get("operation_state"):
            self.add_error("operation_state", "Choose planned or performed, or empty what follows.")
        if cleaned.get("operation_state") and cleaned.get("kind") not in care.INDEX_OPERATIONS:
            self.add_error(
                "kind",
                "An operation is filled in: choose reconstruction, ligament repair or revision.",
            )
        return cleaned


class RegisterForm(PersonFields, _WithOperation, ActForm):
    """A new patient with the first episode, on one page."""

    record_number = forms.CharField(label="Record number", max_length=30)
    compared = forms.CharField(required=False, widget=forms.HiddenInput)


class PersonForm(PersonFields, EditForm):
    """A person's details."""

    record_number = forms.CharField(label="Record number", max_length=30, required=False)


class AddEpisodeForm(_WithOperation, ActForm):
    """A further episode."""


class EpisodeForm(EpisodeFields, EditForm):
    """An episode's details."""


class SurgeryForm(OperationFields, EditForm):
    """An operation of an episode; ``seen`` is the episode's version."""

    operation_operation = OneOf(label="Which operation", choices=care.OPERATIONS)


class CancelSurgeryForm(EditForm):
    """Why a planned operation does not take place."""

    reason = forms.CharField(label="Reason", max_length=200)
