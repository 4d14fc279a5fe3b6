"""From the facts of a record to the paragraphs and rows of a one-page letter. Pure.

The order is the house's own: the bottom line and the question first, then what it rests on. The
patient's left limb is the left column, always. Nothing here permits or promises.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final

from clinic import words
from outcomes.charts.ledger import Ledger, LedgerRow
from outcomes.charts.trend_data import Trend
from outcomes.letters.facts import (
    Ahead,
    Attendance,
    Head,
    LetterFacts,
    Limits,
    StatusRow,
)
from outcomes.letters.verdict import RULE, Kind

FIGURE: Final = (
    "quadriceps_torque", "single_hop", "timed_hop_6m", "standing_hip_hold",
    "pelvic_drop_forward_heel_touch", "pelvic_drop_lateral_heel_touch", "knee_extension",
    "knee_flexion",
)  # fmt: skip
"""Which pairs the drawing shows first: load before motion (our own choice)."""
DRAWN: Final = 3
TOLD: Final = 4
"""How many events a letter names."""
ALL_MET: Final = "All criteria recorded as met."
CALLED: Final = ("infection_signs", "red_flag_")
"""Reasons for which a letter is too slow: it says who was called."""
NUMBER: Final = {4: "the short four questions", 8: "all eight questions"}
LIMITS_OF_IT: Final = (
    "Symmetry compares two limbs; it does not show how strong both are or what a knee tolerates. "
    "What was not tested is not known."
)
CAUTION: Final = (
    "Physiotherapist, surgeon and patient decide together, within the surgeon’s instructions and "
    "local pathways."
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Typed:
    """What the clinician words: bottom line, the one question, plan, and the next test date."""

    bottom_line: str
    question: str
    plan: str
    next_test_on: date | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Edited:
    """What the letter's form holds. ``copies`` are ids of referrers as text, or "patient"."""

    recipient_id: int
    copies: tuple[str, ...]
    typed: Typed
    spellings: Mapping[str, str]

    @property
    def columns(self) -> dict[str, Any]:
        """The columns of the letter's row."""
        return {
            "recipient_id": self.recipient_id,
            "copies": list(self.copies),
            "bottom_line": self.typed.bottom_line,
            "question": self.typed.question,
            "plan": self.typed.plan,
            "next_test_on": self.typed.next_test_on,
            "spellings": dict(self.spellings),
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class Envelope:
    """Who writes to whom. ``signed_on`` is None for a draft; ``replaces`` cites an older letter."""

    to: tuple[str, ...]
    copies: tuple[str, ...]
    signer: tuple[str, ...]
    dated: date
    signed: bool
    reference: str
    replaces: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Note:
    """A labelled paragraph: "Red flags", "all eight questions asked on 25 Nov 2026: none"."""

    label: str
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LetterContent:
    """The letter, ready to print; every text is final."""

    title: str
    heading: str
    from_lines: tuple[str, ...]
    to_lines: tuple[str, ...]
    dated: str
    signed: bool
    replaces: str
    about: tuple[str, ...]
    who: str
    bottom_line: tuple[str, ...]
    rests_on: str
    question: tuple[str, ...]
    heads: tuple[Head, Head]
    rows: tuple[StatusRow, ...]
    tested_on: str
    ledger: Ledger | None
    ahead: Ahead
    notes: tuple[Note, ...]
    plan: tuple[Note, ...]
    trend: Trend | None
    signer: tuple[str, ...]
    copies: str
    small_print: str
    reference: str
    footer: str


def drafted(*, facts: LetterFacts) -> Typed:
    """The words that a draft starts with; the clinician edits them."""
    return Typed(
        bottom_line=facts.verdict.line,
        question=_question(facts),
        plan=_plan(facts),
        next_test_on=facts.booked_on,
    )


def _question(facts: LetterFacts) -> str:
    """The one question: the most pressing thing that only the recipient can answer."""
    verdict = facts.verdict
    if verdict.code.startswith("extension_short_") and verdict.kind is Kind.CONCERN:
        found = verdict.line.removeprefix("Concern: e")
        return f"E{found} End feel [soft or hard], pinch at the front [yes or no]. Please review?"
    if verdict.code.startswith(CALLED):
        return "We called [whom, when]. Please review?"
    if verdict.kind is Kind.CONCERN:
        return "Please review? Which limits hold until then?"
    if facts.limits.to_confirm:
        return f"Which limits hold after {facts.limits.to_confirm}, and until when?"
    if facts.unknown:
        return f"Please tell us: {words.listed(list(facts.unknown))}."
    if facts.ahead.headline == ALL_MET and not facts.ahead.decision:
        return f"{facts.ahead.label}: do you see a reason to wait, or a limit to set?"
    return ""


def _plan(facts: LetterFacts) -> str:
    """The plan, a line for each progression, then what the open criteria ask for."""
    ahead = facts.ahead
    steps = "\n".join(f"{step}." for step in facts.steps)
    work = f"Work on {_lowered(ahead.not_met)}." if ahead.not_met else ""
    test = f"Test {_lowered(ahead.to_test)}." if ahead.to_test else ""
    asked = " ".join(part for part in (work, test) if part)
    return "\n".join(part for part in (steps, asked) if part)


def _lowered(parts: Sequence[str]) -> str:
    return words.listed([f"{part[:1].lower()}{part[1:]}" for part in parts])


def letter_content(*, facts: LetterFacts, typed: Typed, envelope: Envelope) -> LetterContent:
    """The whole letter from what is known, what was typed and who writes to whom."""
    heading = f"{facts.patient}: {facts.knee} knee, {facts.week}"
    return LetterContent(
        title=f"Letter about {facts.patient}, record {facts.number}, {words.day(envelope.dated)}",
        heading=heading,
        from_lines=facts.letterhead or (facts.site,),
        to_lines=envelope.to,
        dated=f"{facts.site}, {words.day(envelope.dated)}",
        signed=envelope.signed,
        replaces=envelope.replaces,
        about=(facts.patient, f"born {facts.born}", f"record {facts.number}"),
        who=_who(facts),
        bottom_line=_lines(typed.bottom_line),
        rests_on=f"From the record of {words.day(facts.on)}: {facts.verdict.rests_on}",
        question=_lines(typed.question) or ("No question with this letter.",),
        heads=facts.heads,
        rows=facts.rows,
        tested_on=_tested(facts.tested_on),
        ledger=_ledger(facts),
        ahead=facts.ahead,
        notes=(
            Note(label="Red flags", text=red_flags(facts)),
            Note(label="Surgeon’s limits", text=_limits(facts.limits)),
            Note(label="Events", text=_events(facts.events)),
            Note(label="Attendance", text=_attendance(facts.attendance)),
            *_seen(facts.rows),
        ),
        plan=_what_next(typed),
        trend=_trend(facts.trend),
        signer=envelope.signer,
        copies=words.listed(list(envelope.copies)),
        small_print=f"{RULE} {LIMITS_OF_IT} Criteria: {facts.protocol}. {CAUTION}",
        reference=envelope.reference,
        footer=f"{facts.patient}, record {facts.number}, letter {envelope.reference}",
    )


def _tested(day: str) -> str:
    said = f"Tested {day} unless dated. " if day else ""
    return f"{said}Errors are given where a published one is known; elsewhere none is known."


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())


def _who(facts: LetterFacts) -> str:
    knee = ", ".join(part for part in (facts.happened, facts.done) if part)
    return f"{knee}. Goal: {facts.goal}." if facts.goal else f"{knee}."


def red_flags(facts: LetterFacts) -> str:
    """What was asked and answered; "not asked" is never "none"."""
    flags, last = facts.flags, facts.attendance.last
    if flags is None or not (flags.asked or flags.reported):
        return "not asked."
    day = words.day(flags.on)
    asked = (
        NUMBER[flags.of] if flags.asked == flags.of else f"{flags.asked} of {flags.of} questions"
    )
    found = f"reported: {'; '.join(flags.reported)}" if flags.reported else "none"
    rest = "" if flags.asked == flags.of else "; the others not asked"
    said = f"{asked} asked on {day}: {found}{rest}."
    if last is not None and flags.on < last:
        return f"not asked at the last visit ({words.day(last)}); {said}"
    return said


def _limits(limits: Limits) -> str:
    """The limits that are followed, and what only the surgeon can tell."""
    parts = [f"we follow {limit}" for limit in limits.in_force]
    parts += [f"noted {limit}" for limit in limits.later]
    parts += [f"usual limit {limit}" for limit in limits.aside]
    if not parts:
        parts.append("asked, none set" if limits.asked_none else "none on record")
    if limits.to_confirm:
        parts.append(
            f"not confirmed for {limits.to_confirm}: affected tests and exercises are held"
        )
    return f"{'; '.join(parts)}."


def _events(events: Sequence[str]) -> str:
    """What happened, newest first; the oldest are told as a number."""
    if not events:
        return "none on record."
    told = [*events[:TOLD], *([f"{len(events) - TOLD} earlier"] if len(events) > TOLD else [])]
    return f"{'; '.join(told)}."


def _attendance(found: Attendance) -> str:
    missed = f", {found.missed} missed" if found.missed else ", none missed"
    last = f"; last {words.day(found.last)}" if found.last else ""
    return f"{words.several(found.seen, 'visit')} since {found.since}{missed}{last}."


def _seen(rows: Sequence[StatusRow]) -> tuple[Note, ...]:
    """What was seen in single-leg tasks, task by task."""
    found = [
        f"{row.name.lower()}: {_lowered([row.finding.rstrip('.')])}" for row in rows if row.finding
    ]
    return (Note(label="Seen", text=f"{'; '.join(found)}."),) if found else ()


def _what_next(typed: Typed) -> tuple[Note, ...]:
    """The plan as it was typed, line by line under one label, and the next test."""
    first, *more = _lines(typed.plan) or ["not written."]
    day = words.day(typed.next_test_on, missing="no date yet")
    return (
        Note(label="Plan", text=first),
        *(Note(label="", text=line) for line in more),
        Note(label="Next test", text=f"{day}."),
    )


def _ledger(facts: LetterFacts) -> Ledger | None:
    """The most telling pairs as one drawing; None where no symmetry can be assessed."""
    drawn = sorted(
        (row for row in facts.rows if row.beam is not None and row.code in FIGURE),
        key=lambda row: FIGURE.index(row.code),
    )[:DRAWN]
    if not drawn:
        return None
    names = words.listed([row.name.partition(",")[0].lower() for row in drawn])
    left, right = facts.heads
    return Ledger(
        title=f"Limb against limb: {names}",
        left_head=left.words,
        right_head=right.words,
        left_mark=left.mark,
        right_mark=right.mark,
        rows=tuple(_drawn_row(row) for row in drawn),
        dense=True,
    )


def _drawn_row(row: StatusRow) -> LedgerRow:
    return LedgerRow(
        name=row.name,
        left=row.left,
        right=row.right,
        symmetry=row.symmetry,
        beam=row.beam,
    )


def _trend(trend: Trend | None) -> Trend | None:
    """The course as a letter shows it: symmetry alone where there is one, to save room."""
    if trend is None or trend.symmetry is None or len(trend.symmetry.points) < 2:
        return trend
    lines = tuple(line for line in trend.thresholds if line.panel == "symmetry")
    return replace(trend, left=None, right=None, limbs_axis="", thresholds=lines)
