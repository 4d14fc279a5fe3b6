"""Symmetry against the week over a caseload: points, thresholds, and a title with denominators."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Final

from clinic import words
from outcomes.charts.caseload import Caseload, CaseloadPoint
from outcomes.charts.trend_data import ThresholdLine
from outcomes.core.values import Criterion, Form, Protocol
from outcomes.queries.caseload import Line
from outcomes.queries.caseload_words import symmetry

MEASURES: Final[Mapping[str, str]] = {"quadriceps": "quadriceps_torque", "hop": "single_hop"}
NAMES: Final[Mapping[str, str]] = {"quadriceps": "Quadriceps symmetry", "hop": "Hop symmetry"}


def milestone_labels(protocols: Iterable[Protocol]) -> dict[str, str]:
    """The label of each milestone code, in the order of the protocols; the last one counts."""
    return {m.code: m.label for protocol in protocols for m in protocol.milestones}


def symmetry_cuts(protocols: Iterable[Protocol]) -> frozenset[Decimal]:
    """Every threshold that a symmetry index is judged by."""
    return frozenset(c.value for _, c in _criteria(protocols))


def _criteria(protocols: Iterable[Protocol]) -> list[tuple[str, Criterion]]:
    return [
        (milestone.label, criterion)
        for protocol in protocols
        for milestone in protocol.milestones
        for criterion in milestone.criteria
        if criterion.form is Form.SYMMETRY
    ]


def thresholds(*, of: str, protocols: Iterable[Protocol]) -> tuple[ThresholdLine, ...]:
    """What the milestones ask of this symmetry, the least first; ``sources`` says why."""
    asked = _asked(of=of, protocols=protocols)
    return tuple(
        ThresholdLine(value=value, label=f"{label.lower()} asks {value:f} %")
        for value, (label, _) in sorted(asked.items())
    )


def sources(*, of: str, protocols: Iterable[Protocol]) -> list[str]:
    """Where each threshold comes from."""
    asked = _asked(of=of, protocols=protocols)
    return [
        f"{label} asks {value:f} %: {criterion.sources[0].text}"
        for value, (label, criterion) in sorted(asked.items())
    ]


def _asked(*, of: str, protocols: Iterable[Protocol]) -> dict[Decimal, tuple[str, Criterion]]:
    """Each threshold of hard criteria once, with the first milestone that asks for it."""
    found: dict[Decimal, tuple[str, Criterion]] = {}
    for label, criterion in _criteria(protocols):
        if criterion.measure == MEASURES[of] and criterion.hard:
            found.setdefault(criterion.value, (label, criterion))
    return found


def spread(
    *, of: str, lines: Sequence[Line], days: Mapping[int, date], protocols: Sequence[Protocol]
) -> Caseload:
    """Every line that has an index and a week, as points; the title says of how many."""
    asked = thresholds(of=of, protocols=protocols)
    cuts = symmetry_cuts(protocols)
    points = [_point(of=of, line=line, on=days[line.site_id], cuts=cuts) for line in lines]
    drawn = tuple(point for point in points if point is not None)
    return Caseload(
        title=_title(of=of, points=drawn, all_of=len(lines), asked=asked),
        points=drawn,
        value_axis=f"{NAMES[of].lower()} (LSI), %",
        week_axis="week",
        thresholds=asked,
    )


def _point(*, of: str, line: Line, on: date, cuts: frozenset[Decimal]) -> CaseloadPoint | None:
    lsi = line.quadriceps_lsi if of == "quadriceps" else line.hop_lsi
    if lsi is None or line.index_date is None or on < line.index_date:
        return None
    said = symmetry(
        lsi=lsi,
        tested_on=line.quadriceps_on if of == "quadriceps" else line.hop_on,
        until=line.quadriceps_until if of == "quadriceps" else line.hop_until,
        why="",
        on=on,
        cuts=cuts,
    )
    return CaseloadPoint(
        week=(on - line.index_date).days // 7,
        value=lsi,
        shown=said.sentence,
        label=f"{line.patient}, {line.knee} knee",
        needs_look=bool(line.look_rank),
    )


def _title(
    *, of: str, points: Sequence[CaseloadPoint], all_of: int, asked: Sequence[ThresholdLine]
) -> str:
    said = f"{NAMES[of]} of {len(points)} of {words.several(all_of, 'episode')}"
    if not points or not asked:
        return said
    top = asked[-1].value
    reach = sum(point.value >= top for point in points)
    return f"{said}: {reach} of {len(points)} at least {top:f} %"


def left_out(*, of: str, lines: Sequence[Line], days: Mapping[int, date]) -> str:
    """What the drawing cannot show, counted: not tested, not assessable, before day 0, old."""
    untested = no_index = early = old = 0
    for line in lines:
        lsi, until, why = (
            (line.quadriceps_lsi, line.quadriceps_until, line.quadriceps_why)
            if of == "quadriceps"
            else (line.hop_lsi, line.hop_until, line.hop_why)
        )
        on = days[line.site_id]
        if lsi is None:
            untested, no_index = untested + (not why), no_index + bool(why)
        elif line.index_date is None or on < line.index_date:
            early += 1
        else:
            old += until is not None and until < on
    return (
        f"Not drawn: {untested} not tested, {no_index} not assessable, "
        f"{early} tested but without a week. Of those drawn, {old} out of date. "
        "Weeks count from the operation, without surgery from the injury."
    )
