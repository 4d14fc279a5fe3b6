"""The catalogue in force: the newest version of every measure, and the protocols.

Rows of the version tables are never changed, so what was built from a row stays right. Each
process keeps what it built and asks the database, in one small statement, which rows there are.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from outcomes.catalogue.measures import measure_from
from outcomes.core.values import Measure
from outcomes.models.versions import MeasureVersion

Key = tuple[tuple[int, str, int, str], ...]
"""Id, code, version and SHA-256 of each row: two databases never share a key by accident."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Newest:
    """The measures in force by code, and the id of the version that each one is."""

    measures: Mapping[str, Measure]
    version_ids: Mapping[str, int]


def catalogue() -> Mapping[str, Measure]:
    """The newest version of every measure, by code. One statement."""
    return _newest(_measure_key()).measures


def measure_version_ids() -> Mapping[str, int]:
    """The id of the newest version of every measure, by code. One statement."""
    return _newest(_measure_key()).version_ids


def _measure_key() -> Key:
    rows = MeasureVersion.objects.order_by("code", "version")
    return tuple(rows.values_list("id", "code", "version", "sha256"))


@lru_cache(maxsize=4)
def _newest(key: Key) -> Newest:
    ids = {code: ident for ident, code, _, _ in key}
    rows = MeasureVersion.objects.filter(pk__in=ids.values()).order_by("code")
    return Newest(
        measures={row.code: measure_from(json.loads(row.body), where=str(row)) for row in rows},
        version_ids=ids,
    )
