"""The clinic's page: people and roles by site, one-time links, what a site sets."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from clinic import access, clock, words
from clinic.forms.staff import (
    AcceptForm,
    InviteForm,
    NewSiteForm,
    RenewForm,
    RenewPasswordForm,
    RoleForm,
    SiteForm,
)
from clinic.http import Conflict, StaffRequest, Unprocessable, page, problem
from clinic.middleware import open_to_all
from clinic.permissions import Action, Role
from clinic.queries import staff as queries
from clinic.services import sites, staff
from clinic.views.adapters import request_id
from clinic.views.sign_in import step_up

MANAGE = Action.MANAGE_STAFF


def clinic(request: StaffRequest) -> HttpResponse:
    """Everybody and everything that the person leads."""
    access.site(request, MANAGE)
    return _show(request)


def _show(request: StaffRequest, status: int = 200, **forms: Any) -> HttpResponse:
    mine = access.sites_with(request, MANAGE)
    shown = queries.of_sites(mine)
    ids = sorted({row.staff_id for one in shown for row in one.held})
    access.listed(request, MANAGE, "staff", ids)
    context = {
        "shown": [_site_rows(one) for one in shown],
        "role_form": RoleForm(sites=mine, people=queries.people()),
        "new_site_form": NewSiteForm(initial={"zone": request.site.zone}),
        **forms,
        "form": next(iter(forms.values()), None),
    }
    return page(request, "clinic/clinic.html", context, status=status)


def _site_rows(one: queries.SiteStaff) -> dict[str, Any]:
    zone = one.site.zone
    links = [(link, words.moment(link.expires_at, zone=zone)) for link in one.links]
    return {"site": one.site, "held": one.held, "links": links, "tablets": one.tablets}


def _done(request: StaffRequest, said: str) -> HttpResponse:
    messages.success(request, said)
    return HttpResponseRedirect(reverse("clinic_settings"))


@step_up
def invite(request: StaffRequest) -> HttpResponse:
    """Invite a person; the one-time link is shown on this answer and never again."""
    access.site(request, MANAGE)
    form = InviteForm(request.POST or None, sites=access.sites_with(request, MANAGE))
    if not form.is_valid():
        status = 422 if form.is_bound else 200
        return page(request, "clinic/invitation_new.html", {"form": form}, status=status)
    data = form.cleaned_data
    secret = staff.invite(
        actor=request.actor,
        key=data["key"],
        site_id=data["site"].pk,
        role=Role(data["role"]),
        full_name=data["full_name"],
    )
    return _show_link(request, secret, data["full_name"])


@require_POST
@step_up
def renew(request: StaffRequest, ident: int) -> HttpResponse:
    """A one-time link for a colleague who forgot the password."""
    held = access.membership(request, ident, MANAGE)
    form = RenewForm(request.POST)
    if not form.is_valid():
        raise Unprocessable("Load the page again and press the button once more.")
    secret = staff.renew(actor=request.actor, key=form.cleaned_data["key"], membership_id=held.pk)
    return _show_link(request, secret, held.staff.full_name)


def _show_link(request: StaffRequest, secret: str, full_name: str) -> HttpResponse:
    link = request.build_absolute_uri(reverse("invitation", args=[secret]))
    until = words.moment(clock.now() + staff.LINK_LASTS, zone=request.site.zone)
    context = {"link": link, "full_name": full_name, "until": until}
    return page(request, "clinic/invitation_link.html", context)


@require_POST
def withdraw(request: StaffRequest, ident: int) -> HttpResponse:
    """Let a link that was not used end now."""
    link = access.invitation(request, ident, MANAGE)
    staff.withdraw(actor=request.actor, invitation_id=link.pk)
    return _done(request, f"The link for {link.full_name} has ended.")


@require_POST
def give_role(request: StaffRequest) -> HttpResponse:
    """Give a colleague one more role."""
    access.site(request, MANAGE)
    mine = access.sites_with(request, MANAGE)
    form = RoleForm(request.POST, sites=mine, people=queries.people())
    if not form.is_valid():
        return _show(request, status=422, role_form=form)
    data = form.cleaned_data
    staff.give_role(
        actor=request.actor,
        staff_id=int(data["staff"]),
        site_id=data["site"].pk,
        role=Role(data["role"]),
    )
    return _done(request, "The role is given; it works from the next page they open.")


@require_POST
def end_role(request: StaffRequest, ident: int) -> HttpResponse:
    """End a colleague's role today."""
    held = access.membership(request, ident, MANAGE)
    staff.end_role(actor=request.actor, membership_id=held.pk)
    return _done(request, f"{held.staff.full_name} no longer holds this role.")


@require_POST
def add_site(request: StaffRequest) -> HttpResponse:
    """Add one more site to the organisation."""
    access.site(request, MANAGE)
    form = NewSiteForm(request.POST)
    if not form.is_valid():
        return _show(request, status=422, new_site_form=form)
    data = form.cleaned_data
    sites.add_site(actor=request.actor, key=data["key"], name=data["name"], zone=data["zone"])
    return _done(request, f"{data['name']} is added, and you lead it.")


def site(request: StaffRequest, code: str) -> HttpResponse:
    """What a site sets: what is printed, what people type, and what is switched on."""
    place = access.place(request, code, MANAGE)
    initial = {name: getattr(place, name) for name in sites.SETTINGS}
    form = SiteForm(request.POST or None, initial=initial)
    if form.is_valid():
        sites.edit_site(actor=request.actor, site_id=place.pk, settings=form.cleaned_data)
        return _done(request, f"The settings of {form.cleaned_data['name']} are kept.")
    if not form.is_bound:
        access.listed(request, MANAGE, "site", [place.pk])
    status = 422 if form.is_bound else 200
    return page(request, "clinic/clinic_site.html", {"form": form, "place": place}, status=status)


@open_to_all
def accept(request: HttpRequest, token: str) -> HttpResponse:
    """Use a one-time link, without a sign-in: choose how to sign in from now on."""
    link = staff.open_invitation(secret=token, at=clock.now())
    if link is None:
        over = Conflict("It has been used, has expired or was withdrawn. Ask for a new one.")
        over.status, over.title = 404, "This link does not work any more"
        return problem(request, over)
    person = link.renews or staff.unsaved(full_name=link.full_name)
    make = RenewPasswordForm if link.renews else AcceptForm
    form = make(request.POST or None, person=person)
    if form.is_valid() and _accepted(request, token, form):
        messages.success(request, "You can sign in now.")
        return HttpResponseRedirect(reverse("account_login"))
    context = {"form": form, "link": link, "username": link.renews and link.renews.username}
    status = 422 if form.is_bound else 200
    return page(request, "clinic/invitation.html", context, status=status)


def _accepted(request: HttpRequest, token: str, form: RenewPasswordForm) -> bool:
    data = form.cleaned_data
    try:
        staff.accept(
            secret=token,
            password=data["password"],
            username=data.get("username", ""),
            credential=data.get("credential", ""),
            contact=data.get("contact", ""),
            request_id=request_id(request),
        )
    except Unprocessable as taken:
        form.add_error("username", taken.what_to_do)
        return False
    return True
