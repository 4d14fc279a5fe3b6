"""The whole record of many episodes as the core judges it, and the judgement of one of them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from django.db.models import QuerySet

from clinic.models import care
from outcomes.core.status import StatusToday, judge
from outcomes.core.values import (
    EpisodeFacts,
    Event,
    GateAside,
    Limb,
    MilestoneResult,
    MilestoneState,
    Protocol,
    Reading,
    RedFlag,
    Restriction,
    Score,
    Subject,
    VisitFacts,
)
from outcomes.models.record import Decision
from outcomes.queries.attendance import visit_facts_of
from outcomes.queries.catalogue import InForce
from outcomes.queries.events import events_of
from outcomes.queries.looks import Answer, newest_answers
from outcomes.queries.questionnaires import scores_of
from outcomes.queries.record import episode_facts, limited_of, readings_of
from outcomes.queries.red_flags import red_flags_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Record:
    """Everything that one episode is judged on, and what was answered and decided."""

    protocol: str
    facts: EpisodeFacts
    readings: Sequence[Reading]
    restrictions: Sequence[Restriction]
    asides: Sequence[GateAside]
    visits: VisitFacts
    red_flags: Sequence[RedFlag]
    events: Sequence[Event]
    scores: Sequence[Score]
    answers: Mapping[str, Answer]
    decided: frozenset[str]


def records_of(
    *, episodes: Sequence[care.Episode], rules: InForce, scored: bool = False
) -> dict[int, Record]:
    """The record of each episode, in at most fourteen statements however many there are.

    Scores are read only of those whose protocol asks for one; of all with ``scored``.
    """
    ids = [episode.pk for episode in episodes]
    events = events_of(episodes=episodes)
    facts = episode_facts(episodes=episodes, events=events)
    readings = readings_of(patient_ids={episode.patient_id for episode in episodes})
    limited = limited_of(episode_ids=ids)
    visits = visit_facts_of(episodes=episodes, events=events)
    red_flags = red_flags_of(episodes=episodes)
    scores = scores_for(episodes=episodes, rules=rules, scored=scored)
    answers = newest_answers(episode_ids=ids)
    decided = goes_ahead(facts=facts)
    return {
        episode.pk: Record(
            protocol=episode.protocol,
            facts=facts[episode.pk],
            readings=readings[episode.patient_id],
            restrictions=limited[episode.pk].restrictions,
            asides=limited[episode.pk].asides,
            visits=visits[episode.pk],
            red_flags=red_flags[episode.pk],
            events=events[episode.pk],
            scores=scores.get(episode.pk, ()),
            answers=answers[episode.pk],
            decided=decided[episode.pk],
        )
        for episode in episodes
    }


def judge_record(*, record: Record, rules: InForce, on: date) -> StatusToday:
    """The one judgement of an episode on a day: every page, list and letter goes through it.

    Raises ``KeyError`` when the episode follows a protocol that is not kept.
    """
    return judge(
        facts=record.facts,
        catalogue=rules.measures,
        protocol=rules.protocols[record.protocol],
        readings=record.readings,
        restrictions=record.restrictions,
        asides=record.asides,
        visits=record.visits,
        red_flags=record.red_flags,
        events=record.events,
        scores=record.scores,
        on=on,
    )


def scores_for(
    *, episodes: Sequence[care.Episode], rules: InForce, scored: bool = False
) -> dict[int, tuple[Score, ...]]:
    """The scores of this knee, and those of the person, for episodes that are judged on one.

    Of all episodes with ``scored``. No statement where none is judged on one.
    """
    asking = [one for one in episodes if scored or _asks_scores(rules.protocols[one.protocol])]
    if not asking:
        return {}
    found = scores_of(patient_ids={one.patient_id for one in asking}, rules=rules)
    return {
        one.pk: tuple(
            score for limb, score in found[one.patient_id] if limb in (Limb.NONE, Limb(one.knee))
        )
        for one in asking
    }


def _asks_scores(protocol: Protocol) -> bool:
    return any(
        criterion.subject is Subject.SCORE
        for milestone in protocol.milestones
        for criterion in milestone.criteria
    )


def goes_ahead(*, facts: Mapping[int, EpisodeFacts]) -> dict[int, frozenset[str]]:
    """The milestones of each episode that a standing decision goes ahead with. One statement."""
    found: dict[int, set[str]] = {ident: set() for ident in facts}
    for episode_id, milestone, day in _all_ahead().filter(episode_id__in=list(facts)):
        if is_of_this_knee(decided_on=date.fromisoformat(day), facts=facts[episode_id]):
            found[episode_id].add(milestone)
    return {ident: frozenset(codes) for ident, codes in found.items()}


def is_of_this_knee(*, decided_on: date, facts: EpisodeFacts) -> bool:
    """Whether a decision speaks of the knee as it is: not when an operation has come after it."""
    return facts.index_date is None or decided_on >= facts.index_date


@cache
def _all_ahead() -> QuerySet[Decision, Any]:
    """Every standing decision that goes ahead; built once, as each judgement asks for some."""
    rows = Decision.objects.filter(kind="made", course="goes_ahead", superseded_by__isnull=True)
    return rows.values_list("episode_id", "milestone", "evidence__judged_on")


def next_milestone(
    *, milestones: Sequence[MilestoneResult], decided: Collection[str]
) -> MilestoneResult:
    """The one worked toward: after the last that was decided, the first not recorded as met.

    When all of those are recorded as met, or all are decided, it is the last one of the goal. What
    was asked before the operation is behind once it is done.
    """
    done = [n for n, one in enumerate(milestones) if one.milestone.code in decided]
    ahead = milestones[done[-1] + 1 :] if done else milestones
    open_ones = (
        one
        for one in ahead
        if one.state is not MilestoneState.RECORDED_AS_MET
        and not (one.milestone.before_surgery and one.state is MilestoneState.CRITERIA_MISSING)
    )
    return next(open_ones, milestones[-1])
