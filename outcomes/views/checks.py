"""How we check our numbers: the list that ``verify`` runs, as a page."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from clinic import access
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from outcomes.queries.check_page import check_page


@require_GET
def checks(request: StaffRequest) -> HttpResponse:
    """Every check by topic, with what is printed and what we get; the same for everybody."""
    access.site(request, Action.SEE_OWN_PAGES)
    access.listed(request, Action.SEE_OWN_PAGES, "checks", [])
    return page(request, "outcomes/checks.html", {"shown": check_page()})
