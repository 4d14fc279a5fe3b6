"""Answering a reason to look: seen, with a plan and a day on which to look again."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from uuid import UUID

from clinic import audit, clock
from clinic.http import Conflict, Unprocessable
from clinic.models.care import Episode
from clinic.permissions import Action, Actor
from clinic.services import acts
from outcomes.models.record import LookAnswer
from outcomes.queries.looks import LONGEST
from outcomes.services import status


def answer(
    *,
    actor: Actor,
    key: UUID,
    episode_id: int,
    code: str,
    size: Decimal,
    plan: str,
    look_again_on: date,
) -> LookAnswer:
    """Keep an answer to a reason as it was seen, and judge the episode again.

    ``size`` is the size that the person saw. The reason returns when it is worse than that or on
    ``look_again_on``. Raises ``Unprocessable`` for a reason that is not there any more, an empty
    plan or a day that is past or more than 26 weeks ahead, and ``Conflict`` when the reason got
    worse since the person's page was made.
    """
    episode = Episode.objects.select_related("site").get(pk=episode_id)
    body = {
        "episode": episode_id,
        "code": code,
        "size": size.normalize(),
        "plan": plan,
        "look_again_on": look_again_on,
    }

    def do() -> str:
        _check(episode=episode, code=code, size=size, plan=plan, look_again_on=look_again_on)
        row = LookAnswer.objects.create(
            episode=episode,
            code=code,
            size=size,
            plan=plan.strip(),
            look_again_on=look_again_on,
            answered_at=clock.now(),
            answered_by_id=actor.staff_id,
        )
        _kept(actor=actor, row=row)
        return str(row.pk)

    kept = acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)
    return LookAnswer.objects.get(pk=int(kept))


def _kept(*, actor: Actor, row: LookAnswer) -> None:
    """The audit row of an answer, and the episode judged again."""
    audit.write(
        actor=actor,
        act=Action.ANSWER_LOOK.value,
        subject="episode",
        subject_ids=[row.episode_id],
        note=row.code,
    )
    status.rebuild(episode_ids=[row.episode_id])


def _check(*, episode: Episode, code: str, size: Decimal, plan: str, look_again_on: date) -> None:
    today = clock.today(episode.site)
    if not plan.strip():
        raise Unprocessable("Write in a few words what is planned.")
    if not today < look_again_on <= today + LONGEST:
        raise Unprocessable("Give a day after today and within 26 weeks.")
    reasons = status.reasons(episode_id=episode.pk, today=today)
    reason = next((found for found in reasons if found.code == code), None)
    if reason is None:
        raise Unprocessable("This reason to look is not there any more. Open the page afresh.")
    if reason.size > size:
        raise Conflict("It got worse since this page was opened. Open the page afresh.")
