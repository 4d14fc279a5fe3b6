"""What a lead adds to a draft, its goals and weeks, and what a published version must hold to."""

from __future__ import annotations

import json
from uuid import uuid4

import pytest
from django.http import QueryDict
from hypothesis import given
from hypothesis import strategies as some

from clinic.services.rules import Refused
from outcomes.catalogue.seeds import load_catalogue
from outcomes.forms.protocol_weeks import WeeksForm
from outcomes.models.versions import ProtocolDraft, ProtocolVersion
from outcomes.protocols.editing import out_of_order
from outcomes.protocols.reading import protocol_from
from outcomes.protocols.seeds import protocol_seeds
from outcomes.services import protocols as service
from tests.outcomes.own import lead_of
from tests.outcomes.own_protocol import CODE, DRAFT, copied, edited, published, sent
from tests.web import signed_in

STARTER = dict(protocol_seeds())["starter-2.toml"]
CATALOGUE = load_catalogue()
OWN = {"text": "This clinic’s setting", "mark": "clinic_setting"}
ADDED = [
    {
        "code": "single_hop_lsi", "label": "Single hop for distance symmetry: at least 82.5 %",
        "hard": True, "sources": [OWN], "measure": "single_hop", "form": "symmetry",
        "threshold": {"operator": ">=", "value": "82.5", "unit": "%"},
        "maximum_age_days": 42,
    },
    {
        "code": "effusion_2", "label": "Calm knee", "hard": False,
        "sources": [{"text": "Own audit of 2025", "mark": "seen"}], "measure": "effusion",
        "form": "grade",
        "threshold": {"operator": "<=", "value": "trace", "unit": "{score}"},
        "maximum_age_days": 10,
    },
    {
        "code": "koos_sport", "label": "KOOS: Sport and recreation: at least 75 points",
        "hard": True, "sources": [OWN], "score": "koos.sport", "form": "score",
        "threshold": {"operator": ">=", "value": "75", "unit": "{score}"},
        "maximum_age_days": 42,
    },
    {
        "code": "giving_way", "label": "giving way: at most 0 events of this knee in 60 days",
        "hard": True, "sources": [OWN], "event": "giving_way", "side": "same",
        "threshold": {"operator": "<=", "value": 0, "unit": "{event}"}, "within_days": 60,
    },
]  # fmt: skip


def body():
    return ProtocolDraft.objects.get(code=CODE).body


def milestone(code, *, of=None):
    return next(one for one in (of or body())["milestones"] if one["code"] == code)


def filled(client, address, **changes):
    """A page's form as it stands, with some fields typed over, sent."""
    page = client.get(address).context["form"]
    return client.post(address, {**sent(page), **changes})


def errors(answer):
    return {name: list(said) for name, said in answer.context["form"].errors.items()}


def test_a_criterion_is_added_with_its_source_and_taken_away_again(cast):
    client = signed_in(cast.lead)
    copied(client)
    new = f"{DRAFT}running/new-criterion/"
    choose = client.get(new)
    offered = dict(choose.context["offered"])
    assert ("single_hop", CATALOGUE["single_hop"].label) in offered["Hops and landing"]
    assert client.post(new, {"key": str(uuid4())}).status_code == 422
    answer = filled(client, f"{new}?of=single_hop", form="symmetry", value="82.50")
    assert answer["Location"] == f"{DRAFT}running/#c-single_hop_lsi"
    filled(
        client, f"{new}?of=effusion", value="trace", operator="<=", hard="advisory",
        source="Own audit of 2025", mark="seen", label="Calm knee", maximum_age_days="10",
    )  # fmt: skip
    filled(client, f"{new}?of=koos.sport", value="75")
    filled(client, f"{new}?of=event:giving_way", within_days="60")
    assert milestone("running")["criteria"][-4:] == ADDED
    refused = filled(client, f"{new}?of=single_hop", form="symmetry", value="500")
    assert errors(refused) == {
        "value": ["This cannot be taken: 500 is outside 1 to 150. Type another value."]
    }
    edited(client, "running", single_hop_lsi__value="85")
    made = milestone("running")["criteria"][-4]
    assert (made["label"], made["sources"]) == (
        "Single hop for distance symmetry: at least 85 %", [OWN],
    )  # fmt: skip
    for code in ("single_hop_lsi", "effusion_2", "koos_sport", "giving_way"):
        edited(client, "running", step=f"remove:{code}")
    assert body()["milestones"] == STARTER["milestones"]


def test_a_group_is_made_of_the_advisory_criteria(cast):
    client = signed_in(cast.lead)
    copied(client)
    new = f"{DRAFT}running/new-criterion/"
    assert "Of this milestone" not in dict(client.get(new).context["offered"])
    edited(client, "running", quadriceps__hard="advisory")
    answer = filled(client, f"{new}?of=group", of=["flexion_130", "quadriceps"], needed="any")
    assert answer["Location"] == f"{DRAFT}running/#c-group"
    made = milestone("running")["criteria"][-1]
    assert (made["of"], made["needed"]) == (["flexion_130", "quadriceps"], "any")
    assert made["label"] == "1 of 2: Flexion over 130°; Quadriceps symmetry at least 70 %"


def test_a_milestone_is_added_with_criteria_and_taken_away_once_no_goal_stops_at_it(cast):
    client = signed_in(cast.lead)
    copied(client)
    page = f"{DRAFT}new-milestone/"
    answer = filled(
        client, page, label="Skip rope", after="running", like="running", number="14",
        source="Own audit", mark="seen",
    )  # fmt: skip
    assert answer["Location"] == f"{DRAFT}skip_rope/"
    assert [one["code"] for one in body()["milestones"]] == [
        "step_down_work", "running", "skip_rope", "hopping_landing", "competition",
    ]  # fmt: skip
    made, like = milestone("skip_rope"), milestone("running", of=STARTER)
    assert made["criteria"] == like["criteria"]
    assert made["gate"] == {
        "weeks": 14, "waived_for": like["gate"]["waived_for"],
        "sources": [{"text": "Own audit", "mark": "seen"}],
    }  # fmt: skip
    goals = f"{DRAFT}goal-table/"
    assert filled(client, goals, straight_line="skip_rope")["Location"] == DRAFT
    assert body()["last_by_goal"] == {**STARTER["last_by_goal"], "straight_line": "skip_rope"}
    assert client.get(DRAFT).context["differs"] == (
        "Order: Step-down work, Running, Skip rope, Hopping and landing and Competition.",
        "Skip rope is new.",
        "Goal straight line: the milestones stop with Skip rope, was Running.",
    )
    edit = client.get(DRAFT).context["edit"]
    refused = client.post(DRAFT, {**sent(edit), "step": "remove:skip_rope"})
    assert errors(refused) == {
        "__all__": [
            "A goal stops at that milestone. Open the goals first and let it stop at another one; "
            "then take this one away."
        ]
    }
    filled(client, goals, straight_line="running")
    client.post(DRAFT, {**sent(client.get(DRAFT).context["edit"]), "step": "remove:skip_rope"})
    assert body()["milestones"] == STARTER["milestones"]


def test_conditions_two_tests_grades_alike_and_a_number_by_sex_are_set_and_taken_back(cast):
    client = signed_in(cast.lead)
    copied(client)
    changes = {
        "quadriceps__repeated_apart_days": "7", "quadriceps__repeated_within_days": "30",
        "quadriceps__value_female": "65", "quadriceps__value_male": "75",
        "effusion__alike_to": "1+",
    }  # fmt: skip
    assert errors(edited(client, "running", **changes)) == {
        "quadriceps-label": ["The threshold changed: write in the name what is asked now."]
    }
    changes["quadriceps__label"] = "Quadriceps symmetry, by sex"
    assert edited(client, "running", **changes).status_code == 302
    rows = {one["code"]: one for one in milestone("running")["criteria"]}
    asked = rows["quadriceps"]
    assert asked["repeated"] == {"apart_days": 7, "within_days": 30}
    assert asked["value_by_sex"] == {"female": "65", "male": "75"}
    assert asked["sources"][0]["text"].startswith("This clinic’s setting, was without “Another")
    assert rows["effusion"]["alike_to"] == "1+"
    half = edited(client, "running", quadriceps__repeated_within_days="")
    assert errors(half) == {
        "quadriceps-repeated_apart_days": [
            "Type both numbers of days, or leave both blank."
        ]
    }  # fmt: skip
    worse = edited(client, "running", effusion__alike_to="zero")
    assert errors(worse) == {
        "effusion-alike_to": [
            "This cannot be taken: Is a grade worse than the value. Type another value."
        ]
    }
    part = edited(client, "running", quadriceps__key_knee_angle="90")
    assert errors(part) == {
        "quadriceps-key_device": [
            "Choose or type: device. Its conditions are asked together, or none of them."
        ]
    }
    back = {"quadriceps__label": "Quadriceps symmetry at least 70 %"}
    edited(client, "running", **dict.fromkeys(changes, "") | back)
    assert body()["milestones"] == STARTER["milestones"]


def test_the_weeks_of_a_draft_leave_none_out_and_the_choice_of_a_set_has_its_source(cast):
    client = signed_in(cast.lead)
    copied(client)
    weeks = f"{DRAFT}asked-weeks/"
    before = body()["sets"]
    second = before[2]["from_week"]
    assert filled(client, weeks, add=str(second + 1))["Location"] == weeks
    made = body()["sets"]
    assert len(made) == len(before) + 1
    assert made[3] == {
        **before[2], "label": f"From week {second + 1}", "from_week": second + 1,
    }  # fmt: skip
    assert made[2] == {**before[2], "to_week": second}
    twice = filled(client, weeks, add=str(second))
    assert errors(twice) == {
        "add": [f"A set begins in week {second} already: edit that one."]
    }  # fmt: skip
    late = filled(client, weeks, from_2=str(second + 1))
    assert errors(late) == {
        "from_3": [f"Type a week after week {second + 1}: the set above begins in that one."]
    }
    client.post(weeks, {**sent(client.get(weeks).context["form"]), "step": "remove:3"})
    assert body()["sets"] == before
    keep = [code for code in before[2]["measures"] if code != "effusion"]
    filled(client, f"{weeks}2/", measures=[*reversed(keep), "triple_hop"])
    found = body()["sets"][2]
    assert found["measures"] == [*keep, "triple_hop"]
    assert found["sources"][0]["text"].startswith("This clinic’s setting, another choice than ")
    assert errors(filled(client, f"{weeks}2/", measures=[])) == {
        "measures": ["Tick at least one measure."]
    }
    assert client.get(f"{weeks}40/").status_code == 404
    assert client.get(DRAFT).context["differs"][0].startswith(f"Visits weeks {second} to ")


@given(starts=some.lists(some.integers(1, 80), min_size=7, max_size=7), add=some.integers(1, 90))
def test_weeks_that_are_taken_stand_in_exactly_one_set_each(starts, add):
    """Law: whatever is typed, what the form makes has every week once, or it is refused."""
    given = {"body": STARTER, "base": STARTER, "measures": CATALOGUE, "initial": {"seen": 1}}
    blank = WeeksForm(**given)
    names = [name for name in blank.fields if name.startswith("from_")]
    data = QueryDict(mutable=True)
    data.update({"key": str(uuid4()), "seen": "1", "add": str(add)})
    data.update({name: str(week) for name, week in zip(names, starts, strict=False)})
    form = WeeksForm(data, **given)
    ordered = starts[: len(names)]
    distinct = ordered == sorted(set(ordered))
    assert form.is_valid() is (distinct and add not in ordered)
    if form.is_valid():
        sets = protocol_from(form.made, CATALOGUE, where="").sets
        for week in [None, *range(120)]:
            assert sum(one.holds(week=week) for one in sets) == 1


def test_dates_out_of_order_are_said_on_the_draft_and_refused_at_publishing(cast):
    client = signed_in(cast.lead)
    copied(client)
    edited(client, "hopping_landing", gate="11")
    said = (
        "Hopping and landing could be entered before Running, which stands before it: week 11 and "
        "week 12. Give it a later earliest date, or change their order."
    )
    assert client.get(DRAFT).context["order"] == (said,)
    answer = published(client)
    assert (answer.status_code, errors(answer)) == (422, {"__all__": [said]})
    assert not ProtocolVersion.objects.filter(code=CODE).exists()
    edited(client, "hopping_landing", gate="12")
    assert published(client).status_code == 302


@pytest.mark.parametrize(
    ("gates", "found"),
    [
        (({"weeks": 12}, {"months": 3}), []),
        (({"weeks": 14}, {"months": 3}), [""]),
        (({"months": 9, "later": {"under_16": 12}}, {"months": 10}), ["under_16"]),
        (
            ({"months": 9, "later": {"under_16": 12}}, {"months": 10, "later": {"under_16": 12}}),
            [],
        ),
    ],
)
def test_dates_are_compared_for_everybody_and_for_those_whose_date_is_later(gates, found):
    rows = [
        {**row, "gate": {**gate, "sources": [OWN]}}
        for row, gate in zip(STARTER["milestones"], gates, strict=False)
    ]
    goals = dict.fromkeys(STARTER["last_by_goal"], rows[1]["code"])
    made = {**STARTER, "milestones": rows, "last_by_goal": goals}
    protocol = protocol_from(made, CATALOGUE, where="")
    assert [one.who for one in out_of_order(protocol=protocol)] == found


def test_no_way_into_a_draft_lets_a_changed_number_keep_the_source_of_the_old_one(cast):
    client = signed_in(cast.lead)
    copied(client)
    made = json.loads(json.dumps(body()))
    rows = milestone("running", of=made)["criteria"]
    asked = next(one for one in rows if one["code"] == "quadriceps")
    asked["threshold"]["value"] = "60"
    sentence = (
        "The number changed, and this source speaks of the number before. Type the source of the "
        "new one, or leave it blank: then it is this clinic’s setting."
    )
    with pytest.raises(Refused) as refused:
        service.save(
            actor=lead_of(cast), key=uuid4(), code=CODE, seen=1, body=made, answer=""
        )  # fmt: skip
    assert refused.value.errors == {"quadriceps-source": sentence}
    assert body()["milestones"] == STARTER["milestones"]
