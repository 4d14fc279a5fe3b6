"""What a visit asks for week by week: the shipped sets, and what the reader refuses."""

from copy import deepcopy

import pytest

from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.tasks import LED, PAIN
from outcomes.core.sets import asked, usual_from
from outcomes.protocols.reading import protocol_from
from outcomes.protocols.seeds import load_protocols, protocol_seeds
from outcomes.protocols.sets import FIRST_MEASURES
from tests.core.builders import CATALOGUE
from tests.core.tables import every_case

SEEDS = dict(protocol_seeds())
SHIPPED = load_protocols(CATALOGUE)
OLD, NEW = SHIPPED["starter@1"], SHIPPED["starter@2"]
WEEKS = (None, *range(160))


def measures(protocol, week, *, kind="reconstruction"):
    return asked(protocol=protocol, week=week, kind=kind)


def test_the_second_version_asks_by_week_and_judges_by_the_same_milestones():
    assert (NEW.milestones, NEW.last_by_goal) == (OLD.milestones, OLD.last_by_goal)
    assert [(one.first, one.last) for one in NEW.sets] == [
        (None, None), (0, 1), (2, 5), (6, 7), (8, 11), (12, 15), (16, 25), (26, None),
    ]  # fmt: skip


def test_every_week_has_one_set_and_no_measure_comes_before_its_earliest_week():
    for week in WEEKS:
        assert [one.holds(week=week) for one in NEW.sets].count(True) == 1
    for one in NEW.sets:
        early = {
            code for code in one.measures if (CATALOGUE[code].earliest_week or 0) > (one.first or 0)
        }
        assert one.first is None or early == set()


def test_the_first_week_asks_for_no_strength_no_hop_and_no_single_leg_task():
    assert measures(NEW, 0) == measures(NEW, 1) == {
        "wound_closed", "pain_worst_24h", "effusion", "knee_extension", "knee_flexion",
        "gait_without_aids", "quad_set_with_glide", "straight_leg_raise_without_lag",
    }  # fmt: skip
    week_1 = measures(NEW, 1)
    assert measures(NEW, 1, kind="without_surgery") == week_1 - {"wound_closed"}


def test_what_a_milestone_judges_is_asked_for_from_its_earliest_week_on():
    """A year stands for nine months and more; pain is asked with a heel touch."""
    for milestone in NEW.milestones:
        week = milestone.gate.weeks or 52
        judged = {criterion.measure for criterion in milestone.criteria}
        seen = {PAIN} if LED.keys() & measures(NEW, week) else set()
        assert judged <= measures(NEW, week) | seen


def test_the_first_version_asks_for_its_thirteen_measures_each_from_its_earliest_week():
    assert "sets" not in SEEDS["starter-1.toml"]
    assert len(FIRST_MEASURES) == 13
    for week in WEEKS:
        usual = {
            c for c in FIRST_MEASURES if week is None or (CATALOGUE[c].earliest_week or 0) <= week
        }
        assert measures(OLD, week) == usual


@every_case(
    ("code", "week", "first"),
    [
        ("single_hop", None, 16),
        ("single_hop", 15, 16),
        ("single_hop", 26, None),
        ("wound_closed", 2, None),
        ("quadriceps_torque", 0, 6),
        ("triple_hop", 16, 26),
        ("effusion", None, 0),
        ("effusion", 3, 6),
    ],
)
def test_when_a_measure_is_usual_next(code, week, first):
    assert usual_from(protocol=NEW, code=code, week=week) == first


def changed(number, **changes):
    mapping = deepcopy(SEEDS["starter-2.toml"])
    one = {**mapping["sets"][number], **changes}
    mapping["sets"][number] = {key: value for key, value in one.items() if value is not None}
    return mapping


REFUSED = [
    (0, {"before_surgery": None, "from_week": 0}, "sets: needs exactly one for before surgery"),
    (1, {"before_surgery": True, "from_week": None, "to_week": None}, "sets: needs exactly one"),
    (0, {"from_week": 0}, "sets[0]: from_week: is not known"),
    (1, {"measures": ["squat"]}, "sets[1]: measures: 'squat' is not in the catalogue"),
    (1, {"measures": ["reach_composite"]}, "sets[1]: measures: 'reach_composite' is worked"),
    (1, {"measures": ["effusion", "effusion"]}, "sets[1]: measures: names one twice"),
    (1, {"measures": []}, "sets[1]: measures: is missing"),
    (1, {"from_week": None}, "sets[1]: from_week: is missing"),
    (1, {"from_week": -1}, "sets[1]: from_week: must be at least 0"),
    (1, {"sources": []}, "sets[1]: sources: is missing"),
    (1, {"goal": "x"}, "sets[1]: goal: is not known"),
    (1, {"to_week": 2}, "sets: week 2 is in two of them"),
    (1, {"to_week": 0}, "sets: week 1 is in none of them"),
    (1, {"from_week": 1}, "sets: week 0 is in none of them"),
    (2, {"to_week": None}, "sets: only the last one has no end: Early weeks"),
    (2, {"to_week": 1}, "sets: Early weeks ends before it begins"),
    (1, {"operated": ["height"]}, "sets[1]: operated: must name some of the measures"),
    (7, {"to_week": 60}, "sets: the last one has no end"),
]


@every_case(("number", "changes", "said"), REFUSED)
def test_unknown_measures_holes_and_overlaps_are_refused(number, changes, said):
    with pytest.raises(SeedError) as refused:
        protocol_from(changed(number, **changes), CATALOGUE, where="starter-2.toml")
    assert str(refused.value).startswith(f"starter-2.toml: {said}")


def test_a_protocol_of_which_no_week_is_covered_is_refused():
    mapping = deepcopy(SEEDS["starter-2.toml"])
    mapping["sets"] = mapping["sets"][:1]
    with pytest.raises(SeedError, match="sets: the last one has no end"):
        protocol_from(mapping, CATALOGUE)
    mapping["sets"] = []
    with pytest.raises(SeedError, match="sets: is missing"):
        protocol_from(mapping, CATALOGUE)
