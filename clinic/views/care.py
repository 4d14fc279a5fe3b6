"""The surgeon's limits and the care state of an episode."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING
from uuid import UUID

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from clinic import access, clock
from clinic.forms.base import offer
from clinic.forms.care import AsideForm, CareForm, EndLimitForm, LimitForm, TakeBackForm
from clinic.http import StaffRequest
from clinic.permissions import Action
from clinic.queries.limits import LimitLine, instructions
from clinic.services import care, taking_back
from clinic.services.details import Instruction
from clinic.views.acting import attempt, form_page, rights

if TYPE_CHECKING:
    from clinic.models.care import Episode

_SAID = ("kind", "limit", "since", "until", "told_by", "told_on", "supersedes_id")


def restrictions(request: StaffRequest, uid: UUID) -> HttpResponse:
    """What the surgeon limits, and a new instruction; older ones stay to be read."""
    writing = request.method == "POST"
    episode = access.episode(request, uid, Action.SET_LIMIT if writing else Action.SEE_RECORD)
    today = clock.today(episode.site)
    lines = instructions(episode_id=episode.pk, on=today, zone=episode.site.zone)
    form = LimitForm(request.POST or None, initial={"since": today})
    offer(form, "supersedes_id", [(line.pk, line.title) for line in lines if line.standing])
    answer = attempt(
        form,
        lambda: care.record_limit(
            actor=request.actor,
            patient_id=episode.patient_id,
            episode_id=episode.pk,
            key=form.cleaned_data["key"],
            said=Instruction(**form.typed(_SAID)),
        ),
    )
    context = {
        "episode": episode,
        "rows": [(line, _end_form(line.pk, today)) for line in lines],
        "may_do": rights(request, episode.patient, Action.SET_LIMIT),
    }
    return answer or form_page(request, "clinic/limits.html", form, context)


def _end_form(pk: int, today: date) -> EndLimitForm:
    initial = {"restriction": pk, "until": today}
    return EndLimitForm(initial=initial, auto_id=f"id_{pk}_%s")


@require_POST
def end_restriction(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The surgeon ends a limit on a day."""
    episode = access.episode(request, uid, Action.SET_LIMIT)
    form = EndLimitForm(request.POST)
    answer = attempt(
        form,
        lambda: care.end_limit(
            actor=request.actor,
            patient_id=episode.patient_id,
            episode_id=episode.pk,
            restriction_id=form.cleaned_data["restriction"],
            **form.typed(("key", "until", "told_by", "told_on")),
        ),
    )
    return answer or form_page(request, "clinic/end_limit.html", form, {"episode": episode})


@require_http_methods(["GET", "POST"])
def set_limit_aside(request: StaffRequest, uid: UUID, number: int) -> HttpResponse:
    """A clinician sets a confirmed usual limit aside, with the reason."""
    return _aside(request, uid, number, AsideForm, care.set_limit_aside)


@require_http_methods(["GET", "POST"])
def take_limit_back(request: StaffRequest, uid: UUID, number: int) -> HttpResponse:
    """A usual limit that was set aside holds again from today on, with the clinician's reason."""
    return _aside(request, uid, number, TakeBackForm, taking_back.take_limit_back, again=True)


def _aside(
    request: StaffRequest,
    uid: UUID,
    number: int,
    asks: type[AsideForm | TakeBackForm],
    act: Callable[..., str],
    *,
    again: bool = False,
) -> HttpResponse:
    """One act on a usual limit. ``again``: it is to hold again."""
    episode = access.episode(request, uid, Action.SET_LIMIT)
    line = _line(episode, number)
    form = asks(request.POST or None, initial={"seen": episode.version})
    typed = ("key", "seen", "reason")
    answer = attempt(
        form,
        lambda: act(
            actor=request.actor, episode=episode, restriction_id=number, **form.typed(typed)
        ),
    )
    context = {
        "episode": episode,
        "what": f"{line.title}, {line.days}" + (f"; {line.aside}" if again else ""),
        "back": reverse("restrictions", args=[episode.uid]),
        "again": again,
    }
    return answer or form_page(request, "clinic/set_aside.html", form, context)


def _line(episode: Episode, number: int) -> LimitLine:
    """One instruction of an episode by its number; 404 for another's."""
    today = clock.today(episode.site)
    lines = instructions(episode_id=episode.pk, on=today, zone=episode.site.zone)
    line = next((one for one in lines if one.pk == number), None)
    if line is None:
        raise Http404(number)
    return line


def care_state(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Active, on hold, follow-up only, discharged or transferred, with the reason."""
    episode = access.episode(request, uid, Action.SET_CARE)
    now = {
        "state": episode.care_state,
        "reason": episode.care_reason,
        "until": episode.care_until,
        "seen": episode.version,
    }
    form = CareForm(request.POST or None, initial=now)
    answer = attempt(
        form,
        lambda: care.set_care(
            actor=request.actor,
            patient_id=episode.patient_id,
            episode_id=episode.pk,
            **form.typed(("key", "seen", "state", "reason", "until")),
        ),
    )
    return answer or form_page(request, "clinic/care.html", form, {"episode": episode})
