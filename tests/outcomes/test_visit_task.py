"""A heel touch as a clinician looks at it: pelvis first, then trunk, knee and comfort."""

import re

import pytest

from outcomes.catalogue.tasks import SEEN, TASKS
from outcomes.forms.row_names import row_name, rows_of
from outcomes.models.record import Reading
from outcomes.models.versions import Switch
from tests.cast import MOMENT
from tests.outcomes.paper import Paper, open_visit
from tests.web import signed_in, words_of

LATERAL, FORWARD = "pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch"
PAIN = f"pain_during_test-{LATERAL.removeprefix('pelvic_drop_')}"


def of(code, task="lateral_heel_touch"):
    return f"{code}-{task}"


WHOLE = {
    f"c:{LATERAL}:step_height": "15,0",
    f"v:{LATERAL}:left": "level",
    f"v:{LATERAL}:right": "slight",
    f"d:{LATERAL}:right:when": "only_at_depth",
    f"d:{LATERAL}:right:kept_level_by": "upright",
    f"d:{LATERAL}:right:comfort": "unsure",
    f"v:{of('trunk_lean')}:left": "upright",
    f"v:{of('trunk_lean')}:right": "slight",
    f"v:{of('trunk_flexion')}:right": "some",
    f"v:{of('forward_knee_travel')}:right": "short",
    f"v:{of('knee_medial_position')}:right": "over foot",
    f"v:{PAIN}:right": "2",
}


def typed(cast, texts):
    """The visit's page after these texts were saved."""
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    paper.type(texts).save()
    return Paper(paper.client, visit)


def row_of(paper, row):
    page = paper.response.content.decode()
    return page.split(f'id="row-{row}"')[1].split('id="row-')[0]


def seen_of(row):
    return row.split('<details class="seen"')[1]


def test_one_row_for_each_task_holds_what_is_seen_in_it_and_nothing_of_it_stands_alone(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    rows = re.findall(r'id="row-([a-z0-9_-]+)"', paper.response.content.decode())
    assert [row for row in rows if row.partition("-")[0] in (*SEEN, "pain_during_test")] == []
    for lead, task in ((LATERAL, "lateral_heel_touch"), (FORWARD, "forward_heel_touch")):
        seen = seen_of(row_of(paper, lead))
        names = set(re.findall(r'name="(v:[a-z0-9_:-]+)"', seen))
        assert names == {
            f"v:{code}-{task}:{limb}"
            for code in (*SEEN, "pain_during_test")
            for limb in ("left", "right")
        }
        comfort = re.findall(r'name="(d:[a-z0-9_:-]+)"', seen)
        assert set(comfort) == {f"d:{lead}:{limb}:comfort" for limb in ("left", "right")}


def test_the_pelvis_alone_is_enough_and_the_rest_stays_folded(cast):
    lead = {f"c:{LATERAL}:step_height": "15", f"v:{LATERAL}:right": "level"}
    paper = typed(cast, lead)
    assert not seen_of(row_of(paper, LATERAL)).startswith(" open")
    assert "tests logged" in words_of(paper.response)
    assert paper.sign().status_code == 302
    assert list(Reading.objects.values_list("measure", "limb")) == [(LATERAL, "right")]


def test_each_is_a_reading_of_its_own_under_the_task_and_its_step_height(cast):
    paper = typed(cast, WHOLE)
    assert seen_of(row_of(paper, LATERAL)).startswith(" open")
    assert "1 of 12 tests logged" in words_of(paper.response)
    assert paper.sign().status_code == 302
    task = "step_height=15;task=lateral_heel_touch"
    found = Reading.objects.values_list("measure", "limb", "typed_text", "comparison_key")
    assert sorted(found) == [
        ("forward_knee_travel", "right", "short", task),
        ("knee_medial_position", "right", "over foot", task),
        ("pain_during_test", "right", "2", f"during={LATERAL}"),
        (LATERAL, "left", "level", "step_height=15"),
        (LATERAL, "right", "slight", "step_height=15"),
        ("trunk_flexion", "right", "some", task),
        ("trunk_lean", "left", "upright", task),
        ("trunk_lean", "right", "slight", task),
    ]  # fmt: skip
    lead = Reading.objects.get(measure=LATERAL, limb="right")
    assert lead.details == {
        "when": "only_at_depth", "kept_level_by": "upright", "comfort": "unsure",
    }  # fmt: skip


def test_each_says_back_what_it_compares(cast):
    row = row_of(typed(cast, WHOLE | {f"v:{PAIN}:right": "3"}), LATERAL)
    lean = row.split(f'id="echo-{of("trunk_lean")}"')[1].split('<details class="how">')[0]
    assert "one grade worse than the other side" in lean
    pain = row.split(f'id="echo-{PAIN}"')[1].split('<details class="how">')[0]
    assert "Running asks at most 2 of 10: not met" in re.sub(r"<[^>]+>", "", pain)


def test_typed_alone_it_is_answered_in_place_by_htmx(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    paper.type({f"c:{LATERAL}:step_height": "15", f"v:{of('trunk_lean')}:right": "marked"})
    names = {name: value for name, value in paper.fields.items() if LATERAL[12:] in name}
    mine = [text for text in paper.fields["was"] if LATERAL in text]
    data = {**names, "was": mine, "row": LATERAL, "sheet": paper.fields["sheet"]}
    answer = paper.client.post(f"{paper.address}draft", data, headers={"HX-Request": "true"})
    assert f"innerHTML:#echo-{of('trunk_lean')}" in answer.content.decode()
    assert "1 of 12 tests logged" in words_of(answer)


def test_a_step_height_that_is_missing_is_asked_for_once_by_the_row(cast):
    paper = typed(cast, {f"v:{of('trunk_lean')}:right": "slight"})
    answer = paper.sign()
    assert answer.status_code == 422
    assert [wrong.name for wrong in answer.context["shown"].form.wrongs] == [
        f"c:{LATERAL}:step_height"
    ]


def test_what_is_typed_twice_is_refused_where_it_can_be_put_right(cast):
    alone = {
        "v:trunk_lean:right": "slight",
        "c:trunk_lean:task": "lateral_heel_touch",
        "c:trunk_lean:step_height": "15",
    }
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    paper.save(add="trunk_lean")
    paper = Paper(paper.client, visit).type(WHOLE | alone)
    answer = paper.sign()
    assert answer.status_code == 422
    names = {wrong.name for wrong in answer.context["shown"].form.wrongs}
    assert names == {"c:trunk_lean:task", f"v:{of('trunk_lean')}:left"}


def test_a_second_step_height_has_its_own_and_pain_is_asked_once(cast):
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    paper.save(add=f"{LATERAL}-2")
    row = row_of(Paper(paper.client, visit), f"{LATERAL}-2")
    names = re.findall(r'name="v:([a-z0-9_-]+):right"', seen_of(row))
    assert list(dict.fromkeys(names)) == [f"{code}-lateral_heel_touch-2" for code in SEEN]


def test_a_measure_that_is_switched_off_is_not_looked_at(cast):
    Switch.objects.create(
        code="trunk_flexion", state="off", changed_at=MOMENT, changed_by=cast.lead
    )
    page = Paper(signed_in(cast.clinician), open_visit(cast)).response.content.decode()
    assert "trunk_flexion-" not in page
    assert "trunk_lean-lateral_heel_touch" in page


def test_the_signed_visit_tells_it_task_by_task(cast):
    other = {
        name.replace("lateral_heel_touch", "forward_heel_touch"): text
        for name, text in WHOLE.items()
    }
    paper = typed(cast, WHOLE | other)
    assert paper.sign().status_code == 302
    page = paper.client.get(paper.address).content.decode()
    rows = re.findall(r'class="measure">(.*?)</span>(?:<span class="soft">(.*?)</span>)?', page)
    tasks = [rest for _, rest in rows]
    assert [name for name, _ in rows] == [
        "Pelvic drop, lateral", "Trunk lean", "Trunk forward bend", "Forward knee travel",
        "Knee over foot", "Pain during test",
        "Pelvic drop, forward", "Trunk lean", "Trunk forward bend", "Forward knee travel",
        "Knee over foot", "Pain during test",
    ]  # fmt: skip
    assert tasks[1] == "lateral heel touch, step height 15 cm"
    assert tasks[7] == "forward heel touch, step height 15 cm"


def test_one_of_them_is_corrected_under_its_own_name(cast):
    paper = typed(cast, WHOLE)
    paper.sign()
    row = Reading.objects.get(measure="trunk_lean", limb="right")
    page = paper.client.get(f"/readings/{row.pk}/")
    assert "Trunk lean over the standing leg, right" in words_of(page)
    assert "lateral heel touch, step height 15 cm" in words_of(page)


@pytest.mark.parametrize(
    "row", ["trunk_lean-hop", "knee_flexion-lateral_heel_touch", "knee_flexion-1", "a--2", "-2", ""]
)
def test_what_names_no_row_is_none(row):
    assert row_name(row) is None


def test_a_forged_row_is_passed_over(cast):
    paper = typed(cast, {"v:knee_flexion-x:left": "140", "v:trunk_lean-hop:left": "slight"})
    assert paper.response.status_code == 200
    assert "knee_flexion-x" not in paper.response.content.decode()


def test_rows_come_in_the_order_of_a_visit_each_task_together():
    codes = {LATERAL, FORWARD, "knee_flexion", "quadriceps_torque", *SEEN, "pain_during_test"}
    rows = rows_of(
        rows={"quadriceps_torque", of("trunk_lean"), FORWARD, "knee_flexion", "pain_during_test"},
        codes=codes,
        off={"trunk_flexion"},
    )
    kept = [code for code in SEEN if code != "trunk_flexion"]
    assert rows == [
        "knee_flexion",
        LATERAL,
        *(of(code) for code in (*kept, "pain_during_test")),
        FORWARD,
        *(of(code, "forward_heel_touch") for code in (*kept, "pain_during_test")),
        "quadriceps_torque",
        "pain_during_test",
    ]
    assert {task.lead for task in TASKS.values()} == {LATERAL, FORWARD}
