"""Red flags that stand: what was last answered to each question, over all checks of a patient."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import cache
from typing import Any, Final, NamedTuple

from django.db.models import QuerySet

from clinic.models import care
from outcomes.core.redflags import SHORT_FORM, flags
from outcomes.core.values import RedFlag
from outcomes.models.record import RedFlagCheck

OPENS: Final = {question.code: question.opens for question in SHORT_FORM}


class Check(NamedTuple):
    """One check: its patient, date, id and answers."""

    patient_id: int
    on: date
    ref: int
    answers: Mapping[str, bool]


def red_flags_of(*, episodes: Sequence[care.Episode]) -> dict[int, list[RedFlag]]:
    """The red flags that stand for each episode, from checks since it was opened. One statement.

    A flag stands until its question is answered with no at a later check. A later check that
    does not ask it leaves it standing: not asked is not no.
    """
    patients = {episode.patient_id for episode in episodes}
    checks = [Check(*row) for row in _all_checks().filter(visit__patient_id__in=patients)]
    return {
        episode.pk: standing(
            checks=[
                check
                for check in checks
                if check.patient_id == episode.patient_id and check.on >= episode.opened_on
            ]
        )
        for episode in episodes
    }


@cache
def _all_checks() -> QuerySet[RedFlagCheck, Any]:
    """Every check in the order of dates; built once, as it is asked with every judgement."""
    rows = RedFlagCheck.objects.order_by("visit__date", "id")
    return rows.values_list("visit__patient_id", "visit__date", "id", "answers")


def standing(*, checks: Iterable[Check]) -> list[RedFlag]:
    """The flags that stand after the checks, which are in the order of their dates."""
    newest: dict[str, tuple[bool, Check]] = {}
    for check in checks:
        for code in check.answers:
            for opened in OPENS.get(code, ()):
                newest.pop(opened, None)
        newest |= {code: (yes, check) for code, yes in check.answers.items()}
    return [
        RedFlag(
            code=question.code,
            tier=question.tier,
            on=newest[question.code][1].on,
            ref=newest[question.code][1].ref,
        )
        for question in flags(answers={code: yes for code, (yes, _) in newest.items()})
    ]
