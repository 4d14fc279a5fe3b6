"""Finding: folded names, birth dates in several orders, record numbers, and nobody else's."""

import unicodedata
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic import words
from clinic.models.audit import AuditEntry
from clinic.models.people import Patient, RecordNumber
from clinic.queries import finding
from tests.cast import TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory
from tests.web import signed_in, words_of

ADDRESS = "/patients/"
NAMES = st.text(alphabet="abcdefghijklmnopqrstuvwxyzäöüßéèøłđğşçñœæÅÉŁØ '-’", max_size=30)


@given(NAMES)
def test_folding_once_is_enough_and_ignores_case_and_composition(name):
    folded = words.fold(name)
    assert words.fold(folded) == folded
    assert words.fold(name.upper().lower()) == words.fold(name.lower())
    assert words.fold(unicodedata.normalize("NFD", name)) == folded
    assert set(folded) <= set("abcdefghijklmnopqrstuvwxyz ")


@pytest.mark.parametrize(
    ("text", "dates", "rest"),
    [
        ("2001-05-03", [date(2001, 5, 3)], ""),
        ("3.5.2001", [date(2001, 3, 5), date(2001, 5, 3)], ""),
        ("03/05/2001", [date(2001, 3, 5), date(2001, 5, 3)], ""),
        ("13/05/2001", [date(2001, 5, 13)], ""),
        ("5-13-2001", [date(2001, 5, 13)], ""),
        ("03052001", [date(2001, 3, 5), date(2001, 5, 3)], ""),
        ("3 May 2001", [date(2001, 5, 3)], ""),
        ("3. may, 2001", [date(2001, 5, 3)], ""),
        ("May 3, 2001", [date(2001, 5, 3)], ""),
        ("3.5.26", [date(1926, 3, 5), date(1926, 5, 3), date(2026, 3, 5), date(2026, 5, 3)], ""),
        ("3.5.27", [date(1927, 3, 5), date(1927, 5, 3)], ""),
        ("marlow 3 May 2001", [date(2001, 5, 3)], "marlow"),
        ("31.2.2001", [], "31 2 2001"),
        ("H-0412", [], "h 0412"),
        ("Ines Marlow", [], "ines marlow"),
    ],
)
def test_what_was_typed_is_read_in_every_usual_order(text, dates, rest):
    asked = finding.asked(text=text, today=TODAY)
    assert (list(asked.dates), asked.rest) == (dates, rest)


def ask(cast, text, person="desk"):
    return signed_in(getattr(cast, person)).post(ADDRESS, {"text": text})


def found(response):
    return [row.patient.name for row in response.context["hits"].rows]


@pytest.mark.parametrize(
    "text",
    ["ines", "MARLOW", "mar ine", "Inés Mar", "h-04", "H-0412", "3.5.2001", "ines 3 May 2001"],
)
def test_a_patient_is_found_by_any_part(cast, text):
    assert found(ask(cast, text)) == ["Ines Marlow"]


@pytest.mark.parametrize("text", ["nes", "marlow x", "0412", "4.5.2002", "tom 3.5.2001", "%", "_"])
def test_what_does_not_begin_a_word_finds_nobody(cast, text):
    assert found(ask(cast, text)) == []


def test_other_people_with_the_same_birth_date_and_an_accent_are_told_apart(cast):
    for name in ("Zoë Łaska", "Zoltan Las"):
        patient = PatientFactory(name=name, name_folded=words.fold(name))
        EpisodeFactory(patient=patient, site=cast.harbour)
    assert found(ask(cast, "laska zoe")) == ["Zoë Łaska"]
    assert found(ask(cast, "zo las")) == ["Zoë Łaska", "Zoltan Las"]


def test_a_row_says_who_and_which_knee_and_an_ambiguous_date_is_echoed(cast):
    response = ask(cast, "3.5.2001")
    assert "Read as a birth date: 5 Mar 2001 or 3 May 2001." in words_of(response)
    (row,) = response.context["hits"].rows
    said = (row.patient.name, row.born, row.numbers, row.knees, row.sites)
    assert said == ("Ines Marlow", "3 May 2001", "H-0412", ["right"], "Harbour Street")


def test_only_patients_of_ones_own_sites_are_found(cast):
    elsewhere = PatientFactory(name="Ines Elsewhere", name_folded="ines elsewhere")
    EpisodeFactory(patient=elsewhere, site=cast.millbank)
    RecordNumber.objects.create(site=cast.millbank, patient=elsewhere, number="H-0499")
    assert found(ask(cast, "ines")) == ["Ines Marlow"]
    assert found(ask(cast, "h-04")) == ["Ines Marlow"]
    assert found(ask(cast, "ines", person="outsider")) == ["Ines Elsewhere"]
    assert found(ask(cast, "ines marlow", person="outsider")) == []


def test_the_audit_row_of_a_search_carries_the_ids_and_not_the_words(cast):
    ask(cast, "ines")
    row = AuditEntry.objects.latest("pk")
    seen = (row.act, row.subject, row.subject_ids, row.outcome, row.note)
    assert seen == ("find_patients", "patient", [cast.ines.pk], "done", "")


def test_nothing_typed_is_an_error_that_says_what_to_type(cast):
    response = ask(cast, " ")
    assert response.status_code == 422
    assert "Type a name, a record number or a birth date." in words_of(response)


@pytest.mark.parametrize("count", [1, 3])
def test_a_search_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    for n in range(count - 1):
        patient = PatientFactory(name=f"Ines Number{n}", name_folded=f"ines number{n}")
        for knee, site in (("left", cast.harbour), ("right", cast.millbank)):
            EpisodeFactory(patient=patient, site=site, knee=knee)
        RecordNumber.objects.create(site=cast.harbour, patient=patient, number=f"N-{n}")
    client = signed_in(cast.desk)
    with django_assert_num_queries(SEARCH):
        response = client.post(ADDRESS, {"text": "ines"})
    assert len(found(response)) == count


SEARCH = 8
"""Session, person, roles; patients, numbers, episodes, sites; the audit row."""


def test_at_most_fifty_are_shown_and_the_page_says_so(cast):
    Patient.objects.bulk_create(
        PatientFactory.build(name=f"Ines N{n}", name_folded=f"ines n{n:02}") for n in range(50)
    )
    for patient in Patient.objects.exclude(pk=cast.ines.pk):
        EpisodeFactory(patient=patient, site=cast.harbour)
    response = ask(cast, "ines")
    assert (len(found(response)), response.context["hits"].more) == (50, True)
    assert "Only the first 50 are shown." in words_of(response)
