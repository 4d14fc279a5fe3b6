"""Decisions on milestones: recorded by a named clinician, withdrawn with a reason."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods, require_POST

from clinic import access
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page, rights
from outcomes.forms.decisions import FIELDS, DecisionForm, WithdrawForm
from outcomes.queries.decisions import decisions_of
from outcomes.queries.events import events_of
from outcomes.services import decisions as service

if TYPE_CHECKING:
    from clinic.models.care import Episode

TEMPLATE = "outcomes/decisions.html"


@require_http_methods(["GET", "POST"])
def decisions(request: StaffRequest, uid: UUID) -> HttpResponse:
    """What was decided on an episode, and the form for one milestone; by POST a decision."""
    writing = request.method == "POST"
    action = Action.RECORD_DECISION if writing else Action.SEE_RECORD
    episode = access.episode(request, uid, action)
    milestone = (request.POST if writing else request.GET).get("milestone", "")
    if not milestone:
        return _shown(request, episode, {})
    evidence = service.evidence_today(episode=episode, milestone=milestone)
    form = DecisionForm(request.POST if writing else None, milestone=milestone, seen=evidence.mark)
    answer = attempt(
        form,
        lambda: service.record_decision(
            actor=request.actor,
            key=form.cleaned_data["key"],
            episode=episode,
            seen=form.cleaned_data["seen"],
            decided=service.Decided(**form.typed(FIELDS)),
        ),
    )
    return answer or _shown(request, episode, {"form": form, "evidence": evidence})


@require_POST
def withdraw(request: StaffRequest, uid: UUID, number: int) -> HttpResponse:
    """Withdraw a decision; what it was stays on record."""
    episode = access.episode(request, uid, Action.RECORD_DECISION)
    form = WithdrawForm(request.POST, auto_id=f"id_{number}_%s")
    answer = attempt(
        form,
        lambda: service.withdraw_decision(
            actor=request.actor,
            key=form.cleaned_data["key"],
            episode=episode,
            decision_id=number,
            reason=form.cleaned_data["reason"],
        ),
    )
    return answer or _shown(request, episode, {"withdrawing": (number, form)})


def _shown(request: StaffRequest, episode: Episode, more: dict[str, Any]) -> HttpResponse:
    """The page of an episode's decisions; 422 or 409 when a form came back."""
    rows = decisions_of(events=events_of(episodes=[episode]), zone=episode.site.zone)[episode.pk]
    number, bound = more.get("withdrawing", (None, None))
    context = {
        **more,
        "episode": episode,
        "rows": [
            (row, bound if row.pk == number else WithdrawForm(auto_id=f"id_{row.pk}_%s"))
            for row in rows
        ],
        "may_do": rights(request, episode.patient, Action.RECORD_DECISION),
    }
    form = bound or more.get("form")
    return form_page(request, TEMPLATE, form, context) if form else page(request, TEMPLATE, context)
