"""Laws over random histories: what a better value, a missing one, time and the sides may change."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import given, note, settings
from hypothesis import strategies as st

from outcomes.core.horizon import next_change
from outcomes.core.judge import judge_protocol
from outcomes.core.values import (
    Better,
    CriterionResult,
    Event,
    Form,
    Limb,
    Measure,
    MilestoneResult,
    Protocol,
    Reading,
    ReadingStatus,
    Restriction,
    Result,
    Score,
    Subject,
)
from tests.core.builders import CATALOGUE, KEYS, SURGERY, L, R, after, facts, visits
from tests.core.criterion_rows import PROTOCOLS, mass_on

some = settings(max_examples=3)
"""Each example goes through every protocol and published set."""
TODAY, WEEK = after(weeks=44), timedelta(weeks=1)
NAMES = tuple(name for name in PROTOCOLS if name != "starter@1")
ORDER = {
    Result.NOT_MET: 0, Result.NOT_MET_BORDERLINE: 1, Result.NOT_TESTED: 2, Result.OUT_OF_DATE: 2,
    Result.NOT_ASSESSABLE: 2, Result.MET_BORDERLINE: 3, Result.MET: 4,
}  # fmt: skip
DIRECTED = (Better.HIGHER, Better.LOWER)


def protocols() -> Iterator[str]:
    """Every protocol and published set; what fails names it."""
    for name in NAMES:
        note(name)
        yield name


def asked(protocol: Protocol, subject: Subject) -> list[str]:
    """The measures or the scores that a protocol asks for."""
    criteria = (one for milestone in protocol.milestones for one in milestone.criteria)
    return sorted({one.measure for one in criteria if one.subject is subject})


def measures_of(protocol: Protocol) -> list[str]:
    """The typed measures that a protocol asks for."""
    return [code for code in asked(protocol, Subject.MEASURE) if CATALOGUE[code].typed]


def keys_of(protocol: Protocol, code: str) -> list[str]:
    """The keys that the rules ask for, and the usual one."""
    asked = {
        one.key
        for milestone in protocol.milestones
        for one in milestone.criteria
        if one.measure == code
    }
    return sorted({KEYS.get(code, ""), *asked})


def value_of(measure: Measure) -> st.SearchStrategy[Decimal]:
    if measure.grades:
        return st.integers(0, len(measure.grades) - 1).map(Decimal)
    low, high = measure.soft
    return st.integers(0, 20).map(lambda part: low + (high - low) * part / 20)


@st.composite
def history(draw: st.DrawFn, protocol: Protocol) -> list[Reading]:
    """Tests of three measures on up to three days of the last weeks, both limbs, seldom refused."""
    codes = draw(st.lists(st.sampled_from(measures_of(protocol)), min_size=1, max_size=3))
    rows: list[Reading] = []
    for code in sorted(set(codes)):
        measure = CATALOGUE[code]
        limbs = (L, R) if measure.per_limb else (Limb.NONE,)
        for ago in sorted(draw(st.sets(st.integers(0, 50), min_size=1, max_size=3)), reverse=True):
            key = draw(st.sampled_from(keys_of(protocol, code)))
            for limb in limbs:
                rows.append(
                    Reading(
                        measure=code, limb=limb, value=draw(value_of(measure)), key=key,
                        on=TODAY - timedelta(days=ago), ref=len(rows) + 1,
                        status=draw(st.sampled_from([ReadingStatus.MEASURED] * 9
                                                    + [ReadingStatus.STOPPED_BY_PAIN])),
                        details={d.code: d.choices[0].code for d in measure.details},
                    )
                )  # fmt: skip
    return rows


def judged(name: str, rows: list[Reading], **more: Any) -> tuple[MilestoneResult, ...]:
    who = more.pop("who", facts())
    usual: dict[str, Any] = {"restrictions": (), "on": TODAY}
    return judge_protocol(
        protocol=PROTOCOLS[name], catalogue=CATALOGUE, readings=rows, facts=who, **{**usual, **more}
    )


def flat(found: tuple[MilestoneResult, ...]) -> dict[tuple[str, str], Result]:
    return {(m.milestone.code, c.criterion.code): c.result for m in found for c in m.criteria}


def score(code: str, value: int | None, ago: int) -> Score:
    exact = None if value is None else Fraction(value)
    return Score(code=code, value=exact, on=TODAY - timedelta(days=ago), line=code, answered=10)


def better(reading: Reading, measure: Measure) -> Reading:
    """The same test with the best value that can be; the highest where neither way is better."""
    low, high = measure.soft
    if measure.grades:
        low, high = Decimal(0), Decimal(len(measure.grades) - 1)
    upward = measure.better in (Better.HIGHER, Better.NEITHER)
    return replace(reading, value=high if upward else low)


def moved(part: Any, by: timedelta) -> Any:
    """A row with all its dates moved."""
    days = {key: getattr(part, key) + by for key in ("on", "since", "until") if hasattr(part, key)}
    return replace(part, **days)


def criteria(found: tuple[MilestoneResult, ...]) -> list[CriterionResult]:
    return [one for milestone in found for one in milestone.criteria]


def told(found: tuple[MilestoneResult, ...]) -> list[tuple[object, ...]]:
    """What is said of each criterion, but for the side that a reason names."""
    return [
        (
            one.result,
            one.value,
            one.threshold,
            one.on,
            one.margin,
            one.why and one.why.why,
            one.refs,
        )
        for one in criteria(found)
    ]  # fmt: skip


def mirrored(part: Any) -> Any:
    return replace(part, limb=part.limb.opposite)


@some
@given(data=st.data())
def test_a_better_newest_value_of_the_involved_limb_never_worsens_a_result(
    data: st.DataObject,
) -> None:
    for name in protocols():
        rows = data.draw(history(PROTOCOLS[name]))
        directed = [r for r in rows if CATALOGUE[r.measure].better in DIRECTED and r.limb is not R]
        if not directed:
            continue
        last = max(directed, key=lambda r: (r.on, r.ref))
        raised = [better(r, CATALOGUE[r.measure]) if r is last else r for r in rows]
        before, then = flat(judged(name, rows)), flat(judged(name, raised))
        worse = {code for code, result in before.items() if ORDER[then[code]] < ORDER[result]}
        assert worse == set()


@some
@given(data=st.data())
def test_taking_all_readings_of_a_measure_away_turns_nothing_into_met(data: st.DataObject) -> None:
    for name in protocols():
        rows = data.draw(history(PROTOCOLS[name]))
        gone = data.draw(st.sampled_from(sorted({r.measure for r in rows})))
        before = flat(judged(name, rows))
        then = flat(judged(name, [r for r in rows if r.measure != gone]))
        assert {code for code, one in then.items() if one.truth and not before[code].truth} == set()


@some
@given(data=st.data(), weeks=st.integers(-300, 300))
def test_moving_everything_by_whole_weeks_changes_nothing_where_gates_are_in_weeks(
    data: st.DataObject, weeks: int
) -> None:
    for name in protocols():
        by = timedelta(weeks=weeks)
        rows = data.draw(history(PROTOCOLS[name]))
        more: dict[str, list[Any]] = {
            "scores": [score("ikdc.total", None, 0)],
            "events": [Event(code="giving_way", limb=L, on=TODAY - timedelta(days=30))],
            "restrictions": [Restriction(kind="impact", limit="", since=TODAY, until=TODAY)],
        }
        born = date(1990, 5, 5)
        here = judged(name, rows, who=facts(birth_date=born), **more)
        there = judged(
            name, [moved(r, by) for r in rows], on=TODAY + by,
            who=facts(birth_date=born, index_date=SURGERY + by),
            **{key: [moved(one, by) for one in rows_] for key, rows_ in more.items()},
        )  # fmt: skip
        assert flat(there) == flat(here)
        in_weeks = [n for n, one in enumerate(here) if one.milestone.gate.months is None]
        assert [there[n].state for n in in_weeks] == [here[n].state for n in in_weeks]


@some
@given(data=st.data())
def test_first_mirror_law_sides_and_knee_swapped_change_nothing(data: st.DataObject) -> None:
    for name in protocols():
        rows = data.draw(history(PROTOCOLS[name]))
        events = [Event(code="giving_way", limb=L, on=TODAY)]
        here = judged(name, rows, events=events)
        there = judged(
            name,
            [mirrored(r) for r in rows],
            events=[mirrored(e) for e in events],
            who=facts(knee=R),
        )
        assert [(m.state, m.earliest) for m in there] == [(m.state, m.earliest) for m in here]
        assert told(there) == told(here)


@some
@given(data=st.data())
def test_second_mirror_law_the_values_alone_swapped_invert_a_ratio_and_turn_a_difference(
    data: st.DataObject,
) -> None:
    for name in protocols():
        rows = data.draw(history(PROTOCOLS[name]))
        here, there = (judged(name, one) for one in (rows, [mirrored(r) for r in rows]))
        for mine, turned in zip(criteria(here), criteria(there), strict=True):
            form = mine.criterion.form
            if mine.value is None or turned.value is None or not form.compares_limbs:
                continue
            assert mine.on == turned.on
            if form is Form.SYMMETRY:
                assert turned.value * mine.value == 100**2
            elif mine.criterion.measure != "knee_extension":
                assert turned.value == -mine.value


@some
@given(data=st.data())
def test_nothing_changes_before_the_day_that_was_announced(data: st.DataObject) -> None:
    """Also with scores, events and limits: on the last quiet day and on any before."""
    for name in protocols():
        rows = data.draw(history(PROTOCOLS[name]))
        ages = {"ikdc.total": 5, "acl_rsi.total": 70}
        more: dict[str, Any] = {
            "scores": [score(code, None, ago) for code, ago in ages.items()],
            "events": [Event(code="giving_way", limb=L, on=TODAY - timedelta(days=20))],
            "restrictions": [Restriction(kind="impact", limit="", since=SURGERY,
                                         until=TODAY + timedelta(days=9))],
        }  # fmt: skip
        start = data.draw(st.integers(-260, 20))
        on = TODAY + timedelta(days=start)
        first = judged(name, rows, on=on, **more)
        due = next_change(
            facts=facts(), catalogue=CATALOGUE, protocol=PROTOCOLS[name], readings=rows, on=on,
            visits=visits(), red_flags=(), **more,
        )  # fmt: skip
        quiet = 60 if due is None else (due - on).days - 1
        for days in {min(quiet, 60), data.draw(st.integers(0, min(quiet, 60)))}:
            assert judged(name, rows, on=on + timedelta(days=days), **more) == first


def all_met(name: str) -> tuple[list[Reading], list[Score]]:
    """The best that can be of all that is asked, before the operation, a week ago and today."""
    protocol, days = PROTOCOLS[name], (SURGERY - timedelta(days=1), TODAY - WEEK, TODAY)
    rows = [
        better(Reading(measure=code, limb=limb, value=Decimal(0), key=key, on=on, ref=ref,
                       details={d.code: d.choices[0].code for d in CATALOGUE[code].details}),
               CATALOGUE[code])
        for code in asked(protocol, Subject.MEASURE)
        for key in keys_of(protocol, code)
        for limb in ((L, R) if CATALOGUE[code].per_limb else (Limb.NONE,))
        for ref, on in enumerate(days, start=1)
    ]  # fmt: skip
    rows.append(mass_on(TODAY))
    return rows, [
        score(code, 100, ago) for code in asked(protocol, Subject.SCORE) for ago in (7, 0)
    ]


def touched(name: str, gone: str) -> set[tuple[str, str]]:
    """The criteria that rest on a measure or a score, themselves or through their group."""
    found: set[tuple[str, str]] = set()
    for milestone in PROTOCOLS[name].milestones:
        for one in milestone.criteria:
            mass = gone == "body_mass" and one.form is Form.PER_BODY_MASS
            members = {(milestone.code, code) for code in one.of}
            if one.measure == gone or mass or members & found:
                found.add((milestone.code, one.code))
    return found


def test_with_all_of_it_at_its_best_all_is_met_and_what_is_taken_away_is_missed_alone() -> None:
    """A percentile without norms is the one that stays open."""
    for name in NAMES:
        rows, scores = all_met(name)
        best = flat(judged(name, rows, scores=scores))
        still = {code for code, result in best.items() if not result.truth}
        forms = {(m.code, c.code): c.form for m in PROTOCOLS[name].milestones for c in m.criteria}
        assert {code: forms[code] for code in still} == {
            code: form for code, form in forms.items() if form is Form.PERCENTILE
        }, name
        for gone in sorted({row.measure for row in rows} | {one.code for one in scores}):
            kept = [row for row in rows if row.measure != gone]
            left = flat(judged(name, kept, scores=[one for one in scores if one.code != gone]))
            lost = {code for code, result in left.items() if result.truth is not best[code].truth}
            assert lost == touched(name, gone) - still, (name, gone)
            assert {left[code].truth for code in lost} <= {None}, (name, gone)


def test_a_criterion_s_own_week_is_announced_and_none_while_there_is_no_operation() -> None:
    """Composite: quadriceps symmetry is judged from week 4, long before its stage of week 6."""

    def due(on: date, **who: Any) -> date | None:
        return next_change(
            facts=facts(**who), catalogue=CATALOGUE, protocol=PROTOCOLS["composite@1"],
            readings=(), restrictions=(), on=on, visits=visits(), red_flags=(),
        )  # fmt: skip

    assert due(after(weeks=4, days=-1)) == after(weeks=4)
    assert due(after(weeks=4)) == after(weeks=6)
    assert due(after(weeks=4), kind="waiting", index_date=None) is None
