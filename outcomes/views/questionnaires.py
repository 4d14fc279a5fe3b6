"""One completed questionnaire, its correction and withdrawal, and the course of a score."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import UUID

from django.http import Http404, HttpResponse, HttpResponseRedirect, JsonResponse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic import access as people
from clinic import clock
from clinic.http import StaffRequest, page
from clinic.permissions import Action, may
from outcomes import access
from outcomes.charts.plotly import trend_figure
from outcomes.forms.keying import CorrectSheetForm, WithdrawSheetForm
from outcomes.queries.catalogue import in_force
from outcomes.queries.patient_questionnaires import course_at
from outcomes.queries.questionnaire_form import FormPage, form_page, marks_on_record
from outcomes.queries.questionnaire_trend import ScoreCourse
from outcomes.services import questionnaires

if TYPE_CHECKING:
    from clinic.models.people import Patient

PAGE = "outcomes/questionnaire.html"


@require_GET
def completed(request: StaffRequest, uid: UUID) -> HttpResponse:
    """A completed form: scores, answers by number, history."""
    row = access.questionnaire(request, uid, Action.SEE_RECORD)
    shown = form_page(row=row, rules=in_force())
    return _page(request, shown, WithdrawSheetForm())


@require_http_methods(["GET", "POST"])
def correct(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The same sheet with other answers and the reason."""
    row = access.questionnaire(request, uid, Action.CORRECT_READING)
    rules = in_force()
    shown = form_page(row=row, rules=rules)
    form = CorrectSheetForm(
        request.POST if request.method == "POST" else None,
        instrument=shown.instrument,
        version_id=shown.newest.instrument_version_id,
        limb=shown.limb,
        layout=shown.newest.layout,
        on_record=marks_on_record(row=shown.newest),
    )
    if form.is_bound and form.is_valid():
        answer = questionnaires.correct(
            actor=request.actor,
            key=form.cleaned_data["key"],
            row=row,
            sheet=form.sheet,
            reason=form.cleaned_data["reason"],
        )
        return HttpResponseRedirect(answer)
    context = {"shown": shown, "form": form}
    status = 422 if form.is_bound else 200
    return page(request, "outcomes/questionnaire_correct.html", context, status=status)


@require_POST
def withdraw(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Take a completed form out of every score, with the reason."""
    row = access.questionnaire(request, uid, Action.CORRECT_READING)
    form = WithdrawSheetForm(request.POST)
    if not form.is_valid():
        return _page(request, form_page(row=row, rules=in_force()), form, status=422)
    answer = questionnaires.withdraw(
        actor=request.actor,
        key=form.cleaned_data["key"],
        row=row,
        reason=form.cleaned_data["reason"],
    )
    return HttpResponseRedirect(answer)


@require_GET
def course(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """The course of one score, as a page or as the region of the patient page."""
    patient, found = _course(request, uid, code)
    context = {"patient": patient, "scores": found}
    return page(request, "outcomes/score_course.html", context, region="scores")


@require_GET
def course_figure(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """The same course as data for the page's script."""
    _, found = _course(request, uid, code)
    return JsonResponse(trend_figure(trend=found.chart))


def _course(request: StaffRequest, uid: UUID, code: str) -> tuple[Patient, ScoreCourse]:
    patient = people.patient(request, uid, Action.SEE_RECORD)
    today = clock.today(request.site)
    found = course_at(patient=patient, rules=in_force(), asked=code, on=today)
    if found is None:
        raise Http404(code)
    return patient, found


def _page(
    request: StaffRequest, shown: FormPage, form: WithdrawSheetForm, *, status: int = 200
) -> HttpResponse:
    roles = people.roles_for(request, shown.row.visit.patient)
    may_correct = may(roles=roles, action=Action.CORRECT_READING)
    context = {"shown": shown, "withdraw": form, "may_correct": may_correct}
    return page(request, PAGE, context, status=status)
