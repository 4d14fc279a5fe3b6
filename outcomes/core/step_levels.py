"""Rules of one level: what its own criteria, time, sides, load and graft say about a step up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Final

from outcomes.core.gates import later_codes
from outcomes.core.grades import kept_by
from outcomes.core.progressions import (
    Effect,
    Level,
    Nature,
    Progression,
    Requirement,
    Standing,
    StepReason,
)
from outcomes.core.step_places import Place, step_condition
from outcomes.core.step_record import (
    Judged,
    StepRecord,
    has_conditions,
    judge_requirement,
    judged_reason,
    reading_reason,
)
from outcomes.core.symmetry import is_other_limb_fair
from outcomes.core.values import Measure, Pair, ReadingStatus, Why

FORWARD: Final = "pelvic_drop_forward_heel_touch"
FIRST_MOVEMENT: Final = "first_movement"


def level_reasons(*, standing: Standing, here: Place, record: StepRecord) -> Iterator[StepReason]:
    """What takes this level back, what has to be on record before more, and what is to be seen."""
    level = standing.progression.levels[here.index]
    step = step_condition(level=level, at=here.at)
    for requirement in level.step_back:
        judged = judge_requirement(requirement=requirement, record=record, step=step)
        if _takes_back(judged):
            yield judged_reason(
                rule="step_back", effect=Effect.TAKES_BACK, judged=judged, record=record
            )
    for requirement in level.advance:
        yield from requirement_reasons(
            rule="advance", requirement=requirement, record=record, step=step
        )
    for code in level.alike:
        yield _alike(record, code, step)
    due = standing.since + timedelta(days=level.minimum_days)
    if level.minimum_days:
        long = record.on >= due
        yield StepReason(
            rule="long_enough" if long else "too_soon_at_level",
            effect=Effect.FOR if long else Effect.HOLDS,
            facts={
                "days": str(level.minimum_days),
                "since": standing.since.isoformat(),
                "from": due.isoformat(),
            },
        )
    for text in level.look_for:
        yield StepReason(rule="look_for", effect=Effect.ADVICE, facts={"text": text})


def _takes_back(judged: Judged) -> bool:
    """A bad grade is bad whatever trick was used beside it."""
    tricks = (Why.KEPT_LEVEL_BY, Why.DETAIL_MISSING)
    why = judged.found.why
    return judged.truth is True or (why is not None and why.why in tricks)


def requirement_reasons(
    *, rule: str, requirement: Requirement, record: StepRecord, step: Mapping[str, str]
) -> Iterator[StepReason]:
    """One requirement as a reason, where it concerns this graft: met, or open and then held."""
    if not requirement.concerns(graft=record.graft):
        return
    judged = judge_requirement(requirement=requirement, record=record, step=step)
    held = Effect.HOLDS if requirement.hard else Effect.ADVICE
    yield judged_reason(
        rule=f"{rule}_{'met' if judged.truth is True else 'open'}",
        effect=Effect.FOR if judged.truth is True else held,
        judged=judged,
        record=record,
    )


def entry_reasons(
    *, progression: Progression, up: Place, record: StepRecord
) -> Iterator[StepReason]:
    """What has to be on record to enter the next level: its time, its requirements, its load."""
    level = progression.levels[up.index]
    for requirement in level.enter:
        yield from requirement_reasons(
            rule="enter", requirement=requirement, record=record, step={}
        )
    yield from _week(progression, level, record)
    if progression.beyond(index=up.index, goal=record.facts.goal):
        yield StepReason(rule="beyond_goal", effect=Effect.HOLDS, facts={"goal": record.facts.goal})
    if level.steps is not None and up.at is None:
        yield StepReason(rule="no_body_mass", effect=Effect.HOLDS)
    for caution in level.cautions:
        past = caution.before_week is not None and (record.week or 0) >= caution.before_week
        if record.graft in caution.grafts and not past:
            yield StepReason(
                rule="graft_caution",
                effect=Effect.ADVICE,
                facts={"graft": record.graft, "text": caution.text},
            )


def _week(progression: Progression, level: Level, record: StepRecord) -> Iterator[StepReason]:
    facts, week = record.facts, record.week
    codes = later_codes(facts=replace(facts, graft=record.graft))
    earliest = max([level.earliest_week, *(weeks for code, weeks in level.later if code in codes)])
    earliest += sum(weeks for code, weeks in progression.weeks_later if code in codes)
    if facts.kind in progression.waived_for or not earliest:
        return
    early = week is None or week < earliest
    yield StepReason(
        rule="too_early" if early else "week_reached",
        effect=Effect.HOLDS if early else Effect.FOR,
        facts={"week": "" if week is None else str(week), "earliest_week": str(earliest)},
    )


def first_movement_reasons(
    *, standing: Standing, here: Place, up: Place | None, record: StepRecord
) -> Iterator[StepReason]:
    """A drop at the first movement of a forward heel touch: hip work before more step-downs.

    On a step-down it takes back to hip work, if seen since that level was begun; before one it
    holds; at hip work it is told. Common practice, no source.
    """
    progression = standing.progression
    newest = next(iter(record.mine(code=FORWARD)), None)
    if not progression.hip_work or newest is None or not newest.value:
        return
    if newest.details.get("when") != FIRST_MOVEMENT:
        return
    age = record.catalogue[FORWARD].maximum_age_days
    if age is not None and newest.on < record.on - timedelta(days=age):
        return
    now = here.index >= 0 and Nature.STEP_DOWN in progression.levels[here.index].nature
    ahead = up is not None and Nature.STEP_DOWN in progression.levels[up.index].nature
    effect = Effect.HOLDS if now or ahead else Effect.TOLD
    yield reading_reason(
        rule="drop_at_first_movement",
        effect=Effect.TAKES_BACK if now and newest.on > standing.since else effect,
        measure=record.catalogue[FORWARD],
        reading=newest,
        hip_work=progression.hip_work,
    )


def _alike(record: StepRecord, code: str, step: Mapping[str, str]) -> StepReason:
    """Whether both sides look alike at this step: the operated or injured one is not the worse."""
    measure = record.catalogue[code]
    if not is_other_limb_fair(facts=record.facts):
        return StepReason(rule="alike_not_comparable", effect=Effect.TOLD, facts={"measure": code})
    pair = next(
        (one for one in record.history.pairs(code=code) if _usable(record, measure, one, step)),
        None,
    )
    if pair is None:
        return StepReason(rule="alike_not_tested", effect=Effect.HOLDS, facts={"measure": code})
    knee = record.facts.knee
    mine, other = pair.of(limb=knee), pair.of(limb=knee.opposite)
    if mine is None or other is None or mine.value is None or other.value is None:
        raise AssertionError("a pair without both values was let through")
    tricks = any(kept_by(measure=measure, reading=one) for one in (mine, other))
    worse = mine.value > other.value
    rule = "alike_by_trick" if tricks else "not_alike" if worse else "alike"
    return StepReason(
        rule=rule,
        effect=Effect.HOLDS if tricks or worse else Effect.FOR,
        facts={
            "measure": code,
            "value": measure.word(value=mine.value),
            "other": measure.word(value=other.value),
            "date": pair.on.isoformat(),
        },
        refs=(*mine.refs, *other.refs),
    )


def _usable(record: StepRecord, measure: Measure, pair: Pair, step: Mapping[str, str]) -> bool:
    """Both limbs measured lately under the condition of the step, since the operation."""
    age = measure.maximum_age_days
    recent = age is None or pair.on >= record.on - timedelta(days=age)
    both = [one for one in (pair.left, pair.right) if one is not None]
    return (
        recent
        and record.history.bears_on_today(on=pair.on)
        and all(one.status is ReadingStatus.MEASURED and one.value is not None for one in both)
        and all(has_conditions(reading=one, wanted=step) for one in both)
    )
