"""Why the pelvis might drop: each explanation with what was found, and the test that tells more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from clinic import words
from outcomes.core.drop_explained import MIGHT_BE, NEXT, NO_DIAGNOSIS, found_words, not_known_words
from outcomes.core.drop_record import Finding
from outcomes.core.grades import kept_by
from outcomes.core.history import History
from outcomes.core.values import Limb, Reading
from outcomes.core.why_drop import TASKS, Explanation, why_drop
from outcomes.core.wording import conditions_words, finding_words
from outcomes.queries.next_steps import Gathered
from outcomes.queries.numbers import number_address
from outcomes.queries.opened import source_lines
from outcomes.queries.trends import CODE


@dataclass(frozen=True, kw_only=True, slots=True)
class FoundLine:
    """One finding; ``opens`` leads to its number, empty for what was seen."""

    said: str
    opens: str


@dataclass(frozen=True, kw_only=True, slots=True)
class ExplanationWords:
    """One way to explain the drop, never the cause."""

    might_be: str
    supports: Sequence[FoundLine]
    against: Sequence[FoundLine]
    not_known: str
    test: str
    sources: Sequence[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class DropWords:
    """A graded drop and its explanations, in one fixed order."""

    seen: str
    no_diagnosis: str
    explanations: Sequence[ExplanationWords]


def drops_of(*, gathered: Gathered) -> Sequence[DropWords]:
    """The newest drop of each heel touch standing on the followed knee. No statement."""
    found = [_drop(gathered, code) for code in TASKS]
    return [one for one in found if one is not None]


def _drop(gathered: Gathered, code: str) -> DropWords | None:
    record, measure = gathered.record, gathered.rules.measures[code]
    reading = _newest(gathered, code)
    if reading is None or reading.value is None:
        return None
    explanations = why_drop(
        reading=reading,
        facts=record.facts,
        catalogue=gathered.rules.measures,
        readings=record.readings,
        on=gathered.on,
    )
    if not explanations:
        return None
    how = conditions_words(measure=measure, key=reading.key)
    said = finding_words(
        measure=measure,
        standing=reading.limb,
        grade=measure.word(value=reading.value),
        trick=kept_by(measure=measure, reading=reading),
    )
    name = ", ".join(part for part in (measure.short_label, how) if part)
    day = words.day(reading.on)
    return DropWords(
        seen=f"{name}, {day}: {said}",
        no_diagnosis=NO_DIAGNOSIS,
        explanations=[_explained(one, gathered) for one in explanations],
    )


def _newest(gathered: Gathered, code: str) -> Reading | None:
    """The newest grade of the followed knee that is not out of date."""
    record, measures = gathered.record, gathered.rules.measures
    history = History(
        facts=record.facts, catalogue=measures, readings=record.readings, on=gathered.on
    )
    age = measures[code].maximum_age_days
    oldest = gathered.on - timedelta(days=age) if age is not None else None
    found = history.valued(code=code, limb=Limb(record.facts.knee))
    return next((one for one in found if oldest is None or one.on >= oldest), None)


MEASURED = {
    "abduction_less": "hip_abduction_force",
    "abduction_even": "hip_abduction_force",
    "quadriceps_less": "quadriceps_torque",
    "quadriceps_even": "quadriceps_torque",
    "ankle_short": "ankle_dorsiflexion",
    "ankle_alike": "ankle_dorsiflexion",
    "legs_unequal": "leg_length",
    "legs_alike": "leg_length",
    "step_high": "height",
}
"""Findings that are worked out, and the measure whose page opens them."""


def _explained(one: Explanation, gathered: Gathered) -> ExplanationWords:
    return ExplanationWords(
        might_be=MIGHT_BE[one.code],
        supports=[_line(finding, gathered) for finding in one.supports],
        against=[_line(finding, gathered) for finding in one.against],
        not_known=", ".join(not_known_words(code=code) for code in one.not_known),
        test=NEXT[one.test],
        sources=source_lines(sources=one.sources),
    )


def _line(finding: Finding, gathered: Gathered) -> FoundLine:
    measure = MEASURED.get(finding.code)
    address = number_address(episode=gathered.episode)
    return FoundLine(
        said=found_words(finding=finding),
        opens=address.replace(CODE, measure) if measure else "",
    )
