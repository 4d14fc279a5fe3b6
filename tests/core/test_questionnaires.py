"""Questionnaires: scores by the printed rules, answers refused and never clamped, no wording."""

from decimal import Decimal
from fractions import Fraction
from random import Random
from typing import Any

import pytest
from hypothesis import given, note
from hypothesis import strategies as st

from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.instruments import instrument_from, instrument_seeds, load_instruments
from outcomes.core.instruments import Direction, Instrument, line_key
from outcomes.core.questionnaires import (
    AnswerError,
    Compared,
    answers_in_words,
    compare_forms,
    score,
    settle_two_marks,
)
from outcomes.core.values import Limb
from tests.core.builders import few
from tests.core.tables import every_case

INSTRUMENTS = load_instruments()
SHIPPED = [
    "acl_rsi", "acl_rsi_short", "cincinnati_function", "global_rating", "ikdc", "koos", "koos12",
    "koos_ps", "kos_adls", "kos_sas", "lefs", "lysholm", "marx", "pcs", "pedi_ikdc", "psfs",
    "sane", "tegner", "tsk11",
]  # fmt: skip
each = every_case("instrument", INSTRUMENTS.values(), ids=lambda one: one.code)


def test_all_that_the_outcome_sets_ask_for_are_shipped_and_two_are_on() -> None:
    assert sorted(INSTRUMENTS) == SHIPPED
    assert [code for code in SHIPPED if INSTRUMENTS[code].on_by_default] == ["acl_rsi", "ikdc"]
    from_memory = [code for code in SHIPPED if INSTRUMENTS[code].mark == "memory"]
    assert from_memory == ["acl_rsi_short", "koos_ps"]


def test_no_item_and_no_answer_has_a_wording() -> None:
    for name, mapping in instrument_seeds():
        for part in mapping["items"]:
            assert set(part) <= {"codes", "answers", "range", "step"}, name
            assert [code for code in part["codes"] if len(code) > 13 or " " in code] == []
            assert [answer for answer in part.get("answers", []) if not str(answer).isdigit()] == []


def all_marked(instrument: Instrument, *, best: bool) -> dict[str, Decimal | None]:
    """The best or the worst answer to every scored item, for the form that counts as marked."""
    found: dict[str, Decimal | None] = {}
    for form in instrument.scores:
        turned = (form.direction is Direction.LOWER) != (form.rule == "inverted_share")
        for code in form.items:
            item = instrument.by_code[code]
            found[code] = item.lowest if best is turned else item.highest
    return found


@each
def test_all_best_is_the_top_and_all_worst_the_bottom(instrument: Instrument) -> None:
    for best in (True, False):
        found = score(instrument=instrument, answers=all_marked(instrument, best=best))
        for form in instrument.scores:
            top = form.lowest if (form.direction is Direction.LOWER) is best else form.highest
            assert found[form.code].value == top, form.code


@few
@given(seed=st.integers(0, 2**32))
def test_the_order_of_items_does_not_matter_and_one_better_answer_never_lowers(seed: int) -> None:
    chance = Random(seed)
    for name, instrument in INSTRUMENTS.items():
        note(name)
        sheet = {item.code: chance.choice(item.answers) for item in instrument.items}
        found = score(instrument=instrument, answers=sheet)
        items = chance.sample(list(sheet), len(sheet))
        assert score(instrument=instrument, answers={code: sheet[code] for code in items}) == found
        code = chance.choice(sorted(sheet))
        better = all_marked(instrument, best=True).get(code)
        if better is None:
            continue
        lifted = score(instrument=instrument, answers={**sheet, code: better})
        for form in instrument.scores:
            step = Fraction(lifted[form.code].value or 0) - Fraction(found[form.code].value or 0)
            assert step <= 0 if form.direction is Direction.LOWER else step >= 0


@every_case(
    ("code", "answers", "says"),
    [
        ("koos", {"P1": 5}, "Item P1 of koos takes 0, 1, 2, 3 or 4: send one of these"),
        ("koos", {"P1": "NaN"}, "Item P1 of koos takes 0, 1, 2, 3 or 4: send one of these"),
        ("koos", {"P1": "1.5"}, "Item P1 of koos takes 0, 1, 2, 3 or 4: send one of these"),
        ("koos", {"P10": 1}, "The items of koos are S1, S2"),
        ("lysholm", {"4": 30}, "Item 4 of lysholm takes 0, 5, 10, 15, 20 or 25"),
        ("cincinnati_function", {"4": 20}, "Item 4 of cincinnati_function takes 40, 60, 80 or 100"),
        ("tsk11", {"1": 0}, "Item 1 of tsk11 takes 1, 2, 3 or 4"),
        ("sane", {"1": 101}, "Item 1 of sane takes whole numbers from 0 to 100"),
    ],
)
def test_an_answer_that_an_item_does_not_take_is_refused(
    code: str, answers: dict[str, object], says: str
) -> None:
    marked = {item: Decimal(str(mark)) for item, mark in answers.items()}
    with pytest.raises(AnswerError, match=f"^{says}") as refusal:
        score(instrument=INSTRUMENTS[code], answers=marked)
    assert refusal.value.message == str(refusal.value)


@every_case(("code", "answered"), [("acl_rsi", 11), ("koos_ps", 6), ("kos_adls", 13), ("lefs", 19)])
def test_where_no_rule_for_missing_answers_is_published_all_are_asked_for(
    code: str, answered: int
) -> None:
    instrument = INSTRUMENTS[code]
    sheet = {item.code: item.highest for item in instrument.items[:answered]}
    found = score(instrument=instrument, answers=sheet)["total"]
    assert (found.value, found.answered) == (None, answered)
    assert found.reason == f"{answered} of {answered + 1} answered, all are needed"
    assert instrument.missing.source.mark == "clinic_setting"


@every_case("mark", ["3", True, 3, 3.0])
def test_what_is_no_exact_number_is_refused(mark: Any) -> None:
    with pytest.raises(AnswerError, match="send one of these as a number, or null"):
        score(instrument=INSTRUMENTS["koos"], answers={"P1": mark})


def test_an_unknown_layout_is_refused_with_those_there_are() -> None:
    with pytest.raises(AnswerError, match="points, zero_best, ten_best: send one of these"):
        score(instrument=INSTRUMENTS["ikdc"], answers={}, layout="turned")


def test_two_marks_on_one_item() -> None:
    """The more severe one for the KOOS (scoring sheet of August 2012); else somebody is asked."""
    one, three = Decimal(1), Decimal(3)
    koos, lefs = INSTRUMENTS["koos"], INSTRUMENTS["lefs"]
    for marks in ([one, three], [three, one]):
        assert settle_two_marks(instrument=koos, item="Q1", marks=marks) == 3
    with pytest.raises(AnswerError, match="ask which one counts"):
        settle_two_marks(instrument=lefs, item="1", marks=[one, three])
    assert settle_two_marks(instrument=lefs, item="1", marks=[one, one]) == 1


def numbers(*marks: int | None) -> dict[str, Decimal | None]:
    sheet = {str(item): mark for item, mark in enumerate(marks, start=1)}
    return {item: None if mark is None else Decimal(mark) for item, mark in sheet.items()}


def test_activities_of_ones_own_are_compared_where_they_were_rated_both_times() -> None:
    """Mean 4 to 7 over the same three, as printed on the form (Stratford 1995)."""
    psfs = INSTRUMENTS["psfs"]
    same = compare_forms(
        instrument=psfs, score="total", before=numbers(3, 5, 4), after=numbers(6, 7, 8)
    )
    assert same == Compared(before=Fraction(4), after=Fraction(7))
    added = compare_forms(
        instrument=psfs, score="total", before=numbers(3, 5, 4), after=numbers(6, 7, 8, 0)
    )
    assert added == Compared(before=Fraction(4), after=Fraction(7), left_out=("4",))
    other = compare_forms(instrument=psfs, score="total", before=numbers(3), after=numbers(None, 7))
    assert other == Compared(before=None, after=None, left_out=("1", "2"))


def test_other_scores_are_compared_as_they_stand() -> None:
    koos = INSTRUMENTS["koos"]
    before: dict[str, Decimal | None] = {"Q1": Decimal(4), "Q2": Decimal(2), "Q3": Decimal(0)}
    after: dict[str, Decimal | None] = {"Q1": Decimal(0), "Q2": Decimal(0)}
    found = compare_forms(instrument=koos, score="qol", before=before, after=after)
    assert found == Compared(before=Fraction(50), after=Fraction(100))


def test_what_may_share_a_line() -> None:
    def line(code: str, limb: Limb, layout: str = "", name: str = "total") -> str:
        return line_key(instrument=INSTRUMENTS[code], score=name, limb=limb, layout=layout)

    right, left = Limb.RIGHT, Limb.LEFT
    assert line("ikdc", right, "zero_best") == line("ikdc", right, "ten_best")
    apart = {
        line("ikdc", right), line("ikdc", left), line("pedi_ikdc", right), line("acl_rsi", right),
        line("acl_rsi_short", right), line("koos_ps", right, "zero_is_none"),
        line("koos_ps", right, "hundred_is_none"), line("koos", right, name="pain"),
        line("koos12", right, name="pain"), line("lefs", Limb.NONE),
    }  # fmt: skip
    assert len(apart) == 10
    assert line("ikdc", right).endswith("/as_scored")
    assert line("koos_ps", right, "hundred_is_none").endswith("/turned")
    with pytest.raises(ValueError, match="one knee"):
        line("ikdc", Limb.NONE)
    with pytest.raises(ValueError, match="the person"):
        line("lefs", right)


def test_prints_of_a_form_that_count_otherwise() -> None:
    rsi, koos_ps = INSTRUMENTS["acl_rsi"], INSTRUMENTS["koos_ps"]
    seven = {item.code: Decimal(7) for item in rsi.items}
    assert score(instrument=rsi, answers=seven, layout="zero_to_ten")["total"].value == 70
    ones = {item.code: Decimal(1) for item in koos_ps.items}
    found = [
        score(instrument=koos_ps, answers=ones, layout=one.code)["total"].value
        for one in koos_ps.layouts
    ]
    assert None not in found
    assert sum(value for value in found if value is not None) == 100
    assert len(set(found)) == 2
    part = {**ones, "1": None}
    for one in koos_ps.layouts:
        assert score(instrument=koos_ps, answers=part, layout=one.code)["total"].value is None


def test_a_mean_that_needs_every_answer_leaves_no_item_out() -> None:
    rsi = INSTRUMENTS["acl_rsi"]
    whole: dict[str, Decimal | None] = {item.code: Decimal(70) for item in rsi.items}
    found = compare_forms(instrument=rsi, score="total", before=whole, after={**whole, "1": None})
    assert found == Compared(before=Fraction(70), after=None)


def test_a_summary_says_which_score_it_lacks() -> None:
    koos12 = INSTRUMENTS["koos12"]
    answers = {item.code: Decimal(1) for item in koos12.items[4:]}
    found = score(instrument=koos12, answers=answers)
    lacking = [code for code, one in found.items() if one.value is None and code != "summary"]
    assert len(lacking) == 1
    needs = "needs pain, function, qol; not formed: "
    assert found["summary"].reason == needs + lacking[0]


@every_case(
    ("count", "words"),
    [(12, "0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10 or 11"), (13, "whole numbers from 0 to 12")],
)
def test_up_to_twelve_answers_are_listed(count: int, words: str) -> None:
    assert answers_in_words(answers=[Decimal(number) for number in range(count)]) == words


def test_a_turned_print_of_a_form_turns_the_direction_of_its_score() -> None:
    koos_ps = INSTRUMENTS["koos_ps"]
    found = [koos_ps.direction(score="total", layout=one.code) for one in koos_ps.layouts]
    turned = [bool(one.turned) for one in koos_ps.layouts]
    first = koos_ps.score(code="total").direction
    assert found == [first.opposite if turn else first for turn in turned]
    assert len(set(found)) == 2


def test_what_is_recorded_and_counts_in_no_score() -> None:
    found = {code: one.unscored for code, one in INSTRUMENTS.items() if one.unscored}
    assert found == {"tegner": ("before_injury", "wished")}


def koos_seed(**changes: Any) -> dict[str, Any]:
    seed = next(mapping for name, mapping in instrument_seeds() if name == "koos.toml")
    return {**seed, **changes}


@every_case(
    ("changes", "says"),
    [
        ({"code": "Koos"}, "koos.toml: code: 'Koos' is not a code"),
        ({"wording": "x"}, "koos.toml: wording: is not known"),
        ({"items": []}, "koos.toml: items: is missing"),
        ({"sources": []}, "koos.toml: sources: is missing"),
        ({"mark": "seems_so"}, "koos.toml: mark: 'seems_so' is none of"),
        ({"audience": "everybody"}, "koos.toml: audience: 'everybody' is none of"),
    ],
)
def test_an_incomplete_seed_is_refused_with_file_and_key(
    changes: dict[str, Any], says: str
) -> None:
    with pytest.raises(SeedError) as refusal:
        instrument_from(koos_seed(**changes), where="koos.toml")
    assert str(refusal.value).startswith(says)
