"""The caseload as a file and as a drawing: what is seen, and nothing else."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal

import pytest

from clinic.models.audit import AuditEntry
from clinic.models.people import RecordNumber
from outcomes.interchange.caseload import COLUMNS
from outcomes.queries.catalogue import in_force
from tests.cast import TODAY
from tests.factories.clinic import MembershipFactory
from tests.outcomes.followed import follow, seen
from tests.web import signed_in, words_of

TESTED = {
    "quadriceps_lsi": Decimal("89.9500"),
    "quadriceps_on": date(2026, 9, 23),
    "quadriceps_until": date(2026, 11, 4),
}


def rows(response):
    return list(csv.DictReader(io.StringIO(response.content.decode("utf-8"), newline="")))


PETRA = {
    "as_of": "2026-11-25",
    "site": "Harbour Street",
    "record_number": "H-0007",
    "patient": "Petra Solvang",
    "knee": "right",
    "kind": "reconstruction",
    "care_state": "active",
    "clinician": "Tess Okafor",
    "graft": "hamstring",
    "graft_from": "same_limb",
    "index_date": "2026-08-12",
    "weeks_since_index": "15",
    "weeks_since_index_unit": "wk",
    "last_visit": "2026-11-20",
    "protocol": "starter@2",
    "next_milestone": "running",
    "criteria_recorded_as_met": "4",
    "criteria_not_tested": "1",
    "criteria_out_of_date": "2",
    "criteria_not_assessable": "0",
    "criteria_in_all": "7",
    "decision": "Decision open: physiotherapist with surgeon and patient.",
    "quadriceps_lsi": "89.9500",
    "quadriceps_lsi_unit": "%",
    "quadriceps_tested_on": "2026-09-23",
    "quadriceps_counts_until": "2026-11-04",
    "quadriceps_result": "out_of_date",
    "hop_lsi": "",
    "hop_lsi_unit": "",
    "hop_tested_on": "2026-11-25",
    "hop_counts_until": "",
    "hop_result": "not_assessable: limited_by_pain",
    "reasons_to_look": "2",
    "first_reason_to_look": "Flexion 80°, under 90°, at week 15: ask the surgeon",
}
"""The line of Petra Solvang, without the version of the rules."""


def test_the_file_holds_values_with_units_dates_and_denominators(harbour):
    made = follow(
        harbour,
        "Petra Solvang",
        look_rank=5,
        looks=2,
        look_sentence="Flexion 80°, under 90°, at week 15: ask the surgeon",
        hop_why="limited_by_pain",
        hop_on=TODAY,
        criteria_out_of_date=2,
        **TESTED,
    )
    RecordNumber.objects.create(site=harbour.harbour, patient=made.patient, number="H-0007")
    response = signed_in(harbour.lead).post("/caseload/export", {"sort": "name"})
    assert response["Content-Type"] == "text/csv; charset=utf-8; header=present"
    assert response["Content-Disposition"] == 'attachment; filename="caseload-2026-11-25.csv"'
    assert rows(response) == [PETRA | {"rules_version": in_force().rules["starter@2"]}]


def test_a_name_that_begins_like_a_formula_cannot_run(harbour):
    """OWASP, CSV injection: an apostrophe in front of the text, and only there."""
    follow(harbour, '=HYPERLINK("x","y")', index_date=TODAY - timedelta(weeks=5))
    row = rows(signed_in(harbour.lead).post("/caseload/export"))[0]
    assert row["patient"] == '\'=HYPERLINK("x","y")'
    assert row["weeks_since_index"] == "5"


def test_all_pages_of_what_is_filtered_are_saved_and_the_audit_names_them(harbour):
    for number in range(51):
        follow(harbour, f"P{number:02}")
    follow(harbour, "Far", graft="allograft")
    response = signed_in(harbour.lead).post(
        "/caseload/export", {"graft": "hamstring", "sort": "name"}
    )
    assert [row["patient"] for row in rows(response)] == [f"P{n:02}" for n in range(51)]
    (ids,) = seen("export_caseload")
    assert (len(ids), seen()) == (51, [])


def test_an_empty_caseload_is_a_header_alone(harbour):
    content = signed_in(harbour.lead).post("/caseload/export").content.decode()
    assert content.count("\r\n") == 1
    assert content.startswith(f"{COLUMNS[0].name},{COLUMNS[1].name},")


def test_only_a_lead_saves_and_only_of_the_sites_that_are_led(harbour):
    MembershipFactory(staff=harbour.lead, site=harbour.millbank, role="clinician")
    follow(harbour, "Near")
    follow(harbour, "Elsewhere", site=harbour.millbank)
    lead = signed_in(harbour.lead)
    assert "Elsewhere" in words_of(lead.get("/caseload/"))
    assert [row["patient"] for row in rows(lead.post("/caseload/export"))] == ["Near"]
    for person in (harbour.clinician, harbour.desk):
        assert signed_in(person).post("/caseload/export").status_code == 403
    assert "Save as CSV" in words_of(lead.get("/caseload/"))
    assert "Save as CSV" not in words_of(signed_in(harbour.clinician).get("/caseload/"))
    outcomes = AuditEntry.objects.filter(act="export_caseload").order_by("id")
    assert [row.outcome for row in outcomes] == ["done", "refused", "refused"]


def test_a_file_is_only_given_by_post_and_not_for_a_wrong_filter(harbour):
    follow(harbour, "Near")
    client = signed_in(harbour.lead)
    assert client.get("/caseload/export").status_code == 405
    refused = client.post("/caseload/export", {"graft": "steel"})
    assert (refused.status_code, "Near" in words_of(refused)) == (422, False)
    assert seen("export_caseload") == []


def test_the_drawing_says_of_how_many_and_what_it_leaves_out(harbour):
    """The threshold lines are the hard criteria of the starter protocol, with their sources."""
    follow(harbour, "Out of date", index_date=TODAY - timedelta(weeks=30), **TESTED)
    follow(
        harbour,
        "Ninety",
        index_date=TODAY - timedelta(weeks=40),
        quadriceps_lsi=Decimal(90),
        quadriceps_on=TODAY,
        quadriceps_until=TODAY,
        look_rank=5,
        looks=1,
        look_sentence="x",
    )
    follow(harbour, "Untested")
    follow(harbour, "No index", quadriceps_why="limited_by_pain")
    follow(harbour, "Early", index_date=date(2026, 9, 24), **TESTED)
    client = signed_in(harbour.lead)
    words = words_of(client.get("/caseload/symmetry?sort=name"))
    assert "Quadriceps symmetry of 2 of 5 episodes: 1 of 2 at least 90 %" in words
    assert (
        "Not drawn: 1 not tested, 1 not assessable, 1 tested before the operation or injury, "
        "or without its date. Of those drawn, 1 out of date." in words
    )
    assert "Out of date, right knee 21 89 %, 9 weeks ago, out of date no" in words
    assert "Ninety, right knee 40 90 %, today yes" in words
    assert "Hop symmetry of 0 of 5 episodes" in words_of(client.get("/caseload/symmetry?of=hop"))


def test_the_figure_has_the_points_of_the_drawing_and_the_audit_names_them(harbour):
    made = follow(harbour, "Out <b>", index_date=TODAY - timedelta(weeks=30), **TESTED)
    follow(harbour, "Far", graft="allograft", **TESTED)
    client = signed_in(harbour.lead)
    page = client.get("/caseload/symmetry?graft=hamstring").content.decode()
    assert 'data-figure-url="/caseload/figure?graft=hamstring&amp;of=quadriceps"' in page
    figure = client.get("/caseload/figure?graft=hamstring&of=quadriceps").json()
    assert [(trace["name"], trace["x"], trace["y"]) for trace in figure["data"]] == [
        ("no reason to look", [21], [89.95]),
        ("needs a look", [], []),
    ]
    assert figure["data"][0]["text"] == ["Out &lt;b>, right knee: 89 %, 9 weeks ago, out of date"]
    assert seen() == [[made.pk], [made.pk]]


@pytest.mark.parametrize("address", ["/caseload/symmetry", "/caseload/figure"])
def test_a_wrong_filter_draws_nothing(harbour, address):
    follow(harbour, "Near", **TESTED)
    response = signed_in(harbour.lead).get(f"{address}?of=kicks")
    assert (response.status_code, "Near" in response.content.decode()) == (422, False)
