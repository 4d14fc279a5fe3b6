"""The plan of an episode: where the knee stands in each progression, since when and why."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cache, lru_cache
from typing import Final

from clinic import words
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.core.progressions import Dose, Level, Prescription, Progression, Span, Standing
from outcomes.core.step_words import dose_words
from outcomes.core.values import EpisodeFacts
from outcomes.models.plans import ANSWERS, REASONS, PlanStep
from outcomes.models.versions import ProgressionVersion
from outcomes.protocols.progression_seeds import progression_from, progression_seeds
from outcomes.queries.compute_steps import shipped
from outcomes.queries.judging import is_of_this_knee

ANSWER: Final[Mapping[str, str]] = dict(ANSWERS)
REASON: Final[Mapping[str, str]] = dict(REASONS)
NOT_BEGUN: Final = "not begun"
NOTHING_NOW: Final = "nothing of it now"


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanLine:
    """Where a knee stands in one progression, in words. ``level`` empty: nothing of it now.

    ``how`` and ``reason`` are the level's own text: what is done, and what for. ``version`` names
    the progression that all of it was planned by, and a newer one where there is one.
    """

    pk: int
    code: str
    label: str
    level: str
    exercise: str
    dose: str
    since: str
    why: str
    answered_on: date
    answer: str
    stepped_up: bool
    how: str = ""
    reason: str = ""
    version: str = ""

    @property
    def sentence(self) -> str:
        """The line of a letter: exercise, dose, since when."""
        return f"{self.label}: {self.exercise}, {self.dose}, since {self.since}"


def progressions() -> Mapping[str, Progression]:
    """The progressions in force, in the order of this house."""
    found = shipped()[1]
    return {code: found[code] for code in ORDER if code in found}


ORDER: Final = ("hip_control", "quadriceps_loading", "landing")


@cache
def mark_of(code: str) -> str:
    """The SHA-256 of a progression as it is in force: a proposal is kept with it."""
    for name, mapping in progression_seeds():
        if name == f"{code}.toml":
            return fingerprint(canonical_json(mapping))
    raise KeyError(code)


def progression_of(*, step: PlanStep) -> Progression:
    """The progression that a step was taken from, also after a newer version ships.

    A version that was never kept, from before versions were, is read as the one in force. One
    statement for a version that is not in force, and none once it was read.
    """
    found = progressions()[step.progression]
    if found.version == step.progression_version:
        return found
    try:
        return _older(step.progression, step.progression_version)
    except ProgressionVersion.DoesNotExist:
        return found


@lru_cache(maxsize=32)
def _older(code: str, version: int) -> Progression:
    """A version that was replaced. Its row is never changed, so it is built once."""
    row = ProgressionVersion.objects.get(code=code, version=version)
    return progression_from(json.loads(row.body), shipped()[0], where=str(row))


def plans_of(*, episode_ids: Collection[int]) -> dict[int, dict[str, PlanStep]]:
    """The step that stands in each progression of each episode. One statement."""
    found: dict[int, dict[str, PlanStep]] = {ident: {} for ident in episode_ids}
    rows = PlanStep.objects.filter(episode_id__in=episode_ids, superseded_by__isnull=True)
    for row in rows.select_related("answered_by").order_by("id"):
        found[row.episode_id][row.progression] = row
    return found


def of_this_knee(*, steps: Mapping[str, PlanStep], facts: EpisodeFacts) -> dict[str, PlanStep]:
    """The steps that speak of the knee as it is: a plan from before the operation has lapsed."""
    return {
        code: step
        for code, step in steps.items()
        if is_of_this_knee(decided_on=step.answered_on, facts=facts)
    }


def standing_of(*, progression: Progression, step: PlanStep | None, opened_on: date) -> Standing:
    """Where the knee stands; a progression that is not begun counts from the episode's opening.

    A level that is not among those of the progression in force counts as not begun.
    """
    if step is None or step.level not in {level.code for level in progression.levels}:
        return Standing(progression=progression, level="", since=opened_on)
    return Standing(
        progression=progression, level=step.level, since=step.since, at=without_zeros(step.at)
    )


def without_zeros(value: Decimal | None) -> Decimal | None:
    """A stored decimal as the core writes it: 20.00 is 20, 2.50 is 2.5.

    >>> without_zeros(Decimal("20.00")), without_zeros(Decimal("2.50"))
    (Decimal('20'), Decimal('2.5'))
    """
    if value is None:
        return None
    return value.quantize(Decimal(1)) if value == value.to_integral_value() else value.normalize()


def plan_lines(*, steps: Mapping[str, PlanStep]) -> Sequence[PlanLine]:
    """The plan in words, in the order of the progressions; what was paused is left in."""
    return [
        _line(steps[code], progression_of(step=steps[code]), newest=one.version)
        for code, one in progressions().items()
        if code in steps
    ]


def current_lines(*, steps: Mapping[str, PlanStep]) -> Sequence[PlanLine]:
    """What is really done now: without what is paused or was never begun."""
    return [line for line in plan_lines(steps=steps) if line.level]


def _line(step: PlanStep, progression: Progression, *, newest: int) -> PlanLine:
    level = level_of(progression=progression, code=step.level)
    return PlanLine(
        pk=step.pk,
        code=step.progression,
        label=progression.label,
        level=step.level if level else "",
        exercise=level.label if level else NOTHING_NOW,
        dose=step_dose_words(level=level, step=step) if level else "",
        since=words.day(step.since),
        why=_why(step),
        answered_on=step.answered_on,
        answer=step.answer,
        stepped_up=step.move == "progress",
        how=f"{level.exercise}. {level.how}" if level else "",
        reason=level.why if level else "",
        version=_version_words(progression, newest=newest),
    )


def _version_words(progression: Progression, *, newest: int) -> str:
    said = f"{progression.label}, version {progression.version}"
    if progression.version == newest:
        return said
    return f"{said}; version {newest} is in force and changes nothing of this plan"


def level_of(*, progression: Progression, code: str) -> Level | None:
    """A level by its code, or None."""
    return next((one for one in progression.levels if one.code == code), None)


def step_dose_words(*, level: Level, step: PlanStep) -> str:
    """The dose of the plan as it is said: the numbers that were kept, not the spans."""
    dose = Dose(
        sets=_one(step.sets),
        days_a_week=_one(step.days_a_week),
        reps=_one(step.reps) if step.reps else None,
        hold_s=_one(step.hold_s) if step.hold_s else None,
    )
    given = Prescription(
        sets=step.sets or 0,
        days_a_week=step.days_a_week or 0,
        reps=step.reps,
        hold_s=step.hold_s,
        load_kg=without_zeros(step.load_kg),
        at=without_zeros(step.at),
    )
    return dose_words(level=replace(level, dose=dose), dose=given)


def _one(count: int | None) -> Span:
    return Span(least=count or 0, most=count or 0)


def _why(step: PlanStep) -> str:
    """Who answered what, when, and the note."""
    said = ANSWER[step.answer]
    if step.answer == "declined":
        said = f"{step.proposed['headline'][:1].lower()}{step.proposed['headline'][1:]} declined: "
        said += REASON[step.decline_reason]
    note = f": {step.note}" if step.note else ""
    by = step.answered_by.full_name
    return f"{said[:1].upper()}{said[1:]} {words.day(step.answered_on)} by {by}{note}"
