"""Confirming the limits after a procedure, and setting the earliest date of a milestone aside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from uuid import UUID

from django.urls import reverse

from clinic import clock, words
from clinic.http import Unprocessable
from clinic.models.care import Episode
from clinic.permissions import Actor
from clinic.services import acts, care, rules, taking_back
from clinic.services.details import Instruction
from outcomes.core.values import EpisodeFacts, MilestoneResult
from outcomes.queries.catalogue import in_force
from outcomes.queries.confirming import Asking, Line, UsualLimit, asking_of
from outcomes.queries.judging import judge_record, records_of
from outcomes.services import status


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What the surgeon said of one procedure: the limits that hold, or none; who told it, when."""

    procedure: str
    lines: tuple[Line, ...]
    told_by: str
    told_on: date


def confirm(*, actor: Actor, key: UUID, episode: Episode, seen: int, said: Answer) -> str:
    """Keep the limits of one procedure; what it held is held no longer than these say.

    A limit that stands as it is usual keeps its origin; one that was changed is the surgeon's own.
    Answers with the address of the limits to confirm. Raises ``Refused`` with a sentence for each
    field, and ``Conflict`` when the episode has changed since the page was opened.
    """

    def do() -> str:
        fresh = Episode.objects.select_related("patient", "site").get(pk=episode.pk)
        asking = next(
            (one for one in asking_of(episode=fresh) if one.procedure == said.procedure), None
        )
        if asking is None:
            raise rules.Refused({"": "These limits are confirmed already. Open the page afresh."})
        rules.refuse_if(_errors(asking, said, today=clock.today(fresh.site)))
        rows = _instructions(asking, said)
        care.keep_limits(actor=actor, episode=fresh, act="confirm_limits", said=rows, seen=seen)
        status.rebuild(episode_ids=[fresh.pk])
        return reverse("confirm_limits", args=[fresh.uid])

    body = {"act": "confirm_limits", "episode": episode.pk, "seen": seen, **asdict(said)}
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def _errors(asking: Asking, said: Answer, *, today: date) -> rules.Errors:
    errors: rules.Errors = care.told_errors(told_on=said.told_on, today=today)
    for line in said.lines:
        if asking.done_on and line.since < asking.done_on:
            done = words.day(asking.done_on)
            errors[f"since-{line.number}"] = f"It was done on {done}: a limit begins then or later."
        if line.until and line.until < line.since:
            errors[f"until-{line.number}"] = "The last day lies before the first."
    return errors


def _instructions(asking: Asking, said: Answer) -> Sequence[Instruction]:
    none = Instruction(
        kind="none",
        limit="no limit",
        since=asking.done_on or said.told_on,
        until=None,
        procedure=said.procedure,
        told_by=said.told_by,
        told_on=said.told_on,
    )
    rows = [
        replace(
            none,
            kind=line.kind,
            limit=line.limit,
            since=line.since,
            until=line.until,
            origin="template" if _is_usual(asking.lines[line.number], line) else "surgeon",
        )
        for line in said.lines
    ]
    return rows or [none]


def _is_usual(usual: UsualLimit, line: Line) -> bool:
    """Whether a limit stands as it is usual, words and days."""
    as_usual = (usual.kind, usual.limit, usual.since, usual.until)
    return usual.usual and as_usual == (line.kind, line.limit, line.since, line.until)


def gate_today(*, episode: Episode, milestone: str) -> tuple[MilestoneResult, EpisodeFacts]:
    """A milestone as it stands on the episode's local today.

    Raises ``Unprocessable`` for one that is not among those of the goal.
    """
    rules_now = in_force()
    record = records_of(episodes=[episode], rules=rules_now)[episode.pk]
    judged = judge_record(record=record, rules=rules_now, on=clock.today(episode.site))
    for found in judged.milestones:
        if found.milestone.code == milestone:
            return found, record.facts
    raise Unprocessable("This milestone is not among those of the patient's goal.")


def set_gate_aside(
    *, actor: Actor, key: UUID, episode: Episode, seen: int, milestone: str, reason: str
) -> str:
    """Set the earliest date of a milestone aside from today on, with the clinician's reason.

    Criteria and the surgeon's limits count as before. Raises ``Refused`` and ``Conflict``.
    """

    def do() -> str:
        fresh = Episode.objects.select_related("patient", "site").get(pk=episode.pk)
        found, facts = gate_today(episode=fresh, milestone=milestone)
        today = clock.today(fresh.site)
        rules.refuse_if(_gate_errors(found, facts, reason, today))
        said = Instruction(
            kind="set_aside",
            limit=reason,
            since=today,
            until=None,
            told_by="",
            origin="clinician",
            milestone=milestone,
        )
        care.keep_limits(actor=actor, episode=fresh, act="set_gate_aside", said=[said], seen=seen)
        status.rebuild(episode_ids=[fresh.pk])
        return reverse("milestone", args=[fresh.uid, milestone])

    body = {
        "act": "set_gate_aside",
        "episode": episode.pk,
        "seen": seen,
        "milestone": milestone,
        "reason": reason,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def take_gate_back(
    *, actor: Actor, key: UUID, episode: Episode, seen: int, milestone: str, reason: str
) -> str:
    """The earliest date of a milestone counts again from today on, with the clinician's reason.

    What was set aside, and why, stays to be read. Raises ``Refused`` and ``Conflict``.
    """

    def do() -> str:
        fresh = Episode.objects.select_related("patient", "site").get(pk=episode.pk)
        aside = taking_back.gate_aside(episode_id=fresh.pk, milestone=milestone)
        taking_back.take_back(
            actor=actor, episode=fresh, act="take_back_gate", aside=aside, reason=reason, seen=seen
        )
        status.rebuild(episode_ids=[fresh.pk])
        return reverse("milestone", args=[fresh.uid, milestone])

    body = {
        "act": "take_back_gate",
        "episode": episode.pk,
        "seen": seen,
        "milestone": milestone,
        "reason": reason,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def _gate_errors(
    found: MilestoneResult, facts: EpisodeFacts, reason: str, today: date
) -> rules.Errors:
    if found.aside:
        return {"": "This earliest date is set aside already."}
    if found.earliest is None:
        return {"": "There is no earliest date yet: it counts from the operation."}
    if today >= found.earliest or facts.kind in found.milestone.gate.waived_for:
        return {"": "The earliest date holds nothing back: there is nothing to set aside."}
    return {} if reason.strip() else {"reason": "Write why it is set aside."}
