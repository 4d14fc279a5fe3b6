"""Sign-in and sign-out, the second factor, step-up; home by role; the site worked at; health."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from urllib.parse import urlencode, urlsplit

from allauth.account.internal.flows.reauthentication import did_recently_reauthenticate
from allauth.account.views import LoginView, LogoutView, ReauthenticateView
from allauth.mfa.base.views import AuthenticateView
from django.conf import settings
from django.db import DatabaseError, connection
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import reverse
from django.views.decorators.http import require_POST

from clinic import audit, clock
from clinic.http import Fault, StaffRequest, problem
from clinic.middleware import open_to_all
from clinic.permissions import Action, Role, may
from clinic.views.adapters import request_id

_STEP_UP_SECONDS = 300


class TooMany(Fault):
    """Too many wrong tries from one place."""

    status = 429
    title = "Too many tries"


def locked_out(request: HttpRequest, *rest: Any) -> HttpResponse:
    """The page after too many wrong tries; it says the same whether the name exists or not."""
    audit.sign_in(
        staff_id=request.user.pk,
        request_id=request_id(request),
        act="locked_out",
        outcome="refused",
    )
    minutes = round(settings.AXES_COOLOFF_TIME * 60)
    wait = f"Wait {minutes} minutes and try again, or ask the clinic lead for a new link."
    response = problem(request, TooMany(wait))
    response["Retry-After"] = str(minutes * 60)
    return response


class Told422:
    """A form that was not accepted answers 422, and 429 once there were too many tries."""

    request: HttpRequest

    def form_invalid(self, form: Any) -> HttpResponse:
        """The page again, with what to type instead."""
        codes = {error.code for errors in form.errors.as_data().values() for error in errors}
        if "too_many_login_attempts" in codes:
            return locked_out(self.request)
        response: HttpResponse = super().form_invalid(form)  # type: ignore[misc]
        response.status_code = 422
        return response


class SignIn(Told422, LoginView):  # type: ignore[misc]
    """Name and password, or a passkey."""

    def get_form(self, form_class: Any = None) -> Any:
        """The labels say what goes where, so the fields hold nothing."""
        form = super().get_form(form_class)
        for field in form.fields.values():
            field.widget.attrs.pop("placeholder", None)
        return form


class SignOut(LogoutView):  # type: ignore[misc]
    """Ends by POST only, from every page's frame; the browser forgets what it kept."""

    def post(self, *args: Any, **kwargs: Any) -> HttpResponse:
        """End the session; drafts wait on the server.

        What waits on the tablet to be sent stays: its page says when nothing does.
        """
        empty = self.request.POST.get("outbox") == "empty"
        response: HttpResponse = super().post(*args, **kwargs)
        response["Clear-Site-Data"] = '"cache", "storage"' if empty else '"cache"'
        return response


class SecondFactor(Told422, AuthenticateView):  # type: ignore[misc]
    """The code or the key after the password."""

    def form_invalid(self, form: Any) -> HttpResponse:
        """One row for each wrong code."""
        audit.sign_in(
            staff_id=self.stage.login.user.pk,
            request_id=request_id(self.request),
            act="second_factor",
            outcome="failed",
        )
        return super().form_invalid(form)


class Confirm(Told422, ReauthenticateView):  # type: ignore[misc]
    """The password once more before something grave."""

    def form_invalid(self, form: Any) -> HttpResponse:
        """One row for each wrong password."""
        audit.sign_in(
            staff_id=self.request.user.pk,
            request_id=request_id(self.request),
            act="step_up",
            outcome="failed",
        )
        return super().form_invalid(form)


def step_up(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Ask for the password again unless it was given within five minutes.

    Afterwards the person is back on the page; a form that was sent too late is sent once more.
    """

    @wraps(view)
    def confirmed(request: StaffRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        fresh = clock.now().timestamp() - request.session.get("signed_in_at", 0)
        if fresh <= _STEP_UP_SECONDS or did_recently_reauthenticate(request):
            return view(request, *args, **kwargs)
        address = f"{reverse('account_reauthenticate')}?{urlencode({'next': _page_of(request)})}"
        if request.htmx:
            return HttpResponse(status=401, headers={"HX-Redirect": address})
        return HttpResponseRedirect(address)

    return confirmed


def _page_of(request: HttpRequest) -> str:
    """The page that the person looks at: the one asked for, or the one a form was sent from."""
    if request.method == "GET":
        return request.get_full_path()
    came_from = urlsplit(request.headers.get("Referer", ""))
    if came_from.netloc != request.get_host():
        return reverse("home")
    return f"{came_from.path}?{came_from.query}" if came_from.query else came_from.path


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
    """The page that a person's role begins the day with: the day, or a lead's caseload."""
    works_here = {Role.FRONT_DESK, Role.CLINICIAN} & request.roles
    return HttpResponseRedirect(reverse("today" if works_here else "caseload"))


@require_POST
def switch_site(request: StaffRequest) -> HttpResponse:
    """Work at another of one's sites from now on."""
    chosen = next((s for s in request.sites if s.code == request.POST.get("site")), None)
    if chosen is None or not may(
        roles=request.roles_by_site[chosen.pk], action=Action.SEE_OWN_PAGES
    ):
        raise Http404("site")
    request.session["site_id"] = chosen.pk
    return HttpResponseRedirect(reverse("home"))
