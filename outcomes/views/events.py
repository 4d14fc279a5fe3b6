"""Events of an episode: the list with its history, recording one, and one event's own page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic import access as people
from clinic import clock
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page, rights
from outcomes import access
from outcomes.core.events import BY_CODE
from outcomes.core.values import Limb
from outcomes.forms.events import CorrectEventForm, EventForm, WithdrawEventForm
from outcomes.queries.events import EventStory, events_page, story_of
from outcomes.services import events as service

if TYPE_CHECKING:
    from clinic.forms.base import ActForm
    from clinic.models.care import Episode
    from outcomes.models.events import Event

LIST, ONE = "outcomes/events.html", "outcomes/event.html"


@require_http_methods(["GET", "POST"])
def events(request: StaffRequest, uid: UUID) -> HttpResponse:
    """What happened to a knee, and the form for one kind of event; by POST an event."""
    writing = request.method == "POST"
    action = Action.RECORD_EVENT if writing else Action.SEE_RECORD
    episode = people.episode(request, uid, action)
    kind = BY_CODE.get(request.POST["event"] if "event" in request.POST else _asked(request))
    context = {
        "page": events_page(episode=episode),
        "chosen": kind,
        "may_do": rights(request, episode.patient, Action.RECORD_EVENT, Action.EDIT_EPISODE),
    }
    if kind is None:
        return page(request, LIST, context, status=422 if writing else 200)
    form = EventForm(
        request.POST if writing else None,
        kind=kind,
        episode=episode,
        today=clock.today(episode.site),
    )
    answer = attempt(form, lambda: _record(request, episode, form))
    return answer or form_page(request, LIST, form, context)


def _asked(request: StaffRequest) -> str:
    """The kind that the address asks for, if it names one."""
    return request.GET.get("what", "")


def _record(request: StaffRequest, episode: Episode, form: EventForm) -> str:
    return service.record(
        actor=request.actor,
        key=form.cleaned_data["key"],
        episode=episode,
        seen=form.cleaned_data["seen"],
        happened=service.Happened(**form.happened),
        ends=form.ending,
    )


@require_GET
def event(request: StaffRequest, uid: UUID) -> HttpResponse:
    """One event with its history, and what may be done about it."""
    row, episode = access.event(request, uid, Action.SEE_RECORD)
    return page(request, ONE, _about(request, episode, story_of(row=row, episode=episode)))


@require_POST
def correct(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Put an event's day, side or detail right, with the reason."""
    row, episode = access.event(request, uid, Action.RECORD_EVENT)
    form = _correct_form(row, episode, data=request.POST)
    answer = attempt(
        form,
        lambda: service.correct(
            actor=request.actor,
            key=form.cleaned_data["key"],
            event=row,
            happened=service.Happened(**form.happened),
            reason=form.cleaned_data["reason"],
        ),
    )
    return answer or _again(request, row, episode, form, correct=form)


@require_POST
def withdraw(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Take an event out of every judgement, with the reason."""
    row, episode = access.event(request, uid, Action.RECORD_EVENT)
    form = WithdrawEventForm(request.POST, auto_id="id_withdraw_%s")
    answer = attempt(
        form,
        lambda: service.withdraw(
            actor=request.actor,
            key=form.cleaned_data["key"],
            event=row,
            reason=form.cleaned_data["reason"],
        ),
    )
    return answer or _again(request, row, episode, form, withdraw=form)


def _again(
    request: StaffRequest, row: Event, episode: Episode, form: ActForm, **more: Any
) -> HttpResponse:
    """The page of an event with a form that came back."""
    about = _about(request, episode, story_of(row=row, episode=episode))
    return form_page(request, ONE, form, about | more)


def _about(request: StaffRequest, episode: Episode, story: EventStory) -> dict[str, Any]:
    return {
        "episode": episode,
        "story": story,
        "kind": BY_CODE[story.newest.event],
        "correct": _correct_form(story.newest, episode),
        "withdraw": WithdrawEventForm(auto_id="id_withdraw_%s"),
        "may_do": rights(request, episode.patient, Action.RECORD_EVENT),
    }


def _correct_form(row: Event, episode: Episode, *, data: Any = None) -> CorrectEventForm:
    kind, knee = BY_CODE[row.event], Limb(episode.knee)
    return CorrectEventForm(data, kind=kind, knee=knee, row=row)
