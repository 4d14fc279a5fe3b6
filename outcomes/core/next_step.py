"""The next step of a progression: progress, stay or regress, with everything for and against it.

The order: a surgeon's limit on the exercise of now, told or not confirmed yet, takes it back; so
does any rule that takes back; a limit on the next exercise or anything that holds keeps the level;
only with nothing against it, and something for it, a step up is proposed: one step, one variable,
one progression a visit, over both knees of a patient. What is not on record counts as not known
and holds. A person decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from outcomes.core.progressions import (
    Effect,
    Level,
    Move,
    Nature,
    Progression,
    Proposal,
    Standing,
    StepReason,
    Variable,
)
from outcomes.core.quantities import plain
from outcomes.core.step_levels import (
    entry_reasons,
    first_movement_reasons,
    level_reasons,
    requirement_reasons,
)
from outcomes.core.step_places import (
    Place,
    begun,
    next_place,
    place_before,
    place_of,
    prescription,
)
from outcomes.core.step_record import StepRecord
from outcomes.core.step_rules import (
    effusion_reasons,
    event_step_reasons,
    pain_reasons,
    red_flag_reasons,
    session_reasons,
    setback_reasons,
    soreness_reasons,
)
from outcomes.core.values import (
    EpisodeFacts,
    Event,
    Measure,
    Reading,
    RedFlag,
    Restriction,
    Unconfirmed,
)


def next_step(
    *,
    standing: Standing,
    facts: EpisodeFacts,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    restrictions: Sequence[Restriction],
    events: Sequence[Event],
    on: date,
    red_flags: Sequence[RedFlag] = (),
    step_taken: bool = False,
    unconfirmed: Sequence[Unconfirmed] = (),
) -> Proposal:
    """What is proposed of one progression on a day.

    ``readings`` are all of the patient, ``restrictions`` the surgeon's limits, of which those in
    force count; ``red_flags`` those that stand; ``unconfirmed`` procedures hold what their usual
    limits speak of; ``step_taken``: another step up was taken or proposed at this visit. The
    reasons are for and against what is proposed. Raises ``KeyError`` for a level that is not there.
    """
    return next_steps(
        standings=[standing],
        facts=facts,
        catalogue=catalogue,
        readings=readings,
        restrictions=restrictions,
        events=events,
        on=on,
        red_flags=red_flags,
        step_taken=step_taken,
        unconfirmed=unconfirmed,
    )[0]


def next_steps(
    *,
    standings: Sequence[Standing],
    facts: EpisodeFacts,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    restrictions: Sequence[Restriction],
    events: Sequence[Event],
    on: date,
    red_flags: Sequence[RedFlag] = (),
    step_taken: bool = False,
    unconfirmed: Sequence[Unconfirmed] = (),
) -> tuple[Proposal, ...]:
    """What is proposed of several progressions of one knee: at most one step up over all of them.

    As ``next_steps_of_knees``, for a patient of whom one knee is followed.
    """
    knee = KneeToday(
        standings=standings,
        facts=facts,
        restrictions=restrictions,
        events=events,
        red_flags=red_flags,
        unconfirmed=unconfirmed,
    )
    return next_steps_of_knees(
        knees=[knee], catalogue=catalogue, readings=readings, on=on, step_taken=step_taken
    )[0]


@dataclass(frozen=True, kw_only=True, slots=True)
class KneeToday:
    """What is known of one followed knee on a day, and where it stands in each progression."""

    standings: Sequence[Standing]
    facts: EpisodeFacts
    restrictions: Sequence[Restriction]
    events: Sequence[Event]
    red_flags: Sequence[RedFlag] = ()
    unconfirmed: Sequence[Unconfirmed] = ()


def next_steps_of_knees(
    *,
    knees: Sequence[KneeToday],
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    on: date,
    step_taken: bool = False,
) -> tuple[tuple[Proposal, ...], ...]:
    """What is proposed of each knee of one patient: at most one step up over all of them.

    The step up goes to a progression that is begun before one that is not, to the one that has
    waited longest at its level, then to the first in the order given (setting of this house).
    ``readings`` are all of the patient; ``step_taken``: a step was taken at this visit already, of
    either knee. Raises ``KeyError`` for a level that is not there.
    """
    cases = [
        [_Case(standing=one, record=record, step_taken=step_taken) for one in knee.standings]
        for knee in knees
        for record in [_record(knee, catalogue=catalogue, readings=readings, on=on)]
    ]
    every = [case for mine in cases for case in mine]
    found = iter(_one_up(every))
    return tuple(tuple(next(found) for _ in mine) for mine in cases)


def _record(
    knee: KneeToday, *, catalogue: Mapping[str, Measure], readings: Sequence[Reading], on: date
) -> StepRecord:
    return StepRecord(
        facts=knee.facts,
        catalogue=catalogue,
        readings=readings,
        restrictions=knee.restrictions,
        events=knee.events,
        on=on,
        red_flags=knee.red_flags,
        unconfirmed=knee.unconfirmed,
    )


def _one_up(cases: Sequence[_Case]) -> list[Proposal]:
    """A proposal for each case; all but one of those that would step up stay."""
    found = [_proposal(case) for case in cases]
    up = [n for n, one in enumerate(found) if one.move is Move.PROGRESS]
    chosen = min(up, key=lambda n: _turn(cases[n].standing, n), default=None)
    return [
        _proposal(replace(cases[n], step_taken=True)) if n in up and n != chosen else one
        for n, one in enumerate(found)
    ]


def _turn(standing: Standing, place: int) -> tuple[bool, date, int]:
    return not standing.level, standing.since, place


@dataclass(frozen=True, kw_only=True)
class _Case:
    """One progression of one patient on one day."""

    standing: Standing
    record: StepRecord
    step_taken: bool

    @property
    def progression(self) -> Progression:
        return self.standing.progression

    def level(self, place: Place) -> Level:
        return self.progression.levels[place.index]


def _proposal(case: _Case) -> Proposal:
    here = place_of(standing=case.standing, record=case.record)
    up = next_place(progression=case.progression, here=here, record=case.record)
    reasons = _once(_reasons(case, here, up))
    now_limits = _limits(case, here) if here.index >= 0 else ()
    up_limits = _limits(case, up) if up is not None else ()
    effects = {one.effect for one in reasons}
    back = None
    if now_limits or Effect.TAKES_BACK in effects:
        back = _back(case, here, reasons)
        move = Move.STAY if back is None else Move.REGRESS
        if back is None:
            reasons.append(StepReason(rule="first_level", effect=Effect.TOLD))
    elif up is None or up_limits or Effect.HOLDS in effects:
        move = Move.STAY
    else:
        move = Move.PROGRESS
    there = {Move.PROGRESS: up, Move.REGRESS: back}.get(move) or here
    limits = tuple(dict.fromkeys((*now_limits, *up_limits)))
    reasons += [_limit_reason(one) for one in limits]
    return _written(case, here=here, there=there, move=move, reasons=reasons, limits=limits)


def _once(reasons: Iterable[StepReason]) -> list[StepReason]:
    """Each reason once: what lets a level be left is often what lets the next one be entered."""
    found: dict[object, StepReason] = {}
    for one in reasons:
        same = frozenset(one.facts.items()) if "code" in one.facts else object()
        found.setdefault((one.effect, same), one)
    return list(found.values())


def _written(
    case: _Case,
    *,
    here: Place,
    there: Place,
    move: Move,
    reasons: Sequence[StepReason],
    limits: tuple[Restriction | Unconfirmed, ...],
) -> Proposal:
    goes_up = move is Move.PROGRESS
    spoken_for = [one for one in reasons if (one.effect is Effect.FOR) is goes_up]
    against = [one for one in reasons if (one.effect is Effect.FOR) is not goes_up]
    level = None if there.index < 0 else case.level(there)
    off = [int(one.facts["days_off"]) for one in reasons if "days_off" in one.facts]
    if move is not Move.STAY and level is not None:
        spoken_for.append(_step_reason(case, here, there, move))
    return Proposal(
        progression=case.progression.code,
        move=move,
        level="" if level is None else level.code,
        variable=None if move is Move.STAY else there.variable,
        dose=None if level is None else prescription(level=level, at=there.at),
        reasons_for=tuple(sorted(spoken_for, key=_weight)),
        reasons_against=tuple(sorted(against, key=_weight)),
        blocked_by=limits,
        days_off=max(off, default=0),
    )


WEIGHTS: Final = (Effect.TAKES_BACK, Effect.HOLDS, Effect.FOR, Effect.ADVICE, Effect.TOLD)


def _weight(reason: StepReason) -> int:
    return WEIGHTS.index(reason.effect)


def _step_reason(case: _Case, here: Place, there: Place, move: Move) -> StepReason:
    """The one thing that changes, from where to where."""
    level = case.level(there)
    variable = there.variable or Variable.EXERCISE
    same = variable is not Variable.EXERCISE
    before = "" if here.index < 0 else case.level(here).code
    start, end = (_text(here.at), _text(there.at)) if same else (before, level.code)
    facts = {"variable": variable.value, "from": start, "to": end}
    effect = Effect.FOR if move is Move.PROGRESS else Effect.TOLD
    rule = "one_step_up" if move is Move.PROGRESS else "step_down"
    return StepReason(rule=rule, effect=effect, facts=facts)


def _text(value: Decimal | None) -> str:
    return "" if value is None else plain(value=value)


def _limits(case: _Case, place: Place) -> tuple[Restriction | Unconfirmed, ...]:
    return case.record.in_force(kinds=case.level(place).blocked_by)


def _limit_reason(limit: Restriction | Unconfirmed) -> StepReason:
    if isinstance(limit, Unconfirmed):
        return StepReason(
            rule="limits_not_confirmed", effect=Effect.HOLDS, facts={"procedure": limit.words}
        )
    return StepReason(
        rule="surgeons_limit",
        effect=Effect.HOLDS,
        facts={
            "kind": limit.kind,
            "limit": limit.limit,
            "from": limit.since.isoformat(),
            "until": limit.until.isoformat() if limit.until else "",
        },
        refs=(limit.ref,) if limit.ref else (),
    )


def _back(case: _Case, here: Place, reasons: Sequence[StepReason]) -> Place | None:
    """Where to go back to: one step, to hip work after a drop at the first movement, and further
    down until no limit blocks the exercise. None at the first level."""
    found = place_before(progression=case.progression, here=here, record=case.record)
    to_hip_work = any(
        (one.rule, one.effect) == ("drop_at_first_movement", Effect.TAKES_BACK) for one in reasons
    )
    if to_hip_work:
        index = case.progression.place(code=case.progression.hip_work)
        found = begun(progression=case.progression, index=index, record=case.record)
    while found is not None and _limits(case, found):
        index = found.index - 1
        found = None
        if index >= 0:
            found = begun(progression=case.progression, index=index, record=case.record)
    return found


def _reasons(case: _Case, here: Place, up: Place | None) -> Iterator[StepReason]:
    record, since = case.record, case.standing.since
    ends = [case.level(place) for place in (here, up) if place is not None and place.index >= 0]
    impact = any(Nature.IMPACT in level.nature for level in ends)
    always = here.index < 0 and any(Nature.ALWAYS_FINE in level.nature for level in ends)
    if not always:
        yield from pain_reasons(record=record)
        yield from effusion_reasons(record=record, impact=impact)
        yield from soreness_reasons(record=record, since=since)
        yield from setback_reasons(record=record, since=since)
    yield from event_step_reasons(record=record, since=since)
    yield from red_flag_reasons(record=record)
    if here.index >= 0:
        yield from session_reasons(record=record, since=since, impact=impact)
        yield from level_reasons(standing=case.standing, here=here, record=record)
    yield from first_movement_reasons(standing=case.standing, here=here, up=up, record=record)
    for one in case.progression.advice:
        yield from requirement_reasons(rule="advice", requirement=one, record=record, step={})
    if up is None:
        yield StepReason(rule="last_level", effect=Effect.HOLDS)
    else:
        yield from entry_reasons(progression=case.progression, up=up, record=record)
    if case.step_taken:
        yield StepReason(rule="one_step_a_visit", effect=Effect.HOLDS)
