"""Sign-in is closed; home by role; the site that is worked at; health."""

from __future__ import annotations

from allauth.account.adapter import DefaultAccountAdapter
from django.conf import settings
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse

from clinic.http import StaffRequest
from clinic.middleware import open_to_all


class ClosedAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    """Nobody signs up: staff come by invitation."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Always closed."""
        return False


@open_to_all
def healthz(request: HttpRequest) -> HttpResponse:
    """200 while the database answers, 503 when it does not; no sign-in."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        database, status = "ok", 200
    except DatabaseError:
        database, status = "not reached", 503
    word = "ok" if status == 200 else "failing"
    body = {"status": word, "version": settings.VERSION, "database": database}
    return JsonResponse(body, status=status)


def home(request: StaffRequest) -> HttpResponse:
    """The page that a person's role begins the day with."""
    return HttpResponseRedirect("/patients/")
