"""Signing: the one act that inserts readings, once, whole, and with few statements."""

from datetime import UTC, date, datetime
from decimal import Decimal
from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.http import Conflict
from clinic.models.audit import AuditEntry
from clinic.models.care import Visit
from clinic.permissions import Actor
from outcomes.forms.ledger import LedgerForm
from outcomes.models.record import Reading, RedFlagCheck, VisitDraft
from outcomes.models.status import EpisodeStatus
from outcomes.queries.visit import VisitSheet
from outcomes.services import drafts, signing
from tests.cast import MOMENT, TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory
from tests.factories.outcomes import both_limbs, signed_visit
from tests.outcomes.paper import FULL, Paper, key, open_visit
from tests.web import signed_in, words_of


def actor(person, site) -> Actor:
    return Actor(staff_id=person.pk, site_id=site.pk, request_id=UUID(key()))


def test_a_signed_visit_is_what_was_typed_exact_and_whole(cast):
    visit = open_visit(cast)
    answer = Paper(signed_in(cast.clinician), visit).type(FULL).sign()
    assert (answer.status_code, answer["Location"]) == (302, f"/visits/{visit.uid}/")
    found = Reading.objects.order_by("measure", "limb").values_list(
        "measure", "limb", "value", "typed_text", "typed_unit", "comparison_key"
    )
    hold, torque = "added_load=0;hand_support=no", "device=fixed;knee_angle=90"
    assert list(found) == [
        ("body_mass", "none", Decimal("63.400000"), "63,4", "kg", ""),
        ("effusion", "right", Decimal(1), "trace", "", "moment=before"),
        ("knee_extension", "left", Decimal("-2.000000"), "beyond 2", "deg", ""),
        ("knee_extension", "right", Decimal(0), "straight", "deg", ""),
        ("knee_flexion", "left", Decimal("140.000000"), "140", "deg", ""),
        ("knee_flexion", "right", Decimal("132.000000"), "132", "deg", ""),
        ("pain_front_of_knee", "right", Decimal(1), "1", "", ""),
        ("pain_worst_24h", "right", Decimal(2), "2", "", ""),
        ("quadriceps_torque", "left", Decimal("158.000000"), "158", "N.m", torque),
        ("quadriceps_torque", "right", Decimal("121.000000"), "121", "N.m", torque),
        ("standing_hip_hold", "left", Decimal("24.600000"), "24,6", "s", hold),
        ("standing_hip_hold", "right", Decimal("19.200000"), "19.2", "s", hold),
    ]
    one = Reading.objects.get(measure="quadriceps_torque", limb="left")
    assert (one.trials, one.conditions, one.kind, one.status, one.date) == (
        ["149", "158"],
        {"device": "fixed", "knee_angle": "90"},
        "entered",
        "measured",
        TODAY,
    )
    assert (one.measured_at, one.recorded_by, str(one.measure_version)) == (
        MOMENT,
        cast.clinician,
        "quadriceps_torque@2",
    )


def test_signing_leaves_state_note_red_flags_audit_and_status_and_no_draft(cast):
    visit = open_visit(cast)
    paper = Paper(signed_in(cast.clinician), visit).type(FULL)
    assert paper.save().status_code == 302
    before = AuditEntry.objects.count()
    paper.sign()
    signed = Visit.objects.get(pk=visit.pk)
    assert (signed.state, signed.signed_by, signed.signed_at, signed.note, signed.version) == (
        "signed",
        cast.clinician,
        MOMENT,
        "Good day.",
        2,
    )
    check = RedFlagCheck.objects.get()
    assert (check.form, check.tier, check.answers) == (
        "four",
        "",
        {"short_pop": False, "short_locking": False, "short_hot_knee": False, "short_calf": False},
    )
    assert list(AuditEntry.objects.values_list("act", "subject_ids")[before:]) == [
        ("sign_visit", [visit.pk])
    ]
    status = EpisodeStatus.objects.get(episode=cast.episode)
    assert (status.quadriceps_on, status.last_visit) == (TODAY, TODAY)
    assert not VisitDraft.objects.exists()


def test_a_doubled_post_has_one_effect(cast):
    visit = open_visit(cast)
    paper = Paper(signed_in(cast.clinician), visit).type(FULL)
    first, second = paper.sign(), paper.sign()
    assert (first.status_code, second.status_code) == (302, 302)
    assert first["Location"] == second["Location"]
    assert Reading.objects.count() == 12
    assert AuditEntry.objects.filter(act="sign_visit").count() == 1


def test_another_form_after_signing_is_a_conflict_and_says_so(cast):
    visit = open_visit(cast)
    client = signed_in(cast.clinician)
    late = Paper(client, visit).type({"v:knee_flexion:left": "120"})
    Paper(client, visit).type(FULL).sign()
    answer = late.sign()
    assert answer.status_code == 409
    assert "signed already" in words_of(answer)
    assert "NOT saved, so that you can enter it where it belongs: Flexion, left: 120" in (
        words_of(answer)
    )
    assert Reading.objects.filter(measure="knee_flexion", limb="left").get().value == 140


def test_what_cannot_be_taken_is_listed_and_nothing_is_lost_or_inserted(cast):
    visit = open_visit(cast)
    wrong = {
        "x:knee_extension:right": "lacks",
        "v:knee_extension:right": "-3",
        "v:knee_flexion:right": "1.32,5",
        "v:standing_hip_hold:left": "60",
        "v:effusion:right": "4+",
        "c:quadriceps_torque:device": "",
    }
    paper = Paper(signed_in(cast.clinician), visit).type(FULL | wrong)
    answer = paper.sign()
    assert answer.status_code == 422
    text = words_of(answer)
    assert "Not signed yet: 5 fields to put right" in text
    for sentence in (
        "Effusion, right: Choose one of: zero, trace, 1+, 2+, 3+.",
        "Extension, right: Type the degrees without a sign; choose lacks, straight or beyond",
        "Flexion, right: Type one decimal mark, comma or point",
        "Standing hip hold, left: The test is stopped at 45.0 s",
        "Quadriceps: Choose or type: device.",
    ):
        assert sentence in text
    assert Reading.objects.count() == 0
    paper.read(answer)
    assert paper.fields["v:knee_flexion:right"] == ["1.32,5"]
    assert paper.fields["v:quadriceps_torque:left:2"] == ["158"]
    paper.type(
        {
            "v:knee_extension:right": "3",
            "v:knee_flexion:right": "132,5".replace(",5", ""),
            "v:standing_hip_hold:left": "45",
            "v:effusion:right": "1+",
            "c:quadriceps_torque:device": "fixed",
        }
    )
    assert paper.sign().status_code == 302
    assert Reading.objects.count() == 12


def test_every_link_of_the_error_list_leads_to_a_field(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    answer = paper.type({"v:knee_flexion:left": "x", "x:knee_extension:left": "lacks"}).sign()
    page = answer.content.decode()
    links = [part.split('"')[0] for part in page.split('<a href="#')[1:] if part[:4] != "main"]
    wanted = {"v-knee_extension-left", "v-knee_flexion-left"}
    assert {link for link in links if link.startswith("v-")} == wanted
    assert all(f'id="{link}"' in page for link in wanted)


def test_unusual_needs_a_reason_and_a_swap_needs_a_look(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    hold = {name: text for name, text in FULL.items() if name.startswith("c:standing")}
    typed = {
        "v:knee_flexion:left": "140",
        "v:knee_flexion:right": "45",
        "v:standing_hip_hold:left": "12",
        "v:standing_hip_hold:right": "30",
        **hold,
    }
    answer = paper.type(typed).sign()
    text = words_of(answer)
    assert answer.status_code == 422
    assert "Flexion, right: 45° is outside what is usual (60 to 155°)." in text
    assert "Standing hip hold: Left and right may have been swapped" in text
    paper.read(answer)
    paper.type({"w:knee_flexion:right": "stiff", "y:standing_hip_hold": "1"})
    assert paper.sign().status_code == 302
    kept = Reading.objects.get(measure="knee_flexion", limb="right")
    assert (kept.value, kept.reason) == (Decimal("45.000000"), "stiff")


def test_pain_ends_the_test_and_the_value_stays(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    typed = {name: text for name, text in FULL.items() if "standing_hip_hold" in name}
    paper.type(typed | {"d:standing_hip_hold:right:end_reason": "pain"}).sign()
    one = Reading.objects.get(limb="right")
    assert (one.status, one.value, one.details) == (
        "stopped_by_pain",
        Decimal("19.200000"),
        {"end_reason": "pain"},
    )


def test_a_force_becomes_a_torque_by_its_own_lever_arm(cast):
    # 420 N x 0.34 m = 142.8 N.m: the definition of torque (reference example).
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    typed = {name: text for name, text in FULL.items() if name.startswith("c:quadriceps")}
    force = {"u:quadriceps_torque": "N", "v:quadriceps_torque:right": "420"}
    answer = paper.type(typed | force).sign()
    assert "Quadriceps, right: Type the lever arm in cm" in words_of(answer)
    paper.read(answer)
    assert paper.type({"a:quadriceps_torque:right": "34"}).sign().status_code == 302
    one = Reading.objects.get()
    assert (one.value, one.typed_text, one.typed_unit, one.details) == (
        Decimal("142.800000"),
        "420",
        "N",
        {"lever_arm_cm": "34"},
    )


def test_what_was_not_done_has_a_reason_and_no_value_and_asks_for_no_conditions(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    assert paper.type({"s:quadriceps_torque:right": "surgeons_limit"}).sign().status_code == 302
    one = Reading.objects.get()
    assert (one.status, one.value, one.comparison_key) == ("surgeons_limit", None, "")


def test_the_same_test_in_two_rows_is_refused(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    paper.type({"v:effusion:right": "trace", "c:effusion:moment": "before"})
    paper.save(add="effusion-2")
    paper.read(paper.client.get(paper.address))
    twice = {"v:effusion-2:right": "1+", "c:effusion-2:moment": "before"}
    assert "The same test stands in two rows" in words_of(paper.type(twice).sign())
    assert paper.type({"c:effusion-2:moment": "after"}).sign().status_code == 302
    assert list(Reading.objects.order_by("id").values_list("comparison_key", flat=True)) == [
        "moment=before",
        "moment=after",
    ]


def test_the_same_test_declined_twice_is_refused_too(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    paper.save(add="quadriceps_torque-2")
    paper.read(paper.client.get(paper.address))
    declined = {
        f"s:{row}:right": "declined" for row in ("quadriceps_torque", "quadriceps_torque-2")
    }
    assert "The same test stands in two rows" in words_of(paper.type(declined).sign())
    assert Reading.objects.count() == 0


def test_an_empty_visit_can_be_signed(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    assert paper.sign().status_code == 302
    assert (Reading.objects.count(), RedFlagCheck.objects.count()) == (0, 0)


def test_a_visit_written_up_later_was_measured_at_noon_of_its_day(cast):
    visit = open_visit(cast, date=date(2026, 11, 20))
    Paper(signed_in(cast.clinician), visit).type({"v:knee_flexion:right": "120"}).sign()
    one = Reading.objects.get()
    assert (one.date, one.measured_at) == (
        date(2026, 11, 20),
        datetime(2026, 11, 20, 12, tzinfo=UTC),
    )


def test_a_colleague_takes_the_visit_over_and_each_keeps_what_they_typed(cast):
    visit = open_visit(cast)
    Paper(signed_in(cast.clinician), visit).type({"v:knee_flexion:left": "140"}).save()
    client = signed_in(cast.colleague)
    paper = Paper(client, visit).type({"v:knee_flexion:right": "132"})
    assert "Tess Okafor works on this visit" in words_of(paper.response)
    assert "Sign visit" not in words_of(paper.response)
    refused = paper.sign()
    assert (refused.status_code, Reading.objects.count()) == (409, 0)
    taken = client.post(f"{paper.address}take", {"key": key()})
    assert taken.status_code == 302
    assert list(AuditEntry.objects.filter(act="take_over_visit").values_list("subject_ids")) == [
        ([visit.pk],)
    ]
    assert Paper(client, visit).sign().status_code == 302
    assert Visit.objects.get(pk=visit.pk).signed_by == cast.colleague
    assert list(Reading.objects.order_by("limb").values_list("limb", "recorded_by__username")) == [
        ("left", "clinician"),
        ("right", "colleague"),
    ]


def test_a_draft_that_moved_since_it_was_read_is_not_signed(cast):
    visit = open_visit(cast)
    Paper(signed_in(cast.clinician), visit).type({"v:knee_flexion:left": "140"}).save()
    sheet = VisitSheet(visit)
    found, version = LedgerForm(sheet=sheet).to_sign, VisitDraft.objects.get().version
    drafts.save(
        actor=actor(cast.colleague, cast.harbour),
        visit_id=visit.pk,
        typed={"v:knee_flexion:right": "132"},
        shown={},
        sheet=key(),
    )
    with pytest.raises(Conflict, match="another tablet"):
        signing.sign(
            actor=actor(cast.clinician, cast.harbour),
            key=UUID(key()),
            visit=visit,
            draft_version=version,
            found=found,
            body={},
        )
    assert Reading.objects.count() == 0


def signing_statements(cast, typed) -> int:
    paper = Paper(signed_in(cast.clinician), open_visit(cast)).type(typed)
    paper.save()
    paper.read(paper.client.get(paper.address))
    with CaptureQueriesContext(connection) as seen:
        assert paper.sign().status_code == 302
    return len(seen)


def test_signing_costs_the_same_statements_for_two_readings_and_for_twelve(cast):
    two = {"v:knee_flexion:left": "140", "v:knee_flexion:right": "132", "f:none": "1"}
    near = FULL | {"v:quadriceps_torque:left:2": "150"}
    assert signing_statements(cast, two) == signing_statements(cast, near) == 34


def test_limbs_far_apart_are_held_against_the_pair_before_for_three_statements_more(cast):
    assert signing_statements(cast, FULL) == 37


def test_a_left_knee_is_signed_with_its_own_sides(cast):
    mirrored = PatientFactory(name="Mira Left")
    episode = EpisodeFactory(patient=mirrored, site=cast.harbour, knee="left")
    SurgeryFactory(episode=episode, recorded_by=cast.clinician)
    visit = open_visit(cast, patient=mirrored)
    typed = {
        "v:effusion:left": "trace",
        "v:knee_flexion:left": "120",
        "v:knee_flexion:right": "140",
    }
    assert Paper(signed_in(cast.clinician), visit).type(typed).sign().status_code == 302
    found = Reading.objects.order_by("measure", "limb").values_list("measure", "limb", "value")
    assert list(found) == [
        ("effusion", "left", Decimal(1)),
        ("knee_flexion", "left", Decimal(120)),
        ("knee_flexion", "right", Decimal(140)),
    ]


def test_a_signed_visit_shows_its_values_with_the_words_they_had(cast):
    past = signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=date(2026, 11, 5)
    )
    both_limbs(visit=past, measure="quadriceps_torque", left="156", right="109")
    visit = open_visit(cast)
    client = signed_in(cast.clinician)
    Paper(client, visit).type(FULL).sign()
    text = words_of(client.get(f"/visits/{visit.uid}/"))
    assert "Signed by Tess Okafor, 25 Nov 2026, 09:00" in text
    assert "158.0 N·m trials 149, 158" in text
    assert "77 % , how this came about From Left 158.0 N·m, 25 Nov 2026" in text
    assert "right ÷ left × 100 = 121.0 ÷ 158.0 × 100 = 76.58 %" in text
    assert "Change Symmetry from 69.87 % (5 Nov 2026) to 76.58 %." in text
    assert "LSI, up 7 since 5 Nov: no real change; error about 7" in text
    assert "Red flags 4 asked, none" in text
