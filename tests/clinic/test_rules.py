"""The rules of the record, each by a value that breaks it and one beside it that does not."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.services import rules
from clinic.services.details import EpisodeDetails, Operation, Person
from tests.cast import TODAY

BORN = date(2003, 4, 12)
INJURY = date(2026, 9, 1)
DONE = Operation(
    operation="reconstruction",
    state="performed",
    date=date(2026, 10, 20),
    graft="hamstring",
    graft_from="same_limb",
    procedures=(),
)
KNEE = EpisodeDetails(knee="left", kind="reconstruction", injury_date=INJURY)


def fields_of(operation: Operation) -> set[str]:
    return set(
        rules.operation_errors(
            operation=operation, birth_date=BORN, injury_date=INJURY, today=TODAY
        )
    )


@pytest.mark.parametrize(
    ("changes", "fields"),
    [
        ({}, set()),
        ({"date": TODAY}, set()),
        ({"date": TODAY + timedelta(days=1)}, {"date"}),
        ({"date": INJURY}, set()),
        ({"date": INJURY - timedelta(days=1)}, {"date"}),
        ({"date": None}, {"date_asked_on"}),
        ({"date": None, "date_asked_on": TODAY}, set()),
        ({"date": None, "date_asked_on": TODAY + timedelta(days=1)}, {"date_asked_on"}),
        ({"date_asked_on": TODAY}, {"date"}),
        ({"graft": ""}, {"graft"}),
        ({"graft": "unknown"}, {"graft_asked_on"}),
        ({"graft": "unknown", "graft_asked_on": TODAY}, set()),
        ({"graft_from": "unknown"}, {"graft_asked_on"}),
        ({"graft_from": "donor"}, {"graft_from"}),
        ({"graft": "allograft"}, {"graft_from"}),
        ({"graft": "allograft", "graft_from": "donor"}, set()),
        ({"graft_asked_on": TODAY}, {"graft_asked_on"}),
        ({"procedures": None}, {"procedures_asked_on"}),
        ({"procedures": None, "procedures_asked_on": TODAY}, set()),
        ({"procedures_asked_on": TODAY}, {"procedures_asked_on"}),
        ({"operation": "repair"}, {"graft"}),
        ({"operation": "repair", "graft": "", "graft_from": ""}, set()),
        ({"operation": "reoperation", "graft": "", "graft_from": ""}, set()),
        ({"state": "planned"}, {"date"}),
        ({"state": "planned", "date": TODAY}, set()),
        ({"state": "planned", "date": None, "procedures": None}, set()),
        ({"state": "planned", "date": None, "graft": "unknown", "graft_from": "unknown"}, set()),
    ],
)
def test_an_operation(changes, fields):
    assert fields_of(replace(DONE, **changes)) == fields


@given(st.dates(min_value=date(1990, 1, 1), max_value=date(2040, 1, 1)))
def test_a_performed_operation_lies_from_injury_to_today(day):
    assert ("date" not in fields_of(replace(DONE, date=day))) == (INJURY <= day <= TODAY)


@pytest.mark.parametrize(
    ("changes", "fields"),
    [
        ({}, set()),
        ({"injury_date": TODAY}, {"injury_date"}),
        ({"injury_date": date(2026, 10, 20)}, set()),
        ({"injury_date": date(2026, 10, 21)}, {"injury_date"}),
        ({"injury_date": BORN - timedelta(days=1)}, {"injury_date"}),
        ({"injury_date": None}, {"injury_asked_on"}),
        ({"injury_date": None, "injury_asked_on": TODAY}, set()),
        ({"injury_asked_on": TODAY}, {"injury_date"}),
    ],
)
def test_an_injury(changes, fields):
    found = rules.episode_errors(
        episode=replace(KNEE, **changes),
        birth_date=BORN,
        today=TODAY,
        operations=[("cancelled", date(2026, 8, 1)), ("performed", date(2026, 10, 20))],
    )
    assert set(found) == fields


@pytest.mark.parametrize(
    ("kind", "operations", "fits"),
    [
        ("waiting", [], True),
        ("without_surgery", [], True),
        ("reconstruction", [], False),
        ("reconstruction", [("reconstruction", "planned")], True),
        ("reconstruction", [("reconstruction", "cancelled")], False),
        ("waiting", [("reconstruction", "cancelled"), ("reoperation", "performed")], True),
        ("waiting", [("reconstruction", "planned")], False),
        ("revision", [("reconstruction", "performed")], False),
    ],
)
def test_the_kind_follows_the_acl_operation(kind, operations, fits):
    assert (rules.kind_errors(kind=kind, operations=operations) == {}) is fits


@pytest.mark.parametrize(
    ("person", "fields"),
    [
        (Person(name="Zoë", birth_date=TODAY), set()),
        (Person(name="Zoë", birth_date=TODAY + timedelta(days=1)), {"birth_date"}),
        (Person(name="Zoë", birth_date=date(1900, 1, 1)), set()),
        (Person(name="Zoë", birth_date=date(1899, 12, 31)), {"birth_date"}),
        (Person(name="--", birth_date=BORN), {"name"}),
    ],
)
def test_a_person(person, fields):
    assert set(rules.person_errors(person=person, today=TODAY)) == fields
