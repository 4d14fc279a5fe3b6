"""Read what a tablet sealed: one row of the ledger as the page held it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final
from uuid import UUID

from django.http import QueryDict

from clinic.http import Unprocessable
from outcomes.forms.ledger_fields import cleaned, shown_of
from outcomes.queries.clashes import Save

EARLIEST: Final = datetime(1970, 1, 1, tzinfo=UTC)
MOST: Final = (datetime(3000, 1, 1, tzinfo=UTC) - EARLIEST) // timedelta(milliseconds=1)
AGAIN = "This did not come from a page of this clinic. Type it again on the visit's page."


@dataclass(frozen=True, kw_only=True, slots=True)
class Sent:
    """What the tablet sent: its key, the page's pass, and what is sealed."""

    key: UUID
    given: str
    item: str


def sent_of(data: QueryDict) -> Sent:
    """The three parts of a waiting save. Raises ``Unprocessable`` where one is not there."""
    try:
        key = UUID(data.get("key", ""))
        return Sent(key=key, given=data.get("pass", ""), item=data.get("sealed", ""))
    except ValueError:
        raise Unprocessable(AGAIN) from None


def row_of(text: bytes) -> Save:
    """Read an opened item: ``{"row", "n", "at", "was", "typed"}``.

    ``at`` is the tablet's clock in milliseconds since 1970, kept and never trusted: one that no
    calendar has is taken as the nearest of the years 1970 to 2999. Only fields that ``was`` names
    count. Raises ``Unprocessable`` for what no page of ours seals.
    """
    try:
        found: dict[str, Any] = json.loads(text)
        number, row = int(found["n"]), str(found["row"])
        at = EARLIEST + timedelta(milliseconds=min(max(int(found["at"]), 0), MOST))
        typed, was = dict(found["typed"]), str(found["was"])
    except (ValueError, KeyError, TypeError, OverflowError, OSError):
        raise Unprocessable(AGAIN) from None
    shown = shown_of(was)
    if not 0 <= number < 10**15 or len(row) > 80 or not _are_texts(typed):
        raise Unprocessable(AGAIN)
    return Save(
        row=row,
        number=number,
        typed={name: cleaned(name, typed.get(name, "")) for name in shown},
        shown=shown,
        saved_on_device_at=at,
    )


def _are_texts(typed: dict[Any, Any]) -> bool:
    return all(isinstance(text, str) for text in typed.values())
