"""The surgeon's limits and the care state of an episode."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_POST

from clinic import access, clock
from clinic.forms.base import offer
from clinic.forms.care import CareForm, EndLimitForm, LimitForm
from clinic.http import StaffRequest
from clinic.permissions import Action
from clinic.queries.limits import instructions
from clinic.services import care
from clinic.views.acting import attempt, form_page, rights


def restrictions(request: StaffRequest, uid: UUID) -> HttpResponse:
    """What the surgeon limits, and a new instruction; older ones stay to be read."""
    writing = request.method == "POST"
    episode = access.episode(request, uid, Action.SET_LIMIT if writing else Action.SEE_RECORD)
    today = clock.today(episode.site)
    lines = instructions(episode_id=episode.pk, on=today, zone=episode.site.zone)
    form = LimitForm(request.POST or None, initial={"since": today})
    standing = [(line.pk, f"{line.kind}: {line.limit}") for line in lines if line.standing]
    offer(form, "supersedes_id", standing)
    answer = attempt(
        form,
        lambda: care.record_limit(
            actor=request.actor,
            patient_id=episode.patient_id,
            episode_id=episode.pk,
            **form.typed(("key", "kind", "limit", "since", "until", "told_by", "supersedes_id")),
        ),
    )
    context = {
        "episode": episode,
        "rows": [
            (
                line,
                EndLimitForm(
                    initial={"restriction": line.pk, "until": today}, auto_id=f"id_{line.pk}_%s"
                ),
            )
            for line in lines
        ],
        "may_do": rights(request, episode.patient, Action.SET_LIMIT),
    }
    return answer or form_page(request, "clinic/limits.html", form, context)


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
            **form.typed(("key", "until", "told_by")),
        ),
    )
    return answer or form_page(request, "clinic/end_limit.html", form, {"episode": episode})


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
