"""The usual limits after a procedure: shipped files, read strictly."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from outcomes.catalogue.fields import Fields, SeedError, sources_from
from outcomes.catalogue.seeds import read_seeds
from outcomes.core.holds import KINDS, LimitTemplate, TypicalLimit


@cache
def limit_templates() -> Mapping[str, LimitTemplate]:
    """Every shipped template by the code of its procedure. Raises ``SeedError``."""
    found: dict[str, LimitTemplate] = {}
    for name, mapping in read_seeds(folder=files("outcomes.protocols") / "limits"):
        template = limits_from(mapping, where=name)
        if name != f"{template.procedure}.toml":
            raise SeedError(f"{name}: procedure: the file is named after its procedure")
        found[template.procedure] = template
    return MappingProxyType(found)


def limits_from(mapping: Mapping[str, Any], *, where: str = "limits") -> LimitTemplate:
    """The template that a file describes. Raises ``SeedError`` naming file and key."""
    fields = Fields(mapping=mapping, where=where)
    template = LimitTemplate(
        procedure=fields.code("procedure"),
        limits=tuple(_limit(part) for part in fields.parts("limits", needed=True)),
    )
    fields.done()
    return template


def _limit(fields: Fields) -> TypicalLimit:
    kind = fields.code("kind")
    if kind not in KINDS:
        raise fields.refuse("kind", f"{kind!r} is none of {', '.join(KINDS)}")
    limit = TypicalLimit(
        kind=kind,
        limit=fields.text("limit"),
        from_week=fields.integer("from_week"),
        until_weeks=_weeks(fields),
        sources=sources_from(fields),
    )
    fields.done()
    if limit.until_weeks[0] <= limit.from_week:
        raise fields.refuse("until_weeks", "ends before it begins")
    return limit


def _weeks(fields: Fields) -> tuple[int, int]:
    found = fields.decimals("until_weeks")
    whole = all(week == int(week) for week in found)
    if len(found) != 2 or not whole or found[0] > found[1]:
        raise fields.refuse("until_weeks", "must be two whole numbers, the lower first")
    return int(found[0]), int(found[1])
