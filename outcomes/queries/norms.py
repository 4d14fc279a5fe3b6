"""The percentiles that the clinic entered, every version: the scores, who, when, from where."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from clinic import words
from outcomes.core.quantities import plain
from outcomes.core.values import Band
from outcomes.models.versions import NormVersion
from outcomes.protocols.norms import AGES, IKDC_15, norm_from

Cell = tuple[str, int, int]


@dataclass(frozen=True, kw_only=True, slots=True)
class EnteredNorm:
    """One version to read; ``rows`` are an age band with the scores of women and men."""

    version: int
    by: str
    at: str
    source: str
    rows: tuple[tuple[str, str, str], ...]
    values: Mapping[Cell, Decimal]


def entered_norms(*, zone: str) -> list[EnteredNorm]:
    """Every version of the 15th percentile of the IKDC, the newest first. One statement."""
    rows = NormVersion.objects.filter(code=IKDC_15).select_related("created_by")
    return [_entered(row, zone=zone) for row in rows.order_by("-version")]


def _entered(row: NormVersion, *, zone: str) -> EnteredNorm:
    mapping = json.loads(row.body)
    values = {_cell(band): band.value for band in norm_from(mapping, where=str(row)).bands}
    return EnteredNorm(
        version=row.version,
        by=row.created_by.full_name if row.created_by else "",
        at=words.moment(row.created_at, zone=zone),
        source=mapping["source"],
        rows=tuple(
            (
                ages_words(lowest=lowest, below=below),
                _said(values, ("female", lowest, below)),
                _said(values, ("male", lowest, below)),
            )
            for lowest, below in AGES
        ),
        values=values,
    )


def _cell(band: Band) -> Cell:
    return band.sex, band.from_age or 0, band.below_age or 0


def _said(values: Mapping[Cell, Decimal], cell: Cell) -> str:
    return plain(value=values[cell]) if cell in values else ""


def ages_words(*, lowest: int, below: int) -> str:
    """An age band as people say it.

    >>> ages_words(lowest=18, below=25)
    '18 to 24 years'
    """
    return f"{lowest} to {below - 1} years"
