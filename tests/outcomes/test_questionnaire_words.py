"""What a score is called: real, important, acceptable, in that order, and never more than known.

The sizes are those of the shipped thresholds, which carry their sources.
"""

from fractions import Fraction

import pytest

from outcomes.catalogue.instruments import load_instruments
from outcomes.core.values import Mark
from outcomes.queries.opened import MARK
from outcomes.queries.questionnaire_words import (
    change_says,
    change_words,
    in_use_of,
    level_says,
    mark_words,
    others_published,
    score_words,
    state_says,
)

ALL = load_instruments()


def says(code, before, after, *, score="total", layout=""):
    instrument = ALL[code]
    return change_says(
        form=instrument.score(code=score),
        direction=instrument.direction(score=score, layout=layout),
        before=Fraction(before),
        after=Fraction(after),
        uses=in_use_of(instrument=instrument, score=score),
    )


@pytest.mark.parametrize(
    ("code", "score", "before", "after", "said"),
    [
        ("ikdc", "total", 50, "65.5", ["no real change (MDC 15.6)",
                                       "less than an important change (MIC 18.9)"]),
        ("ikdc", "total", 50, "65.6", ["a real change (MDC 15.6)",
                                       "less than an important change (MIC 18.9)"]),
        ("ikdc", "total", 50, "68.9", ["a real change (MDC 15.6)", "important (MIC 18.9)"]),
        ("ikdc", "total", 50, "79.6", ["a real change (MDC 15.6)", "substantial (SCB 29.6)"]),
        ("ikdc", "total", 70, 50, ["a real change for the worse (MDC 15.6)"]),
        ("ikdc", "total", 70, 60, ["no real change (MDC 15.6)"]),
        ("tegner", "total", 7, 4, ["a real change (MDC 1)"]),
        ("ikdc", "total", "81.2", 100, ["a real change (MDC 15.6)",
         "an important change is not reachable (ceiling; MIC 18.9)"]),
        ("ikdc", "total", "81.1", 90, ["no real change (MDC 15.6)",
                                       "less than an important change (MIC 18.9)"]),
        ("acl_rsi", "total", 40, "53.4",
         ["possibly important (MIC 13.4): one person's error is larger, its size is not known, "
          "so no word on whether it is real"]),
        ("acl_rsi", "total", 40, 50, ["error not known: no word on whether it is real",
                                      "less than an important change (MIC 13.4)"]),
        ("sane", "total", 40, 60, ["error not known: no word on whether it is real",
                                   "important (MIC 19)"]),
        ("psfs", "total", 3, 5, ["a real change (MDC90 2)"]),
    ],
)  # fmt: skip
def test_a_change_is_called_real_then_important(code, score, before, after, said):
    assert says(code, before, after, score=score) == said


def test_an_important_change_within_the_error_is_possibly_important():
    lysholm = ALL["lysholm"]
    uses = in_use_of(instrument=lysholm, score="total")
    assert uses.error is not None
    assert uses.important is not None
    assert uses.important.value < uses.error.value
    assert says("lysholm", 60, 60 + Fraction(uses.important.value)) == [
        f"possibly important, no real change (MIC {uses.important.value}, "
        f"under MDC {uses.error.value})"
    ]


def test_where_lower_is_better_a_fall_is_the_gain_and_a_rise_never_important():
    assert says("tsk11", 34, 24) == ["a real change (MDC 7.04)", "important (MIC 4)"]
    assert says("tsk11", 34, 29) == ["possibly important, no real change (MIC 4, under MDC 7.04)"]
    assert says("tsk11", 24, 34) == ["a real change for the worse (MDC 7.04)"]
    assert says("tsk11", 14, 11) == [
        "no real change (MDC 7.04)",
        "an important change is not reachable (floor; MIC 4)",
    ]


@pytest.mark.parametrize(
    ("value", "shown", "said"),
    [
        ("75.9", "75.9", "at the acceptable state (PASS, at least 75.9)"),
        ("75.89", "75.8", "not at the acceptable state (PASS, at least 75.9)"),
        ("99.99", "99.9", "at the acceptable state (PASS, at least 75.9)"),
        ("100", "100", "at the acceptable state (PASS, at least 75.9)"),
    ],
)
def test_the_shown_score_never_disagrees_with_its_state(value, shown, said):
    ikdc, uses = ALL["ikdc"], in_use_of(instrument=ALL["ikdc"], score="total")
    form = ikdc.score(code="total")
    assert score_words(form=form, value=Fraction(value), state=uses.state) == shown
    assert state_says(value=Fraction(value), uses=uses) == said


def test_the_shown_change_is_cut_toward_its_side():
    uses = in_use_of(instrument=ALL["ikdc"], score="total")
    assert change_words(before=Fraction(50), after=Fraction("68.86"), uses=uses) == "up 18.8"
    assert change_words(before=Fraction(50), after=Fraction("34.42"), uses=uses) == "down 15.5"
    assert change_words(before=Fraction(50), after=Fraction(50), uses=uses) == "the same"


def test_a_level_is_told_in_levels_against_before_the_injury():
    assert level_says(value=Fraction(6), before_injury=Fraction(9)) == (
        "3 below before the injury (9)"
    )
    assert level_says(value=Fraction(9), before_injury=Fraction(7)) == (
        "2 above before the injury (7)"
    )
    assert level_says(value=Fraction(9), before_injury=Fraction(9)) == "as before the injury (9)"
    assert level_says(value=Fraction(9), before_injury=None) == "level before the injury not keyed"


def test_what_is_known_from_memory_only_says_so_beside_the_score():
    ikdc = ALL["ikdc"]
    line = mark_words(instrument=ikdc, uses=in_use_of(instrument=ikdc, score="total"))
    assert line == (
        f"Scoring, MIC and SCB {MARK[Mark.SEEN]}; MDC {MARK[Mark.MEMORY]}; "
        f"acceptable state (PASS) {MARK[Mark.SECOND_HAND]}"
    )


@pytest.mark.parametrize(
    ("age", "sex", "norms"),
    [(17, "male", 0), (18, "male", 1), (55, "male", 1), (56, "male", 0), (56, "female", 1)],
)
def test_a_norm_is_shown_inside_its_published_ages_and_sex_alone(age, sex, norms):
    koos = ALL["koos"]
    uses = in_use_of(instrument=koos, score="pain")
    found = others_published(instrument=koos, score="pain", uses=uses, age=age, sex=sex)
    assert len([one for one in found if one.kind == "norm"]) == norms
