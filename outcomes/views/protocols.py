"""Protocols: every version kept, one to read, a copy to edit, and what new episodes take."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_GET, require_POST

from clinic import access
from clinic.http import StaffRequest, Unprocessable, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page
from outcomes.forms.protocol_drafts import CopyForm, NewEpisodesForm
from outcomes.queries.catalogue import in_force
from outcomes.queries.protocol_list import draft_list, new_at, protocol_list
from outcomes.queries.protocol_words import protocol_lines, set_lines
from outcomes.services import protocols as service

SEE, MANAGE = Action.SEE_CASELOAD, Action.MANAGE_CATALOGUE
TEMPLATE = "outcomes/protocol.html"


@require_GET
def protocols(request: StaffRequest) -> HttpResponse:
    """Every version that is kept; ``?episode=`` asks a lead where to move one to."""
    site = access.site(request, SEE)
    rows = protocol_list(rules=in_force(), zone=site.zone)
    access.listed(request, SEE, "protocol", [row.ident for row in rows])
    leads = bool(access.sites_with(request, MANAGE))
    context = {
        "rows": rows,
        "leads": leads,
        "drafts": draft_list() if leads else [],
        "moving": moving(request) if leads else None,
    }
    return page(request, "outcomes/protocols.html", context)


def moving(request: StaffRequest) -> UUID | None:
    """The episode that the address names."""
    try:
        return UUID(request.GET.get("episode", ""))
    except ValueError:
        return None


@require_GET
def protocol(request: StaffRequest, code: str, version: int) -> HttpResponse:
    """One version: its milestones in order, what each criterion asks, and where that is from."""
    access.site(request, SEE)
    return _shown(request, f"{code}@{version}", CopyForm())


@require_POST
def copy(request: StaffRequest, code: str, version: int) -> HttpResponse:
    """A draft of the clinic's own from this version."""
    access.site(request, MANAGE)
    form, base = CopyForm(request.POST), f"{code}@{version}"
    answer = attempt(
        form,
        lambda: service.copy(
            actor=request.actor,
            key=form.cleaned_data["key"],
            base=base,
            label=form.cleaned_data["label"],
            following=form.cleaned_data["next"],
        ),
    )
    return answer or _shown(request, base, form)


@require_POST
def for_new(request: StaffRequest, code: str, version: int) -> HttpResponse:
    """New episodes of one of the lead's sites take this version from now on."""
    form = NewEpisodesForm(request.POST)
    access.site(request, MANAGE)
    if not form.is_valid():
        raise Unprocessable("Load the page again and press the button once more.")
    site = access.place(request, form.cleaned_data["site"], MANAGE)
    answer = attempt(
        form,
        lambda: service.for_new(
            actor=request.actor,
            key=form.cleaned_data["key"],
            site_id=site.pk,
            protocol=f"{code}@{version}",
            seen=form.cleaned_data["seen"],
        ),
    )
    return answer or _shown(request, f"{code}@{version}", CopyForm())


def _shown(request: StaffRequest, name: str, form: CopyForm) -> HttpResponse:
    """The page of a version; 404 for one that is not kept."""
    rules = in_force()
    if name not in rules.protocols:
        raise Http404(name)
    rows = protocol_list(rules=rules, zone=request.site.zone)
    row = next(one for one in rows if one.name == name)
    access.listed(request, SEE, "protocol", [row.ident])
    mine = [site.pk for site in access.sites_with(request, MANAGE)]
    context = {
        "row": row,
        "milestones": protocol_lines(protocol=rules.protocols[name], measures=rules.measures),
        "sets": set_lines(protocol=rules.protocols[name], measures=rules.measures),
        "leads": bool(mine),
        "sites": new_at(site_ids=mine) if mine else [],
    }
    return form_page(request, TEMPLATE, form, context)
