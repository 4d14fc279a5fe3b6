"""Episodes and operations as the front desk and clinicians fill them in."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_POST

from clinic import access, clock
from clinic.forms.record import (
    EPISODE,
    OPERATION,
    AddEpisodeForm,
    CancelSurgeryForm,
    EpisodeFields,
    EpisodeForm,
    SurgeryForm,
)
from clinic.http import StaffRequest
from clinic.permissions import Action
from clinic.queries import people as people_queries
from clinic.queries.care import surgery_of
from clinic.services import episodes, surgeries
from clinic.services.details import EpisodeDetails, Operation
from clinic.views.acting import attempt, form_page


def _offer(form: EpisodeFields, *, site_id: int, episode: Any = None) -> None:
    """Who can be chosen, and those whom the episode names already."""
    named = (episode.surgeon_id, episode.referrer_id) if episode else ()
    form.choose_from(
        clinicians=people_queries.clinicians_at(
            site_ids=[site_id], keep=episode.responsible_id if episode else None
        ),
        referrers=people_queries.referrers_to_choose(keep=named),
    )


def add_episode(request: StaffRequest, uid: UUID) -> HttpResponse:
    """A further episode: the other knee, a revision, or a new start."""
    patient = access.patient(request, uid, Action.EDIT_EPISODE)
    site = access.site(request, Action.EDIT_EPISODE)
    form = AddEpisodeForm(request.POST or None, initial=_named(request))
    _offer(form, site_id=site.pk)

    def act() -> str:
        operation = form.operation(form.cleaned_data["kind"])
        return episodes.add_episode(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient_id=patient.pk,
            site_id=site.pk,
            episode=EpisodeDetails(**form.episode()),
            operation=Operation(**operation) if operation else None,
        )

    context = {"patient": patient, "site": site}
    return attempt(form, act) or form_page(request, "clinic/add_episode.html", form, context)


def _named(request: StaffRequest) -> dict[str, str]:
    """Knee and kind that the address names: another page has asked for this episode."""
    return {name: request.GET[name] for name in ("knee", "kind") if name in request.GET}


def edit_episode(request: StaffRequest, uid: UUID) -> HttpResponse:
    """An episode's details; what knee, kind and responsible clinician said is kept."""
    episode = access.episode(request, uid, Action.EDIT_EPISODE)
    now = {name: getattr(episode, name, "") for name in EPISODE}
    form = EpisodeForm(request.POST or None, initial={**now, "seen": episode.version})
    _offer(form, site_id=episode.site_id, episode=episode)
    answer = attempt(
        form,
        lambda: episodes.edit_episode(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient_id=episode.patient_id,
            episode_id=episode.pk,
            seen=form.cleaned_data["seen"],
            episode=EpisodeDetails(**form.episode()),
        ),
    )
    return answer or form_page(request, "clinic/edit_episode.html", form, {"episode": episode})


def add_surgery(request: StaffRequest, uid: UUID) -> HttpResponse:
    """A further operation of an episode."""
    episode = access.episode(request, uid, Action.EDIT_EPISODE)
    form = SurgeryForm(request.POST or None, initial={"seen": episode.version})
    answer = attempt(
        form,
        lambda: surgeries.record_surgery(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient_id=episode.patient_id,
            episode_id=episode.pk,
            seen=form.cleaned_data["seen"],
            operation=_operation(form),
        ),
    )
    return answer or form_page(request, "clinic/surgery.html", form, {"episode": episode})


def edit_surgery(request: StaffRequest, uid: UUID, number: int) -> HttpResponse:
    """Move an operation, record it as performed, or fill in what was unknown."""
    episode = access.episode(request, uid, Action.EDIT_EPISODE)
    surgery = surgery_of(episode_id=episode.pk, number=number)
    if surgery is None:
        raise Http404("surgery")
    form = SurgeryForm(request.POST or None, initial={**_now(surgery), "seen": episode.version})
    answer = attempt(
        form,
        lambda: surgeries.change_surgery(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient_id=episode.patient_id,
            episode_id=episode.pk,
            surgery_id=number,
            seen=form.cleaned_data["seen"],
            operation=_operation(form),
        ),
    )
    context = {
        "episode": episode,
        "surgery": people_queries.operation_line(surgery, today=clock.today(episode.site)),
        "cancel": CancelSurgeryForm(initial={"seen": episode.version}, auto_id="id_cancel_%s"),
    }
    return answer or form_page(request, "clinic/surgery.html", form, context)


@require_POST
def cancel_surgery(request: StaffRequest, uid: UUID, number: int) -> HttpResponse:
    """Cancel a planned operation, with the reason."""
    episode = access.episode(request, uid, Action.EDIT_EPISODE)
    surgery = surgery_of(episode_id=episode.pk, number=number)
    if surgery is None:
        raise Http404("surgery")
    form = CancelSurgeryForm(
        request.POST, initial={"seen": episode.version}, auto_id="id_cancel_%s"
    )
    answer = attempt(
        form,
        lambda: surgeries.cancel_surgery(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient_id=episode.patient_id,
            episode_id=episode.pk,
            surgery_id=number,
            seen=form.cleaned_data["seen"],
            reason=form.cleaned_data["reason"],
        ),
    )
    context = {
        "episode": episode,
        "surgery": people_queries.operation_line(surgery, today=clock.today(episode.site)),
    }
    return answer or form_page(request, "clinic/cancel_surgery.html", form, context)


def _operation(form: SurgeryForm) -> Operation:
    typed = form.operation(form.cleaned_data["operation_operation"])
    return Operation(**(typed or {}))


def _now(surgery: Any) -> dict[str, Any]:
    """What is on record of an operation, as the form's fields."""
    now = {f"operation_{name}": getattr(surgery, name) for name in ("operation", *OPERATION)}
    unsaid = ["nothing"] if surgery.state == "performed" else []
    unsaid = ["unknown"] if surgery.procedures_asked_on else unsaid
    return {**now, "operation_procedures": surgery.procedures or unsaid}
