"""The catalogue of the clinic: the list, own measures, and what is switched off or retired."""

from __future__ import annotations

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.views.decorators.http import require_GET, require_POST

from clinic import access, clock
from clinic.http import StaffRequest, Unprocessable, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page
from outcomes.forms.own_mapping import typed_of
from outcomes.forms.own_measures import AddMeasureForm, ChangeMeasureForm, SwitchForm
from outcomes.forms.own_preview import preview_of
from outcomes.queries.catalogue import in_force
from outcomes.queries.measure_list import form_list, measure_list
from outcomes.services import catalogue

MANAGE = Action.MANAGE_CATALOGUE


@require_GET
def measures(request: StaffRequest) -> HttpResponse:
    """Every measure in the order of a visit, and every questionnaire: state, use, sources."""
    access.site(request, MANAGE)
    rules = in_force()
    access.listed(request, MANAGE, "measure", sorted(rules.measure_ids.values()))
    context = {"groups": measure_list(rules=rules), "questionnaires": form_list(rules=rules)}
    return page(request, "outcomes/measures.html", context)


def add_measure(request: StaffRequest) -> HttpResponse:
    """A measure of the clinic's own; looked at as a row first, then kept."""
    access.site(request, MANAGE)
    form = AddMeasureForm(request.POST or None)
    answer = None
    if not form.asks_for_preview:
        answer = attempt(
            form,
            lambda: catalogue.add_measure(
                actor=request.actor, key=form.cleaned_data["key"], mapping=form.mapping
            ),
        )
    return answer or _form(request, form)


def change_measure(request: StaffRequest, code: str) -> HttpResponse:
    """The next version of an own measure."""
    access.site(request, MANAGE)
    measure = in_force().measures.get(code)
    if measure is None or not measure.own:
        raise Http404
    now = {**typed_of(measure=measure), "seen": measure.version}
    form = ChangeMeasureForm(request.POST or None, initial=now)
    answer = None
    if not form.asks_for_preview:
        answer = attempt(
            form,
            lambda: catalogue.change_measure(
                actor=request.actor,
                key=form.cleaned_data["key"],
                code=code,
                seen=form.cleaned_data["seen"],
                mapping=form.mapping,
            ),
        )
    return answer or _form(request, form)


def _form(request: StaffRequest, form: AddMeasureForm | ChangeMeasureForm) -> HttpResponse:
    """The form; with the row that it makes, once everything in it can be taken."""
    valid = form.is_bound and form.is_valid() and form.measure is not None
    on = clock.today(request.site)
    preview = preview_of(measure=form.measure, on=on) if valid and form.measure else None
    context = {"preview": preview, "code": form.initial.get("code", "")}
    if preview and form.asks_for_preview:
        return page(request, "outcomes/measure.html", {"form": form, **context})
    return form_page(request, "outcomes/measure.html", form, context)


@require_POST
def switch_measure(request: StaffRequest, code: str) -> HttpResponse:
    """Switch a measure or questionnaire on, off, or retire it."""
    access.site(request, MANAGE)
    form = SwitchForm(request.POST)
    if not form.is_valid():
        raise Unprocessable("Load the list again and press the button once more.")
    answer = catalogue.switch(
        actor=request.actor, code=code, **form.typed(("key", "state", "seen", "anyway"))
    )
    return HttpResponseRedirect(answer)
