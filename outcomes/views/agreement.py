"""Agreement: the line-reading warm-up, second grades of a visit, and how far graders agree."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_GET, require_http_methods

from clinic import access, clock, words
from clinic.forms.base import ActForm
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page
from outcomes import access as outcomes_access
from outcomes.forms.agreement import RoundForm, SecondGradeForm
from outcomes.queries import line_rounds as rounds
from outcomes.queries import second_grades as queries
from outcomes.queries.agreement import agreement_page, published
from outcomes.queries.catalogue import catalogue
from outcomes.services import line_rounds, second_grades


@require_http_methods(["GET", "POST"])
def line_reading(request: StaffRequest) -> HttpResponse:
    """What the warm-up is, and one's own rounds; by POST a round is begun or gone on with."""
    site = access.site(request, Action.READ_LINES)
    form = ActForm(request.POST or None)
    answer = attempt(
        form, lambda: line_rounds.begin(actor=request.actor, key=form.cleaned_data["key"])
    )
    if answer:
        return answer
    own = rounds.own_rounds(staff_id=request.staff.pk, zone=site.zone)
    access.listed(request, Action.READ_LINES, "line_round", [one.row.pk for one in own])
    unfinished = any(one.agreed is None for one in own)
    context = {"own": own, "unfinished": unfinished, "published": published()}
    return form_page(request, "outcomes/line_reading.html", form, context)


@require_http_methods(["GET", "POST"])
def line_round(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The figures of a round to grade; once they are graded, how that compares with the truth."""
    found = outcomes_access.line_round(request, uid)
    form = RoundForm(request.POST or None)
    answer = attempt(
        form,
        lambda: line_rounds.finish(
            actor=request.actor, key=form.cleaned_data["key"], row=found, grades=form.grades
        ),
    )
    if answer:
        return answer
    given = rounds.given_in(row=found)
    if given:
        shown = rounds.result_of(row=found, given=given)
        context = {"round": found, "shown": shown, "published": published()}
        return page(request, "outcomes/line_result.html", context)
    places = zip(rounds.places_of(row=found), form.figures, strict=True)
    context = {"round": found, "places": list(places)}
    return form_page(request, "outcomes/line_round.html", form, context)


@require_GET
def agreement(request: StaffRequest) -> HttpResponse:
    """How far graders agree: all of it for a lead, one's own for a clinician."""
    site = access.site(request, Action.SEE_AGREEMENT)
    led, graded = (
        access.sites_with(request, action)
        for action in (Action.SEE_ALL_AGREEMENT, Action.GRADE_AGAIN)
    )
    who, measures = request.staff.pk, catalogue()
    shown = agreement_page(sites=led or graded, measures=measures, only=None if led else who)
    waiting = queries.waiting_for(
        sites=graded, staff_id=who, on=clock.today(site), measures=measures
    )
    seen = {*shown.visit_ids, *(one.visit.pk for one in waiting)}
    access.listed(request, Action.SEE_AGREEMENT, "visit", sorted(seen))
    context = {"shown": shown, "leads": led, "grading": graded, "waiting": waiting}
    context["published"] = published()
    return page(request, "outcomes/agreement.html", context)


@require_http_methods(["GET", "POST"])
def second_grade(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Grade tests of a visit without seeing their first grades; afterwards both, side by side."""
    visit = access.visit(request, uid, Action.GRADE_AGAIN)
    who, measures = request.staff.pk, catalogue()
    tests = queries.tests_of(visit=visit, staff_id=who, measures=measures)
    form = SecondGradeForm(request.POST or None, tests=tests)
    answer = attempt(
        form,
        lambda: second_grades.record(
            actor=request.actor,
            key=form.cleaned_data["key"],
            visit=visit,
            grades=form.grades,
            had_seen=form.cleaned_data["had_seen"],
        ),
    )
    context = {
        "visit": visit,
        "late": second_grades.too_late(visit=visit),
        "day": words.day(visit.date),
        "opened": queries.pages_opened(visit=visit, staff_id=who),
        "both": queries.both_of(visit=visit, staff_id=who, measures=measures),
    }
    return answer or form_page(request, "outcomes/second_grade.html", form, context)
