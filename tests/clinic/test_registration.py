"""Registering on one page: all or nothing, nothing guessed, nobody twice, one effect."""

from datetime import date

import pytest

from clinic.models.audit import AuditEntry
from clinic.models.care import Episode, Surgery
from clinic.models.people import Patient, RecordNumber, Referrer
from clinic.queries.care import index_date
from tests.clinic.desk import EPISODE, OPERATION, PERSON, UNKNOWN, errors_of, posted
from tests.factories.clinic import EpisodeFactory, PatientFactory
from tests.web import signed_in, words_of

ADDRESS = "/patients/new"


def register(cast, *parts, **changes):
    return signed_in(cast.desk).post(ADDRESS, posted(*parts, **changes))


def counts():
    return [model.objects.count() for model in (Patient, RecordNumber, Episode, Surgery, Referrer)]


def test_patient_number_episode_operation_and_a_new_surgeon_on_one_page(cast):
    response = register(cast, PERSON, EPISODE, OPERATION, responsible_id=cast.clinician.pk)
    patient = Patient.objects.get(name=PERSON["name"])
    assert (response.status_code, response["Location"]) == (302, f"/patients/{patient.uid}/person")
    episode = patient.episodes.get()
    surgery = episode.surgeries.get()
    assert patient.name_folded == "zoe obrien laska"
    assert patient.record_numbers.get().number == "H-0500"
    assert (episode.knee, episode.site, episode.responsible) == (
        "left",
        cast.harbour,
        cast.clinician,
    )
    assert episode.surgeon == Referrer.objects.get(name="Ms Signe Aberdal", kind="surgeon")
    assert (surgery.operation, surgery.state, surgery.graft, surgery.procedures) == (
        "reconstruction",
        "performed",
        "hamstring",
        ["meniscal_repair"],
    )
    assert index_date(episode=episode) == date(2026, 10, 20)
    row = AuditEntry.objects.get(act="register")
    assert (row.staff, row.subject_ids) == (cast.desk, [patient.pk])


def test_every_part_of_the_operation_may_be_unknown(cast):
    register(cast, PERSON, EPISODE, UNKNOWN)
    surgery = Surgery.objects.get(episode__patient__name=PERSON["name"])
    asked = date(2026, 11, 20)
    assert (surgery.date, surgery.date_asked_on) == (None, asked)
    assert (surgery.graft, surgery.graft_from, surgery.graft_asked_on) == (
        "unknown",
        "unknown",
        asked,
    )
    assert (surgery.procedures, surgery.procedures_asked_on) == ([], asked)
    assert index_date(episode=surgery.episode) is None


@pytest.mark.parametrize(
    ("kind", "injury", "expected"),
    [
        ("waiting", {"injury_date": "2026-09-01"}, None),
        ("without_surgery", {"injury_date": "2026-09-01"}, date(2026, 9, 1)),
        ("without_surgery", {"injury_date": "", "injury_asked_on": "2026-11-20"}, None),
    ],
)
def test_waiting_and_without_surgery_need_no_operation(cast, kind, injury, expected):
    response = register(cast, PERSON, EPISODE, kind=kind, **injury)
    assert response.status_code == 302
    episode = Episode.objects.get(patient__name=PERSON["name"])
    assert (list(episode.surgeries.all()), index_date(episode=episode)) == ([], expected)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"birth_date": "2027-01-01"}, "birth_date"),
        ({"birth_date": "12.04.2003"}, "birth_date"),
        ({"record_number": ""}, "record_number"),
        ({"record_number": "H-0412", "compared": "INES"}, "record_number"),
        ({"knee": None}, "knee"),
        ({"injury_date": ""}, "injury_asked_on"),
        ({"injury_date": "2026-10-21"}, "injury_date"),
        ({"kind": "waiting"}, "kind"),
        ({"kind": "reconstruction", "operation_state": ""}, "operation_state"),
        ({"operation_date": "2026-11-26"}, "operation_date"),
        ({"operation_date": "2026-08-31"}, "operation_date"),
        ({"operation_date": ""}, "operation_date_asked_on"),
        ({"operation_graft": ""}, "operation_graft"),
        ({"operation_graft": "unknown"}, "operation_graft_asked_on"),
        ({"operation_procedures": None}, "operation_procedures_asked_on"),
        ({"operation_procedures": ["nothing", "washout"]}, "operation_procedures"),
        ({"operation_procedures": ["unknown", "washout"]}, "operation_procedures"),
        ({"operation_procedures": ["unknown"]}, "operation_procedures_asked_on"),
        ({"surgeon_id": "SURGEON"}, "surgeon_new_name"),
        ({"responsible_id": "OUTSIDER"}, "responsible_id"),
    ],
)
def test_what_breaks_a_rule_is_refused_beside_its_field_and_nothing_is_saved(cast, changes, field):
    known = {"INES": cast.ines.uid, "SURGEON": cast.surgeon.pk, "OUTSIDER": cast.outsider.pk}
    typed = {name: known.get(v, v) if isinstance(v, str) else v for name, v in changes.items()}
    before = counts()
    response = register(cast, PERSON, EPISODE, OPERATION, **typed)
    assert response.status_code == 422
    assert field in errors_of(response)
    assert counts() == before
    assert 'value="handball"' in response.content.decode()


def test_reconstruction_needs_its_operation_even_if_only_planned(cast):
    response = register(cast, PERSON, EPISODE)
    sentence = "For reconstruction, record the operation. Planned is enough."
    assert errors_of(response) == {"kind": [sentence]}
    planned = {"operation_state": "planned", "operation_date": "2026-12-09"}
    grafts = {"operation_graft": "unknown", "operation_graft_from": "unknown"}
    assert register(cast, PERSON, EPISODE, planned, grafts).status_code == 302


def test_a_doubled_post_registers_once_and_a_reused_key_with_other_content_is_refused(cast):
    client = signed_in(cast.desk)
    form = posted(PERSON, EPISODE, OPERATION)
    first, second = client.post(ADDRESS, form), client.post(ADDRESS, form)
    patient = Patient.objects.get(name=PERSON["name"])
    assert first["Location"] == second["Location"] == f"/patients/{patient.uid}/person"
    assert client.post(ADDRESS, form | {"phone": "555 0199"}).status_code == 409
    assert Patient.objects.get(name=PERSON["name"]).phone == "555 0101"


TWIN = {"name": "Innes Marlo", "birth_date": "2001-05-03"}


@pytest.mark.parametrize(
    ("changes", "asks"),
    [
        (TWIN, True),
        (TWIN | {"name": "Marlow"}, True),
        (TWIN | {"name": "Zoltan Fekete"}, False),
        (TWIN | {"birth_date": "2001-05-04"}, False),
        ({"record_number": "h-0412"}, True),
    ],
)
def test_a_possible_duplicate_is_shown_before_anything_is_saved(cast, changes, asks):
    response = register(cast, PERSON, EPISODE, OPERATION, **changes)
    assert response.status_code == (422 if asks else 302)
    assert Patient.objects.exclude(pk=cast.ines.pk).exists() is not asks
    if asks:
        assert [row.patient for row in response.context["alike"]] == [cast.ines]
        assert "Ines Marlow" in words_of(response)
        row = AuditEntry.objects.latest("pk")
        assert (row.act, row.subject_ids) == ("find_patients", [cast.ines.pk])


def test_after_comparing_the_same_form_registers_the_other_person(cast):
    client = signed_in(cast.desk)
    form = posted(PERSON, EPISODE, OPERATION, **TWIN)
    asked = client.post(ADDRESS, form)
    compared = asked.context["compared"]
    assert f'name="compared" value="{compared}"' in asked.content.decode()
    third = PatientFactory(name="Inna Marlow", name_folded="inna marlow")
    EpisodeFactory(patient=third, site=cast.harbour)
    unseen = client.post(ADDRESS, form | {"compared": compared})
    assert (unseen.status_code, len(unseen.context["alike"])) == (422, 2)
    both = unseen.context["compared"]
    assert client.post(ADDRESS, form | {"compared": both}).status_code == 302


def test_a_patient_of_another_site_is_not_given_away_by_the_warning(cast):
    elsewhere = PatientFactory(name="Innes Marlo", name_folded="innes marlo")
    EpisodeFactory(patient=elsewhere, site=cast.millbank)
    response = register(cast, PERSON, EPISODE, OPERATION, **TWIN)
    assert [row.patient for row in response.context["alike"]] == [cast.ines]


def test_a_lead_does_not_register(cast):
    for answer in (
        signed_in(cast.lead).get(ADDRESS),
        signed_in(cast.lead).post(ADDRESS, posted(PERSON, EPISODE, OPERATION)),
    ):
        assert answer.status_code == 403
    assert Patient.objects.count() == 1
    rows = AuditEntry.objects.filter(outcome="refused").values_list("act", "subject_ids")
    assert list(rows) == [("register", [cast.harbour.pk])] * 2


def test_a_child_without_guardian_is_registered_and_the_page_asks_for_one(cast):
    client = signed_in(cast.desk)
    answer = client.post(ADDRESS, posted(PERSON, EPISODE, OPERATION, birth_date="2011-04-12"))
    asks = "Under 18 years, and no parent or guardian is recorded"
    assert asks in words_of(client.get(answer["Location"]))
    patient = Patient.objects.get(name=PERSON["name"])
    Patient.objects.filter(pk=patient.pk).update(guardian_name="Alba Łaska")
    assert asks not in words_of(client.get(answer["Location"]))
