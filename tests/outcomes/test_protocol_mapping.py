"""What a lead may change of a protocol: an untouched form is the protocol itself."""

from copy import deepcopy
from decimal import Decimal
from uuid import uuid4

import pytest
from django.http import QueryDict
from hypothesis import given
from hypothesis import strategies as some

from outcomes.catalogue.seeds import load_catalogue
from outcomes.forms.protocol_drafts import MilestoneForm
from outcomes.forms.protocol_mapping import (
    band_words,
    gate_settings,
    relabelled,
    settings_of,
    sources_of,
    stepped,
)
from outcomes.forms.protocol_rarer import rarer_of
from outcomes.protocols.seeds import protocol_seeds

SHIPPED = {name: mapping for name, mapping in protocol_seeds() if "asked" not in name}
CATALOGUE = load_catalogue()
EVERY = [(name, one["code"]) for name, body in SHIPPED.items() for one in body["milestones"]]


def form(name, milestone, **changes):
    body = SHIPPED[name]
    given = {"body": body, "base": body, "measures": CATALOGUE, "milestone": milestone}
    row = next(one for one in body["milestones"] if one["code"] == milestone)
    now = {"label": row["label"], "seen": 1}
    blank = MilestoneForm(initial=now, **given)
    data = QueryDict(mutable=True)
    for field in blank.fields:
        value = blank[field].value()
        if value is not None:
            data[field] = str(value)
    data.update({"key": str(uuid4()), **changes})
    return MilestoneForm(data, initial=now, **given)


@pytest.mark.parametrize(("name", "milestone"), EVERY)
def test_a_milestone_saved_untouched_is_what_it_was(name, milestone):
    made = form(name, milestone)
    assert made.is_valid(), made.errors
    assert made.made == SHIPPED[name]


@pytest.mark.parametrize("name", SHIPPED)
def test_every_setting_is_found_where_it_says_and_can_be_put_back(name):
    seen = 0
    for milestone in SHIPPED[name]["milestones"]:
        parts = [
            (row, [*settings_of(row, measures=CATALOGUE), *rarer_of(row, measures=CATALOGUE)])
            for row in milestone["criteria"]
        ]
        for row, settings in [*parts, (milestone["gate"], gate_settings(milestone["gate"]))]:
            for one in settings:
                before = one.of(row)
                assert before is not None or not one.needed
                copy = deepcopy(dict(row))
                one.put(copy, "other")
                assert one.of(copy) == "other"
                one.put(copy, before)
                assert copy == row
                seen += 1
    assert seen > 20


@given(number=some.integers(1, 149))
def test_a_number_keeps_its_source_exactly_when_it_is_the_same(number):
    base = next(
        row
        for row in SHIPPED["starter-2.toml"]["milestones"][1]["criteria"]
        if row["code"] == "quadriceps"
    )
    new = {**base, "threshold": {**base["threshold"], "value": str(number)}}
    found = sources_of(base=base, new=new, settings=settings_of(base, measures=CATALOGUE))
    kept = Decimal(base["threshold"]["value"]) == number
    assert (found == base["sources"]) is kept
    assert (found[0]["mark"] == "clinic_setting") is not kept


def test_a_threshold_by_sex_a_later_month_and_a_group_say_what_they_were():
    made = form(
        "composite-1.toml",
        "stage_6",
        **{"quadriceps_per_kg-value_female": "2.5", "later_0": "14"},
    )
    assert made.is_valid(), made.errors
    stage = made.made["milestones"][-1]
    torque = next(row for row in stage["criteria"] if row["code"] == "quadriceps_per_kg")
    assert torque["value_by_sex"] == {"male": "3.0", "female": "2.5"}
    assert torque["label"] == "Quadriceps torque for body mass, by sex"
    assert torque["sources"][0]["text"].startswith(
        "This clinic’s setting, was for women 2.71 N·m/kg by Isometric 3.0 N·m/kg, n = 48"
    )
    assert stage["gate"]["later"]["graft:allograft"] == 14
    assert stage["gate"]["sources"][0]["text"].startswith(
        "This clinic’s setting, was month 12 for graft allograft by Second injuries fell"
    )


def test_a_number_that_a_name_carries_changes_with_it_and_only_there():
    assert relabelled("No giving way in the last 84 days", old=84, new=56) == (
        "No giving way in the last 56 days"
    )
    assert relabelled("Torque for body mass", old="3.0", new="2.5") == "Torque for body mass"
    assert relabelled("Pain at most 2 of 2", old="2", new="3") is None
    assert relabelled("Effusion at most a trace", old="trace", new="zero") is None
    assert relabelled("Flexion at least 120.5° or 120°", old="120", new="110") == (
        "Flexion at least 120.5° or 110°"
    )


@given(
    rows=some.lists(some.sampled_from("abcdefgh"), unique=True, min_size=1),
    way=some.sampled_from(["up", "down", "remove"]),
    code=some.sampled_from("abcdefgh"),
)
def test_a_step_moves_one_by_one_place_or_takes_it_out(rows, way, code):
    found = [row["code"] for row in stepped([{"code": one} for one in rows], step=f"{way}:{code}")]
    if code not in rows:
        assert found == rows
    elif way == "remove":
        assert found == [one for one in rows if one != code]
    else:
        place = min(max(rows.index(code) + (-1 if way == "up" else 1), 0), len(rows) - 1)
        assert found.index(code) == place
        assert [one for one in found if one != code] == [one for one in rows if one != code]


def test_bands_are_named_by_whom_they_are_for():
    assert band_words({"sex": "male", "below_age": 25}) == "men, under 25 years"
    assert band_words({"graft": "hamstring", "from_age": 18}) == "hamstring, from 18 years"
    assert band_words({}) == "everybody"
