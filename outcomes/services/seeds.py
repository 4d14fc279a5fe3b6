"""Put everything shipped that has versions into the version tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import connection, transaction

from clinic import clock
from outcomes.catalogue.instruments import instrument_seeds
from outcomes.catalogue.seeds import canonical_json, fingerprint, measure_seeds
from outcomes.models.versions import (
    InstrumentVersion,
    MeasureVersion,
    ProgressionVersion,
    ProtocolVersion,
    Version,
)
from outcomes.protocols.progression_seeds import progression_seeds
from outcomes.protocols.seeds import protocol_seeds

Seeds = Iterable[tuple[str, Mapping[str, Any]]]
Table = (
    type[MeasureVersion]
    | type[InstrumentVersion]
    | type[ProtocolVersion]
    | type[ProgressionVersion]
)


class ChangedVersion(RuntimeError):
    """A shipped text differs from the one kept under the same code and version."""


def seed_versions() -> None:
    """Insert each shipped version once; changed text under an old version is refused.

    Runs after every migrate; does nothing while the tables are not there. Raises
    ``ChangedVersion``, and then nothing at all was inserted.
    """
    if ProgressionVersion._meta.db_table not in connection.introspection.table_names():
        return
    with transaction.atomic():
        _seed(MeasureVersion, measure_seeds())
        _seed(InstrumentVersion, instrument_seeds())
        _seed(ProtocolVersion, protocol_seeds())
        _seed(ProgressionVersion, progression_seeds())


def _seed(table: Table, seeds: Seeds) -> None:
    """Two statements at most: what is there, and one insert of what is not."""
    kept = {
        (code, version): mark
        for code, version, mark in table.objects.values_list("code", "version", "sha256")
    }
    new: list[Any] = []
    for name, mapping in seeds:
        row = _row(table, mapping)
        mark = kept.get((row.code, row.version))
        if mark is None:
            new.append(row)
        elif mark != row.sha256:
            raise ChangedVersion(
                f"{name}: {row} is kept with another text. A published version is frozen: "
                f"undo the change, or ship the changed text as version {row.version + 1}."
            )
    if new:
        table.objects.bulk_create(new)


def _row(table: type[Version], mapping: Mapping[str, Any]) -> Version:
    body = canonical_json(mapping)
    return table(
        code=mapping["code"],
        version=mapping["version"],
        body=body,
        sha256=fingerprint(body),
        created_at=clock.now(),
    )
