"""The surgeon's limits and the care state of an episode."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date
from typing import Any
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock, words
from clinic.models.care import CARE_STATES, OPEN_CARE_STATES, Episode, Restriction, Visit
from clinic.permissions import Actor
from clinic.services import acts, episodes, rules
from clinic.services.details import Instruction

CLOSED = ("discharged", "transferred")
WITH_REASON = ("on_hold", *CLOSED)
_STATE = dict(CARE_STATES)


def record_limit(
    *, actor: Actor, key: UUID, patient_id: int, episode_id: int, said: Instruction
) -> str:
    """A new instruction of the surgeon; it takes an older one's place from its first day.

    Answers with the address of the page of limits. Raises ``Refused``.
    """

    def do() -> str:
        episode = _episode(episode_id)
        if said.until and said.until < said.since:
            raise rules.Refused(
                {"until": f"The last day lies before the first, {words.day(said.since)}."}
            )
        rules.refuse_if(told_errors(told_on=said.told_on, today=clock.today(episode.site)))
        old = said.supersedes_id and _standing(
            episode_id=episode_id, restriction_id=said.supersedes_id
        )
        whole = replace(said, procedure=old.procedure) if old else said
        return _record(actor, episode, "record_limit", whole)

    body = {"act": "record_limit", "episode": episode_id, **asdict(said)}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def end_limit(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    episode_id: int,
    restriction_id: int,
    until: date,
    told_by: str,
    told_on: date | None = None,
) -> str:
    """The surgeon ends a limit: a new instruction with the same words and a last day."""

    def do() -> str:
        old = _standing(episode_id=episode_id, restriction_id=restriction_id)
        episode = _episode(episode_id)
        if until < old.since:
            raise rules.Refused({"until": f"The limit begins on {words.day(old.since)}."})
        rules.refuse_if(told_errors(told_on=told_on, today=clock.today(episode.site)))
        said = Instruction(
            kind=old.kind,
            limit=old.limit,
            since=old.since,
            until=until,
            told_by=told_by,
            told_on=told_on,
            supersedes_id=old.pk,
            procedure=old.procedure,
        )
        return _record(actor, episode, "end_limit", said)

    body = {
        "act": "end_limit",
        "restriction": restriction_id,
        "until": until,
        "told_by": told_by,
        "told_on": told_on,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def set_limit_aside(
    *,
    actor: Actor,
    key: UUID,
    episode: Episode,
    seen: int,
    restriction_id: int,
    reason: str,
) -> str:
    """Set a confirmed usual limit aside from today on, with the clinician's reason.

    What the surgeon said for this patient is never set aside: only a new instruction changes it.
    Raises ``Refused`` and ``Conflict``.
    """

    def do() -> str:
        fresh = _episode(episode.pk)
        today = clock.today(fresh.site)
        old = _standing(episode_id=fresh.pk, restriction_id=restriction_id)
        rules.refuse_if(_aside_errors(old, reason, today))
        said = Instruction(
            kind="set_aside",
            limit=reason,
            since=today,
            until=None,
            told_by="",
            supersedes_id=old.pk,
            origin="clinician",
        )
        keep_limits(actor=actor, episode=fresh, act="set_limit_aside", said=[said], seen=seen)
        return reverse("restrictions", args=[fresh.uid])

    body = {"act": "set_limit_aside", "restriction": restriction_id, "reason": reason, "seen": seen}
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def _aside_errors(old: Restriction, reason: str, today: date) -> rules.Errors:
    if old.origin != "template":
        return {"": "The surgeon's own limit changes only by a new instruction of the surgeon."}
    if old.until and old.until < today:
        return {"": f"This limit ended on {words.day(old.until)}: there is nothing to set aside."}
    if not reason.strip():
        return {"reason": "Write why it is set aside."}
    return {}


def told_errors(*, told_on: date | None, today: date) -> rules.Errors:
    """Nobody was told anything on a day that has not come."""
    if told_on and told_on > today:
        return {"told_on": "This day has not come yet: give the day on which it was told."}
    return {}


def _standing(*, episode_id: int, restriction_id: int) -> Restriction:
    """The instruction that is to be replaced, if no newer one has replaced it yet."""
    found = Restriction.objects.filter(
        episode_id=episode_id, pk=restriction_id, superseded_by__isnull=True
    ).first()
    if found is None:
        raise rules.Refused(
            {"supersedes": "That limit has been replaced meanwhile. Open the page afresh."}
        )
    return found


def _record(actor: Actor, episode: Episode, act: str, said: Instruction) -> str:
    keep_limits(actor=actor, episode=episode, act=act, said=[said])
    return reverse("restrictions", args=[episode.uid])


def keep_limits(
    *,
    actor: Actor,
    episode: Episode,
    act: str,
    said: Sequence[Instruction],
    seen: int | None = None,
) -> None:
    """Keep instructions within another act: their rows, the episode's version, one audit row.

    Raises ``Conflict`` when the episode is not at the version that was ``seen``.
    """
    rows = [kept(actor=actor, episode=episode, said=one) for one in said]
    acts.bump(episode, seen=seen)
    audit.write(actor=actor, act=act, subject="restriction", subject_ids=[row.pk for row in rows])


def kept(*, actor: Actor, episode: Episode, said: Instruction) -> Restriction:
    """One row of limits, by whom and when; its version and its audit row are the caller's."""
    return Restriction.objects.create(
        episode=episode, recorded_by_id=actor.staff_id, recorded_at=clock.now(), **asdict(said)
    )


def set_care(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    episode_id: int,
    seen: int,
    state: str,
    reason: str,
    until: date | None,
) -> str:
    """Change the care state; what it was before is kept with the reason.

    On hold needs a day until which; on hold, discharge and transfer need a reason; discharge and
    transfer wait until every visit is signed; care is taken up again only while no other episode
    follows the same knee. Raises ``Refused`` and ``Conflict``.
    """

    def do() -> str:
        episode = _episode(episode_id)
        acts.bump(episode, seen=seen)
        change(actor=actor, episode=episode, state=state, reason=reason, until=until)
        return reverse("person", args=[episode.patient.uid])

    body = {
        "act": "set_care",
        "episode": episode_id,
        "seen": seen,
        "state": state,
        "reason": reason,
        "until": until,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def change(*, actor: Actor, episode: Episode, state: str, reason: str, until: date | None) -> None:
    """The same within another act, whose caller raises the version. Raises ``Refused``."""
    rules.refuse_if(_care_errors(episode, state, reason, until))
    episodes.keep(
        actor=actor,
        episode=episode,
        part="care_state",
        before=_said(episode.care_state, episode.care_until),
        after=_said(state, until),
        reason=reason,
    )
    changes: dict[str, Any] = {"care_state": state, "care_reason": reason, "care_until": until}
    Episode.objects.filter(pk=episode.pk).update(**changes)
    audit.write(
        actor=actor, act="set_care", subject="episode", subject_ids=[episode.pk], note=state
    )


def _care_errors(episode: Episode, state: str, reason: str, until: date | None) -> rules.Errors:
    errors: rules.Errors = {}
    if state in WITH_REASON and not reason:
        errors["reason"] = f"Enter the reason for “{_STATE[state]}” in a few words."
    if state == "on_hold" and (until is None or until <= clock.today(episode.site)):
        errors["until"] = "Enter the day until which care is on hold, later than today."
    if state != "on_hold" and until:
        errors["until"] = "Only care on hold has such a day: leave it empty."
    if state in CLOSED:
        errors |= _unsigned_errors(episode, state)
    if state in OPEN_CARE_STATES and episode.care_state in CLOSED:
        errors |= _other_errors(episode)
    return errors


def _unsigned_errors(episode: Episode, state: str) -> rules.Errors:
    """Nobody is discharged while a visit is under way or not signed."""
    unsigned = Visit.objects.filter(
        patient_id=episode.patient_id, state__in=["arrived", "open"]
    ).order_by("date", "pk")
    days = [words.day(day) for day in unsigned.values_list("date", flat=True)]
    if not days:
        return {}
    return {
        "state": f"Not signed yet: the visit of {words.listed(days)}. Sign it, or take back the "
        f"arrival, before “{_STATE[state]}”."
    }


def _other_errors(episode: Episode) -> rules.Errors:
    others = Episode.objects.filter(
        patient_id=episode.patient_id, knee=episode.knee, care_state__in=OPEN_CARE_STATES
    )
    if not others.exclude(pk=episode.pk).exists():
        return {}
    return {"state": f"Another episode follows the {episode.knee} knee now."}


def _episode(episode_id: int) -> Episode:
    return Episode.objects.select_related("patient", "site").get(pk=episode_id)


def _said(state: str, until: date | None) -> str:
    return f"{state} {until or ''}".strip()
