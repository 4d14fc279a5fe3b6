"""A signed reading to correct or to withdraw: always with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any

from django import forms

from clinic.forms.base import ActForm
from outcomes.core.entries import Entry, typed_of
from outcomes.core.values import Limb
from outcomes.forms.ledger_cells import Cell, cell_of, condition_fields, unit_field
from outcomes.forms.ledger_fields import Field, cell_name, condition_name, detail_name, value_name
from outcomes.forms.ledger_tests import Test, test_of
from outcomes.models.record import Reading
from outcomes.queries.visit import VisitSheet, as_entry

SIDES = [("left", "left"), ("right", "right")]


class WithdrawForm(ActForm):
    """Take a reading out of every judgement; it stays visible, with the reason."""

    reason = forms.CharField(
        label="Why it is withdrawn",
        max_length=200,
        error_messages={"required": "Say in a few words why it is withdrawn."},
    )


class CorrectForm(ActForm):
    """A reading's cell once more, its side, and why it is corrected."""

    reason = forms.CharField(
        label="Why it is corrected",
        max_length=200,
        error_messages={"required": "Say in a few words why it is corrected."},
    )
    limb = forms.ChoiceField(label="Side", choices=SIDES)

    def __init__(self, data: Mapping[str, Any] | None, *, sheet: VisitSheet, row: Reading) -> None:
        super().__init__(data, initial={"limb": row.limb})
        self.sheet, self.row = sheet, row
        self.measure = sheet.measures[row.measure]
        if not self.measure.per_limb:
            del self.fields["limb"]

    @cached_property
    def texts(self) -> dict[str, str]:
        """The cell's texts: what was posted, or what the reading was entered with."""
        on_record = self._on_record()
        if not self.is_bound:
            return on_record
        return {name: str(self.data.get(name, "")).strip() for name in self._names(on_record)}

    def _names(self, on_record: Mapping[str, str]) -> list[str]:
        cell, limb = self.measure.code, Limb(self.row.limb)
        trials = [value_name(cell, limb, n) for n in range(1, self.measure.trials + 1)]
        parts = [cell_name(kind, cell, limb) for kind in ("x", "a", "s")]
        return [*dict.fromkeys([*on_record, *trials, *parts, f"u:{cell}"])]

    def _on_record(self) -> dict[str, str]:
        code, limb = self.measure.code, Limb(self.row.limb)
        typed = typed_of(measure=self.measure, entry=as_entry(row=self.row))
        texts = {value_name(code, limb, n): text for n, text in enumerate(typed.texts, start=1)}
        texts |= {
            cell_name("x", code, limb): typed.choice,
            cell_name("a", code, limb): typed.lever,
            cell_name("s", code, limb): typed.status,
            f"u:{code}": typed.unit,
        }
        for detail in self.measure.chosen:
            texts[detail_name(code, limb, detail.code)] = typed.details.get(detail.code, "")
        for condition in self.measure.conditions:
            name = condition_name(code, condition.code)
            texts[name] = str(self.row.conditions.get(condition.code, ""))
        return texts

    @cached_property
    def test(self) -> Test:
        """The cell, parsed. The reason of the correction answers for unusual values too."""
        reason = str(self.data.get("reason", "")).strip() if self.is_bound else self.row.reason
        name = cell_name("w", self.measure.code, Limb(self.row.limb))
        texts = {**{n: text for n, text in self.texts.items() if text}, name: reason}
        return test_of(row=self.measure.code, measures=self.sheet.measures, texts=texts)

    @property
    def cell(self) -> Cell:
        """The cell as it is drawn."""
        return cell_of(
            test=self.test,
            limb=Limb(self.row.limb),
            texts=self.texts,
            history=[],
            on=self.row.date,
            involved=True,
            wrong=self.is_bound,
        )

    @property
    def conditions(self) -> tuple[Field, ...]:
        """The conditions as they are drawn."""
        return condition_fields(test=self.test, texts=self.texts, last={}, wrong=self.is_bound)

    @property
    def unit(self) -> Field | None:
        """The unit, where there is a choice."""
        return unit_field(test=self.test, texts=self.texts, wrong=self.is_bound)

    def clean(self) -> dict[str, Any]:
        """Refuse what cannot be taken, and a correction that changes nothing."""
        taken = self.test.taken[Limb(self.row.limb)]
        for problem in (*self.test.problems, *taken.problems):
            if problem.part != "reason":
                self.add_error(None, problem.message)
        if taken.entry is None and not taken.problems:
            self.add_error(None, "Type the right value, or withdraw this measurement.")
        elif not self.errors and self._unchanged():
            self.add_error(None, "Nothing differs from what is on record.")
        return self.cleaned_data

    def _unchanged(self) -> bool:
        on_record = replace(as_entry(row=self.row), reason="")
        return replace(self.entry, reason="") == on_record

    @property
    def entry(self) -> Entry:
        """The corrected entry, of the chosen side. Ask only after ``is_valid``."""
        entry = self.test.taken[Limb(self.row.limb)].entry
        if entry is None:
            raise AssertionError("a correction without an entry was let through")
        limb = self.cleaned_data.get("limb") or self.row.limb
        return replace(entry, limb=Limb(limb))
