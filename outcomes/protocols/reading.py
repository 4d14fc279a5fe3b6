"""One protocol from one mapping, cross-checked against the catalogue it will be judged with."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from outcomes.catalogue.fields import Fields, sources_from
from outcomes.core.quantities import TypedError
from outcomes.core.readings import comparison_key, conditions_of
from outcomes.core.values import (
    Criterion,
    Form,
    Gate,
    Measure,
    Milestone,
    Operator,
    Protocol,
    SymmetryForm,
)
from outcomes.protocols.sets import sets_from

GOALS: Final = ("pivoting", "sideways", "straight_line", "no_sport")
KINDS: Final = ("waiting", "reconstruction", "repair", "revision", "without_surgery")
GRAFTS: Final = (
    "patellar_tendon", "hamstring", "quadriceps_tendon", "allograft", "other", "unknown",
)  # fmt: skip
RESTRICTIONS: Final = (
    "weight_bearing", "range", "brace", "open_chain", "hamstring_load", "loaded_flexion",
    "pivoting", "impact",
)  # fmt: skip
SEXES: Final = ("female", "male")
LATER: Final = frozenset(
    ["under_16", *(f"graft:{graft}" for graft in GRAFTS), *(f"kind:{kind}" for kind in KINDS)]
)
RATIOS: Final = (SymmetryForm.RATIO, SymmetryForm.INVERTED_RATIO)
HIGHEST_INDEX: Final = Decimal(150)


def protocol_from(
    mapping: Mapping[str, Any], catalogue: Mapping[str, Measure], *, where: str = "protocol"
) -> Protocol:
    """The protocol that a seed or a stored version describes, named like ``starter@1``.

    ``where`` names the file. Raises ``SeedError`` naming file and key for anything missing,
    unknown or contradictory, and for a criterion the catalogue cannot answer.
    """
    fields = Fields(mapping=mapping, where=where)
    code, version = fields.code("code"), fields.integer("version", at_least=1)
    milestones = tuple(
        _milestone(part, catalogue) for part in fields.parts("milestones", needed=True)
    )
    protocol = Protocol(
        code=f"{code}@{version}",
        label=fields.text("label"),
        milestones=milestones,
        last_by_goal=fields.table("last_by_goal"),
        sets=sets_from(fields, catalogue),
    )
    fields.done()
    codes = [milestone.code for milestone in milestones]
    if len(set(codes)) != len(codes):
        raise fields.refuse("milestones", "names one twice")
    if set(protocol.last_by_goal) != set(GOALS):
        raise fields.refuse("last_by_goal", f"must name each of {', '.join(GOALS)}")
    if not set(protocol.last_by_goal.values()) <= set(codes):
        raise fields.refuse("last_by_goal", "names a milestone that is not there")
    return protocol


def _milestone(fields: Fields, catalogue: Mapping[str, Measure]) -> Milestone:
    milestone = Milestone(
        code=fields.code("code"),
        label=fields.text("label"),
        gate=_gate(fields.part("gate")),
        criteria=tuple(
            criterion_from(part, catalogue) for part in fields.parts("criteria", needed=True)
        ),
        blocked_by=_known(fields, "blocked_by", RESTRICTIONS),
    )
    fields.done()
    codes = [criterion.code for criterion in milestone.criteria]
    if len(set(codes)) != len(codes):
        raise fields.refuse("criteria", "names one twice")
    if not any(criterion.hard for criterion in milestone.criteria):
        raise fields.refuse("criteria", "needs a hard one: never time alone")
    return milestone


def _known(fields: Fields, key: str, known: tuple[str, ...]) -> tuple[str, ...]:
    found = fields.texts(key)
    for code in found:
        if code not in known:
            raise fields.refuse(key, f"{code!r} is none of {', '.join(known)}")
    return found


def _gate(fields: Fields) -> Gate:
    later = fields.table("later")
    gate = Gate(
        weeks=fields.integer_or_none("weeks", at_least=1),
        months=fields.integer_or_none("months", at_least=1),
        sources=sources_from(fields),
        later=tuple(sorted(later.items())),
        waived_for=_known(fields, "waived_for", KINDS),
    )
    fields.done()
    if (gate.weeks is None) == (gate.months is None):
        raise fields.refuse("weeks", "give either weeks or months: never criteria alone")
    for code, months in later.items():
        if code not in LATER:
            raise fields.refuse(f"later.{code}", "is not known")
        if not isinstance(months, int) or isinstance(months, bool) or months <= (gate.months or 0):
            raise fields.refuse(f"later.{code}", "must be whole months, later than the gate")
    return gate


def criterion_from(fields: Fields, catalogue: Mapping[str, Measure]) -> Criterion:
    """One criterion, checked against the catalogue. Raises ``SeedError`` naming the key."""
    code, name = fields.code("code"), fields.code("measure")
    if name not in catalogue:
        raise fields.refuse("measure", f"{name!r} is not in the catalogue")
    measure = catalogue[name]
    threshold = fields.part("threshold")
    by_sex = fields.part("value_by_sex") if "value_by_sex" in fields else None
    criterion = Criterion(
        code=code,
        label=fields.text("label"),
        measure=name,
        form=fields.one_of("form", Form),
        operator=threshold.one_of("operator", Operator),
        value=_value(threshold, "value", measure),
        unit=threshold.text("unit"),
        hard=fields.truth("hard"),
        maximum_age_days=fields.integer("maximum_age_days", at_least=1),
        sources=sources_from(fields),
        key=_key(fields, measure),
        alike_to=_value(fields, "alike_to", measure) if "alike_to" in fields else None,
        value_by_sex={sex: by_sex.decimal(sex) for sex in SEXES} if by_sex else {},
        adults_only=fields.truth("adults_only", default=False),
    )
    for part in (fields, threshold, by_sex):
        if part is not None:
            part.done()
    _check_form(criterion, measure, fields)
    _check_value(criterion, measure, fields)
    return criterion


def _value(fields: Fields, key: str, measure: Measure) -> Decimal:
    """A number, or the word of a grade: files carry words, ranks stay inside."""
    if not measure.grades:
        return fields.decimal(key)
    word = fields.text(key)
    if word not in measure.grades:
        raise fields.refuse(key, f"{word!r} is none of {', '.join(measure.grades)}")
    return measure.rank(word=word)


def _key(fields: Fields, measure: Measure) -> str:
    key = fields.text("key", default="")
    if key:
        try:
            made = comparison_key(measure=measure, conditions=conditions_of(key=key))
        except (TypedError, ValueError) as error:
            raise fields.refuse("key", str(error)) from error
        if made != key:
            raise fields.refuse("key", f"is written {made!r}")
    return key


def _check_form(criterion: Criterion, measure: Measure, fields: Fields) -> None:
    fits = {
        Form.INVOLVED: not measure.grades,
        Form.GRADE: bool(measure.grades),
        Form.SYMMETRY: measure.symmetry in RATIOS,
        Form.SHORT_OF_OTHER: measure.symmetry is SymmetryForm.DIFFERENCE and not measure.grades,
        Form.PER_BODY_MASS: measure.per_body_mass,
    }
    if not fits[criterion.form]:
        raise fields.refuse("form", f"{criterion.form} does not go with {measure.code}")
    units = {Form.SYMMETRY: "%", Form.PER_BODY_MASS: "N.m/kg"}
    if criterion.unit != units.get(criterion.form, measure.unit):
        raise fields.refuse(
            "threshold", f"the unit {criterion.unit!r} does not go with {criterion.form}"
        )


def _check_value(criterion: Criterion, measure: Measure, fields: Fields) -> None:
    low, high = measure.hard
    if criterion.form is Form.SYMMETRY:
        low, high = Decimal(1), HIGHEST_INDEX
    if criterion.form is Form.SHORT_OF_OTHER:
        low, high = Decimal(0), high - low
    for value in (criterion.value, *criterion.value_by_sex.values()):
        if not low <= value <= high:
            raise fields.refuse("threshold", f"{value} is outside {low} to {high}")
    if criterion.alike_to is not None and (
        criterion.form is not Form.GRADE or criterion.alike_to <= criterion.value
    ):
        raise fields.refuse("alike_to", "is a grade worse than the value")
