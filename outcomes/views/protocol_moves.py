"""Moving episodes to a protocol: who, what would be judged otherwise, then the move."""

from __future__ import annotations

from django.http import Http404, HttpResponse

from clinic import access
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page
from outcomes.forms.protocol_moves import MoveForm
from outcomes.queries.catalogue import in_force
from outcomes.queries.protocol_moves import differences, movable
from outcomes.services import protocol_moves as service
from outcomes.views.protocols import moving

MANAGE = Action.MANAGE_CATALOGUE
TEMPLATE = "outcomes/protocol_episodes.html"


def episodes(request: StaffRequest, code: str, version: int) -> HttpResponse:
    """The followed episodes of the lead's sites to tick; then the difference; then the move."""
    access.site(request, MANAGE)
    name, rules = f"{code}@{version}", in_force()
    if name not in rules.protocols:
        raise Http404(name)
    sites = [site.pk for site in access.sites_with(request, MANAGE)]
    offered = movable(site_ids=sites, protocol=name, rules=rules)
    access.listed(request, MANAGE, "episode", [one.ident for one in offered])
    form = MoveForm(request.POST or None, offered=offered, asked=moving(request))
    follow = sum(one.follows for one in offered)
    context = {"protocol": rules.protocols[name], "args": (code, version), "follow": follow}
    if not form.previewing:
        answer = attempt(form, lambda: _move(request, name, sites, form))
        return answer or form_page(request, TEMPLATE, form, context)
    chosen = form.chosen if form.is_valid() else []
    context |= {"form": form, "found": differences(chosen=chosen, protocol=name, rules=rules)}
    return page(request, TEMPLATE, context, status=200 if chosen else 422)


def _move(request: StaffRequest, name: str, sites: list[int], form: MoveForm) -> str:
    return service.move(
        actor=request.actor,
        key=form.cleaned_data["key"],
        protocol=name,
        site_ids=sites,
        chosen=form.seen,
        reason=form.cleaned_data["reason"],
    )
