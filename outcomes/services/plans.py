"""The plan of a progression: an answer to a proposal, or a level that a clinician sets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock, words
from clinic.http import Conflict
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.permissions import Action, Actor
from clinic.services import acts, rules
from outcomes.core.progressions import Level, Progression, Variable, rounded_to_half
from outcomes.core.quantities import plain
from outcomes.core.step_places import prescription
from outcomes.models.plans import PlanStep
from outcomes.queries.milestone_words import until_words
from outcomes.queries.next_steps import Gathered, gather, proposals_of
from outcomes.queries.plan import level_of, progression_of, progressions, without_zeros
from outcomes.queries.proposal_words import ProposalWords, dose_json

CHANGED: Final = (
    "The record or the plan changed since this page was opened. Open the page afresh and look at "
    "it again."
)
Dose = dict[str, Any]
"""The columns of a dose: sets, reps, hold_s, load_kg, days_a_week, at."""
NO_DOSE: Final[Mapping[str, Any]] = dict.fromkeys(
    ("sets", "reps", "hold_s", "load_kg", "days_a_week", "at")
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Given:
    """What a clinician answered. ``plan`` is the step that the page showed, 0 for none.

    ``level`` and the dose count where the plan is changed or set; what is None is taken from the
    progression. ``count`` are repetitions, or seconds where the level is held.
    """

    progression: str
    answer: str
    reason: str
    plan: int
    level: str
    sets: int | None
    count: int | None
    load_kg: Decimal | None
    at: Decimal | None
    days_a_week: int | None
    note: str


def answer(*, actor: Actor, key: UUID, episode: Episode, seen: str, given: Given) -> str:
    """Keep an answer as the plan's next step; returns the address of the next steps.

    ``seen`` is the mark of the proposal that was seen. Raises ``Conflict`` when the proposal or
    the plan is another by now, and ``Refused`` for a level that a surgeon's limit blocks.
    """

    def do() -> str:
        fresh = Episode.objects.select_related("patient", "site").get(pk=episode.pk)
        gathered = gather(episode=fresh)
        proposal = _proposal(gathered, given, seen)
        row = _row(gathered, given, proposal)
        rules.refuse_if(_errors(gathered, given, row))
        row.answered_at, row.answered_by_id = clock.now(), actor.staff_id
        row.save(force_insert=True)
        audit.write(
            actor=actor,
            act=Action.SET_PLAN.value,
            subject="plan_step",
            subject_ids=[row.pk],
            note=f"{row.progression} {row.answer} {row.move}",
        )
        return reverse("next_step", args=[fresh.uid])

    body = {"act": "answer_proposal", "episode": episode.pk, "seen": seen, **asdict(given)}
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def _proposal(gathered: Gathered, given: Given, seen: str) -> ProposalWords | None:
    """The proposal that is answered; None where a level is set by hand."""
    if given.progression not in progressions():
        raise rules.Refused({"": "There is no such progression. Open the page afresh."})
    step = gathered.steps.get(given.progression)
    if given.plan != (step.pk if step else 0):
        raise Conflict(CHANGED)
    if given.answer == "set":
        return None
    found = proposals_of(gathered=gathered).get(given.progression)
    if found is None or found.mark != seen:
        raise Conflict(CHANGED)
    return found


def _row(gathered: Gathered, given: Given, proposal: ProposalWords | None) -> PlanStep:
    """The step as it would be kept, without who and when."""
    progression = progressions()[given.progression]
    before = gathered.steps.get(given.progression)
    level, dose = _level_and_dose(progression, given, proposal, before)
    same = before is not None and (before.level, without_zeros(before.at)) == (level, dose["at"])
    return PlanStep(
        episode=gathered.episode,
        progression=progression.code,
        progression_version=_version(progression, given, before),
        level=level,
        **dose,
        since=before.since if same and before else gathered.on,
        proposed=proposal.body if proposal else {},
        proposed_sha256=proposal.mark if proposal else "",
        answer=given.answer,
        move=_move(progression, given, before, level, dose["at"]),
        decline_reason=given.reason,
        note=given.note.strip(),
        answered_on=gathered.on,
        supersedes=gathered.newest.get(given.progression),
    )


def _version(progression: Progression, given: Given, before: PlanStep | None) -> int:
    """The version in force; a plan that is left as it was keeps the one it was made by."""
    kept = before is not None and bool(before.level) and given.answer == "declined"
    return before.progression_version if before and kept else progression.version


def _level_and_dose(
    progression: Progression, given: Given, proposal: ProposalWords | None, before: PlanStep | None
) -> tuple[str, Dose]:
    """Where the knee stands after the answer: as proposed, as typed, or as before."""
    if given.answer == "declined" or (given.answer == "accepted" and proposal is None):
        return (before.level, _kept(before)) if before else ("", {**NO_DOSE})
    if given.answer == "accepted" and proposal is not None:
        return proposal.level, _accepted(proposal, before)
    level = level_of(progression=progression, code=given.level)
    return (level.code, _typed(level, given)) if level else ("", {**NO_DOSE})


def _kept(step: PlanStep) -> Dose:
    """The dose of the plan as it is."""
    found = {name: getattr(step, name) for name in NO_DOSE}
    return {**found, "at": without_zeros(step.at)}


def _accepted(proposal: ProposalWords, before: PlanStep | None) -> Dose:
    """The dose that was proposed. Within one level only the one thing that was proposed changes."""
    if proposal.given is None:
        return {**NO_DOSE}
    found: Dose = {**dose_json(proposal.given)}
    found["load_kg"], found["at"] = proposal.given.load_kg, proposal.given.at
    if before is not None and before.level == proposal.level:
        found |= {name: getattr(before, name) for name in ("sets", "reps", "hold_s", "days_a_week")}
    return found


def _typed(level: Level, given: Given) -> Dose:
    """The dose that was typed; what is blank is that of the progression, at its first step."""
    loaded = level.steps is not None and level.steps.variable is Variable.LOAD
    at = given.load_kg if loaded else given.at if level.steps else None
    if level.steps is not None and not loaded and at is None:
        at = level.steps.first
    own = prescription(level=level, at=at)
    load = own.load_kg if given.load_kg is None else rounded_to_half(
        kilograms=Fraction(given.load_kg)
    )  # fmt: skip
    held = own.hold_s is not None
    return {
        "sets": given.sets or own.sets,
        "reps": None if held else given.count or own.reps,
        "hold_s": (given.count or own.hold_s) if held else None,
        "load_kg": load,
        "days_a_week": given.days_a_week or own.days_a_week,
        "at": load if loaded else at,
    }


def _move(
    progression: Progression,
    given: Given,
    before: PlanStep | None,
    level: str,
    at: Decimal | None,
) -> str:
    """What the answer does to the plan before. To begin counts as a step up where it was proposed,
    and as the record of where the knee stands already where a clinician sets it."""
    was = before.level if before else ""
    if not was and level:
        return "begun" if given.answer == "set" else "progress"
    if was == level:
        old = without_zeros(before.at) if before else None
        if old is None or at is None or old == at:
            return "stay"
        return "progress" if at > old else "regress"
    if not level:
        return "regress"
    codes = [one.code for one in progression.levels]
    return "progress" if was in codes and codes.index(level) > codes.index(was) else "regress"


def _errors(gathered: Gathered, given: Given, row: PlanStep) -> rules.Errors:
    """What beats an answer: care that has ended, a surgeon's limit, limits nobody confirmed."""
    if gathered.episode.care_state not in OPEN_CARE_STATES:
        return {"": "This episode has ended: take care up again first."}
    if given.answer == "declined" and not given.reason:
        return {"": "Say why it is declined."}
    level = level_of(progression=progression_of(step=row), code=row.level)
    if level is None:
        return {}
    held = _held(gathered, level, row.move)
    return {"": held} if held else _step_errors(level, row.at)


def _held(gathered: Gathered, level: Level, move: str) -> str:
    """The limit that blocks a level, in a sentence that says what to do; empty for none."""
    found = [
        f"{one.limit or one.kind.replace('_', ' ')}, {until_words(one.until, on=gathered.on)}"
        for one in gathered.record.restrictions
        if one.kind in level.blocked_by and one.in_force(on=gathered.on)
    ]
    if found:
        return (
            f"The surgeon's limit holds: {words.listed(found)}. Choose a level that it does not "
            "block or none, or record the surgeon's new instruction first."
        )
    asking = [
        one.words
        for one in gathered.record.visits.unconfirmed
        if not set(one.kinds).isdisjoint(level.blocked_by)
    ]
    if asking and move in ("progress", "begun"):
        named = words.listed(asking)
        return f"Surgeon's limits not confirmed ({named}): ask, and record the answer first."
    return ""


def _step_errors(level: Level, at: Decimal | None) -> rules.Errors:
    """A height or a share that the level does not have."""
    steps = level.steps
    if steps is None or steps.variable is Variable.LOAD or at is None:
        return {}
    if steps.first <= at <= steps.last:
        return {}
    first, last = plain(value=steps.first), plain(value=steps.last)
    return {"at": f"This level goes from {first} to {last}."}
