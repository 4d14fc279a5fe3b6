"""Status today as plain JSON and back, exactly: what ``EpisodeStatus.body`` holds.

Readings are written once and named by their place. Measures, criteria and milestones are named
by their codes: the row's rules version says which catalogue and protocol they belong to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction

from outcomes.core.status import Change, MeasureStatus, StatusToday
from outcomes.core.values import (
    CriterionResult,
    EpisodeFacts,
    Fallback,
    Limb,
    Measure,
    Milestone,
    MilestoneResult,
    MilestoneState,
    NotAssessable,
    Pair,
    Protocol,
    Reading,
    Reason,
    Reference,
    Result,
    Symmetry,
    Why,
)
from outcomes.queries.record_json import (
    Json,
    aside_in,
    aside_json,
    day_in,
    decimal_in,
    facts_in,
    facts_json,
    iso,
    limit_in,
    limit_json,
    reading_in,
    reading_json,
    text_out,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Kept:
    """What is kept of an episode: the facts it was judged with, and the judgement."""

    facts: EpisodeFacts
    status: StatusToday


def to_json(*, kept: Kept) -> Json:
    """The judgement and its facts as JSON."""
    writer = _Writer()
    status = kept.status
    body = {
        "facts": facts_json(kept.facts),
        "judged_on": status.judged_on.isoformat(),
        "next_change_on": iso(status.next_change_on),
        "measures": [writer.measure(one) for one in status.measures],
        "milestones": [_milestone_out(one) for one in status.milestones],
        "reasons": [_reason_out(one) for one in status.reasons],
    }
    return {**body, "readings": writer.readings}


def from_json(*, body: Json, measures: Mapping[str, Measure], protocol: Protocol) -> Kept:
    """What ``to_json`` wrote, with the catalogue and protocol that it was judged by.

    Raises ``KeyError`` for a measure or milestone that these do not have.
    """
    readings = [reading_in(row) for row in body["readings"]]
    milestones = {milestone.code: milestone for milestone in protocol.milestones}
    return Kept(
        facts=facts_in(body["facts"]),
        status=StatusToday(
            judged_on=date.fromisoformat(body["judged_on"]),
            next_change_on=day_in(body["next_change_on"]),
            measures=tuple(
                _measure_in(row, measures[row["code"]], readings) for row in body["measures"]
            ),
            milestones=tuple(
                _milestone_in(row, milestones[row["code"]]) for row in body["milestones"]
            ),
            reasons=tuple(_reason_in(row) for row in body["reasons"]),
        ),
    )


@dataclass(slots=True)
class _Writer:
    """Writes readings once each, in the order in which they are first named."""

    readings: list[Json] = field(default_factory=list)
    _places: dict[tuple[str, Limb, date, str, int], int] = field(default_factory=dict)

    def place(self, reading: Reading | None) -> int | None:
        """The place of a reading in the list; None for none."""
        if reading is None:
            return None
        mark = (reading.measure, reading.limb, reading.on, reading.key, reading.ref)
        if mark not in self._places:
            self._places[mark] = len(self.readings)
            self.readings.append(reading_json(reading))
        return self._places[mark]

    def measure(self, status: MeasureStatus) -> Json:
        """The status of one measure."""
        pair = status.pair
        return {
            "code": status.code,
            "left": self.place(status.left),
            "right": self.place(status.right),
            "whole": self.place(status.whole),
            "pair": pair and [self.place(pair.left), self.place(pair.right)],
            "symmetry": _symmetry_out(status.symmetry),
            "change_left": _change_out(status.change_left),
            "change_right": _change_out(status.change_right),
            "change_whole": _change_out(status.change_whole),
            "change_symmetry": _change_out(status.change_symmetry),
            "unworked": {limb.value: _why_out(why) for limb, why in status.unworked.items()},
        }


def _measure_in(row: Json, measure: Measure, readings: Sequence[Reading]) -> MeasureStatus:
    def at(place: int | None) -> Reading | None:
        return None if place is None else readings[place]

    pair = row["pair"] and _pair_in(measure, at(row["pair"][0]), at(row["pair"][1]))
    return MeasureStatus(
        code=row["code"],
        left=at(row["left"]),
        right=at(row["right"]),
        whole=at(row["whole"]),
        pair=pair,
        symmetry=_symmetry_in(row["symmetry"], measure, pair),
        change_left=_change_in(row["change_left"]),
        change_right=_change_in(row["change_right"]),
        change_whole=_change_in(row["change_whole"]),
        change_symmetry=_change_in(row["change_symmetry"]),
        unworked={
            Limb(limb): why
            for limb, text in row["unworked"].items()
            if (why := _why_in(text)) is not None
        },
    )


def _pair_in(measure: Measure, left: Reading | None, right: Reading | None) -> Pair:
    seen = left or right
    if seen is None:
        raise ValueError("a pair has at least one reading")
    return Pair(measure=measure.code, on=seen.on, key=seen.key, left=left, right=right)


def _symmetry_out(found: Symmetry | NotAssessable | None) -> Json | None:
    if found is None or isinstance(found, NotAssessable):
        return _why_out(found)
    return {"value": str(found.value), "sem": text_out(found.sem)}


def _symmetry_in(
    row: Json | None, measure: Measure, pair: Pair | None
) -> Symmetry | NotAssessable | None:
    if row is None or "why" in row or pair is None:
        return _why_in(row)
    return Symmetry(
        form=measure.symmetry, value=Fraction(row["value"]), sem=decimal_in(row["sem"]), pair=pair
    )


def _why_out(why: NotAssessable | None) -> Json | None:
    return None if why is None else {"why": why.why.value, "detail": why.detail}


def _why_in(row: Json | None) -> NotAssessable | None:
    return None if row is None else NotAssessable(why=Why(row["why"]), detail=row["detail"])


def _change_out(change: Change | None) -> Json | None:
    if change is None:
        return None
    return {
        "before": str(change.before),
        "after": str(change.after),
        "since": change.since.isoformat(),
        "real": change.real,
        "other_tester": change.other_tester,
    }


def _change_in(row: Json | None) -> Change | None:
    if row is None:
        return None
    return Change(
        before=Fraction(row["before"]),
        after=Fraction(row["after"]),
        since=date.fromisoformat(row["since"]),
        real=row["real"],
        other_tester=row["other_tester"],
    )


def _milestone_out(found: MilestoneResult) -> Json:
    return {
        "code": found.milestone.code,
        "state": found.state.value,
        "earliest": iso(found.earliest),
        "criteria": [criterion_json(one) for one in found.criteria],
        "blocked_by": [limit_json(one) for one in found.blocked_by],
        "unconfirmed": list(found.unconfirmed),
        "aside": found.aside and aside_json(found.aside),
    }


def _milestone_in(row: Json, milestone: Milestone) -> MilestoneResult:
    criteria = {criterion.code: criterion for criterion in milestone.criteria}
    return MilestoneResult(
        milestone=milestone,
        state=MilestoneState(row["state"]),
        earliest=day_in(row["earliest"]),
        criteria=tuple(
            CriterionResult(
                criterion=criteria[one["code"]],
                result=Result(one["result"]),
                threshold=Decimal(one["threshold"]),
                value=None if one["value"] is None else Fraction(one["value"]),
                on=day_in(one["on"]),
                margin=decimal_in(one["margin"]),
                why=_why_in(one["why"]),
                refs=tuple(one["refs"]),
                instead=_fallback_in(one["instead"]),
            )
            for one in row["criteria"]
        ),
        blocked_by=tuple(limit_in(one) for one in row["blocked_by"]),
        unconfirmed=tuple(row["unconfirmed"]),
        aside=aside_in(row["aside"]),
    )


def criterion_json(found: CriterionResult) -> Json:
    """A judged criterion as JSON."""
    return {
        "code": found.criterion.code,
        "result": found.result.value,
        "threshold": str(found.threshold),
        "value": text_out(found.value),
        "on": iso(found.on),
        "margin": text_out(found.margin),
        "why": _why_out(found.why),
        "refs": list(found.refs),
        "instead": found.instead and _fallback_out(found.instead),
    }


def _fallback_out(found: Fallback) -> Json:
    return {"reference": found.reference.value, "value": text_out(found.value), "unit": found.unit}


def _fallback_in(row: Json | None) -> Fallback | None:
    if row is None:
        return None
    value = None if row["value"] is None else Fraction(row["value"])
    return Fallback(reference=Reference(row["reference"]), value=value, unit=row["unit"])


def _reason_out(reason: Reason) -> Json:
    return {
        "code": reason.code,
        "rank": reason.rank,
        "size": str(reason.size),
        "since": reason.since.isoformat(),
        "facts": dict(reason.facts),
        "alarm": reason.alarm,
        "refs": list(reason.refs),
    }


def _reason_in(row: Json) -> Reason:
    return Reason(
        **{
            **row,
            "size": Decimal(row["size"]),
            "since": date.fromisoformat(row["since"]),
            "refs": tuple(row["refs"]),
        }
    )
