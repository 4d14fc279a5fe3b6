"""A person's own page: PIN, password, what letters say of them, where they are signed in."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from clinic import access, words
from clinic.forms.lock import DescribeForm, PasswordForm, PinForm
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.services import own
from clinic.views import device
from clinic.views.adapters import password_is_right


def me(request: StaffRequest) -> HttpResponse:
    """The page with its three forms and the open sessions."""
    access.site(request, Action.SEE_OWN_PAGES)
    access.listed(request, Action.SEE_OWN_PAGES, "staff", [request.staff.pk])
    return _show(request)


def _forms(request: StaffRequest) -> dict[str, Any]:
    check = partial(password_is_right, request)
    person = request.staff
    return {
        "pin_form": PinForm(prefix="pin", check=check),
        "password_form": PasswordForm(prefix="password", check=check, person=person),
        "printed_form": DescribeForm(
            initial={"credential": person.credential, "contact": person.contact}
        ),
    }


def _show(request: StaffRequest, status: int = 200, **forms: Any) -> HttpResponse:
    sessions = own.sessions_of(staff_id=request.staff.pk)
    rows = [
        {
            "since": words.moment(one.since, zone=request.site.zone),
            "last": words.moment(one.last, zone=request.site.zone),
            "where": one.where,
            "here": one.key == request.session.session_key,
        }
        for one in sessions
    ]
    context = {
        **_forms(request),
        **forms,
        "form": next(iter(forms.values()), None),
        "has_pin": bool(request.staff.pin),
        "tablet": device.label_of(request, staff_id=request.staff.pk),
        "rows": rows,
    }
    return page(request, "clinic/me.html", context, status=status)


def _done(request: StaffRequest, words: str) -> HttpResponse:
    messages.success(request, words)
    return HttpResponseRedirect(reverse("me"))


@require_POST
def pin(request: StaffRequest) -> HttpResponse:
    """Set or change the PIN."""
    access.site(request, Action.SEE_OWN_PAGES)
    form = PinForm(request.POST, prefix="pin", check=partial(password_is_right, request))
    if not form.is_valid():
        return _show(request, status=422, pin_form=form)
    own.set_pin(actor=request.actor, pin=form.cleaned_data["pin"])
    return _done(request, "Your PIN is set. It unlocks registered tablets within a shift.")


@require_POST
def password(request: StaffRequest) -> HttpResponse:
    """Change the password; this session goes on, all others end."""
    access.site(request, Action.SEE_OWN_PAGES)
    check = partial(password_is_right, request)
    form = PasswordForm(request.POST, prefix="password", check=check, person=request.staff)
    if not form.is_valid():
        return _show(request, status=422, password_form=form)
    person = own.change_password(actor=request.actor, password=form.cleaned_data["password"])
    update_session_auth_hash(request, person)
    return _done(request, "Your password is changed. Your other sessions have ended.")


@require_POST
def printed(request: StaffRequest) -> HttpResponse:
    """Change what letters print under one's name."""
    access.site(request, Action.SEE_OWN_PAGES)
    form = DescribeForm(request.POST)
    if not form.is_valid():
        return _show(request, status=422, printed_form=form)
    own.describe_self(actor=request.actor, **form.cleaned_data)
    return _done(request, "Letters print this from now on.")


@require_POST
def end_sessions(request: StaffRequest) -> HttpResponse:
    """Sign out everywhere but here."""
    access.site(request, Action.SEE_OWN_PAGES)
    own.end_other_sessions(actor=request.actor, keep=request.session.session_key or "")
    return _done(request, "You are signed in nowhere else.")
