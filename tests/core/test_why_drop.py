"""Why the pelvis might drop: what supports each explanation, what speaks against it, no verdict."""

from dataclasses import replace
from datetime import date
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.drop_explained import (
    FOUND,
    MIGHT_BE,
    NEXT,
    NO_DIAGNOSIS,
    NOT_KNOWN,
    found_words,
    not_known_words,
)
from outcomes.core.values import Mark, Reading, ReadingStatus
from outcomes.core.why_drop import LOOKED_AT, TELLS_APART, Explanation, why_drop
from tests.core.builders import (
    CATALOGUE,
    FORWARD,
    LATERAL,
    NONE,
    UPRIGHT,
    L,
    R,
    after,
    both,
    facts,
    few,
    reading,
)  # fmt: skip
from tests.core.tables import every_case

TODAY = after(weeks=14)
SIDES = "device=belt;pad=above_knee;position=side_lying"


def drop(limb: Any = L, grade: str = "moderate", measure: str = LATERAL, **details: str) -> Reading:
    return reading(
        measure, limb, grade, TODAY, key="step_height=20", details={**UPRIGHT, **details}
    )


def explained(
    seen: Reading, *more: Reading, pain: bool | None = None, on: date = TODAY, **changes: Any
) -> dict[str, Explanation]:
    found = why_drop(
        reading=seen, facts=facts(**changes), catalogue=CATALOGUE, readings=[seen, *more],
        on=on, lateral_hip_pain=pain,
    )  # fmt: skip
    for one in found:
        for finding in (*one.supports, *one.against):
            assert "{" not in found_words(finding=finding)
        assert all(not_known_words(code=code) for code in one.not_known)
    return {one.code: one for one in found}


def codes(one: Explanation) -> tuple[list[str], list[str]]:
    return [f.code for f in one.supports], [f.code for f in one.against]


LOOKED = [
    ("hip_abductors", both("hip_abduction_force", "89", "100", TODAY, key=SIDES),
     ["abduction_less"], []),
    ("hip_abductors", both("hip_abduction_force", "90", "100", TODAY, key=SIDES),
     [], ["abduction_even"]),
    ("hip_abductors", [reading("standing_hip_hold", L, "19.9", TODAY)], ["hold_short"], []),
    ("hip_abductors", [reading("standing_hip_hold", L, "20", TODAY)], [], ["hold_long"]),
    ("quadriceps", both("quadriceps_torque", "79", "100", TODAY), ["quadriceps_less"], []),
    ("quadriceps", both("quadriceps_torque", "80", "100", TODAY), [], []),
    ("quadriceps", both("quadriceps_torque", "90", "100", TODAY), [], ["quadriceps_even"]),
    ("quadriceps", [reading("forward_knee_travel", L, "held back", TODAY,
                            key="task=lateral_heel_touch")], ["knee_travel"], []),
    ("quadriceps", [reading("forward_knee_travel", L, "full", TODAY,
                            key="task=lateral_heel_touch")], [], ["knee_travel"]),
    ("quadriceps", [reading("forward_knee_travel", L, "full", TODAY,
                            key="task=forward_heel_touch")], [], []),
    ("ankle", both("ankle_dorsiflexion", "35", "40", TODAY, key="device=app"),
     ["ankle_short"], []),
    ("ankle", both("ankle_dorsiflexion", "36", "40", TODAY, key="device=app"),
     [], ["ankle_alike"]),
    ("leg_length", both("leg_length", "88", "89", TODAY), ["legs_unequal"], []),
    ("leg_length", both("leg_length", "89", "88", TODAY), ["legs_unequal"], []),
    ("leg_length", both("leg_length", "88.1", "89", TODAY), [], ["legs_alike"]),
    ("step_height", [reading("height", NONE, "166", TODAY)], ["step_high"], []),
    ("step_height", [reading("height", NONE, "167", TODAY)], [], []),
    ("step_height", [reading(LATERAL, L, "slight", TODAY, key="step_height=15")],
     ["lower_step_better"], []),
    ("step_height", [reading(LATERAL, L, "moderate", TODAY, key="step_height=10")],
     [], ["lower_step_same"]),
    ("irritated_knee", [reading("effusion", L, "1+", TODAY)], ["swollen"], []),
    ("irritated_knee", [reading("effusion", L, "trace", TODAY)], [], ["not_swollen"]),
    ("irritated_knee", [reading("pain_during_test", L, "3", TODAY, key=f"during={LATERAL}")],
     ["hurts"], []),
    ("irritated_knee", [reading("pain_during_test", L, "9", TODAY, key="during=single_hop")],
     [], []),
    ("irritated_knee", [reading("pain_front_of_knee", L, "2", TODAY)], [], ["hurts_little"]),
    ("usual_for_this_person", [drop(R)], ["other_side_alike"], []),
    ("usual_for_this_person", [drop(R, "slight")], [], ["other_side_differs"]),
]  # fmt: skip


@every_case(("code", "rows", "supports", "against"), LOOKED)
def test_what_was_measured_supports_or_speaks_against(
    code: str, rows: list[Reading], supports: list[str], against: list[str]
) -> None:
    found = explained(drop(), *rows)
    assert codes(found[code]) == (supports, against)
    assert codes(explained(drop())[code]) == ([], [])


SEEN = [
    ({"when": "first_movement"}, "hip_abductors", ["first_movement"], []),
    ({"when": "only_at_depth"}, "hip_abductors", [], ["only_at_depth"]),
    ({"kept_level_by": "trunk_leans"}, "hip_abductors", ["trunk_leans"], []),
    ({"when": "only_at_depth"}, "quadriceps", ["only_at_depth"], []),
    ({"when": "on_the_way_down"}, "quadriceps", ["on_the_way_down"], []),
    ({"when": "first_movement"}, "quadriceps", [], ["first_movement"]),
    ({"comfort": "afraid"}, "fear", ["afraid"], []),
    ({"comfort": "unsure"}, "fear", ["unsure"], []),
    ({"comfort": "at_ease"}, "fear", [], ["at_ease"]),
    ({"comfort": "sore"}, "irritated_knee", ["sore"], []),
]


@every_case(("details", "code", "supports", "against"), SEEN)
def test_how_it_drops_speaks_too(
    details: dict[str, str], code: str, supports: list[str], against: list[str]
) -> None:
    assert codes(explained(drop(**details))[code]) == (supports, against)


@every_case(
    ("pain", "supports", "against"),
    [(True, ["lateral_hip_pain"], []), (False, [], ["no_lateral_hip_pain"]), (None, [], [])],
)
def test_pain_at_the_side_of_the_hip_is_asked(
    pain: bool | None, supports: list[str], against: list[str]
) -> None:
    assert codes(explained(drop(), pain=pain)["lateral_hip_pain"]) == (supports, against)


def test_what_was_not_looked_at_is_named_and_nothing_is_assumed() -> None:
    found = explained(drop())
    assert {code: one.not_known for code, one in found.items()} == {
        "hip_abductors": ("hip_abduction_force", "standing_hip_hold"),
        "quadriceps": ("quadriceps_torque", "forward_knee_travel"),
        "ankle": ("ankle_dorsiflexion",),
        "leg_length": ("leg_length",),
        "step_height": ("height", "lower_step"),
        "lateral_hip_pain": ("lateral_hip_pain",),
        "irritated_knee": ("effusion", "pain_during_test"),
        "fear": ("comfort",),
        "usual_for_this_person": ("other_side",),
    }


def test_an_old_reading_another_side_or_an_unfair_one_says_nothing() -> None:
    old = both("quadriceps_torque", "50", "100", after(weeks=7))
    assert codes(explained(drop(), *old)["quadriceps"]) == ([], [])
    even = both("quadriceps_torque", "50", "100", TODAY)
    unfair = explained(drop(), *even, other_limb="earlier_surgery")
    assert unfair["quadriceps"].not_known == ("quadriceps_torque", "forward_knee_travel")
    other = explained(drop(R), *even)
    assert codes(other["quadriceps"]) == ([], ["quadriceps_even"])
    before = reading("standing_hip_hold", L, "5", after(days=-3))
    assert codes(explained(drop(), before)["hip_abductors"]) == ([], [])


def test_a_level_pelvis_needs_no_explanation_unless_a_trick_kept_it() -> None:
    assert explained(drop(grade="level")) == {}
    assert set(explained(drop(grade="level", kept_level_by="trunk_leans"))) == set(LOOKED_AT)
    assert explained(reading("effusion", L, "2+", TODAY)) == {}
    assert set(explained(drop(measure=FORWARD))) == set(LOOKED_AT)


def test_never_a_verdict_and_the_evidence_against_is_there() -> None:
    found = explained(drop())
    assert list(found) == list(LOOKED_AT) == list(MIGHT_BE) == list(TELLS_APART)
    assert {one.test for one in found.values()} == set(NEXT)
    assert "not a diagnosis" in NO_DIAGNOSIS
    hip = [source for source in found["hip_abductors"].sources if "Against it" in source.text]
    assert [("PMC4560003" in hip[0].text), ("PMC4314615" in hip[1].text)] == [True, True]
    for one in found.values():
        for source in one.sources:
            house = source.mark is Mark.CLINIC_SETTING
            assert ("setting of this house" in source.text) is house
            assert ("common practice, no source" in source.text) is (
                source.mark is Mark.COMMON_PRACTICE
            )
            assert ("from memory, unverified" in source.text) is (source.mark is Mark.MEMORY)


def test_every_finding_and_every_gap_that_can_be_named_has_words() -> None:
    named = {code for _, _, one, two in LOOKED for code in (*one, *two)}
    named |= {code for _, _, one, two in SEEN for code in (*one, *two)}
    assert set(FOUND) == named | {"lateral_hip_pain", "no_lateral_hip_pain"}
    gaps = {code for one in explained(drop()).values() for code in one.not_known}
    assert set(NOT_KNOWN) == gaps | {"step_height"}
    bare = replace(drop(), key="")
    assert explained(bare)["step_height"].not_known == ("step_height",)


ROWS = [row for _, rows, _, _ in LOOKED for row in rows]


@few
@given(
    rows=st.lists(st.sampled_from(ROWS), max_size=8),
    seen=st.sampled_from([drop(), drop(R, "marked"), drop(when="first_movement", comfort="sore")]),
    knee=st.sampled_from([L, R]),
)
def test_left_and_right_swapped_change_nothing(rows: list[Reading], seen: Reading, knee: Any
                                               ) -> None:  # fmt: skip
    def turned(one: Reading) -> Reading:
        return replace(one, limb=one.limb.opposite)

    here = explained(seen, *rows, knee=knee)
    there = explained(turned(seen), *map(turned, rows), knee=knee.opposite)
    assert {code: codes(one) for code, one in here.items()} == {
        code: codes(one) for code, one in there.items()
    }
    assert [one.not_known for one in here.values()] == [one.not_known for one in there.values()]


def test_a_step_of_exactly_twelve_per_cent_is_not_too_high() -> None:
    for height, supports in (("150", []), ("149", ["step_high"])):
        seen = replace(drop(), key="step_height=18")
        found = explained(seen, reading("height", NONE, height, TODAY))
        assert codes(found["step_height"]) == (supports, [])


def test_a_finding_names_both_readings_and_a_test_stopped_by_pain_says_nothing() -> None:
    pair = both("quadriceps_torque", "70", "100", after(weeks=8))
    found = explained(drop(), *pair)["quadriceps"].supports[0]
    assert (found.refs, found.facts["value"]) == (tuple(one.ref for one in pair), "70.0")
    older = explained(drop(), *pair, on=after(weeks=14, days=1))
    assert codes(older["quadriceps"]) == ([], [])
    stopped = both("quadriceps_torque", "70", "100", TODAY, status=ReadingStatus.STOPPED_BY_PAIN)
    assert codes(explained(drop(), *stopped)["quadriceps"]) == ([], [])
