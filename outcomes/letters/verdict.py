"""The bottom line that the record itself suggests, by one simple rule, and what it rests on.

The rule is a setting of this house, no published norm: it names what needs the surgeon, what set
the knee back, and what is not met well after its earliest date. The clinician words the letter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from clinic import words
from outcomes.core.dates import weeks_since
from outcomes.core.sentences import sentence_of
from outcomes.core.values import EpisodeFacts, MilestoneResult, MilestoneState, Reason, Result
from outcomes.queries.milestone_words import count_words

TELL_FROM: Final = 60
"""The rank from which a reason to look is told to the surgeon (house setting)."""
DUTIES: Final = (
    "limits_not_confirmed", "limit_ends", "no_visit", "unsigned_visit", "late_typing",
    "late_red_flag", "no_baseline",
)  # fmt: skip
"""Reasons that ask something of the staff and say nothing of the knee."""
SETBACKS: Final = (
    "quadriceps_setback", "quadriceps_fall", "effusion_hold_impact", "pain_rising",
    "front_of_knee_pain",
)  # fmt: skip
LATE_AFTER: Final = timedelta(weeks=4)
"""How long past its earliest date a criterion that is not met counts as slow (house setting)."""
TO_STAFF: Final = ("extension_short_", "effusion_", "flexion_low", "event_")
"""Reasons whose sentence ends with what the clinician should do."""
RULE: Final = (
    "How the record words its first line (this clinic’s setting, no published norm): concern, a "
    "finding that the surgeon should hear of; slower, a setback in strength, effusion or pain, or "
    "a criterion not met four weeks after its earliest date; as usual, neither, with half of the "
    "criteria tested."
)
MANY: Final = {"finding for concern": "findings for concern", "setback": "setbacks"}
INFECTION: Final = "infection_signs"


class Kind(StrEnum):
    """What the record suggests. ``NO_WEEK``: there is no usual course to compare with."""

    CONCERN = "concern"
    SLOWER = "slower"
    USUAL = "usual"
    TOO_LITTLE = "too_little"
    NO_WEEK = "no_week"


@dataclass(frozen=True, kw_only=True, slots=True)
class Verdict:
    """The suggested bottom line. ``rests_on`` is printed under it; ``code`` is the first reason."""

    kind: Kind
    line: str
    rests_on: str
    code: str = ""


def verdict(
    *,
    facts: EpisodeFacts,
    reasons: Sequence[Reason],
    milestones: Sequence[MilestoneResult],
    week: str,
    on: date,
) -> Verdict:
    """The bottom line for a day; ``week`` says in words where the episode stands."""
    tell = [r for r in reasons if r.rank >= TELL_FROM and r.code not in DUTIES]
    if tell:
        return _of_reasons(Kind.CONCERN, "Concern", "finding for concern", tell)
    setbacks = [r for r in reasons if r.code in SETBACKS]
    number = weeks_since(index_date=facts.index_date, on=on)
    if number is None or facts.kind == "without_surgery":
        return _without_week(week=week, setbacks=setbacks)
    slow = f"Slower than usual for week {number}"
    if setbacks:
        return _of_reasons(Kind.SLOWER, slow, "setback", setbacks)
    late = _late(milestones=milestones, on=on)
    if late:
        line = f"{slow}: not met four weeks after its earliest date: {late[0]}."
        return Verdict(kind=Kind.SLOWER, line=line, rests_on=f"not met: {'; '.join(late)}.")
    due = _due(milestones=milestones, on=on)
    counts = f"{due.milestone.label}: {count_words(found=due)}"
    if _too_little(due):
        line = f"Week {number}: too little tested to say whether this is as usual."
        return Verdict(kind=Kind.TOO_LITTLE, line=line, rests_on=counts)
    return Verdict(
        kind=Kind.USUAL,
        line=f"As usual for week {number}.",
        rests_on=f"no finding for concern, no setback, nothing late. {counts}",
    )


def told(*, reason: Reason) -> str:
    """The sentence of a reason without what it asks of the clinician."""
    sentence = sentence_of(reason=reason)
    if reason.code == INFECTION:
        return sentence.partition(", assess")[0]
    return sentence.partition(":")[0] if reason.code.startswith(TO_STAFF) else sentence


def _of_reasons(kind: Kind, opening: str, what: str, reasons: Sequence[Reason]) -> Verdict:
    first, *rest = (told(reason=reason) for reason in reasons)
    count = f"{words.several(len(reasons), what, MANY[what])}, the one above"
    return Verdict(
        kind=kind,
        line=f"{opening}: {first[:1].lower()}{first[1:]}.",
        rests_on=f"{count}{'; also: ' if rest else ''}{'; '.join(rest)}.",
        code=reasons[0].code,
    )


def _without_week(*, week: str, setbacks: Sequence[Reason]) -> Verdict:
    opening = f"{week[:1].upper()}{week[1:]}"
    if setbacks:
        opening = f"{opening}, needs a look"
        return _of_reasons(Kind.NO_WEEK, opening, "setback", setbacks)
    line = f"{opening}: no finding for concern."
    rests_on = "no finding for concern, no setback. There is no usual course to compare with."
    return Verdict(kind=Kind.NO_WEEK, line=line, rests_on=rests_on)


def _late(*, milestones: Sequence[MilestoneResult], on: date) -> list[str]:
    """Criteria that count and are not met four weeks after the earliest date of their milestone."""
    return [
        f"{found.criterion.label} ({milestone.milestone.label.lower()})"
        for milestone in milestones
        if milestone.earliest is not None and milestone.earliest + LATE_AFTER <= on
        if milestone.state is not MilestoneState.BLOCKED
        for found in milestone.criteria
        if found.criterion.hard and found.result is Result.NOT_MET
    ]


def _due(*, milestones: Sequence[MilestoneResult], on: date) -> MilestoneResult:
    """The last milestone whose earliest date has come, else the first one."""
    come = [one for one in milestones if one.earliest is not None and one.earliest <= on]
    return come[-1] if come else milestones[0]


def _too_little(milestone: MilestoneResult) -> bool:
    hard = [found.result.truth for found in milestone.criteria if found.criterion.hard]
    return 2 * sum(truth is not None for truth in hard) < len(hard)
