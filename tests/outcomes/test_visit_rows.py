"""Rows that are more than two numbers: yes or no, items, jumps, counts, and values carried on."""

import re
from datetime import date
from decimal import Decimal

import pytest

from outcomes.models.record import Reading
from tests.factories.outcomes import ReadingFactory, signed_visit
from tests.outcomes.paper import Paper, open_visit
from tests.web import signed_in, words_of


def row_of(paper, row):
    page = paper.response.content.decode()
    return page.split(f'id="row-{row}"')[1].split('id="row-')[0]


def weighed(cast, on, *, measure="body_mass", value="65.7", limb="none", **more):
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
    ReadingFactory(visit=visit, measure=measure, limb=limb, value=Decimal(value), **more)


def test_a_body_mass_is_carried_with_its_date_and_folds_its_row(cast):
    weighed(cast, date(2026, 11, 6))
    row = row_of(Paper(signed_in(cast.clinician), open_visit(cast)), "body_mass")
    summary = row.split("<summary>")[1].split("</summary>")[0]
    assert re.sub("<[^>]+>", "", summary) == "Body mass 65.7 kg, 6 Nov measure again"
    assert 'name="v:body_mass:none"' in row.split("</summary>")[1]


def test_one_that_was_typed_again_is_not_folded(cast):
    weighed(cast, date(2026, 11, 6))
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    paper.type({"v:body_mass:none": "64.9"}).save()
    assert "measure again" not in row_of(Paper(paper.client, visit), "body_mass")


@pytest.mark.parametrize(("on", "folded"), [(date(2026, 8, 27), True), (date(2026, 8, 26), False)])
def test_it_is_asked_again_when_it_is_out_of_date(cast, on, folded):
    weighed(cast, on)
    row = row_of(Paper(signed_in(cast.clinician), open_visit(cast)), "body_mass")
    assert ("measure again" in row) is folded


def test_a_child_is_weighed_at_every_test(cast):
    cast.ines.birth_date = date(2008, 11, 26)
    cast.ines.save()
    weighed(cast, date(2026, 11, 6))
    row = row_of(Paper(signed_in(cast.clinician), visit := open_visit(cast)), "body_mass")
    assert "measure again" not in row
    cast.ines.birth_date = date(2008, 11, 25)
    cast.ines.save()
    visit.refresh_from_db()
    assert "measure again" in row_of(Paper(signed_in(cast.clinician), visit), "body_mass")


def test_a_value_that_was_refused_is_not_carried(cast):
    visit = signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=date(2026, 11, 6)
    )
    ReadingFactory(visit=visit, measure="body_mass", limb="none", value=None, status="declined")
    assert "measure again" not in row_of(
        Paper(signed_in(cast.clinician), open_visit(cast)), "body_mass"
    )


def test_leg_length_is_carried_once_both_legs_are_known(cast):
    past = signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=date(2026, 11, 6)
    )
    ReadingFactory(visit=past, measure="leg_length", limb="left", value=Decimal("88.5"))
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    paper.save(add="leg_length")
    assert "measure again" not in row_of(Paper(paper.client, visit), "leg_length")
    ReadingFactory(visit=past, measure="leg_length", limb="right", value=Decimal("88.0"))
    row = row_of(Paper(paper.client, visit), "leg_length")
    assert "left 88.5 cm, right 88.0 cm, 6 Nov" in row


def signed(cast, typed, *rows):
    """Readings of a visit to which rows were added, as they were signed."""
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    for row in rows:
        paper.save(add=row)
    paper = Paper(paper.client, visit).type(typed)
    answer = paper.sign()
    assert answer.status_code == 302, words_of(answer)
    return {
        (reading.measure, reading.limb): (reading.value, reading.typed_text, reading.typed_unit)
        for reading in Reading.objects.filter(visit=visit)
    }


def test_yes_and_no_are_two_buttons(cast):
    found = signed(cast, {"v:two_leg_landing_tolerated:none": "yes"})
    assert found == {("two_leg_landing_tolerated", "none"): (Decimal(1), "yes", "")}
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    row = row_of(paper, "brisk_walk_30min_without_swelling")
    side = row.split('class="right cell')[1].split('class="beside"')[0]
    assert re.findall(r'value="(no|yes)">', side) == ["no", "yes"]


def test_the_running_sum_of_items_needs_every_item_to_be_signed(cast):
    row = "step_down_score"
    items = {"arms": "no", "trunk": "yes", "pelvis": "no", "knee": "inside_foot"}
    typed = {f"d:{row}:right:{code}": choice for code, choice in items.items()}
    typed |= {f"c:{row}:step_height": "20"}
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    paper.save(add=row)
    paper = Paper(paper.client, visit).type(typed)
    paper.save()
    said = words_of(Paper(paper.client, visit).response)
    assert "Choose too: the stance is lost." in said
    assert "right 3 of 6, 1 item open" in said
    paper = Paper(paper.client, visit).type({f"d:{row}:right:steadiness": "no"})
    paper.save()
    said = row_of(Paper(paper.client, visit), row)
    assert "<span>right 3 of 6</span>" in said
    assert "Right: " in said
    assert " 2 + the stance is lost 0 = 3 of 6" in said


def test_flight_time_or_height_by_the_unit(cast):
    row = "vertical_jump"
    typed = {
        f"u:{row}": "s",
        f"v:{row}:left": "0.42",
        f"c:{row}:device": "flight_mat",
        f"c:{row}:hands": "held",
    }
    found = signed(cast, typed, row)
    value, text, unit = found[row, "left"]
    assert (text, unit) == ("0.42", "s")
    assert value == Decimal("21.623663"), "9.80665 x 0.42^2 / 8 m, in cm"


def test_counts_are_whole_numbers(cast):
    row = "home_exercise_days"
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    paper.save(add=row)
    paper = Paper(paper.client, visit).type({f"v:{row}:none": "4.5"})
    assert 'inputmode="numeric" id="v-home_exercise_days-none"' in row_of(paper, row)
    assert paper.sign().status_code == 422
    assert Paper(paper.client, visit).type({f"v:{row}:none": "4"}).sign().status_code == 302


def test_what_can_be_added_stands_in_the_groups_of_a_visit(cast):
    page = Paper(signed_in(cast.clinician), open_visit(cast)).response.content.decode()
    groups = page.split('id="addable-list"')[1].split("</details>")
    heads = [re.sub("<[^>]+>", "", group.split("<summary>")[1].split("<span")[0]).strip()
             for group in groups if "<summary>" in group]  # fmt: skip
    assert heads == [
        "Symptoms", "Range", "Walking and daily tasks", "Holds", "Movement", "Balance",
        "Strength", "Repetitions", "Hops and landing", "After the tests", "Size and laxity", "Body",
    ]  # fmt: skip
    addable = re.findall(r'name="add" value="([a-z0-9_]+)"', page)
    assert "hamstring_torque" in addable
    assert {"reach_composite", "hamstring_quadriceps_ratio", "knee_flexion"}.isdisjoint(addable)


def test_each_row_says_on_demand_when_how_and_how_to_read(cast):
    cast.surgery.date = date(2026, 5, 20)
    cast.surgery.save()
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    page = paper.response.content.decode()
    rows = re.findall(r'id="row-([a-z0-9_]+)"', page)
    assert len(rows) > 15
    for row in rows:
        how = row_of(paper, row).split('class="how">')[1].split("</details>")[0]
        assert re.findall(r"<p><strong>(.*?)</strong>", how) == ["When", "How", "How to read it"]
