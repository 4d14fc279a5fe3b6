"""Symmetry against the week of the test over a caseload, with thresholds and denominators."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Final, NamedTuple

from clinic import words
from outcomes.charts.caseload import Caseload, CaseloadPoint
from outcomes.charts.trend_data import ThresholdLine
from outcomes.core.dates import weeks_since
from outcomes.core.values import Criterion, Form, Protocol
from outcomes.queries.caseload import Line
from outcomes.queries.caseload_words import symmetry

MEASURES: Final[Mapping[str, str]] = {"quadriceps": "quadriceps_torque", "hop": "single_hop"}
NAMES: Final[Mapping[str, str]] = {"quadriceps": "Quadriceps symmetry", "hop": "Hop symmetry"}


def milestone_labels(protocols: Iterable[Protocol]) -> dict[str, str]:
    """The label of each milestone code over all protocols; two protocols may label one twice."""
    found: dict[str, list[str]] = {}
    for protocol in protocols:
        for one in protocol.milestones:
            labels = found.setdefault(one.code, [])
            if one.label not in labels:
                labels.append(one.label)
    return {code: ", or ".join(labels) for code, labels in found.items()}


def labels_by_protocol(protocols: Iterable[Protocol]) -> dict[str, dict[str, str]]:
    """The label of each milestone code, for each protocol by its own code."""
    return {one.code: milestone_labels([one]) for one in protocols}


def symmetry_cuts(protocols: Iterable[Protocol]) -> frozenset[Decimal]:
    """Every threshold that a symmetry index is judged by."""
    return frozenset(c.value for _, c in _criteria(protocols))


def _criteria(protocols: Iterable[Protocol]) -> list[tuple[str, Criterion]]:
    """Each symmetry asked for, with who asks; the protocol too where more than one is followed."""
    several = list(protocols)
    return [
        (f"{milestone.label} ({protocol.named})" if several[1:] else milestone.label, criterion)
        for protocol in several
        for milestone in protocol.milestones
        for criterion in milestone.criteria
        if criterion.form is Form.SYMMETRY
    ]


def thresholds(*, of: str, protocols: Iterable[Protocol]) -> tuple[ThresholdLine, ...]:
    """What the milestones ask of this symmetry, the least first; ``sources`` says why."""
    asked = _asked(of=of, protocols=protocols)
    return tuple(
        ThresholdLine(value=value, label=f"{label[:1].lower()}{label[1:]} asks {value:f} %")
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


def followed_by(*, lines: Iterable[Line], protocols: Sequence[Protocol]) -> list[Protocol]:
    """The protocols that some of the lines follow; all of them where there is no line."""
    mine = {line.protocol for line in lines}
    return [one for one in protocols if one.code in mine] or list(protocols)


def spread(
    *, of: str, lines: Sequence[Line], days: Mapping[int, date], protocols: Sequence[Protocol]
) -> Caseload:
    """Every line that has an index and a week, as points; the title says of how many.

    The thresholds drawn are those of the protocols that the lines follow.
    """
    asked = thresholds(of=of, protocols=followed_by(lines=lines, protocols=protocols))
    cuts = symmetry_cuts(protocols)
    points = [_point(of=of, line=line, on=days[line.site_id], cuts=cuts) for line in lines]
    drawn = tuple(point for point in points if point is not None)
    return Caseload(
        title=_title(of=of, points=drawn, all_of=len(lines), asked=asked),
        points=drawn,
        value_axis=f"{NAMES[of].lower()} (LSI), %",
        week_axis="week of the test",
        thresholds=asked,
    )


class _Tested(NamedTuple):
    """The last test of one symmetry of a line."""

    lsi: Decimal | None
    on: date | None
    until: date | None
    why: str | None

    def week(self, line: Line) -> int | None:
        """The week in which it was tested; None before day 0 and without one."""
        return weeks_since(index_date=line.index_date, on=self.on) if self.on else None


def _tested(*, of: str, line: Line) -> _Tested:
    if of == "quadriceps":
        parts = (line.quadriceps_lsi, line.quadriceps_on, line.quadriceps_until)
        return _Tested(*parts, line.quadriceps_why)
    return _Tested(line.hop_lsi, line.hop_on, line.hop_until, line.hop_why)


def _point(*, of: str, line: Line, on: date, cuts: frozenset[Decimal]) -> CaseloadPoint | None:
    test = _tested(of=of, line=line)
    week = test.week(line)
    if test.lsi is None or week is None:
        return None
    said = symmetry(lsi=test.lsi, tested_on=test.on, until=test.until, why="", on=on, cuts=cuts)
    return CaseloadPoint(
        week=week,
        value=test.lsi,
        shown=said.sentence,
        label=f"{line.patient}, {line.knee} knee",
        needs_look=bool(line.look_rank),
        opens=f"/episodes/{line.uid}/numbers/{MEASURES[of]}?on={test.on}",
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
    """What the drawing cannot show, counted, and how much of what it shows is out of date."""
    count = Counter(_fate(of=of, line=line, on=days[line.site_id]) for line in lines)
    return (
        f"Not drawn: {count['untested']} not tested, {count['no index']} not assessable, "
        f"{count['no week']} tested before the operation or injury, or without its date. "
        f"Of those drawn, {count['old']} out of date."
    )


def _fate(*, of: str, line: Line, on: date) -> str:
    test = _tested(of=of, line=line)
    if test.lsi is None:
        return "no index" if test.why else "untested"
    if test.week(line) is None:
        return "no week"
    return "old" if test.until is not None and test.until < on else "drawn"
