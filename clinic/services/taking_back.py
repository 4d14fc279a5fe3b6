"""Taking back what a clinician set aside: a usual limit, or the earliest date of a milestone."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.db.models import QuerySet
from django.urls import reverse

from clinic import audit, clock, words
from clinic.models.care import Episode, Restriction
from clinic.permissions import Actor
from clinic.services import acts, care, rules
from clinic.services.details import Instruction


def take_limit_back(
    *, actor: Actor, key: UUID, episode: Episode, seen: int, restriction_id: int, reason: str
) -> str:
    """A usual limit that was set aside holds again from today on, with the clinician's reason.

    It is a new instruction with the words and the last day of the old one. Raises ``Refused`` and
    ``Conflict``.
    """

    def do() -> str:
        fresh = Episode.objects.select_related("patient", "site").get(pk=episode.pk)
        aside = _standing_asides(episode_id=fresh.pk).filter(supersedes=restriction_id).first()
        take_back(
            actor=actor, episode=fresh, act="take_back_limit", aside=aside, reason=reason, seen=seen
        )
        return reverse("restrictions", args=[fresh.uid])

    body = {
        "act": "take_back_limit",
        "restriction": restriction_id,
        "reason": reason,
        "seen": seen,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def gate_aside(*, episode_id: int, milestone: str) -> Restriction | None:
    """The row by which the earliest date of a milestone is set aside, if one stands."""
    return _standing_asides(episode_id=episode_id).filter(milestone=milestone).last()


def take_back(
    *,
    actor: Actor,
    episode: Episode,
    act: str,
    aside: Restriction | None,
    reason: str,
    seen: int,
) -> None:
    """Take one row back within another act; a limit is told again as it stood, from today on.

    Raises ``Refused`` and ``Conflict``.
    """
    today = clock.today(episode.site)
    limit = aside and aside.supersedes
    if aside is None:
        raise rules.Refused({"": "It is not set aside any more. Open the page afresh."})
    if limit and limit.until and limit.until < today:
        raise rules.Refused({"": f"This limit would have ended on {words.day(limit.until)}."})
    if not reason.strip():
        raise rules.Refused({"reason": "Write why it is taken back."})
    said = Instruction(
        kind="taken_back",
        limit=reason,
        since=today,
        until=None,
        told_by="",
        supersedes_id=aside.pk,
        origin="clinician",
        milestone=aside.milestone,
    )
    rows = [care.kept(actor=actor, episode=episode, said=said)]
    if limit:
        again = _again(limit, since=max(today, limit.since), after=rows[0].pk)
        rows.append(care.kept(actor=actor, episode=episode, said=again))
    acts.bump(episode, seen=seen)
    audit.write(actor=actor, act=act, subject="restriction", subject_ids=[row.pk for row in rows])


def _standing_asides(*, episode_id: int) -> QuerySet[Restriction]:
    return (
        Restriction.objects.filter(
            episode_id=episode_id, kind="set_aside", superseded_by__isnull=True
        )
        .select_related("supersedes")
        .order_by("pk")
    )


def _again(limit: Restriction, *, since: date, after: int) -> Instruction:
    """A usual limit as it stood, told as it was told, from a day on."""
    return Instruction(
        kind=limit.kind,
        limit=limit.limit,
        since=since,
        until=limit.until,
        told_by=limit.told_by,
        supersedes_id=after,
        procedure=limit.procedure,
        told_on=limit.told_on,
        origin=limit.origin,
    )
