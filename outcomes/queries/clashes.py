"""Fields that two people changed, and what tablets typed without network and sent late."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

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


@dataclass(frozen=True, kw_only=True, slots=True)
class LateText:
    """One text that nobody has decided about: who typed it, and when by the tablet's clock."""

    name: str
    typed: str
    shown: str
    by: str
    at: datetime


def late_texts(*, visit_id: int) -> tuple[LateText, ...]:
    """What waits for a decision at a visit, the newest text of each field. One statement."""
    rows = WaitingSave.objects.filter(visit_id=visit_id, open=True).select_related("typed_by")
    found: dict[str, LateText] = {}
    for row in rows.order_by("sheet", "number", "id"):
        for name, texts in row.fields.items():
            if name not in row.settled:
                found[name] = LateText(
                    name=name,
                    typed=texts["typed"],
                    shown=texts["shown"],
                    by=row.typed_by.full_name,
                    at=row.saved_on_device_at,
                )
    return tuple(found.values())


def late_clashes(*, late: Iterable[LateText], fields: Mapping[str, Any]) -> tuple[Clash, ...]:
    """Those that the draft holds differently, for the page to ask about."""
    kept = {name: field["text"] for name, field in fields.items()}
    return tuple(
        Clash(
            name=one.name,
            mine=one.typed,
            theirs=kept.get(one.name, ""),
            by=one.by,
            at=one.at,
            late=True,
        )
        for one in late
        if one.typed != kept.get(one.name, "")
    )
