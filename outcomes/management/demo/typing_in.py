"""What was found, as the ledger's fields: the same names that the visit's form posts."""

from __future__ import annotations

from collections.abc import Iterable

from outcomes.core.values import Limb
from outcomes.forms.ledger_fields import cell_name, condition_name, detail_name, value_name
from outcomes.management.demo.stories import Test

TORQUES = ("quadriceps_torque", "hamstring_torque")


def texts_of(tests: Iterable[Test]) -> dict[str, str]:
    """The typed text of every field that these tests fill."""
    texts: dict[str, str] = {}
    for test in tests:
        for code, text in test.conditions.items():
            texts[condition_name(test.row, code)] = text
        if test.measure in TORQUES:
            texts[f"u:{test.row}"] = "N.m"
        for side, text in test.texts.items():
            texts |= _cell(test, Limb(side), text)
        for side, details in test.details.items():
            for code, choice in details.items():
                texts[detail_name(test.row, Limb(side), code)] = choice
    return texts


def _cell(test: Test, limb: Limb, text: str) -> dict[str, str]:
    if test.measure == "knee_extension":
        choice, _, degrees = text.partition(" ")
        found = {cell_name("x", test.row, limb): choice}
        return found | {value_name(test.row, limb): degrees} if degrees else found
    trials = test.trials.get(limb.value, [text])
    return {
        value_name(test.row, limb, number): trial for number, trial in enumerate(trials, start=1)
    }
