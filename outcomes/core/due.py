"""What a visit asks beyond the set of its week: what is out of date, and what was planned.

Which of it a visit asks for is a setting of this house; the judgement itself is that of milestones.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from outcomes.core.progressions import Level
from outcomes.core.step_record import graft_of
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    EpisodeFacts,
    MilestoneResult,
    Reading,
    Reason,
    Result,
    Subject,
)


class Because(StrEnum):
    """Why a measure is asked for beside those of the week."""

    OUT_OF_DATE = "out_of_date"
    PLANNED = "planned"


@dataclass(frozen=True, kw_only=True, slots=True)
class Due:
    """A measure that is asked for, and why. ``key`` are the conditions that its criterion names.

    ``on`` is the first day on which it did not count any more, or the day of the plan; ``of`` names
    the milestone, the progression or the plan.
    """

    measure: str
    because: Because
    on: date
    of: str
    key: str = ""


def out_of_date(*, milestone: MilestoneResult) -> tuple[Due, ...]:
    """What a milestone asks, hard or advisory, and was measured too long ago to count.

    A member of a group that is recorded as met is not needed any more. Scores and events are not
    measured at a visit.
    """
    return tuple(
        Due(
            measure=found.criterion.measure,
            because=Because.OUT_OF_DATE,
            on=found.on + timedelta(days=found.criterion.maximum_age_days + 1),
            of=milestone.milestone.label,
            key=found.criterion.key,
        )
        for found in _needed(milestone)
        if found.result is Result.OUT_OF_DATE and found.on is not None
    )


def to_recheck(
    *, milestone: MilestoneResult, readings: Sequence[Reading], planned_on: date, again_on: date
) -> tuple[Due, ...]:
    """What a decision left open and is to be looked at again from ``again_on``: not measured since.

    Open is every criterion that is not recorded as met on the day of the judgement.
    """
    return tuple(
        _planned(found.criterion, on=planned_on, of=milestone.milestone.label)
        for found in _needed(milestone)
        if found.result.truth is not True
        and not measured(code=found.criterion.measure, readings=readings, since=again_on)
    )


def for_step(
    *,
    level: Level,
    of: str,
    facts: EpisodeFacts,
    readings: Sequence[Reading],
    since: date,
    planned_on: date,
    on: date,
) -> tuple[Due, ...]:
    """What the level of a plan must show before the next step and was not measured since the plan.

    Nothing before the level was trained for its shortest time, which runs ``since`` it was begun:
    an answer to stay with it is a newer plan, not a new beginning. Of several tests that show
    the same, the first is asked for; advice asks for none.
    """
    after = planned_on + timedelta(days=1)
    if on < max(after, since + timedelta(days=level.minimum_days)):
        return ()
    asking = (
        one for one in level.advance if one.hard and one.concerns(graft=graft_of(facts=facts))
    )
    return tuple(
        _planned(one.criteria[0], on=planned_on, of=of)
        for one in asking
        if one.criteria[0].subject is Subject.MEASURE
        and not any(
            measured(code=each.measure, readings=readings, since=after) for each in one.criteria
        )
    )


def to_look_again(
    *, reason: Reason, readings: Sequence[Reading], planned_on: date, again_on: date, of: str
) -> tuple[Due, ...]:
    """What a reason to look rests on, to be looked at again from a day: not measured since."""
    seen = dict.fromkeys(one.measure for one in readings if one.ref in reason.refs)
    return tuple(
        Due(measure=code, because=Because.PLANNED, on=planned_on, of=of)
        for code in seen
        if not measured(code=code, readings=readings, since=again_on)
    )


def measured(*, code: str, readings: Iterable[Reading], since: date) -> bool:
    """Whether a test was taken up on a day or later, also where it could not be finished.

    >>> from outcomes.core.values import Limb
    >>> hop = Reading(measure="single_hop", limb=Limb.LEFT, value=None, on=date(2026, 5, 1))
    >>> days = date(2026, 5, 1), date(2026, 5, 2)
    >>> [measured(code="single_hop", readings=[hop], since=day) for day in days]
    [True, False]
    """
    return any(one.measure == code and one.on >= since for one in readings)


def _needed(milestone: MilestoneResult) -> list[CriterionResult]:
    """The criteria on measures, without the members of groups that are met."""
    settled = {
        code
        for found in milestone.criteria
        if found.criterion.subject is Subject.GROUP and found.result.truth is True
        for code in found.criterion.of
    }
    return [
        found
        for found in milestone.criteria
        if found.criterion.subject is Subject.MEASURE and found.criterion.code not in settled
    ]


def _planned(criterion: Criterion, *, on: date, of: str) -> Due:
    return Due(measure=criterion.measure, because=Because.PLANNED, on=on, of=of, key=criterion.key)
