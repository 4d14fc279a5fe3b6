"""Rules that hold for every progression: pain, effusion, soreness, setbacks, events, sessions.

Each gives reasons with their effect; nothing decides alone. Steps and limits are settings of this
house; the soreness rules are those of a published progression (PMC6044585, table 5, rules one to
four quoted, the last from memory), effusion is graded by the sweep test (Sturgill 2009).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from outcomes.core.events import PROCEDURES
from outcomes.core.looks_at_events import event_reasons
from outcomes.core.progressions import Effect, StepReason
from outcomes.core.step_record import RECENT_DAYS, StepRecord, reading_reason, value_text
from outcomes.core.values import Event, Measure, Reading

JOINT_PAIN: Final = ("pain_worst_24h", "pain_during_test", "pain_rest")
"""Without one of these the pain of the joint is not known."""
PAINS: Final = (*JOINT_PAIN, "pain_front_of_knee")
GO: Final = Decimal(2)
STOP: Final = Decimal(5)
"""Pain up to 2 of 10 goes on, from 5 on it stops; between them the load is held."""

TRACE, ONE, TWO = Decimal(1), Decimal(2), Decimal(3)
SORENESS: Final = {
    "none": ("soreness_none", Effect.FOR, 0),
    "warm-up then gone": ("soreness_warm_up", Effect.HOLDS, 0),
    "stayed": ("soreness_stayed", Effect.TAKES_BACK, 2),
    "came back": ("soreness_came_back", Effect.TAKES_BACK, 2),
    "next day": ("soreness_next_day", Effect.HOLDS, 1),
}
"""Rule, effect and days off of each answer."""

EXTENSION_LOSS: Final = Decimal(5)
FLEXION_LOSS: Final = Decimal(10)
SESSIONS_APART: Final = 3
ASK_THE_SURGEON: Final = ("graft_rupture", "infection", "clot", "fracture", "new_injury")


def pain_reasons(*, record: StepRecord) -> Iterator[StepReason]:
    """Pain of the last fourteen days: 0 to 2 goes on, 3 to 4 holds, 5 or more takes back.

    Front of the knee and joint are judged apart. Joint pain that nobody asked about holds.
    """
    known = False
    for code in PAINS:
        found = record.recent(code=code)
        if not found:
            continue
        known = known or code in JOINT_PAIN
        today = [one for one in found if one.on == found[0].on]
        worst = max(today, key=_value)
        effect = Effect.FOR if _value(worst) <= GO else Effect.HOLDS
        effect = Effect.TAKES_BACK if _value(worst) >= STOP else effect
        rule = {Effect.FOR: "pain_low", Effect.HOLDS: "pain_holds"}.get(effect, "pain_high")
        yield reading_reason(
            rule=rule, effect=effect, measure=record.catalogue[code], reading=worst
        )
    if not known:
        yield StepReason(rule="pain_not_known", effect=Effect.HOLDS, facts=_days())


def _days() -> dict[str, str]:
    return {"days": str(RECENT_DAYS)}


def _value(reading: Reading) -> Decimal:
    if reading.value is None:
        raise AssertionError("a reading without a value was let through")
    return reading.value


def effusion_reasons(*, record: StepRecord, impact: bool) -> Iterator[StepReason]:
    """At least 2+, or up a grade on two visits: back. 1+ holds impact, and is told elsewhere.

    ``impact``: the exercise now or next has impact. An effusion that nobody graded holds.
    """
    found = record.recent(code="effusion")
    if not found:
        yield StepReason(rule="effusion_not_known", effect=Effect.HOLDS, facts=_days())
        return
    measure = record.catalogue["effusion"]
    worst = max((one for one in found if one.on == found[0].on), key=_value)
    now = _value(worst)
    rise = record.looks.get("effusion_regress")
    if now >= TWO:
        rule, effect = "effusion_high", Effect.TAKES_BACK
    elif rise is not None:
        rule, effect = "effusion_up_twice", Effect.TAKES_BACK
    elif now >= ONE:
        rule, effect = ("effusion_holds_impact", Effect.HOLDS) if impact else (
            "effusion_one", Effect.ADVICE
        )  # fmt: skip
    else:
        rule, effect = "effusion_low", Effect.FOR
    yield reading_reason(rule=rule, effect=effect, measure=measure, reading=worst)


def soreness_reasons(*, record: StepRecord, since: date) -> Iterator[StepReason]:
    """Soreness after the last session, and whether pain had settled by the next morning.

    An answer from before this level was begun is answered by it: it holds and takes nothing back.
    """
    found = record.recent(code="soreness_after_session")[:1]
    for one in found:
        measure = record.catalogue["soreness_after_session"]
        rule, effect, days_off = SORENESS[measure.word(value=_value(one))]
        yield reading_reason(
            rule=rule,
            effect=_only_since(effect=effect, on=one.on, since=since),
            measure=measure,
            reading=one,
            days_off=str(days_off),
        )
    for one in record.recent(code="task_pain_settled_next_morning")[:1]:
        measure = record.catalogue["task_pain_settled_next_morning"]
        settled = measure.word(value=_value(one)) == "yes"
        yield reading_reason(
            rule="settled" if settled else "not_settled",
            effect=Effect.FOR if settled else Effect.HOLDS,
            measure=measure,
            reading=one,
        )


def _only_since(*, effect: Effect, on: date, since: date) -> Effect:
    return Effect.HOLDS if effect is Effect.TAKES_BACK and on <= since else effect


def setback_reasons(*, record: StepRecord, since: date) -> Iterator[StepReason]:
    """Range lost, a limp that is back, the quadriceps down, signs of infection: since this level.

    Extension by 5° or flexion by 10° between two visits; the quadriceps as on the list of reasons
    to look (15 points under one key, or twice in a row).
    """
    for code, loss, sign in (
        ("knee_extension", EXTENSION_LOSS, 1),
        ("knee_flexion", FLEXION_LOSS, -1),
    ):
        found = record.mine(code=code)
        line = [one for one in found if one.key == found[0].key]
        if (
            len(line) > 1
            and line[0].on > since
            and (
                record.history.same_side(one=line[0].on, other=line[1].on)
                and sign * (_value(line[0]) - _value(line[1])) >= loss
            )
        ):
            yield _fallen(record.catalogue[code], line, rule=f"{code}_lost")
    walks = record.mine(code="gait_without_limp")
    if len(walks) > 1 and walks[0].on > since and _value(walks[0]) < _value(walks[1]):
        yield _fallen(record.catalogue["gait_without_limp"], walks, rule="limp_back")
    for code in ("quadriceps_setback", "quadriceps_fall", "infection_signs"):
        reason = record.looks.get(code)
        if reason is not None and reason.since > since:
            yield StepReason(
                rule=code,
                effect=Effect.TAKES_BACK,
                facts={**reason.facts, "date": reason.since.isoformat()},
                refs=reason.refs,
            )


def _fallen(measure: Measure, line: list[Reading], *, rule: str) -> StepReason:
    return reading_reason(
        rule=rule,
        effect=Effect.TAKES_BACK,
        measure=measure,
        reading=line[0],
        before=value_text(measure=measure, value=_value(line[1])),
        before_date=line[1].on.isoformat(),
    )


def event_step_reasons(*, record: StepRecord, since: date) -> Iterator[StepReason]:
    """Events: giving way takes back, an injury, infection or clot does, an operation holds.

    What happened before this level was begun holds as long as it is a reason to look, giving way
    for fourteen days.
    """
    ahead = [one for one in record.events if one.on <= record.on]
    ways = [one for one in ahead if one.code == "giving_way" and _mine(record, one)]
    if ways:
        newest = max(ways, key=lambda one: (one.on, one.ref))
        new = newest.on > since
        if new or newest.on >= record.on - timedelta(days=RECENT_DAYS):
            yield _event(newest, "giving_way", new=new)
    found = event_reasons(facts=record.facts, events=ahead, red_flags=(), on=record.on)
    codes = {reason.code.removeprefix("event_"): reason.since for reason in found}
    for code in ASK_THE_SURGEON:
        if code in codes:
            event = next(one for one in ahead if (one.code, one.on) == (code, codes[code]))
            yield _event(event, "ask_the_surgeon", new=event.on > since)
    for event in ahead:
        if event.code in PROCEDURES and event.on >= since:
            yield _event(event, "operated_since", new=False)


def _mine(record: StepRecord, event: Event) -> bool:
    return event.limb is record.facts.knee and record.history.bears_on_today(on=event.on)


def _event(event: Event, rule: str, *, new: bool) -> StepReason:
    return StepReason(
        rule=rule,
        effect=Effect.TAKES_BACK if new else Effect.HOLDS,
        facts={"event": event.code, "date": event.on.isoformat(), "limb": event.limb.value},
        refs=(event.ref,) if event.ref else (),
    )


def red_flag_reasons(*, record: StepRecord) -> Iterator[StepReason]:
    """A red flag that stands holds every step up: it is looked into first."""
    for flag in record.red_flags:
        if flag.on <= record.on:
            yield StepReason(
                rule="red_flag",
                effect=Effect.HOLDS,
                facts={"question": flag.code, "tier": flag.tier.value, "date": flag.on.isoformat()},
            )


def session_reasons(*, record: StepRecord, since: date, impact: bool) -> Iterator[StepReason]:
    """Two good sessions at least three days apart at this level, with none that was not good since.

    A day counts with pain, effusion or soreness on record and none of it speaking against more.
    """
    good: list[date] = []
    for day in sorted({one.on for one in _told(record) if one.on > since}, reverse=True):
        if not _was_good(record, day, impact=impact):
            break
        good.append(day)
    enough = bool(good) and (good[0] - good[-1]).days >= SESSIONS_APART
    yield StepReason(
        rule="two_good_sessions" if enough else "sessions_missing",
        effect=Effect.FOR if enough else Effect.HOLDS,
        facts={
            "days_apart": str(SESSIONS_APART),
            "sessions": str(len(good)),
            "dates": ", ".join(day.isoformat() for day in reversed(good)),
            "since": since.isoformat(),
        },
    )


SYMPTOMS: Final = (
    *PAINS, "effusion", "soreness_after_session", "task_pain_settled_next_morning",
)  # fmt: skip


def _told(record: StepRecord) -> list[Reading]:
    return [one for code in SYMPTOMS for one in record.mine(code=code)]


def _was_good(record: StepRecord, day: date, *, impact: bool) -> bool:
    most = dict.fromkeys(PAINS, GO)
    most |= {"soreness_after_session": Decimal(0), "effusion": TRACE if impact else ONE}
    within = all(
        _value(one) <= limit
        for code, limit in most.items()
        for one in record.mine(code=code)
        if one.on == day
    )
    settled = record.mine(code="task_pain_settled_next_morning")
    return within and all(_value(one) == 1 for one in settled if one.on == day)
