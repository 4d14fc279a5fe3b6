"""The published sets of criteria: to read, for one knee, and the percentiles they ask for."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from clinic import access, clock
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page, rights
from outcomes.forms.norms import PercentileForm
from outcomes.queries.catalogue import in_force
from outcomes.queries.norms import entered_norms
from outcomes.queries.published_sets import sets_of, sets_to_read
from outcomes.services import norms

SEE, MANAGE = Action.SEE_CASELOAD, Action.MANAGE_CATALOGUE


@require_GET
def published_sets(request: StaffRequest) -> HttpResponse:
    """Every published set, what each criterion asks, and where each number is from."""
    site = access.site(request, SEE)
    access.listed(request, SEE, "published_set", [])
    context = {
        "sets": sets_to_read(rules=in_force()),
        "entered": entered_norms(zone=site.zone),
        "leads": bool(access.sites_with(request, MANAGE)),
    }
    return page(request, "outcomes/published_sets.html", context)


@require_GET
def episode_sets(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Each published set as one knee stands today, by itself."""
    episode = access.episode(request, uid, Action.SEE_RECORD)
    found = sets_of(episode=episode, rules=in_force(), on=clock.today(episode.site))
    context = {
        "episode": episode,
        "knee": found,
        "may_do": rights(request, episode.patient, Action.SET_LIMIT, MANAGE),
    }
    return page(request, "outcomes/episode_sets.html", context)


def percentiles(request: StaffRequest) -> HttpResponse:
    """The scores that are the 15th percentile, as the clinic enters them."""
    site = access.site(request, MANAGE)
    entered = entered_norms(zone=site.zone)
    newest = entered[0] if entered else None
    form = PercentileForm(
        request.POST or None,
        values=newest.values if newest else {},
        initial={
            "seen": newest.version if newest else 0, "source": newest.source if newest else "",
        },
    )  # fmt: skip
    answer = attempt(
        form,
        lambda: norms.enter(
            actor=request.actor,
            values=form.values,
            **form.typed(("key", "seen", "source")),
        ),
    )
    return answer or form_page(request, "outcomes/percentiles.html", form, {"entered": entered})
