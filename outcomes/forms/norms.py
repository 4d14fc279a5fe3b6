"""The form of a percentile: one score for each sex and age band, and where they are from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, Final

from django import forms

from clinic.forms.base import ActForm
from outcomes.core.quantities import plain
from outcomes.forms.own_measures import ExactField
from outcomes.protocols.criteria import score_form
from outcomes.protocols.norms import AGES, SCORE
from outcomes.queries.norms import Cell, ages_words

WOMEN_AND_MEN: Final = (("female", "Women"), ("male", "Men"))
CELLS: Final[Mapping[str, Cell]] = {
    f"{sex}_{lowest}": (sex, lowest, below) for sex, _ in WOMEN_AND_MEN for lowest, below in AGES
}
"""The field of each cell."""


class CellField(ExactField):
    """One score of the table; that it may be left blank is said once for all of them."""

    needed = True


class PercentileForm(ActForm):
    """Eight scores; one left blank speaks of nobody. ``seen`` is the version that was shown."""

    seen = forms.IntegerField(min_value=0, widget=forms.HiddenInput)
    source = forms.CharField(
        label="Where the values are from",
        max_length=200,
        help_text="Paper, table and page. It stands beside every result that is judged by them.",
        error_messages={"required": "Write where the values are from."},
    )

    def __init__(self, *args: Any, values: Mapping[Cell, Decimal], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (sex, lowest, below) in CELLS.items():
            who = dict(WOMEN_AND_MEN)[sex]
            self.fields[name] = CellField(label=f"{who}, {ages_words(lowest=lowest, below=below)}")
            if (sex, lowest, below) in values:
                self.initial[name] = plain(value=values[sex, lowest, below])

    @property
    def groups(self) -> Iterator[list[forms.BoundField]]:
        """The fields of women, then those of men."""
        for sex, _ in WOMEN_AND_MEN:
            yield [self[name] for name, cell in CELLS.items() if cell[0] == sex]

    @property
    def values(self) -> dict[Cell, Decimal]:
        """What was typed, by cell."""
        found = {cell: self.cleaned_data.get(name) for name, cell in CELLS.items()}
        return {cell: value for cell, value in found.items() if value is not None}

    def clean(self) -> dict[str, Any]:
        """Scores lie within the questionnaire's range, and there is at least one."""
        data: dict[str, Any] = super().clean() or {}
        score = score_form(code=SCORE)
        if score is None:
            raise AssertionError(f"{SCORE} is shipped")
        for name in CELLS:
            value = data.get(name)
            if value is not None and not score.lowest <= value <= score.highest:
                lowest, highest = plain(value=score.lowest), plain(value=score.highest)
                self.add_error(name, f"Type a score from {lowest} to {highest}.")
        if not self.errors and not self.values:
            self.add_error(None, "Type at least one score.")
        return data
