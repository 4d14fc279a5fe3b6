"""What waited on a tablet without network: taken by its pass, whoever is signed in."""

from __future__ import annotations

from hashlib import sha256
from uuid import UUID

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from clinic import access
from clinic.http import Fault, StaffRequest
from clinic.middleware import open_to_all
from clinic.permissions import Action
from clinic.views.acting import key_of
from outcomes.forms.ledger_fields import number_of
from outcomes.forms.outbox import row_of, sent_of
from outcomes.services import outbox


@csrf_exempt
@open_to_all
@require_POST
def take(request: HttpRequest) -> HttpResponse:
    """Take one sealed save, once per key; answers what became of it.

    No cookie is read: the pass, signed by this server, says who typed it and where.
    """
    try:
        sent = sent_of(request.POST)
        row = row_of(outbox.opened(sent.item))
        fate = outbox.take(
            given=outbox.passed(sent.given),
            key=sent.key,
            mark=sha256(sent.item.encode()).hexdigest(),
            save=row,
            request_id=request.request_id,  # type: ignore[attr-defined]
        )
    except Fault as fault:
        return JsonResponse({"what_to_do": fault.what_to_do}, status=fault.status)
    return JsonResponse({"fate": fate})


@require_POST
def seen(request: StaffRequest, uid: UUID) -> HttpResponse:
    """What came late to a closed visit has been read."""
    found = access.visit(request, uid, Action.SIGN_VISIT)
    answer = outbox.seen(
        actor=request.actor,
        key=key_of(request),
        visit=found,
        late_until=number_of(request.POST.get("late_until", "")) or 0,
        address=reverse("visit", args=[uid]),
    )
    return HttpResponseRedirect(answer)
