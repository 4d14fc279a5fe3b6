"""Who can be chosen, and who a patient is: without any measurement."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Prefetch, Q

from clinic import words
from clinic.models import care
from clinic.models.people import Patient, RecordNumber, Referrer
from clinic.models.places import StaffMember
from clinic.permissions import Role
from clinic.queries.care import week_words

ADULT = 18


def clinicians_at(*, site_ids: Collection[int], keep: int | None = None) -> list[tuple[int, str]]:
    """Everyone who works as clinician at one of the sites, by name: id and name.

    ``keep`` is offered too, because they are named already although they left.
    """
    works_here = Q(
        memberships__site_id__in=site_ids,
        memberships__role=Role.CLINICIAN.value,
        memberships__ended_on__isnull=True,
        is_active=True,
    )
    rows = StaffMember.objects.filter(works_here | Q(pk=keep or 0))
    return list(rows.distinct().order_by("full_name", "pk").values_list("pk", "full_name"))


def referrers_to_choose(*, keep: Collection[int | None] = ()) -> list[tuple[int, str]]:
    """Referrers that are not retired, and those to ``keep`` because they are named already."""
    rows = Referrer.objects.filter(Q(retired=False) | Q(pk__in=[pk for pk in keep if pk]))
    found = rows.order_by("name", "practice", "pk").values_list("pk", "name", "practice")
    return [(pk, ", ".join(part for part in (name, where) if part)) for pk, name, where in found]


def sites_of(*, patient_id: int) -> list[int]:
    """The sites of the patient's episodes."""
    rows = care.Episode.objects.filter(patient_id=patient_id).order_by("site_id")
    return list(rows.values_list("site_id", flat=True).distinct())


def record_number(*, patient_id: int, site_id: int) -> str:
    """The patient's record number at a site, or nothing."""
    rows = RecordNumber.objects.filter(patient_id=patient_id, site_id=site_id)
    return rows.values_list("number", flat=True).first() or ""


def age(*, birth_date: date, on: date) -> int:
    """Completed years."""
    return words.months_between(start=birth_date, on=on) // 12


@dataclass(frozen=True, kw_only=True, slots=True)
class EpisodeCard:
    """An episode as the person's page shows it: the row, its operations, and words."""

    row: care.Episode
    title: str
    weeks: str
    operations: Sequence[OperationLine]
    unknown: Sequence[str]
    changes: Sequence[str]
    injury: str
    until: str
    followed: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class OperationLine:
    """One operation in words; ``overdue`` when its planned day has passed."""

    pk: int
    state: str
    title: str
    when: str
    graft: str
    procedures: str
    overdue: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitLine:
    """A visit: its day, state and clinician, and never what was measured."""

    uid: UUID
    day: str
    state: str
    clinician: str
    keyable: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class PersonPage:
    """Everything the person's page shows. No measurement is ever asked for."""

    patient: Patient
    born: str
    years: int
    numbers: Sequence[str]
    episodes: Sequence[EpisodeCard]
    visits: Sequence[VisitLine]
    guardian_missing: bool
    today: str

    @property
    def keyable(self) -> VisitLine | None:
        """The visit of today at which a questionnaire can be keyed."""
        return next((visit for visit in self.visits if visit.keyable), None)


def person_page(*, patient: Patient, today: date) -> PersonPage:
    """The person's page. Seven statements, however many episodes, operations and visits."""
    episodes = care.Episode.objects.filter(patient=patient).select_related(
        "site", "responsible", "surgeon", "referrer"
    )
    changes = care.EpisodeChange.objects.select_related("made_by").order_by("-pk")
    episodes = episodes.prefetch_related("surgeries", Prefetch("changes", queryset=changes))
    rows = list(episodes.order_by("-opened_on", "-pk"))
    names = _names([change for episode in rows for change in episode.changes.all()])
    cards = [_card(episode, today, names) for episode in rows]
    years = age(birth_date=patient.birth_date, on=today)
    numbers = patient.record_numbers.select_related("site").order_by("site__name", "pk")
    return PersonPage(
        patient=patient,
        born=words.day(patient.birth_date),
        years=years,
        numbers=[f"{row.number} ({row.site.name})" for row in numbers],
        episodes=sorted(cards, key=lambda card: (not card.followed, card.row.knee)),
        visits=_visits(patient, today),
        guardian_missing=years < ADULT and not patient.guardian_name,
        today=today.isoformat(),
    )


def _visits(patient: Patient, today: date) -> list[VisitLine]:
    rows = patient.visits.select_related("clinician").order_by("-date", "-pk")
    return [
        VisitLine(
            uid=row.uid,
            day=words.day(row.date) + (f", {row.time:%H:%M}" if row.time else ""),
            state=row.get_state_display(),
            clinician=row.clinician.full_name if row.clinician else "",
            keyable=row.state in care.CAME_STATES and row.date == today,
        )
        for row in rows
    ]


def _card(episode: care.Episode, today: date, names: Mapping[str, str]) -> EpisodeCard:
    operations = sorted(
        episode.surgeries.all(), key=lambda s: (s.state == "cancelled", s.date or today, s.pk)
    )
    return EpisodeCard(
        row=episode,
        title=f"{episode.knee.capitalize()} knee, {episode.get_kind_display()}",
        weeks=week_words(episode=episode, on=today),
        operations=[operation_line(surgery, today=today) for surgery in operations],
        unknown=unknown_parts(episode),
        changes=[_change(change, names) for change in episode.changes.all()],
        injury=words.day(episode.injury_date),
        until=words.day(episode.care_until, missing=""),
        followed=episode.care_state in care.OPEN_CARE_STATES,
    )


def operation_line(surgery: care.Surgery, *, today: date) -> OperationLine:
    """An operation in words."""
    has_graft = surgery.operation in ("reconstruction", "revision")
    planned = surgery.state == "planned"
    missing = "no date yet" if planned and not surgery.date_asked_on else "date not known yet"
    names = dict(care.PROCEDURES)
    return OperationLine(
        pk=surgery.pk,
        state=surgery.state,
        title=surgery.get_operation_display(),
        when=f"{surgery.state}, {words.day(surgery.date, missing=missing)}",
        graft=words.graft(graft=surgery.graft, graft_from=surgery.graft_from) if has_graft else "",
        procedures=words.listed([names[code] for code in surgery.procedures]),
        overdue=planned and surgery.date is not None and surgery.date < today,
    )


def unknown_parts(episode: care.Episode) -> list[str]:
    """What is unknown of an episode and since when it has been asked for."""
    asked = [("date of the injury", episode.injury_asked_on)]
    for surgery in episode.surgeries.all():
        if surgery.state != "cancelled":
            asked += [
                ("date of the operation", surgery.date_asked_on),
                ("graft", surgery.graft_asked_on),
                ("what else was done", surgery.procedures_asked_on),
            ]
    return [f"{part}, asked on {words.day(day)}" for part, day in asked if day]


def _names(changes: Sequence[care.EpisodeChange]) -> dict[str, str]:
    """The names of those who were responsible before or after, by their id as it is kept."""
    told = {part for c in changes if c.part == "responsible" for part in (c.before, c.after)}
    ids = [int(ident) for ident in told if ident]
    rows = StaffMember.objects.filter(pk__in=[*ids, 0]).values_list("pk", "full_name")
    return {str(pk): name for pk, name in rows}


def _change(change: care.EpisodeChange, names: Mapping[str, str]) -> str:
    """One line of an episode's history."""
    before, after = (_said(change.part, code, names) for code in (change.before, change.after))
    line = f"{words.day(change.on)}: {change.get_part_display()} from {before} to {after}"
    if change.reason:
        line += f" ({change.reason})"
    return f"{line}, {change.made_by.full_name}"


def _said(part: str, code: str, names: Mapping[str, str]) -> str:
    """A kept code in words, with its date as people write it."""
    if part == "responsible":
        return names.get(code, "nobody")
    if part == "protocol":
        return code
    state, _, day = code.partition(" ")
    return " ".join(
        [state.replace("_", " "), words.day(date.fromisoformat(day)) if day else ""]
    ).strip()
