"""Numbers as typed, as kept and as shown."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.compare import holds
from outcomes.core.quantities import (
    UNITS,
    TypedError,
    canonical,
    convert,
    parse_number,
    shown,
    unit_sign,
)
from outcomes.core.values import Operator
from tests.core.builders import few
from tests.core.tables import every_case

NUMBERS = st.decimals(min_value=-9999, max_value=9999, places=2)


READ = [
    ("12.5", "12.5"),
    ("12,5", "12.5"),
    (" 7 ", "7"),
    ("\u00a042\u00a0", "42"),
    ("−3", "-3"),
    ("-3,25", "-3.25"),
    ("+4", "4"),
    ("１２．５", "12.5"),  # noqa: RUF001
    ("-0", "0"),
    ("0.345", "0.345"),
    ("007", "7"),
    ("1234.5", "1234.5"),
    ("1234567", "1234567"),
    ("123456789012345", "123456789012345"),
]


def test_what_is_read():
    assert [(text, str(parse_number(text=text))) for text, _ in READ] == READ


REFUSED = [
    ("", "empty"),
    ("\u00a0", "empty"),
    ("1,234.5", "both_marks"),
    ("1.234,5", "both_marks"),
    ("1,234", "grouping"),
    ("12.345", "grouping"),
    ("1 234", "not_a_number"),
    ("1\u202f234", "not_a_number"),
    ("1.2.3", "not_a_number"),
    ("1'234", "not_a_number"),
    ("12 kg", "not_a_number"),
    ("1e3", "not_a_number"),
    ("NaN", "not_a_number"),
    ("inf", "not_a_number"),
    ("--3", "not_a_number"),
    (".5", "not_a_number"),
    ("5.", "not_a_number"),
    ("٣", "not_a_number"),
    ("5²", "not_a_number"),
    ("½", "not_a_number"),
    ("①", "not_a_number"),
    ("1234567890123456", "too_long"),
]


def code_of(text):
    with pytest.raises(TypedError) as refused:
        parse_number(text=text)
    return refused.value.code


def test_what_is_refused_and_how_it_is_called():
    assert [(text, code_of(text)) for text, _ in REFUSED] == REFUSED


@every_case(
    ("text", "message"),
    [
        ("1,234", "1,234 can be read in two ways: type 1234 or 1.2340."),
        ("1.234,5", "Type one decimal mark, comma or point: 1234.5 or 1234,5."),
        ("ab", "Type a number with digits and one decimal mark: 12.5."),
    ],
)
def test_a_refusal_says_what_to_type_instead(text, message):
    with pytest.raises(TypedError) as refused:
        parse_number(text=text)
    assert refused.value.message == message


def test_a_refusal_of_decimals_says_how_many_there_are():
    said = []
    for decimals in range(3):
        with pytest.raises(TypedError) as refused:
            parse_number(text="1.2345", decimals=decimals)
        said.append(refused.value.message)
    assert said == [
        "Type a whole number.",
        "Type at most 1 digit after the decimal mark.",
        "Type at most 2 digits after the decimal mark.",
    ]


@every_case(
    ("text", "decimals", "result"),
    [("12.50", 1, "12.50"), ("3.0", 0, "3.0"), ("12.55", 1, None), ("3.5", 0, None)],
)
def test_more_decimals_than_the_measure_has_are_refused(text, decimals, result):
    if result is not None:
        assert str(parse_number(text=text, decimals=decimals)) == result
        return
    with pytest.raises(TypedError) as refused:
        parse_number(text=text, decimals=decimals)
    assert refused.value.code == "too_precise"


@every_case("text", ["-5", "+5", "−5"])
def test_a_sign_is_refused_where_none_is_typed(text):
    with pytest.raises(TypedError) as refused:
        parse_number(text=text, signed=False)
    assert (refused.value.code, refused.value.message) == ("typed_sign", "Type 5 without a sign.")


@few
@given(number=NUMBERS, mark=st.sampled_from(",."))
def test_every_plain_number_is_read_back(number, mark):
    assert parse_number(text=str(number).replace(".", mark)) == number


# International definitions: pound, foot and standard gravity are exact (NIST SP 811, appendix B).
FACTORS = [
    ("1", "[lbf_av]", "N", "4.4482216152605"),
    ("1", "kgf", "N", "9.80665"),
    ("1", "[ft_i].[lbf_av]", "N.m", "1.3558179483314004"),
    ("1", "[in_i].[lbf_av]", "N.m", "0.1129848290276167"),
    ("1", "kgf.m", "N.m", "9.80665"),
    ("1", "[lb_av]", "kg", "0.45359237"),
    ("1", "[stone_av]", "kg", "6.35029318"),
    ("1", "[in_i]", "cm", "2.54"),
    ("1", "[ft_i]", "cm", "30.48"),
    ("1.6", "m", "cm", "160"),
    ("160", "cm", "m", "1.6"),
    ("2", "N.m", "N.m", "2"),
]


def test_exact_factors():
    found = [
        (value, source, target, str(convert(value=Decimal(value), source=source, target=target)))
        for value, source, target, _ in FACTORS
    ]
    assert found == FACTORS


def test_compound_factors_follow_from_the_definitions():
    pound, gravity = Decimal("0.45359237"), Decimal("9.80665")
    assert UNITS["[lbf_av]"][1] == pound * gravity
    assert UNITS["[ft_i].[lbf_av]"][1] == pound * gravity * Decimal("0.3048")
    assert UNITS["[in_i].[lbf_av]"][1] == pound * gravity * Decimal("0.0254")
    assert UNITS["[stone_av]"][1] == 14 * pound


@every_case(
    ("source", "target", "message"),
    [
        ("kg", "N", "Type a force in N: kg is a mass."),
        ("cm", "s", "Type a time in s: cm is a length."),
        ("furlong", "m", "The unit furlong is not known here."),
        ("furlong", "furlong", "The unit furlong is not known here."),
    ],
)
def test_other_dimensions_and_unknown_units_are_refused(source, target, message):
    with pytest.raises(TypedError) as refused:
        convert(value=Decimal(1), source=source, target=target)
    assert refused.value.message == message


@few
@given(number=NUMBERS, pair=st.sampled_from([("N", "[lbf_av]"), ("kg", "[lb_av]"), ("cm", "m")]))
def test_there_and_back_is_the_same_kept_value(number, pair):
    there = convert(value=number, source=pair[0], target=pair[1])
    assert canonical(value=convert(value=there, source=pair[1], target=pair[0])) == number


@every_case(
    ("value", "kept"),
    [
        ("18.9", "18.900000"),
        ("0.0000005", "0.000000"),
        ("0.0000015", "0.000002"),
        ("-0.0000001", "0.000000"),
        ("999999999.999999", "999999999.999999"),
    ],
)
def test_kept_with_six_places_rounded_once(value, kept):
    assert str(canonical(value=Decimal(value))) == kept


@every_case("value", ["1000000000", "NaN", "Infinity"])
def test_what_does_not_fit_is_refused(value):
    with pytest.raises(TypedError):
        canonical(value=Decimal(value))


@every_case(
    ("value", "decimals", "text"),
    [
        (Decimal("89.95"), 1, "90.0"),
        (Decimal("2.5"), 0, "3"),
        (Decimal("-2.5"), 0, "-3"),
        (Decimal("-0.04"), 1, "0.0"),
        (Decimal("0.05"), 1, "0.1"),
        (Fraction(2, 3), 3, "0.667"),
        (Decimal(7), 0, "7"),
    ],
)
def test_shown_without_a_threshold_is_rounded_half_away_from_zero(value, decimals, text):
    assert shown(value=value, decimals=decimals) == text


@every_case(
    ("value", "operator", "threshold", "text"),
    [
        ("89.95", ">=", "90", "89.9"),
        ("89.999", ">=", "90", "89.9"),
        ("90", ">=", "90", "90.0"),
        ("90.04", ">", "90", "90.1"),
        ("90", ">", "90", "90.0"),
        ("2.04", "<=", "2", "2.1"),
        ("1.97", "<", "2", "1.9"),
        ("63.68", ">=", "63.7", "63.6"),
        ("89.94", ">=", "90", "89.9"),
    ],
)
def test_near_a_threshold_the_number_is_cut_toward_its_side(value, operator, threshold, text):
    said = shown(
        value=Decimal(value),
        decimals=1,
        threshold=Decimal(threshold),
        operator=Operator(operator),
    )
    assert said == text


@few
@given(
    value=st.fractions(min_value=-200, max_value=200, max_denominator=5000),
    threshold=st.decimals(min_value=-200, max_value=200, places=1),
    operator=st.sampled_from(Operator),
    decimals=st.integers(min_value=0, max_value=3),
)
def test_number_and_result_never_disagree(value, threshold, operator, decimals):
    text = shown(value=value, decimals=decimals, threshold=threshold, operator=operator)
    assert holds(value=Fraction(text), operator=operator, threshold=threshold) == holds(
        value=value, operator=operator, threshold=threshold
    )
    assert abs(Fraction(text) - value) < Fraction(1, 10**decimals)


def test_units_are_written_as_people_write_them():
    assert [unit_sign(unit=unit) for unit in ("N.m", "deg", "{score}", "kg", "[lbf_av]")] == [
        "N·m",
        "°",
        "",
        "kg",
        "lbf",
    ]
