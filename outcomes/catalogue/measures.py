"""One measure from one mapping, refused where it is incomplete or contradicts itself."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from outcomes.catalogue.fields import CODE, Fields, source_from, sources_from
from outcomes.catalogue.measure_checks import check
from outcomes.core.quantities import UNITS
from outcomes.core.values import (
    Basis,
    Better,
    Choice,
    Condition,
    Derivation,
    Detail,
    EntryKind,
    Examiner,
    Formula,
    Group,
    Item,
    Measure,
    MeasurementError,
    Operator,
    Relative,
    Summary,
    SymmetryForm,
    Threshold,
)


def measure_from(mapping: Mapping[str, Any], *, where: str = "measure") -> Measure:
    """The measure that a seed or a stored version describes.

    ``where`` names the file. Raises ``SeedError`` naming file and key for anything missing,
    unknown or contradictory.
    """
    fields = Fields(mapping=mapping, where=where)
    measure = Measure(
        code=fields.code("code"),
        version=fields.integer("version", at_least=1),
        label=fields.text("label"),
        short_label=fields.text("short_label"),
        group=fields.one_of("group", Group, default=Group.OTHER),
        unit=fields.text("unit"),
        entry=fields.one_of("entry", EntryKind),
        per_limb=fields.truth("per_limb"),
        better=fields.one_of("better", Better),
        decimals=fields.integer("decimals"),
        hard=fields.limits("hard"),
        soft=fields.limits("soft"),
        symmetry=fields.one_of("symmetry", SymmetryForm),
        summary=fields.one_of("summary", Summary),
        trials=fields.integer("trials", at_least=1),
        sources=sources_from(fields),
        when_to_use=fields.text("when_to_use"),
        how_to_do=fields.text("how_to_do"),
        how_to_read=fields.text("how_to_read"),
        entry_units=fields.texts("entry_units"),
        cap=fields.decimal_or_none("cap"),
        earliest_week=fields.integer_or_none("earliest_week"),
        maximum_age_days=fields.integer_or_none("maximum_age_days", at_least=1),
        cautions=_cautions(fields),
        note=fields.text("note", default=""),
        standing=fields.truth("standing", default=False),
        other_limb_asked=fields.truth("other_limb_asked", default=True),
        relative=_relative(fields),
        **_parts(fields),
    )
    fields.done()
    check(measure=measure, fields=fields)
    return measure


def _parts(fields: Fields) -> dict[str, Any]:
    """What a measure has any number of."""
    grades = fields.texts("grades")
    return {
        "grades": grades,
        "items": tuple(_item(part) for part in fields.parts("items")),
        "derived": _derivation(fields),
        "conditions": tuple(_condition(part) for part in fields.parts("conditions")),
        "details": tuple(_detail(part) for part in fields.parts("details")),
        "errors": tuple(_error(part) for part in fields.parts("errors")),
        "thresholds": tuple(_threshold(part, grades) for part in fields.parts("thresholds")),
    }


def _choices(fields: Fields, *, needed: bool) -> tuple[Choice, ...]:
    parts = fields.parts("choices", needed=needed)
    return _different(fields, tuple(_choice(part) for part in parts))


def _choice(fields: Fields) -> Choice:
    choice = Choice(code=fields.code("code"), label=fields.text("label"))
    fields.done()
    return choice


def _different(fields: Fields, choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    if len({choice.code for choice in choices}) != len(choices):
        raise fields.refuse("choices", "names one twice")
    return choices


def _condition(fields: Fields) -> Condition:
    condition = Condition(
        code=fields.code("code"),
        label=fields.text("label"),
        choices=_choices(fields, needed=False),
        unit=fields.text("unit", default=""),
        required=fields.truth("required", default=True),
    )
    fields.done()
    if bool(condition.choices) == bool(condition.unit):
        raise fields.refuse("unit", "give either choices or a unit")
    if condition.unit and condition.unit not in UNITS:
        raise fields.refuse("unit", f"{condition.unit!r} is not a known UCUM code")
    return condition


def _detail(fields: Fields) -> Detail:
    detail = Detail(
        code=fields.code("code"),
        label=fields.text("label"),
        choices=_choices(fields, needed=True),
        spoils=fields.texts("spoils"),
    )
    fields.done()
    if not set(detail.spoils) < {choice.code for choice in detail.choices}:
        raise fields.refuse("spoils", "must name some of the choices, not all")
    return detail


def _item(fields: Fields) -> Item:
    """An item; its choices carry points: whole numbers from zero, each once."""
    code, label = fields.code("code"), fields.text("label")
    choices, points = [], []
    for part in fields.parts("choices", needed=True):
        points.append(part.integer("points"))
        choices.append(_choice(part))
    item = Item(
        code=code, label=label, choices=_different(fields, tuple(choices)), points=tuple(points)
    )
    fields.done()
    if len(points) < 2 or min(points) != 0 or len(set(points)) != len(points):
        raise fields.refuse("choices", "need different points, the lowest of them 0")
    return item


def _derivation(fields: Fields) -> Derivation | None:
    if "derived" not in fields:
        return None
    part = fields.part("derived")
    derivation = Derivation(
        formula=part.one_of("formula", Formula),
        inputs=part.texts("inputs"),
        alike=part.texts("alike"),
        carried=part.texts("carried"),
    )
    part.done()
    return derivation


def _error(fields: Fields) -> MeasurementError:
    error = MeasurementError(
        of=fields.one_of("of", Basis),
        sem=fields.decimal("sem"),
        population=fields.text("population"),
        method=fields.text("method"),
        source=source_from(fields.part("source")),
        tester=fields.one_of("tester", Examiner, default=Examiner.NOT_STATED),
        conditions=tuple(sorted(fields.table("conditions").items())),
    )
    fields.done()
    if error.sem <= 0:
        raise fields.refuse("sem", "must be above zero")
    return error


def _threshold(fields: Fields, grades: tuple[str, ...]) -> Threshold:
    threshold = Threshold(
        of=fields.one_of("of", Basis),
        operator=fields.one_of("operator", Operator),
        value=_value(fields, grades),
        population=fields.text("population"),
        source=source_from(fields.part("source")),
    )
    fields.done()
    return threshold


def _value(fields: Fields, grades: tuple[str, ...]) -> Decimal:
    """A number, or the word of a grade: files carry words, ranks stay inside."""
    if not grades:
        return fields.decimal("value")
    word = fields.text("value")
    if word not in grades:
        raise fields.refuse("value", f"{word!r} is none of {', '.join(grades)}")
    return Decimal(grades.index(word))


def _relative(fields: Fields) -> Relative | None:
    """What the value is also given relative to. ``per_body_mass`` is how version 1 wrote it."""
    if fields.truth("per_body_mass", default=False):
        return Relative.BODY_MASS
    return fields.one_of("relative", Relative) if "relative" in fields else None


def _cautions(fields: Fields) -> dict[str, str]:
    cautions = fields.table("cautions")
    for code, text in cautions.items():
        if not isinstance(text, str) or not text:
            raise fields.refuse(f"cautions.{code}", "must be a text")
        if not all(CODE.fullmatch(part) for part in code.split(":")):
            raise fields.refuse(f"cautions.{code}", "is not a code")
    return cautions
