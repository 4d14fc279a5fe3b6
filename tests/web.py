"""Clients of people who have signed in, and what a page says."""

import re
from html import unescape
from typing import Any

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.test import Client

from clinic import clock
from clinic.models.places import StaffMember

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


def signed_in(person: StaffMember, **options: Any) -> Client:
    """A client of a person who signed in just now."""
    now = clock.now().timestamp()
    session = SessionStore()
    session.update(
        {
            SESSION_KEY: str(person.pk),
            BACKEND_SESSION_KEY: BACKEND,
            HASH_SESSION_KEY: person.get_session_auth_hash(),
            "signed_in_at": now,
            "last_activity": now,
        }
    )
    session.create()
    client = Client(**options)
    client.cookies[settings.SESSION_COOKIE_NAME] = str(session.session_key)
    return client


def words_of(response: Any) -> str:
    """The text of a page, without tags, runs of space as one."""
    text = re.sub(r"<(script|style).*?</\1>", " ", response.content.decode(), flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())
