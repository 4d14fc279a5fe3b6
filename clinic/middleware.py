"""Request identity, faults, the idle lock, and who is asking."""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Callable
from typing import Any
from urllib.parse import quote
from uuid import uuid4

from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.contrib.auth import logout
from django.contrib.sessions.backends.base import UpdateError
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from clinic import audit, clock
from clinic.http import Fault, NotSaved, Unprocessable, posted, problem
from clinic.models.places import Membership, Site
from clinic.permissions import Actor, Role

Answer = Callable[[HttpRequest], HttpResponse]
log = logging.getLogger("kneeledger.faults")


def request_id(get_response: Answer) -> Answer:
    """Give each request an identity, and keep every answer out of every cache."""

    def middleware(request: HttpRequest) -> HttpResponse:
        request.request_id = uuid4()  # type: ignore[attr-defined]
        response = get_response(request)
        if not request.path.startswith(settings.STATIC_URL):
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    return middleware


class NotThere(Fault):
    """An address that does not exist, or not for this person."""

    status = 404
    title = "Not found here"


class NotYours(Fault):
    """A colleague without the right."""

    status = 403
    title = "Not part of your role"


def as_fault(request: HttpRequest, error: BaseException | None) -> Fault | None:
    """What a person can be told about an exception; None for what only a developer can mend."""
    if isinstance(error, Fault):
        return error
    if isinstance(error, Http404):
        return NotThere(
            "Nothing lies at this address, or it belongs to a site where you do not work."
        )
    if isinstance(error, PermissionDenied):
        return NotYours("Ask the clinic lead if it should be. The attempt has been noted.")
    if isinstance(error, OperationalError):
        log.error("database did not answer", exc_info=error, extra={"request": request})
        return _not_saved(request)
    return None


def _not_saved(request: HttpRequest) -> NotSaved:
    if request.method == "POST":
        return NotSaved(
            "The database is busy or full. What you typed is still here: wait a moment and "
            "send it again. If it happens twice, write it on paper and tell the clinic lead."
        )
    fault = NotSaved("The database is busy or full. Wait a moment and load the page again.")
    fault.title = "Not available at the moment"
    return fault


class faults:
    """Turn faults, and a database that does not answer, into a page or a fragment."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """Answer what a person can act upon; leave the rest to the error page."""
        fault = as_fault(request, error)
        return problem(request, fault) if fault else None


def open_to_all(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Mark a view that needs no sign-in and answers on a locked tablet too."""
    view.open_to_all = True  # type: ignore[attr-defined]
    return view


_SIGN_IN = ("account_login", "account_logout", "mfa_authenticate", "mfa_login_webauthn")


def _is_open(view: Any, request: HttpRequest) -> bool:
    match = request.resolver_match
    return getattr(view, "open_to_all", False) or (match is not None and match.url_name in _SIGN_IN)


def _send_to(request: HttpRequest, address: str) -> HttpResponse:
    """A redirect, or for htmx 401 with the address to go to."""
    if getattr(request, "htmx", False):
        return HttpResponse(status=401, headers={"HX-Redirect": address})
    return HttpResponseRedirect(address)


def _way_back(request: HttpRequest) -> str:
    """The page that the person looks at: its own address, or for a fragment the page around it."""
    if getattr(request, "htmx", False):
        return request.htmx.current_url_abs_path or ""  # type: ignore[attr-defined]
    return request.get_full_path() if request.method == "GET" else ""


def lock_session(request: HttpRequest) -> None:
    """Hide the patient until the person unlocks; one row."""
    request.session["locked"] = True
    audit.sign_in(
        staff_id=request.user.pk,
        request_id=request.request_id,  # type: ignore[attr-defined]
        act="lock",
    )


def shift_is_over(request: HttpRequest) -> bool:
    """Whether the session is older than one shift, however busy it was."""
    now = clock.now().timestamp()
    began: float = request.session.setdefault("signed_in_at", now)
    return now - began > settings.SESSION_COOKIE_AGE


def shift_left(request: HttpRequest) -> int:
    """The seconds until the shift of this session is over."""
    now = clock.now().timestamp()
    began: float = request.session.get("signed_in_at", now)
    return max(0, int(began + settings.SESSION_COOKIE_AGE - now))


_KEEP_AT_MOST = 60_000


def _keep(request: HttpRequest) -> None:
    """Keep a form that was sent to a locked page, on the server, until the person unlocks."""
    fields = posted(request)
    if fields and sum(len(name) + len(value) for name, value in fields) <= _KEEP_AT_MOST:
        request.session["kept"] = {"to": request.path, "fields": fields}


def _note_activity(request: HttpRequest, now: float) -> None:
    """Store the moment at once, so that it cannot overwrite a lock set while a slow view runs.

    A busy database does not stop the request for it: the act itself says whether it was saved.
    """
    request.session["last_activity"] = now
    with contextlib.suppress(DatabaseError, UpdateError):
        request.session.save()
    request.session.modified = False


class idle_lock:
    """Hide the patient after ten quiet minutes; end the session after one shift."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Send a locked person to the lock; note activity at most once a minute."""
        if _is_open(view, request) or not request.user.is_authenticated:
            return None
        session, now = request.session, clock.now().timestamp()
        if shift_is_over(request):
            audit.sign_in(
                staff_id=request.user.pk,
                request_id=request.request_id,  # type: ignore[attr-defined]
                act="shift_end",
            )
            logout(request)
            return _send_to(request, f"{reverse('account_login')}?next={quote(_way_back(request))}")
        last = session.setdefault("last_activity", now)
        if session.get("locked") or now - last > settings.IDLE_LOCK_SECONDS:
            return self._lock(request)
        if now - last >= 60:
            _note_activity(request, now)
        return None

    def _lock(self, request: HttpRequest) -> HttpResponse:
        if not request.session.get("locked"):
            lock_session(request)
        if request.method == "POST" and not getattr(request, "htmx", False):
            _keep(request)
        return _send_to(request, f"{reverse('lock')}?next={quote(_way_back(request))}")


class staff:
    """Give the request its person, roles, sites and actor; sign-in is needed everywhere else."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Refuse the unknown, ask for the second factor, then fill the typed request."""
        if _is_open(view, request):
            return None
        if not request.user.is_authenticated:
            return _send_to(request, f"{reverse('account_login')}?next={quote(_way_back(request))}")
        request.staff = request.user  # type: ignore[attr-defined]
        if request.path.startswith("/accounts/"):
            return None
        if settings.SECOND_FACTOR_DEMANDED and not is_mfa_enabled(request.user):
            return _send_to(request, reverse("mfa_index"))
        roles = roles_of(request.user.pk)
        if not roles:
            fault = Unprocessable(
                "You hold no role at any site. Ask the clinic lead to invite you."
            )
            fault.status, fault.title = 403, "No role at any site"
            return problem(request, fault)
        fill(request, roles)
        return None


def roles_of(staff_id: int) -> dict[Site, frozenset[Role]]:
    """The roles that a person holds today, by site."""
    found: dict[Site, set[Role]] = {}
    rows = Membership.objects.filter(staff_id=staff_id, ended_on__isnull=True)
    for row in rows.select_related("site").order_by("site__name", "site_id"):
        found.setdefault(row.site, set()).add(Role(row.role))
    return {place: frozenset(roles) for place, roles in found.items()}


def fill(request: HttpRequest, roles: dict[Site, frozenset[Role]]) -> None:
    """Write site, sites, roles and actor onto the request."""
    chosen = request.session.get("site_id")
    place = next((s for s in roles if s.pk == chosen), next(iter(roles)))
    request.site = place  # type: ignore[assignment]
    request.sites = list(roles)  # type: ignore[attr-defined]
    request.roles_by_site = {s.pk: held for s, held in roles.items()}  # type: ignore[attr-defined]
    request.roles = roles[place]  # type: ignore[attr-defined]
    request.actor = Actor(  # type: ignore[attr-defined]
        staff_id=request.user.pk,  # type: ignore[arg-type]
        site_id=place.pk,
        request_id=request.request_id,  # type: ignore[attr-defined]
    )
