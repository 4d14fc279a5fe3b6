"""The reasons of a proposed step as sentences, complete without their page."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Final

from outcomes.core.events import BY_CODE
from outcomes.core.grades import KEPT
from outcomes.core.holds import KIND_WORDS, not_confirmed
from outcomes.core.kinds import Operator, Result, Why
from outcomes.core.progressions import Level, Prescription, Span, StepReason
from outcomes.core.quantities import plain, shown
from outcomes.core.redflags import BY_CODE as FLAGS
from outcomes.core.sentences import TIERS, WRITERS, day_in_words
from outcomes.core.values import Measure, NotAssessable
from outcomes.core.wording import NOT_FAIR, value_words, why_words

Facts = Mapping[str, str]
Catalogue = Mapping[str, Measure]

OPERATORS: Final = {
    Operator.GREATER: "over",
    Operator.AT_LEAST: "at least",
    Operator.LESS: "under",
    Operator.AT_MOST: "at most",
}
GOALS: Final = {
    "pivoting": "pivoting or contact sport",
    "sideways": "sideways movement without contact",
    "straight_line": "straight line",
    "no_sport": "no sport",
}
VARIABLES: Final = {
    "load": ("Load", " kg"),
    "height": ("Height", " cm"),
    "effort": ("Effort", " %"),
    "distance": ("Distance", " % of the best"),
}
STEPS: Final = {
    "height": "height {} cm",
    "effort": "{} % of the hardest push",
    "distance": "{} % of the best distance",
}
WEEK: Final = {"7": "every day", "1": "one day a week"}
WITH_VALUE: Final = {
    "pain_low": "{measure} {value}: up to 2 goes on ({day})",
    "pain_holds": "{measure} {value}: from 3 on hold the load, change exercise or range ({day})",
    "pain_high": "{measure} {value}: from 5 on stop, go back a step and review ({day})",
    "effusion_low": "Effusion {value} ({day})",
    "effusion_one": "Effusion {value}: strength goes on while it stays there, no impact ({day})",
    "effusion_holds_impact": "Effusion {value}: hold impact until it is a trace at most ({day})",
    "effusion_high": "Effusion {value}: go back a step and treat it ({day})",
    "effusion_up_twice": "Effusion {value}, up on two visits in a row: go back a step ({day})",
    "soreness_none": "No soreness after the last session ({day})",
    "soreness_warm_up": "Sore in the warm-up and then gone: the same level again ({day})",
    "soreness_stayed": "Sore in the warm-up and it stayed: two days off, go back a step ({day})",
    "soreness_came_back": "Soreness came back in the session: two days off, go back a step ({day})",
    "soreness_next_day": "Joint sore or swollen the day after: one day off, the same level ({day})",
    "settled": "Pain of the task had settled by the next morning ({day})",
    "not_settled": "Pain of the task had not settled by the next morning ({day})",
    "knee_extension_lost": "Extension down by 5° or more between two visits: {value} ({day})",
    "knee_flexion_lost": "Flexion down by 10° or more between two visits: {value} ({day})",
    "limp_back": "The limp is back ({day})",
    "drop_at_first_movement": "Pelvis drops from the first movement of a forward heel touch: hip "
    "work before more step-downs ({day})",
}
PLAIN: Final = {
    "pain_not_known": "Pain not asked in the last {days} days",
    "effusion_not_known": "Effusion not graded in the last {days} days",
    "sessions_missing": "Two good sessions at least {days_apart} days apart are not on record yet "
    "at this level ({sessions} so far)",
    "two_good_sessions": "Good sessions {days_apart} days apart or more at this level ({sessions})",
    "no_body_mass": "No recent body mass on record: the load in kg cannot be worked out",
    "last_level": "This is the last step of the progression",
    "first_level": "There is no easier level: less of it, or a pause",
    "one_step_a_visit": "One step up a visit over all progressions and both knees: another one "
    "has it",
    "graft_caution": "{text}",
    "look_for": "To be seen at the visit: {text}",
    "week_reached": "Week {week}, earliest week {earliest_week}",
    "long_enough": "At this level for {days} days or more",
    "alike_by_trick": "Level by a trick on one side: not alike",
    "alike_not_comparable": "The other side is no fair reference: this side is judged alone",
}


def reason_words(*, reason: StepReason, catalogue: Catalogue) -> str:
    """The sentence of a reason. Raises ``KeyError`` for a new rule."""
    facts = reason.facts
    if reason.rule in WITH_VALUE:
        return WITH_VALUE[reason.rule].format(
            measure=catalogue[facts["measure"]].short_label,
            value=_value(catalogue, facts, "value"),
            day=day_in_words(iso=facts["date"]),
        )
    if reason.rule in PLAIN:
        return PLAIN[reason.rule].format(**facts)
    if reason.rule in ("quadriceps_setback", "quadriceps_fall", "infection_signs"):
        return WRITERS[reason.rule](facts)
    return OTHERS[reason.rule](facts, catalogue)


def dose_words(*, level: Level, dose: Prescription) -> str:
    """A dose as it is said: spans as they may grow, the load in kg, the step, days a week."""
    given = level.dose
    how_long = given.hold_s or given.reps
    if how_long is None:
        raise AssertionError("a dose without repetitions or a hold was let through")
    unit = "s" if given.hold_s else "repetitions"
    parts = [f"{span_words(span=given.sets)} sets of {span_words(span=how_long)} {unit}"]
    if dose.load_kg:
        parts.append(f"{plain(value=dose.load_kg)} kg")
    elif level.steps is not None and dose.at is not None and level.steps.variable.value in STEPS:
        parts.append(STEPS[level.steps.variable.value].format(plain(value=dose.at)))
    week = span_words(span=given.days_a_week)
    return ", ".join([*parts, WEEK.get(week, f"{week} days a week")])


def span_words(*, span: Span) -> str:
    """From the least to the most, or the one number that both are.

    >>> span_words(span=Span(least=15, most=20)), span_words(span=Span(least=8, most=8))
    ('15 to 20', '8')
    """
    return str(span.least) if span.least == span.most else f"{span.least} to {span.most}"


def _value(catalogue: Catalogue, facts: Facts, key: str) -> str:
    measure = catalogue[facts["measure"]]
    word = facts[key]
    if measure.grades:
        return word
    return value_words(measure=measure, value=Decimal(word))


def _number(catalogue: Catalogue, facts: Facts) -> str:
    """A judged value in the unit of its form, never rounded across its threshold."""
    if facts["form"] != "symmetry":
        return _value(catalogue, facts, "value")
    cut, operator = Decimal(facts["threshold"]), Operator(facts["operator"])
    number = shown(value=Decimal(facts["value"]), decimals=0, threshold=cut, operator=operator)
    return f"{number} %"


def _required(facts: Facts, catalogue: Catalogue) -> str:
    """What is required, what was found, and when: "Flexion at least 120°: 118° (14 Mar 2026)"."""
    found = _found(facts, catalogue)
    day = f" ({day_in_words(iso=facts['date'])})" if "date" in facts else ""
    return f"{facts['label']}: {found}{day}"


def _found(facts: Facts, catalogue: Catalogue) -> str:
    result = Result(facts["result"])
    if result is Result.OUT_OF_DATE:
        return "out of date"
    if result is Result.NOT_TESTED:
        return "tested under other conditions only" if facts.get("detail") else "not tested"
    if result is Result.NOT_ASSESSABLE or "value" not in facts:
        why = NotAssessable(why=Why(facts["why"]), detail=facts.get("detail", ""))
        if why.why is Why.OTHER_LIMB_NOT_FAIR:
            return NOT_FAIR[why.detail]
        return why_words(why=why, measure=catalogue[facts["measure"]])
    value = _number(catalogue, facts)
    trick = f", {KEPT[facts['detail']]}" if facts.get("why") == Why.KEPT_LEVEL_BY else ""
    near = ", borderline" if result in (Result.MET_BORDERLINE, Result.NOT_MET_BORDERLINE) else ""
    return f"{value}{trick}{near}"


def _too_early(facts: Facts, catalogue: Catalogue) -> str:
    if not facts["week"]:
        return f"Not before week {facts['earliest_week']}: no week is counted yet"
    return f"Not before week {facts['earliest_week']}, now week {facts['week']}"


def _too_soon(facts: Facts, catalogue: Catalogue) -> str:
    return f"{facts['days']} days at this level come first: not before {_day(facts, 'from')}"


def _alike(facts: Facts, catalogue: Catalogue) -> str:
    name = catalogue[facts["measure"]].short_label
    if "value" not in facts:
        return f"{name}: not tested on both sides"
    return f"{name}: {facts['value']}, other side {facts['other']} ({_day(facts, 'date')})"


def _limit(facts: Facts, catalogue: Catalogue) -> str:
    until = f" until {_day(facts, 'until')}" if facts["until"] else ""
    said = f", {facts['limit']}" if facts["limit"] else ""
    return f"Surgeon's limit, {KIND_WORDS.get(facts['kind'], facts['kind'])}{said}{until}"


def _not_confirmed(facts: Facts, catalogue: Catalogue) -> str:
    return not_confirmed(procedure=facts["procedure"])


def _event(facts: Facts, catalogue: Catalogue) -> str:
    return f"{BY_CODE[facts['event']].label} ({_day(facts, 'date')})"


def _day(facts: Facts, key: str) -> str:
    return day_in_words(iso=facts[key])


def _giving_way(facts: Facts, catalogue: Catalogue) -> str:
    return f"Knee gave way ({_day(facts, 'date')}): go back a step, look at it this week"


def _red_flag(facts: Facts, catalogue: Catalogue) -> str:
    text = FLAGS[facts["question"]].text
    return f"Red flag, {TIERS[facts['tier']]}: {text} ({_day(facts, 'date')}). Look into it first"


def _ask_the_surgeon(facts: Facts, catalogue: Catalogue) -> str:
    return f"After {_event(facts, catalogue)} ask the surgeon before loading"


def _operated_since(facts: Facts, catalogue: Catalogue) -> str:
    return f"After {_event(facts, catalogue)} ask for the surgeon's limits first"


def _beyond_goal(facts: Facts, catalogue: Catalogue) -> str:
    return f"The goal is {GOALS[facts['goal']]}: it asks for no more of this progression"


def _step(facts: Facts, catalogue: Catalogue) -> str:
    if facts["variable"] == "exercise":
        return "One change: the exercise"
    name, unit = VARIABLES[facts["variable"]]
    return f"One change. {name}: from {facts['from']} to {facts['to']}{unit}"


OTHERS: Final[Mapping[str, Callable[[Facts, Catalogue], str]]] = {
    "enter_met": _required,
    "enter_open": _required,
    "advance_met": _required,
    "advance_open": _required,
    "advice_met": _required,
    "advice_open": _required,
    "step_back": _required,
    "too_early": _too_early,
    "too_soon_at_level": _too_soon,
    "alike": _alike,
    "not_alike": _alike,
    "alike_not_tested": _alike,
    "surgeons_limit": _limit,
    "limits_not_confirmed": _not_confirmed,
    "giving_way": _giving_way,
    "red_flag": _red_flag,
    "ask_the_surgeon": _ask_the_surgeon,
    "operated_since": _operated_since,
    "beyond_goal": _beyond_goal,
    "one_step_up": _step,
    "step_down": _step,
}
