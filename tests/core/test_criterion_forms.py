"""What a criterion may look at besides one value: scores, events, changes, repeats, the body."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from outcomes.core.criteria import judge_on
from outcomes.core.evidence import evidence_of
from outcomes.core.fallback import fallback_for
from outcomes.core.values import (
    Band,
    Criterion,
    Event,
    Form,
    Operator,
    ReadingStatus,
    Reference,
    Repeat,
    Result,
    Score,
    Subject,
    Why,
)
from tests.core.builders import (
    CATALOGUE,
    NONE,
    SURGERY,
    L,
    R,
    after,
    both,
    facts,
    reading,
    sem_of,
)
from tests.core.tables import every_case

TODAY = after(weeks=40)
QUAD, HIP, REACH = "quadriceps_torque", "hip_abduction_force", "reach_anterior"
ISO = "device=fixed;knee_angle=90"


def rule(**changes):
    usual = {
        "code": "rule", "label": "Rule", "measure": QUAD, "form": Form.SYMMETRY,
        "operator": Operator.AT_LEAST, "value": Decimal(90), "unit": "%", "hard": True,
        "maximum_age_days": 42, "sources": (),
    }  # fmt: skip
    return Criterion(**{**usual, **changes})


def judged(one, readings=(), *, scores=(), events=(), on=TODAY, **changes):
    evidence = evidence_of(
        facts=facts(**changes), catalogue=CATALOGUE, readings=readings, on=on,
        scores=scores, events=events,
    )  # fmt: skip
    return judge_on(criterion=one, evidence=evidence)


def told(found):
    return found.result, found.value, found.why.why if found.why else None


def score(value, on=TODAY, code="ikdc.total", **changes):
    exact = None if value is None else Fraction(str(value))
    return Score(
        **{"code": code, "value": exact, "on": on, "line": code, "answered": 18, **changes}
    )


def days(number):
    return timedelta(days=number)


IKDC = rule(measure="ikdc.total", subject=Subject.SCORE, form=Form.SCORE, value=Decimal(85))
SCORES = [
    ("met", [score(85)], (Result.MET, 85, None)),
    ("not met by a hundredth", [score("84.99")], (Result.NOT_MET, Fraction("84.99"), None)),
    ("missing", [], (Result.NOT_TESTED, None, Why.NO_READING)),
    ("another score", [score(99, code="kos_adls.total")],
     (Result.NOT_TESTED, None, Why.NO_READING)),
    ("on its last day", [score(90, TODAY - days(42))], (Result.MET, 90, None)),
    ("stale by a day", [score(90, TODAY - days(43))], (Result.OUT_OF_DATE, 90, None)),
    ("before the operation", [score(90, SURGERY - days(1))],
     (Result.NOT_TESTED, None, Why.NO_READING)),
    ("after the day", [score(90, TODAY + days(1))], (Result.NOT_TESTED, None, Why.NO_READING)),
    ("too few answers", [score(None)], (Result.NOT_ASSESSABLE, None, Why.TOO_FEW_ANSWERS)),
    ("too few answers after a whole one", [score(90, TODAY - days(9)), score(None)],
     (Result.MET, 90, None)),
    ("the newest counts", [score(90, TODAY - days(9)), score(60)], (Result.NOT_MET, 60, None)),
]  # fmt: skip


@every_case(("scores", "expected"), [s[1:] for s in SCORES], ids=[s[0] for s in SCORES])
def test_a_score(scores, expected):
    assert told(judged(IKDC, scores=scores)) == expected


def test_over_and_at_least_are_different_rules_for_scores_too():
    over = rule(measure="ikdc.total", subject=Subject.SCORE, form=Form.SCORE,
                operator=Operator.GREATER, value=Decimal(90))  # fmt: skip
    assert judged(over, scores=[score(90)]).result is Result.NOT_MET
    assert judged(over, scores=[score("90.1")]).result is Result.MET


def test_a_score_has_changed_along_its_own_line_only():
    gained = rule(measure="ikdc.total", subject=Subject.SCORE, value=Decimal(10),
                  form=Form.CHANGE_SINCE_LAST)  # fmt: skip
    since = rule(measure="ikdc.total", subject=Subject.SCORE, value=Decimal(10),
                 form=Form.CHANGE_SINCE_SURGERY)  # fmt: skip
    line = [score(40, after(weeks=6)), score(70, after(weeks=30)), score(78)]
    assert told(judged(gained, scores=line)) == (Result.NOT_MET, 8, None)
    assert told(judged(since, scores=line)) == (Result.MET, 38, None)
    other = [score(40, after(weeks=6), line="child"), score(78)]
    assert told(judged(since, scores=other)) == (
        Result.NOT_ASSESSABLE, None, Why.NO_EARLIER_VALUE,
    )  # fmt: skip


def test_a_percentile_is_not_assessable_until_the_clinic_has_entered_it():
    within = rule(measure="ikdc.total", subject=Subject.SCORE, form=Form.PERCENTILE,
                  value=Decimal(15), unit="{percentile}")  # fmt: skip
    assert told(judged(within, scores=[score(99)])) == (
        Result.NOT_ASSESSABLE, None, Why.NO_CLINIC_NORM,
    )  # fmt: skip
    bands = (
        Band(value=Decimal(86), sex="female", from_age=18, below_age=35),
        Band(value=Decimal(80), sex="female", from_age=35),
    )
    entered = rule(measure="ikdc.total", subject=Subject.SCORE, form=Form.PERCENTILE,
                   value=Decimal(15), unit="{percentile}", bands=bands)  # fmt: skip
    at_25 = judged(entered, scores=[score(85)])
    assert (at_25.result, at_25.threshold) == (Result.NOT_MET, 86)
    born = date(TODAY.year - 35, TODAY.month, TODAY.day)
    assert judged(entered, scores=[score(85)], birth_date=born).result is Result.MET
    assert judged(entered, scores=[score(85)], birth_date=born + days(1)).threshold == 86
    assert told(judged(entered, scores=[score(99)], sex="male")) == (
        Result.NOT_ASSESSABLE, None, Why.NO_NORM,
    )  # fmt: skip


def test_a_threshold_by_graft():
    bands = (Band(value=Decimal(80), graft="patellar_tendon"), Band(value=Decimal(90)))
    by_graft = rule(bands=bands)
    rows = both(QUAD, "85", "100", TODAY)
    assert judged(by_graft, rows, graft="patellar_tendon").threshold == 80
    assert judged(by_graft, rows, graft="hamstring").threshold == 90


def gave_way(on, **changes):
    return Event(**{"code": "giving_way", "limb": L, "on": on, **changes})


NONE_LATELY = rule(measure="giving_way", subject=Subject.EVENT, form=Form.COUNT,
                   operator=Operator.AT_MOST, value=Decimal(0), unit="{event}", side="same",
                   within_days=28, maximum_age_days=0)  # fmt: skip
EVENTS = [
    ("none", [], (Result.MET, 0)),
    ("today", [gave_way(TODAY)], (Result.NOT_MET, 1)),
    ("on the first day of the window", [gave_way(TODAY - days(28))], (Result.NOT_MET, 1)),
    ("a day before the window", [gave_way(TODAY - days(29))], (Result.MET, 0)),
    ("tomorrow", [gave_way(TODAY + days(1))], (Result.MET, 0)),
    ("on the other side", [gave_way(TODAY, limb=R)], (Result.MET, 0)),
    ("another kind", [gave_way(TODAY, code="new_injury")], (Result.MET, 0)),
]


@every_case(("events", "expected"), [e[1:] for e in EVENTS], ids=[e[0] for e in EVENTS])
def test_what_has_not_happened_lately(events, expected):
    found = judged(NONE_LATELY, events=events)
    assert (found.result, found.value) == expected


def test_since_the_index_date_since_a_date_and_without_any_date():
    ever = rule(measure="giving_way", subject=Subject.EVENT, form=Form.COUNT, side="same",
                operator=Operator.AT_MOST, value=Decimal(1), unit="{event}",
                maximum_age_days=0)  # fmt: skip
    seen = [gave_way(SURGERY - days(1)), gave_way(SURGERY), gave_way(TODAY)]
    assert told(judged(ever, events=seen)) == (Result.NOT_MET, 2, None)
    dated = rule(measure="giving_way", subject=Subject.EVENT, form=Form.COUNT, side="same",
                 operator=Operator.AT_MOST, value=Decimal(1), unit="{event}",
                 since=SURGERY + days(1), maximum_age_days=0)  # fmt: skip
    assert told(judged(dated, events=seen)) == (Result.MET, 1, None)
    waiting = judged(ever, events=seen, index_date=None, kind="waiting")
    assert told(waiting) == (Result.NOT_ASSESSABLE, None, Why.NO_WINDOW)


def test_a_return_earlier_than_advised_meets_nothing():
    runs = rule(measure="return_to_running", subject=Subject.EVENT, form=Form.COUNT,
                side="person", value=Decimal(1), unit="{event}", maximum_age_days=0)  # fmt: skip
    back = {"code": "return_to_running", "limb": NONE}
    assert judged(runs, events=[gave_way(TODAY, **back)]).result is Result.MET
    assert judged(runs, events=[gave_way(TODAY, **back, early=True)]).result is Result.NOT_MET


PRE_INJURY = rule(form=Form.PRE_INJURY)


def test_the_limb_now_against_the_other_before_surgery():
    before = [reading(QUAD, R, "200", SURGERY - days(20))]
    now = both(QUAD, "180", "150", TODAY)
    assert told(judged(PRE_INJURY, [*before, *now])) == (Result.MET, 90, None)
    donor = judged(PRE_INJURY, [*before, *now], graft_from="other_limb")
    assert told(donor) == (Result.MET, 90, None)
    spoilt = judged(PRE_INJURY, [*before, *now], other_limb="earlier_surgery")
    assert told(spoilt) == (Result.NOT_ASSESSABLE, None, Why.OTHER_LIMB_NOT_FAIR)
    assert told(judged(PRE_INJURY, now)) == (
        Result.NOT_ASSESSABLE, None, Why.NO_VALUE_BEFORE_SURGERY,
    )  # fmt: skip
    elsewhere = [reading(QUAD, R, "200", SURGERY - days(20), key="device=handheld;knee_angle=90")]
    assert told(judged(PRE_INJURY, [*elsewhere, *now]))[2] is Why.DIFFERENT_KEY
    stale = judged(PRE_INJURY, [*before, *both(QUAD, "180", "150", TODAY - days(43))])
    assert stale.result is Result.OUT_OF_DATE


def test_lower_is_better_is_turned_round_against_before_surgery():
    faster = rule(measure="timed_hop_6m", form=Form.PRE_INJURY)
    rows = [reading("timed_hop_6m", R, "1.8", SURGERY - days(9)),
            *both("timed_hop_6m", "2.0", "2.5", TODAY)]  # fmt: skip
    assert told(judged(faster, rows)) == (Result.MET, 90, None)


def test_relative_to_the_body():
    hip = rule(measure=HIP, form=Form.PER_BODY_WEIGHT, value=Decimal(33))
    force = both(HIP, "196.133", "200", TODAY)
    mass = reading("body_mass", NONE, "60", TODAY - days(3))
    met = judged(hip, [*force, mass])
    assert told(met) == (Result.MET, Fraction(100, 3), None)
    assert mass.ref in met.refs
    assert told(judged(hip, force)) == (Result.NOT_ASSESSABLE, None, Why.NO_BODY_MASS)
    reach = rule(measure=REACH, form=Form.PER_LEG_LENGTH, value=Decimal(60))
    rows = both(REACH, "54", "60", TODAY)
    assert told(judged(reach, rows)) == (Result.NOT_ASSESSABLE, None, Why.NO_BODY_SIZE)
    legs = both("leg_length", "90", "91", TODAY - days(9), key="")
    near = judged(reach, [*rows, *legs])
    assert told(near) == (Result.MET_BORDERLINE, 60, None)
    margin = Decimal("1.645") * sem_of(REACH, "value") / 90 * 100
    assert abs((near.margin or 0) - margin) < Decimal("1e-20")
    hop = rule(measure="single_hop", form=Form.PER_HEIGHT, value=Decimal(80))
    tall = reading("height", NONE, "170", after(weeks=1))
    assert judged(hop, [*both("single_hop", "136", "150", TODAY), tall]).value == 80


def test_a_change_takes_the_same_key_an_earlier_day_and_this_knee():
    since = rule(measure="knee_flexion", form=Form.CHANGE_SINCE_SURGERY, value=Decimal(20),
                 unit="deg", maximum_age_days=30)  # fmt: skip
    last = rule(measure="knee_flexion", form=Form.CHANGE_SINCE_LAST, value=Decimal(20),
                unit="deg", maximum_age_days=30)  # fmt: skip
    rows = [
        reading("knee_flexion", L, "140", SURGERY - days(3)),
        reading("knee_flexion", L, "90", after(weeks=2)),
        reading("knee_flexion", L, "120", TODAY - days(9)),
        reading("knee_flexion", L, "125", TODAY),
    ]
    assert told(judged(since, rows)) == (Result.MET, 35, None)
    assert told(judged(last, rows)) == (Result.NOT_MET, 5, None)
    assert told(judged(last, rows[:2], on=after(weeks=2)))[2] is Why.NO_EARLIER_VALUE
    other = [reading("knee_flexion", L, "90", after(weeks=2), key="device=app"), rows[3]]
    assert told(judged(since, other))[2] is Why.NO_EARLIER_VALUE


def test_a_change_is_borderline_within_the_error_of_two_tests():
    """1.645 x sqrt 2 x 1.26 is 2.93 degrees of extension."""
    held = rule(measure="knee_extension", form=Form.CHANGE_SINCE_LAST, operator=Operator.AT_MOST,
                value=Decimal(0), unit="deg", maximum_age_days=30)  # fmt: skip
    before = reading("knee_extension", L, "2", TODAY - days(9))
    results = {
        now: judged(held, [before, reading("knee_extension", L, now, TODAY)]).result
        for now in ("-1", "0", "4", "5")
    }
    assert results == {
        "-1": Result.MET, "0": Result.MET_BORDERLINE, "4": Result.NOT_MET_BORDERLINE,
        "5": Result.NOT_MET,
    }  # fmt: skip


TWICE = rule(repeat=Repeat(apart_days=7, within_days=28))
GOOD, NEAR, BAD = ("200", "200"), ("182", "200"), ("100", "200")
REPEATS = [
    ("once", [(0, GOOD)], Result.NOT_TESTED),
    ("twice, a week apart", [(7, GOOD), (0, GOOD)], Result.MET),
    ("twice, six days apart", [(6, GOOD), (0, GOOD)], Result.NOT_TESTED),
    ("twice, four weeks apart", [(28, GOOD), (0, GOOD)], Result.MET),
    ("twice, too far apart", [(29, GOOD), (0, GOOD)], Result.NOT_TESTED),
    ("not met before", [(7, BAD), (0, GOOD)], Result.NOT_TESTED),
    ("not met now", [(7, GOOD), (0, BAD)], Result.NOT_MET),
    ("borderline now", [(7, GOOD), (0, NEAR)], Result.MET_BORDERLINE),
    ("borderline before", [(7, NEAR), (0, GOOD)], Result.MET_BORDERLINE),
    ("never", [], Result.NOT_TESTED),
]


@every_case(("tests", "result"), [r[1:] for r in REPEATS], ids=[r[0] for r in REPEATS])
def test_met_on_two_tests(tests, result):
    rows = [r for ago, values in tests for r in both(QUAD, values[0], values[1], TODAY - days(ago))]
    assert judged(TWICE, rows).result is result


def test_a_score_is_met_on_two_forms_of_one_line():
    twice = replace(IKDC, repeat=TWICE.repeat)
    now, before = score(90), score(86, TODAY - days(7))
    assert told(judged(twice, scores=[now, before])) == (Result.MET, 90, None)
    for other in (replace(before, line="child"), replace(before, value=Fraction(84))):
        found = told(judged(twice, scores=[now, other]))
        assert found == (Result.NOT_TESTED, 90, Why.NOT_REPEATED)


def test_a_second_test_under_another_key_is_no_second_test():
    rows = [*both(QUAD, "200", "200", TODAY - days(7), key="device=handheld;knee_angle=90"),
            *both(QUAD, "200", "200", TODAY)]  # fmt: skip
    assert told(judged(TWICE, rows)) == (Result.NOT_TESTED, 100, Why.NOT_REPEATED)


def stands_in(readings, one=None, **changes):
    evidence = evidence_of(facts=facts(**changes), catalogue=CATALOGUE, readings=readings, on=TODAY)
    found = fallback_for(criterion=one or rule(), evidence=evidence)
    return None if found is None else (found.reference, found.value)


def test_what_stands_in_where_the_other_limb_is_no_fair_reference():
    now = both(QUAD, "150", "180", TODAY)
    before = reading(QUAD, R, "200", SURGERY - days(9))
    mass = reading("body_mass", NONE, "60", TODAY)
    earlier = reading(QUAD, L, "140", TODAY - days(30))
    donor = {"graft_from": "other_limb"}
    hurt = {"other_limb": "current_problem"}
    assert stands_in(now) is None
    assert stands_in([*now, before], **donor) == (Reference.OTHER_BEFORE_SURGERY, 75)
    assert stands_in([*now, before, mass], **hurt) == (Reference.BODY_MASS, Fraction(5, 2))
    child = {**hurt, "birth_date": date(2012, 5, 5)}
    assert stands_in([*now, mass, earlier], **child) == (Reference.OWN_HISTORY, 10)
    assert stands_in(now, **child) == (Reference.NOTHING, None)
    unable = [reading(QUAD, L, None, TODAY, status=ReadingStatus.UNABLE)]
    assert stands_in(unable, **hurt) == (Reference.NOTHING, None)
    assert stands_in(now, rule(form=Form.PRE_INJURY), **hurt) is None
