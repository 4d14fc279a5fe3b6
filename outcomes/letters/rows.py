"""The status table of a letter: the ledger's lines with what was found before. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Final

from clinic import words
from outcomes.core.status import Change, MeasureStatus
from outcomes.core.values import EpisodeFacts, Limb, Measure, SymmetryForm
from outcomes.core.wording import (
    Cuts,
    change_words,
    cut_words,
    error_words,
    index_change_words,
    value_words,
)
from outcomes.letters.facts import StatusRow
from outcomes.queries.ledger_lines import LedgerLine

LEFT_OUT: Final = ("body_mass",)
"""Measures that a letter does not list: they are in the values of others."""
DIFFERENCES: Final = (SymmetryForm.DIFFERENCE, SymmetryForm.NONE)


def status_rows(
    *,
    lines: Sequence[LedgerLine],
    statuses: Sequence[MeasureStatus],
    measures: Mapping[str, Measure],
    facts: EpisodeFacts,
    cuts: Mapping[str, Cuts],
    on: date,
) -> tuple[StatusRow, ...]:
    """Every measure that was read, in the order of the ledger, with the value before."""
    by_code = {status.code: status for status in statuses}
    return tuple(
        _row(
            line=line,
            status=by_code[line.code],
            measure=measures[line.code],
            facts=facts,
            cuts=cuts.get(line.code, ()),
            on=on,
        )
        for line in lines
        if line.code not in LEFT_OUT
    )


def _row(
    *,
    line: LedgerLine,
    status: MeasureStatus,
    measure: Measure,
    facts: EpisodeFacts,
    cuts: Cuts,
    on: date,
) -> StatusRow:
    limb, index = _changes(status=status, measure=measure, facts=facts)
    return StatusRow(
        code=line.code,
        name=line.name,
        method=line.how,
        left=line.left.value,
        left_detail=line.left.detail,
        right=line.right.value,
        right_detail=line.right.detail,
        whole=line.whole,
        symmetry=_without_unknown(line.symmetry).removeprefix("symmetry "),
        before=_before(limb=limb, index=index, measure=measure, cuts=cuts, on=on),
        change=_change(limb=limb, index=index, measure=measure),
        finding=line.finding,
        beam=line.beam,
    )


def _changes(
    *, status: MeasureStatus, measure: Measure, facts: EpisodeFacts
) -> tuple[Change | None, Change | None]:
    """How the involved limb's value and, for a ratio, the index moved."""
    mine = facts.knee if measure.per_limb else Limb.NONE
    by_limb = {Limb.LEFT: status.change_left, Limb.RIGHT: status.change_right}
    index = None if measure.symmetry in DIFFERENCES else status.change_symmetry
    return by_limb.get(mine, status.change_whole), index


def _before(
    *, limb: Change | None, index: Change | None, measure: Measure, cuts: Cuts, on: date
) -> str:
    """The value before and its date: "102.0 N·m, LSI 68 % (5 Nov)"."""
    parts: dict[date, list[str]] = {}
    if limb is not None:
        value = value_words(measure=measure, value=Decimal(limb.before.numerator)
                            / Decimal(limb.before.denominator))  # fmt: skip
        parts.setdefault(limb.since, []).append(value)
    if index is not None:
        number = cut_words(value=index.before, decimals=0, cuts=cuts)
        parts.setdefault(index.since, []).append(f"LSI {number} %")
    return "; ".join(
        f"{', '.join(said)} ({words.short_day(day, today=on)})" for day, said in parts.items()
    )


def _change(*, limb: Change | None, index: Change | None, measure: Measure) -> str:
    """How it moved since then."""
    if index is not None:
        return _without_unknown(index_change_words(change=index))
    return "" if limb is None else _without_unknown(change_words(measure=measure, change=limb))


def _without_unknown(said: str) -> str:
    """The words without "error not known": a letter says once where no error is known."""
    return said.replace(f", {error_words(sem=None)}", "")
