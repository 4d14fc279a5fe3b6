"""Groups of criteria: all, any, or so many of them, in three-valued logic."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Final

from outcomes.core.logic import n_of
from outcomes.core.thresholds import blank_of
from outcomes.core.values import Criterion, CriterionResult, EpisodeFacts, Result

BORDERLINE: Final = (Result.MET_BORDERLINE, Result.NOT_MET_BORDERLINE)


def judge_group(
    *, criterion: Criterion, members: Sequence[CriterionResult], facts: EpisodeFacts, on: date
) -> CriterionResult:
    """A group from its judged members: met once so many are, not met once they cannot be any more.

    Borderline where the outcome hangs on a borderline member. While it is open, it has the result
    of the first member that is open, with its reason.
    """
    truths = [member.result.truth for member in members]
    count = int(criterion.value)
    truth = n_of(n=count, values=truths)
    blank = replace(
        blank_of(criterion=criterion, facts=facts, on=on), value=Fraction(truths.count(True))
    )
    if blank.why is not None:
        return replace(blank, value=None)
    if truth is None:
        first = next(member for member in members if member.result.truth is None)
        return replace(blank, result=first.result, why=first.why)
    sure = [None if member.result in BORDERLINE else member.result.truth for member in members]
    hangs = n_of(n=count, values=sure) is None
    if truth:
        return replace(blank, result=Result.MET_BORDERLINE if hangs else Result.MET)
    return replace(blank, result=Result.NOT_MET_BORDERLINE if hangs else Result.NOT_MET)
