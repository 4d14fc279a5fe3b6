"""The day: booked, arrived, opened, missed, cancelled; only a booked visit lies ahead."""

from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from datetime import date, time, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.care import Episode, Visit
from clinic.permissions import Actor
from clinic.services import rules, visits
from clinic.services.visits import _years_before
from tests.cast import TODAY
from tests.clinic.desk import errors_of, posted
from tests.factories.clinic import EpisodeFactory, PatientFactory, VisitFactory
from tests.factories.outcomes import ReadingFactory, signed_visit
from tests.web import signed_in, words_of

DAY = timedelta(days=1)


def visit_of(cast, state="booked", on=TODAY, **more):
    times = {"arrived_at": None, "opened_at": None} if state != "open" else {}
    more = {"clinician": cast.clinician} | times | more
    return VisitFactory(patient=cast.ines, site=cast.harbour, date=on, state=state, **more)


def actor(person, site):
    return Actor(staff_id=person.pk, site_id=site.pk, request_id=uuid4())


def open_on(cast, on, person="clinician", key=None):
    return visits.open_visit(
        actor=actor(getattr(cast, person), cast.harbour),
        key=key or uuid4(),
        patient_id=cast.ines.pk,
        site_id=cast.harbour.pk,
        on=on,
    )


def mark(cast, visit, state, person="desk", **more):
    form = posted({"seen": visit.version, "state": state}, **more)
    return signed_in(getattr(cast, person)).post(f"/visits/{visit.uid}/mark", form)


def now(row):
    return type(row).objects.get(pk=row.pk)


def test_a_visit_is_booked_once_and_stands_in_the_list_of_its_day(cast):
    client = signed_in(cast.desk)
    form = posted({"date": "2026-11-27", "time": "14:30", "clinician_id": cast.clinician.pk})
    address = f"/patients/{cast.ines.uid}/bookings/"
    first, second = client.post(address, form), client.post(address, form)
    assert first["Location"] == second["Location"] == "/today/?on=2026-11-27"
    visit = Visit.objects.get()
    assert (visit.state, visit.date, visit.time, visit.clinician, visit.site) == (
        "booked",
        date(2026, 11, 27),
        time(14, 30),
        cast.clinician,
        cast.harbour,
    )
    page = words_of(client.get(first["Location"]))
    assert "14:30 Ines Marlow 3 May 2001 right knee, week 15 Tess Okafor expected" in page
    assert now(cast.episode).version == 2


def test_a_booking_in_the_past_is_refused(cast):
    form = posted({"date": "2026-11-24"})
    response = signed_in(cast.desk).post(f"/patients/{cast.ines.uid}/bookings/", form)
    sentence = "24 Nov 2026 lies in the past. A clinician opens a past visit."
    assert errors_of(response) == {"date": [sentence]}
    assert not Visit.objects.exists()


@pytest.mark.parametrize(
    ("state", "to", "done"),
    [
        ("booked", "arrived", True),
        ("booked", "missed", True),
        ("booked", "cancelled", True),
        ("booked", "booked", False),
        ("arrived", "booked", True),
        ("arrived", "cancelled", True),
        ("arrived", "missed", False),
        ("missed", "arrived", True),
        ("missed", "booked", True),
        ("missed", "cancelled", False),
        ("open", "arrived", False),
        ("open", "cancelled", False),
        ("open", "missed", False),
        ("cancelled", "arrived", False),
        ("cancelled", "booked", False),
    ],
)
def test_which_state_may_follow_which(cast, state, to, done):
    visit = visit_of(cast, state)
    response = mark(cast, visit, to)
    assert response.status_code == (302 if done else 422)
    assert now(visit).state == (to if done else state)
    assert now(cast.episode).version == (2 if done else 1)


def test_arrival_keeps_its_moment_and_taking_it_back_clears_it(cast):
    visit = visit_of(cast)
    mark(cast, visit, "arrived")
    assert now(visit).arrived_at == clock.now()
    assert "arrived 09:00" in words_of(signed_in(cast.desk).get("/today/"))
    mark(cast, now(visit), "booked")
    assert now(visit).arrived_at is None


@pytest.mark.parametrize("state", ["arrived", "missed"])
def test_nobody_arrives_or_misses_before_the_day(cast, state):
    visit = visit_of(cast, on=TODAY + DAY)
    response = mark(cast, visit, state)
    assert "The visit is on 26 Nov 2026. Mark it on the day itself." in words_of(response)
    assert now(visit).state == "booked"


def test_one_patient_arrives_once_at_a_time(cast):
    visit_of(cast, "arrived")
    second = visit_of(cast)
    response = mark(cast, second, "arrived")
    assert "Another visit of this patient is under way that day." in words_of(response)


def test_a_stale_mark_is_a_conflict_and_a_doubled_one_has_one_effect(cast):
    visit = visit_of(cast)
    client = signed_in(cast.desk)
    form = posted({"seen": 1, "state": "arrived"})
    address = f"/visits/{visit.uid}/mark"
    assert [client.post(address, form).status_code for _ in range(2)] == [302, 302]
    assert now(visit).version == 2
    stale = client.post(address, posted({"seen": 1, "state": "cancelled"}))
    assert (stale.status_code, now(visit).state) == (409, "arrived")
    acts = AuditEntry.objects.filter(subject="visit").values_list("act", "subject_ids")
    assert list(acts) == [("visit_arrived", [visit.pk])]


@pytest.mark.parametrize("state", ["booked", "arrived", "missed"])
def test_opening_takes_the_visit_of_the_day(cast, state):
    visit = visit_of(cast, state, clinician=cast.colleague)
    assert open_on(cast, TODAY) == visit.uid
    row = now(visit)
    assert (row.state, row.clinician, row.opened_at) == ("open", cast.clinician, clock.now())
    assert Visit.objects.count() == 1


def test_an_open_visit_is_gone_on_with_and_a_signed_one_is_not_opened_again(cast):
    first = open_on(cast, TODAY)
    assert open_on(cast, TODAY, person="colleague") == first
    assert Visit.objects.get(uid=first).clinician == cast.clinician
    Visit.objects.all().delete()
    signed = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)
    assert open_on(cast, TODAY) != signed.uid
    assert now(signed).state == "signed"


def test_a_doubled_opening_is_one_visit(cast):
    key = uuid4()
    assert open_on(cast, TODAY, key=key) == open_on(cast, TODAY, key=key)
    assert Visit.objects.count() == 1


@pytest.mark.parametrize(
    ("on", "sentence"),
    [
        (TODAY, None),
        (TODAY + DAY, "26 Nov 2026 lies ahead. Book the visit; open it on the day itself."),
        (date(2026, 8, 1), None),
        (date(2024, 7, 1), None),
        (
            date(2024, 6, 30),
            "30 Jun 2024 is more than 24 months before the earliest injury on record, "
            "1 Jul 2026. Check the year.",
        ),
    ],
)
def test_where_an_opened_visit_may_lie(cast, on, sentence):
    if sentence is None:
        assert Visit.objects.get(uid=open_on(cast, on)).date == on
        return
    with pytest.raises(rules.Refused) as refused:
        open_on(cast, on)
    assert refused.value.errors == {"date": sentence}
    assert not Visit.objects.exists()


def test_the_earliest_injury_of_any_knee_counts_and_without_one_only_birth(cast):
    earlier = EpisodeFactory(
        patient=cast.ines, knee="left", care_state="discharged", injury_date=date(2020, 2, 29)
    )
    open_on(cast, date(2018, 2, 28))
    with pytest.raises(rules.Refused):
        open_on(cast, date(2018, 2, 27))
    Episode.objects.filter(pk__in=[earlier.pk, cast.episode.pk]).update(injury_date=None)
    open_on(cast, cast.ines.birth_date)
    with pytest.raises(rules.Refused) as refused:
        open_on(cast, cast.ines.birth_date - DAY)
    assert refused.value.errors == {"date": "The visit lies before the birth on 3 May 2001."}


@given(st.dates(min_value=date(1905, 1, 1)))
def test_two_years_before_is_the_same_day_of_the_month_or_the_28th(day):
    before = _years_before(day, years=2)
    assert (before.year, before.month) == (day.year - 2, day.month)
    assert before.day == day.day or (day.month, day.day, before.day) == (2, 29, 28)


def test_a_clinician_opens_a_visit_from_the_list_without_the_front_desk(cast):
    form = posted({"date": TODAY.isoformat()})
    address = f"/patients/{cast.ines.uid}/visits/"
    client = signed_in(cast.clinician)
    first, second = client.post(address, form), client.post(address, form)
    visit = Visit.objects.get()
    assert first["Location"] == second["Location"] == f"/visits/{visit.uid}/"
    for person in ("desk", "lead"):
        assert signed_in(getattr(cast, person)).post(address, posted(form)).status_code == 403
    assert signed_in(cast.outsider).post(address, posted(form)).status_code == 404
    assert Visit.objects.count() == 1


def test_ones_own_visits_come_first_and_earlier_ones_wait_to_be_marked(cast):
    mine = visit_of(cast, on=TODAY, time=time(11))
    others = visit_of(cast, "arrived", clinician=cast.colleague)
    forgotten = visit_of(cast, on=TODAY - DAY)
    visit_of(cast, "missed", on=TODAY - DAY)
    day = signed_in(cast.clinician).get("/today/").context["day"]
    found = [[row.visit for row in rows] for rows in (day.mine, day.others, day.unmarked)]
    assert found == [[mine], [others], [forgotten]]
    assert (day.expected, day.here) == (1, 1)
    row = AuditEntry.objects.latest("pk")
    assert (row.act, row.subject_ids) == ("see_day", [mine.pk, others.pk, forgotten.pk])


def test_the_list_shows_no_measurement_and_no_other_site(cast):
    signed = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)
    ReadingFactory(visit=signed, measure="knee_flexion", value="123.4")
    elsewhere = PatientFactory(name="Otto Elsewhere")
    EpisodeFactory(patient=elsewhere, site=cast.millbank)
    VisitFactory(patient=elsewhere, site=cast.millbank, date=TODAY)
    for person in (cast.desk, cast.clinician, cast.lead):
        page = signed_in(person).get("/today/").content.decode()
        assert ("Ines Marlow" in page, "Elsewhere" in page, "123.4" in page) == (True, False, False)


@pytest.mark.parametrize("on", ["", "?on=2026-11-26", "?on=yesterday"])
def test_another_day_and_a_day_that_is_none(cast, on):
    visit_of(cast, on=TODAY + DAY)
    response = signed_in(cast.desk).get(f"/today/{on}")
    assert len(response.context["day"].others) == (1 if "26" in on else 0)


LIST = 10
"""Session, person, roles; the day's visits, their episodes and operations; the same three of those
not marked; the audit row."""


@pytest.mark.parametrize("count", [1, 3])
def test_the_list_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    for n in range(count):
        patient = PatientFactory(name=f"Patient {n}")
        for knee in ("left", "right"):
            EpisodeFactory(patient=patient, site=cast.harbour, knee=knee)
        for on in (TODAY, TODAY - DAY):
            VisitFactory(
                patient=patient,
                site=cast.harbour,
                date=on,
                state="booked",
                clinician=cast.clinician,
            )
    client = signed_in(cast.clinician)
    with django_assert_num_queries(LIST):
        response = client.get("/today/")
    day = response.context["day"]
    assert (len(day.mine), len(day.unmarked)) == (count, count)


@pytest.mark.parametrize(("person", "status"), [("outsider", 404), ("lead", 403)])
def test_who_may_not_mark_a_visit(cast, person, status):
    visit = visit_of(cast)
    response = mark(cast, visit, "cancelled", person=person)
    assert (response.status_code, now(visit).state) == (status, "booked")
    assert "Marlow" not in response.content.decode()


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_two_clinicians_who_open_at_once_get_one_visit(cast):
    """The patient's row is locked first, so that the second finds what the first made."""

    def one(person):
        try:
            return open_on(cast, TODAY, person=person)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        for _ in range(10):
            Visit.objects.all().delete()
            runs = [
                pool.submit(copy_context().run, one, person)
                for person in ("clinician", "colleague")
            ]
            assert {run.result() for run in runs} == {Visit.objects.get().uid}
