"""Reasons to look at an episode, and their answers."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import UUID

from django.http import HttpResponse, HttpResponseRedirect
from django.views.decorators.http import require_http_methods
from django_htmx.http import trigger_client_event

from clinic import access, clock, words
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from outcomes.forms.looks import LookForm, look_parts
from outcomes.queries.look_words import look_id, looks_of
from outcomes.services import looks, status

if TYPE_CHECKING:
    from clinic.models.care import Episode

TEMPLATE = "outcomes/looks.html"


@require_http_methods(["GET", "POST"])
def episode_looks(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Every reason to look at an episode today, with its facts; by POST the answer to one."""
    if request.method == "GET":
        episode = access.episode(request, uid, Action.SEE_RECORD)
        return _shown(request, episode)
    episode = access.episode(request, uid, Action.ANSWER_LOOK)
    code = request.POST.get("code", "")
    place = look_id(episode_id=episode.pk, code=code)
    form = LookForm(request.POST, today=clock.today(episode.site), look_id=place)
    if not form.is_valid():
        return _shown(request, episode, bound=form)
    names = ("key", "code", "size", "plan", "look_again_on")
    looks.answer(
        actor=request.actor,
        episode_id=episode.pk,
        **{name: form.cleaned_data[name] for name in names},
    )
    if not request.htmx:
        return HttpResponseRedirect(request.path)
    again = words.day(form.cleaned_data["look_again_on"])
    response = _shown(request, episode)
    return trigger_client_event(response, "say", {"value": f"Kept. Look again on {again}."})


def _shown(
    request: StaffRequest, episode: Episode, *, bound: LookForm | None = None
) -> HttpResponse:
    today = clock.today(episode.site)
    found = looks_of(
        episode_id=episode.pk,
        reasons=status.reasons(episode_id=episode.pk, today=today),
        on=today,
        zone=episode.site.zone,
    )
    context = {
        "episode": episode,
        "parts": look_parts(looks=found, today=today, bound=bound),
        "form": bound,
        "answer": request.GET.get("answer", ""),
    }
    return page(request, TEMPLATE, context, region="looks", status=422 if bound else 200)
