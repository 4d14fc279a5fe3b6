"""From the record to the snapshot that a letter is written from, through the page's own words."""

from __future__ import annotations

from datetime import date

from clinic import words
from clinic.models.care import Episode
from outcomes.core.evidence import latest_body_mass
from outcomes.core.redflags import QUESTIONS, SHORT_FORM, flags
from outcomes.core.values import Form, Limb, MilestoneResult, Result
from outcomes.letters.facts import (
    Ahead,
    Attendance,
    CriterionLine,
    FlagsAsked,
    Head,
    LetterFacts,
    Limits,
    StatusRow,
)
from outcomes.letters.rows import status_rows
from outcomes.letters.scores import score_rows
from outcomes.letters.verdict import verdict
from outcomes.queries import letter_rows
from outcomes.queries.criterion_words import named_words
from outcomes.queries.decisions import DecisionWords
from outcomes.queries.events import EventLine
from outcomes.queries.keying import in_use
from outcomes.queries.knee_sections import KneeSection, Source, section_of
from outcomes.queries.ledger_lines import cuts_of, ledger_lines, newest_day
from outcomes.queries.milestone_words import MilestoneWords, ResultLine
from outcomes.queries.questionnaires import completed_of

FORMS = {"eight": QUESTIONS, "four": SHORT_FORM}
TO_TEST = (Result.NOT_TESTED, Result.OUT_OF_DATE)


def facts_of(*, episode: Episode, source: Source) -> LetterFacts:
    """The snapshot of an episode. ``source`` holds it among all followed knees.

    Six statements beside those of the source.
    """
    section = section_of(source=source, episode=episode)
    kept, on = source.kept[episode.pk], source.on
    visits = letter_rows.visits_of(episode=episode, on=on)
    newest = newest_day(statuses=kept.status.measures)
    return LetterFacts(
        on=on,
        site=episode.site.name,
        letterhead=tuple(line for line in episode.site.letterhead.splitlines() if line.strip()),
        patient=episode.patient.name,
        born=words.day(episode.patient.birth_date),
        number=letter_rows.number_of(episode=episode),
        knee=Limb(episode.knee),
        happened=section.says.what,
        done=section.says.done,
        week=section.says.week,
        goal=section.goal,
        verdict=verdict(
            facts=kept.facts,
            reasons=kept.status.reasons,
            milestones=kept.status.milestones,
            week=section.says.week,
            on=on,
        ),
        heads=(_head(source=source, limb=Limb.LEFT), _head(source=source, limb=Limb.RIGHT)),
        rows=(*_rows(episode=episode, source=source), *_scores(episode=episode, source=source)),
        tested_on=words.day(newest) if newest else "",
        ahead=_ahead(section=section, source=source),
        flags=_flags(episode=episode, on=on),
        limits=_limits(episode=episode, section=section, on=on),
        unknown=letter_rows.unknown_parts(episode=episode),
        attendance=Attendance(
            seen=visits.seen, missed=visits.missed, last=visits.last, since=visits.since
        ),
        booked_on=visits.booked,
        trend=section.courses.shown.chart if section.courses.shown else None,
        protocol=section.protocol,
        events=tuple(_event(line) for line in section.events),
        steps=tuple(line.sentence for line in section.plan),
    )


def _head(*, source: Source, limb: Limb) -> Head:
    head = source.head(limb)
    return Head(words=f"{limb.capitalize()}, {head.words}", mark=head.mark)


def _rows(*, episode: Episode, source: Source) -> tuple[StatusRow, ...]:
    kept, measures, on = source.kept[episode.pk], source.rules.measures, source.on
    lines = ledger_lines(
        statuses=kept.status.measures,
        measures=measures,
        facts=kept.facts,
        body_mass=latest_body_mass(catalogue=measures, readings=source.readings, on=on),
        milestones=kept.status.milestones,
        on=on,
    )
    return status_rows(
        lines=lines,
        statuses=kept.status.measures,
        measures=measures,
        facts=kept.facts,
        cuts=cuts_of(milestones=kept.status.milestones, form=Form.SYMMETRY),
        on=on,
    )


def _scores(*, episode: Episode, source: Source) -> tuple[StatusRow, ...]:
    """The scores of the questionnaires in use that are about this knee or the person."""
    return score_rows(
        forms=completed_of(patient_id=episode.patient_id, rules=source.rules),
        codes={one.code for one in in_use(rules=source.rules)},
        knee=Limb(episode.knee),
        on=source.on,
    )


def _ahead(*, section: KneeSection, source: Source) -> Ahead:
    """The milestone worked toward. A letter gives its earliest week and never a day of it."""
    says, decision = section.ahead.says, section.ahead.decision
    milestones = source.kept[section.episode.pk].status.milestones
    found = next(one for one in milestones if one.milestone.code == says.code)
    return Ahead(
        code=says.code,
        label=says.label,
        headline=_headline(says),
        counts=says.counts,
        decision=_decision(decision) if decision else "",
        lines=tuple(
            _criterion(line, counts=line.says.hard) for line in (*says.results, *says.beside)
        ),
        not_met=_named(found, source, Result.NOT_MET, Result.NOT_MET_BORDERLINE),
        to_test=_named(found, source, *TO_TEST),
    )


def _headline(says: MilestoneWords) -> str:
    week = says.earliest.partition(" (")[0]
    return says.headline.replace(says.earliest, week)


def _decision(decision: DecisionWords) -> str:
    before = f"; {decision.before_event}" if decision.before_event else ""
    return (
        f"Decision recorded {decision.on} by {decision.by}: {decision.course}, "
        f"{decision.agreed}{before}."
    )


def _event(line: EventLine) -> str:
    """One event of a letter; the side where it is the other one's."""
    side = f", {line.side}" if line.other_side else ""
    return f"{line.what}{side}, {line.on}"


def _criterion(line: ResultLine, *, counts: bool) -> CriterionLine:
    says = line.says
    why = f" {says.next_move}" if says.result is Result.NOT_ASSESSABLE else ""
    return CriterionLine(
        result=says.result,
        word=says.word,
        sentence=f"{says.sentence}{why}",
        tested=says.dated.partition(",")[0],
        counts=counts,
    )


def _named(found: MilestoneResult, source: Source, *results: Result) -> tuple[str, ...]:
    """What those criteria that count look at: "Quadriceps symmetry", each once."""
    subjects = [
        named_words(criterion=one.criterion, measures=source.rules.measures)
        for one in found.criteria
        if one.criterion.hard and one.result in results
    ]
    return tuple(dict.fromkeys(subject.partition(" (")[0] for subject in subjects))


def _flags(*, episode: Episode, on: date) -> FlagsAsked | None:
    check = letter_rows.newest_check(episode=episode, on=on)
    if check is None:
        return None
    questions = FORMS[check.form]
    return FlagsAsked(
        on=check.on,
        asked=sum(question.code in check.answers for question in questions),
        of=len(questions),
        reported=tuple(question.text for question in flags(answers=check.answers)),
    )


def _limits(*, episode: Episode, section: KneeSection, on: date) -> Limits:
    return Limits(
        in_force=section.says.limits,
        later=section.says.ahead,
        to_confirm=section.says.to_confirm,
        aside=section.says.aside,
        asked_none=letter_rows.asked_for_none(episode=episode, on=on),
    )
