"""Typed cells become exact entries, or sentences that say what to type instead."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.entries import Entry, Problem, Taken, Typed, take, take_conditions, typed_of
from outcomes.core.values import Limb, ReadingStatus
from tests.core.builders import CATALOGUE
from tests.core.tables import every_case


def taken(code: str, limb: Limb = Limb.RIGHT, **fields) -> Taken:
    return take(measure=CATALOGUE[code], limb=limb, typed=Typed(**fields), key="k=1")


def entry(code: str, **fields) -> Entry:
    found = taken(code, **fields)
    assert found.problems == ()
    assert found.entry is not None
    return found.entry


def problems(code: str, **fields) -> list[tuple[str, int, str]]:
    found = taken(code, **fields)
    return [(p.part, p.number, p.message) for p in found.problems]


def test_a_blank_cell_is_not_tested_and_asks_nothing():
    assert taken("knee_flexion", texts=("", "  ")) == Taken(entry=None)


def test_the_best_of_three_torques_counts_with_its_own_text():
    # 420 N x 0.34 m = 142.8 N.m: the definition of torque (reference example).
    found = entry("quadriceps_torque", texts=("395", "420", ""), unit="N", lever="34")
    assert found == Entry(
        measure="quadriceps_torque",
        limb=Limb.RIGHT,
        status=ReadingStatus.MEASURED,
        value=Decimal("142.800000"),
        key="k=1",
        typed_text="420",
        typed_unit="N",
        trials=("395", "420"),
        details={"lever_arm_cm": "34"},
    )


def test_a_torque_typed_in_foot_pounds_is_kept_as_typed_and_converted_once():
    found = entry("quadriceps_torque", texts=("100",), unit="[ft_i].[lbf_av]")
    assert (found.value, found.typed_text, found.typed_unit) == (
        Decimal("135.581795"),
        "100",
        "[ft_i].[lbf_av]",
    )


@every_case(
    ("choice", "degrees", "value", "text"),
    [
        ("lacks", "5", "5.000000", "lacks 5"),
        ("straight", "", "0.000000", "straight"),
        ("beyond", "3", "-3.000000", "beyond 3"),
    ],
)
def test_extension_is_chosen_and_never_signed(choice, degrees, value, text):
    found = entry("knee_extension", choice=choice, texts=(degrees,))
    assert (found.value, found.typed_text) == (Decimal(value), text)


@every_case("typed", ["-5", "+5", "\u22125"])
def test_a_typed_sign_in_extension_says_what_to_do(typed):
    assert problems("knee_extension", choice="lacks", texts=(typed,)) == [
        (
            "value",
            1,
            "Type the degrees without a sign; choose lacks, straight or beyond straight.",
        )
    ]


def test_degrees_without_a_choice_ask_for_the_choice():
    assert problems("knee_extension", texts=("5",)) == [
        ("choice", 0, "Choose lacks, straight or beyond straight.")
    ]


@every_case(
    ("code", "fields", "found"),
    [
        (
            "knee_flexion",
            {"texts": ("1.234,5",)},
            ("value", 1, "Type one decimal mark, comma or point: 1234.5 or 1234,5."),
        ),
        ("knee_flexion", {"texts": ("181",)}, ("value", 1, "Type a value from 0 to 170°.")),
        ("effusion", {"texts": ("4+",)}, ("value", 1, "Choose one of: zero, trace, 1+, 2+, 3+.")),
        (
            "standing_hip_hold",
            {"texts": ("60",)},
            (
                "value",
                1,
                "The test is stopped at 45.0 s: type that and choose the cap as its end.",
            ),
        ),
        (
            "single_hop",
            {"texts": ("142 cm",), "unit": "cm"},
            ("value", 1, "Type the number alone: it is taken in cm."),
        ),
        (
            "quadriceps_torque",
            {"texts": ("120",), "unit": "cm"},
            ("unit", 0, "Choose the unit: N·m, ft·lbf, kgf·m, N, kgf, lbf."),
        ),
        (
            "quadriceps_torque",
            {"texts": ("420",), "unit": "N"},
            (
                "lever",
                0,
                "Type the lever arm in cm, joint line to pad, from 10 to 60: for example 34.",
            ),
        ),
        (
            "standing_hip_hold",
            {"details": {"end_reason": "lean"}},
            ("value", 1, "Type the value too, or clear the rest of this field."),
        ),
        (
            "single_hop",
            {"texts": ("120",), "status": "declined"},
            (
                "status",
                0,
                "Clear the value, or choose measured or stopped by pain beside it.",
            ),
        ),
        (
            "single_hop",
            {"texts": ("", "120", "x"), "unit": "cm"},
            ("value", 3, "Type the number alone: it is taken in cm."),
        ),
    ],
)
def test_what_cannot_be_taken_says_what_to_type_instead(code, fields, found):
    assert problems(code, **fields) == [found]


def test_unusual_is_taken_once_a_reason_is_given():
    asked = taken("knee_flexion", texts=("45",))
    assert asked.problems == (
        Problem(
            part="reason",
            message="45° is outside what is usual (60 to 155°). Check it, or give the reason.",
            soft=True,
        ),
    )
    assert asked.entry is not None
    given = entry("knee_flexion", texts=("45",), reason="stiff since the fall")
    assert (given.value, given.reason) == (Decimal("45.000000"), "stiff since the fall")


def test_an_end_reason_of_pain_stops_the_test_and_the_value_stays():
    found = entry("standing_hip_hold", texts=("19.2",), details={"end_reason": "pain"})
    assert (found.status, found.value) == (ReadingStatus.STOPPED_BY_PAIN, Decimal("19.200000"))


def test_a_test_that_was_not_done_has_no_value_and_no_zero():
    found = entry("single_hop", status="surgeons_limit")
    assert (found.status, found.value) == (ReadingStatus.SURGEONS_LIMIT, None)


def test_conditions_make_one_key_or_no_key():
    quadriceps = CATALOGUE["quadriceps_torque"]
    assert take_conditions(measure=quadriceps, typed={"device": "fixed", "knee_angle": "90,0"}) == (
        "device=fixed;knee_angle=90",
        (),
    )
    key, missing = take_conditions(measure=quadriceps, typed={"knee_angle": "ninety"})
    assert key == ""
    assert [(p.name, p.message) for p in missing] == [
        ("device", "Choose or type: device."),
        ("knee_angle", "Type a number with digits and one decimal mark: 12.5."),
    ]


def cells() -> st.SearchStrategy[tuple[str, Typed]]:
    """Cells as people fill them, of every kind of entry."""
    number = st.integers(1, 4000).map(lambda n: f"{n // 10}{'.,'[n % 2]}{n % 10}")
    whole = st.integers(0, 20).map(str)
    return st.one_of(
        st.tuples(
            st.just("quadriceps_torque"),
            st.builds(
                Typed,
                texts=st.lists(number, min_size=1, max_size=3).map(tuple),
                unit=st.sampled_from(CATALOGUE["quadriceps_torque"].entry_units),
                lever=st.integers(10, 60).map(str),
                status=st.sampled_from(["", "stopped_by_pain"]),
            ),
        ),
        st.tuples(
            st.just("knee_extension"),
            st.builds(Typed, texts=st.tuples(whole), choice=st.sampled_from(["lacks", "beyond"])),
        ),
        st.tuples(
            st.just("pelvic_drop_forward_heel_touch"),
            st.builds(
                Typed,
                texts=st.sampled_from(CATALOGUE["pelvic_drop_forward_heel_touch"].grades).map(
                    lambda word: (word,)
                ),
                details=st.fixed_dictionaries({"kept_level_by": st.sampled_from(["", "upright"])}),
            ),
        ),
        st.tuples(
            st.just("body_mass"),
            st.builds(
                Typed,
                texts=st.tuples(number),
                unit=st.sampled_from(["kg", "[lb_av]", "[stone_av]"]),
            ),
        ),
    )


@given(cell=cells(), limb=st.sampled_from(Limb))
def test_what_was_taken_gives_itself_again(cell, limb):
    """Typed text and unit are the truth: they alone give the same canonical value again."""
    code, typed = cell
    first = take(measure=CATALOGUE[code], limb=limb, typed=typed, key="k")
    if first.entry is not None:
        again = typed_of(measure=CATALOGUE[code], entry=first.entry)
        assert take(measure=CATALOGUE[code], limb=limb, typed=again, key="k") == first
