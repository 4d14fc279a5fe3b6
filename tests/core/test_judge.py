"""Every kind of criterion through every result, and the milestones above them."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from outcomes.core.criteria import judge_criterion
from outcomes.core.values import (
    Criterion,
    NotAssessable,
    ReadingStatus,
    Result,
    Why,
)
from tests.core.builders import (
    CATALOGUE,
    FORWARD,
    KEYS,
    LATERAL,
    NONE,
    PROTOCOL,
    L,
    R,
    after,
    both,
    facts,
    reading,
)
from tests.core.tables import every_case

TODAY = after(weeks=40)
MILESTONES = {milestone.code: milestone for milestone in PROTOCOL.milestones}
QUAD, EXT, HOP = "quadriceps_torque", "knee_extension", "single_hop"


def criterion(milestone: str, code: str) -> Criterion:
    return next(c for c in MILESTONES[milestone].criteria if c.code == code)


def judged(rule, readings, *, mass=None, on=TODAY, **changes):
    return judge_criterion(
        criterion=rule,
        measure=CATALOGUE[rule.measure],
        readings=readings,
        facts=facts(**changes),
        on=on,
        body_mass=mass,
    )


QUAD_90 = criterion("competition", "quadriceps")
QUAD_PER_KG = criterion("competition", "quadriceps_per_kg")
EXT_2 = criterion("running", "extension")
FLEX_10 = criterion("running", "flexion")
FLEX_130 = criterion("running", "flexion_130")
EFFUSION = criterion("running", "effusion")
LATERAL_20 = criterion("running", "lateral_heel_touch")
TIMED_90 = criterion("competition", "timed_hop")
OLD = timedelta(days=42)
SINCE = TODAY - timedelta(days=9)

# Quadriceps symmetry at least 90 %, SEM 4 points: borderline within 6.58 points.
BY_RATIO = [
    ("nothing measured", [], Result.NOT_TESTED, Why.NO_READING),
    ("met", both(QUAD, "194", "200", TODAY), Result.MET, None),
    ("met, borderline", both(QUAD, "180", "200", TODAY), Result.MET_BORDERLINE, None),
    ("not met, borderline", both(QUAD, "179.9", "200", TODAY), Result.NOT_MET_BORDERLINE, None),
    ("not met", both(QUAD, "160", "200", TODAY), Result.NOT_MET, None),
    ("exactly 90", both(QUAD, "18.9", "21.0", TODAY), Result.MET_BORDERLINE, None),
    ("on the last day", both(QUAD, "194", "200", TODAY - OLD), Result.MET, None),
    (
        "stale by one day",
        both(QUAD, "194", "200", TODAY - OLD - timedelta(days=1)),
        Result.OUT_OF_DATE,
        None,
    ),
    (
        "only the other limb",
        [reading(QUAD, R, "200", TODAY)],
        Result.NOT_TESTED,
        Why.NO_READING,
    ),
    (
        "other limb missing",
        [reading(QUAD, L, "190", TODAY)],
        Result.NOT_ASSESSABLE,
        Why.OTHER_LIMB_NOT_TESTED,
    ),
    (
        "other key on the same day",
        [
            reading(QUAD, L, "190", TODAY),
            reading(QUAD, R, "200", TODAY, key="device=handheld;knee_angle=90"),
        ],
        Result.NOT_ASSESSABLE,
        Why.DIFFERENT_KEY,
    ),
    (
        "stopped by pain after an older pair",
        [
            *both(QUAD, "194", "200", TODAY - timedelta(days=20)),
            *both(QUAD, "100", "200", TODAY, status=ReadingStatus.STOPPED_BY_PAIN),
        ],
        Result.NOT_ASSESSABLE,
        Why.LIMITED_BY_PAIN,
    ),
    (
        "not possible after an older pair",
        [
            *both(QUAD, "194", "200", TODAY - timedelta(days=20)),
            *both(QUAD, None, None, TODAY, status=ReadingStatus.UNABLE),
        ],
        Result.NOT_ASSESSABLE,
        Why.NOT_DONE,
    ),
    (
        "declined after an older pair",
        [
            *both(QUAD, "194", "200", TODAY - timedelta(days=20)),
            *both(QUAD, None, None, TODAY, status=ReadingStatus.DECLINED),
        ],
        Result.MET,
        None,
    ),
    (
        "declined and nothing older",
        both(QUAD, None, None, TODAY, status=ReadingStatus.DECLINED),
        Result.NOT_ASSESSABLE,
        Why.NOT_DONE,
    ),
    (
        "declined, and the older pair is stale",
        [
            *both(QUAD, "194", "200", TODAY - OLD - timedelta(days=1)),
            *both(QUAD, None, None, TODAY, status=ReadingStatus.DECLINED),
        ],
        Result.NOT_ASSESSABLE,
        Why.NOT_DONE,
    ),
    ("tomorrow's reading", both(QUAD, "194", "200", TODAY + timedelta(days=1)), Result.NOT_TESTED,
     Why.NO_READING),
    (
        "the other limb under another key says nothing of this one",
        [reading(QUAD, R, "200", TODAY, key="device=handheld;knee_angle=90")],
        Result.NOT_TESTED,
        Why.NO_READING,
    ),
    ("another measure", both(HOP, "194", "200", TODAY), Result.NOT_TESTED, Why.NO_READING),
    (
        "newest pair counts",
        [*both(QUAD, "160", "200", TODAY), *both(QUAD, "200", "200", TODAY - timedelta(days=1))],
        Result.NOT_MET,
        None,
    ),
]  # fmt: skip


@every_case(
    ("rows", "result", "why"), [case[1:] for case in BY_RATIO], ids=[case[0] for case in BY_RATIO]
)
def test_a_symmetry_criterion(rows, result, why):
    for order in (rows, rows[::-1]):
        found = judged(QUAD_90, order)
        assert found.result is result
        assert (found.why.why if found.why else None) is why


def test_a_result_can_be_opened_to_its_inputs():
    rows = both(QUAD, "180", "200", TODAY)
    found = judged(QUAD_90, rows)
    assert (found.value, found.threshold, found.on) == (Fraction(90), Decimal(90), TODAY)
    assert found.margin == Decimal("6.580")
    assert set(found.refs) == {row.ref for row in rows}
    assert found.criterion.sources[0].text.startswith("At least 90 %")


def test_an_out_of_date_result_still_shows_its_value_and_day():
    day = TODAY - timedelta(days=100)
    found = judged(QUAD_90, both(QUAD, "154", "200", day))
    assert (found.result, found.value, found.on) == (Result.OUT_OF_DATE, Fraction(77), day)


@every_case(
    "changes",
    [
        {"graft_from": "other_limb"},
        {"other_limb": "earlier_surgery"},
        {"other_limb": "not_stated"},
        {"other_knee_followed": True},
    ],
)
@every_case(("rule", "code"), [(QUAD_90, QUAD), (EXT_2, EXT)])
def test_an_unfair_other_limb_is_not_assessable_but_untested_stays_untested(rule, code, changes):
    found = judged(rule, both(code, "20", "20", TODAY), **changes)
    assert (found.result, found.why.why) == (Result.NOT_ASSESSABLE, Why.OTHER_LIMB_NOT_FAIR)
    assert judged(rule, [], **changes).result is Result.NOT_TESTED


@every_case(
    ("rule", "code", "mine", "other", "result"),
    [
        (EXT_2, EXT, "2", "0", Result.MET_BORDERLINE),
        (EXT_2, EXT, "3", "0", Result.NOT_MET_BORDERLINE),
        (EXT_2, EXT, "5", "0", Result.NOT_MET),
        (EXT_2, EXT, "0", "-5", Result.NOT_MET),
        (EXT_2, EXT, "-5", "-12", Result.MET_BORDERLINE),
        (EXT_2, EXT, "-1", "-12", Result.NOT_MET_BORDERLINE),
        (EXT_2, EXT, "-4", "0", Result.MET),
        (FLEX_10, "knee_flexion", "130", "140", Result.MET),
        (FLEX_10, "knee_flexion", "129", "140", Result.NOT_MET),
        (FLEX_10, "knee_flexion", "145", "140", Result.MET),
        (FLEX_130, "knee_flexion", "130", None, Result.NOT_MET),
        (FLEX_130, "knee_flexion", "131", None, Result.MET),
        (TIMED_90, "timed_hop_6m", "2.40", "1.95", Result.NOT_MET_BORDERLINE),
        (TIMED_90, "timed_hop_6m", "1.95", "2.40", Result.MET),
        (EFFUSION, "effusion", "trace", None, Result.MET),
        (EFFUSION, "effusion", "1+", None, Result.NOT_MET),
    ],
)
def test_direction_of_each_form(rule, code, mine, other, result):
    rows = [reading(code, L, mine, TODAY)]
    rows += [] if other is None else [reading(code, R, other, TODAY)]
    assert judged(rule, rows).result is result
    mirrored = [replace(row, limb=row.limb.opposite) for row in rows]
    assert judged(rule, mirrored, knee=R).result is result


# Pelvic drop: slight or level, or moderate when both limbs are moderate (setting of this house).
@every_case(
    ("mine", "other", "result", "why"),
    [
        ("level", None, Result.MET, None),
        ("slight", "level", Result.MET, None),
        ("moderate", "moderate", Result.MET, None),
        ("moderate", "slight", Result.NOT_MET, None),
        ("moderate", "marked", Result.NOT_MET, None),
        ("moderate", None, Result.NOT_ASSESSABLE, Why.OTHER_LIMB_NOT_TESTED),
        ("marked", "marked", Result.NOT_MET, None),
        ("marked", None, Result.NOT_MET, None),
    ],
)
def test_pelvic_drop(mine, other, result, why):
    rows = [reading(LATERAL, L, mine, TODAY)]
    rows += [] if other is None else [reading(LATERAL, R, other, TODAY)]
    found = judged(LATERAL_20, rows)
    assert (found.result, found.why.why if found.why else None) == (result, why)
    assert found.margin is None


@every_case(
    ("details", "result", "why"),
    [
        ({"kept_level_by": "upright"}, Result.MET, None),
        (
            {"kept_level_by": "trunk_leans"},
            Result.NOT_MET,
            NotAssessable(why=Why.KEPT_LEVEL_BY, detail="trunk_leans"),
        ),
        (
            {"kept_level_by": "hand_used"},
            Result.NOT_MET,
            NotAssessable(why=Why.KEPT_LEVEL_BY, detail="hand_used"),
        ),
        (
            {"kept_level_by": "free_side_hitched"},
            Result.NOT_MET,
            NotAssessable(why=Why.KEPT_LEVEL_BY, detail="free_side_hitched"),
        ),
        (
            {"when": "none"},
            Result.NOT_ASSESSABLE,
            NotAssessable(why=Why.DETAIL_MISSING, detail="kept_level_by"),
        ),
    ],
)
def test_level_by_leaning_meets_nothing_and_not_recorded_is_not_upright(details, result, why):
    found = judged(LATERAL_20, both(LATERAL, "level", "level", TODAY, details=details))
    assert (found.result, found.why) == (result, why)


def test_a_bad_grade_is_not_met_whether_or_not_the_detail_was_recorded():
    found = judged(LATERAL_20, both(LATERAL, "marked", "level", TODAY, details={}))
    assert (found.result, found.why) == (Result.NOT_MET, None)


def test_alike_does_not_count_against_an_unfair_limb():
    rows = both(LATERAL, "moderate", "moderate", TODAY)
    assert judged(LATERAL_20, rows, other_limb="earlier_surgery").result is Result.NOT_MET


def test_a_required_key_is_required():
    rows = both(LATERAL, "level", "level", TODAY, key="step_height=10")
    found = judged(LATERAL_20, rows)
    assert found.result is Result.NOT_TESTED
    assert found.why == NotAssessable(why=Why.DIFFERENT_KEY, detail="step_height=10")


def mass(value, on=TODAY):
    return reading("body_mass", NONE, value, on)


ADULT_MAN = {"sex": "male", "birth_date": date(2000, 5, 5)}


@every_case(
    ("torque", "kilos", "changes", "result", "why"),
    [
        ("210", "70", ADULT_MAN, Result.MET, None),
        ("209.9", "70", ADULT_MAN, Result.NOT_MET, None),
        ("189.7", "70", {}, Result.MET, None),
        ("189.6", "70", {}, Result.NOT_MET, None),
        ("210", None, {}, Result.NOT_ASSESSABLE, Why.NO_BODY_MASS),
        ("210", "70", {"sex": "not_stated"}, Result.NOT_ASSESSABLE, Why.NO_SEX_NORM),
        (
            "210",
            "70",
            {"birth_date": TODAY.replace(year=2008) + timedelta(days=1)},
            Result.NOT_ASSESSABLE,
            Why.NOT_FOR_CHILDREN,
        ),
        ("210", "70", {"birth_date": TODAY.replace(year=2008)}, Result.MET, None),
    ],
)
def test_strength_by_body_mass_is_for_adults_and_by_sex(torque, kilos, changes, result, why):
    rows = [reading(QUAD, L, torque, TODAY)]
    found = judged(QUAD_PER_KG, rows, mass=mass(kilos) if kilos else None, **changes)
    assert (found.result, found.why.why if found.why else None) == (result, why)


def test_strength_by_body_mass_needs_its_own_device_and_angle():
    rows = [reading(QUAD, L, "300", TODAY, key="device=isokinetic;knee_angle=90;speed=60")]
    assert judged(QUAD_PER_KG, rows, mass=mass("70")).result is Result.NOT_TESTED


def test_without_an_involved_limb_nothing_is_assessable():
    found = judged(QUAD_90, both(QUAD, "194", "200", TODAY), knee=NONE)
    assert found.why == NotAssessable(why=Why.NO_INVOLVED_LIMB)


def test_a_required_key_is_not_missed_where_only_the_other_limb_was_tested_otherwise():
    rows = [reading(LATERAL, R, "level", TODAY, key="step_height=10")]
    assert judged(LATERAL_20, rows).why == NotAssessable(why=Why.NO_READING)


def test_forward_and_lateral_heel_touch_never_stand_in_for_each_other():
    assert judged(LATERAL_20, both(FORWARD, "level", "level", TODAY)).result is Result.NOT_TESTED
    assert KEYS[FORWARD] == KEYS[LATERAL]


def test_what_the_knee_did_before_its_operation_meets_nothing_after_it():
    rows = both(QUAD, "150", "150", after(days=-1))
    assert judged(QUAD_90, rows, on=after(days=-1)).result is Result.MET
    assert judged(QUAD_90, rows, on=after(weeks=1)).result is Result.NOT_TESTED
    again = [*rows, *both(QUAD, "80", "150", after(days=0))]
    assert judged(QUAD_90, again, on=after(weeks=1)).result is Result.NOT_MET
