"""Status today as the lines of the ledger: limb against limb, with the beam and the change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from clinic import words
from outcomes.catalogue.order import rank
from outcomes.charts.beam import Beam
from outcomes.core.evidence import BODY_MASS
from outcomes.core.grades import kept_by
from outcomes.core.quantities import shown, unit_sign
from outcomes.core.relative import BODY
from outcomes.core.status import MeasureStatus
from outcomes.core.values import (
    EntryKind,
    EpisodeFacts,
    Form,
    Limb,
    Measure,
    MilestoneResult,
    NotAssessable,
    Operator,
    Reading,
    ReadingStatus,
    Symmetry,
    SymmetryForm,
)
from outcomes.core.wording import (
    STATUS,
    Cuts,
    change_words,
    conditions_words,
    error_words,
    finding_words,
    index_change_words,
    reading_words,
    symmetry_words,
    value_words,
    why_words,
)
from outcomes.queries.beams import beam_of
from outcomes.queries.measure_opened import Told, open_measure, relative_words
from outcomes.queries.opened import Opened

NOT_TESTED: Final = "not tested"
NOT_ASSESSABLE: Final = "not assessable"
UNKNOWN: Final = ", error not known"


@dataclass(frozen=True, kw_only=True, slots=True)
class Cell:
    """One limb's newest value; ``detail`` is its date when it is not the newest, and more."""

    value: str = ""
    detail: str = ""

    @property
    def tested(self) -> bool:
        """Whether there is a value of this limb."""
        return self.value not in ("", NOT_TESTED, NOT_ASSESSABLE)


@dataclass(frozen=True, kw_only=True, slots=True)
class LedgerLine:
    """One measure across the two pages. ``whole`` is the value of a measure without limbs."""

    code: str
    name: str
    how: str
    left: Cell
    right: Cell
    whole: str
    beam: Beam | None
    symmetry: str
    change: str
    finding: str
    opened: Opened

    @property
    def opener(self) -> str:
        """Symmetry and change in one line: what is touched to open the number."""
        said = "; ".join(part for part in (self.symmetry, self.change) if part)
        if said.count(UNKNOWN) > 1:
            said = said.replace(UNKNOWN, "", 1)
        return said or ("" if self.whole else "one test")


def ledger_lines(
    *,
    statuses: Sequence[MeasureStatus],
    measures: Mapping[str, Measure],
    facts: EpisodeFacts,
    body_mass: Reading | None,
    milestones: Sequence[MilestoneResult],
    on: date,
) -> tuple[LedgerLine, ...]:
    """Every measure that was read, in the order of a visit.

    ``body_mass`` is given only while it is recent; ``milestones`` name the thresholds that no
    shown index may be rounded across.
    """
    context = _Context(
        facts=facts,
        bodies=_bodies(statuses, body_mass),
        measures=measures,
        newest=newest_day(statuses=statuses),
        on=on,
        cuts=cuts_of(milestones=milestones, form=Form.SYMMETRY),
        mass_cuts=cuts_of(milestones=milestones, form=Form.PER_BODY_MASS),
    )
    return tuple(
        _line(status=status, measure=measures[status.code], context=context)
        for status in sorted(statuses, key=lambda one: (rank(one.code), one.code))
    )


def _bodies(statuses: Sequence[MeasureStatus], mass: Reading | None) -> list[Reading]:
    """What is known of the body: the mass that was given, and the newest height and leg lengths."""
    found = [r for s in statuses if s.code in BODY.values() for r in _readings(s)]
    return [*(r for r in found if r.measure != BODY_MASS), *([mass] if mass else [])]


def cuts_of(*, milestones: Sequence[MilestoneResult], form: Form) -> dict[str, Cuts]:
    """The thresholds on a form of number (an index, a value for each kg), by measure."""
    found: dict[str, list[tuple[Decimal, Operator]]] = {}
    for milestone in milestones:
        for one in milestone.criteria:
            if one.criterion.form is form:
                cut = (one.threshold, one.criterion.operator)
                found.setdefault(one.criterion.measure, []).append(cut)
    return {code: tuple(cuts) for code, cuts in found.items()}


def newest_day(*, statuses: Sequence[MeasureStatus]) -> date | None:
    """The newest day on which anything was measured."""
    return max((r.on for status in statuses for r in _readings(status)), default=None)


def _readings(status: MeasureStatus) -> list[Reading]:
    return [r for r in (status.left, status.right, status.whole) if r is not None]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Context:
    facts: EpisodeFacts
    bodies: Sequence[Reading]
    measures: Mapping[str, Measure]
    newest: date | None
    on: date
    cuts: Mapping[str, Cuts]
    mass_cuts: Mapping[str, Cuts]

    def day(self, day: date) -> str:
        """A date beside a value, empty for the newest day."""
        return "" if day == self.newest else words.short_day(day, today=self.on)


def _line(*, status: MeasureStatus, measure: Measure, context: _Context) -> LedgerLine:
    sign = unit_sign(unit=measure.unit)
    main = status.pair or status.of(limb=context.facts.knee) or status.left or status.right
    key = main.key if main else status.whole.key if status.whole else ""
    told = _told(status=status, measure=measure, context=context)
    return LedgerLine(
        code=status.code,
        name=f"{measure.short_label}, {sign}" if _bare(measure) else measure.short_label,
        how=conditions_words(measure=measure, key=key),
        left=_cell(limb=Limb.LEFT, status=status, told=told, key=key, context=context),
        right=_cell(limb=Limb.RIGHT, status=status, told=told, key=key, context=context),
        whole=_whole(status=status, measure=measure, context=context),
        beam=_beam(status=status, measure=measure, context=context),
        symmetry=_symmetry(status=status, measure=measure, context=context),
        change=_change(status=status, measure=measure, context=context),
        finding=_finding(status=status, measure=measure, facts=context.facts),
        opened=open_measure(told=told),
    )


def _bare(measure: Measure) -> bool:
    """Whether a cell shows a bare number, with the unit beside the measure's name."""
    number = measure.entry in (EntryKind.NUMBER, EntryKind.TORQUE, EntryKind.JUMP)
    return number and measure.per_limb and unit_sign(unit=measure.unit) not in ("", "°")


def _cell(*, limb: Limb, status: MeasureStatus, told: Told, key: str, context: _Context) -> Cell:
    measure = told.measure
    reading = status.of(limb=limb) if measure.per_limb else None
    why = status.unworked.get(limb)
    if reading is None and why is not None:
        return Cell(value=NOT_ASSESSABLE, detail=why_words(why=why, measure=measure))
    if reading is None:
        asked = measure.per_limb and (measure.other_limb_asked or limb is context.facts.knee)
        return Cell(value=NOT_TESTED if asked else "")
    details = [context.day(reading.on)]
    if reading.key != key:
        details.append(conditions_words(measure=measure, key=reading.key))
    if reading.value is not None and reading.status is not ReadingStatus.MEASURED:
        details.append(STATUS[reading.status])
    details.append(relative_words(told=told, reading=reading))
    return Cell(
        value=_value(measure=measure, reading=reading),
        detail=", ".join(detail for detail in details if detail),
    )


def _value(*, measure: Measure, reading: Reading) -> str:
    if reading.value is not None and _bare(measure):
        return shown(value=reading.value, decimals=measure.decimals)
    if reading.value is None:
        return value_words(measure=measure, value=None, status=reading.status)
    return reading_words(measure=measure, reading=replace(reading, status=ReadingStatus.MEASURED))


def _whole(*, status: MeasureStatus, measure: Measure, context: _Context) -> str:
    reading = status.whole
    if reading is None:
        return ""
    value = value_words(measure=measure, value=reading.value, status=reading.status)
    return ", ".join(part for part in (value, context.day(reading.on)) if part)


def _beam(*, status: MeasureStatus, measure: Measure, context: _Context) -> Beam | None:
    found = status.symmetry
    if not isinstance(found, Symmetry):
        return None
    title = _symmetry(status=status, measure=measure, context=context)
    return beam_of(
        measure=measure, symmetry=found, involved=context.facts.knee,
        title=f"{measure.short_label}: {title}",
    )  # fmt: skip


def _symmetry(*, status: MeasureStatus, measure: Measure, context: _Context) -> str:
    found = status.symmetry
    if found is None:
        return ""
    if isinstance(found, NotAssessable):
        why = why_words(why=found, measure=measure, facts=context.facts)
        return f"symmetry not assessable: {why}"
    said = symmetry_words(measure=measure, symmetry=found, cuts=context.cuts.get(measure.code, ()))
    if found.form is not SymmetryForm.DIFFERENCE:
        said = f"LSI {said}"
    if measure.entry is not EntryKind.GRADE:
        unit = unit_sign(unit=measure.unit) if found.form is SymmetryForm.DIFFERENCE else "points"
        said += f", {error_words(sem=found.sem, unit=unit if found.sem else '')}"
    day = context.day(found.pair.on)
    return f"{said} ({day})" if day else said


def _change(*, status: MeasureStatus, measure: Measure, context: _Context) -> str:
    """How the index moved; where there is none, how the involved limb's value moved."""
    ratio = isinstance(status.symmetry, Symmetry) and (
        measure.symmetry is not SymmetryForm.DIFFERENCE
    )
    limb = context.facts.knee if measure.per_limb else Limb.NONE
    by_limb = {Limb.LEFT: status.change_left, Limb.RIGHT: status.change_right}
    change = status.change_symmetry if ratio else by_limb.get(limb, status.change_whole)
    if change is None:
        return ""
    said = (
        index_change_words(change=change) if ratio else change_words(measure=measure, change=change)
    )
    since = f" since {words.short_day(change.since, today=context.on)}"
    end = min((at for at in (said.find(":"), said.find(",")) if at >= 0), default=len(said))
    return said[:end] + since + said[end:]


def _finding(*, status: MeasureStatus, measure: Measure, facts: EpisodeFacts) -> str:
    """In single-leg tasks graded by eye: what the pelvis does on the worse leg, as a sentence.

    A leg whose pelvis a trick kept level is said as well: it is not the better one.
    """
    if not measure.standing or measure.entry is not EntryKind.GRADE:
        return ""
    found = [r for r in (status.left, status.right) if r is not None and r.value is not None]
    if not found:
        return ""
    tricks = {r.limb: kept_by(measure=measure, reading=r) for r in found}
    worst = max(found, key=lambda r: (r.value or 0, tricks[r.limb] != "", r.limb is facts.knee))
    told = [worst, *(r for r in found if r is not worst and tricks[r.limb] and not r.value)]
    return " ".join(
        finding_words(
            measure=measure,
            standing=r.limb,
            grade=measure.word(value=r.value or Decimal(0)),
            trick=tricks[r.limb],
        )
        for r in told
    )


def _told(*, status: MeasureStatus, measure: Measure, context: _Context) -> Told:
    changes = {
        Limb.LEFT: status.change_left,
        Limb.RIGHT: status.change_right,
        Limb.NONE: status.change_whole,
    }
    return Told(
        measure=measure,
        readings=_readings(status),
        facts=context.facts,
        measures=context.measures,
        on=context.on,
        symmetry=status.symmetry,
        index_change=status.change_symmetry,
        changes={limb: change for limb, change in changes.items() if change is not None},
        body=context.bodies,
        cuts=context.cuts.get(measure.code, ()),
        body_cuts=context.mass_cuts.get(measure.code, ()),
    )
