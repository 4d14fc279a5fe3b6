"""The door to what was measured: each record through its visit's or episode's door in clinic."""

from __future__ import annotations

from django.http import Http404

from clinic import access, audit
from clinic.http import StaffRequest
from clinic.permissions import Action
from outcomes.models.record import Reading


def reading(request: StaffRequest, ident: int, action: Action) -> Reading:
    """A signed reading with its visit, through the visit's door."""
    found = Reading.objects.select_related("visit__patient", "recorded_by").filter(pk=ident).first()
    if found is None:
        audit.write(
            actor=request.actor,
            act=action.value,
            subject="reading",
            outcome="refused",
            note="unknown address",
        )
        raise Http404("reading")
    found.visit = access.visit(request, found.visit.uid, action)
    return found
