"""The only door to a patient: the object, 404 for an outsider, 403 for a colleague without right.

The door writes the audit row: one for a full page that is shown, one for each refusal, and that
row is committed before the refusal. Fragments of a page that was shown write none, and those of
a list do, for they show other rows; acts are written by the service that does them.
"""

from __future__ import annotations

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404

from clinic import audit
from clinic.http import StaffRequest
from clinic.models.care import Episode, Visit
from clinic.models.people import Patient, Referrer
from clinic.models.places import Invitation, Membership, Site, Tablet
from clinic.permissions import Action, Role, may


def sites_with(request: StaffRequest, action: Action) -> list[Site]:
    """The sites at which the person may do the action, the present one first."""
    return sorted(
        (s for s in request.sites if may(roles=request.roles_by_site[s.pk], action=action)),
        key=lambda site: (site.pk != request.site.pk, site.name, site.pk),
    )


def site(request: StaffRequest, action: Action) -> Site:
    """The present site if the person may do the action there, else another one of theirs."""
    found = sites_with(request, action)
    if not found:
        refuse(request, action, "site", [request.site.pk])
    return found[0]


def refuse(request: StaffRequest, action: Action, subject: str, ids: list[int]) -> None:
    """Write the refusal, then refuse a colleague with 403."""
    audit.write(
        actor=request.actor, act=action.value, subject=subject, subject_ids=ids, outcome="refused"
    )
    raise PermissionDenied(action.value)


def _unknown(request: StaffRequest, action: Action, subject: str, ids: list[int]) -> Http404:
    audit.write(
        actor=request.actor,
        act=action.value,
        subject=subject,
        subject_ids=ids,
        outcome="refused",
        note="outsider" if ids else "unknown address",
    )
    return Http404(subject)


def roles_for(request: StaffRequest, patient: Patient) -> frozenset[Role]:
    """The person's roles at the sites of any of the patient's episodes."""
    places = Episode.objects.filter(patient=patient).values_list("site_id", flat=True).distinct()
    mine = [request.roles_by_site[place] for place in places if place in request.roles_by_site]
    return frozenset().union(*mine)


def _admit(
    request: StaffRequest, patient: Patient, action: Action, subject: str, ident: int
) -> None:
    roles = roles_for(request, patient)
    if not roles:
        raise _unknown(request, action, subject, [ident])
    if not may(roles=roles, action=action):
        refuse(request, action, subject, [ident])
    if request.method == "GET" and not (
        request.htmx
        and audit.was_shown(
            actor=request.actor, subject=subject, ident=ident, patient_id=patient.pk
        )
    ):
        audit.write(actor=request.actor, act=action.value, subject=subject, subject_ids=[ident])


def patient(request: StaffRequest, uid: UUID, action: Action) -> Patient:
    """A patient, through the door."""
    found = Patient.objects.filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "patient", [])
    _admit(request, found, action, "patient", found.pk)
    return found


def episode(request: StaffRequest, uid: UUID, action: Action) -> Episode:
    """An episode with its patient and site, through the patient's door."""
    found = Episode.objects.select_related("patient", "site").filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "episode", [])
    _admit(request, found.patient, action, "episode", found.pk)
    return found


def visit(request: StaffRequest, uid: UUID, action: Action) -> Visit:
    """A visit with its patient and site, through the patient's door."""
    found = Visit.objects.select_related("patient", "site").filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "visit", [])
    _admit(request, found.patient, action, "visit", found.pk)
    return found


def referrer(request: StaffRequest, uid: UUID, action: Action) -> Referrer:
    """A referrer; the address book is the organisation's, so any site's right will do."""
    site(request, action)
    found = Referrer.objects.filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "referrer", [])
    return found


def place(request: StaffRequest, code: str, action: Action) -> Site:
    """One of the person's sites by its code; a site they do not work at is not there for them."""
    found = next((s for s in request.sites if s.code == code), None)
    if found is None:
        raise _unknown(request, action, "site", [])
    if not may(roles=request.roles_by_site[found.pk], action=action):
        refuse(request, action, "site", [found.pk])
    return found


def membership(request: StaffRequest, ident: int, action: Action) -> Membership:
    """A colleague's role, through the door of its site."""
    found = Membership.objects.select_related("site", "staff").filter(pk=ident).first()
    if found is None:
        raise _unknown(request, action, "membership", [])
    place(request, found.site.code, action)
    return found


def invitation(request: StaffRequest, ident: int, action: Action) -> Invitation:
    """A one-time link's row, through the door of its site."""
    found = Invitation.objects.select_related("site").filter(pk=ident).first()
    if found is None:
        raise _unknown(request, action, "invitation", [])
    place(request, found.site.code, action)
    return found


def tablet(request: StaffRequest, uid: UUID, action: Action) -> Tablet:
    """A registered tablet, through the door of its site."""
    found = Tablet.objects.select_related("site").filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "tablet", [])
    place(request, found.site.code, action)
    return found


def patients(request: StaffRequest, action: Action) -> QuerySet[Patient]:
    """All patients of the sites at which the person may do the action."""
    allowed = [place.pk for place in sites_with(request, action)]
    if not allowed:
        refuse(request, action, "site", [request.site.pk])
    return Patient.objects.filter(episodes__site_id__in=allowed).distinct()


def listed(request: StaffRequest, action: Action, subject: str, ids: list[int]) -> None:
    """The audit row of a list, a page or what a filter swaps in: the ids it shows."""
    audit.write(actor=request.actor, act=action.value, subject=subject, subject_ids=ids)
