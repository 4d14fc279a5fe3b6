"""What events change in the judgement of an episode, and what they leave as it is."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.models import care
from clinic.permissions import Actor
from outcomes.core.events import KINDS, limb_of
from outcomes.core.looks_at_events import AGAIN, GIVING_WAY, HOLDS, PREFIX, told_for
from outcomes.core.values import Limb
from outcomes.models.events import Event
from outcomes.models.status import EpisodeStatus
from outcomes.queries.catalogue import in_force
from outcomes.queries.events import events_of
from outcomes.queries.judging import judge_record, records_of
from outcomes.services import events, status
from outcomes.services.decisions import evidence_today
from tests.cast import TODAY, Cast
from tests.factories.clinic import EpisodeFactory, SurgeryFactory
from tests.outcomes.story import limit, week_15
from tests.web import signed_in, words_of


def actor(cast: Cast) -> Actor:
    return Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=uuid4())


def happen(cast: Cast, code: str, *, on: date = TODAY, detail: str = "", limb: str = "") -> Event:
    """An event by the service, on the kind's usual side and with its first detail."""
    kind = next(kind for kind in KINDS if kind.code == code)
    episode = care.Episode.objects.select_related("site").get(pk=cast.episode.pk)
    side = limb_of(side=kind.sides[0], knee=Limb(episode.knee)).value
    happened = events.Happened(
        event=code, date=on, limb=limb or side, detail=detail or next(iter(kind.details), "")
    )
    events.record(
        actor=actor(cast), key=uuid4(), episode=episode, seen=episode.version, happened=happened
    )
    return Event.objects.latest("pk")


def record(cast):
    fresh = care.Episode.objects.get(pk=cast.episode.pk)
    return records_of(episodes=[fresh], rules=in_force())[fresh.pk]


def judged(cast):
    return judge_record(record=record(cast), rules=in_force(), on=TODAY)


def codes(cast) -> list[str]:
    return [reason.code for reason in judged(cast).reasons]


def test_a_meniscal_repair_asks_for_the_surgeons_limits_until_they_are_told(cast):
    week_15(cast)
    happen(cast, "reoperation", detail="meniscal_repair", on=date(2026, 11, 18))
    assert record(cast).visits.limits_to_confirm == ("meniscal repair",)
    assert "limits_not_confirmed" in codes(cast)
    page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert "Surgeon’s limits not confirmed (meniscal repair): ask before loading." in page
    for procedure, since in (
        ("meniscal_repair", date(2026, 11, 17)),
        ("", date(2026, 11, 18)),
        ("cartilage_procedure", date(2026, 11, 18)),
    ):
        limit(cast, procedure=procedure, since=since)
        assert "limits_not_confirmed" in codes(cast)
    limit(cast, procedure="meniscal_repair", since=date(2026, 11, 18))
    assert "limits_not_confirmed" not in codes(cast)


@pytest.mark.parametrize(
    ("code", "detail"),
    [
        ("reoperation", "cyclops_removal"),
        ("reoperation", "washout"),
        ("stiffness_procedure", "release"),
    ],
)
def test_a_smaller_operation_changes_no_clock_no_limit_and_no_criterion(cast, code, detail):
    week_15(cast)
    before, facts = judged(cast), record(cast).facts
    happen(cast, code, detail=detail, on=date(2026, 10, 7))
    assert record(cast).facts == facts
    assert judged(cast).kept == before.kept


def test_one_operation_under_two_roofs_is_asked_about_once(cast):
    SurgeryFactory(
        episode=cast.episode, operation="reoperation", date=date(2026, 11, 18), graft="",
        graft_from="", procedures=["meniscal_repair"], recorded_by=cast.clinician,
    )  # fmt: skip
    happen(cast, "reoperation", detail="not_known", on=date(2026, 11, 19))
    assert record(cast).visits.limits_to_confirm == (
        "meniscal repair", "another operation on this knee",
    )  # fmt: skip
    found = events_of(episodes=[care.Episode.objects.get(pk=cast.episode.pk)])[cast.episode.pk]
    assert [(one.detail, one.ref > 0) for one in found] == [
        ("meniscal_repair", False), ("not_known", True),
    ]  # fmt: skip


def test_after_an_injury_of_the_other_acl_that_side_is_no_fair_reference(cast):
    week_15(cast)
    happen(cast, "other_knee_acl_injury")
    assert record(cast).facts.other_limb == "current_problem"
    assert "event_other_knee_acl_injury" in codes(cast)
    page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert "LSI" not in page
    EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left", opened_on=TODAY)
    assert "event_other_knee_acl_injury" not in codes(cast)


def test_another_injury_of_the_other_knee_leaves_the_reference_to_the_clinician(cast):
    happen(cast, "new_injury", limb="left")
    assert record(cast).facts.other_limb == "healthy"
    assert codes(cast)[0] == "event_new_injury"


def test_a_rupture_that_did_not_end_the_episode_stands_first(cast):
    week_15(cast)
    happen(cast, "graft_rupture")
    row = EpisodeStatus.objects.get()
    assert row.look_sentence == (
        "Graft rupture (25 Nov 2026): this episode is still open, tell the surgeon"
    )
    assert row.look_rank == 92


def test_a_return_meets_no_criterion(cast):
    week_15(cast)
    before = judged(cast).milestones
    for code in ("return_to_running", "return_to_training", "return_to_competition"):
        happen(cast, code)
    assert judged(cast).milestones == before


def test_evidence_holds_the_events_and_a_new_one_makes_the_page_stale(cast):
    week_15(cast)
    happen(cast, "giving_way")
    fresh = care.Episode.objects.select_related("patient", "site").get(pk=cast.episode.pk)
    before = evidence_today(episode=fresh, milestone="step_down_work")
    assert [(one["code"], one["on"]) for one in before.body["events"]] == [
        ("giving_way", "2026-11-25")
    ]
    happen(cast, "new_injury")
    assert evidence_today(episode=fresh, milestone="step_down_work").mark != before.mark


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    code=st.sampled_from([kind.code for kind in KINDS]),
    days=st.integers(0, 105),
    data=st.data(),
)
def test_law_an_event_recorded_and_withdrawn_leaves_the_status_as_it_was(cast, code, days, data):
    kind = next(kind for kind in KINDS if kind.code == code)
    detail = data.draw(st.sampled_from(sorted(kind.details) or [""]))
    status.rebuild(episode_ids=[cast.episode.pk])
    before = EpisodeStatus.objects.get().body
    row = happen(cast, code, on=TODAY - timedelta(days=days), detail=detail)
    events.withdraw(actor=actor(cast), key=uuid4(), event=row, reason="not so")
    assert EpisodeStatus.objects.get().body == before
    assert care.Episode.objects.get().care_state == "active"


def test_how_long_a_reason_from_an_event_is_told_is_said_to_be_a_setting(cast):
    happen(cast, "giving_way", on=date(2026, 11, 20))
    said = words_of(signed_in(cast.clinician).get(f"/episodes/{cast.episode.uid}/looks"))
    assert (
        "Knee gave way (20 Nov 2026): look at it this week Since 20 Nov 2026. "
        "Told for 6 weeks from that day: this clinic’s setting, to be confirmed by its lead. Answer"
        in said
    )


def test_every_reason_from_an_event_says_how_long_it_is_told():
    said = {
        code: told_for(code=f"{PREFIX}{code}").days // 7 for code in (*HOLDS, AGAIN, GIVING_WAY)
    }
    assert said == {
        "graft_rupture": 26, "infection": 6, "clot": 12, "fracture": 12,
        "other_knee_acl_injury": 26, "new_injury": 6, "giving_way_again": 26, "giving_way": 6,
    }  # fmt: skip
