"""The next step of each progression of a knee: proposed from the record, in words, with why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from clinic import clock
from clinic.models import care
from clinic.queries.care import open_episodes
from outcomes.core.next_step import KneeToday, next_steps_of_knees
from outcomes.core.progressions import Proposal, Standing
from outcomes.core.values import EpisodeFacts
from outcomes.models.plans import ANSWERED, PlanStep
from outcomes.queries.catalogue import InForce, in_force
from outcomes.queries.judging import Record, records_of
from outcomes.queries.plan import (
    PlanLine,
    of_this_knee,
    plan_lines,
    plans_of,
    progressions,
    standing_of,
)
from outcomes.queries.proposal_words import Ground, ProposalWords, proposal_words


@dataclass(frozen=True, kw_only=True, slots=True)
class Gathered:
    """What the next steps of an episode rest on, on a day. ``newest``: the last step of each
    progression, also one from before the operation; ``knees``: the same of each followed knee of
    the patient, this one among them, in a fixed order."""

    episode: care.Episode
    record: Record
    rules: InForce
    newest: Mapping[str, PlanStep]
    on: date
    knees: Sequence[Gathered] = ()

    @property
    def steps(self) -> dict[str, PlanStep]:
        """The plan by progression."""
        return of_this_knee(steps=self.newest, facts=self.facts)

    @property
    def facts(self) -> EpisodeFacts:
        """What the core knows of the knee."""
        return self.record.facts

    @property
    def standings(self) -> dict[str, Standing]:
        """Where the knee stands in each progression."""
        return {
            code: standing_of(
                progression=one, step=self.steps.get(code), opened_on=self.episode.opened_on
            )
            for code, one in progressions().items()
        }

    def answered(self, code: str) -> bool:
        """Whether its proposal was answered today: nothing is asked twice at a visit."""
        step = self.steps.get(code)
        return step is not None and step.answered_on == self.on and step.answer in ANSWERED

    @property
    def asking(self) -> dict[str, Standing]:
        """Where the knee stands in each progression of which a step is proposed today."""
        if not self.episode.site.proposals:
            return {}
        return {code: one for code, one in self.standings.items() if not self.answered(code)}

    @property
    def step_taken(self) -> bool:
        """Whether a step up was taken today in any progression of any knee of the patient."""
        return any(
            step.move == "progress" and step.answered_on == self.on
            for knee in self.knees
            for step in knee.steps.values()
        )


def gather(*, episode: care.Episode) -> Gathered:
    """The record of an episode as it stands on its local today, and of the patient's other knee.

    At most seventeen statements.
    """
    rules, on = in_force(), clock.today(episode.site)
    others = open_episodes(patient_id=episode.patient_id)
    episodes = [episode, *(one for one in others if one.pk != episode.pk)]
    records = records_of(episodes=episodes, rules=rules)
    plans = plans_of(episode_ids=[one.pk for one in episodes])
    found = [
        Gathered(episode=one, record=records[one.pk], rules=rules, newest=plans[one.pk], on=on)
        for one in episodes
    ]
    return replace(found[0], knees=sorted(found, key=lambda one: one.episode.pk))


@dataclass(frozen=True, kw_only=True, slots=True)
class ProgressionWords:
    """One progression: the plan now, and what is proposed unless it was answered today."""

    code: str
    label: str
    aim: str
    plan: PlanLine | None
    proposal: ProposalWords | None
    answered: bool


def progression_words(*, gathered: Gathered) -> Sequence[ProgressionWords]:
    """Every progression with its plan and its proposal; none is proposed where that is off."""
    lines = {line.code: line for line in plan_lines(steps=gathered.steps)}
    proposals = proposals_of(gathered=gathered)
    return [
        ProgressionWords(
            code=code,
            label=one.label,
            aim=one.aim,
            plan=lines.get(code),
            proposal=proposals.get(code),
            answered=gathered.answered(code),
        )
        for code, one in progressions().items()
    ]


def proposals_of(*, gathered: Gathered) -> dict[str, ProposalWords]:
    """The proposals that are open today, at most one step up over all of them
    and over both knees."""
    standings = gathered.asking
    found = core_proposals(gathered=gathered)
    readings = {reading.ref: reading for reading in gathered.record.readings}
    return {
        code: proposal_words(
            proposal=proposal,
            ground=Ground(
                standing=standings[code],
                step=gathered.steps.get(code),
                episode=gathered.episode,
                record=gathered.record,
                rules=gathered.rules,
                readings=readings,
                on=gathered.on,
            ),
        )
        for code, proposal in zip(standings, found, strict=True)
    }


def core_proposals(*, gathered: Gathered) -> tuple[Proposal, ...]:
    """What the core proposes of this knee from the record, with the other one beside it."""
    found = next_steps_of_knees(
        knees=[_knee(one) for one in gathered.knees],
        catalogue=gathered.rules.measures,
        readings=gathered.record.readings,
        on=gathered.on,
        step_taken=gathered.step_taken,
    )
    mine = [one.episode.pk for one in gathered.knees].index(gathered.episode.pk)
    return found[mine]


def _knee(gathered: Gathered) -> KneeToday:
    record = gathered.record
    return KneeToday(
        standings=list(gathered.asking.values()),
        facts=record.facts,
        restrictions=record.restrictions,
        events=record.events,
        red_flags=record.red_flags,
        unconfirmed=record.visits.unconfirmed,
    )
