"""A criterion that counts when it was met on two tests: once is not yet held."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from outcomes.core.values import CriterionResult, NotAssessable, Repeat, Result, Why


def held(
    *, now: CriterionResult, earlier: Iterable[CriterionResult], repeat: Repeat
) -> CriterionResult:
    """The newest test's result, once an earlier one far enough back was met too.

    Borderline if either was. Met once only, it is not tested yet for a second time: unknown, not
    false. A newest test that is not met stays so whatever came before.
    """
    if now.result.truth is not True or now.on is None:
        return now
    first, last = window(before=now.on, repeat=repeat)
    found = [
        one
        for one in earlier
        if one.on is not None and first <= one.on <= last and one.result.truth is True
    ]
    if not found:
        why = NotAssessable(why=Why.NOT_REPEATED, detail=str(repeat.apart_days))
        return replace(now, result=Result.NOT_TESTED, why=why)
    sure = any(one.result is Result.MET for one in found)
    return now if sure else replace(now, result=Result.MET_BORDERLINE)


def window(*, before: date, repeat: Repeat) -> tuple[date, date]:
    """The first and the last day on which the earlier test counts."""
    first = before - timedelta(days=repeat.within_days)
    return first, before - timedelta(days=repeat.apart_days)
