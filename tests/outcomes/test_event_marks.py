"""Events are seen wherever the knee is: on every chart, with every decision, in every letter."""

from datetime import date, timedelta
from uuid import uuid4

import pytest

from clinic import clock
from clinic.models.care import Episode
from outcomes.core.values import Event, Limb
from outcomes.letters.facts import from_json, to_json
from outcomes.queries.decisions import made_before
from outcomes.queries.events import on_charts
from outcomes.services.decisions import evidence_today
from tests.cast import TODAY
from tests.factories.clinic import SurgeryFactory
from tests.factories.outcomes import EventFactory, keyed, signed_visit
from tests.outcomes.letters.desk import drafted
from tests.outcomes.story import week_15
from tests.outcomes.test_questionnaires import IKDC_SUM
from tests.web import signed_in, words_of

MARK = "made before the event of 26 Nov 2026 (new injury)"


def decide(cast) -> None:
    episode = Episode.objects.select_related("patient", "site").get(pk=cast.episode.pk)
    data = {
        "key": str(uuid4()), "milestone": "step_down_work", "course": "goes_ahead",
        "seen": evidence_today(episode=episode, milestone="step_down_work").mark,
        "agreed": "lateral heel touch, 10 cm", "took_part": ["patient"],
        "recheck_on": "2026-12-16",
    }  # fmt: skip
    answer = signed_in(cast.clinician).post(f"/episodes/{episode.uid}/decisions", data)
    assert answer.status_code == 302


def test_a_day_stands_on_a_chart_once_with_all_that_happened():
    def event(code, day, **more):
        return Event(code=code, limb=Limb.LEFT, on=date(2026, 11, day), **more)

    events = [
        event("giving_way", 20), event("reoperation", 10, detail="washout"),
        event("reoperation", 10, detail="partial_meniscectomy"), event("giving_way", 20, ref=2),
        event("giving_way", 26),
    ]  # fmt: skip
    assert on_charts(events=events, on=TODAY) == [
        (date(2026, 11, 10), "washout and partial meniscectomy"),
        (date(2026, 11, 20), "gave way"),
    ]


def test_the_course_of_a_measure_shows_what_happened_on_page_table_and_figure(cast):
    week_15(cast)
    EventFactory(episode=cast.episode)
    SurgeryFactory(
        episode=cast.episode, operation="reoperation", date=date(2026, 10, 7), graft="",
        graft_from="", procedures=["cyclops_removal"], recorded_by=cast.clinician,
    )  # fmt: skip
    client = signed_in(cast.clinician)
    page = words_of(client.get(f"/patients/{cast.ines.uid}/"))
    assert "week 13, 14 Nov 2026 gave way" in page
    assert "week 8, 7 Oct 2026 removal of scar tissue at the front" in page
    figure = client.get(f"/episodes/{cast.episode.uid}/courses/quadriceps_torque/figure").json()
    assert "gave way" in [note["text"] for note in figure["layout"]["annotations"]]


def test_the_course_of_a_score_shows_what_happened_also_before_the_first_form(cast):
    for day in (10, 50):
        EventFactory(episode=cast.episode, date=TODAY - timedelta(days=day))
    for days in (40, 0):
        visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician,
                             on=TODAY - timedelta(days=days))  # fmt: skip
        for limb in ("right", "left"):
            keyed(visit=visit, instrument="ikdc", answers=dict.fromkeys(IKDC_SUM, "1"), limb=limb)
    address = f"/patients/{cast.ines.uid}/scores/ikdc-total-form_2000-right-as_scored"
    client = signed_in(cast.clinician)
    page = words_of(client.get(address))
    assert "6 Oct 2026, week 7 gave way" in page
    assert "15 Nov 2026, week 13 gave way" in page
    notes = client.get(f"{address}/figure").json()["layout"]["annotations"]
    assert [note["text"] for note in notes if note["yref"] == "paper"] == ["gave way"] * 2
    other = client.get(address.replace("right", "left"))
    assert "gave way" not in words_of(other)


def test_a_decision_made_before_an_injury_is_marked_wherever_it_is_shown(cast):
    week_15(cast)
    decide(cast)
    EventFactory(episode=cast.episode, event="new_injury", date=TODAY + timedelta(days=1))
    with clock.held_at(clock.now() + timedelta(days=2)):
        client = signed_in(cast.clinician)
        page, decisions, milestone = (
            words_of(client.get(address))
            for address in (
                f"/patients/{cast.ines.uid}/",
                f"/episodes/{cast.episode.uid}/decisions",
                f"/episodes/{cast.episode.uid}/milestones/step_down_work",
            )
        )
        assert f"Decided 25 Nov 2026, {MARK}." in page
        assert f"M{MARK[1:]}." in decisions
        assert f"M{MARK[1:]}." in milestone
        letter = from_json(body=drafted(cast).facts)
        assert letter.events == ("new injury, 26 Nov 2026",)
        assert letter.trend is not None
        assert [mark.label for mark in letter.trend.events] == ["new injury"]


def test_an_event_that_is_no_injury_marks_no_decision(cast):
    week_15(cast)
    decide(cast)
    EventFactory(episode=cast.episode, event="giving_way", date=TODAY + timedelta(days=1))
    with clock.held_at(clock.now() + timedelta(days=2)):
        page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert "Decided 25 Nov 2026." in page
    assert "made before" not in page.lower()


@pytest.mark.parametrize(
    ("day", "known", "marked"), [(24, [], False), (25, [7], False), (25, [], True), (26, [7], True)]
)
def test_an_injury_of_the_same_day_came_later_unless_the_evidence_holds_it(day, known, marked):
    injury = Event(code="fracture", limb=Limb.LEFT, on=date(2026, 11, day), ref=7)
    evidence = {"judged_on": "2026-11-25", "events": [{"ref": ref} for ref in known]}
    assert bool(made_before(evidence=evidence, events=[injury])) is marked


def test_a_decision_from_before_evidence_held_events_is_marked_all_the_same():
    injury = Event(code="fracture", limb=Limb.LEFT, on=date(2026, 11, 26), ref=7)
    found = made_before(evidence={"judged_on": "2026-11-25"}, events=[injury])
    assert found == "made before the event of 26 Nov 2026 (fracture)"


def test_a_letter_names_the_side_only_where_it_is_the_other_one(cast):
    EventFactory(episode=cast.episode, date=date(2026, 11, 10))
    EventFactory(
        episode=cast.episode, event="fracture", detail="patella", limb="left",
        date=date(2026, 11, 12),
    )  # fmt: skip
    EventFactory(
        episode=cast.episode, event="return_to_running", limb="none", earlier_than_advised=True
    )
    facts = from_json(body=drafted(cast).facts)
    assert facts.events == (
        "return to running, earlier than advised, 14 Nov 2026",
        "fracture: patella, left, 12 Nov 2026",
        "giving way, 10 Nov 2026",
    )
    older = to_json(facts=facts)
    del older["events"]
    assert from_json(body=older).events == ()


def test_the_first_line_of_a_letter_tells_the_surgeon_of_it_without_our_own_to_do(cast):
    week_15(cast)
    EventFactory(episode=cast.episode, date=date(2026, 11, 10))
    EventFactory(episode=cast.episode)
    verdict = from_json(body=drafted(cast).facts).verdict
    assert verdict.line == "Concern: knee gave way on 2 days, last 14 Nov 2026."
