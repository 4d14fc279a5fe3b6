"""Three invented stories as a letter knows them: as usual, slower, and a concern."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from outcomes.charts.beam import Beam
from outcomes.charts.trend_data import EventMark, ThresholdLine, Trend, TrendPoint, TrendSeries
from outcomes.core.values import Limb, Result
from outcomes.letters.content import Envelope
from outcomes.letters.facts import (
    Ahead,
    Attendance,
    CriterionLine,
    FlagsAsked,
    Head,
    LetterFacts,
    Limits,
    StatusRow,
)
from outcomes.letters.verdict import Kind, Verdict

TODAY = date(2026, 11, 25)
ENVELOPE = Envelope(
    to=("Mr Aled Pryce", "Westmoor Hospital"),
    copies=("Dr Oriol Mascaré, Quayside Family Practice", "the patient"),
    signer=("Tess Okafor", "Physiotherapist", "0100 555 014"),
    dated=TODAY,
    signed=False,
    reference="1a2b3c4d",
    replaces="",
)


def row(code: str, **given: str | Beam | None) -> StatusRow:
    """A row of the status table, empty where nothing is given."""
    empty = dict.fromkeys(
        ("name", "method", "left", "left_detail", "right", "right_detail", "whole", "symmetry",
         "before", "change", "finding"), "",
    )  # fmt: skip
    parts: dict[str, Any] = {**empty, "beam": None, **given}
    return StatusRow(code=code, **parts)


def trend() -> Trend:
    """Two values of each limb and of their symmetry, around the operation."""

    def series(name: str, first: str, last: str, **more: Any) -> TrendSeries:
        points = (
            TrendPoint(at=Decimal("-4.00"), when="before", value=None, shown="stopped by pain"),
            TrendPoint(at=Decimal("6.00"), when="week 6", value=Decimal(first), shown=first),
            TrendPoint(
                at=Decimal("15.00"), when="week 15", value=Decimal(last), shown=last,
                error=Decimal("7.402500"),
            ),
        )  # fmt: skip
        return TrendSeries(name=name, points=points, **more)

    return Trend(
        title="Quadriceps symmetry rises 17 points in 9 weeks",
        left=series("Left", "150.0", "158.0", mark="other"),
        right=series("Right", "90.0", "121.0", mark="involved"),
        symmetry=series("Symmetry (LSI)", "60", "77"),
        limbs_axis="N·m",
        symmetry_axis="LSI, %",
        time_axis="week after surgery",
        thresholds=(
            ThresholdLine(value=Decimal(70), label="Running: 70"),
            ThresholdLine(value=Decimal(100), label="Own: 100", panel="limbs"),
        ),
        events=(EventMark(at=Decimal(0), when="12 Aug 2026", label="surgery"),),
    )


QUADRICEPS = row(
    "quadriceps_torque",
    name="Quadriceps, N·m",
    method="fixed dynamometer, knee angle 90°",
    left="158.0",
    left_detail="2.53 N·m/kg",
    right="121.0",
    right_detail="1.94 N·m/kg",
    symmetry="LSI 77 %, error about 7 points",
    before="109.0 N·m, LSI 70 % (4 Nov)",
    change="up 7: no real change",
    beam=Beam(
        left_mark="other",
        right_mark="involved",
        lsi=Decimal("76.58227848101265822784810127"),
        error=Decimal("7.402500"),
        title="Quadriceps: LSI 77 %",
    ),
)
EXTENSION = row(
    "knee_extension",
    name="Extension",
    left="straight",
    right="lacks 1°",
    symmetry="1° short of the other side, error about 3°",
    before="lacks 2° (4 Nov)",
    change="1° more extension: no real change",
    beam=Beam(left_mark="other", right_mark="involved", tilt=0.05, title="Extension: 1° short"),
)


AHEAD = Ahead(
    code="running",
    label="Running",
    headline="Criteria still missing.",
    counts="5 of 7 recorded as met, 2 not tested.",
    decision="",
    lines=(
        CriterionLine(
            result=Result.MET_BORDERLINE,
            word="Recorded as met, borderline",
            sentence="Quadriceps symmetry 77 %, asks at least 70 %.",
            tested="25 Nov",
            counts=True,
        ),
    ),
    not_met=(),
    to_test=("Pain during test", "Pelvic drop, lateral"),
)


def usual(**changes: Any) -> LetterFacts:
    """Ines at week 15: as usual, one criterion borderline, nothing asked of the surgeon."""
    facts = LetterFacts(
        on=TODAY,
        site="Harbour Street",
        letterhead=("Lantern Quay Knee Clinics", "Harbour Street 14"),
        patient="Ines Marlow",
        born="3 May 2001",
        number="H-0412",
        knee=Limb.RIGHT,
        happened="Right knee, operated 12 Aug 2026",
        done="hamstring autograft and meniscal repair",
        week="week 15",
        goal="pivoting or contact sport, handball",
        verdict=Verdict(
            kind=Kind.USUAL,
            line="As usual for week 15.",
            rests_on="no finding for concern, nothing worse, nothing late.",
        ),
        heads=(
            Head(words="Left, other side", mark="other"),
            Head(words="Right, operated", mark="involved"),
        ),
        rows=(EXTENSION, QUADRICEPS),
        tested_on="25 Nov 2026",
        ahead=AHEAD,
        flags=FlagsAsked(on=TODAY, asked=4, of=4, reported=()),
        limits=Limits(
            in_force=("until 9 Dec: impact, no impact",), later=(), to_confirm="", asked_none=False
        ),
        unknown=(),
        attendance=Attendance(seen=11, missed=1, last=TODAY, since="surgery"),
        booked_on=date(2026, 12, 8),
        trend=trend(),
        protocol="Starter protocol, version 1",
    )
    return replace(facts, **changes)


def slower() -> LetterFacts:
    """Week 22: late on flexion, the graft unknown, red flags not asked at the last visit."""
    usual_ahead = usual().ahead
    return usual(
        week="week 22",
        verdict=Verdict(
            kind=Kind.SLOWER,
            line="Slower than usual for week 22: not met four weeks after its earliest date: "
            "Flexion at least 120° (step-down work).",
            rests_on="not met: Flexion at least 120° (step-down work).",
        ),
        ahead=replace(
            usual_ahead, label="Step-down work", not_met=("Flexion", "Effusion"), to_test=()
        ),
        flags=FlagsAsked(on=date(2026, 11, 4), asked=6, of=8, reported=("Knee gave way",)),
        limits=Limits(in_force=(), later=(), to_confirm="", asked_none=True),
        unknown=("the graft",),
        attendance=Attendance(seen=1, missed=0, last=TODAY, since="20 Jul 2026"),
        booked_on=None,
        trend=None,
        rows=(),
        tested_on="",
    )


def concern() -> LetterFacts:
    """Week 7: extension is not there, the surgeon's limits are not confirmed."""
    return usual(
        week="week 7",
        verdict=Verdict(
            kind=Kind.CONCERN,
            line="Concern: extension 8° short at week 7, under 3° gained since 2 Nov 2026.",
            rests_on="1 finding for concern, the one above.",
            code="extension_short_letter",
        ),
        flags=None,
        limits=Limits(
            in_force=(), later=("from 1 Dec: brace, at night",), to_confirm="meniscal repair",
            asked_none=False,
        ),
    )  # fmt: skip
