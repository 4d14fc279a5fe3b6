"""The surgeon's limits, the care state, and cover by a colleague."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

from clinic.forms.base import ActForm, DayField, EditForm, OneOf, SomeoneField
from clinic.models import care

TOLD_BY = forms.CharField(
    label="Told by, and how",
    max_length=120,
    help_text="Who gave the instruction and how: operation note, letter, phone.",
)


TOLD_ON = DayField(label="Told on", help_text="The day on which it was told.")


class LineField(forms.CharField):
    """A line that is needed unless something else says that it is not."""

    needed = True

    def __init__(self, *, label: str, help_text: str = "") -> None:
        super().__init__(label=label, max_length=200, required=False, help_text=help_text)


class LimitForm(ActForm):
    """A new instruction of the surgeon; it may take the place of an older one."""

    kind = OneOf(
        label="What is limited",
        choices=[one for one in care.RESTRICTION_KINDS if one[0] not in care.OF_CLINICIANS],
    )
    limit = LineField(
        label="The limit in words", help_text="As the surgeon said it, for example “0 to 90°”."
    )
    since = DayField(label="From")
    until = DayField(label="Last day", required=False, help_text="Empty: until told otherwise.")
    told_by = TOLD_BY
    told_on = TOLD_ON
    supersedes_id = SomeoneField(label="Takes the place of", nobody="nothing: a further limit")

    def clean(self) -> dict[str, Any]:
        """Words for every limit; none where the surgeon sets none."""
        cleaned = super().clean() or {}
        if cleaned.get("kind") == "none":
            cleaned["limit"] = cleaned.get("limit") or "no limit"
        elif cleaned.get("kind") and not cleaned.get("limit"):
            self.add_error("limit", "Type the limit as the surgeon said it.")
        return cleaned


class EndLimitForm(ActForm):
    """The surgeon ends a limit."""

    restriction = forms.IntegerField(widget=forms.HiddenInput)
    until = DayField(label="Last day")
    told_by = TOLD_BY
    told_on = TOLD_ON


class AsideForm(EditForm):
    """Why a clinician sets something aside."""

    reason = forms.CharField(
        label="Why it is set aside",
        max_length=200,
        help_text="Your clinical reason; it is shown with your name wherever the limit is shown.",
        error_messages={"required": "Write why it is set aside."},
    )


class TakeBackForm(EditForm):
    """Why something counts again that was set aside."""

    reason = forms.CharField(
        label="Why it counts again",
        max_length=200,
        help_text="Your clinical reason; what was set aside, and why, stays to be read.",
        error_messages={"required": "Write why it is taken back."},
    )


class CareForm(EditForm):
    """How the episode is looked after now."""

    state = OneOf(label="Care", choices=care.CARE_STATES)
    reason = forms.CharField(
        label="Reason",
        max_length=200,
        required=False,
        help_text="Needed for on hold, discharged and transferred.",
    )
    until = DayField(label="On hold until", required=False)


class HandoverForm(ActForm):
    """Who covers, and from when until when; two lines for each patient that is ticked."""

    taker = SomeoneField(
        label="Handed to",
        nobody="choose a colleague",
        needed=True,
        error_messages={"required": "Choose a colleague."},
    )
    since = DayField(label="First day")
    until = DayField(label="Last day")

    def __init__(
        self, data: Any = None, *, episodes: Iterable[tuple[int, str]], **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self.episodes = list(episodes)
        for pk, name in self.episodes:
            self.fields[f"take-{pk}"] = forms.BooleanField(label=name, required=False)
            for line, label in (("aim", "Aim now"), ("watch", "Watch for")):
                self.fields[f"{line}-{pk}"] = LineField(label=label)

    def clean(self) -> dict[str, Any]:
        """Both lines for everybody who is ticked."""
        cleaned = super().clean() or {}
        names = dict(self.episodes)
        for pk in self.chosen(cleaned):
            for line in (f"aim-{pk}", f"watch-{pk}"):
                if not cleaned.get(line):
                    self.add_error(line, f"Write this line for {names[pk]}.")
        return cleaned

    def chosen(self, cleaned: dict[str, Any]) -> list[int]:
        """The episodes that are ticked."""
        return [pk for pk, _ in self.episodes if cleaned.get(f"take-{pk}")]

    def lines(self) -> list[dict[str, Any]]:
        """Aim and warning of each episode that is ticked."""
        return [
            {
                "episode_id": pk,
                "aim_now": self.cleaned_data[f"aim-{pk}"],
                "watch_for": self.cleaned_data[f"watch-{pk}"],
            }
            for pk in self.chosen(self.cleaned_data)
        ]

    def rows(self) -> list[tuple[forms.BoundField, forms.BoundField, forms.BoundField]]:
        """The three fields of each episode, for the page."""
        return [
            (self[f"take-{pk}"], self[f"aim-{pk}"], self[f"watch-{pk}"]) for pk, _ in self.episodes
        ]


class TakeOverForm(ActForm):
    """Seen and taken over."""

    handover = forms.IntegerField(widget=forms.HiddenInput)


class WhoseForm(forms.Form):
    """Whose patients are handed over: one's own, or for a lead a clinician's."""

    of = forms.IntegerField(required=False)
