"""Recording and withdrawing decisions. A person decides; what it rested on is frozen."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Final
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock, words
from clinic.http import Conflict, Unprocessable
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.permissions import Action, Actor
from clinic.services import acts, rules
from outcomes.catalogue.seeds import fingerprint
from outcomes.core.values import MilestoneState
from outcomes.models.record import Decision
from outcomes.queries.catalogue import in_force
from outcomes.queries.decisions import Evidence, evidence_of
from outcomes.queries.judging import judge_record, records_of
from outcomes.queries.milestone_words import until_words
from outcomes.services import status

LATEST: Final = timedelta(days=731)
"""How far ahead the recheck may lie (house setting)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Decided:
    """What was decided on a milestone; ``course`` is goes_ahead, not_yet or begun_early."""

    milestone: str
    course: str
    agreed: str
    took_part: tuple[str, ...]
    why_unmet: str
    risk_discussed: str
    recheck_on: date | None


def evidence_today(*, episode: Episode, milestone: str) -> Evidence:
    """The evidence for a milestone on the episode's local today.

    Raises ``Unprocessable`` for a milestone that is not among those of the goal.
    """
    force = in_force()
    record = records_of(episodes=[episode], rules=force)[episode.pk]
    judged = judge_record(record=record, rules=force, on=clock.today(episode.site))
    found = evidence_of(record=record, status=judged, rules=force, milestone=milestone)
    if found is None:
        raise Unprocessable("This milestone is not among those of the patient's goal.")
    return found


def record_decision(
    *, actor: Actor, key: UUID, episode: Episode, seen: str, decided: Decided
) -> str:
    """Keep a decision with its evidence, and judge the episode again; returns its address.

    ``seen`` is the mark of the evidence that the person saw: when the record has changed since,
    it is a ``Conflict``. Raises ``Refused`` with a sentence for each field.
    """

    def do() -> str:
        fresh = Episode.objects.select_related("patient", "site").get(pk=episode.pk)
        evidence = evidence_today(episode=fresh, milestone=decided.milestone)
        if evidence.mark != seen:
            raise Conflict("The record changed since this page was opened. Look at it again.")
        rules.refuse_if(_errors(decided=decided, evidence=evidence, episode=fresh))
        row = Decision.objects.create(
            episode=fresh,
            protocol_version_id=in_force().protocol_ids[fresh.protocol],
            evidence=evidence.body,
            evidence_sha256=evidence.mark,
            decided_at=clock.now(),
            decided_by_id=actor.staff_id,
            **{**asdict(decided), "took_part": list(decided.took_part)},
        )
        _audit(actor=actor, row=row, note=f"{decided.milestone} {decided.course}")
        status.rebuild(episode_ids=[fresh.pk])
        return reverse("decisions", args=[fresh.uid])

    body = {"act": "decide", "episode": episode.pk, "seen": seen, **asdict(decided)}
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def withdraw_decision(
    *, actor: Actor, key: UUID, episode: Episode, decision_id: int, reason: str
) -> str:
    """Withdraw a decision with a reason; what it was stays on record. Raises ``Refused``."""

    def do() -> str:
        old = Decision.objects.filter(
            episode=episode, pk=decision_id, kind="made", superseded_by__isnull=True
        ).first()
        if old is None:
            raise rules.Refused({"": "This decision is withdrawn already. Open the page afresh."})
        if not reason.strip():
            raise rules.Refused({"reason": "Write why the decision is withdrawn."})
        row = Decision.objects.create(
            episode=episode,
            milestone=old.milestone,
            protocol_version=old.protocol_version,
            kind="withdrawn",
            course=old.course,
            agreed=old.agreed,
            evidence_sha256=fingerprint(old.evidence_sha256),
            supersedes=old,
            reason=reason.strip(),
            decided_at=clock.now(),
            decided_by_id=actor.staff_id,
        )
        _audit(actor=actor, row=row, note=f"{old.milestone} withdrawn")
        status.rebuild(episode_ids=[episode.pk])
        return reverse("decisions", args=[episode.uid])

    body = {"act": "withdraw_decision", "decision": decision_id, "reason": reason}
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def _audit(*, actor: Actor, row: Decision, note: str) -> None:
    audit.write(
        actor=actor,
        act=Action.RECORD_DECISION.value,
        subject="decision",
        subject_ids=[row.pk],
        note=note,
    )


def _errors(*, decided: Decided, evidence: Evidence, episode: Episode) -> rules.Errors:
    """Everything that is missing or cannot be decided, with what to do instead."""
    errors: rules.Errors = {}
    if episode.care_state not in OPEN_CARE_STATES:
        errors[""] = "This episode has ended: take care up again first."
    if not decided.agreed.strip():
        errors["agreed"] = "Write what was agreed."
    if not decided.took_part:
        errors["took_part"] = "Say who took part beside you."
    if decided.course != "goes_ahead":
        return errors
    held = _held(evidence=evidence)
    if held:
        errors["course"] = held
    met = evidence.found.state is MilestoneState.RECORDED_AS_MET
    if not met and not decided.why_unmet.strip():
        errors["why_unmet"] = "Criteria or the earliest date are missing: write why it goes ahead."
    if (not met or evidence.last) and not decided.risk_discussed.strip():
        errors["risk_discussed"] = "Write which risk was talked about."
    return errors | _recheck_errors(decided=decided, today=clock.today(episode.site))


def _held(*, evidence: Evidence) -> str:
    """What beats a decision: a limit in force, or limits that nobody has confirmed."""
    found = evidence.found
    today = date.fromisoformat(evidence.body["judged_on"])
    if found.blocked_by:
        limits = [f"{one.limit}, {until_words(one.until, on=today)}" for one in found.blocked_by]
        return (
            f"The surgeon's limit holds: {words.listed(limits)}. Record the surgeon's new "
            "instruction first."
        )
    if evidence.to_confirm:
        return (
            f"Surgeon's limits not confirmed ({words.listed(list(evidence.to_confirm))}): ask, "
            "and record the answer first."
        )
    return ""


def _recheck_errors(*, decided: Decided, today: date) -> rules.Errors:
    day = decided.recheck_on
    if day is None:
        return {"recheck_on": "Give the day on which it is looked at again."}
    if not today < day <= today + LATEST:
        return {"recheck_on": "Give a day after today and within two years."}
    return {}
