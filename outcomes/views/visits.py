"""The ledger: a visit's form, its draft field by field, signing, and the signed visit."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from clinic import access
from clinic.http import Conflict, StaffRequest, Unprocessable, page
from clinic.middleware import shift_left
from clinic.permissions import Action, may
from clinic.services.acts import fingerprint
from clinic.views.acting import key_of
from outcomes.forms.ledger_fields import Posted, posted, told
from outcomes.forms.signed import SignedPage
from outcomes.forms.visit_page import VisitPage
from outcomes.queries.visit import VisitSheet
from outcomes.services import drafts, outbox, red_flags, signing
from outcomes.views.shell import kept_as

PAGE = "outcomes/visit.html"


@require_GET
def visit(request: StaffRequest, uid: UUID) -> HttpResponse:
    """A visit: the form while it is open, the signed ledger afterwards."""
    found = access.visit(request, uid, Action.SEE_RECORD)
    may_do = _rights(request, found)
    sheet = VisitSheet(found)
    if found.state == "open" and may_do["log_visit"]:
        return _form_page(request, VisitPage(sheet=sheet))
    template = "visit_signed" if found.state == "signed" else "visit_closed"
    context = {"shown": SignedPage(sheet=sheet), "may_do": may_do}
    return page(request, f"outcomes/{template}.html", context)


@require_POST
def save_draft(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Keep what was typed, field by field; answers with what it makes of the row."""
    found = access.visit(request, uid, Action.LOG_VISIT)
    sent = posted(request.POST)
    try:
        saved = _save(request, found, sent)
    except Conflict as late:
        return _too_late(request, found, sent, late)
    shown = _page_of(found, sent, saved)
    status = 409 if saved.clashes else 200
    if request.htmx and sent.row:
        return page(request, "outcomes/_visit_echo.html", {"shown": shown}, status=status)
    if request.htmx or saved.clashes:
        return _form_page(request, shown, region="ledger", status=status)
    place = f"#row-{sent.added}" if sent.added else ""
    return HttpResponseRedirect(reverse("visit", args=[uid]) + place)


@require_POST
def sign(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Sign: what cannot be taken is listed and nothing is lost; a doubled post changes nothing.

    What two typed differently is asked about first, and what came late since the page was opened.
    """
    found = access.visit(request, uid, Action.SIGN_VISIT)
    sent, key = posted(request.POST), key_of(request)
    body = {"typed": fingerprint(sent.typed)}
    try:
        saved = _save(request, found, sent)
    except Conflict:
        return _signed_before(request, found, sent, key, body)
    shown = _page_of(found, sent, saved, tried=True)
    if shown.form.wrongs or shown.form.clashes:
        return _form_page(request, shown, status=409 if shown.form.clashes else 422)
    answer = signing.sign(
        actor=request.actor,
        key=key,
        visit=found,
        draft_version=shown.draft_version,
        found=shown.form.to_sign,
        body=body,
    )
    return HttpResponseRedirect(answer)


@require_POST
def take_over(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Go on with a colleague's open visit under one's own name."""
    found = access.visit(request, uid, Action.LOG_VISIT)
    answer = drafts.take_over(
        actor=request.actor,
        key=key_of(request),
        visit=found,
        address=reverse("visit", args=[uid]),
    )
    return HttpResponseRedirect(answer)


@require_POST
def check_red_flags(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Red flags of a signed visit: what was done, who was told, or questions asked late."""
    found = access.visit(request, uid, Action.SIGN_VISIT)
    if found.state != "signed":
        raise Unprocessable("While the visit is open, red flags are part of its form.")
    form = SignedPage(sheet=VisitSheet(found)).flags_with(posted(request.POST).typed)
    answer = red_flags.record(
        actor=request.actor,
        key=key_of(request),
        visit=found,
        asked=form.form,
        answers=form.answers,
        action=form.action.value,
        contacted=form.contacted.value,
    )
    return HttpResponseRedirect(answer)


def _save(request: StaffRequest, found: Any, sent: Posted) -> drafts.Saved:
    typed = dict(sent.typed)
    if "same" in request.POST:
        typed |= VisitPage(sheet=VisitSheet(found)).form.last_conditions
    return drafts.save(
        actor=request.actor,
        visit_id=found.pk,
        typed=typed,
        shown=sent.shown,
        sheet=sent.sheet,
        keep=sent.keep,
        take=sent.take,
        number=sent.number,
        whole=not sent.row,
        late=sent.late,
    )


def _signed_before(
    request: StaffRequest, found: Any, sent: Posted, key: UUID, body: dict[str, str]
) -> HttpResponse:
    """A doubled signing gets its answer again; another form came too late."""
    try:
        answer = signing.answer_again(actor=request.actor, key=key, visit=found, body=body)
    except Conflict as late:
        return _too_late(request, found, sent, late)
    return HttpResponseRedirect(answer)


def _too_late(request: StaffRequest, found: Any, sent: Posted, late: Conflict) -> HttpResponse:
    """Nothing was kept, and nothing is lost: what was typed stands on the page."""
    if request.htmx:
        raise late
    sheet = VisitSheet(found)
    typed = told(sent=sent, measures=sheet.measures)
    context = {"shown": SignedPage(sheet=sheet), "late": late, "typed": typed}
    return page(request, "outcomes/visit_late.html", context, status=409)


def _page_of(found: Any, sent: Posted, saved: drafts.Saved, *, tried: bool = False) -> VisitPage:
    return VisitPage(
        sheet=VisitSheet(found),
        sent=sent,
        draft=saved.draft,
        clashes=saved.clashes,
        elsewhere=saved.elsewhere,
        tried=tried,
    )


def _form_page(
    request: StaffRequest, shown: VisitPage, *, region: str = "", status: int = 200
) -> HttpResponse:
    found = shown.sheet.visit
    context = {
        "shown": shown,
        "mine": found.clinician_id == request.staff.pk,
        "outbox_key": json.dumps(outbox.public_key()),
        "outbox_pass": outbox.pass_for(staff_id=request.staff.pk, visit=found.uid, sheet=shown.id),
        "kept_as": kept_as(),
        "shift_left": shift_left(request),
    }
    return page(request, PAGE, context, region=region, status=status)


def _rights(request: StaffRequest, found: Any) -> dict[str, bool]:
    roles = access.roles_for(request, found.patient)
    wanted = (
        Action.LOG_VISIT, Action.OPEN_VISIT, Action.SIGN_VISIT, Action.CORRECT_READING,
        Action.KEY_QUESTIONNAIRE,
    )  # fmt: skip
    return {action.value: may(roles=roles, action=action) for action in wanted}
