"""A proposal in words, and as the JSON that is kept with its answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from clinic.models import care
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.core.progressions import (
    Effect,
    Level,
    Move,
    Prescription,
    Proposal,
    Standing,
    StepReason,
    Variable,
)
from outcomes.core.quantities import plain
from outcomes.core.step_sources import sources_of
from outcomes.core.step_words import VARIABLES, dose_words, reason_words
from outcomes.core.values import Reading, Restriction, Unconfirmed
from outcomes.models.plans import PlanStep
from outcomes.queries.catalogue import InForce
from outcomes.queries.judging import Record
from outcomes.queries.numbers import number_address
from outcomes.queries.opened import MARK, source_lines
from outcomes.queries.plan import level_of, mark_of
from outcomes.queries.record_json import facts_json, limit_json, reading_json
from outcomes.queries.trends import CODE

Json = dict[str, Any]
CHANGES: Final = ("one_step_up", "step_down")
"""Rules that say what changes: their sentence stands under the headline."""
LIMITS: Final = ("surgeons_limit", "limits_not_confirmed")
NO_READINGS: Final = ("surgeons_limit", "giving_way", "ask_the_surgeon", "operated_since")
"""Rules whose ``refs`` are no readings."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Ground:
    """What one proposal was made from. ``readings`` are all of the patient, by their ids."""

    standing: Standing
    step: PlanStep | None
    episode: care.Episode
    record: Record
    rules: InForce
    readings: Mapping[int, Reading]
    on: date


@dataclass(frozen=True, kw_only=True, slots=True)
class ReasonLine:
    """One reason: its sentence, where its number opens, what its rule rests on."""

    sentence: str
    opens: str
    sources: Sequence[str]
    decides: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class ProposalWords:
    """What is proposed of one progression, ready to print. ``body`` is kept with the answer.

    ``supported`` says how well the exercise and its dose are supported.
    """

    code: str
    move: str
    headline: str
    change: str
    level: str
    exercise: str
    how: str
    dose: str
    given: Prescription | None
    effort: str
    days_off: int
    reasons_for: Sequence[ReasonLine]
    reasons_against: Sequence[ReasonLine]
    limits: Sequence[str]
    supported: str
    body: Json

    @property
    def mark(self) -> str:
        """SHA-256 of the proposal in its one stored form."""
        return fingerprint(canonical_json(self.body))

    @property
    def nothing(self) -> bool:
        """Whether it is to leave a progression alone that is not begun."""
        return not self.level


def proposal_words(*, proposal: Proposal, ground: Ground) -> ProposalWords:
    """The proposal in words, with what it rests on frozen beside it."""
    level = level_of(progression=ground.standing.progression, code=proposal.level)
    headline = _headline(proposal, level, ground)
    both = (*proposal.reasons_for, *proposal.reasons_against)
    return ProposalWords(
        code=proposal.progression,
        move=proposal.move.value,
        headline=headline,
        change=next((_said(one, ground) for one in both if one.rule in CHANGES), ""),
        level=proposal.level,
        exercise=level.exercise if level else "",
        how=level.how if level else "",
        dose=_dose_words(level, proposal.dose),
        given=proposal.dose,
        effort=proposal.dose.effort if proposal.dose else "",
        days_off=proposal.days_off,
        reasons_for=_lines(proposal.reasons_for, proposal, ground),
        reasons_against=_lines(proposal.reasons_against, proposal, ground),
        limits=[_said(one, ground) for one in both if one.rule in LIMITS],
        supported=MARK[level.sources[0].mark] if level else "",
        body=_body(proposal=proposal, headline=headline, level=level, ground=ground),
    )


def _headline(proposal: Proposal, level: Level | None, ground: Ground) -> str:
    """The proposal in one line: "Progress: load 3 kg", "Stay: Side plank", "Not yet"."""
    if level is None:
        return "Stay: not to be begun yet"
    said = level.label
    if proposal.variable not in (None, Variable.EXERCISE) and proposal.dose is not None:
        name, unit = VARIABLES[str(proposal.variable)]
        at = "" if proposal.dose.at is None else f" {plain(value=proposal.dose.at)}{unit}"
        said = f"{level.label}, {name.lower()}{at}"
    if proposal.move is Move.PROGRESS and not ground.standing.level:
        return f"Progress, begin with: {said}"
    return f"{proposal.move.value.capitalize()}: {said}"


def _dose_words(level: Level | None, dose: Prescription | None) -> str:
    return "" if level is None or dose is None else dose_words(level=level, dose=dose)


def _said(reason: StepReason, ground: Ground) -> str:
    return reason_words(reason=reason, catalogue=ground.rules.measures)


def _lines(
    reasons: Sequence[StepReason], proposal: Proposal, ground: Ground
) -> Sequence[ReasonLine]:
    return [_line(one, proposal, ground) for one in reasons if one.rule not in CHANGES]


def _line(reason: StepReason, proposal: Proposal, ground: Ground) -> ReasonLine:
    found = sources_of(
        reason=reason,
        progression=ground.standing.progression,
        level=proposal.level,
        here=ground.standing.level,
    )
    measure, read = reason.facts.get("measure", ""), "value" in reason.facts
    opens = number_address(episode=ground.episode).replace(CODE, measure) if read else ""
    return ReasonLine(
        sentence=_said(reason, ground),
        opens=opens,
        sources=source_lines(sources=found),
        decides=reason.effect in (Effect.HOLDS, Effect.TAKES_BACK),
    )


def _body(*, proposal: Proposal, headline: str, level: Level | None, ground: Ground) -> Json:
    """The proposal as it is kept: what was proposed, from what, by which rules."""
    progression = ground.standing.progression
    both = (*proposal.reasons_for, *proposal.reasons_against)
    refs = {ref for one in both if one.rule not in NO_READINGS for ref in one.refs}
    return {
        "judged_on": ground.on.isoformat(),
        "progression": f"{progression.code}@{progression.version}",
        "progression_sha256": mark_of(progression.code),
        "rules": ground.rules.rules[ground.record.protocol],
        "facts": facts_json(ground.record.facts),
        "before": _before(ground),
        "move": proposal.move.value,
        "headline": headline,
        "level": proposal.level,
        "label": level.label if level else "",
        "variable": proposal.variable.value if proposal.variable else None,
        "dose": dose_json(proposal.dose) if proposal.dose else None,
        "dose_words": _dose_words(level, proposal.dose),
        "days_off": proposal.days_off,
        "reasons_for": [_reason(one, ground) for one in proposal.reasons_for],
        "reasons_against": [_reason(one, ground) for one in proposal.reasons_against],
        "blocked_by": [
            limit_json(one) for one in proposal.blocked_by if isinstance(one, Restriction)
        ],
        "unconfirmed": [one.words for one in proposal.blocked_by if isinstance(one, Unconfirmed)],
        "readings": [
            reading_json(ground.readings[ref]) for ref in sorted(refs & {*ground.readings})
        ],
    }


def _before(ground: Ground) -> Json:
    at = ground.standing.at
    return {
        "plan_step": ground.step.pk if ground.step else None,
        "level": ground.standing.level,
        "at": None if at is None else plain(value=at),
        "since": ground.standing.since.isoformat(),
    }


def dose_json(dose: Prescription) -> Json:
    """A dose as JSON, decimals as exact texts."""
    return {
        "sets": dose.sets,
        "reps": dose.reps,
        "hold_s": dose.hold_s,
        "load_kg": _text(dose.load_kg),
        "days_a_week": dose.days_a_week,
        "at": _text(dose.at),
    }


def _text(value: Decimal | None) -> str | None:
    return None if value is None else plain(value=value)


def _reason(reason: StepReason, ground: Ground) -> Json:
    return {
        "rule": reason.rule,
        "effect": reason.effect.value,
        "facts": dict(reason.facts),
        "refs": list(reason.refs),
        "sentence": _said(reason, ground),
    }
