"""What a clinician words in a letter, to whom it goes, and how other scripts are printed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any, Final

from django import forms
from django.http import QueryDict

from clinic import words
from clinic.forms.base import DayField, EditForm, SomeoneField, offer
from outcomes.letters.content import Edited, Typed
from outcomes.letters.pdf import unprintable
from outcomes.letters.printing import PATIENT
from outcomes.letters.spelling import plain

LONGEST: Final = timedelta(weeks=104)
PROSE: Final = ("bottom_line", "question", "plan")


class LetterActForm(EditForm):
    """One act on a draft as it was seen."""


class LetterForm(EditForm):
    """A draft. ``words_to_spell`` are those of the record that no font of the letter can print."""

    OF_THE_ROW = (*PROSE, "next_test_on", "recipient_id", "copies")

    bottom_line = forms.CharField(
        label="First line",
        max_length=240,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="What matters most, first: as usual, slower than usual, or a concern.",
        error_messages={"required": "Write the first line of the letter."},
    )
    question = forms.CharField(
        label="The one question",
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Or leave it empty: then the letter says that it asks nothing.",
    )
    plan = forms.CharField(
        label="Plan",
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text="Needed before the letter is signed.",
    )
    next_test_on = DayField(label="Next test", required=False)
    recipient_id = forms.TypedChoiceField(
        label="To", coerce=int, error_messages={"required": "Choose who gets the letter."}
    )
    copies = forms.MultipleChoiceField(
        label="Copies to", required=False, widget=forms.CheckboxSelectMultiple
    )
    another_id = SomeoneField(label="Another copy to", nobody="nobody else")
    as_it_stood = forms.BooleanField(
        label="Sign with the record as it stood when this was drafted", required=False
    )

    def __init__(
        self,
        data: QueryDict | None = None,
        *,
        people: Sequence[tuple[int, str]],
        near: Sequence[int],
        words_to_spell: Sequence[str],
        today: date,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.today, self.words_to_spell = today, words_to_spell
        self._offer(people=people, near=near)
        for number, word in enumerate(words_to_spell):
            self.fields[f"spell_{number}"] = forms.CharField(
                label=f"Print “{word}” as", max_length=60, required=False
            )

    def _offer(self, *, people: Sequence[tuple[int, str]], near: Sequence[int]) -> None:
        recipient, copies = self.fields["recipient_id"], self.fields["copies"]
        assert isinstance(recipient, forms.ChoiceField)  # noqa: S101  declared above
        assert isinstance(copies, forms.MultipleChoiceField)  # noqa: S101  declared above
        recipient.choices = [(str(pk), name) for pk, name in people]
        copies.choices = [
            (PATIENT, "the patient"),
            *((str(pk), name) for pk, name in people if pk in near),
        ]
        offer(self, "another_id", [one for one in people if one[0] not in near])

    @property
    def spelling_fields(self) -> list[forms.BoundField]:
        """The fields that ask how a word is printed."""
        return [self[f"spell_{number}"] for number in range(len(self.words_to_spell))]

    def clean(self) -> dict[str, Any]:
        """Words that can be printed, and a next test that lies ahead."""
        cleaned = super().clean() or {}
        spellings = [f"spell_{number}" for number in range(len(self.words_to_spell))]
        for name in (*PROSE, *spellings):
            signs = unprintable(text=plain(cleaned.get(name) or ""))
            if signs:
                self.add_error(name, f"Use words instead of {' '.join(signs)}: not in our fonts.")
        day = cleaned.get("next_test_on")
        if day is not None and not self.today <= day <= self.today + LONGEST:
            last = words.day(self.today + LONGEST)
            self.add_error("next_test_on", f"Give a day from today to {last}, or none.")
        return cleaned

    def edited(self) -> Edited:
        """What was typed, as the services take it."""
        found = self.cleaned_data
        more = [str(found["another_id"])] if found["another_id"] else []
        copies = dict.fromkeys([*found["copies"], *more])
        return Edited(
            recipient_id=found["recipient_id"],
            copies=tuple(code for code in copies if code != str(found["recipient_id"])),
            typed=Typed(**{name: found[name] for name in (*PROSE, "next_test_on")}),
            spellings={
                word: found[f"spell_{number}"]
                for number, word in enumerate(self.words_to_spell)
                if found[f"spell_{number}"]
            },
        )
