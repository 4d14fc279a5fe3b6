"""The next step: what is proposed, what a clinician answers, and what is kept of it."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from clinic import clock
from clinic.models import care
from clinic.models.audit import AuditEntry
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.models.plans import REASONS, PlanStep
from outcomes.queries.next_steps import gather, proposals_of
from outcomes.queries.plan import progressions
from tests.cast import MOMENT, TODAY
from tests.factories.outcomes import PlanStepFactory, ReadingFactory, both_limbs, signed_visit
from tests.outcomes.planned import good
from tests.outcomes.story import limit
from tests.web import signed_in, words_of

HIP = "hip_control"
HOLD = "supported_standing_hip_hold"
NEXT = "standing_hip_hold"
SINCE = TODAY - timedelta(days=21)


def address(cast) -> str:
    return f"/episodes/{cast.episode.uid}/next-step"


@pytest.fixture
def holding(cast):
    """Ines holds with a hand on the wall for three weeks, and everything is good."""
    good(cast)
    PlanStepFactory(episode=cast.episode, since=SINCE)
    return cast


def gathered(cast):
    return gather(episode=care.Episode.objects.select_related("patient", "site").get(
        pk=cast.episode.pk))  # fmt: skip


def proposal(cast, code=HIP):
    return proposals_of(gathered=gathered(cast))[code]


def plan(code=HIP):
    return PlanStep.objects.get(progression=code, superseded_by__isnull=True)


def form(cast, answer="accepted", code=HIP, **changes):
    """What a clinician posts after looking at the page today."""
    now = gathered(cast)
    found, step = proposals_of(gathered=now).get(code), now.steps.get(code)
    return {
        "key": str(uuid4()),
        "progression": code,
        "seen": found.mark if found else "",
        "plan": step.pk if step else 0,
        "answer": answer,
        **changes,
    }


def post(cast, data, who=None):
    return signed_in(who or cast.clinician).post(address(cast), data)


def errors(page) -> dict[str, list[str]]:
    assert page.status_code == 422
    return {name: list(found) for name, found in page.context["form"].errors.items()}


DOSE = ("level", "at", "sets", "reps", "hold_s", "load_kg", "days_a_week", "since")


def dose(step) -> tuple:
    return tuple(getattr(step, name) for name in DOSE)


def test_accepted_is_kept_as_the_next_step_with_what_was_proposed(holding):
    before, shown = plan(), proposal(holding)
    answer = post(holding, form(holding))
    assert (answer.status_code, answer["Location"]) == (302, address(holding))
    row = plan()
    assert dose(row) == (NEXT, None, 3, None, 15, Decimal("0.0"), 3, TODAY)
    assert (row.answer, row.move, row.decline_reason, row.supersedes, row.answered_by) == (
        "accepted", "progress", "", before, holding.clinician,
    )  # fmt: skip
    assert row.proposed == shown.body
    assert row.proposed_sha256 == shown.mark == fingerprint(canonical_json(row.proposed))
    assert list(
        AuditEntry.objects.filter(act="set_plan").values_list("subject", "subject_ids", "note")
    ) == [("plan_step", [row.pk], "hip_control accepted progress")]


def test_the_frozen_proposal_says_move_level_dose_reasons_rules_and_readings(holding):
    post(holding, form(holding))
    kept = plan().proposed
    assert (kept["move"], kept["level"], kept["headline"], kept["judged_on"]) == (
        "progress", NEXT, "Progress: Standing hip hold without a hand", "2026-11-25",
    )  # fmt: skip
    assert kept["dose"] == {
        "sets": 3, "reps": None, "hold_s": 15, "load_kg": "0", "days_a_week": 3, "at": None,
    }  # fmt: skip
    assert kept["before"] == {
        "plan_step": PlanStep.objects.earliest("pk").pk, "level": HOLD, "at": None,
        "since": SINCE.isoformat(),
    }  # fmt: skip
    rules = {one["rule"]: one["sentence"] for one in kept["reasons_for"]}
    assert rules["two_good_sessions"] == "Good sessions 3 days apart or more at this level (2)"
    assert rules["advance_met"] == "20 s level: 32.0 s (25 Nov 2026)"
    used = {ref for one in kept["reasons_for"] + kept["reasons_against"] for ref in one["refs"]}
    assert {one["ref"] for one in kept["readings"]} == used
    assert (kept["progression"], kept["blocked_by"]) == ("hip_control@1", [])


def test_a_later_correction_changes_the_proposal_and_not_what_was_kept(holding):
    post(holding, form(holding))
    before = plan().proposed
    reading = care.Visit.objects.get(date=TODAY).readings.get(
        measure="standing_hip_hold", limb="right"
    )
    ReadingFactory(
        visit=reading.visit, measure="standing_hip_hold", limb="right", value=9, kind="corrected",
        supersedes=reading, reason="typed into the wrong field",
    )  # fmt: skip
    assert plan().proposed == before


def test_the_plan_is_kept_by_the_database_itself(holding):
    with pytest.raises(DatabaseError, match="kept as it is"), transaction.atomic():
        PlanStep.objects.update(level="side_plank")
    for wrong in (
        {"answer": "declined"},
        {"answer": "accepted"},
        {"level": ""},
        {"reps": 10},
        {"progression": HIP},
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            PlanStepFactory(episode=holding.episode, **{"progression": "landing", **wrong})


@pytest.mark.parametrize("reason", [code for code, _ in REASONS])
def test_declined_in_one_tap_keeps_the_plan_and_the_reason(holding, reason):
    before = plan()
    assert post(holding, form(holding, f"declined:{reason}")).status_code == 302
    row = plan()
    assert (row.answer, row.decline_reason, row.move) == ("declined", reason, "stay")
    assert dose(row) == dose(before)
    assert row.proposed["move"] == "progress"


def test_there_are_five_reasons_to_decline_and_each_is_a_button(holding):
    html = signed_in(holding.clinician).get(address(holding)).content.decode()
    assert len(REASONS) == 5
    assert [html.count(f'value="declined:{code}"') for code, _ in REASONS] == [
        html.count('value="accepted"')
    ] * 5


def test_nothing_is_asked_twice_at_a_visit(holding):
    post(holding, form(holding, "declined:quality"))
    said = words_of(signed_in(holding.clinician).get(address(holding)))
    assert "Answered at this visit; it is asked again another day." in said
    assert HIP not in proposals_of(gathered=gathered(holding))
    assert post(holding, form(holding)).status_code == 409
    with clock.held_at(MOMENT + timedelta(days=1)):
        assert HIP in proposals_of(gathered=gathered(holding))


def test_one_step_up_a_visit_over_all_progressions(holding):
    PlanStepFactory(
        episode=holding.episode, progression="quadriceps_loading", level="quad_set_and_leg_raise",
        hold_s=None, reps=10, days_a_week=7, since=SINCE - timedelta(days=7),
    )  # fmt: skip
    visit = care.Visit.objects.get(date=TODAY)
    for code in ("quad_set_with_glide", "straight_leg_raise_without_lag"):
        ReadingFactory(visit=visit, measure=code, limb="right", value=1)
    assert [one.move for one in proposals_of(gathered=gathered(holding)).values()] == [
        "stay", "progress", "stay",
    ]  # fmt: skip
    post(holding, form(holding, "declined:patient", code="quadriceps_loading"))
    assert proposal(holding).move == "progress"
    post(holding, form(holding))
    assert [*proposals_of(gathered=gathered(holding))] == ["landing"]
    held = [one["rule"] for one in proposal(holding, "landing").body["reasons_for"]]
    assert "one_step_a_visit" in held


def test_changed_keeps_the_level_and_the_dose_that_were_typed(holding):
    typed = {"level": "standing_hip_hold_with_weight", "sets": 4, "count": 18, "load_kg": "1.7",
             "days_a_week": 4, "note": "strong already"}  # fmt: skip
    assert post(holding, form(holding, "changed", **typed)).status_code == 302
    row = plan()
    assert dose(row) == (
        "standing_hip_hold_with_weight", Decimal("1.5"), 4, None, 18, Decimal("1.5"), 4, TODAY,
    )  # fmt: skip
    assert (row.answer, row.move, row.note) == ("changed", "progress", "strong already")
    assert row.proposed["level"] == NEXT


def test_a_starting_level_is_set_by_hand_with_the_dose_of_the_progression(cast):
    data = form(cast, "set", code="quadriceps_loading", level="isometric_knee_extension")
    assert post(cast, data).status_code == 302
    row = plan("quadriceps_loading")
    assert dose(row) == ("isometric_knee_extension", Decimal(30), 5, None, 30, None, 3, TODAY)
    assert (row.answer, row.move, row.proposed, row.proposed_sha256, row.supersedes) == (
        "set", "begun", {}, "", None,
    )  # fmt: skip


def test_within_a_level_only_the_one_thing_that_is_proposed_changes(cast):
    good(cast)
    PlanStepFactory(
        episode=cast.episode, level="standing_hip_hold_with_weight", sets=5, hold_s=20,
        at=Decimal("1.5"), load_kg=Decimal("1.5"), days_a_week=4, since=SINCE,
    )  # fmt: skip
    visit = care.Visit.objects.get(date=TODAY)
    both_limbs(
        visit=visit, measure="standing_hip_hold", left=40, right=30,
        conditions={"hand_support": "no", "added_load": "1.5"},
    )  # fmt: skip
    shown = proposal(cast)
    assert (shown.move, shown.change) == ("progress", "One change. Load: from 1.5 to 3 kg")
    post(cast, form(cast))
    assert dose(plan()) == (
        "standing_hip_hold_with_weight", Decimal(3), 5, None, 20, Decimal(3), 4, TODAY,
    )  # fmt: skip


def test_a_height_that_the_level_does_not_have_is_refused(cast):
    data = form(cast, "set", level="lateral_heel_touch", at="40")
    assert errors(post(cast, data)) == {"at": ["This level goes from 10 to 20."]}
    assert not PlanStep.objects.exists()


def test_a_surgeons_limit_takes_back_and_no_answer_goes_against_it(holding):
    limit(holding, kind="weight_bearing", limit="half the body weight")
    shown = proposal(holding)
    assert (shown.move, shown.level) == ("regress", "side_plank")
    assert [one["kind"] for one in shown.body["blocked_by"]] == ["weight_bearing"]
    held = {
        "__all__": [
            "The surgeon's limit holds: half the body weight, until 9 Dec. Choose a level that it "
            "does not block or none, or record the surgeon's new instruction first."
        ]
    }
    assert errors(post(holding, form(holding, "declined:judged"))) == held
    assert errors(post(holding, form(holding, "changed", level=NEXT))) == held
    assert PlanStep.objects.count() == 1
    assert post(holding, form(holding)).status_code == 302
    assert (plan().level, plan().move) == ("side_plank", "regress")


def test_limits_nobody_confirmed_take_back_to_what_they_do_not_speak_of(holding):
    care.Surgery.objects.update(procedures=["meniscal_root_repair"])
    shown = proposal(holding)
    sentence = "Surgeon's limits not confirmed (meniscal root repair): ask before loading"
    assert (shown.move, shown.level) == ("regress", "side_lying_leg_raise")
    assert shown.body["unconfirmed"] == ["meniscal root repair"]
    assert sentence in [one["sentence"] for one in shown.body["reasons_for"]]
    data = form(holding, "changed", level=NEXT)
    assert errors(post(holding, data)) == {
        "__all__": [
            "Surgeon's limits not confirmed (meniscal root repair): ask, and record the answer "
            "first."
        ]
    }


def test_a_paused_progression_has_no_level_and_no_dose(holding):
    assert post(holding, form(holding, "changed", level="")).status_code == 302
    assert dose(plan()) == ("", None, None, None, None, None, None, TODAY)
    assert plan().move == "regress"


def test_a_plan_from_before_the_operation_has_lapsed_and_stays_on_record(holding):
    care.Surgery.objects.update(date=SINCE + timedelta(days=7))
    client = signed_in(holding.clinician)
    assert "Plan:" not in words_of(client.get(address(holding)))
    assert "Hip control: " not in words_of(client.get(f"/patients/{holding.ines.uid}/"))
    lapsed = plan()
    assert gathered(holding).standings[HIP].level == ""
    data = form(holding, "set", level="side_lying_leg_raise")
    assert (data["plan"], post(holding, data).status_code) == (0, 302)
    assert (plan().supersedes, plan().move, plan().since) == (lapsed, "begun", TODAY)


def test_the_record_that_was_seen_must_be_the_record_that_is(holding):
    data = form(holding)
    visit = signed_visit(patient=holding.ines, site=holding.harbour, by=holding.clinician,
                         on=TODAY - timedelta(days=1))  # fmt: skip
    ReadingFactory(visit=visit, measure="effusion", limb="right", value=3)
    page = post(holding, data)
    assert page.status_code == 409
    assert "changed since this page was opened" in words_of(page)
    assert PlanStep.objects.count() == 1


def test_a_doubled_post_has_one_effect(holding):
    data = form(holding)
    assert [post(holding, data).status_code for _ in range(2)] == [302, 302]
    assert PlanStep.objects.count() == 2


@pytest.mark.parametrize(
    ("who", "status_code"), [("colleague", 302), ("lead", 403), ("desk", 403), ("outsider", 404)]
)
def test_only_a_clinician_of_the_place_answers(holding, who, status_code):
    assert post(holding, form(holding), who=getattr(holding, who)).status_code == status_code
    assert PlanStep.objects.count() == 1 + (status_code == 302)


def test_a_lead_reads_and_has_no_buttons(holding):
    html = signed_in(holding.lead).get(address(holding)).content.decode()
    assert "Progress: Standing hip hold without a hand" in html
    assert 'name="answer"' not in html


def test_an_episode_that_has_ended_takes_no_answer(holding):
    care.Episode.objects.update(care_state="discharged", care_reason="done")
    assert errors(post(holding, form(holding))) == {
        "__all__": ["This episode has ended: take care up again first."]
    }


def test_without_proposals_the_plan_is_set_by_hand_and_nothing_is_proposed(holding):
    holding.harbour.proposals = False
    holding.harbour.save()
    page = signed_in(holding.clinician).get(address(holding))
    assert "Proposals are switched off at this site." in words_of(page)
    assert 'value="accepted"' not in page.content.decode()
    assert post(holding, form(holding)).status_code == 409
    assert post(holding, form(holding, "set", level=NEXT)).status_code == 302
    assert (plan().level, plan().answer, plan().move) == (NEXT, "set", "progress")


def test_the_page_says_what_it_is_meant_for_and_gives_each_reason_its_source(holding):
    said = words_of(signed_in(holding.clinician).get(address(holding)))
    assert "Not meant to name a diagnosis" in said
    assert "20 s level: 32.0 s (25 Nov 2026) Supported standing hip hold of 15 to 20 s:" in said
    assert "to 20 s: common practice, no source" in said


def test_the_page_costs_the_same_with_one_plan_and_with_three(holding, django_assert_num_queries):
    client = signed_in(holding.clinician)
    for more in (None, "quadriceps_loading", "landing"):
        if more:
            level = progressions()[more].levels[0].code
            PlanStepFactory(episode=holding.episode, progression=more, level=level)
        with django_assert_num_queries(20):
            assert client.get(address(holding)).status_code == 200


def test_the_plan_stands_on_the_patients_page_and_in_the_letter(holding):
    said = words_of(signed_in(holding.clinician).get(f"/patients/{holding.ines.uid}/"))
    line = (
        "Hip control: Standing hip hold, hand on the wall, 3 sets of 15 s, 3 days a week, "
        "since 4 Nov 2026"
    )
    assert line in said
    client = signed_in(holding.clinician)
    answer = client.post(f"/episodes/{holding.episode.uid}/letters", {"key": str(uuid4())})
    letter = words_of(client.get(answer["Location"]))
    assert f"Plan: {line}." in letter


def test_the_signed_visit_leads_to_the_next_step(holding):
    visit = care.Visit.objects.get(date=TODAY)
    page = signed_in(holding.clinician).get(f"/visits/{visit.uid}/")
    assert f'href="{address(holding)}"' in page.content.decode()
