"""The next step of a progression as a call asks for it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from typing import Any, Final

from outcomes.catalogue.seeds import load_catalogue
from outcomes.core import next_step as core
from outcomes.core.progressions import Prescription, Progression, Standing, StepReason
from outcomes.core.step_words import reason_words
from outcomes.core.values import Measure, Restriction, Unconfirmed
from outcomes.protocols.progression_seeds import load_progressions
from outcomes.queries.compute_asked import Asked, Refused, shortened
from outcomes.queries.compute_record import day_of, record_from

A_NUMBER: Final = re.compile(r"-?\d+(\.\d+)?", re.ASCII)


@cache
def shipped() -> tuple[Mapping[str, Measure], Mapping[str, Progression]]:
    """The shipped catalogue and the shipped progressions, read once."""
    catalogue = load_catalogue()
    return catalogue, load_progressions(catalogue)


def next_step(asked: Asked) -> dict[str, Any]:
    """Progress, stay or regress, the level, the dose and the reasons for and against it."""
    catalogue, progressions = shipped()
    asked.text("protocol", default="")
    on = day_of(asked, "on")
    record = record_from(asked, catalogue=catalogue)
    if record.facts.birth_date > on:
        raise Refused('"birth_date" lies after "on": send both as they were.')
    progression: Progression = asked.one_of("progression", progressions)
    standing = Standing(
        progression=progression,
        level=_level(asked, progression),
        since=day_of(asked, "since"),
        at=asked.number("at", least=0) if "at" in asked else None,
    )
    found = core.next_step(
        standing=standing,
        facts=record.facts,
        catalogue=catalogue,
        readings=record.readings,
        restrictions=record.restrictions,
        events=record.events,
        on=on,
        unconfirmed=record.unconfirmed,
    )
    return {
        "proposal": found.move.value,
        "level": found.level,
        "dose": None if found.dose is None else _dose(found.dose),
        "reasons_for": [_reason(one, catalogue) for one in found.reasons_for],
        "reasons_against": [_reason(one, catalogue) for one in found.reasons_against],
        "blocked_by": [_limit(one) for one in found.blocked_by],
    }


def _level(asked: Asked, progression: Progression) -> str:
    """A level of the progression; empty is not begun."""
    level = asked.text("level")
    codes = [one.code for one in progression.levels]
    if level and level not in codes:
        known = ", ".join(f'"{code}"' for code in codes)
        raise Refused(f'"level" cannot be {shortened(level)}: send one of {known}.')
    return level


def _dose(dose: Prescription) -> dict[str, Any]:
    held = {"hold_s": dose.hold_s} if dose.reps is None else {"reps": dose.reps}
    return {
        "sets": dose.sets,
        **held,
        "load_kg": dose.load_kg,
        "days_a_week": dose.days_a_week,
    }


def _reason(reason: StepReason, catalogue: Mapping[str, Measure]) -> dict[str, Any]:
    """A reason with all its facts, numbers as numbers, and its sentence."""
    facts = {
        key: Decimal(text) if A_NUMBER.fullmatch(text) else text
        for key, text in reason.facts.items()
        if text
    }
    sentence = reason_words(reason=reason, catalogue=catalogue)
    return {"rule": reason.rule, "effect": reason.effect.value, **facts, "sentence": sentence}


def _limit(limit: Restriction | Unconfirmed) -> dict[str, Any]:
    """A limit with its days, or the procedure whose limits nobody has confirmed."""
    if isinstance(limit, Unconfirmed):
        return {"procedure": limit.words}
    return {
        "kind": limit.kind,
        "from": limit.since.isoformat(),
        "until": limit.until.isoformat() if limit.until else None,
    }
