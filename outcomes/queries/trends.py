"""The course of one measure: both limbs and their symmetry over the weeks, one comparison key."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from clinic import words
from outcomes.catalogue.order import rank
from outcomes.charts.marks import LimbMark
from outcomes.charts.trend_data import EventMark, ThresholdLine, Trend, TrendPoint, TrendSeries
from outcomes.core.derived import derived_of
from outcomes.core.errors import margin, real_change
from outcomes.core.quantities import plain, unit_sign
from outcomes.core.readings import conditions_of
from outcomes.core.status import symmetry_change_sem
from outcomes.core.symmetry import is_other_limb_fair, pairs_of, symmetry
from outcomes.core.values import (
    Basis,
    Better,
    EpisodeFacts,
    Form,
    Limb,
    Measure,
    MilestoneResult,
    Reading,
    ReadingStatus,
    Symmetry,
    SymmetryForm,
)
from outcomes.core.wording import Cuts, conditions_words, symmetry_words, value_words
from outcomes.queries.opened import source_lines
from outcomes.queries.result_words import asked_words

RATIOS = (SymmetryForm.RATIO, SymmetryForm.INVERTED_RATIO)
DIRECTION = {
    Better.HIGHER: "higher is better",
    Better.LOWER: "lower is better",
    Better.MATCH_OTHER: "alike on both sides is the target",
    Better.TOWARD_ZERO: "nearer to zero is better",
}
CODE = "CODE"
"""Where the measure stands in an address."""
FIRST = "quadriceps_torque"
"""The course that is shown first where there is one."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Course:
    """One chart with what belongs under it: thresholds with their sources, what was left out."""

    code: str
    chart: Trend
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ground:
    """What every course of an episode is drawn from. ``numbers`` is the address of its numbers."""

    facts: EpisodeFacts
    readings: Sequence[Reading]
    measures: Mapping[str, Measure]
    milestones: Sequence[MilestoneResult]
    marks: Mapping[Limb, LimbMark]
    heads: Mapping[Limb, str]
    happened: Sequence[tuple[date, str]]
    numbers: str
    on: date

    def opens(self, *, code: str, day: date) -> str:
        """The address of what stands behind the values of a day."""
        return f"{self.numbers.replace(CODE, code)}?on={day.isoformat()}"


def courses_there_are(
    *, days: Mapping[tuple[str, str], int], measures: Mapping[str, Measure]
) -> tuple[str, ...]:
    """The measures that were read on at least two days under one key, in the order of a visit.

    One that is worked out is among them where all of its inputs of the day are.
    """
    found = {code for (code, _), count in days.items() if count > 1 and code in measures}
    found |= {
        measure.code
        for measure in measures.values()
        if measure.derived is not None and found.issuperset(measure.derived.fresh)
    }
    return tuple(sorted(found, key=lambda code: (rank(code), code)))


def first_course(*, codes: Sequence[str], asked: str) -> str:
    """The course to show: the one asked for if there is one, else quadriceps, else the last."""
    if asked in codes or not codes:
        return asked if codes else ""
    return FIRST if FIRST in codes else codes[-1]


def course_of(*, ground: Ground, code: str) -> Course | None:
    """The course of one measure under its newest key with two days, or None without one."""
    measure = ground.measures.get(code)
    if measure is None:
        return None
    mine = [r for r in _values(ground=ground, measure=measure) if r.on <= ground.on]
    key = _key(mine)
    if key is None:
        return None
    line = [r for r in mine if r.key == key]
    indexes = _symmetries(ground=ground, measure=measure, line=line)
    left_out = len(mine) - len(line)
    return Course(
        code=code,
        chart=_chart(ground=ground, measure=measure, key=key, line=line, indexes=indexes),
        notes=(
            *_how_notes(measure=measure, key=key),
            *_threshold_notes(ground=ground, measure=measure, key=key, indexes=indexes),
            *(
                [f"{words.several(left_out, 'value')} under other conditions not drawn."]
                if left_out
                else []
            ),
        ),
    )


def _values(*, ground: Ground, measure: Measure) -> list[Reading]:
    """What was read, or worked out of what was read."""
    if measure.derived is None:
        return [one for one in ground.readings if one.measure == measure.code]
    worked = derived_of(measure=measure, catalogue=ground.measures, readings=ground.readings)
    return [one.reading for one in worked if one.reading is not None]


def _key(readings: Iterable[Reading]) -> str | None:
    """The key of the newest reading that was used on at least two days."""
    days: dict[str, set[date]] = {}
    for reading in readings:
        days.setdefault(reading.key, set()).add(reading.on)
    lines = [(max(seen), key) for key, seen in days.items() if len(seen) > 1]
    return max(lines)[1] if lines else None


def _symmetries(*, ground: Ground, measure: Measure, line: Sequence[Reading]) -> list[Symmetry]:
    """Every index of the line, oldest first; none for angles, grades and scores."""
    if measure.symmetry not in RATIOS:
        return []
    fair = is_other_limb_fair(facts=ground.facts)
    found = (
        symmetry(measure=measure, pair=pair, involved=ground.facts.knee, other_limb_fair=fair)
        for pair in reversed(pairs_of(measure=measure, readings=line))
    )
    one_a_day = {one.pair.on: one for one in found if isinstance(one, Symmetry)}
    return list(one_a_day.values())


def _chart(
    *,
    ground: Ground,
    measure: Measure,
    key: str,
    line: Sequence[Reading],
    indexes: Sequence[Symmetry],
) -> Trend:
    sign = unit_sign(unit=measure.unit) or ("grade" if measure.grades else "points")
    limbs = {
        limb: _limb_series(ground=ground, measure=measure, limb=limb, line=line) for limb in Limb
    }
    return Trend(
        title=_title(ground=ground, measure=measure, line=line, indexes=indexes),
        left=limbs[Limb.LEFT],
        right=limbs[Limb.RIGHT] or limbs[Limb.NONE],
        symmetry=_index_series(ground=ground, measure=measure, indexes=indexes),
        limbs_axis=sign,
        symmetry_axis="LSI, %",
        time_axis="date"
        if ground.facts.index_date is None
        else f"week after {_start(ground.facts)}",
        thresholds=_thresholds(ground=ground, measure=measure, key=key, indexes=indexes),
        events=_events(ground=ground, line=line),
        grade_words=measure.grades,
    )


def _start(facts: EpisodeFacts) -> str:
    return "injury" if facts.kind == "without_surgery" else "surgery"


def _at(ground: Ground, day: date) -> Decimal | date:
    """The place of a day on the line of time: weeks since the index date, else the day itself."""
    if ground.facts.index_date is None:
        return day
    weeks = Decimal((day - ground.facts.index_date).days) / 7
    return weeks.quantize(Decimal("0.01"))


def _when(ground: Ground, day: date) -> str:
    start = ground.facts.index_date
    if start is None:
        return words.day(day)
    return f"{words.since_index(index_date=start, on=day)}, {words.day(day)}"


def _limb_series(
    *, ground: Ground, measure: Measure, limb: Limb, line: Sequence[Reading]
) -> TrendSeries | None:
    newest = {r.on: r for r in sorted(line, key=lambda r: (r.on, r.ref)) if r.limb is limb}
    if not newest:
        return None
    error = measure.error_of(of=Basis.VALUE, conditions=conditions_of(key=line[0].key))
    points = [
        TrendPoint(
            at=_at(ground, day),
            when=_when(ground, day),
            value=reading.value if reading.status is ReadingStatus.MEASURED else None,
            shown=value_words(measure=measure, value=reading.value, status=reading.status),
            error=margin(sem=error.sem) if error else None,
            opens=ground.opens(code=measure.code, day=day),
        )
        for day, reading in newest.items()
    ]
    name = measure.short_label if limb is Limb.NONE else ground.heads[limb]
    return TrendSeries(name=name, points=tuple(points), mark=ground.marks.get(limb))


def _index_series(
    *, ground: Ground, measure: Measure, indexes: Sequence[Symmetry]
) -> TrendSeries | None:
    if not indexes:
        return None
    cuts = _cuts(ground=ground, measure=measure)
    points = [
        TrendPoint(
            at=_at(ground, one.pair.on),
            when=_when(ground, one.pair.on),
            value=Decimal(one.value.numerator) / Decimal(one.value.denominator),
            shown=symmetry_words(measure=measure, symmetry=one, cuts=cuts),
            error=margin(sem=one.sem) if one.sem is not None else None,
            opens=ground.opens(code=measure.code, day=one.pair.on),
        )
        for one in indexes
    ]
    return TrendSeries(name="Symmetry (LSI)", points=tuple(points))


def _cuts(*, ground: Ground, measure: Measure) -> Cuts:
    return tuple(
        (found.threshold, found.criterion.operator)
        for milestone in ground.milestones
        for found in milestone.criteria
        if found.criterion.measure == measure.code and found.criterion.form is Form.SYMMETRY
    )


def _title(
    *,
    ground: Ground,
    measure: Measure,
    line: Sequence[Reading],
    indexes: Sequence[Symmetry],
) -> str:
    """The finding as a sentence, from the first to the newest value."""
    since = [one for one in indexes if _counts(ground=ground, day=one.pair.on)]
    told = since if len(since) > 1 else indexes
    if len(told) > 1:
        cuts = _cuts(ground=ground, measure=measure)
        return _index_title(measure=measure, first=told[0], last=told[-1], cuts=cuts)
    limb = ground.facts.knee if measure.per_limb else Limb.NONE
    mine = [
        r
        for r in sorted(line, key=lambda r: (r.on, r.ref))
        if r.limb is limb and r.value is not None
    ]
    if not mine:
        return measure.label
    side = f", {limb}" if measure.per_limb else ""
    first, last = (value_words(measure=measure, value=r.value) for r in (mine[0], mine[-1]))
    if len(mine) == 1 or mine[0].on == mine[-1].on:
        return f"{measure.short_label}{side}: {last}"
    span = span_words(days=(mine[-1].on - mine[0].on).days)
    if first == last:
        return f"{measure.short_label}{side}: {last}, the same for {span}"
    return f"{measure.short_label}{side}: from {first} to {last} in {span}"


def _counts(*, ground: Ground, day: date) -> bool:
    """Whether a day lies after the operation or injury, from where the finding is told."""
    return ground.facts.index_date is None or day >= ground.facts.index_date


def _index_title(*, measure: Measure, first: Symmetry, last: Symmetry, cuts: Cuts) -> str:
    span = span_words(days=(last.pair.on - first.pair.on).days)
    before, after = (
        symmetry_words(measure=measure, symmetry=one, cuts=cuts) for one in (first, last)
    )
    sem = symmetry_change_sem(measure=measure, now=last.pair, before=first.pair)
    real = real_change(before=first.value, after=last.value, sem=sem)
    subject = f"{measure.short_label} symmetry"
    if before == after:
        return f"{subject} {after}, the same for {span}"
    if real is False:
        return f"{subject} from {before} to {after} in {span}: no real change"
    way = "rises" if last.value > first.value else "falls"
    points = abs(int(after.split()[0]) - int(before.split()[0]))
    unknown = ", error not known" if real is None else ""
    return f"{subject} {way} {words.several(points, 'point')} in {span}{unknown}"


def span_words(*, days: int) -> str:
    """A length of time: days for two weeks, then completed weeks.

    >>> span_words(days=9), span_words(days=65)
    ('9 days', '9 weeks')
    """
    return words.several(days, "day") if days < 14 else words.several(days // 7, "week")


def _thresholds(
    *, ground: Ground, measure: Measure, key: str, indexes: Sequence[Symmetry]
) -> tuple[ThresholdLine, ...]:
    found: dict[tuple[Decimal, str], list[str]] = {}
    for milestone in ground.milestones:
        for one in milestone.criteria:
            panel = {Form.SYMMETRY: "symmetry", Form.INVOLVED: "limbs"}.get(one.criterion.form)
            fits = one.criterion.measure == measure.code and one.criterion.key in ("", key)
            if panel and fits and (panel == "limbs" or indexes):
                found.setdefault((one.threshold, panel), []).append(milestone.milestone.label)
    return tuple(
        ThresholdLine(
            value=value,
            label=f"{words.listed(list(dict.fromkeys(names)))}: {plain(value=value)}",
            panel="symmetry" if panel == "symmetry" else "limbs",
        )
        for (value, panel), names in sorted(found.items())
    )


def _how_notes(*, measure: Measure, key: str) -> list[str]:
    """Which way is better, and under which conditions all of these values were taken."""
    how = conditions_words(measure=measure, key=key)
    said = [DIRECTION.get(measure.better, "").capitalize(), f"Tested with: {how}" if how else ""]
    return [f"{line}." for line in said if line]


def _threshold_notes(
    *, ground: Ground, measure: Measure, key: str, indexes: Sequence[Symmetry]
) -> list[str]:
    """Each threshold drawn, with its source."""
    notes: dict[str, None] = {}
    for milestone in ground.milestones:
        for one in milestone.criteria:
            criterion = one.criterion
            drawn = criterion.form is Form.INVOLVED or bool(
                criterion.form is Form.SYMMETRY and indexes
            )
            if criterion.measure == measure.code and drawn and criterion.key in ("", key):
                asked = asked_words(criterion=criterion, measure=measure, threshold=one.threshold)
                source = "; ".join(source_lines(sources=criterion.sources))
                notes[f"{milestone.milestone.label} asks {asked}. {source}"] = None
    return list(notes)


def _events(*, ground: Ground, line: Sequence[Reading]) -> tuple[EventMark, ...]:
    """The operation where there are values from before it, and what happened to this knee."""
    start = ground.facts.index_date
    found = list(ground.happened)
    if start is not None and any(r.on < start for r in line):
        found.append((start, _start(ground.facts)))
    return tuple(
        EventMark(at=_at(ground, day), when=_when(ground, day), label=label)
        for day, label in sorted(found)
    )
