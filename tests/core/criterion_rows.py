"""For any criterion of a measure: readings that give it a wanted number, worked out backwards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from outcomes.core.quantities import STANDARD_GRAVITY
from outcomes.core.readings import conditions_of
from outcomes.core.values import (
    Basis,
    Criterion,
    Form,
    Measure,
    Milestone,
    Operator,
    Reading,
    Result,
    Subject,
    SymmetryForm,
)
from outcomes.protocols.seeds import load_batteries, load_protocols
from tests.core.builders import CATALOGUE, KEYS, NONE, SURGERY, L, R

PROTOCOLS = {**load_protocols(CATALOGUE), **load_batteries(CATALOGUE)}
MASS, OTHER = Decimal(60), Decimal(40)
STEP = Decimal("0.001")
BASES = {
    Form.INVOLVED: Basis.VALUE,
    Form.SYMMETRY: Basis.SYMMETRY,
    Form.SHORT_OF_OTHER: Basis.DIFFERENCE,
}
UPWARD = (Operator.GREATER, Operator.AT_LEAST)


def every_rule(subject: Subject) -> Iterator[tuple[str, Milestone, Criterion]]:
    """Each criterion of a kind once, however many milestones ask for it in the same words."""
    seen = set()
    for code, protocol in PROTOCOLS.items():
        for milestone in protocol.milestones:
            for one in milestone.criteria:
                rule = (
                    one.measure, one.form, one.operator, one.value, one.key, one.maximum_age_days,
                    one.repeat, one.earliest_week, one.alike_to, one.within_days, one.of,
                )  # fmt: skip
                if one.subject is subject and rule not in seen:
                    seen.add(rule)
                    yield f"{code}-{milestone.code}-{one.code}", milestone, one


def key_of(rule: Criterion) -> str:
    """The key that the rule asks for, else the usual one of the measure."""
    return rule.key or KEYS.get(rule.measure, "")


def rows_at(rule: Criterion, number: Decimal, on: date, **changes: object) -> list[Reading]:
    """Readings on a day that give the rule that number (of its form), on both limbs."""
    measure = CATALOGUE[rule.measure]
    if rule.form is Form.CHANGE_SINCE_LAST:
        base = Decimal(2)
        return [
            *rows_of(measure, rule, base, base, on - timedelta(days=7), {}),
            *rows_of(measure, rule, base + number, base, on, changes),
        ]
    involved, other = _limbs(rule, measure, number)
    return rows_of(measure, rule, involved, other, on, changes)


def _limbs(rule: Criterion, measure: Measure, number: Decimal) -> tuple[Decimal, Decimal]:
    """The involved and the other limb's value: by the definition of each form, backwards."""
    if rule.form is Form.SYMMETRY and measure.symmetry is SymmetryForm.INVERTED_RATIO:
        return Decimal(2), Decimal(2) * number / 100
    if rule.form is Form.SYMMETRY:
        return OTHER * number / 100, OTHER
    if rule.form is Form.SHORT_OF_OTHER and measure.code == "knee_flexion":
        return Decimal(140) - number, Decimal(140)
    if rule.form is Form.SHORT_OF_OTHER:
        return number, Decimal(0)
    if rule.form is Form.PER_BODY_MASS:
        return number * MASS, number * MASS
    if rule.form is Form.PER_BODY_WEIGHT:
        return number * MASS * STANDARD_GRAVITY / 100, Decimal(1)
    return number, number if rule.alike_to is None else Decimal(0)


def rows_of(
    measure: Measure,
    rule: Criterion,
    involved: Decimal,
    other: Decimal,
    on: date,
    changes: Mapping[str, object],
) -> list[Reading]:
    """Both limbs, or the one reading of a measure without limbs. Nothing spoils a grade."""
    limbs = [(L, involved), (R, other)] if measure.per_limb else [(NONE, involved)]
    clean = {
        detail.code: next(c.code for c in detail.choices if c.code not in detail.spoils)
        for detail in measure.details
    }
    return [
        replace(
            Reading(
                measure=measure.code, limb=limb, value=value, on=on, key=key_of(rule),
                details=clean, ref=index,
            ),
            **changes,  # type: ignore[arg-type]
        )
        for index, (limb, value) in enumerate(limbs, start=1)
    ]  # fmt: skip


def mass_on(day: date) -> Reading:
    """A body mass of 60 kg."""
    return Reading(measure="body_mass", limb=NONE, value=MASS, on=day, ref=99)


def margin_of(rule: Criterion) -> Decimal | None:
    """1.645 x SEM of the measure under the rule's conditions, from the catalogue's own numbers."""
    basis = BASES.get(rule.form)
    conditions = conditions_of(key=key_of(rule))
    if basis is None:
        return None
    error = CATALOGUE[rule.measure].error_of(of=basis, conditions=conditions)
    return None if error is None else Decimal("1.645") * error.sem


def sides_of(rule: Criterion, threshold: Decimal) -> Iterator[tuple[str, Decimal, Result]]:
    """Numbers at, just past and far past the threshold, on either side, and what each gives."""
    step = Decimal(1) if CATALOGUE[rule.measure].grades else STEP
    edge = margin_of(rule)
    good = 1 if rule.operator in UPWARD else -1
    strict = rule.operator in (Operator.GREATER, Operator.LESS)
    near = (Result.MET_BORDERLINE, Result.NOT_MET_BORDERLINE)
    met, short = near if edge is not None else (Result.MET, Result.NOT_MET)
    yield "at the threshold", threshold, short if strict else met
    yield "just past", threshold + good * step, met
    yield "just short", threshold - good * step, short
    if edge is not None:
        yield "as far past as the error", threshold + good * edge, Result.MET_BORDERLINE
        yield "past the error", threshold + good * (edge + step), Result.MET
        yield "as far short as the error", threshold - good * edge, Result.NOT_MET_BORDERLINE
        yield "short by more than the error", threshold - good * (edge + step), Result.NOT_MET


def threshold_of(rule: Criterion) -> Decimal:
    """What is asked of the invented woman of the builders."""
    return rule.value_by_sex.get("female", rule.value)


def clearly_met(rule: Criterion) -> Decimal:
    """A number well past the threshold."""
    good = 1 if rule.operator in UPWARD else -1
    grades = CATALOGUE[rule.measure].grades
    strict = rule.operator in (Operator.GREATER, Operator.LESS)
    if grades:
        return rule.value if not strict else rule.value + good
    return threshold_of(rule) + good * ((margin_of(rule) or Decimal(0)) + STEP)


def first_day(rule: Criterion) -> date:
    """The first day on which the rule may be judged."""
    return SURGERY + timedelta(weeks=rule.earliest_week or 0)
