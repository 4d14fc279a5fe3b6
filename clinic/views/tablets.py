"""Registered tablets: the list, the device at hand, and retiring one."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from clinic import access
from clinic.forms.staff import TabletForm
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.queries import staff as queries
from clinic.services import tablets as services
from clinic.views import device
from clinic.views.sign_in import step_up

MANAGE = Action.MANAGE_TABLETS


@step_up
def tablets(request: StaffRequest) -> HttpResponse:
    """The registered tablets; posting registers the device that the request comes from."""
    access.site(request, MANAGE)
    mine = access.sites_with(request, MANAGE)
    form = TabletForm(request.POST or None, sites=mine)
    if form.is_valid():
        data = form.cleaned_data
        key = services.register(
            actor=request.actor, key=data["key"], site_id=data["site"].pk, label=data["label"]
        )
        messages.success(request, f"This device is registered as {data['label']}.")
        response = HttpResponseRedirect(reverse("tablets"))
        device.remember(response, key)
        return response
    shown = queries.of_sites(mine)
    ids = [tablet.pk for one in shown for tablet in one.tablets]
    access.listed(request, MANAGE, "tablet", ids)
    here = device.label_of(request, staff_id=request.staff.pk)
    context = {"form": form, "shown": shown, "here": here}
    return page(request, "clinic/tablets.html", context, status=422 if form.is_bound else 200)


@require_POST
def retire(request: StaffRequest, uid: UUID) -> HttpResponse:
    """No PIN unlocks on that tablet any more."""
    found = access.tablet(request, uid, MANAGE)
    services.retire(actor=request.actor, tablet_id=found.pk)
    messages.success(request, f"{found.label} is retired.")
    return HttpResponseRedirect(reverse("tablets"))
