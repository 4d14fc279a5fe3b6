"""The list of protocols, one to read, what new episodes take, and lists of several protocols."""

import json
from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest

from clinic.models.audit import AuditEntry
from clinic.models.care import Episode
from clinic.models.places import Site
from outcomes.core.events import Side
from outcomes.core.kinds import Form, Operator, Subject
from outcomes.core.values import Band, Criterion, Mark, Source
from outcomes.models.versions import ProtocolVersion
from outcomes.queries.catalogue import DEFAULT, in_force
from outcomes.queries.compute import answer_line
from outcomes.queries.protocol_words import asks, gate_words
from tests.clinic.desk import EPISODE, OPERATION, PERSON, posted
from tests.factories.clinic import EpisodeFactory, PatientFactory
from tests.outcomes.followed import follow
from tests.outcomes.own_protocol import CODE, own_version
from tests.web import signed_in, words_of

OWN = f"{CODE}@1"
LIST, EPISODES, DIFFERENCE = 8, 7, 26


def several(cast, number):
    """So many own protocols, and an episode that follows each."""
    for place in range(number):
        own_version(cast, label=f"Harbour {place}")
        EpisodeFactory(patient=PatientFactory(), site=cast.harbour, protocol=f"{CODE}_{place}@1")


@pytest.mark.parametrize("number", [1, 3])
def test_the_list_and_the_moves_cost_the_same_for_one_and_three(
    cast, number, django_assert_num_queries
):
    several(cast, number)
    client = signed_in(cast.lead)
    client.get("/protocols/")
    with django_assert_num_queries(LIST):
        assert len(client.get("/protocols/").context["rows"]) == 4 + number
    with django_assert_num_queries(EPISODES):
        rows = client.get("/protocols/starter-2/episodes").context["form"].rows
    assert len(rows) == number


@pytest.mark.parametrize("number", [1, 3])
def test_the_difference_costs_the_same_for_one_and_three(cast, number, django_assert_num_queries):
    several(cast, number)
    client = signed_in(cast.lead)
    client.get("/protocols/composite-1/episodes")
    with django_assert_num_queries(DIFFERENCE):
        answer = client.post("/protocols/composite-1/episodes", {"key": str(uuid4()), "all": "1"})
    assert len(answer.context["found"]) == number + 1


def test_the_list_says_whose_each_version_is_who_published_it_and_how_many_follow_it(cast):
    own = own_version(cast)
    EpisodeFactory(patient=PatientFactory(), site=cast.harbour, protocol=OWN)
    EpisodeFactory(patient=PatientFactory(), site=cast.millbank, care_state="discharged")
    answer = signed_in(cast.clinician).get("/protocols/")
    assert [
        (row.name, row.label, row.own, row.published, row.note, row.follow)
        for row in answer.context["rows"]
    ] == [
        ("composite@1", "Composite protocol", False, "", "", 0),
        ("starter@2", "Starter protocol", False, "", "", 1),
        ("starter@1", "Starter protocol", False, "", "", 0),
        ("without_surgery@1", "Protocol without surgery", False, "", "", 0),
        (OWN, "Harbour", True, "Lena Varga, 25 Nov 2026, 09:00", "another threshold", 1),
    ]
    kept = list(ProtocolVersion.objects.order_by("pk").values_list("pk", flat=True))
    seen = AuditEntry.objects.get(act="see_caseload", subject="protocol")
    assert sorted(seen.subject_ids) == kept
    assert own.pk in seen.subject_ids


def test_one_version_is_read_with_each_number_beside_its_source_and_mark(cast):
    answer = signed_in(cast.clinician).get("/protocols/starter-2/")
    said = words_of(answer)
    assert (
        "Quadriceps symmetry at least 70 % at least 70 % counts 6 weeks "
        "Most reported running criteria in 201 studies (Rambaud 2018, Br J Sports Med 52:1437): "
        "read in the source (doi 10.1136/bjsports-2017-098602)"
    ) in said
    assert "Earliest date: not before week 12; without surgery: no earliest date." in said
    assert [one.code for one in answer.context["milestones"]] == [
        "step_down_work", "running", "hopping_landing", "competition",
    ]  # fmt: skip
    assert "Copy and edit" not in said
    assert signed_in(cast.clinician).get("/protocols/starter-9/").status_code == 404
    assert "Copy and edit" in words_of(signed_in(cast.lead).get("/protocols/starter-2/"))


def criterion(**given):
    some = {
        "code": "a", "label": "A", "measure": "", "form": Form.COUNT, "hard": True,
        "operator": Operator.AT_MOST, "value": Decimal(0), "unit": "", "maximum_age_days": 0,
        "sources": (Source(text="here", mark=Mark.CLINIC_SETTING),),
    }  # fmt: skip
    return Criterion(**{**some, **given})


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            {"subject": Subject.EVENT, "side": Side.SAME.value, "within_days": 84},
            "at most 0 events of this knee in 84 days",
        ),
        (
            {"subject": Subject.EVENT, "since": date(2026, 3, 14)},
            "at most 0 events since 14 Mar 2026",
        ),
        ({"subject": Subject.EVENT}, "at most 0 events since the index date"),
        (
            {"subject": Subject.GROUP, "of": ("b", "c"), "value": Decimal(1)},
            "1 of 2: Be; See",
        ),
        ({"subject": Subject.GROUP, "of": ("b", "c"), "value": Decimal(2)}, "all: Be; See"),
        (
            {"subject": Subject.SCORE, "form": Form.SCORE, "operator": Operator.GREATER,
             "value": Decimal(90)},
            "more than 90 points",
        ),
        (
            {"subject": Subject.SCORE, "form": Form.SCORE, "operator": Operator.AT_LEAST,
             "bands": (
                 Band(value=Decimal(80), sex="female", graft="quadriceps_tendon"),
                 Band(value=Decimal(85), from_age=18, below_age=25),
                 Band(value=Decimal(70)),
             )},
            "women, quadriceps tendon at least 80 points; from 18 years, under 25 years at least "
            "85 points; everybody at least 70 points",
        ),
    ],
)  # fmt: skip
def test_what_a_criterion_asks(given, said):
    names = {"b": "Be", "c": "See"}
    assert asks(criterion=criterion(**given), measures={}, names=names) == said


def test_a_threshold_by_sex_and_a_gate_that_is_later_for_some(cast):
    rules = in_force()
    last = rules.protocols["composite@1"].milestones[-1]
    (torque,) = (one for one in last.criteria if one.code == "quadriceps_per_kg")
    assert asks(criterion=torque, measures=rules.measures, names={}) == (
        "women at least 2.71 N·m/kg; men at least 3 N·m/kg"
    )
    assert gate_words(gate=last.gate, before_surgery=False) == (
        "not before month 9; allograft: month 12; graft not known: month 12; revision: month 12; "
        "under 16 years at the operation: month 12; without surgery: no earliest date"
    )


def test_followed_are_the_default_and_what_some_episode_follows(cast):
    assert [one.code for one in in_force().followed] == [DEFAULT]
    own_version(cast)
    Episode.objects.update(protocol="composite@1")
    assert [one.code for one in in_force().followed] == ["composite@1", DEFAULT]
    EpisodeFactory(patient=PatientFactory(), site=cast.millbank, protocol=OWN)
    assert [one.code for one in in_force().followed] == ["composite@1", OWN, DEFAULT]


def test_new_episodes_of_a_site_take_what_its_lead_chose_and_no_other_site_does(cast):
    own_version(cast)
    client = signed_in(cast.lead)
    form = {"key": str(uuid4()), "site": "harbour", "seen": ""}
    assert client.post(f"/protocols/{CODE}-1/new", form)["Location"] == f"/protocols/{CODE}-1/"
    assert dict(Site.objects.values_list("code", "protocol")) == {"harbour": OWN, "millbank": ""}
    assert client.post(f"/protocols/{CODE}-1/new", {**form, "key": str(uuid4())}).status_code == 409
    away = {"key": str(uuid4()), "site": "millbank", "seen": ""}
    assert client.post(f"/protocols/{CODE}-1/new", away).status_code == 404
    for who in (cast.clinician, cast.outsider):
        signed_in(who).post(
            "/patients/new", posted(PERSON, EPISODE, OPERATION, record_number=f"R-{who.pk}")
        )
    made = Episode.objects.exclude(pk=cast.episode.pk).order_by("pk")
    assert [(one.site.code, one.protocol) for one in made] == [
        ("harbour", OWN), ("millbank", DEFAULT),
    ]  # fmt: skip
    assert (Episode.objects.get(pk=cast.episode.pk).protocol) == DEFAULT
    row = AuditEntry.objects.get(act="protocol_for_new", outcome="done")
    assert (row.subject_ids, row.note) == ([cast.harbour.pk], f"as shipped, {OWN}")


def test_the_caseload_names_each_milestone_by_the_protocol_that_its_episode_follows(cast):
    own_version(cast, running="Run and walk")
    rules = in_force().rules
    follow(cast, "Ada Bell", next_milestone="running")
    for name, protocol in (("Bo Cole", OWN), ("Cy Dorn", "composite@1")):
        follow(
            cast, name, episode={"protocol": protocol}, rules_version=rules[protocol],
            next_milestone="running" if protocol == OWN else "stage_4",
        )  # fmt: skip
    answer = signed_in(cast.lead).get("/caseload/")
    said = {row["patient"]: row["milestone"].partition(": ")[0] for row in answer.context["rows"]}
    assert said == {
        "Ada Bell": "Running", "Bo Cole": "Run and walk", "Cy Dorn": "Stage 4",
        "Ines Marlow": "Step-down work",
    }  # fmt: skip
    offered = dict(answer.context["form"].offered["milestone"])
    assert (offered["running"], offered["stage_4"]) == (
        "next: run and walk, or running", "next: stage 4: run and land",
    )  # fmt: skip


def test_a_drawing_shows_the_thresholds_of_the_protocols_that_its_episodes_follow(cast):
    own_version(cast, quadriceps="60")
    follow(cast, "Ada Bell", quadriceps_lsi=75, quadriceps_on=date(2026, 11, 4))
    client = signed_in(cast.lead)

    def lines():
        drawn = client.get("/caseload/symmetry").context["spread"].thresholds
        return [(line.value, line.label) for line in drawn]

    assert lines()[0] == (Decimal(70), "running asks 70 %")
    Episode.objects.filter(pk=cast.episode.pk).update(protocol=OWN)
    assert lines()[:2] == [
        (Decimal(60), "running (Harbour, version 1) asks 60 %"),
        (Decimal(70), "running (Starter protocol, version 2) asks 70 %"),
    ]
    Episode.objects.update(protocol=OWN)
    assert lines()[:2] == [
        (Decimal(60), "running asks 60 %"), (Decimal(80), "hopping and landing asks 80 %"),
    ]  # fmt: skip


def test_compute_judges_by_a_protocol_of_the_clinics_own_on_its_database(cast):
    own_version(cast, quadriceps="90")
    call = {
        "calc": "milestones", "protocol": f"{CODE}@1", "on": "2026-06-01",
        "episode": {
            "knee": "right", "kind": "reconstruction", "index_date": "2026-02-16",
            "graft": "hamstring", "graft_from": "same_limb", "other_limb": "healthy",
            "sex": "female", "birth_date": "1999-05-02", "goal": "straight_line",
        },
        "readings": [
            {
                "measure": "quadriceps_torque", "limb": limb, "value": value, "date": "2026-05-30",
                "conditions": {"device": "fixed", "knee_angle": 90},
            }
            for limb, value in (("left", 200), ("right", 170))
        ],
    }  # fmt: skip

    def results(protocol):
        said = json.loads(answer_line(line=json.dumps(call | {"protocol": protocol}))[0])
        if not said["ok"]:
            return said["error"]
        rows = said["milestones"][-1]["criteria"]
        one = next(row for row in rows if row["code"] == "quadriceps")
        return one["threshold"], one["result"]

    assert results("starter@2") == (70, "met")
    assert results(f"{CODE}@1") == (90, "not_met_borderline")
    assert results(f"{CODE}@2") == f'"protocol" cannot be "{CODE}@2": send one of "{CODE}@1".'
