"""The standing cast: two sites, one person for each role, an outsider, and Ines at week 15.

Today is Wednesday 25 November 2026, 09:00 UTC, in every test that uses the cast.
"""

from dataclasses import dataclass
from datetime import date

from django.contrib.auth.hashers import make_password

from clinic.models.care import Episode, Surgery
from clinic.models.people import Patient, RecordNumber, Referrer
from clinic.models.places import Membership, Site, StaffMember
from tests.factories.clinic import (
    MOMENT,
    EpisodeFactory,
    MembershipFactory,
    OrganisationFactory,
    PatientFactory,
    ReferrerFactory,
    SiteFactory,
    StaffFactory,
    SurgeryFactory,
)

TODAY = date(2026, 11, 25)
PASSWORD = "a long enough password"

__all__ = ["MOMENT", "PASSWORD", "TODAY", "Cast", "make_cast"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Cast:
    """Everybody that a test needs by name."""

    harbour: Site
    millbank: Site
    desk: StaffMember
    clinician: StaffMember
    colleague: StaffMember
    lead: StaffMember
    outsider: StaffMember
    surgeon: Referrer
    ines: Patient
    episode: Episode
    surgery: Surgery


def make_cast() -> Cast:
    """The cast as rows. Ines Marlow: right knee, hamstring graft, operated 12 August 2026."""
    sites = [("harbour", "Harbour Street"), ("millbank", "Millbank")]
    organisation = OrganisationFactory()
    harbour, millbank = Site.objects.bulk_create(
        SiteFactory.build(organisation=organisation, code=code, name=name) for code, name in sites
    )
    people = {
        "desk": ("Dora Quill", "front_desk", harbour),
        "clinician": ("Tess Okafor", "clinician", harbour),
        "colleague": ("Bram Solis", "clinician", harbour),
        "lead": ("Lena Varga", "lead", harbour),
        "outsider": ("Otis Far", "clinician", millbank),
    }
    password = make_password(PASSWORD)
    rows = StaffMember.objects.bulk_create(
        StaffFactory.build(username=username, full_name=name, password=password)
        for username, (name, _, _) in people.items()
    )
    staff = dict(zip(people, rows, strict=True))
    Membership.objects.bulk_create(
        MembershipFactory.build(staff=staff[username], site=site, role=role)
        for username, (_, role, site) in people.items()
    )
    surgeon = ReferrerFactory(name="Mr Aled Pryce", kind="surgeon", practice="Westmoor Hospital")
    ines = PatientFactory(name="Ines Marlow")
    RecordNumber.objects.create(site=harbour, patient=ines, number="H-0412")
    episode = EpisodeFactory(
        patient=ines, site=harbour, responsible=staff["clinician"], surgeon=surgeon
    )
    surgery = SurgeryFactory(episode=episode, recorded_by=staff["clinician"])
    return Cast(
        harbour=harbour,
        millbank=millbank,
        surgeon=surgeon,
        ines=ines,
        episode=episode,
        surgery=surgery,
        **staff,
    )
