"""A visit's ledger on paper, for when neither network nor tablet can be had."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from clinic import access
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from outcomes.forms.visit_page import VisitPage
from outcomes.queries.visit import VisitSheet


@require_GET
def paper(request: StaffRequest, uid: UUID) -> HttpResponse:
    """What the visit asks for, with room to write; nothing that was typed is on it."""
    found = access.visit(request, uid, Action.LOG_VISIT)
    shown = VisitPage(sheet=VisitSheet(found))
    return page(request, "outcomes/visit_paper.html", {"shown": shown})
