"""Factories for the clinic's rows: plain rows that satisfy every constraint."""

from datetime import UTC, date, datetime
from typing import Any

import factory
from factory.django import DjangoModelFactory

from clinic.models import care, people, places

MOMENT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


class OrganisationFactory(DjangoModelFactory[places.Organisation]):
    class Meta:
        model = places.Organisation
        django_get_or_create = ("id",)

    id = 1
    name = "Lantern Quay Knee Clinics"


class SiteFactory(DjangoModelFactory[places.Site]):
    class Meta:
        model = places.Site

    organisation = factory.SubFactory(OrganisationFactory)
    code = factory.Sequence(lambda n: f"site-{n}")
    name = factory.Sequence(lambda n: f"Site {n}")
    zone = "Europe/Lisbon"


class StaffFactory(DjangoModelFactory[places.StaffMember]):
    class Meta:
        model = places.StaffMember

    username = factory.Sequence(lambda n: f"person-{n}")
    full_name = factory.Sequence(lambda n: f"Person Number{n}")
    credential = "Physiotherapist"

    @classmethod
    def _create(cls, model_class: Any, *args: Any, **kwargs: Any) -> Any:
        person = model_class(**kwargs)
        person.set_password("a long enough password")
        person.save()
        return person


class MembershipFactory(DjangoModelFactory[places.Membership]):
    class Meta:
        model = places.Membership

    staff = factory.SubFactory(StaffFactory)
    site = factory.SubFactory(SiteFactory)
    role = "clinician"


class ReferrerFactory(DjangoModelFactory[people.Referrer]):
    class Meta:
        model = people.Referrer

    name = factory.Sequence(lambda n: f"Dr Referrer {n}")
    practice = "Westmoor Hospital"


class PatientFactory(DjangoModelFactory[people.Patient]):
    class Meta:
        model = people.Patient

    name = factory.Sequence(lambda n: f"Patient Number{n}")
    name_folded = factory.LazyAttribute(lambda o: o.name.casefold())
    birth_date = date(2001, 5, 3)
    sex = "female"
    registered_at = MOMENT


class EpisodeFactory(DjangoModelFactory[care.Episode]):
    class Meta:
        model = care.Episode

    patient = factory.SubFactory(PatientFactory)
    site = factory.SubFactory(SiteFactory)
    knee = "right"
    kind = "reconstruction"
    goal = "pivoting"
    other_limb = "healthy"
    injury_date = date(2026, 7, 1)
    opened_on = date(2026, 7, 20)


class SurgeryFactory(DjangoModelFactory[care.Surgery]):
    class Meta:
        model = care.Surgery

    episode = factory.SubFactory(EpisodeFactory)
    operation = "reconstruction"
    state = "performed"
    date = date(2026, 8, 12)
    graft = "hamstring"
    graft_from = "same_limb"
    recorded_by = factory.SubFactory(StaffFactory)
    recorded_at = MOMENT


class VisitFactory(DjangoModelFactory[care.Visit]):
    class Meta:
        model = care.Visit

    patient = factory.SubFactory(PatientFactory)
    site = factory.SubFactory(SiteFactory)
    date = date(2026, 11, 25)
    state = "open"
    arrived_at = MOMENT
    opened_at = MOMENT
