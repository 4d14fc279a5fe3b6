"""Why tests are held on a day, in words."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from clinic import words
from clinic.queries.care import Limit
from outcomes.core.holds import Hold, holds_of, not_confirmed
from outcomes.queries.attendance import Asked
from outcomes.queries.knee_words import limit_words
from outcomes.queries.record import restriction_of


def held_words(
    *,
    measures: Collection[str],
    limits: Sequence[Limit],
    unconfirmed: Sequence[Asked],
    on: date,
) -> dict[str, tuple[str, ...]]:
    """The sentences beside each held test of one knee, what is not confirmed first."""
    said = {limit.pk: f"Surgeon's limit {limit_words(limit, on=on)}" for limit in limits}
    found = holds_of(
        measures=measures,
        restrictions=[restriction_of(limit=limit) for limit in limits],
        unconfirmed=[one.held for one in unconfirmed],
        on=on,
    )
    return {code: _sentences(why, said) for code, why in found.items()}


def _sentences(why: Sequence[Hold], said: Mapping[int, str]) -> tuple[str, ...]:
    procedures = list(dict.fromkeys(hold.procedure for hold in why if hold.procedure))
    asking = [not_confirmed(procedure=words.listed(procedures))] if procedures else []
    return (*asking, *(said[hold.limit.ref] for hold in why if hold.limit))
