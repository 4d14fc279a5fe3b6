"""The lead's pages: what is typed is what is kept; the list costs the same for one and three."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.http import QueryDict
from hypothesis import given, settings
from hypothesis import strategies as some

from outcomes.catalogue.measures import measure_from
from outcomes.core.quantities import UNITS, plain
from outcomes.forms.own_mapping import typed_of
from outcomes.forms.own_measures import AddMeasureForm
from outcomes.models.versions import MeasureVersion, Switch
from outcomes.queries.catalogue import catalogue, in_force
from tests.clinic.desk import errors_of, posted
from tests.outcomes.own import add_own, switched, used
from tests.outcomes.paper import key
from tests.outcomes.story import WEEK_12
from tests.web import signed_in, words_of

NEW = {
    "label": "Step hold, seconds",
    "short_label": "Step hold",
    "kind": "number",
    "unit": "s",
    "grades": "",
    "per_limb": "yes",
    "better": "higher",
    "symmetry": "index",
    "lowest": "0",
    "highest": "60",
    "usual_low": "5",
    "usual_high": "45,5",
    "decimals": "1",
    "trials": "2",
    "summary": "best",
    "when_to_use": "From week 6.",
    "how_to_do": "Other leg first.",
    "how_to_read": "Look at the difference.",
    "condition_1_label": "shoes",
    "condition_1_choices": "on\r\noff",
    "condition_1_unit": "",
    "condition_2_label": "step height",
    "condition_2_choices": "",
    "condition_2_unit": "cm",
}
ADD = "/clinic/measures/new"


def row_of(response, code: str) -> str:
    page: str = response.content.decode()
    return page.split(f'<tr role="row" id="{code}" ')[1].split("</tr>")[0]


def test_the_code_is_made_from_the_name_and_looked_at_before_anything_is_kept(cast):
    client = signed_in(cast.lead)
    first = client.post(ADD, posted(NEW, code=""))
    assert first.status_code == 422
    sentence = "This code was made from the name: check it, then save."
    assert errors_of(first) == {"code": [sentence]}
    assert 'name="code" value="own_step_hold_seconds"' in first.content.decode()
    assert not MeasureVersion.objects.filter(origin="clinic").exists()
    form = posted(NEW, code="own_hold")
    answers = {client.post(ADD, form)["Location"] for _ in range(2)}
    assert answers == {"/clinic/measures/#own_hold"}
    row = MeasureVersion.objects.get(origin="clinic")
    assert (str(row), row.created_by) == ("own_hold@1", cast.lead)


def test_a_preview_shows_the_row_and_keeps_nothing(cast):
    shown = signed_in(cast.lead).post(ADD, posted(NEW, code="", preview="1"))
    assert shown.status_code == 200
    part = shown.content.decode().split('aria-labelledby="preview-head"')[1].split("</section>")[0]
    names = re.findall(r'name="(v:[^"]+)"', part)
    assert names == [
        f"v:own_step_hold_seconds:{place}" for place in ("left", "left:2", "right", "right:2")
    ]
    assert "fieldset" in part
    assert "disabled" in part
    assert not MeasureVersion.objects.filter(origin="clinic").exists()


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"unit": ""}, "unit", "Choose the unit of the number."),
        ({"lowest": "a"}, "lowest", "Type a number with digits and one decimal mark: 12.5."),
        ({"highest": "0"}, "highest", "The highest value lies above the lowest."),
        (
            {"usual_low": "-1"},
            "usual_low",
            "It lies between the lowest and the highest possible value.",
        ),
        (
            {"summary": "single"},
            "summary",
            "One trial goes with “the one trial”, several with best, mean or median.",
        ),
        (
            {"unit": "deg"},
            "symmetry",
            "Grades, points and angles have no index: take the difference.",
        ),
        ({"kind": "grades", "grades": "none"}, "grades", "Type 2 to 12 words, one a line."),
        (
            {"condition_2_unit": ""},
            "condition_2_choices",
            "Type its choices, or choose its unit: one of the two.",
        ),
        ({"condition_2_label": "Shoes"}, "condition_2_label", "This condition stands there twice."),
        ({"code": "hold"}, "code", "Type own_ and then small letters, digits and low lines."),
        (
            {"short_label": "Effusion"},
            "short_label",
            "“Effusion” is the name of another measure. Choose another name.",
        ),
    ],
)
def test_what_cannot_be_taken_is_said_beside_its_field_and_nothing_typed_is_lost(
    cast, changes, field, sentence
):
    answer = signed_in(cast.lead).post(ADD, posted(NEW, {"code": "own_hold"}, changes))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in errors_of(answer)[field]
    assert "Other leg first." in page
    assert re.search(rf'<a href="#id_{field}[_0-9]*">', page)
    assert not MeasureVersion.objects.filter(origin="clinic").exists()


def test_a_change_that_somebody_overtook_shows_what_is_on_record(cast):
    add_own(cast)
    client, address = signed_in(cast.lead), "/clinic/measures/own_step_hold/"
    now = posted(NEW, short_label="Hold", seen=1)
    assert client.post(address, now).status_code == 302
    assert in_force().measures["own_step_hold"].short_label == "Hold"
    late = client.post(address, posted(NEW, short_label="Step", seen=1))
    assert late.status_code == 409
    assert ("Short name", "Hold") in late.context["form"].on_record_now()
    assert client.get("/clinic/measures/effusion/").status_code == 404


def test_the_list_says_what_each_measure_is_and_how_it_stands(cast):
    add_own(cast)
    used(cast)
    switched(cast, "own_step_hold", "retired")
    page = signed_in(cast.lead).get("/clinic/measures/")
    own, flexion = (row_of(page, code) for code in ("own_step_hold", "knee_flexion"))
    assert "this clinic’s own" in own
    assert "<li>This clinic’s own, no published error</li>" in own
    assert re.findall(r'name="state" value="(\w+)"', own) == ["on"]
    assert ">2</td>" in own
    assert "Step-down work asks for it: its criterion will stay not tested." in flexion
    assert re.findall(r'name="state" value="(\w+)"', flexion) == ["off"]
    assert 'name="anyway"' in flexion


def test_the_groups_say_how_much_of_them_is_not_asked_for(cast):
    switched(cast, "knee_flexion", "off")
    groups = signed_in(cast.lead).get("/clinic/measures/").context["groups"]
    assert [(group.label, group.off) for group in groups if group.off] == [("Range", 1)]
    assert sum(len(group.rows) for group in groups) == len(catalogue())


def test_switching_goes_ahead_only_with_the_tick(cast):
    client, address = signed_in(cast.lead), "/clinic/measures/knee_flexion/switch"
    form: dict[str, Any] = {"key": key(), "state": "off", "seen": "on"}
    refused = client.post(address, form)
    assert refused.status_code == 422
    assert "Tick the box to go ahead all the same." in words_of(refused)
    assert not Switch.objects.exists()
    done = client.post(address, {**form, "key": key(), "anyway": "1"})
    assert done["Location"] == "/clinic/measures/#knee_flexion"
    assert Switch.objects.get().state == "off"


LIST = 7
"""Session, person, roles; what is in force; readings and questionnaires counted; the audit row."""


@pytest.mark.parametrize("count", [1, 3])
def test_the_list_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    for number in range(1, count + 1):
        used(cast, add_own(cast, number))
    switched(cast, "own_step_hold", "retired")
    client = signed_in(cast.lead)
    client.get("/clinic/measures/")
    with django_assert_num_queries(LIST):
        response = client.get("/clinic/measures/")
    rows = [row for group in response.context["groups"] for row in group.rows]
    own = [row.used for row in rows if row.measure.own]
    assert own == [2] * count


WORD = some.text(
    alphabet=some.characters(categories=["L", "N"]) | some.just(" "), min_size=1, max_size=12
).map(str.strip)
WORDS = some.lists(WORD.filter(bool), min_size=2, max_size=6, unique=True)
NAME = WORD.filter(bool)
NUMBERS = some.lists(
    some.decimals(min_value=-500, max_value=500, places=1), min_size=4, max_size=4, unique=True
)


@some.composite
def typed(draw: Any) -> dict[str, Any]:
    """What a lead could type, without a contradiction."""
    kind = draw(some.sampled_from(["number", "yes_no", "grades"]))
    low, usual_low, usual_high, high = sorted(draw(NUMBERS))
    unit = draw(some.sampled_from(sorted(UNITS)))
    trials = draw(some.integers(1, 6)) if kind == "number" else 1
    limits = {"lowest": low, "usual_low": usual_low, "usual_high": usual_high, "highest": high}
    number = kind == "number"
    conditions: dict[str, str] = {}
    filled = draw(some.integers(0, 4))
    for place in range(1, 5):
        shape = draw(some.sampled_from(["choices", "unit"])) if place <= filled else "none"
        conditions |= {
            f"condition_{place}_label": "" if shape == "none" else f"{draw(NAME)} {place}",
            f"condition_{place}_choices": "\n".join(draw(WORDS)) if shape == "choices" else "",
            f"condition_{place}_unit": draw(some.sampled_from(sorted(UNITS)))
            if shape == "unit"
            else "",
        }
    return {
        "label": draw(NAME),
        "short_label": draw(NAME),
        "code": "own_typed",
        "kind": kind,
        "unit": unit if number else "",
        "grades": "\n".join(draw(WORDS)) if kind == "grades" else "",
        "per_limb": "yes",
        "better": draw(some.sampled_from(["higher", "lower"])),
        "symmetry": draw(some.sampled_from(["difference", "none"]))
        if not number or unit in ("deg", "{score}")
        else draw(some.sampled_from(["index", "difference", "none"])),
        **{name: value if number else None for name, value in limits.items()},
        "decimals": draw(some.integers(0, 3)) if number and not unit.startswith("{") else 0,
        "trials": trials,
        "summary": "single" if trials == 1 else draw(some.sampled_from(["best", "mean", "median"])),
        **{name: draw(NAME) for name in ("when_to_use", "how_to_do", "how_to_read")},
        **conditions,
    }


@settings(max_examples=40)
@given(typed=typed())
def test_an_own_measure_read_back_equals_what_was_typed(typed: dict[str, Any]) -> None:
    sent = QueryDict(mutable=True)
    for name, value in {"key": key(), **typed}.items():
        text = plain(value=value) if isinstance(value, Decimal) else str(value or "")
        sent[name] = "0" if value == 0 and not isinstance(value, Decimal) else text
    form = AddMeasureForm(sent)
    assert form.errors == {}
    assert typed_of(measure=measure_from(form.mapping)) == typed


def test_own_measures_say_so_where_a_published_one_shows_its_source(cast):
    add_own(cast)
    used(cast, on=WEEK_12)
    used(cast)
    client = signed_in(cast.clinician)
    page = client.get(f"/patients/{cast.ines.uid}/").content.decode()
    opened = next(
        part for part in page.split("<details") if "Step hold, seconds, version 1" in part
    )
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", opened))
    assert "Source This clinic’s own, no published error Version" in text
    assert "No published error is known: nothing is called borderline or a real change." in text
    course = client.get(f"/episodes/{cast.episode.uid}/courses/own_step_hold")
    assert course.status_code == 200
    assert "Step hold" in words_of(course)
