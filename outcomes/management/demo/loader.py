"""Fill an empty database with the demo clinic, through the same services that people use."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from clinic import clock
from clinic.models.care import Episode, Surgery, Visit
from clinic.models.people import Patient, Referrer
from clinic.models.places import Site, StaffMember
from clinic.permissions import Actor, Role
from clinic.services import people, referrers, sites, staff, surgeries, visits
from clinic.services.details import EpisodeDetails, Operation
from clinic.services.details import Person as PersonDetails
from outcomes.forms.ledger import LedgerForm
from outcomes.forms.red_flags import NONE
from outcomes.management.demo import chapters, graders, plans, sheets, stories
from outcomes.management.demo.more_tests import more_tests
from outcomes.management.demo.typing_in import texts_of
from outcomes.queries.visit import VisitSheet
from outcomes.services import drafts, signing

FOLDER = Path(__file__).resolve().parent.parent.parent.parent / "fixtures" / "demo"
PASSWORD = "lantern-quay-demo"  # noqa: S105  printed on screen, for the demo alone
SWITCHED_ON = {
    "units": "metric",
    "proposals": True,
    "pictures": True,
    "keep_pictures": True,
    "majority": 18,
}
"""What every site of the demo sets, to be seen; a new clinic starts without pictures."""
LONG_AGO = timedelta(weeks=130)


class Loader:
    """Loads the demo clinic as if its people had worked up to this moment."""

    def __init__(self, *, say: Callable[[str], None]) -> None:
        self.say = say
        self.now = clock.now()
        self.plan = tomllib.loads((FOLDER / "clinic.toml").read_text(encoding="utf-8"))
        self.staff: dict[str, StaffMember] = {}
        self.sites: dict[str, Site] = {}
        self.referrers: dict[str, Referrer] = {}

    def load(self) -> None:
        """Everything: the clinic and its staff, the referrers, then person by person."""
        with clock.held_at(self.now - LONG_AGO):
            self.open_clinic()
            self.add_referrers()
        graders.warm_up(loader=self)
        everybody = stories.people(FOLDER)
        for number, person in enumerate(everybody, start=1):
            self.live_through(person)
            if number % 10 == 0:
                self.say(f"  {number} of {len(everybody)} patients")

    def open_clinic(self) -> None:
        """The organisation, its sites, and everybody by invitation."""
        first, *more = self.plan["site"]
        lead, *others = sorted(self.plan["staff"], key=lambda one: one["roles"][0][0] != "lead")
        secret = sites.open_clinic(
            organisation=self.plan["organisation"],
            site=first["name"],
            zone=first["zone"],
            lead=lead["name"],
        )
        self.accept(lead, secret)
        with self.acting(lead["username"], Site.objects.get()) as actor:
            for one in more:
                sites.add_site(actor=actor, key=uuid4(), name=one["name"], zone=one["zone"])
            for one, site in zip(self.plan["site"], Site.objects.order_by("pk"), strict=True):
                settings = {**SWITCHED_ON, **one}
                sites.edit_site(actor=actor, site_id=site.pk, settings=settings)
                self.sites[one["code"]] = Site.objects.get(pk=site.pk)
            for one in others:
                self.invite(actor, one)
            sheets.switch_on(actor=actor)

    def invite(self, actor: Actor, one: dict[str, Any]) -> None:
        """One person by a one-time link, then their further roles."""
        (role, code), *more = one["roles"]
        secret = staff.invite(
            actor=actor,
            key=uuid4(),
            site_id=self.sites[code].pk,
            role=Role(role),
            full_name=one["name"],
        )
        self.accept(one, secret)
        for role, code in more:
            staff.give_role(
                actor=actor,
                staff_id=self.staff[one["username"]].pk,
                site_id=self.sites[code].pk,
                role=Role(role),
            )

    def accept(self, one: dict[str, Any], secret: str) -> None:
        """Use the link as the person would."""
        self.staff[one["username"]] = staff.accept(
            secret=secret,
            password=PASSWORD,
            username=one["username"],
            credential=one["credential"],
            contact="",
            request_id=uuid4(),
        )

    def add_referrers(self) -> None:
        """The address book."""
        with self.acting("dora", self.sites["harbour"]) as actor:
            for one in self.plan["referrer"]:
                details = referrers.ReferrerDetails(**{k: v.strip() for k, v in one.items()})
                referrers.add(actor=actor, key=uuid4(), details=details)
        self.referrers = {row.name: row for row in Referrer.objects.all()}

    @contextmanager
    def acting(self, username: str, site: Site) -> Iterator[Actor]:
        """Somebody at a site, in one request."""
        yield Actor(staff_id=self.staff[username].pk, site_id=site.pk, request_id=uuid4())

    def moment(self, site: Site, on: date, *, hour: int = 10) -> datetime:
        """A working hour of that day, never after the present moment."""
        return min(datetime.combine(on, time(hour), tzinfo=UTC), self.now - timedelta(minutes=5))

    def live_through(self, person: stories.Person) -> None:
        """Register, operate, see at every visit, and whatever else the story holds."""
        row = person.row
        site = self.sites[row["site"]]
        index = person.index_date(today=clock.today(site))
        registered = (
            index - timedelta(weeks=5) if person.row["kind"] != "without_surgery" else index
        )
        if person.story == "no_baseline":
            registered = index + timedelta(days=4)
        registered = min(registered, clock.today(site))
        with (
            clock.held_at(self.moment(site, registered, hour=9)),
            self.acting("dora" if row["site"] == "harbour" else "ilse", site) as desk,
        ):
            episode = self.register(desk, person, site, index)
        operated, told = registered >= index, False
        for week, on, tests in stories.visits(person, today=clock.today(site)):
            if not operated and on >= index:
                self.operate(person, site, episode, index)
                operated = True
            if not told and on > index + chapters.TOLD_AFTER:
                chapters.limits(loader=self, person=person, site=site, episode=episode, index=index)
                told = True
            sign = not (person.number == 1 and week == person.weeks)
            found = [*tests, *more_tests(person, week)]
            uid = self.see(person, site, episode.patient, week, on, found, sign=sign)
            if sign:
                graders.grade_again(loader=self, person=person, site=site, uid=uid, on=on)
                with clock.held_at(self.moment(site, on, hour=17)):
                    chapters.decide(
                        loader=self, person=person, site=site, episode=episode, week=week
                    )
                plans.plan(loader=self, person=person, site=site, episode=episode, week=week, on=on)
        if not told:
            chapters.limits(loader=self, person=person, site=site, episode=episode, index=index)
        chapters.tell(loader=self, person=person, site=site, episode=episode, index=index)

    def register(self, actor: Actor, person: stories.Person, site: Site, index: date) -> Episode:
        """The front desk's page: person, record number, episode, operation."""
        row = person.row
        people.register(
            actor=actor,
            key=uuid4(),
            site_id=site.pk,
            person=PersonDetails(
                name=row["name"],
                birth_date=date.fromisoformat(row["born"]),
                sex=row["sex"],
                preferred_limb=row["preferred"],
                phone=f"0100 555 {person.number:03d}",
                guardian_name="A parent" if person.story == "child" else "",
                goal_words=chapters.GOAL_WORDS.get(row["goal"], ""),
            ),
            record_number=f"{row['site'][0].upper()}-{400 + person.number:04d}",
            episode=self.episode_details(person, index),
            operation=self.operation(person, index, performed=clock.today(site) >= index),
            look_among=[site.pk],
        )
        return Episode.objects.select_related("patient").get(
            patient__record_numbers__number=f"{row['site'][0].upper()}-{400 + person.number:04d}"
        )

    def episode_details(self, person: stories.Person, index: date) -> EpisodeDetails:
        """The knee that is followed, as the referral says."""
        row = person.row
        own = row["kind"] == "without_surgery"
        surgeon = self.referrers[row["surgeon"]].pk
        return EpisodeDetails(
            knee=row["knee"],
            kind=row["kind"],
            goal=row["goal"],
            sport=row["sport"],
            injury_date=index if own else index - timedelta(weeks=7),
            other_limb=row["other_limb"],
            responsible_id=self.staff[row["clinician"]].pk,
            referrer_id=surgeon,
            surgeon_id=surgeon,
        )

    def operation(
        self, person: stories.Person, index: date, *, performed: bool
    ) -> Operation | None:
        """The operation; what the referral left open is unknown, asked on that day."""
        row = person.row
        if row["kind"] in ("waiting", "without_surgery"):
            return None
        asked = clock.now().date() if row["graft"] == "unknown" else None
        return Operation(
            operation=row["kind"],
            state="performed" if performed else "planned",
            date=index,
            graft=row["graft"],
            graft_from=row["graft_from"],
            graft_asked_on=asked,
            procedures=tuple(row["procedures"].split()) if performed else None,
        )

    def operate(self, person: stories.Person, site: Site, episode: Episode, index: date) -> None:
        """Mark the planned operation as performed, from the operation note."""
        row = Surgery.objects.filter(episode=episode).first()
        with (
            clock.held_at(self.moment(site, index + timedelta(days=1))),
            self.acting(person.row["clinician"], site) as actor,
        ):
            operation = self.operation(person, index, performed=True)
            if row is None or operation is None:
                return
            surgeries.change_surgery(
                actor=actor,
                key=uuid4(),
                patient_id=episode.patient_id,
                episode_id=episode.pk,
                surgery_id=row.pk,
                seen=Episode.objects.get(pk=episode.pk).version,
                operation=operation,
            )

    def see(
        self,
        person: stories.Person,
        site: Site,
        patient: Patient,
        week: int,
        on: date,
        tests: list[stories.Test],
        *,
        sign: bool = True,
    ) -> UUID:
        """One visit: open it, type what was found, sign."""
        with (
            clock.held_at(self.moment(site, on, hour=9 + person.number % 8)),
            self.acting(person.row["clinician"], site) as actor,
        ):
            uid = visits.open_visit(
                actor=actor, key=uuid4(), patient_id=patient.pk, site_id=site.pk, on=on
            )
            visit = Visit.objects.select_related("patient", "site").get(uid=uid)
            typed = texts_of(tests) | {NONE: "1"}
            saved = drafts.save(
                actor=actor, visit_id=visit.pk, typed=typed, shown={}, sheet=str(uuid4())
            )
            sheets.key_at(actor=actor, visit=visit, person=person, week=week)
            if sign:
                self.sign(actor, visit, saved)
        return uid

    def sign(self, actor: Actor, visit: Visit, saved: drafts.Saved) -> None:
        """Sign what was typed; a demo that does not parse is an error of the demo."""
        form = LedgerForm(sheet=VisitSheet(visit), tried=True)
        if form.wrongs:
            raise ValueError(f"{visit.date}: {[(w.name, w.message) for w in form.wrongs]}")
        signing.sign(
            actor=actor,
            key=uuid4(),
            visit=visit,
            draft_version=saved.version,
            found=form.to_sign,
            body={},
        )
