"""The day: who is expected, who is here, and visits booked, opened and marked."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from clinic import access, clock, words
from clinic.forms.base import offer
from clinic.forms.visits import BookForm, DayForm, MarkForm, OpenForm
from clinic.http import StaffRequest, Unprocessable, page
from clinic.permissions import Action, may
from clinic.queries import people as people_queries
from clinic.queries.day import day_of
from clinic.services import visits
from clinic.views.acting import attempt, form_page

_MARKS = {
    "arrived": visits.arrive,
    "missed": visits.miss,
    "cancelled": visits.cancel,
    "booked": visits.expect,
}


def today(request: StaffRequest) -> HttpResponse:
    """A day's list at the present site, one's own visits first; ``?on=`` shows another day."""
    site = access.site(request, Action.SEE_DAY)
    now = clock.today(site)
    form = DayForm(request.GET)
    on: date = form.cleaned_data["on"] or now if form.is_valid() else now
    day = day_of(site=site, on=on, today=now, staff_id=request.staff.pk)
    access.listed(request, Action.SEE_DAY, "visit", day.visit_ids())
    may_here = request.roles_by_site[site.pk]
    context = {
        "day": day,
        "site": site,
        "on": on,
        "title": words.day(on),
        "is_today": on == now,
        "ahead": on > now,
        "before": (on - timedelta(days=1)).isoformat(),
        "after": (on + timedelta(days=1)).isoformat(),
        "may_mark": may(roles=may_here, action=Action.MARK_ARRIVED),
        "may_open": may(roles=may_here, action=Action.OPEN_VISIT),
        "may_key": may(roles=may_here, action=Action.KEY_QUESTIONNAIRE),
    }
    return page(request, "clinic/today.html", context)


def book_visit(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Book a visit: date, time, clinician."""
    patient = access.patient(request, uid, Action.BOOK_VISIT)
    site_id = _place(request, patient.pk, Action.BOOK_VISIT)
    form = BookForm(request.POST or None, initial={"date": clock.today(request.site)})
    offer(form, "clinician_id", people_queries.clinicians_at(site_ids=[site_id]))
    answer = attempt(
        form,
        lambda: visits.book(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient_id=patient.pk,
            site_id=site_id,
            on=form.cleaned_data["date"],
            at=form.cleaned_data["time"],
            clinician_id=form.cleaned_data["clinician_id"],
        ),
    )
    return answer or form_page(request, "clinic/book_visit.html", form, {"patient": patient})


def open_visit(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Open a visit on a day, also without the front desk, and go to its ledger."""
    patient = access.patient(request, uid, Action.OPEN_VISIT)
    site_id = _place(request, patient.pk, Action.OPEN_VISIT)
    form = OpenForm(request.POST or None, initial={"date": clock.today(request.site)})

    def act() -> str:
        visit = visits.open_visit(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient_id=patient.pk,
            site_id=site_id,
            on=form.cleaned_data["date"],
        )
        return reverse("visit", args=[visit])

    return attempt(form, act) or form_page(
        request, "clinic/open_visit.html", form, {"patient": patient}
    )


@require_POST
def mark_visit(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Arrived, missed, cancelled, or expected again."""
    visit = access.visit(request, uid, Action.MARK_ARRIVED)
    form = MarkForm(request.POST)
    if not form.is_valid():
        raise Unprocessable("Open the day’s list afresh and mark the visit again.")
    mark = _MARKS[form.cleaned_data["state"]]
    return HttpResponseRedirect(
        mark(
            actor=request.actor,
            key=form.cleaned_data["key"],
            visit_id=visit.pk,
            seen=form.cleaned_data["seen"],
        )
    )


def _place(request: StaffRequest, patient_id: int, action: Action) -> int:
    """Where the visit takes place: the present site if the patient is followed there."""
    followed_at = people_queries.sites_of(patient_id=patient_id)
    mine = [site.pk for site in access.sites_with(request, action)]
    return next(pk for pk in mine if pk in followed_at)
