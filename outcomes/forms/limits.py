"""Confirming the limits after one procedure: what holds, from when until when, and who told it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from django import forms
from django.http import QueryDict

from clinic.forms.base import DayField, EditForm, OneOf
from clinic.forms.care import TOLD_BY, TOLD_ON, LineField
from outcomes.queries.confirming import Asking, Line, UsualLimit

HOLD: Final = "hold"
ANSWERS: Final = [(HOLD, "the limits ticked below hold"), ("none", "the surgeon sets no limit")]


class WordsField(LineField):
    """The words of a limit: one line that is shown whole, on two where it is long."""

    widget = forms.Textarea(attrs={"rows": 2})

    def clean(self, value: Any) -> str:
        """The words in one line, whatever breaks were typed."""
        return " ".join(super().clean(value).split())


@dataclass(frozen=True, kw_only=True, slots=True)
class LineFields:
    """One limit as it is drawn: its tick, its words and days, and what it usually is."""

    usual: UsualLimit
    take: forms.BoundField
    limit: forms.BoundField
    since: forms.BoundField
    until: forms.BoundField


class ConfirmForm(EditForm):
    """The answer for one procedure. Each limit can be changed or unticked."""

    procedure = forms.SlugField(max_length=40, widget=forms.HiddenInput)
    answer = OneOf(
        label="What the surgeon said", choices=ANSWERS, error_messages={"required": "Choose one."}
    )
    told_by = TOLD_BY
    told_on = TOLD_ON

    def __init__(self, data: QueryDict | None, *, asking: Asking, seen: int) -> None:
        super().__init__(
            data,
            auto_id=f"id_{asking.procedure}_%s",
            initial={"procedure": asking.procedure, "seen": seen},
        )
        self.asking = asking
        for number, line in enumerate(asking.lines):
            self._offer(number, line)

    def _offer(self, number: int, line: UsualLimit) -> None:
        """The fields of one limit, filled in as it is usual."""
        given = {"take": line.usual, "limit": line.limit, "since": line.since, "until": line.until}
        fields: dict[str, forms.Field] = {
            "take": forms.BooleanField(label=line.title.capitalize(), required=False),
            "limit": WordsField(label="The limit in words"),
            "since": DayField(label="From", required=False, needed=True),
            "until": DayField(label="Last day", required=False),
        }
        for part, field in fields.items():
            field.initial = given[part]
            self.fields[f"{part}-{number}"] = field

    def clean(self) -> dict[str, Any]:
        """Words and a first day for every limit that is ticked; one at least, or none at all."""
        cleaned = super().clean() or {}
        ticked = self._ticked(cleaned)
        if cleaned.get("answer") != HOLD:
            return cleaned
        if not ticked:
            self.add_error("answer", "Tick a limit that holds, or answer that there is none.")
        for number in ticked:
            if not cleaned.get(f"limit-{number}"):
                self.add_error(f"limit-{number}", "Type the limit as the surgeon said it.")
            if not cleaned.get(f"since-{number}") and not self.errors.get(f"since-{number}"):
                self.add_error(f"since-{number}", "Give the first day.")
        return cleaned

    def _ticked(self, cleaned: dict[str, Any]) -> list[int]:
        return [n for n in range(len(self.asking.lines)) if cleaned.get(f"take-{n}")]

    @property
    def said(self) -> tuple[Line, ...]:
        """The limits that hold; empty where the surgeon sets none."""
        if self.cleaned_data["answer"] != HOLD:
            return ()
        return tuple(
            Line(
                number=number,
                kind=self.asking.lines[number].kind,
                limit=self.cleaned_data[f"limit-{number}"],
                since=self.cleaned_data[f"since-{number}"],
                until=self.cleaned_data[f"until-{number}"],
            )
            for number in self._ticked(self.cleaned_data)
        )

    def rows(self) -> Iterator[LineFields]:
        """The fields of each limit, for the page."""
        for number, usual in enumerate(self.asking.lines):
            names = (f"{part}-{number}" for part in ("take", "limit", "since", "until"))
            take, limit, since, until = (self[name] for name in names)
            yield LineFields(usual=usual, take=take, limit=limit, since=since, until=until)
