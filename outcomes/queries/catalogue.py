"""What is in force: the newest measures and questionnaires, and every version of the protocols.

Rows of the version tables are never changed, so what was built from a row stays right. Each
process keeps what it built and asks the database, in one small statement, which rows there are.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from hashlib import sha256
from typing import Any, Final

from django.db import connection
from django.db.models import F, Value

from clinic.models.care import Episode
from outcomes.catalogue.instruments import instrument_from
from outcomes.catalogue.measures import measure_from
from outcomes.core.instruments import Instrument
from outcomes.core.norms import Norm, with_norms
from outcomes.core.values import Measure, Protocol
from outcomes.models.versions import (
    InstrumentVersion,
    MeasureVersion,
    NormVersion,
    ProtocolVersion,
    Switch,
)
from outcomes.protocols.norms import norm_from
from outcomes.protocols.reading import protocol_from

RULES = "8"
"""Raised whenever the code that judges changes what it says about the same record."""

Key = tuple[tuple[str, str, int, int, str], ...]
"""Kind, code, version, id and SHA-256 of each row: no two databases share a key by accident."""

ON, OFF, RETIRED = "on", "off", "retired"
DEFAULT: Final[str] = Episode._meta.get_field("protocol").default
"""What new episodes follow where their site has chosen nothing else."""
APART: Final = ("switch", "taken")
"""Rows of the one statement that nothing is built from."""


@dataclass(frozen=True, kw_only=True, slots=True)
class InForce:
    """Measures and questionnaires by code, protocols by code and version, with their rows' ids.

    ``rules`` names, for each protocol, the version of everything that a status is judged by.
    ``switches``: what a lead has switched, by code; what is not among them is as it was shipped.
    ``taken`` are the protocols that some episode follows. ``norms``: the newest percentiles that
    the clinic entered; the protocols hold them already.
    """

    measures: Mapping[str, Measure]
    measure_ids: Mapping[str, int]
    instruments: Mapping[str, Instrument]
    instrument_ids: Mapping[str, int]
    protocols: Mapping[str, Protocol]
    protocol_ids: Mapping[str, int]
    rules: Mapping[str, str]
    switches: Mapping[str, str] = field(default_factory=dict)
    taken: frozenset[str] = frozenset()
    norms: tuple[Norm, ...] = ()

    @property
    def followed(self) -> tuple[Protocol, ...]:
        """What some episode follows, and what new ones take where a site has chosen nothing."""
        codes = {DEFAULT, *self.taken}
        return tuple(one for code, one in self.protocols.items() if code in codes)

    def state(self, *, code: str) -> str:
        """Whether a measure or questionnaire is ``on``, ``off`` or ``retired``.

        Until it is switched a measure is on, and a questionnaire as it was shipped.
        """
        instrument = self.instruments.get(code)
        shipped = ON if instrument is None or instrument.on_by_default else OFF
        return self.switches.get(code, shipped)

    def offers(self, *, code: str) -> bool:
        """Whether a visit may ask for it. Where it was used it is shown all the same."""
        return self.state(code=code) == ON


def in_force() -> InForce:
    """Everything in force, in one statement."""
    rows = _rows()
    switches = {code: state for kind, code, _, _, state in rows if kind == "switch"}
    taken = frozenset(code for kind, code, *_ in rows if kind == "taken")
    built = _built(tuple(row for row in rows if row[0] not in APART))
    return replace(built, switches=switches, taken=taken)


def catalogue() -> Mapping[str, Measure]:
    """The newest version of every measure, by code. One statement."""
    return in_force().measures


def measure_version_ids() -> Mapping[str, int]:
    """The id of the newest version of every measure, by code. One statement."""
    return in_force().measure_ids


def protocol(code: str) -> Protocol:
    """The protocol of a code like ``starter@1``. Raises ``KeyError`` for one that is not kept."""
    return in_force().protocols[code]


def _rows() -> Key:
    with connection.cursor() as cursor:
        sql, values = _statement()
        cursor.execute(sql, values)
        return tuple(cursor.fetchall())


@cache
def _statement() -> tuple[str, tuple[Any, ...]]:
    """The one statement that every page asks first, written once. A switch's state is its mark.

    The protocols that some episode follows stand in an index of their own.
    """
    fields = ("kind", "code", "version", "pk", "sha256")
    measures = MeasureVersion.objects.annotate(kind=Value("measure")).values_list(*fields)
    instruments = InstrumentVersion.objects.annotate(kind=Value("instrument")).values_list(*fields)
    protocols = ProtocolVersion.objects.annotate(kind=Value("protocol")).values_list(*fields)
    norms = NormVersion.objects.annotate(kind=Value("norm")).values_list(*fields)
    switches = Switch.objects.annotate(
        kind=Value("switch"), version=Value(0), sha256=F("state")
    ).values_list(*fields)
    taken = Episode.objects.order_by().values_list(
        Value("taken"), "protocol", Value(0), Value(0), Value("")
    )
    rows = measures.union(instruments, protocols, norms, switches, taken.distinct(), all=True)
    rows = rows.order_by("kind", "code", "version")
    return rows.query.sql_with_params()


@lru_cache(maxsize=4)
def _built(key: Key) -> InForce:
    measures = {code: (ident, mark) for kind, code, _, ident, mark in key if kind == "measure"}
    instruments = {code: ident for kind, code, _, ident, _ in key if kind == "instrument"}
    protocols = {
        f"{code}@{version}": (ident, mark)
        for kind, code, version, ident, mark in key
        if kind == "protocol"
    }
    entered = {code: (ident, mark) for kind, code, _, ident, mark in key if kind == "norm"}
    newest = _measures({ident for ident, _ in measures.values()})
    norms = _norms({ident for ident, _ in entered.values()})
    marks = [mark for _, mark in (*measures.values(), *entered.values())]
    return InForce(
        measures=newest,
        measure_ids={code: ident for code, (ident, _) in measures.items()},
        instruments=_instruments(instruments.values()),
        instrument_ids=instruments,
        protocols=_protocols(newest, norms),
        protocol_ids={code: ident for code, (ident, _) in protocols.items()},
        rules={code: _mark([RULES, mark, *marks]) for code, (_, mark) in protocols.items()},
        norms=norms,
    )


def _measures(ids: set[int]) -> dict[str, Measure]:
    rows = MeasureVersion.objects.filter(pk__in=ids).order_by("code")
    return {row.code: measure_from(json.loads(row.body), where=str(row)) for row in rows}


def _instruments(ids: Collection[int]) -> dict[str, Instrument]:
    rows = InstrumentVersion.objects.filter(pk__in=ids).order_by("code")
    return {row.code: instrument_from(json.loads(row.body), where=str(row)) for row in rows}


def _norms(ids: Collection[int]) -> tuple[Norm, ...]:
    rows = NormVersion.objects.filter(pk__in=ids).order_by("code")
    return tuple(norm_from(json.loads(row.body), where=str(row)) for row in rows)


def _protocols(measures: Mapping[str, Measure], norms: tuple[Norm, ...]) -> dict[str, Protocol]:
    rows = ProtocolVersion.objects.order_by("code", "version")
    read = {str(row): protocol_from(json.loads(row.body), measures, where=str(row)) for row in rows}
    return {code: with_norms(protocol=one, norms=norms) for code, one in read.items()}


def _mark(parts: list[str]) -> str:
    return sha256(" ".join(parts).encode()).hexdigest()
