"""Every criterion of every protocol and published set through every result: one table a rule."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import product
from typing import Any

import pytest

from outcomes.core.criteria import judge_on
from outcomes.core.evidence import evidence_of
from outcomes.core.gates import earliest_date
from outcomes.core.groups import judge_group
from outcomes.core.judge import judge_protocol
from outcomes.core.values import (
    Band,
    Criterion,
    CriterionResult,
    Event,
    Form,
    Milestone,
    MilestoneState,
    Operator,
    Protocol,
    ReadingStatus,
    Restriction,
    Result,
    Score,
    Subject,
    Why,
)
from outcomes.protocols.reading import RESTRICTIONS
from tests.core.builders import CATALOGUE, SURGERY, L, R, after, facts
from tests.core.criterion_rows import (
    clearly_met,
    every_rule,
    first_day,
    mass_on,
    rows_at,
    sides_of,
    threshold_of,
)

MEASURED, SCORED, COUNTED, GROUPED = (
    list(every_rule(subject))
    for subject in (Subject.MEASURE, Subject.SCORE, Subject.EVENT, Subject.GROUP)
)
TODAY, DAY = after(weeks=40), timedelta(days=1)
UNFAIR: tuple[dict[str, Any], ...] = (
    {"graft_from": "other_limb"},
    {"other_limb": "earlier_surgery"},
    {"other_limb": "current_problem"},
    {"other_limb": "not_stated"},
    {"other_knee_followed": True},
)
MET, OPEN = (Result.MET, None), (Result.NOT_TESTED, Why.NO_READING)
DIFFERENT, NOT_DONE = Why.DIFFERENT_KEY, Why.NOT_DONE
Told = tuple[Result, Why | None]
Column = tuple[str, object, object]
"""A column of a table: its name, what the rule gives there, and what it ought to give."""


def each(rules: list[tuple[str, Milestone, Criterion]]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize(
        ("milestone", "rule"), [one[1:] for one in rules], ids=[one[0] for one in rules]
    )


def same(columns: Iterator[Column]) -> None:
    """Both tables are the same; where they differ, the columns that differ are shown."""
    table = {name: (given, asked) for name, given, asked in columns}
    assert {n: given for n, (given, _) in table.items()} == {n: a for n, (_, a) in table.items()}


def judged(rule: Criterion, rows: Any = (), on: date = TODAY, **changes: Any) -> CriterionResult:
    """The rule without its repeat: that has a table of its own."""
    more = {key: changes.pop(key, ()) for key in ("scores", "events")}
    evidence = evidence_of(
        facts=facts(**changes), catalogue=CATALOGUE, readings=[*rows, mass_on(on)], on=on, **more
    )
    return judge_on(criterion=replace(rule, repeat=None), evidence=evidence)


def told(*args: Any, **changes: Any) -> Told:
    found = judged(*args, **changes)
    return found.result, found.why.why if found.why else None


def within(rule: Criterion, number: Decimal) -> bool:
    """Whether such a number can be read at all: the limits of the measure are not its rule."""
    low, high = CATALOGUE[rule.measure].hard
    return all(low <= (row.value or 0) <= high for row in rows_at(rule, number, TODAY))


def thresholds(rule: Criterion) -> Iterator[Column]:
    """At, past and short of the threshold, with each borderline."""
    for name, number, result in sides_of(rule, threshold_of(rule)):
        if within(rule, number):
            found = judged(rule, rows_at(rule, number, TODAY))
            shown = (found.result, found.value, found.on, found.threshold)
            yield name, shown, (result, number, TODAY, threshold_of(rule))


def ages(rule: Criterion) -> Iterator[Column]:
    """Missing, young enough on the last day, stale by a day, and a test of next week."""
    rows, age = rows_at(rule, clearly_met(rule), TODAY), timedelta(days=rule.maximum_age_days)
    yield "missing", told(rule), OPEN
    yield "on its last day", told(rule, rows, TODAY + age), MET
    stale = judged(rule, rows, TODAY + age + DAY)
    yield "stale by a day", (stale.result, stale.on), (Result.OUT_OF_DATE, TODAY)
    yield "next week's", told(rule, rows, TODAY - 8 * DAY)[0], Result.NOT_TESTED


def refusals(rule: Criterion) -> Iterator[Column]:
    """Limited by pain, declined, held back by a limit and not possible; with an older test too."""
    good = clearly_met(rule)
    older = rows_at(rule, good, TODAY - DAY)
    pain = told(rule, rows_at(rule, good, TODAY, status=ReadingStatus.STOPPED_BY_PAIN))
    yield "stopped by pain", pain, (Result.NOT_ASSESSABLE, Why.LIMITED_BY_PAIN)
    for status in (ReadingStatus.DECLINED, ReadingStatus.SURGEONS_LIMIT, ReadingStatus.UNABLE):
        blank = rows_at(rule, good, TODAY, status=status, value=None)[-2:]
        yield status.value, told(rule, blank), (Result.NOT_ASSESSABLE, NOT_DONE)
        unable = status is ReadingStatus.UNABLE
        later = (Result.NOT_ASSESSABLE, NOT_DONE) if unable else MET
        yield f"{status.value} after a test", told(rule, [*older, *blank]), later


def others(rule: Criterion) -> Iterator[Column]:
    """Another key than the rule's, another on the other limb, one limb alone, an unfair limb."""
    rows, compared = rows_at(rule, clearly_met(rule), TODAY), rule.form.compares_limbs
    elsewhere = [replace(row, key=f"{row.key}0") for row in rows]
    if rule.key:
        yield "other key", told(rule, elsewhere), (Result.NOT_TESTED, DIFFERENT)
    if compared:
        mixed = [far if row.limb is R else row for row, far in zip(rows, elsewhere, strict=True)]
        alone = [row for row in rows if row.limb is L]
        yield "other key on the other limb", told(rule, mixed)[1], DIFFERENT
        lonely = (Result.NOT_ASSESSABLE, Why.OTHER_LIMB_NOT_TESTED)
        yield "other limb missing", told(rule, alone), lonely
    for unfair in UNFAIR:
        spoilt = (Result.NOT_ASSESSABLE, Why.OTHER_LIMB_NOT_FAIR) if compared else MET
        yield f"unfair other limb, {unfair}", told(rule, rows, **unfair), spoilt


def early(rule: Criterion) -> Iterator[Column]:
    """A test before the operation or before the rule's own week meets nothing."""
    first, good = first_day(rule), clearly_met(rule)
    apart = timedelta(days=7 if rule.form is Form.CHANGE_SINCE_LAST else 0)
    on = first + apart
    yield "on its first day", told(rule, rows_at(rule, good, on), on), MET
    before = told(rule, rows_at(rule, good, first - DAY), first)[0]
    yield "tested the day before", before, Result.NOT_TESTED
    if rule.earliest_week:
        waits = (Result.NOT_ASSESSABLE, Why.BEFORE_EARLIEST_WEEK)
        yield "before its week", told(rule, rows_at(rule, good, first), first - DAY), waits


def evidence_for(rule: Criterion, on: date) -> dict[str, Any]:
    """A record of that day that meets the rule."""
    if rule.subject is Subject.MEASURE:
        return {"readings": [*rows_at(rule, clearly_met(rule), on), mass_on(on)]}
    scores = [score(rule, past(rule, 1), on)] if rule.subject is Subject.SCORE else []
    return {"readings": [], "scores": scores}


def held(milestone: Milestone, rule: Criterion) -> Iterator[Column]:
    """Blocked by each limit that its milestone names and by no other; and before its date."""
    alone = replace(milestone, criteria=(replace(rule, repeat=None, hard=True),))
    only = Protocol(code="only@1", label="Only", milestones=(alone,), last_by_goal={})
    first = earliest_date(gate=milestone.gate, facts=facts())
    assert first is not None

    def stands(on: date, *limits: Restriction) -> tuple[MilestoneState, Result]:
        tested = SURGERY - DAY if milestone.before_surgery else on
        (found,) = judge_protocol(
            protocol=only, catalogue=CATALOGUE, facts=facts(), restrictions=limits, on=on,
            **evidence_for(rule, tested),
        )  # fmt: skip
        return found.state, found.criteria[0].result

    yield "from its date", stands(first), (MilestoneState.RECORDED_AS_MET, Result.MET)
    before = (MilestoneState.BEFORE_EARLIEST_DATE, Result.MET)
    yield "before its date", stands(first - DAY), before
    for kind in RESTRICTIONS:
        blocked = kind in milestone.blocked_by
        state = MilestoneState.BLOCKED if blocked else MilestoneState.RECORDED_AS_MET
        limit = Restriction(kind=kind, limit="", since=first, until=first)
        yield f"limit of {kind}", stands(first, limit), (state, Result.MET)


@each(MEASURED)
def test_the_table_of_a_measure(milestone: Milestone, rule: Criterion) -> None:
    same(thresholds(rule))
    same(ages(rule))
    same(refusals(rule))
    same(others(rule))
    same(early(rule))
    same(held(milestone, rule))


def score(rule: Criterion, value: Fraction | None, on: date = TODAY, **changes: Any) -> Score:
    usual = {"code": rule.measure, "value": value, "on": on, "line": rule.measure, "answered": 10}
    return Score(**{**usual, **changes})


def past(rule: Criterion, steps: int) -> Fraction:
    """The threshold and so many hundredths into the good direction."""
    up = rule.operator in (Operator.GREATER, Operator.AT_LEAST)
    band = rule.bands[0].value if rule.bands else rule.value
    return Fraction(band) + Fraction(steps if up else -steps, 100)


def scored(rule: Criterion) -> Iterator[Column]:
    """A score knows no error, so that nothing is borderline, and no other limb."""
    strict = rule.operator in (Operator.GREATER, Operator.LESS)
    good, age = score(rule, past(rule, 1)), timedelta(days=rule.maximum_age_days)
    for name, steps, result in (
        ("at", 0, Result.NOT_MET if strict else Result.MET),
        ("past", 1, Result.MET),
        ("short", -1, Result.NOT_MET),
    ):
        found = judged(rule, scores=[score(rule, past(rule, steps))])
        yield name, (found.result, found.value, found.on), (result, past(rule, steps), TODAY)
    yield "missing", told(rule), OPEN
    yield "on its last day", told(rule, on=TODAY + age, scores=[good]), MET
    stale = (Result.OUT_OF_DATE, None)
    yield "stale by a day", told(rule, on=TODAY + age + DAY, scores=[good]), stale
    yield "tomorrow's", told(rule, on=TODAY - DAY, scores=[good]), OPEN
    yield "another score", told(rule, scores=[replace(good, code="other.total")]), OPEN
    few = (Result.NOT_ASSESSABLE, Why.TOO_FEW_ANSWERS)
    yield "too few answers", told(rule, scores=[score(rule, None)]), few
    short = score(rule, None, TODAY + age)
    yield "too few now, whole on its last day", told(rule, on=short.on, scores=[good, short]), MET
    yield "on the first day", told(rule, on=SURGERY, scores=[replace(good, on=SURGERY)]), MET
    old = replace(good, on=SURGERY - DAY)
    yield "before the operation", told(rule, on=SURGERY, scores=[old]), OPEN
    for unfair in UNFAIR:
        yield f"other limb {unfair}", told(rule, scores=[good], **unfair), MET


@each(SCORED)
def test_the_table_of_a_score(milestone: Milestone, rule: Criterion) -> None:
    if rule.form is Form.PERCENTILE:
        unknown = (Result.NOT_ASSESSABLE, Why.NO_CLINIC_NORM)
        assert told(rule, scores=[score(rule, Fraction(100))]) == unknown
        rule = replace(rule, bands=(Band(value=Decimal(86)),))
    same(scored(rule))
    same(held(milestone, rule))


@each(COUNTED)
def test_the_table_of_an_event(milestone: Milestone, rule: Criterion) -> None:
    """None within the window is asked for; what nobody recorded did not happen."""
    first = TODAY - timedelta(days=rule.within_days or 0)
    event = Event(code=rule.measure, limb=L, on=TODAY)
    one, none = (Result.NOT_MET, Fraction(1)), (Result.MET, Fraction(0))
    table = {
        "missing": ([], none),
        "today": ([event], one),
        "on the first day of the window": ([replace(event, on=first)], one),
        "the day before the window": ([replace(event, on=first - DAY)], none),
        "tomorrow": ([replace(event, on=TODAY + DAY)], none),
        "on the other side": ([replace(event, limb=R)], none),
        "another kind": ([replace(event, code="new_injury")], none),
    }
    found = {name: judged(rule, events=events) for name, (events, _) in table.items()}
    shown = {name: (result.result, result.value) for name, result in found.items()}
    assert shown == {name: asked for name, (_, asked) in table.items()}
    assert {told(rule, **unfair) for unfair in UNFAIR} == {MET}
    same(held(milestone, rule))


@each(GROUPED)
def test_the_table_of_a_group(milestone: Milestone, rule: Criterion) -> None:
    """Met where every completion of what is not known has enough; open where they differ."""
    truths = {Result.MET: {True}, Result.NOT_MET: {False}, Result.OUT_OF_DATE: {True, False}}
    names = {frozenset({True}): Result.MET, frozenset({False}): Result.NOT_MET}
    member = next(one for one in milestone.criteria if one.code in rule.of)
    needed, found, wanted = int(rule.value), {}, {}
    for results in product(truths, repeat=len(rule.of)):
        members = [
            CriterionResult(criterion=member, result=result, threshold=member.value)
            for result in results
        ]
        group = judge_group(criterion=rule, members=members, facts=facts(), on=TODAY)
        sure = results.count(Result.MET)
        most = sure + results.count(Result.OUT_OF_DATE)
        outcomes = frozenset(count >= needed for count in range(sure, most + 1))
        found[results] = (group.result, group.value)
        wanted[results] = (names.get(outcomes, Result.OUT_OF_DATE), Fraction(sure))
    assert found == wanted


def test_there_are_rules_of_every_form_that_is_shipped():
    assert {rule.form for _, _, rule in MEASURED} == {
        Form.INVOLVED, Form.SYMMETRY, Form.SHORT_OF_OTHER, Form.PER_BODY_MASS, Form.GRADE,
        Form.CHANGE_SINCE_LAST,
    }  # fmt: skip
    assert {rule.form for _, _, rule in SCORED} == {Form.SCORE, Form.PERCENTILE}
    assert len(MEASURED) > 60
    assert (len(COUNTED), len(GROUPED)) == (3, 2)
