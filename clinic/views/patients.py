"""Find, register, and the person's page: who a patient is, without any measurement."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse

from clinic import access, clock, words
from clinic.forms.finding import FindForm
from clinic.forms.record import PERSON, PersonForm, RegisterForm
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.queries import finding
from clinic.queries import people as people_queries
from clinic.queries.finding import Found
from clinic.services import people
from clinic.services.details import EpisodeDetails, Operation, Person
from clinic.views.acting import attempt, form_page, rights


def find_patients(request: StaffRequest) -> HttpResponse:
    """One box: name, record number or birth date; by POST, so that no address holds a name."""
    patients = access.patients(request, Action.FIND_PATIENTS)
    form = FindForm(request.POST or None)
    context = {"form": form, "may_register": bool(access.sites_with(request, Action.REGISTER))}
    if not form.is_valid():
        access.listed(request, Action.FIND_PATIENTS, "patient", [])
        return page(request, "clinic/find.html", context, status=422 if form.is_bound else 200)
    asked = finding.asked(text=form.cleaned_data["text"], today=clock.today(request.site))
    hits = finding.find(patients=patients, asked=asked)
    access.listed(request, Action.FIND_PATIENTS, "patient", [row.patient.pk for row in hits.rows])
    context |= {
        "hits": hits,
        "dates": " or ".join(words.day(day) for day in asked.dates),
        "may_see_record": bool(access.sites_with(request, Action.SEE_RECORD)),
    }
    return page(request, "clinic/find.html", context)


def register_patient(request: StaffRequest) -> HttpResponse:
    """Patient, record number, episode and operation on one page, all or nothing."""
    site = access.site(request, Action.REGISTER)
    form = RegisterForm(request.POST or None)
    form.choose_from(
        clinicians=people_queries.clinicians_at(site_ids=[site.pk]),
        referrers=people_queries.referrers_to_choose(),
    )
    alike: list[Found] = []
    answer = attempt(form, lambda: _register(request, site.pk, form, alike))
    if alike:
        shown = [row.patient.pk for row in alike]
        access.listed(request, Action.FIND_PATIENTS, "patient", shown)
    compared = " ".join(str(row.patient.uid) for row in alike)
    context = {"site": site, "alike": alike, "compared": compared}
    return answer or form_page(request, "clinic/register.html", form, context)


def _register(request: StaffRequest, site_id: int, form: RegisterForm, alike: list[Found]) -> str:
    """Register; whoever could be the same person is added to ``alike``."""
    operation = form.operation(form.cleaned_data["kind"])
    try:
        return people.register(
            actor=request.actor,
            key=form.cleaned_data["key"],
            site_id=site_id,
            person=Person(**form.person()),
            record_number=form.cleaned_data["record_number"],
            episode=EpisodeDetails(**form.episode()),
            operation=Operation(**operation) if operation else None,
            look_among=[s.pk for s in access.sites_with(request, Action.FIND_PATIENTS)],
            compared=form.cleaned_data["compared"].split(),
        )
    except people.MaybeTheSame as same:
        alike.extend(same.found)
        raise


def person(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Who the patient is, what is followed, and when they came: no measurement."""
    patient = access.patient(request, uid, Action.SEE_PERSON)
    shown = people_queries.person_page(patient=patient, today=clock.today(request.site))
    may_do = rights(
        request, patient, Action.EDIT_PERSON, Action.EDIT_EPISODE, Action.BOOK_VISIT,
        Action.OPEN_VISIT, Action.SEE_RECORD, Action.SET_CARE, Action.KEY_QUESTIONNAIRE,
    )  # fmt: skip
    return page(request, "clinic/person.html", {"shown": shown, "may_do": may_do})


def edit_person(request: StaffRequest, uid: UUID) -> HttpResponse:
    """A person's details and their record number at the present site."""
    patient = access.patient(request, uid, Action.EDIT_PERSON)
    site = access.site(request, Action.EDIT_PERSON)
    number = people_queries.record_number(patient_id=patient.pk, site_id=site.pk)
    now = {name: getattr(patient, name) for name in PERSON}
    form = PersonForm(
        request.POST or None, initial={**now, "record_number": number, "seen": patient.version}
    )
    answer = attempt(
        form,
        lambda: people.edit_person(
            actor=request.actor,
            key=form.cleaned_data["key"],
            patient_id=patient.pk,
            seen=form.cleaned_data["seen"],
            site_id=site.pk,
            person=Person(**form.person()),
            record_number=form.cleaned_data["record_number"],
        ),
    )
    return answer or form_page(
        request, "clinic/edit_person.html", form, {"patient": patient, "site": site}
    )
