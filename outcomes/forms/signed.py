"""A signed visit as it is read: the ledger with its values, limb against limb."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from clinic import clock, words
from outcomes.catalogue.tasks import place
from outcomes.core.entries import LEVER, Taken
from outcomes.core.quantities import unit_sign
from outcomes.core.values import Limb, Measure, ReadingStatus
from outcomes.core.wording import conditions_words, value_words
from outcomes.forms.ledger_asked import Record
from outcomes.forms.ledger_echo import Echo, echo_of
from outcomes.forms.ledger_fields import about_field, was_of
from outcomes.forms.ledger_tests import Test
from outcomes.forms.red_flags import RedFlagForm, red_flag_form
from outcomes.forms.visit_head import VisitHead, head_of
from outcomes.models.record import Reading, RedFlagCheck
from outcomes.queries.clashes import newest_of
from outcomes.queries.visit import VisitSheet, as_entry, as_reading, red_flag_check, signed_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class SignedCell:
    """One limb's signed value. ``note`` says what was corrected or withdrawn, and why."""

    pk: int
    value: str
    more: tuple[str, ...]
    note: str


@dataclass(frozen=True, kw_only=True, slots=True)
class SignedLine:
    """One row of a signed ledger."""

    measure: Measure
    conditions: str
    left: tuple[SignedCell, ...]
    right: tuple[SignedCell, ...]
    whole: tuple[SignedCell, ...]
    echo: Echo


def signed_lines(*, sheet: VisitSheet, rows: Sequence[Reading]) -> list[SignedLine]:
    """The rows of a signed visit in the order of a visit, each judged by the same core."""
    groups: dict[tuple[str, str], list[Reading]] = {}
    for row in rows:
        groups.setdefault((row.measure, row.comparison_key), []).append(row)
    mine = {row.pk for row in rows}
    record = Record(
        measures=sheet.measures,
        protocols=sheet.in_force.protocols,
        knees=sheet.knees,
        history=[reading for reading in sheet.history if reading.ref not in mine],
        on=sheet.visit.date,
    )
    tests = {key: _test(rows=found, sheet=sheet) for key, found in groups.items()}
    typed = [reading for test in tests.values() for reading in test.readings(on=record.on)]
    return [
        SignedLine(
            measure=sheet.measures[measure],
            conditions=conditions_words(measure=sheet.measures[measure], key=key),
            left=_cells(groups[measure, key], Limb.LEFT, sheet),
            right=_cells(groups[measure, key], Limb.RIGHT, sheet),
            whole=_cells(groups[measure, key], Limb.NONE, sheet),
            echo=echo_of(test=tests[measure, key], record=record, typed=typed),
        )
        for measure, key in sorted(groups, key=_place)
    ]


def _place(found: tuple[str, str]) -> tuple[tuple[int, str, int], str]:
    """The order of a visit; what was seen in a task stands behind what leads it."""
    code, key = found
    return place(code=code, key=key), key


def _test(*, rows: Sequence[Reading], sheet: VisitSheet) -> Test:
    """The rows of one test as if they had just been typed."""
    measure = sheet.measures[rows[0].measure]
    limbs = (Limb.LEFT, Limb.RIGHT) if measure.per_limb else (Limb.NONE,)
    there = {Limb(row.limb): as_entry(row=row) for row in rows if row.kind != "withdrawn"}
    return Test(
        row=measure.code,
        measure=measure,
        conditions=rows[0].conditions,
        key=rows[0].comparison_key,
        taken={limb: Taken(entry=there.get(limb)) for limb in limbs},
        testers={Limb(row.limb): as_reading(row=row).tester for row in rows},
    )


def _cells(rows: Sequence[Reading], limb: Limb, sheet: VisitSheet) -> tuple[SignedCell, ...]:
    return tuple(
        SignedCell(
            pk=row.pk,
            value=reading_words(row=row, measure=sheet.measures[row.measure]),
            more=tuple(more_words(row=row, measure=sheet.measures[row.measure])),
            note=_note(row),
        )
        for row in rows
        if Limb(row.limb) is limb
    )


def reading_words(*, row: Reading, measure: Measure) -> str:
    """A row's value in words; a withdrawn one says that it was."""
    if row.kind == "withdrawn":
        return "withdrawn"
    return value_words(measure=measure, value=row.value, status=ReadingStatus(row.status))


def more_words(*, row: Reading, measure: Measure) -> list[str]:
    """What stands under a value: what was typed in another unit, trials, details, lever arm."""
    said = []
    if row.typed_unit and row.typed_unit != measure.unit:
        said.append(f"typed {row.typed_text} {unit_sign(unit=row.typed_unit)}")
    if len(row.trials) > 1:
        said.append(f"trials {', '.join(row.trials)}")
    if LEVER in row.details:
        said.append(f"lever arm {row.details[LEVER]} cm")
    for detail in measure.chosen:
        code = row.details.get(detail.code, "")
        said += [choice.label for choice in detail.choices if choice.code == code]
    return said


def _note(row: Reading) -> str:
    if row.kind == "corrected":
        return f"corrected: {row.reason}"
    if row.kind == "withdrawn":
        return row.reason
    return f"unusual: {row.reason}" if row.reason else ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One step of a reading's history, in words."""

    kind: str
    value: str
    typed: str
    conditions: str
    more: tuple[str, ...]
    reason: str
    by: str
    at: str
    limb: str


def steps_of(*, rows: Sequence[Reading], measure: Measure, zone: str) -> list[Step]:
    """A reading's history, the newest step first."""
    return [
        Step(
            kind=row.kind,
            value=reading_words(row=row, measure=measure),
            typed=f"{row.typed_text} {unit_sign(unit=row.typed_unit)}".strip(),
            conditions=conditions_words(measure=measure, key=row.comparison_key),
            more=tuple(more_words(row=row, measure=measure)),
            reason=row.reason,
            by=row.recorded_by.full_name,
            at=_when(row=row, zone=zone),
            limb="" if row.limb == "none" else row.limb,
        )
        for row in reversed(rows)
    ]


def _when(*, row: Reading, zone: str) -> str:
    """When it was measured, kept by a tablet without network, and recorded; of a later step, when
    that was recorded. A day is named once."""
    recorded = words.moment(row.recorded_at, zone=zone)
    if row.kind != "entered":
        return recorded
    steps = [("measured", row.measured_at), ("saved on the tablet", row.saved_on_device_at)]
    told, day = [], ""
    for said, at in [*steps, ("recorded", row.recorded_at)]:
        if at is not None:
            full = words.moment(at, zone=zone)
            told.append(f"{said} {full.removeprefix(day)}")
            day = full.rpartition(" ")[0] + " "
    return ", ".join(told)


class SignedPage:
    """A visit that cannot be typed in: signed, or not opened, missed, cancelled."""

    def __init__(self, *, sheet: VisitSheet) -> None:
        self.sheet = sheet

    @cached_property
    def head(self) -> VisitHead:
        """The band above the rows."""
        return head_of(sheet=self.sheet)

    @cached_property
    def lines(self) -> list[SignedLine]:
        """The rows."""
        rows = signed_rows(visit_id=self.sheet.visit.pk)
        return signed_lines(sheet=self.sheet, rows=rows)

    @property
    def late(self) -> list[tuple[str, str, str]]:
        """What was typed without network and came late: the test, the text, by whom and when."""
        measures, zone = self.sheet.measures, self.sheet.visit.site.zone
        return [
            (
                about_field(one.name, measures),
                one.typed or "emptied",
                f"{one.by}, {words.moment(one.at, zone=zone)} by the tablet’s clock",
            )
            for one in self.sheet.late
        ]

    @property
    def late_until(self) -> int:
        """How far a person has seen what came late."""
        return newest_of(self.sheet.late)

    @property
    def signed(self) -> str:
        """When and by whom it was signed."""
        visit, signer = self.sheet.visit, self.sheet.signer
        if visit.signed_at is None or signer is None:
            return ""
        moment = words.moment(visit.signed_at, zone=visit.site.zone)
        return f"Signed by {signer.full_name}, {moment}"

    @property
    def is_today(self) -> bool:
        """Whether the visit is of today: then an urgent instruction still speaks."""
        return self.sheet.visit.date == clock.today(self.sheet.visit.site)

    @cached_property
    def check(self) -> RedFlagCheck | None:
        """The newest red-flag check."""
        return red_flag_check(visit_id=self.sheet.visit.pk)

    def flags_with(self, texts: Mapping[str, str]) -> RedFlagForm:
        """The red-flag questions with these answers."""
        return red_flag_form(sheet=self.sheet, texts=texts, weeks=self.sheet.weeks)

    @property
    def flags(self) -> RedFlagForm:
        """The red-flag questions as they were last answered."""
        answers = self.check.answers if self.check else {}
        texts = {f"f:{code}": "yes" if yes else "no" for code, yes in answers.items()}
        if self.check:
            texts |= {"f:action": self.check.action, "f:contacted": self.check.contacted}
        return self.flags_with({name: text for name, text in texts.items() if text})

    @property
    def flags_was(self) -> str:
        """What the page shows of them."""
        return was_of({field.name: field.value for field in self.flags.fields})
