"""The milestones of an episode that a call sends, judged by the functions that the pages use."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

from outcomes.catalogue.seeds import load_catalogue
from outcomes.core.dates import weeks_since
from outcomes.core.derived import all_derived
from outcomes.core.holds import not_confirmed
from outcomes.core.judge import judge_protocol
from outcomes.core.values import (
    CriterionResult,
    Form,
    Measure,
    MilestoneResult,
    Protocol,
    Reading,
    Result,
)
from outcomes.protocols.seeds import load_batteries, load_protocols
from outcomes.queries.compute_asked import Asked
from outcomes.queries.compute_record import Sent, day_of, record_from
from outcomes.queries.criterion_words import criterion_words

Given = dict[str, Any]


@cache
def _catalogue() -> Mapping[str, Measure]:
    return load_catalogue()


@cache
def _protocols() -> Mapping[str, Protocol]:
    """Every shipped protocol and published set of criteria, read once."""
    return {**load_protocols(_catalogue()), **load_batteries(_catalogue())}


def milestones(asked: Asked) -> Given:
    """Every milestone up to the goal's last, judged on the day that was sent."""
    protocol: Protocol = asked.one_of("protocol", _protocols())
    on = day_of(asked, "on")
    sent = record_from(asked, catalogue=_catalogue())
    past = [reading for reading in sent.readings if reading.on <= on]
    worked = all_derived(catalogue=_catalogue(), readings=past)
    readings = [*past, *(one.reading for one in worked if one.reading is not None)]
    found = judge_protocol(
        protocol=protocol,
        catalogue=_catalogue(),
        readings=readings,
        facts=sent.facts,
        restrictions=sent.restrictions,
        on=on,
        scores=sent.scores,
        events=sent.events,
        unconfirmed=sent.unconfirmed,
    )
    said = _Said(sent=sent, readings=readings, on=on)
    return {
        "weeks": weeks_since(index_date=sent.facts.index_date, on=on),
        "milestones": [said.milestone(one) for one in found],
    }


class _Said:
    """What was found, as plain values: numbers exact, grades by their word."""

    def __init__(self, *, sent: Sent, readings: list[Reading], on: date) -> None:
        self.sent, self.on = sent, on
        self.readings = {reading.ref: reading for reading in readings if not reading.made_from}

    def milestone(self, found: MilestoneResult) -> Given:
        """One milestone with its criteria."""
        waived = self.sent.facts.kind in found.milestone.gate.waived_for
        reached = found.earliest is not None and self.on >= found.earliest
        return {
            "code": found.milestone.code,
            "earliest_date": _iso(found.earliest),
            "earliest_date_reached": waived or reached,
            "state": found.state.value,
            "criteria": [self.criterion(one) for one in found.criteria],
            **self._not_confirmed(found),
        }

    def _not_confirmed(self, found: MilestoneResult) -> Given:
        """A sentence for each procedure that holds it; the key is there where any was sent."""
        if not self.sent.unconfirmed:
            return {}
        return {"not_confirmed": [not_confirmed(procedure=one) for one in found.unconfirmed]}

    def criterion(self, found: CriterionResult) -> Given:
        """One criterion; ``reason`` says why it is not plainly met and what to do next."""
        criterion = found.criterion
        return {
            "code": criterion.code,
            "hard": criterion.hard,
            "result": found.result.value,
            "value": _number(found, found.value),
            "operator": criterion.operator.value,
            "threshold": _number(found, found.threshold),
            "date": _iso(found.on),
            "margin": found.margin,
            "reason": None if found.result is Result.MET else self._reason(found),
        }

    def _reason(self, found: CriterionResult) -> str:
        return criterion_words(
            found=found,
            measures=_catalogue(),
            facts=self.sent.facts,
            readings=self.readings,
            on=self.on,
        ).next_move


def _number(found: CriterionResult, value: Fraction | Decimal | None) -> object:
    """A number, or the word of a grade."""
    criterion = found.criterion
    if value is None or criterion.form is not Form.GRADE:
        return value
    return _catalogue()[criterion.measure].word(value=Decimal(int(value)))


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
