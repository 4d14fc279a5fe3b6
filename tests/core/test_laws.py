"""Laws over the whole catalogue: mirror left and right, change the unit, reorder what was typed."""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from hypothesis import given, note, settings
from hypothesis import strategies as st

from outcomes.core.quantities import UNITS, convert
from outcomes.core.readings import summarise
from outcomes.core.symmetry import pairs_of, symmetry
from outcomes.core.values import Limb, Measure, NotAssessable, Summary, Symmetry, SymmetryForm
from tests.core.builders import CATALOGUE, L, R, after, reading
from tests.core.tables import every_case

DAY = after(weeks=30)
COMPARED = sorted(
    code for code, measure in CATALOGUE.items() if measure.symmetry is not SymmetryForm.NONE
)
CONVERTED = sorted(
    (code, unit)
    for code, measure in CATALOGUE.items()
    for unit in measure.entry_units
    if unit != measure.unit and UNITS[unit][0] == UNITS[measure.unit][0]
)
TRIED = sorted(code for code, measure in CATALOGUE.items() if measure.trials > 1)
some = settings(max_examples=8)


def measures(codes: list[str]) -> Iterator[Measure]:
    """Each of them; what fails names the measure."""
    for code in codes:
        note(code)
        yield CATALOGUE[code]


def values_of(measure: Measure) -> st.SearchStrategy[Decimal]:
    """Values that the measure takes; a ratio is asked of what is above zero and below the cap."""
    low, high = measure.hard
    if measure.grades:
        return st.integers(0, len(measure.grades) - 1).map(Decimal)
    if measure.symmetry is not SymmetryForm.DIFFERENCE:
        low = max(low, Decimal(1).scaleb(-measure.decimals))
    if measure.cap is not None:
        high -= 1
    return st.decimals(min_value=low, max_value=high, places=measure.decimals)


def compared(measure: Measure, left: Decimal, right: Decimal, *, knee: Limb) -> Fraction:
    """The symmetry of a pair with that operated side, exact."""
    word = measure.word if measure.grades else None
    rows = [
        reading(measure.code, limb, word(value=value) if word else value, DAY)
        for limb, value in ((L, left), (R, right))
    ]
    (pair,) = pairs_of(measure=measure, readings=rows)
    found = symmetry(measure=measure, pair=pair, involved=knee, other_limb_fair=True)
    assert isinstance(found, Symmetry)
    return found.value


@some
@given(data=st.data())
def test_first_mirror_law_left_and_right_swapped_with_the_operated_side_changes_nothing(
    data: st.DataObject,
) -> None:
    for measure in measures(COMPARED):
        left, right = (data.draw(values_of(measure)) for _ in range(2))
        assert compared(measure, left, right, knee=L) == compared(measure, right, left, knee=R)


@some
@given(data=st.data())
def test_second_mirror_law_the_values_alone_swapped_invert_a_ratio_and_turn_a_difference(
    data: st.DataObject,
) -> None:
    for measure in measures(COMPARED):
        left, right = (data.draw(values_of(measure)) for _ in range(2))
        here, there = compared(measure, left, right, knee=L), compared(measure, right, left, knee=L)
        if measure.symmetry is SymmetryForm.DIFFERENCE:
            assert there == -here
        else:
            assert there == Fraction(100) ** 2 / here


@some
@given(data=st.data())
def test_another_unit_on_both_limbs_changes_no_comparison(data: st.DataObject) -> None:
    """To twenty places: a factor such as a foot-pound in N·m is kept to fifty digits."""
    for code, unit in CONVERTED:
        note(f"{code} in {unit}")
        _another_unit(CATALOGUE[code], unit, data)


def _another_unit(measure: Measure, unit: str, data: st.DataObject) -> None:
    if measure.symmetry is SymmetryForm.NONE:
        value = data.draw(values_of(measure))
        there = convert(value=value, source=measure.unit, target=unit)
        back = convert(value=there, source=unit, target=measure.unit)
        assert abs(back - value) < Decimal("1e-20")
        return
    left, right = (data.draw(values_of(measure)) for _ in range(2))
    other = [convert(value=value, source=measure.unit, target=unit) for value in (left, right)]
    gap = compared(measure, *other, knee=L) - compared(measure, left, right, knee=L)
    if measure.symmetry is SymmetryForm.DIFFERENCE:
        factor = UNITS[measure.unit][1] / UNITS[unit][1]
        gap = compared(measure, *other, knee=L) - Fraction(factor) * Fraction(left - right)
    assert abs(gap) < Fraction(1, 10**20)


@some
@given(data=st.data())
def test_the_order_of_trials_changes_nothing(data: st.DataObject) -> None:
    for measure in measures(TRIED):
        trials = data.draw(st.lists(values_of(measure), min_size=2, max_size=measure.trials))
        shuffled = data.draw(st.permutations(trials))
        value = summarise(measure=measure, trials=trials)
        assert summarise(measure=measure, trials=shuffled) == value
        assert measure.summary is not Summary.SINGLE


@every_case("code", COMPARED)
def test_the_order_of_rows_changes_no_pair(code: str) -> None:
    measure = CATALOGUE[code]
    low = measure.word(value=Decimal(0)) if measure.grades else measure.soft[0]
    rows = [reading(code, limb, low, after(weeks=week)) for week in (12, 20) for limb in (L, R)]
    found = pairs_of(measure=measure, readings=rows)
    assert [pair.on for pair in found] == [after(weeks=20), after(weeks=12)]
    assert pairs_of(measure=measure, readings=rows[::-1]) == found


def test_what_is_never_compared_has_no_index_however_the_limbs_are_swapped() -> None:
    for code in sorted(set(CATALOGUE) - set(COMPARED)):
        measure = CATALOGUE[code]
        if not measure.per_limb:
            continue
        low = measure.word(value=Decimal(0)) if measure.grades else measure.soft[0]
        (pair,) = pairs_of(
            measure=measure, readings=[reading(code, limb, low, DAY) for limb in (L, R)]
        )
        for knee in (L, R):
            found = symmetry(measure=measure, pair=pair, involved=knee, other_limb_fair=True)
            assert isinstance(found, NotAssessable)
