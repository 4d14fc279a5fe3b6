"""What was measured in the trade's words, without bare signs and without promises."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

from outcomes.core.status import Change
from outcomes.core.symmetry import symmetry
from outcomes.core.values import (
    EpisodeFacts,
    Limb,
    NotAssessable,
    Pair,
    Reading,
    ReadingStatus,
    Symmetry,
    Why,
)
from outcomes.core.wording import (
    change_words,
    conditions_words,
    drop_words,
    error_words,
    finding_words,
    index_change_words,
    symmetry_words,
    value_words,
    why_words,
)
from tests.core.builders import CATALOGUE
from tests.core.tables import every_case

DAY = date(2026, 11, 25)


@every_case(
    ("code", "value", "status", "words"),
    [
        ("knee_extension", "5", "measured", "lacks 5°"),
        ("knee_extension", "0", "measured", "straight"),
        ("knee_extension", "-3", "measured", "3° beyond straight"),
        ("pain_worst_24h", "2", "measured", "2 of 10"),
        ("effusion", "1", "measured", "trace"),
        ("standing_hip_hold", "19.2", "stopped_by_pain", "19.2 s, stopped by pain"),
        ("single_hop", None, "surgeons_limit", "held back by the surgeon's limit"),
        ("quadriceps_torque", "121.04", "measured", "121.0 N·m"),
    ],
)
def test_a_value_is_said_as_people_say_it(code, value, status, words):
    exact = None if value is None else Decimal(value)
    assert value_words(measure=CATALOGUE[code], value=exact, status=ReadingStatus(status)) == words


def paired(code: str, left: str, right: str) -> Symmetry:
    measure = CATALOGUE[code]
    both = [
        Reading(measure=code, limb=limb, value=Decimal(value), on=DAY)
        for limb, value in ((Limb.LEFT, left), (Limb.RIGHT, right))
    ]
    pair = Pair(measure=code, on=DAY, key="", left=both[0], right=both[1])
    found = symmetry(measure=measure, pair=pair, involved=Limb.RIGHT, other_limb_fair=True)
    assert isinstance(found, Symmetry)
    return found


@every_case(
    ("code", "left", "right", "words"),
    [
        ("quadriceps_torque", "158", "121", "77 %"),
        ("knee_extension", "-2", "4", "6° short of the other side"),
        ("knee_extension", "0", "-2", "2° more than the other side"),
        ("knee_flexion", "140", "128", "12° short of the other side"),
        ("knee_flexion", "140", "140", "same as the other side"),
        ("pelvic_drop_forward_heel_touch", "0", "2", "two grades worse than the other side"),
        ("pelvic_drop_forward_heel_touch", "2", "2", "both sides alike"),
        ("timed_hop_6m", "1.95", "2.10", "93 %"),
        ("thigh_girth", "51.0", "48.5", "2.5 cm short of the other side"),
        ("anterior_laxity", "6.0", "9.5", "3.5 mm more than the other side"),
        ("anterior_laxity", "9.5", "6.0", "3.5 mm less than the other side"),
        ("pelvic_drop_angle", "1.5", "5", "3.5° more than the other side"),
        ("knee_projection_angle", "-2", "8.5", "10.5° apart"),
        ("knee_projection_angle", "8.5", "8.5", "same as the other side"),
    ],
)
def test_symmetry_says_which_way(code, left, right, words):
    found = paired(code, left, right)
    assert symmetry_words(measure=CATALOGUE[code], symmetry=found) == words


@every_case(
    ("before", "after", "real", "words"),
    [
        (62, 78, True, "up 16"),
        (80, 77, False, "down 3: no real change"),
        (80, 84, None, "up 4, error not known"),
        (80, 80, False, "the same"),
    ],
)
def test_an_index_moves_in_words(before, after, real, words):
    change = Change(before=Fraction(before), after=Fraction(after), since=DAY, real=real)
    assert index_change_words(change=change) == words


@every_case(
    ("code", "before", "after", "real", "words"),
    [
        ("effusion", 2, 1, None, "one grade less"),
        ("effusion", 1, 1, None, "the same grade"),
        ("knee_extension", 5, 3, False, "2° more extension: no real change"),
        ("knee_extension", -1, 3, True, "4° less extension"),
        ("pain_worst_24h", 3, 2, None, "1 lower, error not known"),
        ("standing_hip_hold", 14, 19, None, "5.0 s more, error not known"),
    ],
)
def test_a_limb_moves_in_words(code, before, after, real, words):
    change = Change(before=Fraction(before), after=Fraction(after), since=DAY, real=real)
    assert change_words(measure=CATALOGUE[code], change=change) == words


def test_errors_are_said_or_said_to_be_unknown():
    assert error_words(sem=Decimal(6), unit="points") == "error about 10 points"
    assert error_words(sem=None) == "error not known"


def test_conditions_are_said_so_that_they_stand_alone():
    quadriceps = CATALOGUE["quadriceps_torque"]
    assert (
        conditions_words(measure=quadriceps, key="device=fixed;knee_angle=90")
        == "fixed dynamometer, knee angle 90°"
    )
    hop = CATALOGUE["single_hop"]
    assert (
        conditions_words(measure=hop, key="brace=no;hands=free;shoes=worn")
        == "hands free, shoes worn, brace none"
    )


def test_a_drop_is_a_sentence():
    assert drop_words(standing=Limb.LEFT, grade="marked") == (
        "Standing on the left, the right side of the pelvis drops."
    )
    assert drop_words(standing=Limb.LEFT, grade="level") == (
        "Standing on the left, the pelvis stays level."
    )


FACTS = EpisodeFacts(
    knee=Limb.RIGHT,
    kind="reconstruction",
    index_date=date(2026, 8, 12),
    graft="hamstring",
    graft_from="other_limb",
    other_limb="healthy",
    sex="female",
    birth_date=date(2001, 5, 3),
    goal="pivoting",
)


@every_case("why", [w for w in Why if w not in (Why.KEPT_LEVEL_BY, Why.DETAIL_MISSING)])
def test_every_reason_has_words(why):
    measure = CATALOGUE["single_hop"]
    assert why_words(why=NotAssessable(why=why), measure=measure, facts=FACTS) != ""


def test_what_spoils_a_grade_is_named():
    measure = CATALOGUE["pelvic_drop_forward_heel_touch"]
    spoiled = NotAssessable(why=Why.KEPT_LEVEL_BY, detail="trunk_leans")
    missing = NotAssessable(why=Why.DETAIL_MISSING, detail="kept_level_by")
    assert (
        why_words(why=spoiled, measure=measure)
        == "trunk leans over the standing leg: not a level pelvis"
    )
    assert why_words(why=missing, measure=measure) == "not recorded: how it was kept level"
    fair = NotAssessable(why=Why.OTHER_LIMB_NOT_FAIR)
    assert why_words(why=fair, measure=measure, facts=FACTS) == "the graft came from the other side"


@every_case(
    ("code", "grade", "said"),
    [
        (
            "pelvic_drop_lateral_heel_touch",
            "slight",
            "Standing on the right, the left side of the pelvis drops.",
        ),
        ("trunk_lean", "marked", "Standing on the right, trunk lean: marked."),
        ("ten_level_step_downs_20cm", "no", ""),
    ],
)
def test_a_finding_is_a_sentence_about_the_leg_that_is_stood_on(code, grade, said):
    assert finding_words(measure=CATALOGUE[code], standing=Limb.RIGHT, grade=grade) == said


@every_case(
    ("before", "after", "said"),
    [(0, 1, "changed to yes"), (1, 0, "changed to no"), (1, 1, "still yes"), (0, 0, "still no")],
)
def test_a_finding_that_is_there_or_not_changes_to_the_other(before, after, said):
    change = Change(before=Fraction(before), after=Fraction(after), since=DAY, real=None)
    assert change_words(measure=CATALOGUE["wound_closed"], change=change) == said


@every_case(
    ("code", "key", "said"),
    [
        (
            "leg_press_rm",
            "machine=3;range=full;repetitions=8",
            "machine 3, full range, repetitions reached 8",
        ),
        ("heel_raise", "cadence=60;shoes=worn;slope=10", "slope 10°, cadence 60 /min, shoes worn"),
        (
            "single_leg_stance",
            "arms=hips;eyes=closed;shoes=none;surface=foam",
            "eyes closed, hands on hips, on foam, shoes none",
        ),
    ],
)
def test_conditions_are_said_by_their_own_words(code, key, said):
    assert conditions_words(measure=CATALOGUE[code], key=key) == said
