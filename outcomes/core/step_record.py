"""What is on record of a patient on a day, as the rules of a step look at it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from outcomes.core.criteria import judge_criterion
from outcomes.core.evidence import latest_body_mass
from outcomes.core.history import History
from outcomes.core.logic import any_of
from outcomes.core.looks_at_tests import test_reasons
from outcomes.core.progressions import Effect, Requirement, StepReason
from outcomes.core.quantities import plain
from outcomes.core.readings import conditions_of
from outcomes.core.symmetry import why_other_limb_is_not_fair
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    EpisodeFacts,
    Event,
    Limb,
    Measure,
    NotAssessable,
    Reading,
    Reason,
    RedFlag,
    Restriction,
    Unconfirmed,
    Why,
)

WITH_GRAFT: Final = ("reconstruction", "revision")
UNKNOWN: Final = "unknown"
RECENT_DAYS: Final = 14
"""How old a pain, an effusion or a soreness may be to speak for a step (setting of this house)."""


def graft_of(*, facts: EpisodeFacts) -> str:
    """The graft; unknown where it is not stated, and empty where none was taken."""
    return (facts.graft or UNKNOWN) if facts.kind in WITH_GRAFT else ""


@dataclass(frozen=True, kw_only=True)
class StepRecord:
    """The record of one patient up to a day: what was measured, what happened, what is limited."""

    facts: EpisodeFacts
    catalogue: Mapping[str, Measure]
    readings: Sequence[Reading]
    restrictions: Sequence[Restriction]
    events: Sequence[Event]
    on: date
    red_flags: Sequence[RedFlag] = ()
    unconfirmed: Sequence[Unconfirmed] = ()
    history: History = field(init=False, repr=False)
    looks: Mapping[str, Reason] = field(init=False, repr=False)
    body_mass: Reading | None = field(init=False)

    def __post_init__(self) -> None:
        history = History(
            facts=self.facts, catalogue=self.catalogue, readings=self.readings, on=self.on
        )
        start = [self.facts.index_date] if self.facts.index_date else []
        found = test_reasons(
            history=history, restrictions=self.restrictions, hot_on=(), operated=start
        )
        mass = latest_body_mass(catalogue=self.catalogue, readings=self.readings, on=self.on)
        object.__setattr__(self, "history", history)
        object.__setattr__(self, "looks", {reason.code: reason for reason in found})
        object.__setattr__(self, "body_mass", mass)

    @property
    def week(self) -> int | None:
        """Completed weeks since the index date; None before it."""
        return self.history.week(on=self.on)

    @property
    def graft(self) -> str:
        """The graft; unknown where it is not stated, and empty where none was taken."""
        return graft_of(facts=self.facts)

    def mine(self, *, code: str) -> list[Reading]:
        """Values of the involved limb, or of none where the measure has none, newest first.

        What was read on the other side of the operation says nothing of the knee of today.
        """
        measure = self.catalogue.get(code)
        if measure is None:
            return []
        limb = self.facts.knee if measure.per_limb else Limb.NONE
        found = self.history.valued(code=code, limb=limb)
        return [one for one in found if self.history.bears_on_today(on=one.on)]

    def recent(self, *, code: str) -> list[Reading]:
        """Those of the last fourteen days."""
        oldest = self.on - timedelta(days=RECENT_DAYS)
        return [one for one in self.mine(code=code) if one.on >= oldest]

    def in_force(self, *, kinds: Sequence[str]) -> tuple[Restriction | Unconfirmed, ...]:
        """What limits these kinds on the day: procedures not confirmed, and limits that hold."""
        return (
            *(one for one in self.unconfirmed if not set(one.kinds).isdisjoint(kinds)),
            *(one for one in self.restrictions if one.kind in kinds and one.in_force(on=self.on)),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Judged:
    """A requirement on a day: true, false or not known, and the criterion that says so."""

    requirement: Requirement
    truth: bool | None
    found: CriterionResult


def has_conditions(*, reading: Reading, wanted: Mapping[str, str]) -> bool:
    """Whether a test was done under these conditions; what they do not name is free.

    >>> from outcomes.core.values import Limb
    >>> made = Reading(measure="standing_hip_hold", limb=Limb.LEFT, value=Decimal(20),
    ...                on=date(2026, 5, 1), key="added_load=2;hand_support=no")
    >>> has_conditions(reading=made, wanted={"hand_support": "no"})
    True
    """
    found = conditions_of(key=reading.key)
    return all(found.get(code) == value for code, value in wanted.items())


def judge_requirement(
    *, requirement: Requirement, record: StepRecord, step: Mapping[str, str]
) -> Judged:
    """Whether what is required is on record: any one of its criteria, by the rules of milestones.

    ``step`` is the condition of the step that the limb stands at; it counts where the requirement
    asks for it.
    """
    more = step if requirement.at_step else {}
    results = [
        _judge(criterion=one, record=record, wanted={**conditions_of(key=one.key), **more})
        for one in requirement.criteria
    ]
    truths = [one.result.truth for one in results]
    truth = any_of(values=truths)
    telling = results[truths.index(truth)]
    return Judged(requirement=requirement, truth=truth, found=telling)


def _judge(
    *, criterion: Criterion, record: StepRecord, wanted: Mapping[str, str]
) -> CriterionResult:
    own = [one for one in record.readings if one.measure == criterion.measure]
    under = [one for one in own if has_conditions(reading=one, wanted=wanted)]
    return judge_criterion(
        criterion=replace(criterion, key=""),
        measure=record.catalogue[criterion.measure],
        readings=under,
        facts=record.facts,
        on=record.on,
        body_mass=record.body_mass,
    )


def reading_reason(
    *, rule: str, effect: Effect, measure: Measure, reading: Reading, **more: str
) -> StepReason:
    """A reason that rests on one reading. Raises ``AssertionError`` for one without a value."""
    if reading.value is None:
        raise AssertionError("a reading without a value was let through")
    facts = {
        "measure": measure.code,
        "value": value_text(measure=measure, value=reading.value),
        "unit": measure.unit,
        "limb": reading.limb.value,
        "date": reading.on.isoformat(),
        **more,
    }
    return StepReason(rule=rule, effect=effect, facts=facts, refs=reading.refs)


def value_text(*, measure: Measure, value: Decimal) -> str:
    """A value as an exact text: the word of a grade, else the number."""
    return measure.word(value=value) if measure.grades else plain(value=value)


def judged_reason(*, rule: str, effect: Effect, judged: Judged, record: StepRecord) -> StepReason:
    """A reason that rests on a requirement as it was judged."""
    found, requirement = judged.found, judged.requirement
    criterion = found.criterion
    measure = record.catalogue[criterion.measure]
    facts = {
        "code": requirement.code,
        "label": requirement.label,
        "measure": measure.code,
        "form": criterion.form.value,
        "operator": criterion.operator.value,
        "threshold": value_text(measure=measure, value=found.threshold),
        "result": found.result.value,
    }
    if found.value is not None:
        number = Decimal(found.value.numerator) / Decimal(found.value.denominator)
        facts["value"] = value_text(measure=measure, value=number)
    if found.on is not None:
        facts["date"] = found.on.isoformat()
    if isinstance(found.why, NotAssessable):
        facts["why"] = found.why.why.value
        facts["detail"] = found.why.detail
        if found.why.why is Why.OTHER_LIMB_NOT_FAIR:
            facts["detail"] = why_other_limb_is_not_fair(facts=record.facts) or ""
    return StepReason(rule=rule, effect=effect, facts=facts, refs=found.refs)
