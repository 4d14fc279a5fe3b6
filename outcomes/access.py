"""The door to what was measured: each record through its visit's or episode's door in clinic."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404

from clinic import access, audit
from clinic.http import StaffRequest
from clinic.models.care import Episode
from clinic.permissions import Action
from outcomes.models.agreement import LineRound
from outcomes.models.events import Event
from outcomes.models.letters import Letter
from outcomes.models.pictures import Picture
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.record import Reading


def reading(request: StaffRequest, ident: int, action: Action) -> Reading:
    """A signed reading with its visit, through the visit's door."""
    found = Reading.objects.select_related("visit__patient", "recorded_by").filter(pk=ident).first()
    if found is None:
        raise _unknown(request, action, "reading")
    found.visit = access.visit(request, found.visit.uid, action)
    return found


def questionnaire(request: StaffRequest, uid: UUID, action: Action) -> CompletedQuestionnaire:
    """A completed form with its visit, through the visit's door."""
    rows = CompletedQuestionnaire.objects.select_related("visit__patient", "recorded_by")
    found = rows.filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "questionnaire")
    found.visit = access.visit(request, found.visit.uid, action)
    return found


def letter(request: StaffRequest, uid: UUID, action: Action) -> Letter:
    """A letter with its episode and the people it names, through the episode's door."""
    rows = Letter.objects.select_related(
        "episode", "recipient", "drafted_by", "signed_by", "replaces", "replaced_by"
    )
    found = rows.filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "letter")
    found.episode = access.episode(request, found.episode.uid, action)
    return found


def picture(request: StaffRequest, uid: UUID, action: Action) -> Picture:
    """A kept picture with its visit, through the visit's door."""
    found = Picture.objects.select_related("visit").filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "picture")
    found.visit = access.visit(request, found.visit.uid, action)
    return found


def event(request: StaffRequest, uid: UUID, action: Action) -> tuple[Event, Episode]:
    """An event and its episode, through the episode's door."""
    found = Event.objects.select_related("episode").filter(uid=uid).first()
    if found is None:
        raise _unknown(request, action, "event")
    return found, access.episode(request, found.episode.uid, action)


def line_round(request: StaffRequest, uid: UUID) -> LineRound:
    """A round of the warm-up, for the person whose own it is."""
    access.site(request, Action.READ_LINES)
    found = LineRound.objects.select_related("figure_set").filter(uid=uid).first()
    if found is None or found.staff_id != request.staff.pk:
        raise _unknown(request, Action.READ_LINES, "line_round")
    if request.method == "GET":
        access.listed(request, Action.READ_LINES, "line_round", [found.pk])
    return found


def _unknown(request: StaffRequest, action: Action, subject: str) -> Http404:
    audit.write(
        actor=request.actor,
        act=action.value,
        subject=subject,
        outcome="refused",
        note="unknown address",
    )
    return Http404(subject)
