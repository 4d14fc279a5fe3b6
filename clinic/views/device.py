"""Which registered tablet a request comes from: a signed, long-lived cookie with a random key."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from clinic.services import tablets

_DAYS = 400


def _name() -> str:
    return "__Host-tablet" if settings.SESSION_COOKIE_SECURE else "tablet"


def key_of(request: HttpRequest) -> str:
    """The key in the device's cookie, or nothing."""
    return request.get_signed_cookie(_name(), default="", salt="tablet") or ""


def label_of(request: HttpRequest, *, staff_id: int) -> str:
    """What the registered tablet is called on which this person's PIN works, or nothing."""
    found = tablets.with_key(key=key_of(request), staff_id=staff_id)
    return found.label if found else ""


def remember(response: HttpResponse, key: str) -> None:
    """Write the device's cookie; each PIN that unlocks writes it anew."""
    response.set_signed_cookie(
        _name(),
        key,
        salt="tablet",
        max_age=_DAYS * 24 * 60 * 60,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
