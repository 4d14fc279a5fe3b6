"""The record of one patient as a call sends it: episode, readings, scores, events, limits.

Shared by every calculation that judges a record. Codes are those of the site. A test may name some
of its conditions, or none: then it is compared only with tests that named the same. What is left
out of the episode is taken as not known.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Any, Final, TypeVar

from outcomes.core.events import BY_CODE, Side, limb_of
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
)
from outcomes.protocols.reading import GOALS, GRAFTS, KINDS, RESTRICTIONS
from outcomes.queries.compute_asked import Asked, Refused, decimal_from, shortened

T = TypeVar("T")
Catalogue = Mapping[str, Measure]

UNKNOWN: Final = "unknown"
NOT_STATED: Final = "not_stated"
SIDES: Final = {"left": Limb.LEFT, "right": Limb.RIGHT}
LIMBS: Final = {**SIDES, "none": Limb.NONE}
GRAFT_FROM: Final = ("same_limb", "other_limb", "donor", UNKNOWN)
OTHER_LIMB: Final = ("healthy", "earlier_surgery", "current_problem", NOT_STATED)
SEXES: Final = ("female", "male", NOT_STATED)
STATUSES: Final = {status.value: status for status in ReadingStatus}
EVENT_SIDES: Final = {side.value: side for side in Side} | SIDES
FIRST_YEAR, LAST_YEAR = 1900, 2199


@dataclass(frozen=True, kw_only=True, slots=True)
class Recorded:
    """What a call says of one patient, as the core judges it."""

    facts: EpisodeFacts
    readings: tuple[Reading, ...]
    scores: tuple[Score, ...]
    events: tuple[Event, ...]
    restrictions: tuple[Restriction, ...]


def record_from(asked: Asked, *, catalogue: Catalogue) -> Recorded:
    """The record of a call: ``episode``; readings, scores, events and restrictions may be left out.

    Raises ``Refused`` naming the place and what to send instead.
    """
    facts = _within(asked.table("episode", what="an object"), "episode", _episode)
    if facts.index_date is not None and facts.birth_date > facts.index_date:
        raise Refused('"birth_date" lies after "index_date": send both as they were.')
    return Recorded(
        facts=facts,
        readings=_each(asked, "readings", partial(_reading, catalogue=catalogue)),
        scores=_each(asked, "scores", _score),
        events=_each(asked, "events", partial(_event, facts=facts)),
        restrictions=_each(asked, "restrictions", _restriction),
    )


def day_of(asked: Asked, key: str) -> date:
    """A date that a patient's record can have."""
    found = asked.day(key)
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        what = f"a date from {FIRST_YEAR} to {LAST_YEAR}"
        raise Refused(f'"{key}" cannot be {found.isoformat()}: send {what}.')
    return found


def _each(asked: Asked, key: str, reads: Callable[..., T]) -> tuple[T, ...]:
    """Every object of a list, none where the key is left out. Places count from 0."""
    rows = asked.rows(key) if key in asked else []
    return tuple(
        _within(row, f"{key}[{place}]", partial(reads, number=place + 1))
        for place, row in enumerate(rows)
    )


def _within(values: Mapping[str, Any], where: str, reads: Callable[[Asked], T]) -> T:
    """One object read whole; what is refused in it names its place."""
    inner = Asked(values=values)
    try:
        found = reads(inner)
        inner.done()
    except Refused as refused:
        raise Refused(f"{where}: {refused}") from None
    except TypedError as error:
        raise Refused(f"{where}: {error.message}") from None
    return found


def _word(asked: Asked, key: str, known: tuple[str, ...], default: str) -> str:
    """One of the words of a key; the default for null and where it is left out."""
    if key not in asked or asked.takes_null(key):
        return default
    found: str = asked.one_of(key, {word: word for word in known})
    return found


def _episode(asked: Asked) -> EpisodeFacts:
    return EpisodeFacts(
        knee=asked.one_of("knee", SIDES),
        kind=asked.one_of("kind", {kind: kind for kind in KINDS}),
        index_date=day_or_none(asked, "index_date"),
        graft=_word(asked, "graft", GRAFTS, UNKNOWN),
        graft_from=_word(asked, "graft_from", GRAFT_FROM, UNKNOWN),
        other_limb=_word(asked, "other_limb", OTHER_LIMB, NOT_STATED),
        sex=_word(asked, "sex", SEXES, NOT_STATED),
        birth_date=day_of(asked, "birth_date"),
        goal=_word(asked, "goal", (*GOALS, NOT_STATED), NOT_STATED),
    )


def day_or_none(asked: Asked, key: str) -> date | None:
    """A date, or None for null and where the key is left out."""
    if key not in asked or asked.takes_null(key):
        return None
    return day_of(asked, key)


def _reading(asked: Asked, *, number: int, catalogue: Catalogue) -> Reading:
    measure = catalogue[asked.one_of("measure", {code: code for code in catalogue})]
    if not measure.typed:
        raise Refused(f"{measure.code} is worked out: send what it is worked out from.")
    status = ReadingStatus.MEASURED
    if "status" in asked:
        status = asked.one_of("status", STATUSES)
    return Reading(
        measure=measure.code,
        limb=_limb(asked, measure),
        value=_value(asked, measure, status),
        on=day_of(asked, "date"),
        key=_key(asked, measure),
        status=status,
        details=_details(asked, measure),
        ref=number,
    )


def _limb(asked: Asked, measure: Measure) -> Limb:
    if not measure.per_limb:
        known = {"none": Limb.NONE}
        return asked.one_of("limb", known) if "limb" in asked else Limb.NONE
    limb: Limb = asked.one_of("limb", SIDES)
    return limb


def _value(asked: Asked, measure: Measure, status: ReadingStatus) -> Decimal | None:
    """A number in the unit of the measure, the word of a grade, or null for a test without one."""
    if status is not ReadingStatus.MEASURED and ("value" not in asked or asked.takes_null("value")):
        return None
    if measure.grades:
        word: str = asked.one_of("value", {word: word for word in measure.grades})
        return measure.rank(word=word)
    value = asked.number("value")
    refused, _ = check_value(measure=measure, value=value)
    if refused is not None:
        raise Refused(f'"value" cannot be {shortened(value)}: {refused}')
    return value


def _key(asked: Asked, measure: Measure) -> str:
    """The comparison key of the conditions that are named."""
    known = {condition.code: condition for condition in measure.conditions}
    sent = asked.table("conditions", what="an object") if "conditions" in asked else {}
    made = []
    for code, typed in sorted(sent.items()):
        if code not in known:
            what = ", ".join(known) or "none"
            raise Refused(f"{measure.code} has no condition {shortened(code)}: it has {what}.")
        text = typed if isinstance(typed, str) else plain(value=_condition_number(typed, code))
        made.append(f"{code}={condition_value(condition=known[code], typed=text)}")
    return ";".join(made)


def _condition_number(typed: object, code: str) -> Decimal:
    return decimal_from(typed, key=code, what="a word or a number")


def _details(asked: Asked, measure: Measure) -> dict[str, str]:
    sent = asked.table("details", what="an object") if "details" in asked else {}
    inner = Asked(values=sent)
    known = {detail.code: detail for detail in measure.details}
    found = {
        code: inner.one_of(code, {choice.code: choice.code for choice in detail.choices})
        for code, detail in known.items()
        if code in inner
    }
    inner.done()
    return found


def _score(asked: Asked, *, number: int) -> Score:
    code, value = asked.text("code"), asked.number("value")
    return Score(
        code=code,
        value=Fraction(value),
        on=day_of(asked, "date"),
        line=code,
        answered=0,
        ref=number,
    )


def _event(asked: Asked, *, number: int, facts: EpisodeFacts) -> Event:
    kind = BY_CODE[asked.one_of("kind", {code: code for code in BY_CODE})]
    side: Side | Limb = kind.sides[0]
    if "side" in asked:
        side = asked.one_of("side", EVENT_SIDES)
    limb = side if isinstance(side, Limb) else limb_of(side=side, knee=facts.knee)
    return Event(code=kind.code, limb=limb, on=day_of(asked, "date"), ref=number)


def _restriction(asked: Asked, *, number: int) -> Restriction:
    kind: str = asked.one_of("kind", {kind: kind for kind in RESTRICTIONS})
    since, until = day_of(asked, "from"), day_or_none(asked, "until")
    if until is not None and until < since:
        raise Refused('"until" lies before "from": send a later date, or leave it out.')
    return Restriction(kind=kind, limit="", since=since, until=until, ref=number)
