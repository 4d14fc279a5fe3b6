"""The milestones of an episode that a call sends, judged by the functions that the pages use."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any, Final

from django.db import DatabaseError

from outcomes.catalogue.seeds import load_catalogue
from outcomes.core.dates import weeks_since
from outcomes.core.derived import all_derived
from outcomes.core.holds import not_confirmed
from outcomes.core.judge import judge_protocol
from outcomes.core.measures import OWN
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
from outcomes.queries.catalogue import in_force
from outcomes.queries.compute_asked import Asked, Refused
from outcomes.queries.compute_record import Sent, day_of, record_from
from outcomes.queries.criterion_words import criterion_words

Given = dict[str, Any]
NO_DATABASE: Final = (
    "A protocol of the clinic's own is known where it was published: run this on that site's "
    "database, or send a shipped protocol."
)


@cache
def _catalogue() -> Mapping[str, Measure]:
    return load_catalogue()


@cache
def _protocols() -> Mapping[str, Protocol]:
    """Every shipped protocol and published set of criteria, read once."""
    return {**load_protocols(_catalogue()), **load_batteries(_catalogue())}


def _rules(asked: Asked) -> tuple[Mapping[str, Protocol], Mapping[str, Measure]]:
    """Protocols and measures to judge by: the shipped ones, without a database.

    Only a protocol of the clinic's own is looked for on the site's database, with the measures in
    force there.
    """
    if not asked.own("protocol"):
        return _protocols(), _catalogue()
    try:
        kept = in_force()
    except DatabaseError:
        raise Refused(NO_DATABASE) from None
    own = {code: one for code, one in kept.protocols.items() if code.startswith(OWN)}
    if not own:
        raise Refused(NO_DATABASE)
    return own, kept.measures


def milestones(asked: Asked) -> Given:
    """Every milestone up to the goal's last, judged on the day that was sent."""
    protocols, catalogue = _rules(asked)
    protocol: Protocol = asked.one_of("protocol", protocols)
    on = day_of(asked, "on")
    sent = record_from(asked, catalogue=catalogue)
    past = [reading for reading in sent.readings if reading.on <= on]
    worked = all_derived(catalogue=catalogue, readings=past)
    readings = [*past, *(one.reading for one in worked if one.reading is not None)]
    found = judge_protocol(
        protocol=protocol,
        catalogue=catalogue,
        readings=readings,
        facts=sent.facts,
        restrictions=sent.restrictions,
        on=on,
        scores=sent.scores,
        events=sent.events,
        unconfirmed=sent.unconfirmed,
    )
    said = _Said(sent=sent, readings=readings, on=on, measures=catalogue)
    return {
        "weeks": weeks_since(index_date=sent.facts.index_date, on=on),
        "milestones": [said.milestone(one) for one in found],
    }


class _Said:
    """What was found, as plain values: numbers exact, grades by their word."""

    def __init__(
        self, *, sent: Sent, readings: list[Reading], on: date, measures: Mapping[str, Measure]
    ) -> None:
        self.sent, self.on, self.measures = sent, on, measures
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
            "value": self._number(found, found.value),
            "operator": criterion.operator.value,
            "threshold": self._number(found, found.threshold),
            "date": _iso(found.on),
            "margin": found.margin,
            "reason": None if found.result is Result.MET else self._reason(found),
        }

    def _reason(self, found: CriterionResult) -> str:
        return criterion_words(
            found=found,
            measures=self.measures,
            facts=self.sent.facts,
            readings=self.readings,
            on=self.on,
        ).next_move

    def _number(self, found: CriterionResult, value: Fraction | Decimal | None) -> object:
        """A number, or the word of a grade."""
        criterion = found.criterion
        if value is None or criterion.form is not Form.GRADE:
            return value
        return self.measures[criterion.measure].word(value=Decimal(int(value)))


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
