"""The open visit's page: who, which knee, left stays left, other side first, nothing prefilled."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.models.care import Restriction
from tests.cast import MOMENT
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory
from tests.factories.outcomes import ReadingFactory, both_limbs, signed_visit
from tests.outcomes.paper import Paper, open_visit
from tests.web import signed_in, words_of


def five_november(cast):
    return signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=date(2026, 11, 5)
    )


def row_of(response, row: str) -> str:
    page: str = response.content.decode()
    return page.split(f'id="row-{row}"')[1].split('id="row-')[0]


def test_the_head_says_who_which_knee_what_was_done_and_which_limit_holds(cast):
    cast.surgery.procedures = ["meniscal_repair"]
    cast.surgery.save()
    Restriction.objects.create(
        episode=cast.episode,
        kind="loaded_flexion",
        limit="not beyond 90°",
        since=date(2026, 8, 12),
        until=date(2026, 12, 2),
        origin="surgeon",
        told_by="operation note",
        procedure="meniscal_repair",
        recorded_by=cast.clinician,
        recorded_at=MOMENT,
    )
    text = words_of(Paper(signed_in(cast.clinician), open_visit(cast)).response)
    assert "Ines Marlow born 3 May 2001 record H-0412" in text
    assert "visit of 25 Nov 2026, tester Tess Okafor" in text
    assert "Right knee, operated 12 Aug 2026 , hamstring autograft and meniscal repair week 15" in (
        text
    )
    assert "Surgeon’s limit until 2 Dec: loaded knee bend, not beyond 90°." in text
    assert "ask before loading" not in text


def test_limits_that_nobody_confirmed_are_asked_for(cast):
    cast.surgery.procedures = ["meniscal_root_repair"]
    cast.surgery.save()
    text = words_of(Paper(signed_in(cast.clinician), open_visit(cast)).response)
    assert "Surgeon’s limits not confirmed (meniscal root repair): ask before loading." in text


@pytest.mark.parametrize(
    ("knee", "order"), [("right", ["left", "right"]), ("left", ["right", "left"])]
)
def test_left_is_left_and_the_other_side_comes_first(cast, knee, order):
    patient = PatientFactory()
    episode = EpisodeFactory(patient=patient, site=cast.harbour, knee=knee)
    SurgeryFactory(episode=episode, recorded_by=cast.clinician)
    paper = Paper(signed_in(cast.clinician), open_visit(cast, patient=patient))
    row = row_of(paper.response, "knee_flexion")
    cells = re.findall(r'class="(left|right) cell.*?name="v:knee_flexion:(left|right)"', row, re.S)
    assert cells == [(side, side) for side in order]
    head = paper.response.content.decode().split('class="ledger-heads"')[1]
    assert re.findall(r'<div class="(left|right)"><span class="limb-word">(left|right)<', head) == [
        ("left", "left"),
        ("right", "right"),
    ]


def test_nothing_is_prefilled_and_the_last_value_stands_beside(cast):
    past = five_november(cast)
    both_limbs(visit=past, measure="knee_extension", left="-2", right="3")
    both_limbs(visit=past, measure="quadriceps_torque", left="156", right="109")
    ReadingFactory(visit=past, measure="effusion", limb="right", value=Decimal(2))
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    values = {n: v for n, v in paper.fields.items() if n[:2] in ("v:", "x:", "a:")}
    assert len(values) > 15
    assert {text for texts in values.values() for text in texts} == {""}
    extension, torque = (row_of(paper.response, r) for r in ("knee_extension", "quadriceps_torque"))
    assert re.findall(r'class="last">(.*?)</p>', extension) == [
        "5 Nov: 2° beyond straight",
        "5 Nov: lacks 3°",
    ]
    assert re.findall(r'class="last">(.*?)</p>', torque) == ["5 Nov: 156.0 N·m", "5 Nov: 109.0 N·m"]
    assert "5 Nov: LSI 70 %" in torque


def test_the_last_value_of_other_conditions_says_so(cast):
    visit, client = open_visit(cast), signed_in(cast.clinician)
    both_limbs(visit=five_november(cast), measure="quadriceps_torque", left="156", right="109")
    condition = {"c:quadriceps_torque:device": "handheld", "c:quadriceps_torque:knee_angle": "90"}
    Paper(client, visit).type(condition).save()
    row = row_of(Paper(client, visit).response, "quadriceps_torque")
    assert "5 Nov: 156.0 N·m (fixed dynamometer, knee angle 90°)" in row


def test_the_other_knee_is_not_asked_for_effusion_and_pain_but_can_be(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    for row in ("effusion", "pain_worst_24h", "pain_front_of_knee"):
        cells = row_of(paper.response, row)
        assert cells.count("other knee not asked") == 1
        assert f'name="v:{row}:left"' in cells.split("other knee not asked")[1]
    assert "other knee not asked" not in row_of(paper.response, "knee_flexion")


def test_single_leg_tasks_are_headed_by_the_standing_leg(cast):
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    for row in ("standing_hip_hold", "pelvic_drop_forward_heel_touch"):
        heads = re.findall(r"standing\">(standing on \w+)<", row_of(paper.response, row))
        assert heads == ["standing on left", "standing on right"]
    drop = "pelvic_drop_forward_heel_touch"
    typed = {
        f"v:{drop}:left": "level",
        f"v:{drop}:right": "moderate",
        f"c:{drop}:step_height": "15",
    }
    leaning = {f"d:{drop}:left:kept_level_by": "trunk_leans"}
    paper.type(typed | leaning).save()
    text = words_of(Paper(paper.client, visit).response)
    assert "Standing on the right, the left side of the pelvis drops." in text
    assert "Not level in itself: trunk leans over the standing leg (left)." in text


def test_tests_before_their_week_wait_and_can_be_added(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    assert "v:single_hop:left" not in paper.fields
    text = words_of(paper.response)
    assert "Single hop usual from week 16 Triple hop usual from week 26" in text
    cast.surgery.state, cast.surgery.date = "planned", date(2026, 12, 12)
    cast.surgery.save()
    before = Paper(signed_in(cast.clinician), open_visit(cast, date=date(2026, 11, 24)))
    assert "v:single_hop:left" in before.fields
    assert "Single hop usual from week" not in words_of(before.response)


def rows_of(paper):
    return re.findall(r'id="row-([a-z0-9_]+)"', paper.response.content.decode())


def test_the_first_week_asks_for_little_and_the_rest_is_added(cast):
    cast.surgery.date = date(2026, 11, 16)
    cast.surgery.save()
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    assert rows_of(paper) == [
        "wound_closed", "pain_worst_24h", "effusion", "knee_extension", "knee_flexion",
        "gait_without_aids", "quad_set_with_glide", "straight_leg_raise_without_lag",
    ]  # fmt: skip
    paper.save(add="single_hop")
    assert rows_of(Paper(paper.client, visit)) == [*rows_of(paper), "single_hop"]


def test_an_episode_of_the_first_protocol_keeps_its_thirteen_measures(cast):
    cast.surgery.date = date(2026, 11, 16)
    cast.surgery.save()
    cast.episode.protocol = "starter@1"
    cast.episode.save()
    rows = rows_of(Paper(signed_in(cast.clinician), open_visit(cast)))
    assert sorted(rows) == [
        "body_mass", "effusion", "knee_extension", "knee_flexion", "pain_during_test",
        "pain_front_of_knee", "pain_worst_24h",
    ]  # fmt: skip


def test_without_surgery_the_weeks_count_from_the_injury(cast):
    patient = PatientFactory(name="Uma Without")
    EpisodeFactory(
        patient=patient, site=cast.harbour, kind="without_surgery", injury_date=date(2026, 11, 16)
    )
    rows = rows_of(Paper(signed_in(cast.clinician), open_visit(cast, patient=patient)))
    assert (rows[0], len(rows)) == ("pain_worst_24h", 7)


def test_two_followed_knees_are_asked_what_either_is_asked(cast):
    patient = PatientFactory(name="Otto Both")
    for knee, day in (("left", date(2026, 7, 1)), ("right", date(2026, 11, 16))):
        episode = EpisodeFactory(patient=patient, site=cast.harbour, knee=knee)
        SurgeryFactory(episode=episode, date=day, recorded_by=cast.clinician)
    paper = Paper(signed_in(cast.clinician), open_visit(cast, patient=patient))
    asked = rows_of(paper)
    assert {"wound_closed", "single_hop", "controlled_landing"} <= set(asked)
    assert len(asked) == 17 + 4


def test_cautions_follow_graft_operation_and_effusion(cast):
    cast.surgery.graft, cast.surgery.procedures = "patellar_tendon", ["meniscal_repair_complex"]
    cast.surgery.save()
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    row = row_of(paper.response, "quadriceps_torque")
    assert "Pain at the front of the knee may limit the effort" in row
    assert "Stay within the surgeon&#x27;s range." in row_of(paper.response, "knee_flexion")
    assert "Wait while effusion" not in row_of(paper.response, "standing_hip_hold")
    paper.type({"v:effusion:right": "2+"}).save()
    again = Paper(paper.client, visit).response
    assert "Wait while effusion is 2+ or more." in row_of(again, "standing_hip_hold")


def test_two_followed_knees_are_both_operated_and_no_symmetry_is_made_of_them(cast):
    patient = PatientFactory(name="Otto Both")
    for knee, day in (("left", date(2025, 12, 3)), ("right", date(2026, 9, 2))):
        episode = EpisodeFactory(patient=patient, site=cast.harbour, knee=knee)
        SurgeryFactory(episode=episode, date=day, recorded_by=cast.clinician)
    visit = open_visit(cast, patient=patient)
    paper = Paper(signed_in(cast.clinician), visit)
    text = words_of(paper.response)
    assert "left operated, 11 months (week 51)" in text
    assert "right operated, week 12" in text
    assert "other knee not asked" not in text
    typed = {
        "c:standing_hip_hold:hand_support": "no",
        "c:standing_hip_hold:added_load": "0",
        "v:standing_hip_hold:left": "24",
        "v:standing_hip_hold:right": "9",
    }
    paper.type(typed).save()
    row = row_of(Paper(paper.client, visit).response, "standing_hip_hold")
    assert "LSI not assessable: both knees are followed" in row
    assert "left: Step-down work asks" not in row
    assert "right: Step-down work asks at least 20 s: not met" in row
    assert 'class="headline' not in row
    assert "swapped" not in row


def test_before_surgery_it_says_so(cast):
    cast.surgery.state, cast.surgery.date = "planned", date(2026, 12, 12)
    cast.surgery.save()
    text = words_of(Paper(signed_in(cast.clinician), open_visit(cast)).response)
    assert "Right knee, injured 1 Jul 2026, operation planned for 12 Dec 2026" in text
    assert "before surgery" in text
    assert "right injured" in text


def test_who_may_see_a_visit_and_who_sees_its_draft(cast):
    visit = open_visit(cast)
    Paper(signed_in(cast.clinician), visit).type({"v:knee_flexion:left": "143"}).save()
    assert signed_in(cast.desk).get(f"/visits/{visit.uid}/").status_code == 403
    assert signed_in(cast.outsider).get(f"/visits/{visit.uid}/").status_code == 404
    lead = signed_in(cast.lead).get(f"/visits/{visit.uid}/")
    assert lead.status_code == 200
    assert "Tess Okafor works on this visit." in words_of(lead)
    assert "143" not in words_of(lead)
    assert 'value="143"' not in lead.content.decode()
    for verb in ("draft", "sign", "take", "red-flags"):
        for person, code in ((cast.desk, 403), (cast.lead, 403), (cast.outsider, 404)):
            assert signed_in(person).post(f"/visits/{visit.uid}/{verb}").status_code == code


@pytest.mark.parametrize(
    ("state", "words"),
    [("booked", "This visit is booked"), ("missed", "missed"), ("cancelled", "cancelled")],
)
def test_a_visit_that_is_not_open_says_so(cast, state, words):
    visit = open_visit(cast, state=state, opened_at=None, arrived_at=None)
    answer = signed_in(cast.clinician).get(f"/visits/{visit.uid}/")
    assert words in words_of(answer)
    assert ("Open the visit" in words_of(answer)) is (state != "cancelled")


def statements(client, address: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert client.get(address).status_code == 200
    return len(seen)


def test_the_page_costs_the_same_statements_with_one_past_visit_and_with_three(cast):
    visit, client = open_visit(cast), signed_in(cast.clinician)
    address, counts = f"/visits/{visit.uid}/", []
    client.get(address)
    for days in (30, 20, 10):
        past = signed_visit(
            patient=cast.ines,
            site=cast.harbour,
            by=cast.clinician,
            on=MOMENT.date() - timedelta(days=days),
        )
        both_limbs(visit=past, measure="knee_flexion", left="140", right="120")
        both_limbs(visit=past, measure="quadriceps_torque", left="156", right="109")
        counts.append(statements(client, address))
    assert counts[0] == counts[2] == 21
