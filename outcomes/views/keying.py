"""Keying paper forms at a visit: what can be keyed, and one sheet. Nothing shows a score."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.views.decorators.http import require_GET, require_http_methods

from clinic import access, clock, words
from clinic.http import Conflict, StaffRequest, Unprocessable, page
from clinic.permissions import Action, may
from outcomes.forms.keying import KeyingForm
from outcomes.queries.catalogue import InForce, in_force
from outcomes.queries.keying import Offer, layout_words, not_keyable, offers
from outcomes.services import questionnaires

if TYPE_CHECKING:
    from clinic.models.care import Visit
    from outcomes.core.instruments import Layout


@require_GET
def choose(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The questionnaires that can be keyed at a visit, and those that are kept."""
    visit, sees_record = _visit(request, uid)
    context = {
        "visit": visit,
        "offers": offers(visit=visit, rules=in_force()),
        "sees_record": sees_record,
        "day": words.day(visit.date),
    }
    return page(request, "outcomes/keying_choice.html", context)


@require_http_methods(["GET", "POST"])
def key(request: StaffRequest, uid: UUID, code: str, limb: str) -> HttpResponse:
    """One sheet: keyed, checked, keyed a second time if wished, and kept."""
    visit, sees_record = _visit(request, uid)
    rules = in_force()
    offer = _offer(visit, rules, code, limb)
    context = {
        "visit": visit,
        "offer": offer,
        "sees_record": sees_record,
        "day": words.day(visit.date),
    }
    layout = _layout(request, offer)
    if layout is None:
        return page(request, "outcomes/keying_layout.html", context | _prints(offer))
    form = KeyingForm(
        request.POST if request.method == "POST" else None,
        instrument=offer.instrument,
        version_id=rules.instrument_ids[code],
        limb=offer.limb,
        layout=layout.code,
    )
    if form.step == "keep":
        return HttpResponseRedirect(_keep(request, visit, form))
    if offer.kept:
        raise Conflict(f"{offer.what} is kept for this visit already: {offer.kept}.")
    said = layout_words(instrument=offer.instrument, layout=layout)
    shown = {"form": form, "layout": layout, "said": said}
    status = 422 if form.step == "wrong" else 200
    return page(request, "outcomes/keying.html", context | shown, status=status)


def _layout(request: StaffRequest, offer: Offer) -> Layout | None:
    """The print of the form that was chosen; None while it must be chosen first."""
    layouts = offer.instrument.layouts
    asked = request.POST.get("layout", request.GET.get("layout", ""))
    found = next((one for one in layouts if one.code == asked), None)
    if found is None and len(layouts) > 1 and request.method == "GET":
        return None
    return found or layouts[0]


def _prints(offer: Offer) -> dict[str, Any]:
    """The prints of the form, each with how its marks count."""
    one = offer.instrument
    return {"prints": [(lay, layout_words(instrument=one, layout=lay)) for lay in one.layouts]}


def _visit(request: StaffRequest, uid: UUID) -> tuple[Visit, bool]:
    """A visit at which one may key, and whether the person sees the record."""
    visit = access.visit(request, uid, Action.KEY_QUESTIONNAIRE)
    roles = access.roles_for(request, visit.patient)
    sees_record = may(roles=roles, action=Action.SEE_RECORD)
    today = clock.today(visit.site)
    if said := not_keyable(visit=visit, today=today, sees_record=sees_record):
        raise Unprocessable(said)
    return visit, sees_record


def _offer(visit: Visit, rules: InForce, code: str, limb: str) -> Offer:
    """What the address names, as long as it is not kept already."""
    found = offers(visit=visit, rules=rules)
    mine = next((o for o in found if o.instrument.code == code and o.limb == limb), None)
    if mine is None:
        raise Http404(code)
    return mine


def _keep(request: StaffRequest, visit: Visit, form: KeyingForm) -> str:
    return questionnaires.keep(
        actor=request.actor, key=form.cleaned_data["key"], visit=visit, sheet=form.sheet
    )
