"""One number of an episode on a day, opened: for lists and charts that show the number alone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.urls import reverse

from clinic import words
from clinic.models import care
from clinic.queries.care import week_words
from outcomes.core.evidence import BODY_MASS, latest_body_mass
from outcomes.core.judge import judge_protocol
from outcomes.core.relative import BODY
from outcomes.core.status import history_of, measure_status
from outcomes.core.values import EpisodeFacts, Measure
from outcomes.queries.catalogue import InForce
from outcomes.queries.events import events_of
from outcomes.queries.ledger_lines import ledger_lines
from outcomes.queries.opened import Opened
from outcomes.queries.record import episode_facts, some_readings
from outcomes.queries.trends import CODE

WEEKS: Final = "weeks"
EXACT: Final = "None: whole days are counted, in the time zone of the site."
COMPLETED: Final = "Completed weeks, the day of the operation or injury being day 0: definition"


@dataclass(frozen=True, kw_only=True, slots=True)
class Number:
    """What a number is of, how it reads, and what stands behind it."""

    label: str
    said: str
    opened: Opened


def number_address(*, episode: care.Episode) -> str:
    """The address of an episode's numbers, with ``CODE`` where the measure stands."""
    return reverse("number", args=[episode.uid, CODE])


def measures_behind(*, measure: Measure | None) -> set[str]:
    """The measure, what it is worked out from, and what its values are set against."""
    if measure is None:
        return set()
    inputs = measure.derived.inputs if measure.derived is not None else ()
    body = [BODY[measure.relative]] if measure.relative is not None else []
    return {measure.code, *inputs, *body}


def number_of(
    *, episode: care.Episode, code: str, rules: InForce, on: date, today: date
) -> Number | None:
    """A measure as it stood on a day, or the weeks; None where it was not read by then.

    At most five statements.
    """
    facts = episode_facts(episodes=[episode], events=events_of(episodes=[episode]))[episode.pk]
    if code == WEEKS:
        return _weeks(episode=episode, facts=facts, on=today)
    if code not in rules.measures:
        return None
    measure = rules.measures[code]
    readings = some_readings(
        patient_id=episode.patient_id,
        measures=measures_behind(measure=measure) | {BODY_MASS},
        refs=(),
    )
    history = history_of(facts=facts, catalogue=rules.measures, readings=readings, on=on)
    milestones = judge_protocol(
        protocol=rules.protocols[episode.protocol], catalogue=rules.measures,
        readings=history.readings, facts=facts, restrictions=(), on=on,
    )  # fmt: skip
    lines = ledger_lines(
        statuses=[measure_status(history=history, code=one) for one in history.codes],
        measures=rules.measures,
        facts=facts,
        body_mass=latest_body_mass(catalogue=rules.measures, readings=readings, on=on),
        milestones=milestones,
        on=on,
    )
    line = next((one for one in lines if one.code == code), None)
    if line is None:
        return None
    stood = "" if on == today else f"; as it stood on {words.day(on)}"
    said = f"{line.opener or line.whole}{stood}"
    return Number(label=measure.label, said=said, opened=line.opened)


def _weeks(*, episode: care.Episode, facts: EpisodeFacts, on: date) -> Number:
    """How the weeks of an episode are counted."""
    start, said = facts.index_date, week_words(episode=episode, on=on)
    parts: list[tuple[str, tuple[str, ...]]] = []
    if start is None:
        parts.append(("From", ("No date to count from is on record.",)))
    else:
        what = "Injury" if facts.kind == "without_surgery" else "Operation"
        days = (on - start).days
        counted = f"{days} days ÷ 7 = {days // 7} weeks and {words.several(days % 7, 'day')}"
        parts.append(("From", (f"{what} {words.day(start)}", f"Today {words.day(on)}")))
        parts.append(("Worked out", (counted if days >= 0 else f"{-days} days before it",)))
    parts.append(("Error", (EXACT,)))
    parts.append(("Source", (COMPLETED,)))
    parts.append(("Version", (f"Dates on record, {words.day(on)}",)))
    return Number(label="Weeks", said=said, opened=Opened(parts=tuple(parts)))
