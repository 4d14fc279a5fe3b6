"""What is set less often in a criterion: conditions, two tests, grades alike, a number by sex."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from outcomes.core.readings import conditions_of
from outcomes.core.values import Condition, Form, Measure
from outcomes.forms.protocol_mapping import (
    CHOICE,
    NUMBER,
    SEXES,
    WHOLE,
    Json,
    Setting,
    unit_after,
    unit_words,
)

TWICE: Final = (
    ("apart_days", "Met on two tests, at least so many days apart", "met twice, {} days apart"),
    ("within_days", "Both of them within so many days", "both within {} days"),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class ConditionSetting(Setting):
    """One condition that a test must have had: a part of the comparison key."""

    def of(self, mapping: Json) -> Any:
        """The condition as the key has it; None where the key asks for none."""
        return conditions_of(key=mapping.get("key", "")).get(str(self.way[0]))

    def put(self, mapping: dict[str, Any], value: Any) -> None:
        """Put it into the key, in the order of keys; without any there is no key."""
        found = conditions_of(key=mapping.get("key", ""))
        found.pop(str(self.way[0]), None)
        if value is not None:
            found[str(self.way[0])] = str(value)
        if found:
            mapping["key"] = ";".join(f"{code}={found[code]}" for code in sorted(found))
        else:
            mapping.pop("key", None)


def rarer_of(criterion: Json, *, measures: Mapping[str, Measure]) -> list[Setting]:
    """What may be asked besides of a criterion; every one of them may be left blank."""
    if "of" in criterion or "event" in criterion:
        return []
    measure = measures.get(criterion.get("measure", ""))
    found = _of_measure(criterion, measure) if measure else []
    return found + [
        Setting(
            name=f"repeated_{name}", label=label, way=("repeated", name), kind=WHOLE, was=was,
            needed=False,
        )
        for name, label, was in TWICE
    ]  # fmt: skip


def _of_measure(criterion: Json, measure: Measure) -> list[Setting]:
    found = _by_sex(criterion, measure)
    if criterion["form"] == Form.GRADE and not measure.yes_or_no:
        words = (("", "not asked"), *((word, word) for word in measure.grades))
        found.append(
            Setting(
                name="alike_to", label="Or alike on both sides, up to", way=("alike_to",),
                kind=CHOICE, was="or alike up to {}", choices=words, needed=False,
            )
        )  # fmt: skip
    return found + [_condition(one) for one in measure.conditions]


def _by_sex(criterion: Json, measure: Measure) -> list[Setting]:
    """A number for women and one for men, where it is not given by band of people."""
    if measure.grades or "bands" in criterion:
        return []
    unit = unit_after(unit_words(criterion["threshold"]["unit"]))
    return [
        Setting(
            name=f"value_{sex}", label=f"Another number for {said}", way=("value_by_sex", sex),
            kind=NUMBER, was=f"for {said} {{}}{unit}", needed=False,
        )
        for sex, said in SEXES.items()
    ]  # fmt: skip


def _condition(condition: Condition) -> Setting:
    name, label = f"key_{condition.code}", f"Only with: {condition.label}"
    choices = tuple((one.code, one.label) for one in condition.choices)
    return ConditionSetting(
        name=name, label=label, way=(condition.code,), kind=CHOICE if choices else NUMBER,
        was=f"{condition.label} {{}}", choices=(("", "any"), *choices) if choices else (),
        needed=False,
    )  # fmt: skip
