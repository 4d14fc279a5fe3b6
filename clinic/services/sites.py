"""The organisation and its sites: the first clinic, one more site, and what a site sets."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.utils.text import slugify

from clinic import audit
from clinic.http import Unprocessable
from clinic.models.places import Membership, Organisation, Site
from clinic.permissions import Actor, Role
from clinic.services import acts
from clinic.services.staff import make_link

SETTINGS = (
    "name", "zone", "units", "letterhead", "emergency_line", "paper",
    "proposals", "pictures", "keep_pictures", "majority",
)  # fmt: skip


def open_clinic(*, organisation: str, site: str, zone: str, lead: str) -> str:
    """Make the organisation, its first site, and the first lead's one-time link's secret.

    Raises ``Unprocessable`` when there is an organisation already: there is one an installation.
    """
    with transaction.atomic():
        if Organisation.objects.exists():
            raise Unprocessable("There is an organisation already; nothing was changed.")
        clinic = Organisation.objects.create(pk=1, name=organisation)
        first = Site.objects.create(organisation=clinic, code=code_for(site), name=site, zone=zone)
        secret = secrets.token_urlsafe(32)
        make_link(secret=secret, site_id=first.pk, role=Role.LEAD, full_name=lead)
        audit.sign_in(staff_id=None, request_id=uuid4(), act="open_clinic")
        return secret


def code_for(name: str) -> str:
    """A short code that no other site has."""
    stem = slugify(name)[:16].strip("-") or "site"
    taken = set(Site.objects.values_list("code", flat=True))
    return next(c for c in (stem, *(f"{stem}-{n}" for n in range(2, 1000))) if c not in taken)


def add_site(*, actor: Actor, key: UUID, name: str, zone: str) -> None:
    """One more site; who adds it is its first lead."""

    def do() -> str:
        site = Site.objects.create(organisation_id=1, code=code_for(name), name=name, zone=zone)
        Membership.objects.create(staff_id=actor.staff_id, site=site, role=Role.LEAD)
        audit.write(actor=actor, act="add_site", subject="site", subject_ids=[site.pk])
        return ""

    acts.once(actor=actor, key=key, body={"name": name, "zone": zone}, patient_id=None, do=do)


def edit_site(*, actor: Actor, site_id: int, settings: Mapping[str, Any]) -> None:
    """Change what a site sets: what is printed, what people type, and what is switched on."""
    with transaction.atomic():
        changes = {name: settings[name] for name in SETTINGS}
        Site.objects.filter(pk=site_id).update(**changes)
        audit.write(actor=actor, act="edit_site", subject="site", subject_ids=[site_id])
