"""What the middle of a row says back while values are typed: the same core, on the draft."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from clinic import words
from outcomes.charts.beam import Beam
from outcomes.core.history import History
from outcomes.core.quantities import unit_sign
from outcomes.core.readings import conditions_of
from outcomes.core.relative import SIGN
from outcomes.core.status import Change, MeasureStatus, measure_status
from outcomes.core.symmetry import is_other_limb_fair, symmetry
from outcomes.core.values import (
    Basis,
    EntryKind,
    Form,
    Limb,
    Measure,
    NotAssessable,
    Reading,
    Symmetry,
    SymmetryForm,
)
from outcomes.core.wording import (
    UNKNOWN,
    change_words,
    error_words,
    finding_words,
    index_change_words,
    symmetry_words,
    why_words,
)
from outcomes.forms.ledger_asked import Asked, Record, asked_of, cuts_of
from outcomes.forms.ledger_tests import DRAFT_REF, Test
from outcomes.queries.beams import beam_of
from outcomes.queries.measure_opened import Told, open_measure, relative_words
from outcomes.queries.opened import Opened
from outcomes.queries.visit import Knee


@dataclass(frozen=True, kw_only=True, slots=True)
class Echo:
    """What is said of one row: the beam, its number, sentences, and what a milestone asks.

    ``index``: the number is a symmetry index. ``before``: what symmetry was, while nothing is
    typed yet. ``opened``: what the numbers were made from, once something is typed.
    """

    beam: Beam | None = None
    headline: str = ""
    index: bool = False
    lines: tuple[str, ...] = ()
    asked: tuple[Asked, ...] = ()
    before: str = ""
    opened: Opened | None = None

    @property
    def opener(self) -> str:
        """What is touched to open the numbers: the headline, else the first sentence there is."""
        asked = next((one.words for one in self.asked), "")
        return self.headline or next(iter(self.lines), self.before) or asked

    @property
    def rest(self) -> tuple[str, ...]:
        """The sentences beside it."""
        return self.lines if self.headline else self.lines[1:]


def echo_of(*, test: Test, record: Record, typed: Sequence[Reading]) -> Echo:
    """The echo of a row. ``typed`` are all values typed in this visit, this row's included."""
    now = test.readings(on=record.on)
    knee = record.knees[0]
    history = History(
        facts=knee.facts,
        catalogue=record.measures,
        readings=[*_same_test(test=test, record=record), *now],
        on=record.on,
    )
    sums = tuple(_sums(test))
    if test.measure.code not in history.codes:
        return Echo(lines=sums)
    status = measure_status(history=history, code=test.measure.code)
    if not now:
        return _echo_before(test=test, record=record, status=status, sums=sums)
    found = _symmetry(test=test, record=record)
    lines = [
        *sums,
        *_finding(test=test, now=now, knee=knee),
        *_symmetry_lines(measure=test.measure, found=found, status=status, knee=knee),
        *_changes(measure=test.measure, status=status, record=record, found=found),
    ]
    told = _told(test=test, record=record, typed=typed, found=found, status=status)
    lines += [
        *_unknown_error(measure=test.measure, key=now[0].key, found=found, lines=lines),
        *_by_body(told=told),
    ]
    asked = tuple(asked_of(test=test, record=record, typed=typed))
    echo = Echo(lines=tuple(lines), asked=asked, opened=open_measure(told=told))
    if not isinstance(found, Symmetry):
        return echo
    headline = symmetry_words(measure=test.measure, symmetry=found, cuts=told.cuts)
    beam = beam_of(measure=test.measure, symmetry=found, involved=knee.limb, title=headline)
    return replace(echo, beam=beam, headline=headline, index=_has_index(test.measure))


def _echo_before(
    *, test: Test, record: Record, status: MeasureStatus, sums: tuple[str, ...]
) -> Echo:
    """While nothing is typed: what symmetry was last time, with what it was made from."""
    before = _before(measure=test.measure, status=status)
    if sums or not before:
        return Echo(lines=sums, before=before)
    told = Told(
        measure=test.measure,
        readings=[one for one in (status.left, status.right) if one is not None],
        facts=record.knees[0].facts,
        measures=record.measures,
        on=record.on,
        symmetry=status.symmetry,
        index_change=status.change_symmetry,
    )
    return Echo(before=before, opened=open_measure(told=told))


def _told(
    *,
    test: Test,
    record: Record,
    typed: Sequence[Reading],
    found: Symmetry | NotAssessable | None,
    status: MeasureStatus,
) -> Told:
    """What the row says of the values of this visit, to be opened."""
    now = sorted(test.readings(on=record.on), key=lambda one: one.limb.value)
    changes = zip(
        (Limb.LEFT, Limb.RIGHT, Limb.NONE),
        (status.change_left, status.change_right, status.change_whole),
        strict=True,
    )
    typed_now = {one.limb for one in now}
    return Told(
        measure=test.measure,
        readings=now,
        facts=record.knees[0].facts,
        measures=record.measures,
        on=record.on,
        symmetry=found,
        index_change=status.change_symmetry if _is_now(status.pair) else None,
        changes={limb: change for limb, change in changes if change and limb in typed_now},
        body=[*record.history, *typed],
        cuts=tuple(cuts_of(test=test, record=record, form=Form.SYMMETRY)),
        body_cuts=tuple(cuts_of(test=test, record=record, form=Form.PER_BODY_MASS)),
    )


def _sums(test: Test) -> Iterator[str]:
    """The running sum of a score that is taken item by item, and how many items are open."""
    for limb, typed in test.typed.items():
        found = [item.score(code=typed.details.get(item.code, "")) for item in test.measure.items]
        points = [one for one in found if one is not None]
        if points:
            rest = len(found) - len(points)
            missing = f", {words.several(rest, 'item')} open" if rest else ""
            yield f"{limb} {sum(points)} of {test.measure.hard[1]}{missing}"


def _same_test(*, test: Test, record: Record) -> list[Reading]:
    """Earlier readings of the same measure under the same key; any key while it is not known."""
    mine = [r for r in record.history if r.measure == test.measure.code]
    touched = test.key is not None or test.touched
    return [r for r in mine if r.key == test.key] if touched else mine


def _before(*, measure: Measure, status: MeasureStatus) -> str:
    """What symmetry was last time, while nothing is typed yet."""
    if not isinstance(status.symmetry, Symmetry):
        return ""
    day = words.day(status.symmetry.pair.on).rsplit(" ", 1)[0]
    index = "LSI " if _has_index(measure) else ""
    return f"{day}: {index}{symmetry_words(measure=measure, symmetry=status.symmetry)}"


def _symmetry(*, test: Test, record: Record) -> Symmetry | NotAssessable | None:
    pair = test.pair(on=record.on)
    if pair is None or test.measure.symmetry is SymmetryForm.NONE:
        return None
    facts = record.knees[0].facts
    return symmetry(
        measure=test.measure,
        pair=pair,
        involved=facts.knee,
        other_limb_fair=is_other_limb_fair(facts=facts),
    )


def _finding(*, test: Test, now: Sequence[Reading], knee: Knee) -> Iterator[str]:
    """In single-leg tasks the finding is a sentence, the followed side first."""
    if not (test.measure.standing and test.measure.entry is EntryKind.GRADE):
        return
    for reading in sorted(now, key=lambda r: r.limb is not knee.limb):
        if reading.value is not None:
            grade = test.measure.word(value=reading.value)
            said = finding_words(measure=test.measure, standing=reading.limb, grade=grade)
            yield from [said] if said else []
        for detail in test.measure.details:
            code = reading.details.get(detail.code, "")
            if code in detail.spoils:
                label = next(c.label for c in detail.choices if c.code == code)
                yield f"Not level in itself: {label} ({reading.limb})."


def _symmetry_lines(
    *,
    measure: Measure,
    found: Symmetry | NotAssessable | None,
    status: MeasureStatus,
    knee: Knee,
) -> Iterator[str]:
    index = _has_index(measure)
    if isinstance(found, NotAssessable):
        why = why_words(why=found, measure=measure, facts=knee.facts)
        yield f"{'LSI' if index else 'Symmetry'} not assessable: {why}"
    if not isinstance(found, Symmetry) or measure.entry is EntryKind.GRADE:
        return
    said = "LSI" if index else ""
    change = status.change_symmetry
    if index and change is not None and _is_now(status.pair):
        said += f", {_since(index_change_words(change=change), change)}"
    if found.sem is not None:
        unit = "" if index else unit_sign(unit=measure.unit)
        error = error_words(sem=found.sem, unit=unit)
        said = f"{said}; {error}" if said else error
    if said:
        yield said


def _has_index(measure: Measure) -> bool:
    return measure.symmetry in (SymmetryForm.RATIO, SymmetryForm.INVERTED_RATIO)


def _since(said: str, change: Change) -> str:
    """A change with its day; that an error is not known is said once, at the end of the row."""
    told = said.replace(f", {UNKNOWN}", "")
    day = words.day(change.since).rsplit(" ", 1)[0]
    end = min((at for at in (told.find(":"), told.find(",")) if at >= 0), default=len(told))
    return f"{told[:end]} since {day}{told[end:]}"


def _is_now(pair: object) -> bool:
    refs = [getattr(getattr(pair, side, None), "ref", 0) for side in ("left", "right")]
    return all(ref >= DRAFT_REF for ref in refs)


def _changes(
    *,
    measure: Measure,
    status: MeasureStatus,
    record: Record,
    found: Symmetry | NotAssessable | None,
) -> Iterator[str]:
    """How the followed sides moved since last time; an index speaks for itself."""
    if _has_index(measure) and isinstance(found, Symmetry):
        return
    limbs = [knee.limb for knee in record.knees] if measure.per_limb else [Limb.NONE]
    changes = {
        Limb.LEFT: status.change_left,
        Limb.RIGHT: status.change_right,
        Limb.NONE: status.change_whole,
    }
    for limb in limbs:
        newest, change = status.of(limb=limb), changes[limb]
        if change is None or newest is None or newest.ref < DRAFT_REF:
            continue
        alone = limb is Limb.NONE or (len(limbs) == 1 and not measure.other_limb_asked)
        side = "" if alone else f"{limb} "
        yield side + _since(change_words(measure=measure, change=change), change)


def _unknown_error(
    *, measure: Measure, key: str, found: Symmetry | NotAssessable | None, lines: Sequence[str]
) -> Iterator[str]:
    """Said once a row where a number was told whose error is not published."""
    of = Basis.VALUE
    if isinstance(found, Symmetry):
        of = Basis.SYMMETRY if _has_index(measure) else Basis.DIFFERENCE
    numbers = bool(lines) or isinstance(found, Symmetry)
    error = measure.error_of(of=of, conditions=conditions_of(key=key))
    if numbers and measure.entry is not EntryKind.GRADE and error is None:
        yield UNKNOWN


def _by_body(*, told: Told) -> Iterator[str]:
    """The values relative to the body (N·m/kg, % of height), where that is recent enough."""
    relative = told.measure.relative
    if relative is None:
        return
    sign = SIGN[relative]
    said = [
        f"{one.limb} {value.removesuffix(sign).rstrip()}"
        for one in told.readings
        if (value := relative_words(told=told, reading=one))
    ]
    if said:
        yield f"{sign}: {', '.join(said)}"
