"""Decisions: a person decides, what it rested on is frozen, and a limit beats everything."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction

from clinic import clock
from clinic.models import care
from clinic.models.audit import AuditEntry
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.models.record import Decision
from outcomes.models.status import EpisodeStatus
from outcomes.models.versions import ProtocolVersion
from outcomes.services import status
from outcomes.services.decisions import evidence_today
from tests.cast import TODAY
from tests.factories.outcomes import ReadingFactory
from tests.outcomes.story import limit, signed, week_15
from tests.web import signed_in, words_of


def address(cast) -> str:
    return f"/episodes/{cast.episode.uid}/decisions"


def form(cast, milestone="step_down_work", **changes):
    """What a clinician posts after looking at the page today."""
    given = {
        "key": str(uuid4()),
        "milestone": milestone,
        "seen": evidence_today(
            episode=care.Episode.objects.get(pk=cast.episode.pk), milestone=milestone
        ).mark,
        "course": "goes_ahead",
        "agreed": "lateral heel touch, 10 cm",
        "took_part": ["patient", "surgeon"],
        "recheck_on": "2026-12-16",
    }
    return {**given, **changes}


def post(cast, data, who=None):
    return signed_in(who or cast.clinician).post(address(cast), data)


def errors(page) -> dict[str, list[str]]:
    assert page.status_code == 422
    return {name: list(found) for name, found in page.context["form"].errors.items()}


def test_a_decision_keeps_who_what_with_whom_and_the_evidence_as_it_stood(cast):
    week_15(cast)
    answer = post(cast, form(cast))
    assert (answer.status_code, answer["Location"]) == (302, address(cast))
    row = Decision.objects.get()
    assert (row.decided_by, row.course, row.agreed, row.took_part, row.recheck_on) == (
        cast.clinician, "goes_ahead", "lateral heel touch, 10 cm", ["patient", "surgeon"],
        date(2026, 12, 16),
    )  # fmt: skip
    assert row.protocol_version == ProtocolVersion.objects.get(code="starter", version=2)
    assert row.evidence_sha256 == fingerprint(canonical_json(row.evidence))
    evidence = row.evidence
    assert (evidence["judged_on"], evidence["state"], evidence["counts"]) == (
        "2026-11-25", "recorded_as_met", "4 of 4 recorded as met, 0 not tested.",
    )  # fmt: skip
    assert [(one["code"], one["result"]) for one in evidence["results"]] == [
        ("extension", "met_borderline"), ("flexion_120", "met"), ("effusion", "met"),
        ("front_of_knee", "met"), ("hip_hold", "not_tested"), ("quadriceps", "met"),
    ]  # fmt: skip
    used = {ref for one in evidence["results"] for ref in one["refs"]}
    assert {reading["ref"] for reading in evidence["readings"]} == used
    assert list(
        AuditEntry.objects.filter(subject="decision").values_list("act", "subject_ids", "note")
    ) == [("record_decision", [row.pk], "step_down_work goes_ahead")]


def test_a_later_correction_changes_the_results_and_not_the_decision(cast):
    week_15(cast)
    post(cast, form(cast))
    before = Decision.objects.get().evidence
    flexion = care.Visit.objects.get(date=TODAY).readings.get(measure="knee_flexion", limb="right")
    ReadingFactory(
        visit=flexion.visit, measure="knee_flexion", value=100, kind="corrected",
        supersedes=flexion, reason="typed into the wrong field",
    )  # fmt: skip
    assert Decision.objects.get().evidence == before
    said = words_of(signed_in(cast.clinician).get(address(cast)))
    assert "Recorded as met. Flexion 134°, asks at least 120°." in said
    assert "100°" not in said


def test_decisions_are_kept_by_the_database_itself(cast):
    week_15(cast)
    post(cast, form(cast))
    with pytest.raises(DatabaseError, match="kept as it is"), transaction.atomic():
        Decision.objects.update(agreed="something else")


def test_once_the_last_milestone_of_the_goal_is_decided_none_is_worked_toward(cast):
    week_15(cast)
    care.Episode.objects.update(goal="no_sport")
    last = {"risk_discussed": "a second injury", "took_part": ["patient", "surgeon", "coach"]}
    assert post(cast, form(cast, **last)).status_code == 302
    row = EpisodeStatus.objects.get()
    assert (row.next_milestone, row.criteria_all) == ("", 0)
    page = words_of(signed_in(cast.clinician).get("/caseload/"))
    assert "last milestone of the goal decided" in page
    assert "Step-down work: " not in page


def test_a_decision_from_before_the_operation_is_history_after_it(cast):
    """A knee followed without surgery and operated later starts again; the decision is kept."""
    week_15(cast)
    assert post(cast, form(cast)).status_code == 302
    page, client = f"/patients/{cast.ines.uid}/", signed_in(cast.clinician)
    assert EpisodeStatus.objects.get().next_milestone == "running"
    assert "Decided 25 Nov 2026" in words_of(client.get(page))
    care.Surgery.objects.update(date=date(2026, 11, 26))
    with clock.held_at(clock.now() + timedelta(days=5)):
        status.rebuild(episode_ids=[cast.episode.pk])
        assert EpisodeStatus.objects.get().next_milestone == "step_down_work"
        again = signed_in(cast.clinician)
        assert "Decided" not in words_of(again.get(page))
        assert "25 Nov 2026" in words_of(again.get(address(cast)))


def test_the_next_milestone_is_worked_toward_once_one_goes_ahead(cast):
    week_15(cast)
    status.rebuild(episode_ids=[cast.episode.pk])
    assert EpisodeStatus.objects.get().next_milestone == "running"
    care.Surgery.objects.update(date=date(2026, 10, 14))
    early = {"why_unmet": "in water, waist deep", "risk_discussed": "strain on the graft"}
    status.rebuild(episode_ids=[cast.episode.pk])
    assert EpisodeStatus.objects.get().next_milestone == "step_down_work"
    assert post(cast, form(cast, **early)).status_code == 302
    assert EpisodeStatus.objects.get().next_milestone == "running"
    page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert "Step-down work Not before week 8 (9 Dec). 4 of 4 recorded as met" in page
    assert "Decided 25 Nov 2026." in page


def test_the_record_that_was_seen_must_be_the_record_that_is(cast):
    week_15(cast)
    data = form(cast)
    signed(cast, TODAY, standing_hip_hold=(24, 21))
    page = post(cast, data)
    assert page.status_code == 409
    assert "The record changed since this page was opened." in words_of(page)
    html = page.content.decode()
    assert "lateral heel touch, 10 cm" in html
    assert f'name="seen" value="{form(cast)["seen"]}"' in html
    assert not Decision.objects.exists()
    assert post(cast, {**data, "seen": form(cast)["seen"]}).status_code == 302


def test_a_doubled_post_has_one_effect(cast):
    week_15(cast)
    data = form(cast)
    assert [post(cast, data).status_code for _ in range(2)] == [302, 302]
    assert Decision.objects.count() == 1


def test_what_is_missing_is_asked_for_beside_its_field(cast):
    week_15(cast)
    page = post(cast, form(cast, agreed="", took_part=[], recheck_on="2026-11-25"))
    assert errors(page) == {
        "agreed": ["Write what was agreed."],
        "took_part": ["Say who took part beside you."],
    }
    page = post(cast, form(cast, recheck_on="2026-11-25"))
    assert errors(page) == {"recheck_on": ["Give a day after today and within two years."]}
    assert not Decision.objects.exists()


def test_going_ahead_with_something_missing_needs_why_and_which_risk(cast):
    week_15(cast)
    assert errors(post(cast, form(cast, "running"))) == {
        "why_unmet": ["Criteria or the earliest date are missing: write why it goes ahead."],
        "risk_discussed": ["Write which risk was talked about."],
    }
    told = {"why_unmet": "run-walk on grass", "risk_discussed": "swelling, new injury"}
    assert post(cast, form(cast, "running", **told)).status_code == 302
    said = words_of(signed_in(cast.clinician).get(address(cast)))
    assert (
        "Running, goes ahead: lateral heel touch, 10 cm Decided 25 Nov 2026 by Tess Okafor with "
        "the patient and the surgeon. Look at it again on 16 Dec 2026." in said
    )
    assert "Why it goes ahead: run-walk on grass Risk talked about: swelling, new injury" in said


def test_nothing_goes_ahead_against_a_limit_of_the_surgeon(cast):
    week_15(cast)
    limit(cast, kind="loaded_flexion", limit="no loaded bend past 90°")
    assert errors(post(cast, form(cast, risk_discussed="x", why_unmet="x"))) == {
        "course": [
            "The surgeon's limit holds: no loaded bend past 90°, until 9 Dec. "
            "Record the surgeon's new instruction first."
        ]
    }
    assert post(cast, form(cast, course="not_yet", recheck_on="")).status_code == 302


def test_nothing_goes_ahead_before_the_surgeons_limits_are_confirmed(cast):
    week_15(cast)
    care.Surgery.objects.update(procedures=["meniscal_root_repair"])
    found = errors(post(cast, form(cast, risk_discussed="x", why_unmet="x")))
    assert found == {
        "course": [
            "Surgeon's limits not confirmed (meniscal root repair): ask, and record the answer "
            "first."
        ]
    }
    limit(
        cast,
        kind="none",
        limit="asked: no limit beside those of the operation",
        procedure="meniscal_root_repair",
    )
    assert post(cast, form(cast)).status_code == 302


def test_begun_early_is_recorded_and_meets_nothing(cast):
    week_15(cast)
    limit(cast)
    answer = post(cast, form(cast, "running", course="begun_early", recheck_on=""))
    assert answer.status_code == 302
    assert Decision.objects.get().course == "begun_early"
    assert EpisodeStatus.objects.get().next_milestone == "running"


def test_competition_is_agreed_in_steps(cast):
    week_15(cast)
    page = signed_in(cast.clinician).get(f"{address(cast)}?milestone=competition")
    assert "limited minutes" in words_of(page)
    post(
        cast,
        form(
            cast, "competition", step="limited minutes", agreed="20 minutes, second half",
            why_unmet="last match of the season", risk_discussed="second injury",
        ),
    )  # fmt: skip
    assert Decision.objects.get().agreed == "limited minutes: 20 minutes, second half"


def test_a_young_person_decides_with_a_guardian(cast):
    cast.ines.birth_date = date(2010, 5, 3)
    cast.ines.save()
    page = signed_in(cast.clinician).get(f"{address(cast)}?milestone=running")
    assert "Under 18 years: a parent or guardian takes part" in words_of(page)


def test_withdrawing_needs_a_reason_and_keeps_what_was_decided(cast):
    week_15(cast)
    post(cast, form(cast))
    row = Decision.objects.get()
    client = signed_in(cast.clinician)
    away = f"{address(cast)}/{row.pk}/withdraw"
    assert client.post(away, {"key": str(uuid4()), "reason": " "}).status_code == 422
    data = {"key": str(uuid4()), "reason": "recorded on the wrong knee"}
    assert [client.post(away, data).status_code for _ in range(2)] == [302, 302]
    withdrawal = Decision.objects.get(kind="withdrawn")
    assert (withdrawal.supersedes, withdrawal.reason) == (row, "recorded on the wrong knee")
    said = words_of(client.get(address(cast)))
    assert "Withdrawn 25 Nov 2026 by Tess Okafor: recorded on the wrong knee" in said
    assert "Step-down work, goes ahead: lateral heel touch, 10 cm" in said
    again = client.post(away, {"key": str(uuid4()), "reason": "once more"})
    assert again.status_code == 422
    assert Decision.objects.count() == 2


def test_a_decision_of_another_episode_is_not_withdrawn_from_here(cast):
    week_15(cast)
    post(cast, form(cast))
    elsewhere = care.Episode.objects.create(
        patient=cast.ines, site=cast.harbour, knee="left", kind="waiting", opened_on=TODAY
    )
    away = f"/episodes/{elsewhere.uid}/decisions/{Decision.objects.get().pk}/withdraw"
    page = signed_in(cast.clinician).post(away, {"key": str(uuid4()), "reason": "mistake"})
    assert page.status_code == 422
    assert Decision.objects.count() == 1


@pytest.mark.parametrize(
    ("who", "status_code"),
    [("colleague", 302), ("lead", 403), ("desk", 403), ("outsider", 404)],
)
def test_only_a_clinician_of_the_place_records(cast, who, status_code):
    week_15(cast)
    assert post(cast, form(cast), who=getattr(cast, who)).status_code == status_code
    assert Decision.objects.count() == (status_code == 302)


def test_a_milestone_beyond_the_goal_cannot_be_decided(cast):
    week_15(cast)
    care.Episode.objects.update(goal="no_sport")
    data = {**form(cast), "milestone": "competition"}
    page = post(cast, data)
    assert page.status_code == 422
    assert "not among those of the patient's goal" in words_of(page)


def test_an_episode_that_has_ended_takes_no_decision(cast):
    week_15(cast)
    care.Episode.objects.update(care_state="discharged", care_reason="done")
    page = post(cast, form(cast))
    assert errors(page) == {"__all__": ["This episode has ended: take care up again first."]}


def test_the_page_of_decisions_costs_the_same_with_one_and_with_three(
    cast, django_assert_num_queries
):
    week_15(cast)
    client = signed_in(cast.clinician)
    for count in (1, 2):
        for _ in range(count):
            post(cast, form(cast))
        with django_assert_num_queries(10):
            assert client.get(address(cast)).status_code == 200
