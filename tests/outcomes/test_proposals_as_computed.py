"""The site proposes what the call ``next_step`` answers for the same record."""

import json
from datetime import timedelta
from decimal import Decimal
from random import Random

import pytest

from clinic.models import care
from outcomes.core.readings import conditions_of
from outcomes.core.values import Limb
from outcomes.queries.compute import answer_line
from outcomes.queries.next_steps import gather, proposals_of
from outcomes.queries.plan import progressions
from tests.cast import TODAY
from tests.factories.outcomes import PlanStepFactory, ReadingFactory, both_limbs, signed_visit
from tests.outcomes.story import limit

ONE = ("pain_worst_24h", "pain_front_of_knee")
BOTH = {"standing_hip_hold": (5, 45), "quadriceps_torque": (80, 180), "knee_flexion": (100, 140)}


def lived(cast, dice: Random) -> None:
    """Some visits of the last weeks with what a clinician might have typed."""
    for days in sorted(dice.sample(range(60), 4), reverse=True):
        on = TODAY - timedelta(days=days)
        visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
        for code in ONE:
            pain = Decimal(dice.choice((0, 1, 2, 4)))
            ReadingFactory(visit=visit, measure=code, limb="right", value=pain)
        swelling = Decimal(dice.choice((0, 1, 1, 2)))
        ReadingFactory(visit=visit, measure="effusion", limb="right", value=swelling)
        for code, span in BOTH.items():
            both_limbs(visit=visit, measure=code, left=span[1], right=dice.randint(*span))
        if dice.random() < 0.5:
            both_limbs(
                visit=visit, measure="pelvic_drop_lateral_heel_touch", left=0,
                right=dice.randint(0, 3), details={"when": "only_at_depth"},
            )  # fmt: skip
    ReadingFactory(visit=visit, measure="body_mass", limb="none", value="62.5")
    if dice.random() < 0.3:
        limit(cast, kind=dice.choice(("weight_bearing", "loaded_flexion", "impact")))


def rows_of(found) -> list[dict]:
    """The readings as a call sends them: grades by their word."""
    measures = found.rules.measures
    return [
        {
            "measure": one.measure,
            "limb": one.limb.value,
            "value": measures[one.measure].word(value=one.value)
            if measures[one.measure].grades
            else float(one.value),
            "date": one.on.isoformat(),
            "conditions": dict(conditions_of(key=one.key)),
            "details": dict(one.details),
        }
        for one in found.record.readings
    ]


def called(found, standing) -> dict:
    """What the call answers for the same record."""
    facts = found.facts
    asked = {
        "calc": "next_step", "on": TODAY.isoformat(), "readings": rows_of(found),
        "progression": standing.progression.code, "level": standing.level,
        "since": standing.since.isoformat(),
        "episode": {
            "knee": facts.knee.value, "kind": facts.kind,
            "index_date": facts.index_date.isoformat(), "graft": facts.graft,
            "graft_from": facts.graft_from,
            "other_limb": None if facts.other_limb == "not_stated" else facts.other_limb,
            "sex": facts.sex, "birth_date": facts.birth_date.isoformat(), "goal": facts.goal,
        },
        "restrictions": [
            {"kind": one.kind, "from": one.since.isoformat(), "until": one.until.isoformat()}
            for one in found.record.restrictions
        ],
    }  # fmt: skip
    if standing.at is not None:
        asked["at"] = float(standing.at)
    answer: dict = json.loads(answer_line(line=json.dumps(asked))[0])
    assert answer["ok"], answer
    return answer


def sentences(reasons) -> list[str]:
    """Without a limit's own words, which no call sends."""
    return [one["sentence"] for one in reasons if one["rule"] != "surgeons_limit"]


@pytest.mark.parametrize("seed", range(12))
def test_page_and_call_propose_the_same(cast, seed):
    dice = Random(seed)
    lived(cast, dice)
    code = dice.choice([*progressions()])
    level = dice.choice(progressions()[code].levels)
    PlanStepFactory(
        episode=cast.episode, progression=code, level=level.code, reps=8, hold_s=None,
        at=level.steps.first if level.steps and level.steps.variable != "load" else None,
        since=TODAY - timedelta(days=dice.randint(5, 40)),
    )  # fmt: skip
    episode = care.Episode.objects.select_related("patient", "site").get(pk=cast.episode.pk)
    found = gather(episode=episode)
    assert found.facts.knee is Limb.RIGHT
    shown, answer = proposals_of(gathered=found)[code].body, called(found, found.standings[code])
    assert (answer["proposal"], answer["level"]) == (shown["move"], shown["level"])
    assert sentences(answer["reasons_for"]) == sentences(shown["reasons_for"])
    assert sentences(answer["reasons_against"]) == sentences(shown["reasons_against"])
    assert [one["kind"] for one in answer["blocked_by"]] == [
        one["kind"] for one in shown["blocked_by"]
    ]
    given = shown["dose"]
    assert {name: answer["dose"][name] for name in ("sets", "days_a_week")} == {
        name: given[name] for name in ("sets", "days_a_week")
    }
    load = given["load_kg"]
    assert answer["dose"]["load_kg"] == (None if load is None else float(load))
