"""An event to record or to correct: day, side, what was done; as few touches as the kind needs."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from django import forms

from clinic.forms.base import ActForm, DayField, EditForm, OneOf
from clinic.models.care import OPEN_CARE_STATES, Episode
from outcomes.core.events import RETURNS, Kind, Side, limb_of
from outcomes.core.values import Limb
from outcomes.models.events import Event

ENDS: Final = "end"
ADVISED: Final = [("", "as advised"), ("early", "earlier than advised")]
ENDING: Final = [
    (ENDS, "yes: discharge this episode today, graft rupture as the reason"),
    ("stay", "not now: the episode stays open and the rupture is a reason to look"),
]


class EventFields(forms.Form):
    """What every event is told with; fields that a kind does not need are left out."""

    date = DayField(label="Day")
    limb = OneOf(label="Side", choices=[])
    detail = OneOf(
        label="What exactly", choices=[], error_messages={"required": "Choose one of the list."}
    )
    advised = forms.ChoiceField(
        label="As advised", choices=ADVISED, widget=forms.RadioSelect, required=False
    )
    note = forms.CharField(
        label="Note", max_length=300, required=False, help_text="In a few words, without names."
    )

    def fit(self, *, kind: Kind, knee: Limb) -> None:
        """Offer what belongs to the kind."""
        self.kind, self.knee = kind, knee
        sides = [(limb_of(side=side, knee=knee).value, _side_words(side, knee))
                 for side in kind.sides]  # fmt: skip
        self._offer("limb", sides if len(sides) > 1 else [])
        self._offer("detail", list(kind.details.items()))
        if kind.code not in RETURNS:
            del self.fields["advised"]

    def _offer(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        if not choices:
            del self.fields[name]
        elif isinstance(field, forms.ChoiceField):
            field.choices = choices

    @property
    def side(self) -> str:
        """The one side there is, in words; empty where an event is the person's."""
        limb = limb_of(side=self.kind.sides[0], knee=self.knee)
        return "" if limb is Limb.NONE else f"{limb.value} knee"

    @property
    def happened(self) -> dict[str, Any]:
        """What was typed, as the service takes it; ask only after ``is_valid``."""
        typed = self.cleaned_data
        usual = limb_of(side=self.kind.sides[0], knee=self.knee).value
        return {
            "event": self.kind.code,
            "date": typed["date"],
            "limb": typed.get("limb") or usual,
            "detail": typed.get("detail", ""),
            "earlier_than_advised": typed.get("advised") == "early",
            "note": typed["note"],
        }


def _side_words(side: Side, knee: Limb) -> str:
    limb = limb_of(side=side, knee=knee)
    return f"{limb.value}, the followed knee" if side is Side.SAME else f"{limb.value}, other side"


class EventForm(EventFields, EditForm):
    """A new event of an episode. ``ends``: whether a graft rupture ends it, asked while open."""

    event = forms.SlugField(max_length=30, widget=forms.HiddenInput)
    ends = OneOf(
        label="Does this episode end?",
        choices=ENDING,
        error_messages={"required": "Choose whether this episode ends."},
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        kind: Kind,
        episode: Episode,
        today: date,
    ) -> None:
        usual = limb_of(side=kind.sides[0], knee=Limb(episode.knee)).value
        initial = {"event": kind.code, "seen": episode.version, "date": today, "limb": usual}
        super().__init__(data, initial=initial)
        self.fit(kind=kind, knee=Limb(episode.knee))
        if kind.code != "graft_rupture" or episode.care_state not in OPEN_CARE_STATES:
            del self.fields["ends"]

    @property
    def ending(self) -> bool:
        """Whether the person chose that the episode ends."""
        return self.cleaned_data.get("ends") == ENDS


class CorrectEventForm(EventFields, ActForm):
    """An event's day, side and detail put right, and why. Its kind stays: withdraw it instead."""

    reason = forms.CharField(
        label="Why it is corrected",
        max_length=200,
        error_messages={"required": "Say in a few words why it is corrected."},
    )

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, kind: Kind, knee: Limb, row: Event
    ) -> None:
        initial = {
            "date": row.date,
            "limb": row.limb,
            "detail": row.detail,
            "advised": "early" if row.earlier_than_advised else "",
            "note": row.note,
        }
        super().__init__(data, initial=initial)
        self.fit(kind=kind, knee=knee)


class WithdrawEventForm(ActForm):
    """Why an event is withdrawn."""

    reason = forms.CharField(
        label="Why it is withdrawn",
        max_length=200,
        error_messages={"required": "Say in a few words why it is withdrawn."},
    )
