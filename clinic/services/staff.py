"""Who works where: invitations by one-time link, and roles."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils.crypto import salted_hmac

from clinic import audit, clock
from clinic.http import Conflict, Unprocessable
from clinic.models.places import Invitation, Membership, Site, StaffMember
from clinic.permissions import Actor, Role
from clinic.services import acts

LINK_LASTS = timedelta(hours=72)


def hash_of(secret: str) -> str:
    """What is kept of a one-time link or a tablet's key: its SHA-256."""
    return sha256(secret.encode()).hexdigest()


def secret_for(*, actor: Actor, key: UUID, purpose: str) -> str:
    """A secret that only this installation can derive: the same form posted twice gives it twice.

    So a doubled request shows the one link again, and the database keeps nothing but its hash.
    """
    return salted_hmac(purpose, f"{actor.staff_id}:{key}", algorithm="sha256").hexdigest()


def invite(*, actor: Actor, key: UUID, site_id: int, role: Role, full_name: str) -> str:
    """Invite a person to a role at a site; the secret of the one-time link is shown once."""
    secret = secret_for(actor=actor, key=key, purpose="invitation")
    body = {"site": site_id, "role": role.value, "full_name": full_name}

    def do() -> str:
        row = make_link(
            secret=secret,
            invited_by_id=actor.staff_id,
            site_id=site_id,
            role=role,
            full_name=full_name,
        )
        audit.write(actor=actor, act="invite", subject="invitation", subject_ids=[row.pk])
        return ""

    acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)
    return secret


def renew(*, actor: Actor, key: UUID, membership_id: int) -> str:
    """A one-time link by which a colleague chooses a new password; second factors stay."""
    secret = secret_for(actor=actor, key=key, purpose="renewal")

    def do() -> str:
        held = Membership.objects.select_related("staff").get(pk=membership_id)
        row = make_link(
            secret=secret,
            invited_by_id=actor.staff_id,
            site_id=held.site_id,
            role=Role(held.role),
            full_name=held.staff.full_name,
            renews=held.staff,
        )
        audit.write(actor=actor, act="renew_password", subject="invitation", subject_ids=[row.pk])
        return ""

    body = {"renew": membership_id}
    acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)
    return secret


def address_of(secret: str) -> str:
    """The link as a person outside opens it: at the first trusted origin, or on this machine."""
    origins: list[str] = settings.CSRF_TRUSTED_ORIGINS
    origin = next((o for o in origins if "*" not in o), "http://localhost:8000")
    return f"{origin}{reverse('invitation', args=[secret])}"


def renew_from_console(*, username: str) -> str:
    """The same for someone whom nobody can give a link: the only lead forgot the password.

    Raises ``Unprocessable`` when nobody who works here has that username.
    """
    rows = Membership.objects.select_related("staff").filter(ended_on__isnull=True)
    held = rows.filter(staff__username__iexact=username).order_by("pk").first()
    if held is None:
        raise Unprocessable(f"Nobody who works here has the username {username}.")
    secret = secrets.token_urlsafe(32)
    with transaction.atomic():
        make_link(
            secret=secret,
            site_id=held.site_id,
            role=Role(held.role),
            full_name=held.staff.full_name,
            renews=held.staff,
        )
        audit.sign_in(staff_id=held.staff_id, request_id=uuid4(), act="renew_password")
    return secret


def make_link(*, secret: str, **what: Any) -> Invitation:
    """The row of a one-time link that lasts 72 hours."""
    now = clock.now()
    return Invitation.objects.create(
        token_hash=hash_of(secret), created_at=now, expires_at=now + LINK_LASTS, **what
    )


def open_invitation(*, secret: str, at: datetime) -> Invitation | None:
    """The invitation of a link that is neither used nor expired nor withdrawn."""
    return (
        Invitation.objects.select_related("site", "renews")
        .filter(token_hash=hash_of(secret), accepted_at__isnull=True, expires_at__gt=at)
        .first()
    )


def withdraw(*, actor: Actor, invitation_id: int) -> None:
    """Let an unused link end now."""
    with transaction.atomic():
        rows = Invitation.objects.filter(pk=invitation_id, accepted_at__isnull=True)
        if rows.update(expires_at=clock.now()):
            audit.write(
                actor=actor, act="withdraw", subject="invitation", subject_ids=[invitation_id]
            )


def accept(
    *, secret: str, password: str, username: str, credential: str, contact: str, request_id: UUID
) -> StaffMember:
    """Use a link once: add the person with their role, or give a colleague a new password.

    Raises ``Conflict`` when the link is used, expired or withdrawn meanwhile, and
    ``Unprocessable`` when the sign-in name is taken.
    """
    with transaction.atomic():
        found = open_invitation(secret=secret, at=clock.now())
        if found is None:
            raise Conflict("This link has been used or has expired. Ask the clinic lead for one.")
        link = Invitation.objects.select_for_update(of=("self",)).get(pk=found.pk)
        if link.accepted_at:
            raise Conflict("This link has just been used.")
        person = link.renews or _add_person(link, username, credential, contact)
        person.set_password(password)
        person.pin_misses = 0
        person.save(update_fields=["password", "pin_misses"])
        link.accepted_at, link.accepted_by = clock.now(), person
        link.save(update_fields=["accepted_at", "accepted_by"])
        actor = Actor(staff_id=person.pk, site_id=link.site_id, request_id=request_id)
        act = "new_password" if link.renews_id else "accept_invitation"
        audit.write(actor=actor, act=act, subject="staff", subject_ids=[person.pk])
        return person


def unsaved(*, full_name: str) -> StaffMember:
    """The person that a link would add, to judge a password by."""
    return StaffMember(full_name=full_name)


def _add_person(link: Invitation, username: str, credential: str, contact: str) -> StaffMember:
    person = StaffMember(
        username=username, full_name=link.full_name, credential=credential, contact=contact
    )
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError:
        raise Unprocessable("This sign-in name is taken: choose another one.") from None
    Membership.objects.create(staff=person, site_id=link.site_id, role=link.role)
    return person


def give_role(*, actor: Actor, staff_id: int, site_id: int, role: Role) -> None:
    """Give a colleague one more role, or one that had ended."""
    with transaction.atomic():
        held, _ = Membership.objects.update_or_create(
            staff_id=staff_id, site_id=site_id, role=role.value, defaults={"ended_on": None}
        )
        audit.write(actor=actor, act="give_role", subject="membership", subject_ids=[held.pk])


def end_role(*, actor: Actor, membership_id: int) -> None:
    """End a role today; it stops with the person's next request. A site keeps its last lead."""
    with transaction.atomic():
        held = Membership.objects.select_related("site").get(pk=membership_id)
        Site.objects.select_for_update().get(pk=held.site_id)
        if held.ended_on:
            return
        others = Membership.objects.filter(
            site_id=held.site_id, role=Role.LEAD.value, ended_on__isnull=True
        ).exclude(pk=held.pk)
        if held.role == Role.LEAD.value and not others.exists():
            raise Unprocessable(
                f"{held.site.name} would have no lead. Give the lead's role to someone else first."
            )
        held.ended_on = clock.today(held.site)
        held.save(update_fields=["ended_on"])
        audit.write(actor=actor, act="end_role", subject="membership", subject_ids=[held.pk])
