"""Pictures that are kept: keeping and erasing one, the agreement, the list, and the bytes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_GET, require_POST

from clinic import access, clock
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import attempt, rights
from outcomes import access as outcomes_access
from outcomes.forms.kept_pictures import AgreementForm, EraseForm, KeepForm
from outcomes.forms.pictures import PictureForm
from outcomes.interchange.stills import MOST_BYTES
from outcomes.queries.picture_agreements import agreed, agreements_of
from outcomes.queries.pictures import erasures_of, pictures_of
from outcomes.services import kept_pictures as service
from outcomes.views.pictures import PAGE, kept_context, opened

LIST = "outcomes/patient_pictures.html"


@require_POST
def keep(request: StaffRequest, uid: UUID, row: str, limb: str) -> HttpResponse:
    """Keep the picture that was sent, where the site keeps pictures and the patient agreed."""
    context = opened(request, uid, row, limb)
    visit, measure = context["sheet"].visit, context["measure"]
    form = KeepForm(request.POST, request.FILES)

    def act() -> str:
        file, view = form.cleaned_data["picture"], form.cleaned_data["view"]
        sent = service.Sent(
            content=file.read(MOST_BYTES + 1),
            name=file.name,
            measure=measure.code,
            limb=limb,
            view=view,
        )
        return service.keep(
            actor=request.actor, key=form.cleaned_data["key"], visit=visit, sent=sent
        )

    done = attempt(form, act)
    if done is not None and not request.htmx:
        return done
    marking = PictureForm(limb=context["limb"])
    context |= {**kept_context(visit), "form": marking, "keep_form": form, "just_kept": bool(done)}
    return page(request, PAGE, context, region="kept", status=200 if done else 422)


@require_GET
def pictures(request: StaffRequest, uid: UUID) -> HttpResponse:
    """A patient's kept pictures and the agreement to them."""
    return _list(request, access.patient(request, uid, Action.SEE_RECORD))


@require_POST
def agreement(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Record that the agreement was given, or taken back, which erases what was kept."""
    kind = "withdrawn" if request.POST.get("kind") == "withdrawn" else "given"
    action = Action.LOG_VISIT if kind == "given" else Action.ERASE_PICTURE
    found = access.patient(request, uid, action)
    there = agreed(patient=found, site=request.site, on=clock.today(request.site))
    form = AgreementForm(request.POST, kind=kind, child=there.child)
    done = attempt(
        form,
        lambda: service.agree(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient=found,
            kind=kind,
            said=service.Saying(**form.said),
        ),
    )
    return done or _list(request, found, {kind: form})


@require_POST
def erase(request: StaffRequest, uid: UUID, picture: UUID) -> HttpResponse:
    """Erase one kept picture, with the reason; what was measured from it stays."""
    found = access.patient(request, uid, Action.ERASE_PICTURE)
    form = EraseForm(request.POST, auto_id=f"id_{picture}_%s")
    done = attempt(
        form,
        lambda: service.erase(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient=found,
            picture=picture,
            reason=form.cleaned_data["reason"],
        ),
    )
    return done or _list(request, found, erasing=(picture, form))


@require_GET
def content(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The bytes of one picture, through its visit's door."""
    found = outcomes_access.picture(request, uid, Action.SEE_RECORD)
    return HttpResponse(
        found.content,
        content_type="image/jpeg",
        headers={
            "Content-Disposition": f'inline; filename="picture-{found.uid}.jpg"',
            "Content-Security-Policy": "default-src 'none'; sandbox",
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "no-store",
        },
    )


def _list(
    request: StaffRequest,
    found: Any,
    agreeing: Mapping[str, AgreementForm] | None = None,
    erasing: tuple[UUID, EraseForm] | None = None,
) -> HttpResponse:
    """The page of a patient's pictures; 422 when one of its forms came back."""
    there = agreed(patient=found, site=request.site, on=clock.today(request.site))
    zone = request.site.zone
    lines = pictures_of(patient_id=found.pk, zone=zone)
    which, bound = erasing or (None, None)
    forms = {line.uid: EraseForm(auto_id=f"id_{line.uid}_%s") for line in lines}
    if which in forms and bound:
        forms[which], bound = bound, None
    context = {
        "patient": found,
        "agreed": there,
        "agreements": agreements_of(patient_id=found.pk, zone=zone),
        "pictures": [(line, forms[line.uid]) for line in lines],
        "erased": erasures_of(patient_id=found.pk, zone=zone),
        "too_late": bound,
        "keeps": any(site.keep_pictures for site in request.sites),
        "may_do": rights(request, found, Action.LOG_VISIT, Action.ERASE_PICTURE),
    }
    context |= {
        kind: AgreementForm(kind=kind, child=there.child, on_record=found.guardian_name)
        for kind in ("given", "withdrawn")
    }
    context |= agreeing or {}
    return page(request, LIST, context, status=422 if agreeing or erasing else 200)
