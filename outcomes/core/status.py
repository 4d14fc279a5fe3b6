"""Status today: everything that is known of an episode, judged on one day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction

from outcomes.core.dates import weeks_since
from outcomes.core.derived import all_derived
from outcomes.core.errors import real_change
from outcomes.core.history import History
from outcomes.core.horizon import next_change
from outcomes.core.judge import judge_protocol
from outcomes.core.looks import reasons_from
from outcomes.core.readings import conditions_of
from outcomes.core.symmetry import is_other_limb_fair, symmetry, telling_of
from outcomes.core.values import (
    Basis,
    EpisodeFacts,
    Event,
    Examiner,
    GateAside,
    Limb,
    Measure,
    MilestoneResult,
    NotAssessable,
    Pair,
    Protocol,
    Reading,
    Reason,
    RedFlag,
    Restriction,
    Score,
    Symmetry,
    SymmetryForm,
    VisitFacts,
    Why,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """From the value before to the newest under the same key; exact, in the unit or per cent.

    ``real`` is whether it is at least the MDC95; None where no error is published. Where the tester
    changed, the error is one between testers; ``other_tester`` says so of angles, grades and
    hand-held values, which depend on who tests.
    """

    before: Fraction
    after: Fraction
    since: date
    real: bool | None
    other_tester: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class MeasureStatus:
    """What is known of one measure: newest readings of each limb, the newest pair and changes.

    ``whole`` is the newest reading of a measure without limbs. ``symmetry`` is None where the
    measure has none, and says why where it has one that cannot be assessed. ``unworked`` says why
    a limb has no value of a derived measure.
    """

    code: str
    left: Reading | None
    right: Reading | None
    whole: Reading | None
    pair: Pair | None
    symmetry: Symmetry | NotAssessable | None
    change_left: Change | None
    change_right: Change | None
    change_whole: Change | None
    change_symmetry: Change | None
    unworked: Mapping[Limb, NotAssessable] = field(default_factory=dict)

    def of(self, *, limb: Limb) -> Reading | None:
        """The newest reading of that limb."""
        return {Limb.LEFT: self.left, Limb.RIGHT: self.right}.get(limb, self.whole)


@dataclass(frozen=True, kw_only=True, slots=True)
class StatusToday:
    """An episode judged on a day. Everything but ``judged_on`` and the week is kept.

    The kept facts name dates, never ages: they stay the same until ``next_change_on``. Weeks and
    ages in words are worked out when they are shown.
    """

    judged_on: date
    next_change_on: date | None
    measures: tuple[MeasureStatus, ...]
    milestones: tuple[MilestoneResult, ...]
    reasons: tuple[Reason, ...]

    def measure(self, *, code: str) -> MeasureStatus | None:
        """The status of one measure, or None when it was never tested."""
        return next((status for status in self.measures if status.code == code), None)

    @property
    def kept(self) -> tuple[object, ...]:
        """What may be kept until the next change."""
        return self.measures, self.milestones, self.reasons, self.next_change_on


def judge(
    *,
    facts: EpisodeFacts,
    catalogue: Mapping[str, Measure],
    protocol: Protocol,
    readings: Sequence[Reading],
    restrictions: Sequence[Restriction],
    visits: VisitFacts,
    red_flags: Sequence[RedFlag],
    on: date,
    events: Sequence[Event] = (),
    scores: Sequence[Score] = (),
    asides: Sequence[GateAside] = (),
) -> StatusToday:
    """Judge an episode on a day from its whole record. Pure: the same inputs, the same status.

    ``readings`` are all valid readings of the patient (corrections applied, withdrawn ones left
    out); those after the day, and those of measures the catalogue does not have, are not seen.
    Derived measures are worked out here and judged like the others.
    """
    history = history_of(facts=facts, catalogue=catalogue, readings=readings, on=on)
    readings = history.readings
    return StatusToday(
        judged_on=on,
        next_change_on=next_change(
            facts=facts, catalogue=catalogue, protocol=protocol, readings=readings,
            restrictions=restrictions, visits=visits, red_flags=red_flags, on=on, events=events,
            scores=scores,
        ),
        measures=tuple(measure_status(history=history, code=code) for code in history.codes),
        milestones=judge_protocol(
            protocol=protocol, catalogue=catalogue, readings=readings, facts=facts,
            restrictions=restrictions, on=on, scores=scores, events=events,
            unconfirmed=visits.unconfirmed, asides=asides,
        ),
        reasons=reasons_from(
            history=history, restrictions=restrictions, visits=visits, red_flags=red_flags,
            events=events,
        ),
    )  # fmt: skip


def history_of(
    *, facts: EpisodeFacts, catalogue: Mapping[str, Measure], readings: Sequence[Reading], on: date
) -> History:
    """What was read up to a day, with the derived measures worked out."""
    readings, unworked = _worked_out(catalogue=catalogue, readings=readings, on=on)
    return History(facts=facts, catalogue=catalogue, readings=readings, on=on, unworked=unworked)


def _worked_out(
    *, catalogue: Mapping[str, Measure], readings: Sequence[Reading], on: date
) -> tuple[list[Reading], dict[tuple[str, Limb], NotAssessable]]:
    """All readings with the derived ones, and why a limb has no value at all of a derived one."""
    past = [reading for reading in readings if reading.on <= on]
    worked = all_derived(catalogue=catalogue, readings=past)
    made = [one.reading for one in worked if one.reading is not None]
    valued = {(reading.measure, reading.limb) for reading in made}
    unworked = {
        (one.measure, one.limb): one.outcome
        for one in reversed(worked)
        if isinstance(one.outcome, NotAssessable) and (one.measure, one.limb) not in valued
    }
    return [*readings, *made], unworked


def week_on(*, facts: EpisodeFacts, on: date) -> int | None:
    """Completed weeks since the index date: worked out when shown, never kept."""
    return weeks_since(index_date=facts.index_date, on=on)


def measure_status(*, history: History, code: str) -> MeasureStatus:
    """The status of one measure that was read at least once."""
    measure = history.catalogue[code]
    newest = {limb: next(iter(history.all_of(code=code, limb=limb)), None) for limb in Limb}
    pair = None
    if measure.symmetry is not SymmetryForm.NONE:
        pair = telling_of(pairs=history.pairs(code=code))
    return MeasureStatus(
        code=code,
        left=newest[Limb.LEFT],
        right=newest[Limb.RIGHT],
        whole=newest[Limb.NONE],
        pair=pair,
        symmetry=_symmetry(history=history, measure=measure, pair=pair, newest=newest),
        change_left=_limb_change(history=history, measure=measure, limb=Limb.LEFT),
        change_right=_limb_change(history=history, measure=measure, limb=Limb.RIGHT),
        change_whole=_limb_change(history=history, measure=measure, limb=Limb.NONE),
        change_symmetry=_symmetry_change(history=history, measure=measure),
        unworked={limb: why for (named, limb), why in history.unworked.items() if named == code},
    )


def _symmetry(
    *,
    history: History,
    measure: Measure,
    pair: Pair | None,
    newest: Mapping[Limb, Reading | None],
) -> Symmetry | NotAssessable | None:
    if measure.symmetry is SymmetryForm.NONE:
        return None
    knee = history.facts.knee
    if pair is None and not any(newest.values()):
        return None
    if pair is not None:
        fair = is_other_limb_fair(facts=history.facts)
        return symmetry(measure=measure, pair=pair, involved=knee, other_limb_fair=fair)
    mine, other = newest[knee], newest[knee.opposite]
    if mine is None:
        return NotAssessable(why=Why.INVOLVED_NOT_TESTED)
    if other is None:
        return NotAssessable(why=Why.OTHER_LIMB_NOT_TESTED)
    if mine.key != other.key:
        return NotAssessable(why=Why.DIFFERENT_KEY, detail=other.key)
    return NotAssessable(why=Why.NO_PAIR)


def _limb_change(*, history: History, measure: Measure, limb: Limb) -> Change | None:
    line = history.measured(code=measure.code, limb=limb)
    earlier = next((r for r in line[1:] if r.key == line[0].key and r.on < line[0].on), None)
    if earlier is None or earlier.value is None or line[0].value is None:
        return None
    change = tester_change(now=[line[0]], before=[earlier])
    sem = change_sem(measure=measure, of=Basis.VALUE, key=line[0].key, tester=change)
    return Change(
        before=Fraction(earlier.value),
        after=Fraction(line[0].value),
        since=earlier.on,
        real=real_change(before=earlier.value, after=line[0].value, sem=sem),
        other_tester=_told(measure=measure, key=line[0].key, tester=change),
    )


def _symmetry_change(*, history: History, measure: Measure) -> Change | None:
    if measure.symmetry is SymmetryForm.NONE:
        return None
    line = history.symmetries(code=measure.code)
    now = next(line, None)
    if now is None:
        return None
    same = (one for one in line if one.pair.key == now.pair.key and one.pair.on < now.pair.on)
    earlier = next(same, None)
    if earlier is None:
        return None
    tester = tester_change(now=_limbs(now.pair), before=_limbs(earlier.pair))
    sem = symmetry_change_sem(measure=measure, now=now.pair, before=earlier.pair)
    return Change(
        before=earlier.value,
        after=now.value,
        since=earlier.pair.on,
        real=real_change(before=earlier.value, after=now.value, sem=sem),
        other_tester=_told(measure=measure, key=now.pair.key, tester=tester),
    )


def symmetry_change_sem(*, measure: Measure, now: Pair, before: Pair) -> Decimal | None:
    """The error by which two symmetries under one key are told apart, or None if not known."""
    difference = measure.symmetry is SymmetryForm.DIFFERENCE
    return change_sem(
        measure=measure,
        of=Basis.DIFFERENCE if difference else Basis.SYMMETRY,
        key=now.key,
        tester=tester_change(now=_limbs(now), before=_limbs(before)),
    )


def change_sem(*, measure: Measure, of: Basis, key: str, tester: Examiner) -> Decimal | None:
    """The SEM of a test under its conditions, by the same tester or another one."""
    error = measure.error_of(of=of, conditions=conditions_of(key=key), tester=tester)
    return error.sem if error else None


def tester_change(*, now: Sequence[Reading], before: Sequence[Reading]) -> Examiner:
    """Whether somebody else tested. Where one of them is not known it is taken as the same."""
    known = [{reading.tester for reading in readings} - {0} for readings in (now, before)]
    return Examiner.DIFFERENT if all(known) and known[0] != known[1] else Examiner.SAME


def _limbs(pair: Pair) -> list[Reading]:
    return [reading for reading in (pair.left, pair.right) if reading is not None]


def _told(*, measure: Measure, key: str, tester: Examiner) -> bool:
    """Whether a change of tester is told: of angles, grades and hand-held values."""
    handheld = conditions_of(key=key).get("device") == "handheld"
    depends = measure.unit == "deg" or bool(measure.grades or measure.items) or handheld
    return depends and tester is Examiner.DIFFERENT
