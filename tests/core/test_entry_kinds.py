"""Scores item by item, jumps by height or flight time, findings that are there or not, counts."""

from decimal import Decimal

from outcomes.core.entries import Entry, Taken, Typed, take, typed_of
from outcomes.core.values import Limb, ReadingStatus
from tests.core.builders import CATALOGUE
from tests.core.tables import every_case

ALL = {"arms": "yes", "trunk": "yes", "pelvis": "yes", "knee": "inside_foot", "steadiness": "yes"}
NONE_OF_THEM = {code: "over_foot" if code == "knee" else "no" for code in ALL}
SCORE = CATALOGUE["step_down_score"]


def taken(code, **fields) -> Taken:
    return take(measure=CATALOGUE[code], limb=Limb.LEFT, typed=Typed(**fields), key="k=1")


def entry(code, **fields) -> Entry:
    found = taken(code, **fields)
    assert found.problems == ()
    assert found.entry is not None
    return found.entry


def problems(code, **fields):
    found = taken(code, **fields)
    assert found.entry is None
    return [(one.part, one.name, one.message) for one in found.problems]


@every_case(
    ("changes", "score"),
    [
        # The scale of Piva 2006 as quoted; knee inside the foot counts 2, not 2 and 1.
        (ALL, "6"),
        ({"knee": "inside_second_toe"}, "1"),
        ({"trunk": "yes", "knee": "inside_second_toe"}, "2"),
        ({"knee": "inside_foot"}, "2"),
        ({"arms": "yes", "trunk": "yes", "pelvis": "yes", "steadiness": "yes"}, "4"),
        ({}, "0"),
    ],
)
def test_a_score_is_the_sum_of_its_items_and_keeps_them(changes, score):
    chosen = {**NONE_OF_THEM, **changes}
    found = entry("step_down_score", details=chosen)
    assert (found.value, found.typed_text, found.typed_unit) == (Decimal(score), score, "")
    assert found.details == chosen
    again = typed_of(measure=SCORE, entry=found)
    assert (again.texts, again.details) == ((), chosen)
    assert take(measure=SCORE, limb=Limb.LEFT, typed=again, key="k=1").entry == found


def test_a_score_without_an_item_is_none_and_each_missing_one_is_told():
    some = {code: ALL[code] for code in ("arms", "pelvis", "knee")}
    assert problems("step_down_score", details=some) == [
        ("detail", "trunk", "Choose too: the trunk leans."),
        ("detail", "steadiness", "Choose too: the stance is lost."),
    ]


def test_an_answer_that_an_item_does_not_have_is_refused():
    assert problems("step_down_score", details={**ALL, "trunk": "a bit"}) == [
        ("detail", "trunk", "Choose the trunk leans: no, yes.")
    ]


def test_a_score_that_was_not_taken_has_no_items():
    assert entry("step_down_score", status="unable").status is ReadingStatus.UNABLE
    assert problems("step_down_score", details=ALL, status="unable") == [
        ("status", "", "Clear the value, or choose measured or stopped by pain beside it.")
    ]


@every_case(
    ("text", "unit", "value"),
    [
        # g t^2 / 8 with standard gravity 9.80665: 0.42 s is 21.6 cm.
        ("0.42", "s", "21.623663"),
        ("0,42", "s", "21.623663"),
        ("0.421", "s", "21.726756"),
        ("21.6", "cm", "21.600000"),
        ("21.6", "", "21.600000"),
    ],
)
def test_a_jump_is_typed_as_height_or_flight_time(text, unit, value):
    found = entry("vertical_jump", texts=(text,), unit=unit)
    assert (found.value, found.typed_text) == (Decimal(value), text)
    assert found.typed_unit == (unit or "cm")


def test_the_best_jump_counts_with_its_own_flight_time():
    found = entry("vertical_jump", texts=("0.40", "0.42", "0.38"), unit="s")
    assert (found.typed_text, found.trials) == ("0.42", ("0.40", "0.42", "0.38"))


@every_case(
    ("code", "fields", "said"),
    [
        ("vertical_jump", {"texts": ("0.9",), "unit": "s"}, "Type a value from 0.0 to 70.0 cm."),
        ("vertical_jump", {"texts": ("0.4215",), "unit": "s"}, "Type at most 3 digits after the"),
        ("vertical_jump", {"texts": ("20",), "unit": "kg"}, "Choose the unit: cm, s."),
        ("heel_raise", {"texts": ("22.5",)}, "Type a whole number."),
        ("landing_error_score", {"texts": ("5.5",)}, "Type a whole number."),
        ("single_leg_sit_to_stand", {"texts": ("51",)}, "The test is stopped at 50 reps: type"),
        ("wound_closed", {"texts": ("maybe",)}, "Choose one of: no, yes."),
        ("home_exercise_days", {"texts": ("8",)}, "Type a value from 0 to 7 days."),
    ],
)
def test_what_cannot_be_taken_says_what_to_type(code, fields, said):
    ((part, _, message),) = problems(code, **fields)
    assert part in ("value", "unit")
    assert message.startswith(said)


def test_a_mean_of_counts_is_no_whole_number():
    found = entry("landing_error_score", texts=("5", "6", "6"))
    assert found.value == Decimal("5.666667")


def test_a_finding_is_yes_or_no():
    assert entry("wound_closed", texts=("yes",)).value == 1
    assert entry("wound_closed", texts=("no",)).value == 0
