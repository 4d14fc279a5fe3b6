"""Clients of people who have signed in, and what a page says."""

import re
from html import unescape
from typing import Any

from django.test import Client

from clinic import clock
from clinic.models.places import StaffMember

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


def signed_in(person: StaffMember, **options: Any) -> Client:
    """A client of a person who signed in just now."""
    client = Client(**options)
    client.force_login(person, backend=BACKEND)
    session = client.session
    session["signed_in_at"] = session["last_activity"] = clock.now().timestamp()
    session.save()
    return client


def words_of(response: Any) -> str:
    """The text of a page, without tags, runs of space as one."""
    text = re.sub(r"<(script|style).*?</\1>", " ", response.content.decode(), flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())
