"""The caseload's list: what a row says, who sees it, what is kept of it, what it costs."""

import re
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import resolve

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.people import RecordNumber
from outcomes.models.status import EpisodeStatus
from tests.cast import TODAY
from tests.factories.clinic import (
    EpisodeFactory,
    MembershipFactory,
    PatientFactory,
    SurgeryFactory,
)
from tests.factories.outcomes import EpisodeStatusFactory, both_limbs, signed_visit
from tests.outcomes.followed import cells, follow, names, seen
from tests.web import signed_in, words_of

STATEMENTS = 7
"""Session, person, roles, what is in force, what is due, tally, lines, count, audit row."""

HTMX = {"HX-Request": "true"}


def test_a_row_says_what_is_known_with_dates_and_denominators(harbour):
    made = follow(
        harbour,
        "Petra Solvang",
        index_date=TODAY - timedelta(weeks=31, days=2),
        graft="quadriceps_tendon",
        next_milestone="competition",
        criteria_met=5,
        criteria_untested=2,
        criteria_out_of_date=1,
        criteria_not_assessable=1,
        criteria_all=9,
        quadriceps_lsi=Decimal("77.2000"),
        quadriceps_on=date(2026, 9, 23),
        quadriceps_until=date(2026, 11, 4),
        hop_lsi=Decimal("92.9000"),
        hop_on=date(2026, 11, 20),
        hop_until=date(2027, 1, 1),
        look_rank=55,
        looks=3,
        look_sentence="Quadriceps symmetry down from 93.0 to 77.2 % since 20 May 2026",
    )
    RecordNumber.objects.create(site=harbour.harbour, patient=made.patient, number="H-0007")
    response = signed_in(harbour.lead).get("/caseload/")
    assert cells(response) == [
        [
            "Petra Solvang H-0007",
            "Quadriceps symmetry down from 93.0 to 77.2 % since 20 May 2026 and 2 more",
            "7 months (week 31)",
            "right",
            "quadriceps tendon",
            "Competition: 5 of 9 recorded as met, 2 not tested, 1 out of date, 1 not assessable",
            "77 % 9 weeks ago, out of date",
            "93 % 5 days ago",
            "5 days ago",
            "Tess Okafor",
        ]
    ]
    assert "1 to 1 of 1. A dash is not tested." in words_of(response)
    assert "1 episode followed, 1 needs a look" in words_of(response)


def test_missing_is_said_and_never_a_zero(harbour):
    follow(
        harbour,
        "Noor Castellan",
        episode={"kind": "waiting", "responsible": None, "knee": "left"},
        index_date=None,
        graft="",
        graft_from="",
        last_visit=None,
        next_milestone="",
        criteria_met=0,
        criteria_all=0,
        criteria_untested=0,
    )
    assert cells(signed_in(harbour.lead).get("/caseload/")) == [
        ["Noor Castellan", "no reason to look", "before surgery", "left", "none, waiting",
         "last milestone of the goal decided", "–", "–", "none yet", "nobody yet"]
    ]  # fmt: skip


def test_a_graft_from_the_other_limb_leaves_no_symmetry_and_says_why(harbour):
    follow(
        harbour,
        "Teo Brandauer",
        graft="patellar_tendon",
        graft_from="other_limb",
        quadriceps_why="other_limb_not_fair",
        quadriceps_on=TODAY,
    )
    row = cells(signed_in(harbour.lead).get("/caseload/"))[0]
    assert row[4] == "patellar tendon, from the other limb"
    assert row[6:8] == ["symmetry not assessable the other side is no fair reference", "–"]


@pytest.mark.parametrize(
    ("episode", "columns", "week", "graft"),
    [
        ({"kind": "revision"}, {}, "week 15", "hamstring, revision"),
        (
            {"kind": "without_surgery"},
            {"graft": ""},
            "week 15 after the injury",
            "none, without surgery",
        ),
        (
            {"kind": "without_surgery", "injury_date": None, "injury_asked_on": TODAY},
            {"graft": "", "index_date": None},
            "date of the injury not known yet",
            "none, without surgery",
        ),
        (
            {"kind": "without_surgery"},
            {"graft": "", "index_date": TODAY + timedelta(days=1)},
            "before the injury",
            "none, without surgery",
        ),
        ({"kind": "repair"}, {"graft": ""}, "week 15", "none, ligament repair"),
        ({}, {"graft": "unknown", "index_date": None}, "before surgery", "graft not known yet"),
    ],
)
def test_weeks_and_grafts_in_words(harbour, episode, columns, week, graft):
    follow(harbour, "Jules Tamm", episode=episode, **columns)
    assert cells(signed_in(harbour.lead).get("/caseload/"))[0][2:5:2] == [week, graft]


def test_an_operation_without_a_date_is_not_before_surgery(harbour):
    made = follow(harbour, "Jules Tamm", index_date=None)
    SurgeryFactory(episode=made, date=None, date_asked_on=TODAY, recorded_by=harbour.clinician)
    other = follow(harbour, "Okan Verrill", index_date=None)
    SurgeryFactory(episode=other, state="planned", recorded_by=harbour.clinician)
    rows = cells(signed_in(harbour.lead).get("/caseload/?sort=name"))
    assert [row[2] for row in rows] == ["date of the operation not known yet", "before surgery"]


def test_care_state_stands_where_a_reason_would(harbour):
    state = {"care_state": "on_hold", "care_until": date(2027, 1, 3), "care_reason": "travelling"}
    follow(harbour, "Amara Lindqvist", episode=state)
    response = signed_in(harbour.lead).get("/caseload/")
    assert cells(response)[0][1] == "on hold until 3 Jan 2027"
    assert "on hold (1)" in words_of(response)


@pytest.mark.parametrize("number", [1, 3])
def test_the_page_costs_the_same_for_one_row_and_for_three(harbour, number):
    for row in range(number):
        follow(harbour, f"Row {row}", look_rank=5, looks=2, look_sentence="x")
    client = signed_in(harbour.lead)
    client.get("/caseload/")
    with CaptureQueriesContext(connection) as statements:
        assert len(cells(client.get("/caseload/"))) == number
    assert len(statements) == STATEMENTS


def test_the_page_does_not_cost_more_with_more_visits(cast):
    client = signed_in(cast.lead)
    counts: list[int] = []
    due: list[int] = []
    for weeks in (range(12), range(12, 15)):
        for week in weeks:
            visit = signed_visit(
                patient=cast.ines,
                site=cast.harbour,
                by=cast.clinician,
                on=TODAY - timedelta(weeks=week),
            )
            both_limbs(visit=visit, measure="quadriceps_torque", left=158, right=121)
        EpisodeStatus.objects.all().delete()
        for kept in (due, counts):
            with CaptureQueriesContext(connection) as statements:
                client.get("/caseload/")
            kept.append(len(statements))
    assert counts == [STATEMENTS, STATEMENTS]
    assert due[0] == due[1] > STATEMENTS


def test_what_is_due_is_judged_again_before_it_is_listed(cast):
    client = signed_in(cast.lead)
    assert cells(client.get("/caseload/"))[0][6] == "–"
    visit = signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=date(2026, 11, 20)
    )
    both_limbs(visit=visit, measure="quadriceps_torque", left=200, right=150)
    EpisodeStatus.objects.update(next_change_on=TODAY)
    assert cells(client.get("/caseload/"))[0][6] == "75 % 5 days ago"


def test_the_counts_say_also_what_is_out_of_date(cast):
    """Step-down work asks extension, flexion, effusion (14 days) and front-of-knee pain."""
    for on, measure, left, right in (
        (date(2026, 11, 20), "knee_extension", 0, 0),
        (date(2026, 11, 10), "effusion", None, 0),
    ):
        visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
        both_limbs(visit=visit, measure=measure, left=left, right=right)
    assert cells(signed_in(cast.lead).get("/caseload/"))[0][5] == (
        "Step-down work: 1 of 4 recorded as met, 2 not tested, 1 out of date"
    )


def test_the_audit_names_the_episodes_shown_also_when_only_the_table_is_swapped(harbour):
    far = follow(harbour, "Far", graft="allograft")
    near = follow(harbour, "Near")
    gone = follow(harbour, "Gone", episode={"care_state": "discharged"})
    client = signed_in(harbour.lead)
    client.get("/caseload/?sort=name")
    swapped = client.get("/caseload/?care=discharged", headers=HTMX)
    assert seen() == [[far.pk, near.pk], [gone.pk]]
    assert swapped.content.decode().strip().startswith('<section id="caseload"')
    assert names(swapped) == ["Gone"]


def test_a_clinician_of_another_site_sees_only_that_site(harbour):
    follow(harbour, "Near")
    follow(harbour, "Elsewhere", site=harbour.millbank)
    assert names(signed_in(harbour.outsider).get("/caseload/")) == ["Elsewhere"]
    assert names(signed_in(harbour.clinician).get("/caseload/")) == ["Near"]


def test_the_front_desk_is_refused_and_the_refusal_is_kept(harbour):
    follow(harbour, "Near")
    client = signed_in(harbour.desk)
    for address in ("/caseload/", "/caseload/symmetry", "/caseload/figure"):
        response = client.get(address)
        assert (response.status_code, "Near" in response.content.decode()) == (403, False)
    refused = AuditEntry.objects.filter(act="see_caseload").values_list("outcome", flat=True)
    assert list(refused) == ["refused"] * 3


def test_a_lead_of_two_sites_sees_both_and_can_choose_one(harbour):
    MembershipFactory(staff=harbour.lead, site=harbour.millbank, role="lead")
    follow(harbour, "Near")
    follow(harbour, "Elsewhere", site=harbour.millbank)
    client = signed_in(harbour.lead)
    both = client.get("/caseload/?sort=name")
    assert names(both) == ["Elsewhere", "Near"]
    assert "Harbour Street and Millbank, 2 episodes followed, 0 need a look" in words_of(both)
    assert names(client.get("/caseload/?site=millbank")) == ["Elsewhere"]


def test_a_row_leads_to_the_patient_and_to_the_reasons(harbour):
    made = follow(
        harbour, "Petra Solvang", look_rank=5, looks=1, look_sentence="x",
        next_milestone="running", quadriceps_lsi="77.2", hop_lsi="90",
    )  # fmt: skip
    body = signed_in(harbour.lead).get("/caseload/").content.decode().partition("<tbody>")[2]
    found = [resolve(one) for one in re.findall(r'href="([^"]*)"', body.partition("</tbody>")[0])]
    assert [(match.url_name, *match.kwargs.values()) for match in found] == [
        ("patient", made.patient.uid), ("episode_looks", made.uid), ("number", made.uid, "weeks"),
        ("milestone", made.uid, "running"), ("number", made.uid, "quadriceps_torque"),
        ("number", made.uid, "single_hop"),
    ]  # fmt: skip


def test_a_patient_with_two_knees_has_two_rows(harbour):
    patient = PatientFactory(name="Ada Both")
    for knee, days in (("left", 20), ("right", 200)):
        made = EpisodeFactory(patient=patient, site=harbour.harbour, knee=knee)
        EpisodeStatusFactory(episode=made, index_date=TODAY - timedelta(days=days))
    rows = cells(signed_in(harbour.lead).get("/caseload/?sort=week"))
    assert [row[2:4] for row in rows] == [["week 2", "left"], ["6 months (week 28)", "right"]]


def test_the_clock_is_the_sites(harbour):
    """At 23:30 UTC on the 25th it is still the 25th in Lisbon: a visit of that day is today."""
    follow(harbour, "Near", last_visit=TODAY)
    with clock.held_at(datetime.fromisoformat("2026-11-25T23:30:00+00:00")):
        assert cells(signed_in(harbour.lead).get("/caseload/"))[0][8] == "today"
    with clock.held_at(datetime.fromisoformat("2026-11-26T00:30:00+00:00")):
        assert cells(signed_in(harbour.lead).get("/caseload/"))[0][8] == "1 day ago"
