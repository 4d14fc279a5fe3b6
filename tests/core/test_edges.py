"""The exact place at which a comparison turns: one case on the edge for each rule that has one."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from outcomes.core.criteria import judge_criterion
from outcomes.core.entries import Typed, take
from outcomes.core.errors import mdc, real_change, sem
from outcomes.core.evidence import latest_body_mass
from outcomes.core.grades import kept_by
from outcomes.core.history import History
from outcomes.core.judge import judge_protocol
from outcomes.core.kinds import Basis
from outcomes.core.looks import reasons_to_look
from outcomes.core.quantities import TypedError, parse_number
from outcomes.core.readings import far_apart, summarise, swap_suspected
from outcomes.core.status import Change
from outcomes.core.strength import per_body_mass, torque
from outcomes.core.symmetry import symmetry
from outcomes.core.values import (
    Better,
    Choice,
    Criterion,
    CriterionResult,
    Limb,
    Mark,
    MeasurementError,
    Reading,
    ReadingStatus,
    Restriction,
    Result,
    Source,
    Summary,
    Symmetry,
)
from outcomes.core.wording import (
    change_words,
    drop_words,
    index_change_words,
    reading_words,
    symmetry_words,
)
from tests.core.builders import (
    CATALOGUE,
    LATERAL,
    PROTOCOL,
    SURGERY,
    L,
    R,
    after,
    both,
    facts,
    newest,
    reading,
    visits,
)
from tests.core.tables import every_case

HOP, QUAD, FLEX = "single_hop", "quadriceps_torque", "knee_flexion"
EXT, MASS = "knee_extension", "body_mass"
TODAY = after(weeks=40)


def criterion(milestone: str, code: str) -> Criterion:
    found = next(one for one in PROTOCOL.milestones if one.code == milestone)
    return next(one for one in found.criteria if one.code == code)


def judged(asked: Criterion, rows: list[Reading], **more: Any) -> CriterionResult:
    rest: dict[str, Any] = {"facts": facts(), "on": TODAY, "body_mass": None, **more}
    measure = rest.pop("measure", CATALOGUE[asked.measure])
    return judge_criterion(criterion=asked, measure=measure, readings=rows, **rest)


def codes(rows: list[Reading], **more: Any) -> list[str]:
    rest: dict[str, Any] = {
        "facts": facts(), "catalogue": CATALOGUE, "restrictions": (), "red_flags": (),
        "visits": visits(last_on=rows[-1].on), "on": rows[-1].on, **more,
    }  # fmt: skip
    return [reason.code for reason in reasons_to_look(readings=rows, **rest)]


def says(code: str, **fields: Any) -> list[str]:
    taken = take(measure=CATALOGUE[code], limb=R, typed=Typed(**fields), key="k=1")
    return [problem.message for problem in taken.problems]


# What is typed


def test_a_reason_has_room_for_200_characters_and_a_value_for_60():
    for length, wrong in ((200, 0), (201, 1)):
        found = says("knee_flexion", texts=("165",), reason="x" * length)
        assert found.count("Say it in at most 200 characters.") == wrong
    for length, wrong in ((60, 0), (61, 1)):
        text = "9" + " " * (length - 2) + "9"
        assert says("knee_flexion", texts=(text,)).count("Type a shorter number.") == wrong


def test_decimals_are_those_of_the_measure_in_its_own_unit_and_two_in_another():
    assert says(MASS, texts=("70.55",), unit="kg") == [
        "Type at most 1 digit after the decimal mark."
    ]
    assert says(MASS, texts=("155.55",), unit="[lb_av]") == []
    assert says(MASS, texts=("155.5555",), unit="[lb_av]") == [
        "Type at most 2 digits after the decimal mark."
    ]


def test_where_nothing_below_zero_is_taken_a_sign_is_named_as_such():
    assert says(FLEX, texts=("-5",)) == ["Type 5 without a sign."]


@every_case(("lever", "wrong"), [("9.9", True), ("10", False), ("60", False), ("60.1", True)])
def test_lever_arms_from_10_to_60_cm(lever: str, wrong: bool):
    assert bool(says(QUAD, texts=("300",), unit="N", lever=lever)) is wrong


def test_extension_out_of_limits_names_the_limit_of_its_own_side():
    low, high = CATALOGUE[EXT].hard
    assert says(EXT, choice="lacks", texts=("80",)) == [f"Type at most {high}°."]
    assert says(EXT, choice="beyond", texts=("80",)) == [f"Type at most {-low}°."]


def test_one_trial_is_the_value_itself_and_keeps_no_list():
    found = take(measure=CATALOGUE[FLEX], limb=R, typed=Typed(texts=("120",)), key="")
    assert found.entry is not None
    assert (found.entry.trials, found.entry.typed_text) == ((), "120")


@every_case(("text", "refused"), [("123,456", True), ("1234,567", False)])
def test_three_digits_before_three_are_read_in_two_ways_four_are_not(text: str, refused: bool):
    if refused:
        with pytest.raises(TypedError, match="two ways"):
            parse_number(text=text)
    else:
        assert parse_number(text=text) == Decimal("1234.567")


def test_the_best_of_values_that_are_best_near_zero_is_the_nearest():
    measure = replace(CATALOGUE[HOP], better=Better.TOWARD_ZERO, summary=Summary.BEST, trials=3)
    assert summarise(measure=measure, trials=[Decimal(-5), Decimal(2), Decimal(3)]) == 2


# Formulas


def test_an_icc_of_0_and_of_1_and_an_sd_of_0_are_possible():
    assert sem(sd=Decimal(3), icc=Decimal(0)) == 3
    assert sem(sd=Decimal(3), icc=Decimal(1)) == 0
    assert sem(sd=Decimal(0), icc=Decimal("0.5")) == 0


def test_a_change_of_exactly_the_mdc_is_real():
    edge = Fraction(mdc(sem=Decimal(3), confidence=95))
    least = Fraction(1, 10**30)
    assert real_change(before=Fraction(0), after=edge, sem=Decimal(3)) is True
    assert real_change(before=Fraction(0), after=edge - least, sem=Decimal(3)) is False


def test_nothing_at_all_is_no_force_no_lever_and_no_body_mass():
    for force, lever in ((0, 1), (1, 0)):
        with pytest.raises(TypedError):
            torque(force=Decimal(force), lever_arm=Decimal(lever))
    with pytest.raises(TypedError):
        per_body_mass(value=Decimal(1), body_mass=Decimal(0))


# What is judged


def test_a_criterion_names_every_reading_it_was_judged_on():
    per_mass = criterion("competition", "quadriceps_per_kg")
    strength, mass = both(QUAD, "190", "200", TODAY), reading(MASS, Limb.NONE, "63", TODAY)
    found = judged(per_mass, strength, body_mass=mass)
    assert found.refs == (strength[0].ref, mass.ref)
    flexion = both(FLEX, "140", "140", TODAY)
    asked = criterion("step_down_work", "flexion_120")
    assert judged(asked, flexion, body_mass=mass).refs == (flexion[0].ref,)
    pelvis = both(LATERAL, "moderate", "moderate", TODAY)
    assert judged(criterion("running", "lateral_heel_touch"), pelvis).refs == (
        pelvis[0].ref, pelvis[1].ref,
    )  # fmt: skip


def test_a_test_that_was_declined_hides_no_older_value_of_one_limb():
    asked = criterion("step_down_work", "flexion_120")
    old = TODAY - timedelta(days=asked.maximum_age_days)
    rows = [
        reading(FLEX, L, "140", old),
        reading(FLEX, L, None, TODAY, status=ReadingStatus.DECLINED),
    ]
    assert judged(asked, rows).result is Result.MET
    assert judged(asked, rows, on=TODAY + timedelta(days=1)).result is Result.NOT_ASSESSABLE


def test_the_margin_of_torque_by_body_mass_is_by_body_mass_too():
    asked = criterion("competition", "quadriceps_per_kg")
    error = MeasurementError(
        of=Basis.VALUE, sem=Decimal(10), population="nobody", method="none",
        source=Source(text="made up for this test", mark=Mark.CLINIC_SETTING),
    )  # fmt: skip
    measure = replace(CATALOGUE[QUAD], errors=(error,))
    rows, mass = both(QUAD, "190", "200", TODAY), reading(MASS, Limb.NONE, "50", TODAY)
    assert judged(asked, rows, body_mass=mass, measure=measure).margin == Decimal("0.329")
    hops = criterion("competition", "quadriceps")
    assert judged(hops, rows, body_mass=mass, measure=measure).margin is None


def test_on_the_day_of_the_operation_what_was_before_it_says_nothing():
    asked = criterion("step_down_work", "flexion_120")
    before = [reading(FLEX, L, "140", SURGERY - timedelta(days=1))]
    assert judged(asked, before, on=SURGERY).result is Result.NOT_TESTED
    assert judged(asked, before, on=SURGERY - timedelta(days=1)).result is Result.MET


def test_body_mass_of_today_counts_and_holds_until_its_last_day():
    age = CATALOGUE[MASS].maximum_age_days
    assert age is not None
    for days, counts in ((-1, False), (0, True), (age, True), (age + 1, False)):
        mass = reading(MASS, Limb.NONE, "63", TODAY - timedelta(days=days))
        found = latest_body_mass(catalogue=CATALOGUE, readings=[mass], on=TODAY)
        assert found == (mass if counts else None)


def test_a_detail_that_spoils_and_has_no_short_word_is_said_by_its_own():
    measure = CATALOGUE[LATERAL]
    kept = next(detail for detail in measure.details if detail.code == "kept_level_by")
    other = replace(
        kept,
        choices=(*kept.choices, Choice(code="belt", label="a belt")),
        spoils=(*kept.spoils, "belt"),
    )
    row = reading(LATERAL, L, "level", TODAY, details={"kept_level_by": "belt"})
    assert kept_by(measure=replace(measure, details=(other,)), reading=row) == "a belt"


# Reasons to look


def test_the_day_of_the_operation_lies_on_neither_side_of_it():
    history = History(facts=facts(), catalogue=CATALOGUE, readings=[], on=TODAY)
    days = [SURGERY + timedelta(days=shift) for shift in (-1, 0, 1)]
    assert [[history.same_side(one=one, other=other) for other in days] for one in days] == [
        [True, False, False],
        [False, True, False],
        [False, False, True],
    ]


def test_two_procedures_are_both_named_and_a_third_is_counted():
    for count, end in ((2, "b"), (3, "b and 1 more")):
        seen = visits(last_on=after(weeks=5), limits_to_confirm=tuple("abc"[:count]))
        (found,) = (
            reason
            for reason in reasons_to_look(
                facts=facts(), catalogue=CATALOGUE, readings=[], restrictions=(), visits=seen,
                red_flags=(), on=after(weeks=5),
            )
            if reason.code == "limits_not_confirmed"
        )  # fmt: skip
        assert found.facts["procedures"] == f"a, {end}"


def test_an_effusion_that_stays_came_up_from_nothing():
    rows = [reading("effusion", L, "2+", after(weeks=week)) for week in (9, 10)]
    (found,) = (
        reason
        for reason in reasons_to_look(
            facts=facts(), catalogue=CATALOGUE, readings=rows, restrictions=(),
            visits=visits(last_on=after(weeks=10)), red_flags=(), on=after(weeks=10),
        )
        if reason.code == "effusion_regress"
    )  # fmt: skip
    assert (found.facts["from"], len(found.refs)) == ("", 1)


@every_case(
    ("course", "down"),
    [(("180", "170", "160"), True), (("180", "170", "170"), False), (("170", "170", "160"), False)],
)
def test_down_twice_in_a_row_means_two_falls(course: tuple[str, ...], down: bool):
    rows = [
        row
        for week, value in zip((16, 20, 24), course, strict=True)
        for row in both(QUAD, value, "200", after(weeks=week))
    ]
    assert ("quadriceps_setback" in codes(rows)) is down


def test_a_range_limit_holds_the_flexion_alarm_from_its_first_day():
    rows = [reading(FLEX, L, "80", after(weeks=8))]
    for since, alarm in ((after(weeks=8), False), (after(weeks=8, days=1), True)):
        limit = Restriction(kind="range", limit="no bend beyond 90°", since=since, until=None)
        assert ("flexion_low" in codes(rows, restrictions=(limit,))) is alarm


def test_as_near_swapped_as_typed_is_no_suspicion():
    measure = CATALOGUE[HOP]
    earlier = newest(measure, both(HOP, "100", "100", after(weeks=20)))
    now = newest(measure, both(HOP, "150", "100", after(weeks=24)))
    told = swap_suspected(measure=measure, pair=now, facts=facts(), previous_pair=earlier)
    assert told is None
    assert not far_apart(measure=measure, pair=newest(measure, both(HOP, "0", "100", TODAY)))


# Words


def test_one_is_singular_and_two_are_plural():
    measure = CATALOGUE[LATERAL]
    for left, words in (("slight", "one grade worse than the other side"),
                        ("moderate", "two grades worse than the other side")):  # fmt: skip
        pair = newest(measure, both(LATERAL, left, "level", TODAY))
        found = symmetry(measure=measure, pair=pair, involved=L, other_limb_fair=True)
        assert isinstance(found, Symmetry)
        assert symmetry_words(measure=measure, symmetry=found) == words


def test_a_value_without_a_number_has_no_trick_and_a_level_pelvis_stays_level():
    none = reading(LATERAL, L, None, TODAY, status=ReadingStatus.DECLINED)
    assert reading_words(measure=CATALOGUE[LATERAL], reading=none) == "declined"
    leaning = reading(LATERAL, L, "level", TODAY, details={"kept_level_by": "trunk_leans"})
    assert reading_words(measure=CATALOGUE[LATERAL], reading=leaning) == "level, by leaning"
    assert drop_words(standing=L, grade="level") == "Standing on the left, the pelvis stays level."
    assert drop_words(standing=L, grade="level", trick="by leaning") == (
        "Standing on the left, the pelvis is level, by leaning."
    )


def test_a_change_has_a_direction():
    def change(before: int, after: int) -> Change:
        return Change(before=Fraction(before), after=Fraction(after), since=TODAY, real=True)

    assert [index_change_words(change=change(80, to)) for to in (83, 77, 80)] == [
        "up 3", "down 3", "the same",
    ]  # fmt: skip
    flexion, pelvis = CATALOGUE[FLEX], CATALOGUE[LATERAL]
    assert [change_words(measure=flexion, change=change(80, to)) for to in (83, 77)] == [
        "3° more", "3° less",
    ]  # fmt: skip
    assert [change_words(measure=pelvis, change=change(1, to)) for to in (2, 0, 3)] == [
        "one grade more", "one grade less", "two grades more",
    ]  # fmt: skip


def test_every_milestone_up_to_the_goal_and_none_after_it():
    found = judge_protocol(
        protocol=PROTOCOL, catalogue=CATALOGUE, readings=[], facts=facts(goal="straight_line"),
        restrictions=(), on=TODAY,
    )  # fmt: skip
    assert [one.milestone.code for one in found] == ["step_down_work", "running"]
