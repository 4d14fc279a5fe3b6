"""The earliest date of a milestone: time and criteria, never one alone."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from outcomes.core.dates import add_months, age_on
from outcomes.core.values import EpisodeFacts, Gate

YOUNG: Final = 16


def earliest_date(*, gate: Gate, facts: EpisodeFacts) -> date | None:
    """The earliest date of a milestone, or None without an index date.

    Weeks are exact days, months are calendar months. The latest of what ``gate.later`` names for
    this graft, kind or age counts. Where the gate is waived it is the index date itself. The age
    is that of the index date: a birthday brings nothing nearer.
    """
    if facts.index_date is None or facts.kind in gate.waived_for:
        return facts.index_date
    found = [facts.index_date]
    if gate.weeks is not None:
        found.append(facts.index_date + timedelta(weeks=gate.weeks))
    months = [gate.months] if gate.months is not None else []
    months += [later for code, later in gate.later if code in later_codes(facts=facts)]
    found += [add_months(start=facts.index_date, months=number) for number in months]
    return max(found)


def later_codes(*, facts: EpisodeFacts) -> frozenset[str]:
    """What may make a gate later for this graft, kind and age at the index date."""
    codes = {f"graft:{facts.graft}", f"kind:{facts.kind}"}
    index = facts.index_date
    if index is not None and age_on(birth_date=facts.birth_date, on=index) < YOUNG:
        codes.add(f"under_{YOUNG}")
    return frozenset(codes)
