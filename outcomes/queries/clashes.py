"""Fields that two people changed, and what tablets typed without network and sent late."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from outcomes.models.outbox import WaitingSave


@dataclass(frozen=True, kw_only=True, slots=True)
class Clash:
    """One field that two people changed: what each of them typed. Nothing was overwritten.

    ``late``: ``mine`` was typed without network, by whom ``by`` names.
    """

    name: str
    mine: str
    theirs: str
    by: str
    at: datetime
    late: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Save:
    """One row as the tablet held it: the texts, what each field had shown, and its number."""

    row: str
    number: int
    typed: Mapping[str, str]
    shown: Mapping[str, str]
    saved_on_device_at: datetime


def flagged(texts: Mapping[str, str]) -> bool:
    """Whether a red flag answered yes is among typed texts."""
    return any(name.startswith("f:") and text == "yes" for name, text in texts.items())


@dataclass(frozen=True, kw_only=True, slots=True)
class LateText:
    """One text that nobody has decided about: who typed it, and when by the tablet's clock.

    ``sheet`` is the page that it was typed on; ``first`` and ``last`` number the saves of that page
    that hold the field, in the order in which they came.
    """

    name: str
    typed: str
    shown: str
    by: str
    at: datetime
    sheet: UUID
    first: int
    last: int


def late_texts(*, visit_id: int) -> tuple[LateText, ...]:
    """What waits for a decision at a visit: of each page the newest text of each field, the page
    that came first before the others. One statement."""
    rows = WaitingSave.objects.filter(visit_id=visit_id, open=True).select_related("typed_by")
    found: dict[tuple[str, UUID], LateText] = {}
    for row in rows.order_by("number", "id"):
        for name, texts in row.fields.items():
            if name in row.settled:
                continue
            before = found.get((name, row.sheet))
            found[name, row.sheet] = LateText(
                name=name,
                typed=texts["typed"],
                shown=texts["shown"],
                by=row.typed_by.full_name,
                at=row.saved_on_device_at,
                sheet=row.sheet,
                first=min(row.pk, before.first if before else row.pk),
                last=max(row.pk, before.last if before else row.pk),
            )
    return tuple(sorted(found.values(), key=lambda one: one.first))


def asked_of(*, late: Iterable[LateText], fields: Mapping[str, Any]) -> dict[str, LateText]:
    """The texts that a page asks about, by field: one at a time, those that the draft holds
    differently."""
    found: dict[str, LateText] = {}
    for one in late:
        if one.typed != fields.get(one.name, {"text": ""})["text"]:
            found.setdefault(one.name, one)
    return found


def late_clashes(*, asked: Mapping[str, LateText], fields: Mapping[str, Any]) -> tuple[Clash, ...]:
    """The same as questions."""
    return tuple(
        Clash(
            name=one.name,
            mine=one.typed,
            theirs=fields.get(one.name, {"text": ""})["text"],
            by=one.by,
            at=one.at,
            late=True,
        )
        for one in asked.values()
    )


def newest_of(late: Iterable[LateText]) -> int:
    """The number of the newest save among them; 0 without any. What came since was not seen."""
    return max((one.last for one in late), default=0)
