"""The patient page: who, which knees, status today, milestones, course, visits, letters, cover."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from clinic import words
from clinic.models import care
from clinic.models.people import Patient
from clinic.queries.care import limits
from clinic.queries.people import ADULT, age
from outcomes.core.evidence import BODY_MASS, latest_body_mass
from outcomes.core.values import Limb
from outcomes.queries.catalogue import InForce
from outcomes.queries.decisions import decisions_of
from outcomes.queries.events import events_of
from outcomes.queries.kept import Kept
from outcomes.queries.knee_sections import KneeSection, Source, section_of
from outcomes.queries.knee_words import PageHead
from outcomes.queries.ledger_lines import LedgerLine, ledger_lines, newest_day
from outcomes.queries.numbers import measures_behind
from outcomes.queries.patient_lists import (
    CoverLine,
    LetterLine,
    VisitLine,
    VisitList,
    cover_lines,
    letter_lines,
    visit_list,
)
from outcomes.queries.plan import plans_of
from outcomes.queries.record import days_read, some_readings
from outcomes.queries.trends import courses_there_are, first_course


@dataclass(frozen=True, kw_only=True, slots=True)
class PatientPage:
    """Everything the page prints, in words."""

    patient: Patient
    today: str
    born: str
    years: int
    child: bool
    numbers: str
    heads: tuple[PageHead, PageHead]
    involved: str
    lines: Sequence[LedgerLine]
    tested_on: str
    knees: Sequence[KneeSection]
    earlier: Sequence[care.Episode]
    visits: VisitList
    letters: Sequence[LetterLine]
    covers: Sequence[CoverLine]

    @property
    def running(self) -> VisitLine | None:
        """The visit that is open and not signed, the newest first."""
        return next((visit for visit in self.visits.lines if visit.state == "open"), None)

    @property
    def keyable(self) -> VisitLine | None:
        """The newest visit at which a questionnaire can be keyed."""
        return next((visit for visit in self.visits.lines if visit.state in care.CAME_STATES), None)


def episodes_of(*, patient: Patient) -> list[care.Episode]:
    """All episodes of a patient with what pages say of them, left knee first. Two statements."""
    rows = care.Episode.objects.filter(patient=patient).select_related("site", "status")
    episodes = list(rows.prefetch_related("surgeries").order_by("knee", "-opened_on", "-id"))
    for episode in episodes:
        episode.patient = patient
    return episodes


def shown_of(*, episodes: Sequence[care.Episode], asked: UUID | None) -> list[care.Episode]:
    """The episodes the page is about: the one asked for, else all followed, else the newest."""
    one = [episode for episode in episodes if episode.uid == asked]
    followed = [e for e in episodes if e.care_state in care.OPEN_CARE_STATES]
    return one or followed or [max(episodes, key=lambda e: (e.opened_on, e.pk))]


def source_of(
    *,
    patient: Patient,
    shown: Sequence[care.Episode],
    kept: Mapping[int, Kept],
    rules: InForce,
    on: date,
    course: str = "",
) -> Source:
    """What the sections are made of; ``course`` is a measure that is asked for. Six statements."""
    ids = [episode.pk for episode in shown]
    days = days_read(patient_id=patient.pk)
    codes = courses_there_are(days=days, measures=rules.measures)
    first = first_course(codes=codes, asked=course)
    events = events_of(episodes=shown)
    return Source(
        shown=shown,
        kept=kept,
        rules=rules,
        readings=some_readings(
            patient_id=patient.pk,
            measures={BODY_MASS, *measures_behind(measure=rules.measures.get(first))},
            refs=_refs(kept.values()),
        ),
        codes=codes,
        course=first,
        limits=limits(episode_ids=ids),
        events=events,
        decisions=decisions_of(events=events, zone=shown[0].site.zone),
        plans=plans_of(episode_ids=ids),
        on=on,
    )


def _refs(kept: Iterable[Kept]) -> set[int]:
    """The readings that results and reasons rest on."""
    found: set[int] = set()
    for one in kept:
        for milestone in one.status.milestones:
            found.update(ref for result in milestone.criteria for ref in result.refs)
        found.update(ref for reason in one.status.reasons for ref in reason.refs)
    return found


def patient_page(
    *,
    patient: Patient,
    episodes: Sequence[care.Episode],
    source: Source,
    all_visits: bool,
) -> PatientPage:
    """The page of a patient. Four statements beside those of its source."""
    shown, on = source.shown, source.on
    years = age(birth_date=patient.birth_date, on=on)
    numbers = patient.record_numbers.order_by("site__name", "pk").values_list("number", flat=True)
    first = source.kept[shown[0].pk]
    newest = newest_day(statuses=first.status.measures)
    return PatientPage(
        patient=patient,
        today=on.isoformat(),
        born=words.day(patient.birth_date),
        years=years,
        child=years < ADULT,
        numbers=", ".join(numbers),
        heads=(source.head(Limb.LEFT), source.head(Limb.RIGHT)),
        involved=" ".join(sorted(limb.value for limb in source.knees)),
        lines=_lines(source=source, kept=first),
        tested_on=words.short_day(newest, today=on) if newest else "",
        knees=[section_of(source=source, episode=one) for one in shown],
        earlier=[one for one in episodes if one not in shown],
        visits=visit_list(patient=patient, shown=shown, everything=all_visits),
        letters=letter_lines(episodes=episodes),
        covers=cover_lines(shown=shown, on=on),
    )


def _lines(*, source: Source, kept: Kept) -> Sequence[LedgerLine]:
    measures = source.rules.measures
    return ledger_lines(
        statuses=kept.status.measures,
        measures=measures,
        facts=kept.facts,
        body_mass=latest_body_mass(catalogue=measures, readings=source.readings, on=source.on),
        milestones=kept.status.milestones,
        on=source.on,
    )
