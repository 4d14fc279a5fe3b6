"""Laws of the next step over random records: what is never proposed, whatever else is good."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.core.next_step import next_step, next_steps
from outcomes.core.progressions import Effect, Move, Proposal, Standing
from outcomes.core.step_words import reason_words
from outcomes.core.values import Event, Limb, Reading, Restriction
from outcomes.protocols.criteria import GRAFTS
from outcomes.protocols.reading import KINDS, RESTRICTIONS
from tests.core.builders import CATALOGUE, L, facts, reading
from tests.core.steps import CODES, TODAY, ago, every_reason, good, limit
from tests.core.tables import every_case

LEVELS = sorted(CODES)
some = settings(max_examples=10)
SPOILT = ("pain_worst_24h", "pain_front_of_knee", "effusion", "soreness_after_session",
          "knee_flexion", "quadriceps_torque", "standing_hip_hold", "gait_without_limp",
          "pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch")  # fmt: skip


@st.composite
def records(draw: st.DrawFn) -> dict[str, Any]:
    """The good record with some of it left out, made worse or limited, at any level and week."""
    out = draw(st.sets(st.sampled_from(SPOILT), max_size=3))
    rows = [one for one in good() if one.measure not in out]
    for code in draw(st.lists(st.sampled_from(SPOILT), max_size=3)):
        measure = CATALOGUE[code]
        low, high = measure.hard
        top = len(measure.grades) - 1 if measure.grades else min(high, Decimal(40))
        value = Decimal(draw(st.integers(int(low), int(top))))
        limb = L if measure.per_limb else Limb.NONE
        word = measure.word(value=value) if measure.grades else value
        rows.append(reading(code, limb, word, ago(draw(st.integers(0, 10)))))
    kinds = draw(st.sets(st.sampled_from(RESTRICTIONS), max_size=2))
    happened = draw(
        st.sets(st.sampled_from(["giving_way", "infection", "reoperation"]), max_size=1)
    )
    person = facts(
        graft=draw(st.sampled_from(GRAFTS)),
        kind=draw(st.sampled_from(KINDS)),
        index_date=TODAY - timedelta(weeks=draw(st.integers(0, 40))),
        other_limb=draw(st.sampled_from(["healthy", "earlier_surgery"])),
    )
    return {
        "facts": person,
        "catalogue": CATALOGUE,
        "readings": rows,
        "restrictions": [limit(kind) for kind in sorted(kinds)],
        "events": [Event(code=code, limb=L, on=ago(9)) for code in happened],
        "on": TODAY,
    }


@st.composite
def standings(draw: st.DrawFn) -> Standing:
    level = draw(st.sampled_from(LEVELS))
    at = draw(st.sampled_from([None, Decimal("2.3"), Decimal(10), Decimal(20), Decimal(70)]))
    since = ago(draw(st.integers(5, 40)))
    return Standing(progression=CODES[level], level=level, since=since, at=at)


@some
@given(record=records(), standing=standings())
def test_no_step_up_with_anything_that_holds_and_no_step_of_more_than_one(
    record: dict[str, Any], standing: Standing
) -> None:
    found = next_step(standing=standing, **record)
    places = [level.code for level in standing.progression.levels]
    moved = places.index(found.level) - places.index(standing.level)
    effects = {one.effect for one in every_reason(found)}
    assert [one for one in every_reason(found)
            if "_" in reason_words(reason=one, catalogue=CATALOGUE)] == []  # fmt: skip
    if found.move is Move.PROGRESS:
        assert (effects & {Effect.HOLDS, Effect.TAKES_BACK}, found.blocked_by) == (set(), ())
        assert moved in (0, 1)
        assert (found.variable == "exercise") is (moved == 1)
    if found.move is Move.STAY:
        assert (moved, found.variable) == (0, None)
    if found.move is Move.REGRESS:
        assert moved <= 0
        assert found.blocked_by or Effect.TAKES_BACK in effects
    assert found.dose is not None
    if found.dose.load_kg is not None:
        assert found.dose.load_kg % Decimal("0.5") == 0


@some
@given(record=records(), standing=standings(), code=st.sampled_from(["pain_worst_24h", "effusion"]))
def test_never_a_step_up_with_pain_from_3_or_effusion_over_1(
    record: dict[str, Any], standing: Standing, code: str
) -> None:
    words = ("3", "5", "9") if code != "effusion" else ("2+", "3+")
    for word in words:
        rows = [*record["readings"], reading(code, L, word, TODAY)]
        found = next_step(standing=standing, **{**record, "readings": rows})
        assert found.move is not Move.PROGRESS


@some
@given(record=records(), standing=standings(), data=st.data())
def test_never_a_step_up_to_or_at_an_exercise_that_a_limit_in_force_blocks(
    record: dict[str, Any], standing: Standing, data: st.DataObject
) -> None:
    level = standing.progression.levels[standing.progression.place(code=standing.level)]
    if not level.blocked_by:
        return
    kind = data.draw(st.sampled_from(level.blocked_by))
    held = limit(kind)
    found = next_step(standing=standing, **{**record, "restrictions": [held]})
    assert found.move is not Move.PROGRESS
    assert held in found.blocked_by
    there = standing.progression.levels[standing.progression.place(code=found.level)]
    assert found.move is Move.STAY or kind not in there.blocked_by


@every_case("level", LEVELS)
def test_never_a_step_up_without_one_of_the_hard_conditions_of_the_next_level(level: str) -> None:
    standing = Standing(progression=CODES[level], level=level, since=ago(30), at=Decimal(80))
    late: dict[str, Any] = {
        "facts": facts(graft="patellar_tendon", index_date=TODAY - timedelta(weeks=40)),
        "catalogue": CATALOGUE, "restrictions": [], "events": [], "on": TODAY,
    }  # fmt: skip
    heavy = reading("standing_hip_hold", L, "40", TODAY, key="added_load=7;hand_support=no")
    rows = [*good(), heavy]
    before = next_step(standing=standing, readings=rows, **late)
    if level in ("explosive_strength", "reactive_work", "forward_heel_touch_with_weight"):
        assert before.move is Move.STAY
        return
    there = standing.progression.levels[standing.progression.place(code=before.level)]
    assert (before.move, before.level == level) == (Move.PROGRESS, False)
    for needed in (one for one in there.enter if one.hard):
        measures = {criterion.measure for criterion in needed.criteria}
        left = [one for one in rows if one.measure not in measures]
        assert next_step(standing=standing, readings=left, **late).move is not Move.PROGRESS


def mirrored(rows: list[Reading]) -> list[Reading]:
    return [replace(one, limb=one.limb.opposite) for one in rows]


def unsided(found: Proposal) -> Proposal:
    """The proposal without the name of the side."""

    def bare(reasons: Any) -> Any:
        return tuple(
            replace(one, facts={k: v for k, v in one.facts.items() if k != "limb"})
            for one in reasons
        )

    return replace(
        found, reasons_for=bare(found.reasons_for), reasons_against=bare(found.reasons_against)
    )


@some
@given(record=records(), standing=standings())
def test_left_and_right_swapped_with_the_operated_side_change_nothing(
    record: dict[str, Any], standing: Standing
) -> None:
    swapped = {
        **record,
        "facts": replace(record["facts"], knee=record["facts"].knee.opposite),
        "readings": mirrored(record["readings"]),
        "events": [replace(one, limb=one.limb.opposite) for one in record["events"]],
    }
    here = next_step(standing=standing, **record)
    assert unsided(next_step(standing=standing, **swapped)) == unsided(here)


@some
@given(record=records(), standing=standings(), weeks=st.integers(-200, 200))
def test_all_dates_moved_together_change_no_proposal(
    record: dict[str, Any], standing: Standing, weeks: int
) -> None:
    by = timedelta(weeks=weeks)

    def limit_moved(one: Restriction) -> Restriction:
        return replace(one, since=one.since + by, until=one.until + by if one.until else None)

    index = record["facts"].index_date
    moved = {
        **record,
        "facts": replace(record["facts"], index_date=index + by),
        "readings": [replace(one, on=one.on + by) for one in record["readings"]],
        "events": [replace(one, on=one.on + by) for one in record["events"]],
        "restrictions": [limit_moved(one) for one in record["restrictions"]],
        "on": record["on"] + by,
    }
    here = next_step(standing=standing, **record)
    there = next_step(standing=replace(standing, since=standing.since + by), **moved)
    assert (there.move, there.level, there.variable, there.dose, there.days_off) == (
        here.move, here.level, here.variable, here.dose, here.days_off,
    )  # fmt: skip


@some
@given(record=records(), several=st.lists(standings(), min_size=1, max_size=3))
def test_at_most_one_step_up_and_nothing_else_changes_for_the_others(
    record: dict[str, Any], several: list[Standing]
) -> None:
    found = next_steps(standings=several, **record)
    alone = [next_step(standing=one, **record) for one in several]
    up = [one for one in alone if one.move is Move.PROGRESS]
    assert len([one for one in found if one.move is Move.PROGRESS]) == min(len(up), 1)
    for together, single in zip(found, alone, strict=True):
        if single.move is not Move.PROGRESS or together.move is Move.PROGRESS:
            assert together == single
        else:
            assert together.move is Move.STAY


@every_case("level", LEVELS)
def test_nothing_on_record_is_never_a_step_up(level: str) -> None:
    standing = Standing(progression=CODES[level], level=level, since=ago(30))
    found = next_step(
        standing=standing, facts=facts(), catalogue=CATALOGUE, readings=[], restrictions=[],
        events=[], on=TODAY,
    )  # fmt: skip
    assert found.move is Move.STAY
