"""Facts, readings, limits and events as plain JSON and back, exactly."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from outcomes.core.values import (
    EpisodeFacts,
    Event,
    GateAside,
    Limb,
    Reading,
    ReadingStatus,
    Restriction,
)

Json = dict[str, Any]


def iso(day: date | None) -> str | None:
    """A day as text."""
    return None if day is None else day.isoformat()


def day_in(text: str | None) -> date | None:
    """A day from its text."""
    return None if text is None else date.fromisoformat(text)


def decimal_in(text: str | None) -> Decimal | None:
    """A number from its text."""
    return None if text is None else Decimal(text)


def text_out(value: Decimal | Fraction | None) -> str | None:
    """A number as text, exactly."""
    return None if value is None else str(value)


def facts_json(facts: EpisodeFacts) -> Json:
    """The facts of an episode as JSON."""
    return {
        "knee": facts.knee.value,
        "kind": facts.kind,
        "index_date": iso(facts.index_date),
        "graft": facts.graft,
        "graft_from": facts.graft_from,
        "other_limb": facts.other_limb,
        "sex": facts.sex,
        "birth_date": facts.birth_date.isoformat(),
        "goal": facts.goal,
        "care_state": facts.care_state,
        "other_knee_followed": facts.other_knee_followed,
    }


def facts_in(row: Json) -> EpisodeFacts:
    """The facts that ``facts_json`` wrote."""
    return EpisodeFacts(
        **{
            **row,
            "knee": Limb(row["knee"]),
            "index_date": day_in(row["index_date"]),
            "birth_date": date.fromisoformat(row["birth_date"]),
        }
    )


def reading_json(reading: Reading) -> Json:
    """A reading as JSON."""
    return {
        "measure": reading.measure,
        "limb": reading.limb.value,
        "value": text_out(reading.value),
        "on": reading.on.isoformat(),
        "key": reading.key,
        "status": reading.status.value,
        "details": dict(reading.details),
        "ref": reading.ref,
        "made_from": list(reading.made_from),
        "tester": reading.tester,
    }


def reading_in(row: Json) -> Reading:
    """The reading that ``reading_json`` wrote."""
    return Reading(
        measure=row["measure"],
        limb=Limb(row["limb"]),
        value=decimal_in(row["value"]),
        on=date.fromisoformat(row["on"]),
        key=row["key"],
        status=ReadingStatus(row["status"]),
        details=row["details"],
        ref=row["ref"],
        made_from=tuple(row["made_from"]),
        tester=row["tester"],
    )


def aside_json(aside: GateAside) -> Json:
    """A gate that was set aside, as JSON."""
    return {
        "milestone": aside.milestone,
        "on": aside.on.isoformat(),
        "by": aside.by,
        "reason": aside.reason,
        "until": iso(aside.until),
    }


def aside_in(row: Json | None) -> GateAside | None:
    """What ``aside_json`` wrote."""
    if row is None:
        return None
    days = {"on": date.fromisoformat(row["on"]), "until": day_in(row.get("until"))}
    return GateAside(**{**row, **days})


def limit_json(limit: Restriction) -> Json:
    """A surgeon's limit as JSON."""
    return {
        "kind": limit.kind,
        "limit": limit.limit,
        "since": limit.since.isoformat(),
        "until": iso(limit.until),
        "ref": limit.ref,
    }


def event_json(event: Event) -> Json:
    """An event as JSON."""
    return {
        "code": event.code,
        "limb": event.limb.value,
        "on": event.on.isoformat(),
        "detail": event.detail,
        "early": event.early,
        "ref": event.ref,
    }


def limit_in(row: Json) -> Restriction:
    """The limit that ``limit_json`` wrote."""
    return Restriction(
        **{**row, "since": date.fromisoformat(row["since"]), "until": day_in(row["until"])}
    )
