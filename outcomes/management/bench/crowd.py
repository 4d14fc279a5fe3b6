"""The bench's clinic: sites, staff, and episodes written many at once, judged by the service."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from django.db import transaction

from clinic import clock
from clinic.models.care import Episode, Surgery, Visit
from clinic.models.people import Patient, RecordNumber, Referrer
from clinic.models.places import Membership, Organisation, Site, StaffMember
from clinic.permissions import Role
from outcomes.core.values import Limb
from outcomes.management.bench.samples import entries_of
from outcomes.models.record import Reading
from outcomes.queries.catalogue import measure_version_ids
from outcomes.services import status
from outcomes.services.signing import columns

GRAFTS: Final = ("hamstring", "patellar_tendon", "quadriceps_tendon", "allograft")
NOON: Final = time(12)


@dataclass(frozen=True, kw_only=True, slots=True)
class Crowd:
    """A site with its people, and the episodes that are followed there."""

    site: Site
    lead: StaffMember
    clinicians: Sequence[StaffMember]
    episodes: Sequence[Episode]


@dataclass(frozen=True, kw_only=True, slots=True)
class Followed(Crowd):
    """The same with the signed visits, in the order of the episodes and oldest first."""

    visits: Sequence[Visit]


def gather(*, code: str, episodes: int, visits: int) -> Crowd:
    """A site whose episodes have so many signed visits of twelve readings, all judged today."""
    with transaction.atomic():
        made = follow(code=code, episodes=episodes, visits=visits)
        rows = _readings(visits=made.visits, per_episode=visits, by=made.clinicians[0])
        Reading.objects.bulk_create(rows)
        status.rebuild(episode_ids=[episode.pk for episode in made.episodes])
    return made


def follow(*, code: str, episodes: int, visits: int) -> Followed:
    """A site whose episodes have so many signed visits with nothing in them yet."""
    organisation, _ = Organisation.objects.get_or_create(name="Bench Clinics")
    site = Site.objects.create(organisation=organisation, code=code, name=code.capitalize())
    lead = _staff(site=site, username=f"{code}-lead", role=Role.LEAD)
    clinicians = [
        _staff(site=site, username=f"{code}-clinician-{n}", role=Role.CLINICIAN) for n in range(4)
    ]
    made = _episodes(site=site, clinicians=clinicians, count=episodes)
    seen = _visits(episodes=made, count=visits)
    return Followed(site=site, lead=lead, clinicians=clinicians, episodes=made, visits=seen)


def _staff(*, site: Site, username: str, role: Role) -> StaffMember:
    """Somebody at a site; nobody can sign in with an empty password."""
    person = StaffMember(username=username, full_name=username.replace("-", " ").title())
    person.set_unusable_password()
    person.save()
    Membership.objects.create(staff=person, site=site, role=role.value)
    return person


def weeks_of(number: int) -> int:
    """The week in which the numbered episode stands: 2 to 61."""
    return 2 + number % 60


def knee_of(number: int) -> Limb:
    """The followed knee of the numbered episode: left and right in turn."""
    return Limb.RIGHT if number % 2 else Limb.LEFT


def _episodes(*, site: Site, clinicians: Sequence[StaffMember], count: int) -> list[Episode]:
    today = clock.today(site)
    surgeon, _ = Referrer.objects.get_or_create(name="Surgeon Ofthebench", kind="surgeon")
    patients = Patient.objects.bulk_create(_patient(number) for number in range(count))
    RecordNumber.objects.bulk_create(
        RecordNumber(site=site, patient=patient, number=f"B-{number:04d}")
        for number, patient in enumerate(patients)
    )
    episodes = Episode.objects.bulk_create(
        Episode(
            patient=patient,
            site=site,
            knee=knee_of(number).value,
            kind="reconstruction",
            goal="pivoting",
            sport="handball",
            injury_date=today - timedelta(weeks=weeks_of(number) + 7),
            other_limb="healthy",
            surgeon=surgeon,
            responsible=clinicians[number % len(clinicians)],
            opened_on=today - timedelta(weeks=weeks_of(number) + 5),
        )
        for number, patient in enumerate(patients)
    )
    Surgery.objects.bulk_create(
        Surgery(
            episode=episode,
            operation="reconstruction",
            state="performed",
            date=today - timedelta(weeks=weeks_of(number)),
            graft=GRAFTS[number % len(GRAFTS)],
            graft_from="same_limb",
            recorded_by=clinicians[0],
            recorded_at=clock.now(),
        )
        for number, episode in enumerate(episodes)
    )
    return episodes


def _patient(number: int) -> Patient:
    name = f"Person {number:04d} Ofthebench"
    return Patient(
        name=name,
        name_folded=name.casefold(),
        birth_date=date(1990 + number % 15, 1 + number % 12, 1 + number % 28),
        sex=("female", "male")[number % 2],
        registered_at=clock.now(),
    )


def _visits(*, episodes: Sequence[Episode], count: int) -> list[Visit]:
    """Signed visits, evenly spread from the operation to a few days ago, oldest first."""
    return Visit.objects.bulk_create(
        _visit(episode=episode, on=on)
        for number, episode in enumerate(episodes)
        for on in _days(number, count=count, last=clock.today(episode.site))
    )


def _days(number: int, *, count: int, last: date) -> list[date]:
    step = max(1, 7 * weeks_of(number) // count)
    ago = 1 + number % 20
    return [last - timedelta(days=ago + step * back) for back in reversed(range(count))]


def _visit(*, episode: Episode, on: date) -> Visit:
    noon = datetime.combine(on, NOON, tzinfo=UTC)
    return Visit(
        patient_id=episode.patient_id,
        site_id=episode.site_id,
        date=on,
        state="signed",
        clinician_id=episode.responsible_id,
        opened_at=noon,
        signed_at=noon,
        signed_by_id=episode.responsible_id,
    )


def _readings(*, visits: Sequence[Visit], per_episode: int, by: StaffMember) -> Iterator[Reading]:
    """Twelve readings of each visit; the followed knee gains on the other one."""
    versions = measure_version_ids()
    for place, visit in enumerate(visits):
        number, turn = divmod(place, per_episode)
        noon = datetime.combine(visit.date, NOON, tzinfo=UTC)
        share = 55 + number % 10 + 30 * turn // per_episode
        for entry in entries_of(knee=knee_of(number), share=share):
            yield Reading(
                visit=visit,
                patient_id=visit.patient_id,
                date=visit.date,
                measure_version_id=versions[entry.measure],
                measured_at=noon,
                recorded_at=noon,
                recorded_by=by,
                **columns(entry=entry),
            )
