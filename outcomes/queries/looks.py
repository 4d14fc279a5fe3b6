"""Answers to reasons to look: the newest of each reason, and what they still silence."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from outcomes.core.looks import is_answered
from outcomes.core.values import Reason
from outcomes.models.record import LookAnswer

LONGEST: Final = timedelta(weeks=26)
"""How far ahead "look again on" may lie, so that no reason is put away for good (house setting)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What was said to a reason: how large it was then, the plan, when to look again, by whom."""

    code: str
    size: Decimal
    plan: str
    look_again_on: date
    answered_at: datetime
    answered_by: str

    def answered_on(self, *, zone: str) -> date:
        """The local date of the answer at a site."""
        return self.answered_at.astimezone(ZoneInfo(zone)).date()


def newest_answers(*, episode_ids: Collection[int]) -> dict[int, dict[str, Answer]]:
    """The newest answer to each reason of each episode, by the reason's code. One statement."""
    rows = _all_answers().filter(episode_id__in=episode_ids)
    found: dict[int, dict[str, Answer]] = {ident: {} for ident in episode_ids}
    for episode_id, code, size, plan, again, at, by in rows:
        found[episode_id][code] = Answer(
            code=code, size=size, plan=plan, look_again_on=again, answered_at=at, answered_by=by
        )
    return found


@cache
def _all_answers() -> QuerySet[LookAnswer, Any]:
    """Every answer, oldest first; built once, as it is asked with every judgement."""
    return LookAnswer.objects.order_by("id").values_list(
        "episode_id",
        "code",
        "size",
        "plan",
        "look_again_on",
        "answered_at",
        "answered_by__full_name",
    )


def silencing(*, reason: Reason, answers: Mapping[str, Answer], on: date) -> Answer | None:
    """The answer that still silences a reason on that day: not worse, and not due again yet."""
    answer = answers.get(reason.code)
    if answer is None:
        return None
    silent = is_answered(
        reason=reason, answer_size=answer.size, look_again_on=answer.look_again_on, on=on
    )
    return answer if silent else None


def unanswered(
    *, reasons: Iterable[Reason], answers: Mapping[str, Answer], on: date
) -> tuple[Reason, ...]:
    """The reasons that need a look on that day, in their order."""
    return tuple(r for r in reasons if silencing(reason=r, answers=answers, on=on) is None)


def next_due(*, reasons: Iterable[Reason], answers: Mapping[str, Answer], on: date) -> date | None:
    """The first day on which an answered reason is due again, or None if none is silenced."""
    found = [silencing(reason=reason, answers=answers, on=on) for reason in reasons]
    return min((answer.look_again_on for answer in found if answer), default=None)
