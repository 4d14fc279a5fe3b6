"""Decisions: the evidence a decision rests on, as it stood, and decisions in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from clinic import words
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.core.dates import age_on
from outcomes.core.events import event_words, injuries
from outcomes.core.status import StatusToday
from outcomes.core.thresholds import ADULT
from outcomes.core.values import Event, MilestoneResult, Result
from outcomes.models.record import COURSES, Decision
from outcomes.queries.catalogue import InForce
from outcomes.queries.judging import Record
from outcomes.queries.kept import criterion_json
from outcomes.queries.milestone_words import MilestoneWords, milestone_words
from outcomes.queries.record_json import (
    aside_json,
    event_json,
    facts_json,
    limit_json,
    reading_json,
)

COURSE: Final[Mapping[str, str]] = dict(COURSES)
TOOK_PART: Final[Mapping[str, str]] = {
    "patient": "the patient",
    "surgeon": "the surgeon",
    "guardian": "a parent or guardian",
    "coach": "a coach",
    "doctor": "another doctor",
    "physiotherapist": "another physiotherapist",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Evidence:
    """What a decision on a milestone rests on today. ``mark`` is the SHA-256 of ``body``."""

    found: MilestoneResult
    says: MilestoneWords
    to_confirm: tuple[str, ...]
    last: bool
    child: bool
    body: dict[str, Any]

    @property
    def mark(self) -> str:
        """SHA-256 of the evidence in its one stored form."""
        return fingerprint(canonical_json(self.body))


def evidence_of(
    *, record: Record, status: StatusToday, rules: InForce, milestone: str
) -> Evidence | None:
    """The evidence for a milestone, or None when it is not among those of the goal."""
    found = next((one for one in status.milestones if one.milestone.code == milestone), None)
    if found is None:
        return None
    protocol = rules.protocols[record.protocol]
    readings = {reading.ref: reading for reading in record.readings}
    says = milestone_words(
        found=found,
        facts=record.facts,
        measures=rules.measures,
        protocol=protocol,
        readings=readings,
        on=status.judged_on,
    )
    return Evidence(
        found=found,
        says=says,
        to_confirm=record.visits.limits_to_confirm,
        last=status.milestones[-1] is found,
        child=age_on(birth_date=record.facts.birth_date, on=status.judged_on) < ADULT,
        body=_body(found=found, says=says, record=record, status=status, rules=rules),
    )


def _body(
    *,
    found: MilestoneResult,
    says: MilestoneWords,
    record: Record,
    status: StatusToday,
    rules: InForce,
) -> dict[str, Any]:
    refs = {ref for one in found.criteria for ref in one.refs}
    lines = {line.says.code: line.says for line in (*says.results, *says.beside)}
    return {
        "judged_on": status.judged_on.isoformat(),
        "protocol": record.protocol,
        "rules": rules.rules[record.protocol],
        "facts": facts_json(record.facts),
        "milestone": found.milestone.code,
        "label": found.milestone.label,
        "state": found.state.value,
        "headline": says.headline,
        "earliest": found.earliest.isoformat() if found.earliest else None,
        "aside": found.aside and aside_json(found.aside),
        "counts": says.counts,
        "results": [
            {
                **criterion_json(one),
                "hard": one.criterion.hard,
                "word": lines[one.criterion.code].word,
                "sentence": lines[one.criterion.code].sentence,
                "dated": lines[one.criterion.code].dated,
            }
            for one in found.criteria
        ],
        "readings": [reading_json(r) for r in record.readings if r.ref in refs],
        "limits": [limit_json(limit) for limit in record.restrictions],
        "limits_to_confirm": list(record.visits.limits_to_confirm),
        "events": [event_json(event) for event in record.events],
    }


@dataclass(frozen=True, kw_only=True, slots=True)
class EvidenceLine:
    """One criterion as it stood when the decision was made."""

    result: Result
    word: str
    sentence: str
    dated: str


@dataclass(frozen=True, kw_only=True, slots=True)
class DecisionWords:
    """A decision, ready to print; ``withdrawn`` says when, by whom and why, or is empty."""

    pk: int
    milestone: str
    label: str
    agreed: str
    course: str
    goes_ahead: bool
    by: str
    on: str
    judged_on: date
    took_part: str
    unmet: str
    why_unmet: str
    risk_discussed: str
    recheck: str
    headline: str
    counts: str
    evidence: tuple[EvidenceLine, ...]
    mark: str
    protocol: str
    withdrawn: str
    before_event: str

    @property
    def stands(self) -> bool:
        """Whether it was not withdrawn."""
        return not self.withdrawn


FIELDS: Final = (
    "episode_id", "pk", "milestone", "course", "agreed", "took_part", "why_unmet",
    "risk_discussed", "recheck_on", "evidence", "evidence_sha256", "decided_at",
    "decided_by__full_name", "protocol_version__code", "protocol_version__version",
    "superseded_by__decided_at", "superseded_by__decided_by__full_name", "superseded_by__reason",
)  # fmt: skip


def decisions_of(
    *, events: Mapping[int, Sequence[Event]], zone: str
) -> dict[int, list[DecisionWords]]:
    """The decisions of each episode, newest first, withdrawn ones with why. One statement.

    ``events`` are those of each episode that is asked for: a later injury marks a decision.
    """
    rows = Decision.objects.filter(episode_id__in=list(events), kind="made").order_by("-id")
    found: dict[int, list[DecisionWords]] = {ident: [] for ident in events}
    for row in rows.values(*FIELDS):
        found[row["episode_id"]].append(_words(row, zone=zone, events=events[row["episode_id"]]))
    return found


def _words(row: Mapping[str, Any], *, zone: str, events: Sequence[Event]) -> DecisionWords:
    evidence = row["evidence"]
    recheck = row["recheck_on"]
    return DecisionWords(
        pk=row["pk"],
        milestone=row["milestone"],
        label=evidence["label"],
        agreed=row["agreed"],
        course=COURSE[row["course"]],
        goes_ahead=row["course"] == "goes_ahead",
        by=row["decided_by__full_name"],
        on=_day(row["decided_at"], zone=zone),
        judged_on=date.fromisoformat(evidence["judged_on"]),
        took_part=words.listed([TOOK_PART.get(code, code) for code in row["took_part"]]),
        unmet=_unmet(evidence=evidence),
        why_unmet=row["why_unmet"],
        risk_discussed=row["risk_discussed"],
        recheck=words.day(recheck) if recheck else "",
        headline=evidence["headline"],
        counts=evidence["counts"],
        evidence=tuple(
            EvidenceLine(
                result=Result(one["result"]),
                word=one["word"],
                sentence=one["sentence"],
                dated=one["dated"],
            )
            for one in evidence["results"]
        ),
        mark=row["evidence_sha256"],
        protocol=f"{row['protocol_version__code']}@{row['protocol_version__version']}",
        withdrawn=_withdrawn(row, zone=zone),
        before_event=made_before(evidence=evidence, events=events),
    )


def made_before(*, evidence: Mapping[str, Any], events: Sequence[Event]) -> str:
    """The mark of a decision that a later injury came after; empty without one.

    An injury of the same day came after it unless the decision's own evidence holds it.
    """
    judged_on = date.fromisoformat(evidence["judged_on"])
    known = {one["ref"] for one in evidence.get("events", ())}
    for one in injuries(events=events):
        if one.on > judged_on or (one.on == judged_on and one.ref not in known):
            return f"made before the event of {words.day(one.on)} ({event_words(event=one)})"
    return ""


def _unmet(*, evidence: Mapping[str, Any]) -> str:
    """The criteria that counted and were not met, each with its result; empty when all were."""
    return "; ".join(
        f"{one['sentence'].rstrip('.')} ({one['word'].lower()})"
        for one in evidence["results"]
        if one["hard"] and Result(one["result"]).truth is not True
    )


def _day(moment: datetime, *, zone: str) -> str:
    return words.day(moment.astimezone(ZoneInfo(zone)).date())


def _withdrawn(row: Mapping[str, Any], *, zone: str) -> str:
    moment = row["superseded_by__decided_at"]
    if moment is None:
        return ""
    by, reason = row["superseded_by__decided_by__full_name"], row["superseded_by__reason"]
    return f"Withdrawn {_day(moment, zone=zone)} by {by}: {reason}"
