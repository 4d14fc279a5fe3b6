"""One signed reading: its history, and its correction or withdrawal."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, HttpResponseRedirect
from django.views.decorators.http import require_GET, require_POST

from clinic import access as people
from clinic.http import StaffRequest, page
from clinic.permissions import Action, may
from outcomes import access
from outcomes.forms.corrections import CorrectForm, WithdrawForm
from outcomes.forms.reading_page import ReadingPage
from outcomes.services import corrections

PAGE = "outcomes/reading.html"


@require_GET
def reading(request: StaffRequest, ident: int) -> HttpResponse:
    """A reading's history, newest first, and what may be done about it."""
    shown = ReadingPage(row=access.reading(request, ident, Action.SEE_RECORD))
    roles = people.roles_for(request, shown.row.visit.patient)
    context = {"shown": shown, "may_correct": may(roles=roles, action=Action.CORRECT_READING)}
    return page(request, PAGE, context | _forms(shown))


@require_POST
def correct(request: StaffRequest, ident: int) -> HttpResponse:
    """Put a right value in its place, with the reason."""
    shown = ReadingPage(row=access.reading(request, ident, Action.CORRECT_READING))
    form = CorrectForm(request.POST, sheet=shown.sheet, row=shown.row)
    if not form.is_valid():
        context = {"shown": shown, "may_correct": True, **_forms(shown), "correct": form}
        return page(request, PAGE, context, status=422)
    answer = corrections.correct(
        actor=request.actor,
        key=form.cleaned_data["key"],
        reading=shown.row,
        entry=form.entry,
        reason=form.cleaned_data["reason"],
        body={"typed": form.texts, "reason": form.cleaned_data["reason"]},
    )
    return HttpResponseRedirect(answer)


@require_POST
def withdraw(request: StaffRequest, ident: int) -> HttpResponse:
    """Take a reading out of every judgement, with the reason."""
    shown = ReadingPage(row=access.reading(request, ident, Action.CORRECT_READING))
    form = WithdrawForm(request.POST)
    if not form.is_valid():
        context = {"shown": shown, "may_correct": True, **_forms(shown), "withdraw": form}
        return page(request, PAGE, context, status=422)
    answer = corrections.withdraw(
        actor=request.actor,
        key=form.cleaned_data["key"],
        reading=shown.row,
        reason=form.cleaned_data["reason"],
    )
    return HttpResponseRedirect(answer)


def _forms(shown: ReadingPage) -> dict[str, Any]:
    newest = shown.chain.newest
    return {
        "correct": CorrectForm(None, sheet=shown.sheet, row=newest),
        "withdraw": WithdrawForm(),
    }
