"""Confirming the surgeon's limits procedure by procedure; setting an earliest date aside."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from clinic import access, clock
from clinic.forms.care import AsideForm, TakeBackForm
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page, rights
from outcomes.core.holds import STANDING
from outcomes.forms.limits import ConfirmForm
from outcomes.queries.confirming import asking_of
from outcomes.queries.milestone_words import earliest_words
from outcomes.services import limits as service

TEMPLATE = "outcomes/confirm_limits.html"


@require_http_methods(["GET", "POST"])
def confirm(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The usual limits after each procedure that is not confirmed; by POST one answer."""
    writing = request.method == "POST"
    episode = access.episode(request, uid, Action.SET_LIMIT if writing else Action.SEE_RECORD)
    named = request.POST.get("procedure", "")
    forms = [
        ConfirmForm(
            request.POST if one.procedure == named else None, asking=one, seen=episode.version
        )
        for one in asking_of(episode=episode, answered=named)
    ]
    context = {
        "episode": episode,
        "forms": forms,
        "standing": STANDING,
        "may_do": rights(request, episode.patient, Action.SET_LIMIT),
    }
    form = next((one for one in forms if one.is_bound), None)
    if form is None:
        return page(request, TEMPLATE, context, status=422 if writing else 200)
    answer = attempt(
        form,
        lambda: service.confirm(
            actor=request.actor,
            key=form.cleaned_data["key"],
            episode=episode,
            seen=form.cleaned_data["seen"],
            said=service.Answer(lines=form.said, **form.typed(("procedure", "told_by", "told_on"))),
        ),
    )
    return answer or form_page(request, TEMPLATE, form, context)


@require_http_methods(["GET", "POST"])
def gate_aside(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """A clinician sets the earliest date of a milestone aside, with the reason."""
    return _gate(request, uid, code, AsideForm, service.set_gate_aside)


@require_http_methods(["GET", "POST"])
def gate_back(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """The earliest date of a milestone counts again, with the clinician's reason."""
    return _gate(request, uid, code, TakeBackForm, service.take_gate_back, again=True)


def _gate(
    request: StaffRequest,
    uid: UUID,
    code: str,
    asks: type[AsideForm | TakeBackForm],
    act: Callable[..., str],
    *,
    again: bool = False,
) -> HttpResponse:
    """One act on the earliest date of a milestone. ``again``: it is to count again."""
    episode = access.episode(request, uid, Action.SET_LIMIT)
    found, facts = service.gate_today(episode=episode, milestone=code)
    form = asks(request.POST or None, initial={"seen": episode.version})
    typed = ("key", "seen", "reason")
    answer = attempt(
        form,
        lambda: act(actor=request.actor, episode=episode, milestone=code, **form.typed(typed)),
    )
    said = earliest_words(found=found, facts=facts, on=clock.today(episode.site))
    context = {
        "episode": episode,
        "what": f"{found.milestone.label}: {said}",
        "back": reverse("milestone", args=[episode.uid, code]),
        "again": again,
    }
    return answer or form_page(request, "clinic/set_aside.html", form, context)
