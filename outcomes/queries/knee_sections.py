"""One followed knee of the patient page: limits, reasons, milestones, decisions and its course."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from clinic import words
from clinic.models import care
from clinic.queries.care import Limit
from outcomes.charts.marks import LimbMark
from outcomes.core.values import Event, Limb, MilestoneResult, Reading, Reason, Result
from outcomes.models.plans import PlanStep
from outcomes.queries.beams import marks_of
from outcomes.queries.catalogue import InForce
from outcomes.queries.decisions import DecisionWords
from outcomes.queries.events import EventLine, event_line, on_charts
from outcomes.queries.judging import is_of_this_knee, next_milestone
from outcomes.queries.kept import Kept
from outcomes.queries.knee_words import KneeWords, PageHead, knee_words, state_words
from outcomes.queries.milestone_words import (
    MilestoneWords,
    count_words,
    earliest_words,
    first_open,
    milestone_words,
)
from outcomes.queries.numbers import number_address
from outcomes.queries.plan import PlanLine, current_lines, of_this_knee
from outcomes.queries.result_words import RESULT
from outcomes.queries.trends import CODE, Course, Ground, course_of

NOT_CONFIRMED = "limits_not_confirmed"


@dataclass(frozen=True, kw_only=True, slots=True)
class CourseChoice:
    """One course that can be shown, and whether it is."""

    code: str
    address: str
    label: str
    shown: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Courses:
    """The course that is shown, and all that could be."""

    shown: Course | None
    choices: Sequence[CourseChoice]


@dataclass(frozen=True, kw_only=True, slots=True)
class DecidedMilestone:
    """A milestone with the newest decision that stands on it, if there is one."""

    says: MilestoneWords
    decision: DecisionWords | None


@dataclass(frozen=True, kw_only=True, slots=True)
class OtherMilestone:
    """A milestone in one line: its counts, a mark for each criterion, and what was decided.

    ``first``: the first thing that stands in the way, in words; empty where nothing does.
    """

    code: str
    label: str
    earliest: str
    counts: str
    first: str
    marks: Sequence[tuple[Result, str]]
    decision: DecisionWords | None


@dataclass(frozen=True, kw_only=True, slots=True)
class KneeSection:
    """One followed knee. ``ahead`` is the milestone worked toward, ``others`` the rest."""

    episode: care.Episode
    says: KneeWords
    care: str
    goal: str
    protocol: str
    protocol_at: str
    reasons: Sequence[Reason]
    events: Sequence[EventLine]
    plan: Sequence[PlanLine]
    ahead: DecidedMilestone
    others: Sequence[OtherMilestone]
    courses: Courses


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """What the sections are made of: the shown episodes and everything that was read for them.

    ``readings`` are those that results rest on, those of the course that is shown, and body mass.
    """

    shown: Sequence[care.Episode]
    kept: Mapping[int, Kept]
    rules: InForce
    readings: Sequence[Reading]
    codes: Sequence[str]
    course: str
    limits: Mapping[int, Sequence[Limit]]
    events: Mapping[int, Sequence[Event]]
    decisions: Mapping[int, Sequence[DecisionWords]]
    plans: Mapping[int, Mapping[str, PlanStep]]
    on: date

    @property
    def knees(self) -> frozenset[Limb]:
        """The knees that the page is about."""
        return frozenset(Limb(episode.knee) for episode in self.shown)

    @property
    def marks(self) -> Mapping[Limb, LimbMark]:
        """The mark of each limb."""
        return dict(zip((Limb.LEFT, Limb.RIGHT), marks_of(knees=self.knees), strict=True))

    def head(self, limb: Limb) -> PageHead:
        """The head of a page: operated, injured or other side."""
        mine = next((one for one in self.shown if one.knee == limb.value), None)
        said = "other side" if mine is None else state_words(episode=mine)
        return PageHead(limb=limb, mark=self.marks[limb], words=said)


def section_of(*, source: Source, episode: care.Episode) -> KneeSection:
    """Everything the page says of one knee."""
    kept = source.kept[episode.pk]
    first, *others = _ordered(source=source, episode=episode)
    return KneeSection(
        episode=episode,
        says=_says(source=source, episode=episode, reasons=kept.status.reasons),
        care=care_words(episode=episode),
        goal=goal_words(episode=episode),
        protocol=source.rules.protocols[episode.protocol].named,
        protocol_at=reverse("protocol", args=episode.protocol.split("@")),
        reasons=kept.status.reasons,
        events=[
            event_line(event=one, episode=episode) for one in reversed(source.events[episode.pk])
        ],
        plan=current_lines(steps=of_this_knee(steps=source.plans[episode.pk], facts=kept.facts)),
        ahead=decided_milestone(source=source, episode=episode, found=first),
        others=[_in_a_line(source=source, episode=episode, found=one) for one in others],
        courses=courses_of(source=source, episode=episode),
    )


def _says(*, source: Source, episode: care.Episode, reasons: Sequence[Reason]) -> KneeWords:
    unconfirmed = [r.facts["procedures"] for r in reasons if r.code == NOT_CONFIRMED]
    return knee_words(
        episode=episode,
        knees=source.knees,
        limits=source.limits[episode.pk],
        to_confirm=unconfirmed,
        on=source.on,
    )


def care_words(*, episode: care.Episode) -> str:
    """The care state with its day and reason; empty while active."""
    if episode.care_state == "active":
        return ""
    until = f" until {words.day(episode.care_until)}" if episode.care_until else ""
    reason = f": {episode.care_reason}" if episode.care_reason else ""
    return f"{episode.get_care_state_display().capitalize()}{until}{reason}"


def goal_words(*, episode: care.Episode) -> str:
    """The goal with the sport and the level before the injury."""
    said = [episode.get_goal_display(), episode.sport]
    said += [f"before: {episode.level_before}"] if episode.level_before else []
    return ", ".join(part for part in said if part)


def _ordered(*, source: Source, episode: care.Episode) -> Sequence[MilestoneResult]:
    """The milestone worked toward, then those after it, then those before it."""
    milestones = source.kept[episode.pk].status.milestones
    standing = _standing(source=source, episode=episode)
    ahead = next_milestone(
        milestones=milestones, decided={one.milestone for one in standing if one.goes_ahead}
    )
    start = milestones.index(ahead)
    return [*milestones[start:], *milestones[:start]]


def _decision(
    *, source: Source, episode: care.Episode, found: MilestoneResult
) -> DecisionWords | None:
    """The newest decision that stands on a milestone."""
    standing = _standing(source=source, episode=episode)
    return next((one for one in standing if one.milestone == found.milestone.code), None)


def _standing(*, source: Source, episode: care.Episode) -> list[DecisionWords]:
    """The decisions that were not withdrawn and speak of the knee as it is, newest first."""
    facts = source.kept[episode.pk].facts
    return [
        one
        for one in source.decisions[episode.pk]
        if one.stands and is_of_this_knee(decided_on=one.judged_on, facts=facts)
    ]


def decided_milestone(
    *, source: Source, episode: care.Episode, found: MilestoneResult
) -> DecidedMilestone:
    """One milestone with every criterion and what stands behind it."""
    says = milestone_words(
        found=found,
        facts=source.kept[episode.pk].facts,
        measures=source.rules.measures,
        protocol=source.rules.protocols[episode.protocol],
        readings={reading.ref: reading for reading in source.readings},
        on=source.on,
    )
    return DecidedMilestone(
        says=says, decision=_decision(source=source, episode=episode, found=found)
    )


def milestone_of(*, source: Source, episode: care.Episode, code: str) -> DecidedMilestone | None:
    """One milestone of the goal by its code, or None."""
    milestones = source.kept[episode.pk].status.milestones
    found = next((one for one in milestones if one.milestone.code == code), None)
    if found is None:
        return None
    return decided_milestone(source=source, episode=episode, found=found)


def _in_a_line(*, source: Source, episode: care.Episode, found: MilestoneResult) -> OtherMilestone:
    facts = source.kept[episode.pk].facts
    return OtherMilestone(
        code=found.milestone.code,
        label=found.milestone.label,
        earliest=earliest_words(found=found, facts=facts, on=source.on),
        counts=count_words(found=found),
        first=first_open(found=found, measures=source.rules.measures, on=source.on),
        marks=[(one.result, RESULT[one.result]) for one in found.criteria if one.criterion.hard],
        decision=_decision(source=source, episode=episode, found=found),
    )


def ground_of(*, source: Source, episode: care.Episode) -> Ground:
    """What the courses of an episode are drawn from."""
    return Ground(
        facts=source.kept[episode.pk].facts,
        readings=source.readings,
        measures=source.rules.measures,
        milestones=source.kept[episode.pk].status.milestones,
        marks=source.marks,
        heads={
            limb: f"{limb.capitalize()}, {source.head(limb).words}"
            for limb in (Limb.LEFT, Limb.RIGHT)
        },
        happened=on_charts(events=source.events[episode.pk], on=source.on),
        numbers=number_address(episode=episode),
        on=source.on,
    )


def courses_of(*, source: Source, episode: care.Episode) -> Courses:
    """The course that is shown, and all that could be."""
    here = reverse("course", args=[episode.uid, CODE])
    return Courses(
        shown=course_of(ground=ground_of(source=source, episode=episode), code=source.course),
        choices=[
            CourseChoice(
                code=code,
                address=here.replace(CODE, code),
                label=source.rules.measures[code].short_label,
                shown=code == source.course,
            )
            for code in source.codes
        ],
    )
