"""The surgeon's limits and the care state: what holds, what was said before, who may say it."""

from datetime import date, timedelta

import pytest
from django.db import DatabaseError, transaction
from hypothesis import given
from hypothesis import strategies as st

from clinic.models.audit import AuditEntry
from clinic.models.care import EpisodeChange, Restriction
from clinic.queries.care import limits, limits_in_force, spans
from tests.cast import MOMENT, TODAY
from tests.clinic.desk import errors_of, posted
from tests.factories.clinic import EpisodeFactory, VisitFactory
from tests.factories.outcomes import ReadingFactory, signed_visit
from tests.web import signed_in, words_of

DAY = timedelta(days=1)
LIMIT = {
    "kind": "range",
    "limit": "0 to 90°",
    "since": "2026-11-20",
    "until": "2026-12-18",
    "told_by": "Mr Pryce, operation note",
    "told_on": "2026-11-20",
}


def send(cast, name, person="clinician", **form):
    address = f"/episodes/{cast.episode.uid}/{name}"
    return signed_in(getattr(cast, person)).post(address, posted(form))


def held(cast, on=TODAY):
    return [limit.limit for limit in limits_in_force(episode_id=cast.episode.pk, on=on)]


def now(row):
    return type(row).objects.get(pk=row.pk)


def test_a_limit_is_recorded_once_and_makes_the_status_due(cast):
    client = signed_in(cast.clinician)
    form = posted(LIMIT)
    address = f"/episodes/{cast.episode.uid}/limits"
    first, second = client.post(address, form), client.post(address, form)
    assert first["Location"] == second["Location"] == address
    row = Restriction.objects.get()
    assert (row.kind, row.limit, row.since, row.until, row.origin, row.recorded_by) == (
        "range",
        "0 to 90°",
        date(2026, 11, 20),
        date(2026, 12, 18),
        "surgeon",
        cast.clinician,
    )
    assert now(cast.episode).version == 2
    assert "range of motion: 0 to 90° , from 20 Nov 2026 to 18 Dec 2026" in words_of(
        client.get(address)
    )


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"limit": ""}, "limit"),
        ({"told_by": ""}, "told_by"),
        ({"told_on": ""}, "told_on"),
        ({"told_on": "2026-11-26"}, "told_on"),
        ({"kind": "set_aside"}, "kind"),
        ({"until": "2026-11-19"}, "until"),
        ({"kind": "walking"}, "kind"),
        ({"supersedes_id": "999"}, "supersedes_id"),
    ],
)
def test_an_incomplete_instruction_is_refused_beside_its_field(cast, changes, field):
    response = send(cast, "limits", **(LIMIT | changes))
    assert (response.status_code, list(errors_of(response))) == (422, [field])
    assert not Restriction.objects.exists()


def test_a_new_instruction_takes_the_older_ones_place_from_its_first_day(cast):
    send(cast, "limits", **LIMIT)
    old = Restriction.objects.get()
    newer = LIMIT | {"limit": "0 to 120°", "since": "2026-12-01", "until": ""}
    send(cast, "limits", **newer, supersedes_id=old.pk)
    days = [date(2026, 11, 19), TODAY, date(2026, 11, 30), date(2026, 12, 1), date(2027, 6, 1)]
    assert [held(cast, on=on) for on in days] == [
        [],
        ["0 to 90°"],
        ["0 to 90°"],
        ["0 to 120°"],
        ["0 to 120°"],
    ]
    again = send(cast, "limits", **newer, supersedes_id=old.pk)
    assert list(errors_of(again)) == ["supersedes_id"]


def test_the_surgeon_ends_a_limit_and_both_instructions_stay_to_be_read(cast):
    send(cast, "limits", **LIMIT)
    old = Restriction.objects.get()
    end = {
        "restriction": old.pk,
        "until": "2026-11-24",
        "told_by": "Mr Pryce, phone",
        "told_on": "2026-11-24",
    }
    early = send(cast, "limits/end", **(end | {"until": "2026-11-19"}))
    assert list(errors_of(early)) == ["until"]
    assert list(errors_of(send(cast, "limits/end", **(end | {"told_on": "2026-11-26"})))) == [
        "told_on"
    ]
    assert send(cast, "limits/end", **end).status_code == 302
    assert (held(cast), held(cast, on=TODAY - DAY)) == ([], ["0 to 90°"])
    page = words_of(signed_in(cast.clinician).get(f"/episodes/{cast.episode.uid}/limits"))
    assert "Mr Pryce, phone on 24 Nov 2026" in page
    assert "Mr Pryce, operation note" in page


def test_asked_and_no_limit_is_an_answer_and_holds_nothing(cast):
    send(cast, "limits", **(LIMIT | {"kind": "none", "limit": ""}))
    assert Restriction.objects.get().limit == "no limit"
    assert held(cast) == []


DAYS = st.integers(0, 40).map(lambda n: TODAY + timedelta(days=n))
LENGTHS = st.one_of(st.none(), st.integers(0, 40))


@given(st.lists(st.tuples(DAYS, LENGTHS, st.booleans()), min_size=1, max_size=5), DAYS)
def test_an_instruction_holds_from_its_first_day_until_its_last_or_until_it_is_replaced(chain, on):
    rows: list[Restriction] = []
    for number, (since, length, replaces) in enumerate(chain):
        rows.append(
            Restriction(
                kind="range",
                limit=str(number),
                since=since,
                until=None if length is None else since + timedelta(days=length),
                supersedes=rows[-1] if rows and replaces else None,
            )
        )
    held = {
        row.limit
        for row, newer in zip(rows, [*rows[1:], None], strict=True)
        if row.since <= on
        and (row.until is None or on <= row.until)
        and not (newer and newer.supersedes is row and newer.since <= on)
    }
    assert {limit.limit for limit in spans(rows) if limit.holds(on=on)} == held


@pytest.mark.parametrize("count", [1, 3])
def test_limits_of_many_episodes_cost_one_statement(cast, count, django_assert_num_queries):
    episodes = [EpisodeFactory(patient__name=f"P{n}") for n in range(count)]
    for episode in episodes:
        Restriction.objects.create(
            episode=episode, kind="brace", limit="locked", since=TODAY, origin="surgeon",
            told_by="x", recorded_by=cast.clinician, recorded_at=MOMENT,
        )  # fmt: skip
    with django_assert_num_queries(1):
        found = limits(episode_ids=[episode.pk for episode in episodes])
    assert [len(of_one) for of_one in found.values()] == [1] * count


LIMITS_PAGE = 8
"""Session, person, roles; episode, sites at the door, audit row; all instructions; sites for the
buttons."""


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    before = None
    for n in range(count):
        before = Restriction.objects.create(
            episode=cast.episode, kind="brace", limit=f"{n}", since=TODAY, origin="surgeon",
            told_by="x", recorded_by=cast.clinician, recorded_at=MOMENT, supersedes=before,
        )  # fmt: skip
    client = signed_in(cast.clinician)
    with django_assert_num_queries(LIMITS_PAGE):
        response = client.get(f"/episodes/{cast.episode.uid}/limits")
    assert [line.holds for line, _ in response.context["rows"]] == [True] + [False] * (count - 1)


def test_instructions_are_kept_as_they_are_by_the_database(cast):
    send(cast, "limits", **LIMIT)
    with pytest.raises(DatabaseError), transaction.atomic():
        Restriction.objects.update(limit="0 to 140°")
    send(cast, "care", state="on_hold", reason="holiday", until="2026-12-20", seen=2)
    with pytest.raises(DatabaseError), transaction.atomic():
        EpisodeChange.objects.update(reason="none")


@pytest.mark.parametrize(
    ("person", "name", "get", "post"),
    [
        ("desk", "limits", 403, 403),
        ("desk", "care", 403, 403),
        ("lead", "limits", 200, 403),
        ("lead", "care", 200, 302),
        ("outsider", "limits", 404, 404),
        ("outsider", "care", 404, 404),
    ],
)
def test_who_sees_and_who_changes(cast, person, name, get, post):
    send(cast, "limits", **LIMIT)
    address = f"/episodes/{cast.episode.uid}/{name}"
    page = signed_in(getattr(cast, person)).get(address)
    assert page.status_code == get
    assert ("Marlow" in page.content.decode()) is (get == 200)
    care = {"state": "on_hold", "reason": "holiday", "until": "2026-12-20", "seen": 2}
    form = LIMIT if name == "limits" else care
    assert send(cast, name, person=person, **form).status_code == post
    refused = AuditEntry.objects.filter(outcome="refused").count()
    assert refused == (get != 200) + (post != 302)


def care_of(cast):
    row = now(cast.episode)
    return (row.care_state, row.care_reason, row.care_until)


def test_care_on_hold_and_taken_up_again_keeps_both_changes(cast):
    hold = {"state": "on_hold", "reason": "exams abroad", "until": "2027-01-10"}
    assert send(cast, "care", seen=1, **hold).status_code == 302
    assert care_of(cast) == ("on_hold", "exams abroad", date(2027, 1, 10))
    assert send(cast, "care", seen=2, state="active", reason="back", until="").status_code == 302
    assert care_of(cast) == ("active", "back", None)
    kept = EpisodeChange.objects.order_by("pk").values_list("before", "after", "reason", "on")
    assert list(kept) == [
        ("active", "on_hold 2027-01-10", "exams abroad", TODAY),
        ("on_hold 2027-01-10", "active", "back", TODAY),
    ]


@pytest.mark.parametrize(
    ("form", "field"),
    [
        ({"state": "on_hold", "reason": "exams", "until": ""}, "until"),
        ({"state": "on_hold", "reason": "exams", "until": "2026-11-25"}, "until"),
        ({"state": "on_hold", "reason": "", "until": "2026-12-25"}, "reason"),
        ({"state": "discharged", "reason": ""}, "reason"),
        ({"state": "transferred", "reason": ""}, "reason"),
        ({"state": "active", "until": "2026-12-25"}, "until"),
        ({"state": "resting"}, "state"),
    ],
)
def test_what_a_care_state_needs(cast, form, field):
    response = send(cast, "care", seen=1, **form)
    assert (response.status_code, list(errors_of(response))) == (422, [field])
    assert care_of(cast) == ("active", "", None)


@pytest.mark.parametrize("state", ["open", "arrived"])
@pytest.mark.parametrize("to", ["discharged", "transferred"])
def test_an_unsigned_visit_blocks_discharge(cast, state, to):
    visit = VisitFactory(patient=cast.ines, site=cast.harbour, date=TODAY - DAY, state=state)
    form = {"state": to, "reason": "goal reached", "seen": 1}
    response = send(cast, "care", **form)
    assert "Not signed yet: the visit of 24 Nov 2026." in words_of(response)
    assert care_of(cast)[0] == "active"
    visit.delete()
    signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)
    assert send(cast, "care", **form).status_code == 302
    assert care_of(cast) == (to, "goal reached", None)


def test_a_discharged_episode_is_taken_up_again_only_while_no_other_follows_the_knee(cast):
    send(cast, "care", state="discharged", reason="goal reached", seen=1)
    other = EpisodeFactory(patient=cast.ines, site=cast.harbour, kind="revision")
    response = send(cast, "care", state="active", seen=2)
    assert errors_of(response) == {"state": ["Another episode follows the right knee now."]}
    other.delete()
    assert send(cast, "care", state="active", seen=2).status_code == 302


def test_a_stale_care_form_is_a_conflict_and_a_doubled_one_has_one_effect(cast):
    client = signed_in(cast.clinician)
    address = f"/episodes/{cast.episode.uid}/care"
    form = posted({"state": "follow_up_only", "seen": 1})
    assert [client.post(address, form).status_code for _ in range(2)] == [302, 302]
    assert EpisodeChange.objects.count() == 1
    stale = client.post(address, posted({"state": "active", "seen": 1}))
    assert (stale.status_code, care_of(cast)[0]) == (409, "follow_up_only")


def test_the_page_of_limits_and_of_care_hold_no_measurement(cast):
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)
    ReadingFactory(visit=visit, measure="knee_flexion", value="123.4")
    for name in ("limits", "care", "details"):
        page = signed_in(cast.clinician).get(f"/episodes/{cast.episode.uid}/{name}")
        assert ("Marlow" in page.content.decode(), "123.4" in page.content.decode()) == (
            True,
            False,
        )
