"""Angle from a picture: the page that marks points, what they say, taking it into the draft."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from clinic import access, clock
from clinic.http import Conflict, StaffRequest, Unprocessable, page
from clinic.permissions import Action
from outcomes.core.kinds import Limb
from outcomes.forms.kept_pictures import KeepForm
from outcomes.forms.ledger_fields import value_name
from outcomes.forms.picture_room import room_of
from outcomes.forms.pictures import PictureForm, Said, pictured
from outcomes.queries.picture_agreements import agreed
from outcomes.queries.pictures import kept_in
from outcomes.queries.visit import VisitSheet
from outcomes.services import pictures

PAGE = "outcomes/picture.html"


@require_GET
def picture(request: StaffRequest, uid: UUID, row: str, limb: str) -> HttpResponse:
    """The page on which points are marked. The picture itself is not sent anywhere."""
    context = opened(request, uid, row, limb)
    form = PictureForm(limb=context["limb"])
    return page(request, PAGE, {**context, **kept_context(context["sheet"].visit), "form": form})


@require_POST
def angle(request: StaffRequest, uid: UUID, row: str, limb: str) -> HttpResponse:
    """What the marked points say; nothing is kept."""
    context = opened(request, uid, row, limb)
    return _says(request, context, PictureForm(request.POST, limb=context["limb"]))


@require_POST
def use(request: StaffRequest, uid: UUID, row: str, limb: str) -> HttpResponse:
    """Take the proposed grade and the angle into the draft, worked out afresh from the points."""
    context = opened(request, uid, row, limb)
    sheet: VisitSheet = context["sheet"]
    form = PictureForm(request.POST, limb=context["limb"])
    if form.angle is None:
        return _says(request, context, form, status=422)
    room = room_of(sheet=sheet, row=row, form=form)
    shown = {name: sheet.texts.get(name, "") for name in room.texts}
    graded = value_name(row, form.limb)
    if graded in shown:
        shown[graded] = request.POST.get("in_draft", "")
    try:
        answer = pictures.use(
            actor=request.actor,
            key=form.cleaned_data["key"],
            visit=sheet.visit,
            typed=room.texts,
            shown=shown,
            sent=form.sent,
            address=f"{reverse('visit', args=[uid])}#row-{row}",
            full=room.says_full,
        )
    except Conflict as late:
        return _says(request, {**context, "late": late.what_to_do}, form, status=409)
    if request.htmx:
        return HttpResponse(headers={"HX-Redirect": answer})
    return HttpResponseRedirect(answer)


def opened(request: StaffRequest, uid: UUID, row: str, limb: str) -> dict[str, Any]:
    """The open visit's row and limb, where the site reads angles off pictures."""
    found = access.visit(request, uid, Action.LOG_VISIT)
    if not found.site.pictures:
        raise Unprocessable("The angle from a picture is switched off at this site. Grade by eye.")
    if found.state != "open":
        raise Conflict("This visit is not open any more. Open the page afresh to see it.")
    sheet = VisitSheet(found)
    measure = pictured(sheet=sheet, row=row)
    if measure is None or limb not in (Limb.LEFT, Limb.RIGHT):
        raise Http404("row")
    return {
        "sheet": sheet,
        "measure": measure,
        "row": row,
        "limb": Limb(limb),
        "held": sheet.holds.get(Limb(limb), {}).get(measure.code, ()),
        "in_draft": sheet.texts.get(value_name(row, Limb(limb)), ""),
    }


def kept_context(visit: Any) -> dict[str, Any]:
    """Whether pictures of this visit may be kept, and how many are."""
    if not visit.site.keep_pictures:
        return {}
    return {
        "keeps": True,
        "agreed": agreed(patient=visit.patient, site=visit.site, on=clock.today(visit.site)),
        "kept": kept_in(visit_id=visit.pk),
        "keep_form": KeepForm(),
    }


def _says(
    request: StaffRequest, context: dict[str, Any], form: PictureForm, *, status: int = 200
) -> HttpResponse:
    """The region beside the picture."""
    context = {**context, "form": form, "said": Said(form)}
    if form.angle is not None:
        context["room"] = room_of(sheet=context["sheet"], row=context["row"], form=form)
    return page(request, PAGE, context, region="angle", status=status)
