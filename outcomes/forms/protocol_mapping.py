"""What a lead may change of a protocol, as the mapping that a seed would be: settings and sources.

A number that differs from the version it was copied from is no longer that source's number: its
source becomes this clinic's setting, with what it was and by whom, unless the lead types one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from decimal import Decimal
from itertools import count
from typing import Any, Final

from django.utils.text import slugify

from clinic import words
from outcomes.catalogue.fields import Fields, sources_from
from outcomes.core.quantities import plain, unit_sign
from outcomes.core.values import Form, Mark, Measure, Operator
from outcomes.queries.opened import OWN_SETTING, source_lines
from outcomes.queries.result_words import OPERATOR

Json = Mapping[str, Any]
Way = tuple[str | int, ...]
SETTING: Final = Mark.CLINIC_SETTING.value
SEXES: Final = {"female": "women", "male": "men"}
NUMBER, WHOLE, CHOICE = "number", "whole", "choice"


@dataclass(frozen=True, kw_only=True, slots=True)
class Setting:
    """One thing of a criterion or gate that may be changed.

    ``way`` leads to it in the mapping; ``was`` says what it was, around the old text; ``choices``
    are the words of a grade, or how many of a group are asked.
    """

    name: str
    label: str
    way: Way
    kind: str
    was: str = "{}"
    choices: tuple[tuple[str, str], ...] = ()
    needed: bool = True

    def of(self, mapping: Json) -> Any:
        """What stands there; None for nothing."""
        found: Any = mapping
        for step in self.way:
            if isinstance(step, str) and step not in found:
                return None
            found = found[step]
        return found

    def put(self, mapping: dict[str, Any], value: Any) -> None:
        """Put a value there; None takes it out."""
        *before, last = self.way
        place: Any = mapping
        for step in before:
            place = place.setdefault(step, {}) if isinstance(step, str) else place[step]
        if value is None:
            place.pop(last, None)
        else:
            place[last] = value
        if before and not place:
            mapping.pop(str(before[0]))


def settings_of(criterion: Json, *, measures: Mapping[str, Measure]) -> list[Setting]:
    """What may be changed of a criterion, in the order of its form."""
    found = _values(criterion, measures)
    if "of" not in criterion and "event" not in criterion:
        found.append(
            Setting(
                name="earliest_week", label="Counts from week", way=("earliest_week",), kind=WHOLE,
                was="from week {}", needed=False,
            )
        )  # fmt: skip
    for name, label, was in (
        ("maximum_age_days", "A value counts for so many days", "counted for {} days"),
        ("within_days", "Looks back so many days", "within {} days"),
    ):
        if name in criterion:
            found.append(Setting(name=name, label=label, way=(name,), kind=WHOLE, was=was))
    return found


def _values(criterion: Json, measures: Mapping[str, Measure]) -> list[Setting]:
    """The thresholds: one, or one for each band of people."""
    if "of" in criterion:
        return [_how_many(criterion)]
    threshold = criterion["threshold"]
    unit = unit_words(threshold["unit"])
    grades = _grades(criterion, measures)
    kind = CHOICE if grades else WHOLE if "event" in criterion else NUMBER

    def one(name: str, label: str, way: Way, was: str = "") -> Setting:
        said = f"{was}{{}}{unit_after(unit)}"
        choices = tuple((word, word) for word in grades)
        return Setting(name=name, label=label, way=way, kind=kind, was=said, choices=choices)

    asked = OPERATOR[Operator(threshold["operator"])]
    limit = f"Asks {asked}{f', in {unit}' if unit else ''}"
    found = [one("value", limit, ("threshold", "value"))]
    for place, band in enumerate(criterion.get("bands", ())):
        who, way = band_words(band), ("bands", place, "value")
        found.append(one(f"value_band_{place}", f"{limit} for {who}", way, f"for {who} "))
    return found


def unit_words(unit: str) -> str:
    """The sign of a unit; nothing for what is only counted."""
    sign = unit_sign(unit=unit)
    return "" if sign.startswith("{") else sign


def unit_after(sign: str) -> str:
    """A sign as it stands after a number."""
    return f"{'' if sign in ('', '°') else ' '}{sign}"


def band_words(band: Json) -> str:
    """Whom a band of thresholds is for: "women, from 18, under 25 years"."""
    parts = [SEXES.get(band.get("sex", ""), ""), str(band.get("graft", "")).replace("_", " ")]
    parts += [f"from {band['from_age']} years"] if "from_age" in band else []
    parts += [f"under {band['below_age']} years"] if "below_age" in band else []
    return ", ".join(part for part in parts if part) or "everybody"


def _how_many(criterion: Json) -> Setting:
    numbers = [str(number) for number in range(1, len(criterion["of"]) + 1)]
    choices = (("all", "all of them"), ("any", "any of them"), *((n, n) for n in numbers))
    return Setting(
        name="needed", label="How many of them are asked", way=("needed",), kind=CHOICE,
        was="{} of them", choices=choices,
    )  # fmt: skip


def _grades(criterion: Json, measures: Mapping[str, Measure]) -> tuple[str, ...]:
    measure = measures.get(criterion.get("measure", ""))
    if measure is None or Form(criterion["form"]).is_change:
        return ()
    return measure.grades


def gate_settings(gate: Json) -> list[Setting]:
    """What may be changed of a gate: its week or month, and the later months of some people."""
    unit = "weeks" if "weeks" in gate else "months"
    found = [
        Setting(
            name="gate", label=f"Not before {unit[:-1]}", way=(unit,), kind=WHOLE,
            was=f"{unit[:-1]} {{}}",
        )
    ]  # fmt: skip
    for place, code in enumerate(sorted(gate.get("later", {}))):
        who = later_words(code)
        found.append(
            Setting(
                name=f"later_{place}", label=f"Not before month, {who}", way=("later", code),
                kind=WHOLE, was=f"month {{}} for {who}",
            )
        )  # fmt: skip
    return found


def later_words(code: str) -> str:
    """For whom a gate lies later: "graft allograft", "under 16 years"."""
    if code.startswith("under_"):
        return f"under {code.partition('_')[2]} years"
    return code.replace(":", " ").replace("_", " ")


def kept_text(setting: Setting, typed: Any, before: Any) -> Any:
    """A typed value as it is kept: the text there was where it is the same number."""
    if typed in (None, ""):
        return None
    if setting.kind != NUMBER:
        return typed
    if before is not None and Decimal(str(before)) == typed:
        return before
    return plain(value=typed)


def sources_of(*, base: Json, new: Json, settings: Sequence[Setting]) -> list[dict[str, str]]:
    """The sources of a criterion or gate by what differs from the version it was copied from."""
    changed = [one for one in settings if one.of(base) != one.of(new)]
    kept = deepcopy(list(base["sources"]))
    if changed:
        was = words.listed([_was(one, base) for one in changed])
        by = "; ".join(source_lines(sources=sources_from(Fields(mapping=base, where=""))))
        return [{"text": f"{OWN_SETTING}, was {was} by {by}", "mark": SETTING}]
    if base.get("hard") != new.get("hard"):
        said = "Counts here, and was advisory" if new["hard"] else "Advisory here, and counted"
        return [*kept, {"text": f"{said} where it was copied from", "mark": SETTING}]
    return kept


def _was(setting: Setting, base: Json) -> str:
    before = setting.of(base)
    before = dict(setting.choices).get(before, before)
    return setting.was.format(before) if before is not None else f"without “{setting.label}”"


def is_own(row: Json) -> bool:
    """Whether nothing but this clinic's setting stands behind a number that has no older one."""
    return [one["text"] for one in row["sources"]] == [OWN_SETTING]


def own_source(text: str, mark: str) -> list[dict[str, str]]:
    """The source of something new: as it was typed, or this clinic's setting."""
    return [{"text": text or OWN_SETTING, "mark": mark if text else SETTING}]


def typed_source(*, base: Json, now: Json, settings: Sequence[Setting]) -> tuple[str, str]:
    """Text and mark of a source that the lead typed; no text where it came by itself."""
    if now["sources"] == sources_of(base=base, new=now, settings=settings):
        return "", SETTING
    first = now["sources"][0]
    return first["text"], first["mark"]


def relabelled(label: str, *, old: Any, new: Any) -> str | None:
    """A name that carries the old number, with the new one; None where a person must write it.

    A word of a grade, a nought that is said as "no", and a number that stands there twice are not
    put right by themselves.

    >>> relabelled("Quadriceps symmetry at least 60 %", old="60", new="55")
    'Quadriceps symmetry at least 55 %'
    >>> relabelled("No giving way", old=0, new=1) is None
    True
    """
    number = re.compile(rf"(?<![\w.,]){re.escape(str(old))}(?!\w|[.,]\d)")
    found, digits = len(number.findall(label)), str(old)[:1].isdigit()
    if found == 1 and digits:
        return number.sub(str(new), label)
    return None if found > 1 or not digits or str(old) == "0" else label


def stepped(rows: Iterable[Json], *, step: str) -> list[Any]:
    """The rows after one was moved ``up:code`` or ``down:code``, or taken out, ``remove:code``.

    >>> [row["code"] for row in stepped([{"code": "a"}, {"code": "b"}], step="up:b")]
    ['b', 'a']
    """
    found, (way, _, code) = list(rows), step.partition(":")
    place = next((n for n, row in enumerate(found) if row["code"] == code), None)
    if place is None:
        return found
    row = found.pop(place)
    if way != "remove":
        found.insert(max(place + (-1 if way == "up" else 1), 0), row)
    return found


def place_of(rows: Sequence[Json], code: str) -> int:
    """Where the row with a code stands. Raises ``StopIteration`` for none."""
    return next(number for number, row in enumerate(rows) if row["code"] == code)


def code_from(text: str, *, taken: Iterable[str], end: str = "") -> str:
    """A code that is not taken, made from words.

    >>> code_from("Squat to 60 °", taken=["squat_to_60"]), code_from("7 m", taken=[], end="_lsi")
    ('squat_to_60_2', 'm_7_lsi')
    """
    stem = slugify(text).replace("-", "_")[:40].strip("_") or "own"
    stem = stem if stem[0].isalpha() else f"{stem.lstrip('0123456789_') or 'own'}_{stem[0]}"
    there = set(taken)
    tries = (f"{stem}{'' if number == 1 else f'_{number}'}{end}" for number in count(1))
    return next(code for code in tries if code not in there)


def part_of(mapping: Json, code: str) -> Json | None:
    """The milestone of a protocol, or the criterion of a milestone, with a code."""
    rows = mapping.get("milestones", mapping.get("criteria", ()))
    return next((row for row in rows if row["code"] == code), None)
