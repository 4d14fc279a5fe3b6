"""One visit as the ledger needs it: who, which knees, what was found before, what is typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from clinic.models.care import Episode, Surgery, Visit
from clinic.models.people import RecordNumber
from clinic.models.places import StaffMember
from clinic.queries import care
from outcomes.core.dates import weeks_since
from outcomes.core.due import Due
from outcomes.core.entries import Entry
from outcomes.core.sets import asked
from outcomes.core.status import week_on
from outcomes.core.values import (
    EpisodeFacts,
    Event,
    Limb,
    Measure,
    Protocol,
    Reading,
    ReadingStatus,
)
from outcomes.models.record import Reading as ReadingRow
from outcomes.models.record import RedFlagCheck, VisitDraft
from outcomes.queries.attendance import Asked, unconfirmed_of, words_of
from outcomes.queries.catalogue import InForce, in_force
from outcomes.queries.clashes import LateText, late_texts
from outcomes.queries.events import events_of
from outcomes.queries.holds import held_words
from outcomes.queries.record import episode_facts, readings_of, tester_of
from outcomes.queries.visit_asks import asked_beyond, due_in, knees_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Knee:
    """A knee that is followed, as it stands on the day of the visit."""

    episode: Episode
    facts: EpisodeFacts
    limb: Limb
    surgery: Surgery | None
    week: int | None
    week_words: str


class VisitSheet:
    """Everything that is read for one visit. Each part is read once, when it is first asked for."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit

    @cached_property
    def in_force(self) -> InForce:
        """The catalogue and the protocols in force."""
        return in_force()

    @property
    def measures(self) -> Mapping[str, Measure]:
        """The measures in force, by code."""
        return self.in_force.measures

    @cached_property
    def draft(self) -> VisitDraft | None:
        """What is typed and not signed; None before the first word and after signing."""
        return VisitDraft.objects.filter(visit=self.visit).first()

    @property
    def fields(self) -> Mapping[str, dict[str, Any]]:
        """Every field of the draft as it is kept."""
        return self.draft.fields if self.draft else {}

    @cached_property
    def late(self) -> tuple[LateText, ...]:
        """What was typed without network and waits for a decision."""
        return late_texts(visit_id=self.visit.pk)

    @cached_property
    def texts(self) -> dict[str, str]:
        """The typed text of every field of the draft that is not empty."""
        return {name: field["text"] for name, field in self.fields.items() if field["text"]}

    @cached_property
    def history(self) -> list[Reading]:
        """The patient's effective readings up to the day of the visit, oldest first."""
        found = readings_of(patient_ids=[self.visit.patient_id])[self.visit.patient_id]
        return [reading for reading in found if reading.on <= self.visit.date]

    @cached_property
    def episodes(self) -> Sequence[Episode]:
        """The patient's episodes that are followed; the newest one where none is any more."""
        found = care.open_episodes(patient_id=self.visit.patient_id)
        if not found:
            past = Episode.objects.filter(patient_id=self.visit.patient_id)
            found = list(past.prefetch_related("surgeries").order_by("-id")[:1])
        for episode in found:
            episode.patient = self.visit.patient
        return found

    @cached_property
    def events(self) -> dict[int, list[Event]]:
        """What happened to each followed knee, as far as it counts."""
        return events_of(episodes=self.episodes)

    @cached_property
    def knees(self) -> tuple[Knee, ...]:
        """The followed knees, the patient's left one first."""
        facts = episode_facts(episodes=self.episodes, events=self.events)
        on = self.visit.date
        knees = [
            Knee(
                episode=episode,
                facts=facts[episode.pk],
                limb=Limb(episode.knee),
                surgery=care.acl_operation(episode=episode),
                week=week_on(facts=facts[episode.pk], on=on),
                week_words=care.week_words(episode=episode, on=on),
            )
            for episode in self.episodes
        ]
        return tuple(sorted(knees, key=lambda knee: knee.limb.value))

    @cached_property
    def weeks(self) -> tuple[int | None, ...]:
        """The week of each followed knee on the day of the visit, without anything else of it."""
        days = [care.index_date(episode=episode) for episode in self.episodes]
        return tuple(weeks_since(index_date=day, on=self.visit.date) for day in days)

    @cached_property
    def protocols(self) -> tuple[tuple[Protocol, int | None], ...]:
        """The protocol that each followed knee is seen by, with its week on the day."""
        found = [self.in_force.protocols[episode.protocol] for episode in self.episodes]
        return tuple(zip(found, self.weeks, strict=True))

    @property
    def asked(self) -> frozenset[str]:
        """The measures that the visit asks for, of all followed knees together.

        What is switched off or retired is not among them; a draft that holds one keeps its row.
        """
        return self.set_of_week.union(due.measure for due in self.also)

    @property
    def last(self) -> tuple[str, ...]:
        """Those that stand behind the set of the week, in their order."""
        return tuple(due.measure for due in self.also)

    @cached_property
    def also(self) -> tuple[Due, ...]:
        """What is asked beyond the set of the week, and why.

        It is worked out once and kept with the first word typed, so that no row comes or goes
        under a hand and no save of the draft works it out again.
        """
        kept = self.draft.also if self.draft else None
        found = self.also_now if kept is None else map(due_in, kept)
        offers = self.in_force.offers
        return tuple(
            one for one in found if offers(code=one.measure) and one.measure not in self.set_of_week
        )

    @property
    def also_now(self) -> tuple[Due, ...]:
        """The same as the record asks for it on the day of the visit."""
        knees = knees_of(
            episodes=self.episodes,
            facts={knee.episode.pk: knee.facts for knee in self.knees},
            weeks=self.weeks,
            told=self.told,
            unconfirmed=self.unconfirmed,
            events=self.events,
            readings=self.history,
            rules=self.in_force,
            on=self.visit.date,
        )
        return asked_beyond(knees=knees, there=self.set_of_week) if knees else ()

    @cached_property
    def set_of_week(self) -> frozenset[str]:
        """The protocol's set of the week, of all followed knees together."""
        kinds = [episode.kind for episode in self.episodes]
        wanted = frozenset().union(
            *(
                asked(protocol=protocol, week=week, kind=kind)
                for (protocol, week), kind in zip(self.protocols, kinds, strict=True)
            )
        )
        return frozenset(code for code in wanted if self.in_force.offers(code=code))

    @property
    def offered(self) -> list[Measure]:
        """The measures that can be typed at this clinic."""
        offers = self.in_force.offers
        return [one for one in self.measures.values() if one.typed and offers(code=one.code)]

    @property
    def off(self) -> frozenset[str]:
        """The measures that this clinic does not offer."""
        offers = self.in_force.offers
        return frozenset(code for code in self.measures if not offers(code=code))

    @cached_property
    def told(self) -> dict[int, care.Told]:
        """Every limit and every gate set aside, by episode."""
        return care.told_of(episode_ids=[episode.pk for episode in self.episodes])

    @cached_property
    def limits(self) -> dict[int, list[care.Limit]]:
        """The limits that hold on the day, and those set aside that would, by episode."""
        on = self.visit.date
        return {
            pk: [one for one in told.limits if one.holds(on=on) or one.would_hold(on=on)]
            for pk, told in self.told.items()
        }

    @cached_property
    def to_confirm(self) -> dict[int, tuple[str, ...]]:
        """The procedures whose limits nobody has confirmed, by episode."""
        return {pk: words_of(asked=found) for pk, found in self.unconfirmed.items()}

    @cached_property
    def unconfirmed(self) -> dict[int, tuple[Asked, ...]]:
        """The same as they are asked for."""
        return unconfirmed_of(episodes=self.episodes, events=self.events)

    @cached_property
    def holds(self) -> dict[Limb, dict[str, tuple[str, ...]]]:
        """Why tests of a followed knee are held on the day: sentences by limb and measure."""
        return {
            knee.limb: held_words(
                measures=self.measures,
                limits=self.limits[knee.episode.pk],
                unconfirmed=self.unconfirmed[knee.episode.pk],
                on=self.visit.date,
            )
            for knee in self.knees
        }

    @cached_property
    def record_number(self) -> str:
        """The patient's record number at the site of the visit, or at any; empty without one."""
        rows = dict(
            RecordNumber.objects.filter(patient_id=self.visit.patient_id)
            .order_by("-id")
            .values_list("site_id", "number")
        )
        return rows.get(self.visit.site_id) or next(iter(rows.values()), "")

    @cached_property
    def clinician(self) -> StaffMember | None:
        """Who opened the visit or took it over."""
        return StaffMember.objects.filter(pk=self.visit.clinician_id or 0).first()

    @cached_property
    def signer(self) -> StaffMember | None:
        """Who signed it."""
        return StaffMember.objects.filter(pk=self.visit.signed_by_id or 0).first()

    def involved(self, *, limb: Limb) -> Knee | None:
        """The followed knee of that limb, or None for the other side."""
        return next((knee for knee in self.knees if knee.limb is limb), None)


@dataclass(frozen=True, kw_only=True, slots=True)
class ToInsert:
    """An entry, who typed it (None: whoever signs), and when a tablet without network kept it."""

    entry: Entry
    author: int | None
    saved_on_device_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class ToSign:
    """Everything of a visit that is to be signed: entries and red flags.

    ``measured_at`` is the moment typed from paper; None takes the visit's own.
    ``rules`` are the catalogue and protocols that the entries were taken with; ``asked`` is the
    red-flag form, ``answers`` its answers; no answer at all means not asked.
    """

    entries: tuple[ToInsert, ...]
    rules: InForce
    asked: str
    answers: Mapping[str, bool]
    action: str = ""
    contacted: str = ""
    note: str = ""
    measured_at: datetime | None = None


def signed_rows(*, visit_id: int) -> list[ReadingRow]:
    """The newest row of every reading of a visit, withdrawn ones included. One statement."""
    rows = ReadingRow.objects.filter(visit_id=visit_id, superseded_by__isnull=True)
    return list(rows.select_related("recorded_by").order_by("id"))


def as_reading(*, row: ReadingRow) -> Reading:
    """A row as the core judges it."""
    return Reading(
        measure=row.measure,
        limb=Limb(row.limb),
        value=row.value,
        on=row.date,
        key=row.comparison_key,
        status=ReadingStatus(row.status),
        details=row.details,
        ref=row.pk,
        tester=tester_of(kind=row.kind, recorded_by=row.recorded_by_id),
    )


def as_entry(*, row: ReadingRow) -> Entry:
    """A row as the entry it was inserted from."""
    return Entry(
        measure=row.measure,
        limb=Limb(row.limb),
        status=ReadingStatus(row.status),
        value=row.value,
        key=row.comparison_key,
        typed_text=row.typed_text,
        typed_unit=row.typed_unit,
        trials=tuple(row.trials),
        details=row.details,
        reason=row.reason,
    )


def red_flag_check(*, visit_id: int) -> RedFlagCheck | None:
    """The newest red-flag check of a visit."""
    return (
        RedFlagCheck.objects.filter(visit_id=visit_id)
        .select_related("recorded_by")
        .order_by("-id")
        .first()
    )
