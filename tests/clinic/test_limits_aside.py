"""Usual limits beside the surgeon's own, and setting a confirmed usual limit aside."""

from datetime import date, timedelta

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.care import Episode, Restriction
from clinic.queries.care import limits, spans
from tests.cast import MOMENT, TODAY
from tests.clinic.desk import errors_of, posted
from tests.web import signed_in, words_of

DAY = timedelta(days=1)
USUAL = {
    "kind": "impact", "limit": "no jumping", "since": date(2026, 8, 12),
    "until": date(2026, 12, 30), "origin": "template", "procedure": "meniscal_repair",
    "told_by": "letter", "told_on": date(2026, 8, 20),
}  # fmt: skip
OWN = {**USUAL, "origin": "surgeon", "procedure": "", "told_on": None, "limit": "no hops"}


def keep(cast, given, **changes):
    who = {"episode": cast.episode, "recorded_by": cast.clinician, "recorded_at": MOMENT}
    return Restriction.objects.create(**who, **{**given, **changes})


def aside(cast, row, *, who="clinician", reason="Agreed on the phone", **more):
    address = f"/episodes/{cast.episode.uid}/limits/{row.pk}/aside"
    form = posted({"reason": reason, "seen": cast.episode.version}, **more)
    return signed_in(getattr(cast, who)).post(address, form)


def held(cast, on=TODAY):
    found = limits(episode_ids=[cast.episode.pk])[cast.episode.pk]
    return [limit.limit for limit in found if limit.holds(on=on)]


def page(cast):
    return words_of(signed_in(cast.clinician).get(f"/episodes/{cast.episode.uid}/limits"))


def test_a_confirmed_usual_limit_is_set_aside_and_stays_to_be_read_with_the_reason(cast):
    row = keep(cast, USUAL)
    assert "Set aside, with a reason : impact: no jumping" in page(cast)
    answer = aside(cast, row)
    assert (answer.status_code, answer["Location"]) == (
        302, f"/episodes/{cast.episode.uid}/limits",
    )  # fmt: skip
    made = Restriction.objects.get(supersedes=row)
    assert (made.kind, made.origin, made.limit, made.since, made.recorded_by) == (
        "set_aside", "clinician", "Agreed on the phone", TODAY, cast.clinician,
    )  # fmt: skip
    assert (held(cast), held(cast, on=TODAY - DAY)) == ([], ["no jumping"])
    assert AuditEntry.objects.get(act="set_limit_aside").subject_ids == [made.pk]
    assert Episode.objects.get(pk=cast.episode.pk).version == 2
    said = page(cast)
    assert "– set aside on 25 Nov 2026 by Tess Okafor: Agreed on the phone" in said
    assert "Set aside, with a reason" not in said
    with pytest.raises(DatabaseError), transaction.atomic():
        Restriction.objects.update(limit="nothing")
    with pytest.raises(DatabaseError), transaction.atomic():
        made.delete()


def take_back(cast, row, *, who="clinician", **more):
    address = f"/episodes/{cast.episode.uid}/limits/{row.pk}/aside/back"
    version = Episode.objects.get(pk=cast.episode.pk).version
    form = posted({"reason": "Swollen after the first run", "seen": version}, **more)
    return signed_in(getattr(cast, who)).post(address, form)


def test_what_was_set_aside_is_taken_back_and_both_reasons_stay_to_be_read(cast):
    """The limit is told again from that day on; the days between stay without it."""
    row = keep(cast, USUAL)
    assert list(errors_of(take_back(cast, row))) == ["__all__"]
    with clock.held_at(MOMENT - 4 * DAY):
        aside(cast, row)
    assert "Take back, with a reason : impact: no jumping" in page(cast)
    for wrong, field in (({"reason": " "}, "reason"), ({"reason": None}, "reason")):
        assert list(errors_of(take_back(cast, row, **wrong))) == [field]
    refused = [take_back(cast, row, who=who).status_code for who in ("desk", "lead", "outsider")]
    assert (refused, take_back(cast, row, seen=1).status_code) == ([403, 403, 404], 409)
    was = list(Restriction.objects.order_by("pk").values())
    assert take_back(cast, row)["Location"] == f"/episodes/{cast.episode.uid}/limits"
    assert list(Restriction.objects.order_by("pk").values())[:2] == was
    back, again = Restriction.objects.order_by("pk")[2:]
    set_aside = Restriction.objects.get(supersedes=row)
    assert (back.kind, back.origin, back.limit, back.since, back.supersedes) == (
        "taken_back", "clinician", "Swollen after the first run", TODAY, set_aside,
    )  # fmt: skip
    same = ("kind", "limit", "until", "origin", "procedure", "told_by", "told_on")
    assert [getattr(again, name) for name in same] == [getattr(row, name) for name in same]
    assert (again.since, again.supersedes) == (TODAY, back)
    assert AuditEntry.objects.get(act="take_back_limit").subject_ids == [back.pk, again.pk]
    days = [TODAY + n * DAY for n in (-5, -4, -1, 0, 35, 36)]
    assert [held(cast, on=on) for on in days] == [
        ["no jumping"], [], [], ["no jumping"], ["no jumping"], [],
    ]  # fmt: skip
    said = page(cast)
    assert (
        "– set aside on 21 Nov 2026 by Tess Okafor: Agreed on the phone; taken back on "
        "25 Nov 2026 by Tess Okafor: Swollen after the first run" in said
    )
    assert "from 25 Nov 2026 to 30 Dec 2026 – holds today" in said
    assert ("Take back" in said, said.count("Set aside, with a reason")) == (False, 1)
    assert list(errors_of(take_back(cast, row))) == ["__all__"]
    assert aside(cast, again, seen=3).status_code == 302
    assert held(cast) == []


@pytest.mark.parametrize(
    ("given", "changes", "field"),
    [
        (OWN, {}, "__all__"),
        (USUAL, {"until": TODAY - DAY}, "__all__"),
        ({**OWN, "kind": "none", "until": None}, {}, "__all__"),
    ],
)
def test_what_the_surgeon_said_and_what_has_ended_is_not_set_aside(cast, given, changes, field):
    row = keep(cast, given, **changes)
    assert "Set aside, with a reason" not in page(cast)
    answer = aside(cast, row)
    assert (answer.status_code, list(errors_of(answer))) == (422, [field])
    assert list(Restriction.objects.all()) == [row]


def test_it_needs_a_reason_the_right_and_a_page_that_is_not_stale(cast):
    row = keep(cast, USUAL)
    assert list(errors_of(aside(cast, row, reason=" "))) == ["reason"]
    assert aside(cast, row, seen=9).status_code == 409
    refusals = [aside(cast, row, who=who).status_code for who in ("desk", "lead", "outsider")]
    assert refusals == [403, 403, 404]
    assert AuditEntry.objects.filter(outcome="refused", act="set_limit").count() == 3
    assert Restriction.objects.count() == 1
    elsewhere = f"/episodes/{cast.episode.uid}/limits/{row.pk + 1}/aside"
    assert signed_in(cast.clinician).get(elsewhere).status_code == 404


def test_against_a_usual_limit_the_surgeons_own_of_the_same_kind_wins_and_both_are_shown(cast):
    keep(cast, USUAL)
    other = keep(cast, USUAL, kind="brace", limit="locked")
    keep(cast, OWN, since=date(2026, 11, 20), until=date(2026, 12, 1))
    keep(cast, OWN, kind="brace", limit="none", procedure="cartilage_procedure")
    days = [date(2026, 11, 19), date(2026, 11, 20), date(2026, 12, 2)]
    assert [held(cast, on=on) for on in days] == [
        ["no jumping", "locked", "none"], ["locked", "none", "no hops"], ["locked", "none"],
    ]  # fmt: skip
    said = page(cast)
    assert "impact: no jumping , from 12 Aug 2026 to 30 Dec 2026 – the surgeon’s own limit" in said
    assert "impact: no hops , from 20 Nov 2026 to 1 Dec 2026 – holds today" in said
    assert f"{other.get_kind_display()}: locked , from 12 Aug 2026 to 30 Dec 2026 – holds" in said
    with clock.held_at(MOMENT + 7 * DAY):
        later = page(cast)
    assert (
        "impact: no jumping , from 12 Aug 2026 to 30 Dec 2026 – the surgeon’s own limit took its "
        "place and ended on 1 Dec 2026: neither holds now" in later
    )


DAYS = st.integers(0, 30).map(lambda n: TODAY + timedelta(days=n))
LIMITS = st.tuples(st.booleans(), st.sampled_from(["brace", "impact"]), DAYS, st.integers(0, 9))


@given(st.lists(LIMITS, max_size=5), DAYS)
def test_on_no_day_do_both_hold_and_the_surgeons_own_hold_as_they_were_told(some, on):
    rows = [
        Restriction(
            kind=kind, limit="", since=since, until=since + timedelta(days=length),
            origin="surgeon" if own else "template",
        )
        for own, kind, since, length in some
    ]  # fmt: skip
    holding = [limit for limit in spans(rows) if limit.holds(on=on)]
    own = [limit.kind for limit in holding if limit.origin == "surgeon"]
    usual = {limit.kind for limit in holding if limit.origin == "template"}
    assert usual.isdisjoint(own)
    told = [row for row in rows if row.origin == "surgeon" and row.since <= on <= row.until]
    assert sorted(own) == sorted(row.kind for row in told)


@pytest.mark.parametrize(
    "wrong",
    [
        {"procedure": ""},
        {"told_on": None},
        {"kind": "none"},
        {"told_by": ""},
        {"milestone": "running"},
        {"origin": "clinician"},
        {"kind": "set_aside"},
        {"kind": "set_aside", "origin": "clinician", "procedure": "", "until": None},
        {"kind": "set_aside", "origin": "clinician", "procedure": "", "milestone": "running"},
        {"kind": "taken_back"},
        {"kind": "taken_back", "origin": "clinician", "procedure": "", "until": None},
    ],
)
def test_the_database_refuses_a_row_that_says_two_things(cast, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        keep(cast, USUAL, **wrong)


def test_an_instruction_that_takes_a_confirmed_limits_place_speaks_of_its_procedure(cast):
    row = keep(cast, USUAL)
    form = posted(
        kind="impact", limit="walk only", since="2026-11-25", until="", told_by="phone",
        told_on="2026-11-25", supersedes_id=row.pk,
    )  # fmt: skip
    address = f"/episodes/{cast.episode.uid}/limits"
    assert signed_in(cast.clinician).post(address, form).status_code == 302
    newer = Restriction.objects.get(supersedes=row)
    assert (newer.procedure, newer.origin, newer.told_on) == ("meniscal_repair", "surgeon", TODAY)
    assert held(cast) == ["walk only"]
