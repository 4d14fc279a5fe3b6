"""The form of a decision: what was agreed, with whom, why, which risk, when to look again."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.http import QueryDict

from clinic.forms.base import ActForm, DayField, EditForm, OneOf
from outcomes.models.record import COURSES
from outcomes.queries.decisions import TOOK_PART

STEPS: Final = {
    "competition": (
        "non-contact training", "contact training", "limited minutes", "competition",
    ),
}  # fmt: skip
"""What can be agreed on a milestone that is taken in steps."""

FIELDS: Final = (
    "milestone", "course", "agreed", "took_part", "why_unmet", "risk_discussed", "recheck_on",
)  # fmt: skip


class DecisionForm(EditForm):
    """One decision. ``seen`` is the mark of the evidence that the page showed."""

    milestone = forms.SlugField(max_length=60, widget=forms.HiddenInput)
    seen = forms.CharField(max_length=64, widget=forms.HiddenInput)  # type: ignore[assignment]
    course = OneOf(
        label="Decided", choices=COURSES, error_messages={"required": "Choose what was decided."}
    )
    step = OneOf(label="Step", choices=[], none="not one of these")
    agreed = forms.CharField(
        label="What was agreed",
        max_length=250,
        required=False,
        help_text="In a few words: dose, surface, what stays out.",
        error_messages={"required": "Write what was agreed."},
    )
    took_part = forms.MultipleChoiceField(
        label="Who took part beside you",
        choices=list(TOOK_PART.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Say who took part beside you."},
    )
    why_unmet = forms.CharField(
        label="Why it goes ahead although something is missing",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Needed when it goes ahead before everything is recorded as met.",
    )
    risk_discussed = forms.CharField(
        label="Which risk was talked about",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Needed then too, and for the last milestone of the goal.",
    )
    recheck_on = DayField(
        label="Look at it again on", required=False, help_text="Needed when it goes ahead."
    )

    def __init__(self, data: QueryDict | None = None, *, milestone: str, seen: str) -> None:
        super().__init__(data, initial={"milestone": milestone, "seen": seen})
        steps = STEPS.get(milestone, ())
        step = self.fields["step"]
        if not steps:
            del self.fields["step"]
            self.fields["agreed"].required = True
        elif isinstance(step, forms.ChoiceField):
            step.choices = [("", "not one of these"), *((word, word) for word in steps)]

    def clean(self) -> dict[str, Any]:
        """Join the step and the words; the service says what is missing."""
        chosen: dict[str, Any] = super().clean() or {}
        parts = [chosen.get("step", ""), chosen.get("agreed", "")]
        chosen["agreed"] = ": ".join(part for part in parts if part)
        chosen["took_part"] = tuple(chosen.get("took_part", ()))
        return chosen


class WithdrawForm(ActForm):
    """Why a decision is withdrawn."""

    reason = forms.CharField(
        label="Why it is withdrawn",
        max_length=200,
        error_messages={"required": "Write why the decision is withdrawn."},
    )
