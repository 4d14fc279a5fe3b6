"""The caseload's filters, order and pages: codes in the address, never names."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic import clock
from outcomes.queries.caseload import SORTS
from tests.cast import MOMENT, TODAY
from tests.factories.clinic import (
    MembershipFactory,
    StaffFactory,
)
from tests.outcomes.followed import cells, follow, names, seen
from tests.web import signed_in, words_of

FILTERED = {
    "care=active": "Active Far Hamstring Look Six Thirteen",
    "care=on_hold": "Held",
    "care=discharged": "Gone",
    "care=follow_up_only": "Followed",
    "graft=allograft": "Far",
    "clinician={colleague}": "Held Look",
    "milestone=competition": "Far",
    "look=1": "Look",
    "week=6-12": "Six",
    "week=13-13": "Thirteen",
    "week=before": "Followed",
    "care=active&graft=hamstring&week=0-20&look=1&clinician={colleague}": "Look",
    "graft=quadriceps_tendon": "",
}


@pytest.mark.parametrize(("query", "expected"), FILTERED.items())
def test_each_filter_leaves_exactly_its_episodes(harbour, query, expected):
    """Weeks are whole weeks since the index date, both ends included: days 42 to 90 are 6-12."""
    colleague = harbour.colleague
    follow(harbour, "Active")
    follow(harbour, "Hamstring")
    follow(harbour, "Six", index_date=TODAY - timedelta(days=42))
    follow(harbour, "Thirteen", index_date=TODAY - timedelta(days=91))
    follow(harbour, "Far", graft="allograft", next_milestone="competition")
    follow(
        harbour, "Look", episode={"responsible": colleague}, look_rank=5, looks=1, look_sentence="x"
    )
    on_hold = {"care_state": "on_hold", "care_until": TODAY, "responsible": colleague}
    follow(harbour, "Held", episode=on_hold)
    follow(harbour, "Followed", episode={"care_state": "follow_up_only"}, index_date=None)
    follow(harbour, "Gone", episode={"care_state": "discharged"}, look_rank=0)
    follow(harbour, "Elsewhere", site=harbour.millbank)
    query = query.format(colleague=colleague.pk)
    found = names(signed_in(harbour.lead).get(f"/caseload/?{query}&sort=name"))
    assert sorted(found) == sorted(expected.split())


@pytest.mark.parametrize(("days", "inside"), [(41, 0), (42, 1), (90, 1), (91, 0)])
def test_the_edges_of_a_week_band(harbour, days, inside):
    follow(harbour, "Edge", index_date=TODAY - timedelta(days=days))
    assert len(cells(signed_in(harbour.lead).get("/caseload/?week=6-12"))) == inside


def test_weeks_are_those_of_each_site_where_it_is_already_tomorrow(harbour):
    """At 11:00 UTC it is 26 November in Auckland: day 42 there is day 41 in Lisbon."""
    harbour.millbank.zone = "Pacific/Auckland"
    harbour.millbank.save()
    MembershipFactory(staff=harbour.lead, site=harbour.millbank, role="lead")
    index = TODAY - timedelta(days=41)
    follow(harbour, "Lisbon", index_date=index)
    follow(harbour, "Auckland", site=harbour.millbank, index_date=index)
    with clock.held_at(MOMENT.replace(hour=11)):
        client = signed_in(harbour.lead)
        assert names(client.get("/caseload/?week=6-6")) == ["Auckland"]
        assert names(client.get("/caseload/?week=5-5")) == ["Lisbon"]


@pytest.mark.parametrize(
    ("sort", "expected"),
    [
        ("look", "Dara Cleo Abel Bea"),
        ("week", "Cleo Bea Dara Abel"),
        ("visit", "Dara Bea Abel Cleo"),
        ("quadriceps", "Bea Abel Dara Cleo"),
        ("name", "Abel Bea Cleo Dara"),
    ],
)
def test_each_order_is_total_and_puts_the_unknown_last(harbour, sort, expected):
    day = timedelta(days=1)
    follow(harbour, "Bea", index_date=TODAY - 9 * day, last_visit=TODAY - 6 * day,
           quadriceps_lsi=Decimal(50))  # fmt: skip
    follow(harbour, "Abel", index_date=None, last_visit=TODAY, quadriceps_lsi=Decimal(60))
    follow(harbour, "Dara", index_date=TODAY - 99 * day, last_visit=TODAY - 8 * day,
           quadriceps_lsi=Decimal(70), look_rank=9, looks=1, look_sentence="x")  # fmt: skip
    follow(harbour, "Cleo", index_date=TODAY - 2 * day, last_visit=None, look_rank=8, looks=1,
           look_sentence="x")  # fmt: skip
    found = names(signed_in(harbour.lead).get(f"/caseload/?sort={sort}"))
    assert found == expected.split()


@pytest.mark.parametrize("sort", SORTS)
def test_every_order_ends_with_the_id(harbour, sort):
    """So that equal names cannot fall between two pages, whatever the database does with ties."""
    made = [follow(harbour, "Same Name") for _ in range(3)]
    client = signed_in(harbour.lead)
    with CaptureQueriesContext(connection) as statements:
        client.get(f"/caseload/?sort={sort}")
    (list_of,) = [one["sql"] for one in statements if "LIMIT 50" in one["sql"]]
    assert list_of.startswith('SELECT "clinic_episode"."id"')
    assert list_of.endswith(", 1 ASC LIMIT 50")
    assert seen() == [[episode.pk for episode in made]]


def test_fifty_a_page_and_the_filters_stay_in_the_links(harbour):
    for number in range(51):
        follow(harbour, f"P{number:02}")
    client = signed_in(harbour.lead)
    first = client.get("/caseload/?graft=hamstring&sort=name")
    assert names(first) == [f"P{number:02}" for number in range(50)]
    assert "1 to 50 of 51." in words_of(first)
    assert 'rel="next" href="?graft=hamstring&amp;sort=name&amp;page=2"' in first.content.decode()
    second = client.get("/caseload/?graft=hamstring&sort=name&page=2")
    assert (names(second), "51 to 51 of 51." in words_of(second)) == (["P50"], True)
    beyond = client.get("/caseload/?page=9")
    assert (names(beyond), 'rel="prev" href="?&amp;page=2"' in beyond.content.decode()) == (
        [],
        True,
    )


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("week=12-6", "Week: Give weeks as 6-12, the smaller number first."),
        ("week=soon", "Week: Give weeks as 6-12, the smaller number first."),
        ("graft=steel", "Graft: Choose one of the list."),
        ("clinician=Tess", "Clinician: Choose one of the list."),
        ("site=millbank", "Site: Choose one of the list."),
        ("care=everyone", "Care: Choose one of the list."),
        ("sort=age", "Sort: Choose one of the list."),
        ("page=0", "Page: Ensure this value is greater than or equal to 1."),
    ],
)
def test_what_is_no_filter_shows_nobody_and_says_what_to_choose(harbour, query, sentence):
    follow(harbour, "Near")
    follow(harbour, "Elsewhere", site=harbour.millbank)
    response = signed_in(harbour.lead).get(f"/caseload/?{query}")
    assert (response.status_code, cells(response), seen()) == (422, [], [])
    assert sentence in words_of(response)
    assert "Near" not in words_of(response)


def test_the_filters_that_are_set_can_be_read_in_the_page(harbour):
    page = signed_in(harbour.lead).get("/caseload/?week=5-9&graft=allograft").content.decode()
    chosen = re.findall(r'<option value="([^"]*)" selected>([^<]*)<', page)
    assert [option for option in chosen if option[0]] == [
        ("allograft", "allograft"),
        ("5-9", "week 5 to 9"),
    ]


def test_clinicians_are_offered_by_name_and_only_those_of_the_sites(harbour):
    far = StaffFactory(full_name="Una Far")
    follow(harbour, "Near", episode={"responsible": harbour.colleague})
    follow(harbour, "Elsewhere", site=harbour.millbank, episode={"responsible": far})
    page = signed_in(harbour.lead).get("/caseload/").content.decode()
    select = page.partition('id="id_clinician"')[2].partition("</select>")[0]
    assert re.findall(r'value="([^"]*)"[^>]*>([^<]*)<', select) == [
        ("", "all clinicians"),
        (str(harbour.colleague.pk), "Bram Solis"),
    ]


def test_no_name_ever_stands_in_an_address(harbour):
    follow(harbour, "Petra Solvang", look_rank=5, looks=1, look_sentence="x")
    page = signed_in(harbour.lead).get("/caseload/").content.decode()
    addresses = re.findall(r'(?:href|action|hx-get|hx-post)="([^"]*)"', page)
    assert len(addresses) > 10
    assert [one for one in addresses if "petra" in one.lower() or "solvang" in one.lower()] == []
