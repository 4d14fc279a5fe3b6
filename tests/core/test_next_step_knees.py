"""At most one step up a visit over both knees of a patient."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.next_step import KneeToday, next_steps_of_knees
from outcomes.core.progressions import Standing
from tests.core.builders import CATALOGUE, L, R, facts
from tests.core.steps import CODES, HOLD, TODAY, ago, good, rules

BEGUN = st.lists(
    st.tuples(
        st.sampled_from((HOLD, "standing_hip_hold", "two_leg_squat_or_press", "two_leg_jump")),
        st.integers(15, 60),
    ),
    max_size=3,
)
BOTH_SIDES = (*good(), *(replace(one, limb=R) for one in good() if one.limb is L))


@given(left=BEGUN, right=BEGUN, step_taken=st.booleans())
def test_at_most_one_step_up_over_both_knees_and_one_wherever_any_could_be(left, right, step_taken):
    knees = [
        KneeToday(
            standings=[
                Standing(progression=CODES[code], level=code, since=ago(days))
                for code, days in begun
            ],
            facts=facts(knee=knee), restrictions=[], events=[],
        )
        for knee, begun in ((L, left), (R, right))
    ]  # fmt: skip

    def moves(*some: KneeToday, taken: bool = False) -> list[str]:
        found = next_steps_of_knees(
            knees=some, catalogue=CATALOGUE, readings=BOTH_SIDES, on=TODAY, step_taken=taken
        )
        assert [len(mine) for mine in found] == [len(one.standings) for one in some]
        every = [one for mine in found for one in mine]
        assert all("one_step_a_visit" in rules(one) for one in every) or not taken
        return [one.move.value for one in every]

    alone = [
        moves(replace(knee, standings=[standing]))[0]
        for knee in knees
        for standing in knee.standings
    ]
    assert moves(*knees, taken=step_taken).count("progress") == (
        0 if step_taken else min(alone.count("progress"), 1)
    )
    assert alone.count("progress") == len(alone)
