"""What a letter is written from: a snapshot of the record in the trade's words, kept as JSON.

The words come from the same modules as the patient page. The snapshot is taken when a letter is
drafted and again only when someone asks for it, so that a letter never changes by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any, Final, cast

from outcomes.charts.beam import Beam
from outcomes.charts.marks import LimbMark
from outcomes.charts.trend_data import EventMark, ThresholdLine, Trend, TrendPoint, TrendSeries
from outcomes.core.values import Limb, Result
from outcomes.letters.verdict import Kind, Verdict


@dataclass(frozen=True, kw_only=True, slots=True)
class Head:
    """The head of one page of the ledger: "Left, other side", with the limb's mark."""

    words: str
    mark: LimbMark


@dataclass(frozen=True, kw_only=True, slots=True)
class StatusRow:
    """One measure: newest value of each limb, symmetry, and what it was before.

    ``whole`` is the value of a measure without limbs; ``method`` are the conditions of the test;
    ``before`` has the previous value with its date; ``finding`` says what was seen.
    """

    code: str
    name: str
    method: str
    left: str
    left_detail: str
    right: str
    right_detail: str
    whole: str
    symmetry: str
    before: str
    change: str
    finding: str
    beam: Beam | None


@dataclass(frozen=True, kw_only=True, slots=True)
class CriterionLine:
    """One criterion with its threshold; ``counts`` is False for one that is shown beside."""

    result: Result
    word: str
    sentence: str
    tested: str
    counts: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Ahead:
    """The milestone worked toward. ``open`` names what is asked for and not recorded as met."""

    code: str
    label: str
    headline: str
    counts: str
    decision: str
    lines: tuple[CriterionLine, ...]
    not_met: tuple[str, ...]
    to_test: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class FlagsAsked:
    """The newest red-flag check: how many of its questions were asked, and each yes in words."""

    on: date
    asked: int
    of: int
    reported: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """The surgeon's limits in words. ``asked_none``: the surgeon was asked and sets none.

    ``aside``: usual limits that a clinician set aside, when, by whom and why.
    """

    in_force: tuple[str, ...]
    later: tuple[str, ...]
    to_confirm: str
    asked_none: bool
    aside: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Attendance:
    """Visits since the operation, injury or first contact."""

    seen: int
    missed: int
    last: date | None
    since: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LetterFacts:
    """Everything that a letter about one knee says of the record, as it stood on a day.

    ``steps`` is the plan of the progressions, a line for each.
    """

    on: date
    site: str
    letterhead: tuple[str, ...]
    patient: str
    born: str
    number: str
    knee: Limb
    happened: str
    done: str
    week: str
    goal: str
    verdict: Verdict
    heads: tuple[Head, Head]
    rows: tuple[StatusRow, ...]
    tested_on: str
    ahead: Ahead
    flags: FlagsAsked | None
    limits: Limits
    unknown: tuple[str, ...]
    attendance: Attendance
    booked_on: date | None
    trend: Trend | None
    protocol: str
    events: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()


KEPT: Final[Mapping[str, type]] = {
    kind.__name__: kind
    for kind in (
        LetterFacts, Head, StatusRow, CriterionLine, Ahead, FlagsAsked, Limits, Attendance,
        Verdict, Beam, Trend, TrendSeries, TrendPoint, ThresholdLine, EventMark,
    )
}  # fmt: skip
"""The values that may stand in a snapshot, by the name they are written under."""

PLAIN: Final[Mapping[str, Callable[[str], object]]] = {
    "Decimal": Decimal,
    "date": date.fromisoformat,
    "Limb": Limb,
    "Result": Result,
    "Kind": Kind,
}
"""What JSON has no form for: written as text beside its name, and read back exactly."""


def to_json(*, facts: LetterFacts) -> dict[str, Any]:
    """The snapshot as JSON."""
    return cast("dict[str, Any]", _out(facts))


def from_json(*, body: Mapping[str, Any]) -> LetterFacts:
    """What ``to_json`` wrote. Raises ``KeyError`` or ``TypeError`` for anything else."""
    return cast("LetterFacts", _in(body))


def _out(value: object) -> object:
    if is_dataclass(value) and not isinstance(value, type):
        name = type(value).__name__
        return {"is": name} | {f.name: _out(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple):
        return [_out(one) for one in value]
    if isinstance(value, StrEnum | Decimal | date):
        text = value.isoformat() if isinstance(value, date) else str(value)
        return {"is": type(value).__name__, "text": text}
    return value


def _in(value: object) -> object:
    if isinstance(value, list):
        return tuple(_in(one) for one in value)
    if not isinstance(value, Mapping):
        return value
    name = value["is"]
    if name in PLAIN:
        return PLAIN[name](value["text"])
    return KEPT[name](**{key: _in(one) for key, one in value.items() if key != "is"})
