"""The person's page and its edits: everything about a person, and never a measurement."""

from datetime import date

import pytest

from clinic.models.audit import AuditEntry
from clinic.models.care import Episode, EpisodeChange, Surgery
from clinic.models.people import Patient, RecordNumber
from tests.clinic.desk import EPISODE, OPERATION, PERSON, errors_of, posted
from tests.factories.clinic import EpisodeFactory, SurgeryFactory, VisitFactory
from tests.factories.outcomes import ReadingFactory, signed_visit
from tests.web import signed_in, words_of


@pytest.fixture
def measured(cast):
    """Ines with a signed visit whose value could leak."""
    visit = signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=date(2026, 11, 5)
    )
    ReadingFactory(visit=visit, measure="knee_flexion", value="123.4")
    return cast


def at(row, name):
    return f"/patients/{row.uid}/{name}"


def test_who_which_knee_when_they_came_and_no_measurement(measured):
    page = words_of(signed_in(measured.desk).get(at(measured.ines, "person")))
    for said in (
        "Ines Marlow",
        "25 years, born 3 May 2001",
        "H-0412 (Harbour Street)",
        "Right knee, reconstruction",
        "week 15",
        "performed, 12 Aug 2026, hamstring autograft",
        "Mr Aled Pryce, Westmoor Hospital",
        "5 Nov 2026 signed Tess Okafor",
    ):
        assert said in page
    assert "123" not in page


@pytest.mark.parametrize("name", ["person", "details", "episodes/", "bookings/"])
def test_no_page_of_the_front_desk_holds_a_measurement(measured, name):
    response = signed_in(measured.desk).get(at(measured.ines, name))
    assert response.status_code == 200
    assert "123.4" not in response.content.decode()


@pytest.mark.parametrize("name", ["person", "details", "episodes/", "bookings/", "visits/"])
def test_an_outsider_finds_nothing_there_and_the_refusal_is_noted(measured, name):
    response = signed_in(measured.outsider).get(at(measured.ines, name))
    assert response.status_code == 404
    assert "Marlow" not in response.content.decode()
    row = AuditEntry.objects.latest("pk")
    assert (row.staff, row.subject_ids, row.outcome, row.note) == (
        measured.outsider,
        [measured.ines.pk],
        "refused",
        "outsider",
    )


@pytest.mark.parametrize(
    ("role", "name", "status"),
    [
        ("desk", "visits/", 403),
        ("lead", "person", 200),
        ("lead", "details", 403),
        ("lead", "episodes/", 403),
        ("lead", "bookings/", 403),
        ("lead", "visits/", 403),
        ("clinician", "details", 200),
        ("clinician", "episodes/", 200),
        ("clinician", "bookings/", 200),
        ("clinician", "visits/", 200),
    ],
)
def test_who_may_open_which_page(measured, role, name, status):
    response = signed_in(getattr(measured, role)).get(at(measured.ines, name))
    assert response.status_code == status
    assert ("Marlow" in response.content.decode()) is (status == 200)


PERSON_PAGE = 13
"""Session, person, roles; patient, sites at the door, audit row; episodes, operations, changes,
names in them, numbers, visits; sites for the buttons."""


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    for n in range(count - 1):
        episode = EpisodeFactory(
            patient=cast.ines, site=cast.harbour, care_state="discharged", responsible=cast.desk
        )
        SurgeryFactory(episode=episode)
        SurgeryFactory(episode=cast.episode, operation="reoperation", graft="", graft_from="")
        VisitFactory(patient=cast.ines, site=cast.harbour, state="missed", clinician=cast.colleague)
        EpisodeChange.objects.create(
            episode=episode,
            part="kind",
            before="waiting",
            after="reconstruction",
            on=date(2026, 8, n + 1),
            made_by=cast.colleague,
            made_at=cast.ines.registered_at,
        )
    client = signed_in(cast.desk)
    with django_assert_num_queries(PERSON_PAGE):
        response = client.get(at(cast.ines, "person"))
    assert len(response.context["shown"].episodes) == count


def details(cast, **changes):
    now = {
        **{name: getattr(cast.ines, name) for name in ("name", "sex", "version")},
        "birth_date": "2001-05-03",
        "record_number": "H-0412",
        "seen": 1,
    }
    return posted(now, **changes)


def test_details_are_changed_and_the_name_is_folded_again(cast):
    form = details(cast, name="Inés Márlow-Quist", record_number="H-0413", phone="555 0102")
    response = signed_in(cast.desk).post(at(cast.ines, "details"), form)
    patient = Patient.objects.get(pk=cast.ines.pk)
    assert response["Location"] == at(patient, "person")
    assert (patient.name_folded, patient.phone, patient.version) == (
        "ines marlow quist",
        "555 0102",
        2,
    )
    assert RecordNumber.objects.get(patient=patient).number == "H-0413"
    assert Episode.objects.get(pk=cast.episode.pk).version == 2


def test_a_stale_form_overwrites_nothing_and_shows_both(cast):
    client = signed_in(cast.desk)
    client.post(at(cast.ines, "details"), details(cast, phone="555 0001"))
    stale = client.post(at(cast.ines, "details"), details(cast, phone="555 0002"))
    assert stale.status_code == 409
    assert "Phone 555 0001" in words_of(stale)
    assert 'value="555 0002"' in stale.content.decode()
    assert Patient.objects.get(pk=cast.ines.pk).phone == "555 0001"
    seen = stale.context["form"]["seen"].value()
    client.post(at(cast.ines, "details"), details(cast, phone="555 0002", seen=seen))
    assert Patient.objects.get(pk=cast.ines.pk).phone == "555 0002"


def test_a_birth_date_after_something_on_record_is_refused(cast):
    form = details(cast, birth_date="2026-07-02")
    response = signed_in(cast.desk).post(at(cast.ines, "details"), form)
    sentence = "The record holds an earlier injury, on 1 Jul 2026."
    assert (response.status_code, errors_of(response)) == (422, {"birth_date": [sentence]})


def test_a_further_episode_on_the_other_knee_and_none_twice_on_one(cast):
    client = signed_in(cast.desk)
    form = posted(EPISODE, OPERATION)
    first, second = (client.post(at(cast.ines, "episodes/"), form) for _ in range(2))
    assert first["Location"] == second["Location"] == at(cast.ines, "person")
    again = client.post(at(cast.ines, "episodes/"), posted(EPISODE, OPERATION))
    sentence = (
        "The left knee has been followed since 25 Nov 2026. Discharge that episode first, or "
        "choose the other knee."
    )
    assert errors_of(again) == {"knee": [sentence]}
    assert list(cast.ines.episodes.order_by("pk").values_list("knee", flat=True)) == [
        "right",
        "left",
    ]
    assert Surgery.objects.filter(episode__knee="left").count() == 1


def test_a_person_form_has_every_field_of_registration(cast):
    response = signed_in(cast.desk).get(at(cast.ines, "details"))
    assert set(PERSON) <= set(response.context["form"].fields)
