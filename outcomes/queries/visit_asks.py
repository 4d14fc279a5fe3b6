"""What a visit asks beyond the set of its week, from the record as it stands on its day."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Any, Final

from clinic import words
from clinic.models.care import Episode
from clinic.queries.care import Told
from outcomes.catalogue.order import rank
from outcomes.catalogue.tasks import LED, PAIN, SEEN, TASKS, Task
from outcomes.core.due import Because, Due, for_step, out_of_date, to_look_again, to_recheck
from outcomes.core.history import History
from outcomes.core.judge import judge_protocol
from outcomes.core.looks_at_tests import test_reasons
from outcomes.core.readings import conditions_of
from outcomes.core.status import history_of
from outcomes.core.values import EpisodeFacts, Event, MilestoneResult, Reading, Score
from outcomes.models.record import Decision
from outcomes.queries.attendance import Asked
from outcomes.queries.catalogue import InForce
from outcomes.queries.judging import is_of_this_knee, next_milestone, scores_for
from outcomes.queries.looks import Answer, newest_answers
from outcomes.queries.plan import level_of, of_this_knee, plans_of, progressions
from outcomes.queries.record import limited

ACTIVE: Final = "active"
AGAIN: Final = "look again"
Json = dict[str, str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """A standing decision as it plans: which milestone, when it was decided, when to look again."""

    milestone: str
    ahead: bool
    decided_on: date
    again_on: date | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Planned:
    """What is planned of an episode: decisions, steps by progression, answers to reasons."""

    decisions: Sequence[Plan]
    steps: Mapping[str, Any]
    answers: Mapping[str, Answer]


@dataclass(frozen=True, kw_only=True)
class Knee:
    """One followed knee with everything that its judgement needs. ``readings`` end on the day."""

    episode: Episode
    facts: EpisodeFacts
    week: int | None
    told: Told
    unconfirmed: Sequence[Asked]
    events: Sequence[Event]
    readings: Sequence[Reading]
    scores: Sequence[Score]
    planned: Planned
    rules: InForce
    on: date

    @cached_property
    def history(self) -> History:
        """The readings, sorted as the core judges them."""
        return history_of(
            facts=self.facts, catalogue=self.rules.measures, readings=self.readings, on=self.on
        )

    @cached_property
    def milestones(self) -> tuple[MilestoneResult, ...]:
        """Every milestone judged on the day of the visit, by the one judge."""
        found = limited(told=self.told)
        return judge_protocol(
            protocol=self.rules.protocols[self.episode.protocol],
            catalogue=self.rules.measures,
            readings=self.history.readings,
            facts=self.facts,
            restrictions=found.restrictions,
            asides=found.asides,
            on=self.on,
            scores=self.scores,
            events=self.events,
            unconfirmed=[one.held for one in self.unconfirmed],
        )

    def too_early(self, *, code: str) -> bool:
        """Whether the catalogue does not have that test in this week yet."""
        earliest = self.rules.measures[code].earliest_week or 0
        return self.week is not None and self.week < earliest


def knees_of(
    *,
    episodes: Sequence[Episode],
    facts: Mapping[int, EpisodeFacts],
    weeks: Sequence[int | None],
    told: Mapping[int, Told],
    unconfirmed: Mapping[int, Sequence[Asked]],
    events: Mapping[int, Sequence[Event]],
    readings: Sequence[Reading],
    rules: InForce,
    on: date,
) -> list[Knee]:
    """The followed knees that are in active care. Three statements, and those of the scores.

    One whose protocol is not kept asks for nothing: a save must not fail over it.
    """
    there = [one for one in episodes if one.protocol in rules.protocols]
    active = [one for one in there if one.care_state == ACTIVE]
    if not active:
        return []
    week_of = {one.pk: week for one, week in zip(episodes, weeks, strict=True)}
    scores = scores_for(episodes=active, rules=rules)
    planned = _planned(facts={one.pk: facts[one.pk] for one in active})
    return [
        Knee(
            episode=one,
            facts=facts[one.pk],
            week=week_of[one.pk],
            told=told[one.pk],
            unconfirmed=unconfirmed[one.pk],
            events=events[one.pk],
            readings=readings,
            scores=scores.get(one.pk, ()),
            planned=planned[one.pk],
            rules=rules,
            on=on,
        )
        for one in active
    ]


def asked_beyond(*, knees: Sequence[Knee], there: frozenset[str]) -> tuple[Due, ...]:
    """What is asked beside ``there``: first what is out of date, then what was planned.

    Each measure once, within each kind in the order of a visit. A derived measure asks for what it
    is worked out from; what is seen in a task asks for the task. A test that the catalogue has only
    in a later week is left out; one that a limit holds is asked, and shown as held. With two
    followed knees the reason names its knee.
    """
    found: dict[str, Due] = {}
    for stale in (True, False):
        for knee in knees:
            side = f", {knee.facts.knee} knee" if len(knees) > 1 else ""
            for one in _out_of_date(knee) if stale else _what_was_planned(knee):
                for due in _typed(replace(one, of=one.of + side), knee):
                    found.setdefault(due.measure, due)
    left = [one for one in found.values() if one.measure not in there]
    return tuple(sorted(left, key=_place))


def _place(due: Due) -> tuple[bool, int, str]:
    return due.because is Because.PLANNED, rank(due.measure), due.measure


def _typed(due: Due, knee: Knee) -> Iterator[Due]:
    measures, task = knee.rules.measures, _task(due)
    derived = measures[due.measure].derived if due.measure in measures else None
    codes = (task.lead,) if task else derived.fresh if derived else (due.measure,)
    for code in codes:
        if code in measures and measures[code].typed and not knee.too_early(code=code):
            yield replace(due, measure=code, key="")


def _task(due: Due) -> Task | None:
    """The task that it is seen or asked in, where it has no row of its own."""
    named = conditions_of(key=due.key)
    if due.measure == PAIN:
        return LED.get(named.get("during", ""))
    return TASKS.get(named.get("task", "")) if due.measure in SEEN else None


def _out_of_date(knee: Knee) -> tuple[Due, ...]:
    """Of the milestone worked toward; none is worked toward once the last one is decided."""
    decided = {one.milestone for one in knee.planned.decisions if one.ahead}
    if knee.milestones[-1].milestone.code in decided:
        return ()
    return out_of_date(milestone=next_milestone(milestones=knee.milestones, decided=decided))


def _what_was_planned(knee: Knee) -> Iterator[Due]:
    yield from _of_decisions(knee)
    yield from _of_answers(knee)
    yield from _of_steps(knee)


def _of_decisions(knee: Knee) -> Iterator[Due]:
    """The newest decision on each milestone whose day to look again has come."""
    newest = {one.milestone: one for one in knee.planned.decisions}
    for found in knee.milestones:
        plan = newest.get(found.milestone.code)
        if plan is not None and plan.again_on is not None and plan.again_on <= knee.on:
            yield from to_recheck(
                milestone=found,
                readings=knee.readings,
                planned_on=plan.decided_on,
                again_on=plan.again_on,
            )


def _of_answers(knee: Knee) -> Iterator[Due]:
    """Reasons to look that were answered, still stand, and whose day to look again has come."""
    zone = knee.episode.site.zone
    due = {c: one for c, one in knee.planned.answers.items() if one.look_again_on <= knee.on}
    if not due:
        return
    operated = [knee.facts.index_date] if knee.facts.index_date else []
    limits = limited(told=knee.told).restrictions
    found = test_reasons(history=knee.history, restrictions=limits, hot_on=(), operated=operated)
    for reason in found:
        if reason.code in due:
            answer = due[reason.code]
            yield from to_look_again(
                reason=reason,
                readings=knee.readings,
                planned_on=answer.answered_on(zone=zone),
                again_on=answer.look_again_on,
                of=AGAIN,
            )


def _of_steps(knee: Knee) -> Iterator[Due]:
    """What the level of each plan must show before its next step."""
    steps = of_this_knee(steps=knee.planned.steps, facts=knee.facts)
    for code, progression in progressions().items():
        step = steps.get(code)
        level = level_of(progression=progression, code=step.level) if step else None
        if step is not None and level is not None:
            yield from for_step(
                level=level,
                of=progression.label,
                facts=knee.facts,
                readings=knee.readings,
                since=step.since,
                planned_on=step.answered_on,
                on=knee.on,
            )


def _planned(*, facts: Mapping[int, EpisodeFacts]) -> dict[int, Planned]:
    """What is planned of each episode. Three statements."""
    rows = Decision.objects.filter(
        episode_id__in=list(facts), kind="made", superseded_by__isnull=True
    ).order_by("id")
    decisions: dict[int, list[Plan]] = {pk: [] for pk in facts}
    for pk, milestone, course, again_on, judged_on in rows.values_list(
        "episode_id", "milestone", "course", "recheck_on", "evidence__judged_on"
    ):
        decided_on = date.fromisoformat(judged_on)
        if is_of_this_knee(decided_on=decided_on, facts=facts[pk]):
            plan = Plan(
                milestone=milestone,
                ahead=course == "goes_ahead",
                decided_on=decided_on,
                again_on=again_on,
            )
            decisions[pk].append(plan)
    steps, answers = plans_of(episode_ids=list(facts)), newest_answers(episode_ids=list(facts))
    return {
        pk: Planned(decisions=decisions[pk], steps=steps[pk], answers=answers[pk]) for pk in facts
    }


def due_words(*, due: Due, on: date) -> str:
    """Why it is asked for, in one short line."""
    day = words.short_day(due.on, today=on)
    if due.because is Because.OUT_OF_DATE:
        return f"Out of date since {day} for {due.of}"
    return f"Planned on {day}: {due.of}"


def due_json(due: Due) -> Json:
    """The same to be kept with a draft."""
    return {
        "measure": due.measure,
        "because": due.because.value,
        "on": due.on.isoformat(),
        "of": due.of,
    }


def due_in(row: Json) -> Due:
    """What ``due_json`` wrote."""
    return Due(
        measure=row["measure"],
        because=Because(row["because"]),
        on=date.fromisoformat(row["on"]),
        of=row["of"],
    )
