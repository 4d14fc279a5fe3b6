"""The record of an invented episode as a call sends it: every part named in a sentence if wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Final, TypeVar

from outcomes.core.events import BY_CODE, Side
from outcomes.core.quantities import TypedError, plain
from outcomes.core.readings import check_value, condition_value
from outcomes.core.values import (
    EpisodeFacts,
    Event,
    Limb,
    Measure,
    Reading,
    ReadingStatus,
    Restriction,
    Score,
    Unconfirmed,
)
from outcomes.protocols.criteria import GRAFTS, score_form
from outcomes.protocols.reading import GOALS, KINDS, RESTRICTIONS
from outcomes.queries.attendance import PROCEDURE
from outcomes.queries.attendance import Asked as Procedure
from outcomes.queries.compute_asked import Asked, Refused, decimal_from, shortened

T = TypeVar("T")


def _words(*codes: str) -> dict[str, str]:
    return {code: code for code in codes}


KNEES: Final = {"left": Limb.LEFT, "right": Limb.RIGHT}
LIMBS: Final = {**KNEES, "none": Limb.NONE}
STATUSES: Final = {status.value: status for status in ReadingStatus}
FROM: Final = _words("same_limb", "other_limb", "donor")
OTHER_LIMBS: Final = _words("healthy", "earlier_surgery", "current_problem")
SEXES: Final = _words("female", "male", "not_stated")
FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2199
MOST: Final = 2000
"""Rows of a kind in one call."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Sent:
    """What a call holds of an episode."""

    facts: EpisodeFacts
    readings: Sequence[Reading]
    scores: Sequence[Score]
    events: Sequence[Event]
    restrictions: Sequence[Restriction]
    unconfirmed: Sequence[Unconfirmed]


def record_from(asked: Asked, *, catalogue: Mapping[str, Measure]) -> Sent:
    """The episode and its rows. Raises ``Refused`` with what to send instead."""
    episode = _part(asked, "episode")
    unconfirmed = [
        Procedure(procedure=code, words=PROCEDURE[code], done_on=None).held
        for code in episode.words("procedures_unconfirmed", PROCEDURE)
    ]
    facts = _facts(episode)
    numbers = iter(range(1, MOST + 1))
    return Sent(
        facts=facts,
        readings=_rows(asked, "readings", lambda row: _reading(row, catalogue, next(numbers))),
        scores=_rows(asked, "scores", _score, needed=False),
        events=_rows(asked, "events", _event, needed=False),
        restrictions=_rows(asked, "restrictions", _restriction, needed=False),
        unconfirmed=unconfirmed,
    )


def day_of(asked: Asked, key: str) -> date:
    """A day of a person's life: far enough from the ends of the calendar to count from."""
    day = asked.day(key)
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        span = f"between {FIRST_YEAR} and {LAST_YEAR}"
        raise Refused(f'"{key}" cannot be {day.isoformat()}: send a day {span}.')
    return day


def _part(asked: Asked, key: str) -> Asked:
    return Asked(values=asked.table(key, what="an object"))


def _rows(
    asked: Asked, key: str, each: Callable[[Asked], T], *, needed: bool = True
) -> tuple[T, ...]:
    """A list of objects, each read whole; a refusal says which one it is."""
    if not needed and key not in asked:
        return ()
    found = []
    for number, row in enumerate(asked.objects(key, most=MOST), start=1):
        part = Asked(values=row)
        try:
            found.append(each(part))
            part.done()
        except (Refused, TypedError) as refused:
            said = getattr(refused, "message", str(refused))
            raise Refused(f'"{key}", number {number}: {said}') from None
    return tuple(found)


def _facts(asked: Asked) -> EpisodeFacts:
    """What the core must know. Null says not known: no date yet, no graft, nobody asked."""
    facts = EpisodeFacts(
        knee=asked.one_of("knee", KNEES),
        kind=asked.one_of("kind", _words(*KINDS)),
        index_date=asked.or_none("index_date", lambda key: day_of(asked, key)),
        graft=asked.or_none("graft", lambda key: asked.one_of(key, _words(*GRAFTS))) or "",
        graft_from=asked.or_none("graft_from", lambda key: asked.one_of(key, FROM)) or "",
        other_limb=asked.or_none("other_limb", lambda key: asked.one_of(key, OTHER_LIMBS))
        or "not_stated",
        sex=asked.one_of("sex", SEXES),
        birth_date=day_of(asked, "birth_date"),
        goal=asked.or_none("goal", lambda key: asked.one_of(key, _words(*GOALS))) or "not_stated",
    )
    asked.done()
    if facts.index_date is not None and facts.birth_date > facts.index_date:
        raise Refused('"birth_date" lies after "index_date": send both as they were.')
    return facts


def _reading(asked: Asked, catalogue: Mapping[str, Measure], number: int) -> Reading:
    measure: Measure = asked.one_of("measure", {c: m for c, m in catalogue.items() if m.typed})
    limb = asked.one_of("limb", KNEES if measure.per_limb else {"none": Limb.NONE})
    status = asked.one_of("status", STATUSES) if "status" in asked else ReadingStatus.MEASURED
    value = asked.or_none("value", lambda key: _value(asked, key, measure))
    if value is None and status is ReadingStatus.MEASURED:
        raise Refused('"value" cannot be null where it was measured: send it, or the status.')
    return Reading(
        measure=measure.code,
        limb=limb,
        value=value,
        on=day_of(asked, "date"),
        key=_key(asked, measure),
        status=status,
        details=_details(asked, measure),
        ref=number,
    )


def _value(asked: Asked, key: str, measure: Measure) -> Decimal:
    """A number in the unit of the measure, or the word of a grade."""
    if measure.grades:
        ranks = {word: measure.rank(word=word) for word in measure.grades}
        found: Decimal = asked.one_of(key, ranks)
        return found
    value = asked.number(key)
    refused, _ = check_value(measure=measure, value=value)
    if refused is not None:
        raise Refused(f'"value" of {measure.code}: {refused}')
    return value


def _key(asked: Asked, measure: Measure) -> str:
    """The comparison key of the conditions that were sent; what was not sent is not in it."""
    if "conditions" not in asked:
        return ""
    sent = asked.table("conditions", what='an object, such as {"device": "fixed"}')
    known = {condition.code: condition for condition in measure.conditions}
    parts = []
    for code, typed in sorted(sent.items()):
        if code not in known:
            words = ", ".join(known) or "none"
            raise Refused(f"{shortened(code)} is no condition of {measure.code}: it has {words}.")
        text = plain(value=_fitting(typed, code)) if isinstance(typed, Decimal) else typed
        if not isinstance(text, str):
            raise Refused(f'"{code}" cannot be {shortened(typed)}: send a text or a number.')
        value = condition_value(condition=known[code], typed=text.strip())
        parts.append(f"{code}={value}")
    return ";".join(parts)


def _fitting(value: Decimal, code: str) -> Decimal:
    return decimal_from(value, key=code, what="a number")


def _details(asked: Asked, measure: Measure) -> dict[str, str]:
    if "details" not in asked:
        return {}
    sent = asked.table("details", what='an object, such as {"kept_level_by": "upright"}')
    known = {one.code: {choice.code for choice in one.choices} for one in measure.details}
    for code, word in sent.items():
        if code not in known:
            words = ", ".join(known) or "none"
            raise Refused(f"{shortened(code)} is no detail of {measure.code}: it has {words}.")
        if not isinstance(word, str) or word not in known[code]:
            words = ", ".join(sorted(known[code]))
            raise Refused(f'"{code}" cannot be {shortened(word)}: send one of {words}.')
    return sent


def _score(asked: Asked) -> Score:
    code = asked.text("code")
    form = score_form(code=code)
    if form is None:
        raise Refused(f'"code" cannot be {shortened(code)}: send a score such as "ikdc.total".')
    value = asked.or_none(
        "value", lambda key: asked.number(key, least=form.lowest, most=form.highest)
    )
    return Score(
        code=code,
        value=None if value is None else Fraction(value),
        on=day_of(asked, "date"),
        line=code,
        answered=0,
    )


def _event(asked: Asked) -> Event:
    code = asked.one_of("kind", _words(*BY_CODE))
    person = BY_CODE[code].sides == (Side.PERSON,)
    limb: Limb = asked.one_of("side", dict.fromkeys(LIMBS, Limb.NONE) if person else KNEES)
    return Event(code=code, limb=limb, on=day_of(asked, "date"))


def _restriction(asked: Asked) -> Restriction:
    kind = asked.one_of("kind", _words(*RESTRICTIONS))
    since: date = day_of(asked, "from")
    until = asked.or_none("until", lambda key: day_of(asked, key)) if "until" in asked else None
    if until is not None and until < since:
        raise Refused('"until" lies before "from": send the later day as "until".')
    return Restriction(kind=kind, limit="", since=since, until=until)
