"""A caseload line in words: weeks, grafts, counts with denominators, symmetry with its age."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, TypedDict

from clinic import words
from outcomes.core.values import Why
from outcomes.core.wording import WHY
from outcomes.queries.caseload import Line

LAST_DECIDED: Final = "last milestone of the goal decided"
NOT_TESTED: Final = "–"
"""The dash of the legend: a blank is never a zero."""

CARE: Final[Mapping[str, str]] = {
    "active": "active",
    "on_hold": "on hold",
    "follow_up_only": "follow-up only",
    "discharged": "discharged",
    "transferred": "transferred",
}
NO_GRAFT: Final[Mapping[str, str]] = {
    "waiting": "none, waiting",
    "repair": "none, ligament repair",
    "without_surgery": "none, without surgery",
}
NO_INDEX: Final[Mapping[str, str]] = {
    **{why.value: said for why, said in WHY.items()},
    Why.OTHER_LIMB_NOT_FAIR.value: "the other side is no fair reference",
    Why.LIMITED_BY_PAIN.value: "stopped by pain",
    Why.NOT_DONE.value: "one side gave no value",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class SymmetryWords:
    """A symmetry cell: the number, a dash, or "not assessable", and what belongs to it."""

    value: str
    note: str = ""

    @property
    def tested(self) -> bool:
        """Whether there is anything but the dash."""
        return self.value != NOT_TESTED

    @property
    def sentence(self) -> str:
        """Value and note as one text: "77 %, 9 weeks ago, out of date"."""
        return f"{self.value}, {self.note}" if self.note else self.value


class Row(TypedDict):
    """One row of the page in words. Templates read a mapping fastest."""

    id: int
    patient_url: str
    patient: str
    number: str
    knee: str
    graft: str
    week: str
    here: str
    look: str
    more_looks: str
    no_look: str
    milestone: str
    next: str
    quadriceps: str
    quadriceps_note: str
    hop: str
    hop_note: str
    visit: str
    clinician: str


def row(
    *, line: Line, on: date, milestones: Mapping[str, str], cuts: Collection[Decimal] = ()
) -> Row:
    """A line in words on a day. ``milestones`` maps codes to labels, ``cuts`` are thresholds.

    A number is never rounded across a threshold, so that it cannot disagree with a result.
    """
    quadriceps = symmetry(
        lsi=line.quadriceps_lsi,
        tested_on=line.quadriceps_on,
        until=line.quadriceps_until,
        why=line.quadriceps_why,
        on=on,
        cuts=cuts,
    )
    hop = symmetry(
        lsi=line.hop_lsi,
        tested_on=line.hop_on,
        until=line.hop_until,
        why=line.hop_why,
        on=on,
        cuts=cuts,
    )
    return Row(
        id=line.episode_id,
        patient_url=f"/patients/{line.patient_uid}/",
        patient=line.patient,
        number=line.record_number or "",
        knee=line.knee,
        graft=graft(line),
        week=week(line, on=on),
        here=f"/episodes/{line.uid}",
        look=line.look_sentence or "",
        more_looks=f"and {(line.looks or 0) - 1} more" if (line.looks or 0) > 1 else "",
        no_look=care(line) or "no reason to look",
        milestone=criteria(line, milestones=milestones),
        next=line.next_milestone or "",
        quadriceps=quadriceps.value,
        quadriceps_note=quadriceps.note,
        hop=hop.value,
        hop_note=hop.note,
        visit=words.ago(then=line.last_visit, on=on) if line.last_visit else "none yet",
        clinician=line.clinician or "nobody yet",
    )


def graft(line: Line) -> str:
    """The graft, where it came from if that matters, and a revision as such."""
    if not line.graft:
        return NO_GRAFT.get(line.kind, "none")
    said = words.GRAFT[line.graft]
    if line.graft_from == "other_limb":
        said += ", from the other limb"
    return f"{said}, revision" if line.kind == "revision" else said


def week(line: Line, *, on: date) -> str:
    """Where the episode stands: "week 15", "before surgery", or which date is not known."""
    if line.index_date is None:
        if line.kind == "without_surgery":
            return "date of the injury not known yet"
        if line.operated:
            return "date of the operation not known yet"
    said = words.since_index(index_date=line.index_date, on=on)
    if line.kind != "without_surgery" or line.index_date is None:
        return said
    return "before the injury" if on < line.index_date else f"{said} after the injury"


def care(line: Line) -> str:
    """The care state if it is not active, with the day until which it is on hold."""
    if line.care_state == "active":
        return ""
    until = f" until {words.day(line.care_until)}" if line.care_until else ""
    return f"{CARE[line.care_state]}{until}"


def criteria(line: Line, *, milestones: Mapping[str, str]) -> str:
    """The next milestone with its counts, always with what is missing."""
    if not line.next_milestone:
        return "none" if line.next_milestone is None else LAST_DECIDED
    said = (
        f"{milestones.get(line.next_milestone, line.next_milestone)}: "
        f"{line.criteria_met} of {line.criteria_all} recorded as met, "
        f"{line.criteria_untested} not tested"
    )
    if line.criteria_out_of_date:
        said += f", {line.criteria_out_of_date} out of date"
    if line.criteria_not_assessable:
        said += f", {line.criteria_not_assessable} not assessable"
    return said


def symmetry(
    *,
    lsi: Decimal | None,
    tested_on: date | None,
    until: date | None,
    why: str | None,
    on: date,
    cuts: Collection[Decimal] = (),
) -> SymmetryWords:
    """An index with its age, "not assessable" with its reason, or the dash of "not tested".

    >>> symmetry(lsi=Decimal("77.2"), tested_on=date(2026, 9, 23), until=date(2026, 11, 4),
    ...          why="", on=date(2026, 11, 25)).sentence
    '77 %, 9 weeks ago, out of date'
    """
    if lsi is None:
        if not why or why == Why.NO_READING:
            return SymmetryWords(value=NOT_TESTED)
        reason = NO_INDEX.get(why, why.replace("_", " "))
        return SymmetryWords(value="symmetry not assessable", note=reason)
    note = age(then=tested_on, on=on) if tested_on else "date not known"
    if until is not None and until < on:
        note += ", out of date"
    return SymmetryWords(value=f"{percent(lsi, cuts=cuts)} %", note=note)


def percent(lsi: Decimal, *, cuts: Collection[Decimal]) -> str:
    """The index in whole per cent, cut rather than rounded onto a threshold.

    >>> percent(Decimal("89.9"), cuts=[Decimal(90)]), percent(Decimal("77.9"), cuts=[Decimal(90)])
    ('89', '78')
    """
    nearest = lsi.to_integral_value(ROUND_HALF_UP)
    return f"{nearest - 1 if nearest in cuts and nearest > lsi else nearest}"


def age(*, then: date, on: date) -> str:
    """How old a test is: in days for two weeks, then in completed weeks.

    >>> age(then=date(2026, 9, 23), on=date(2026, 11, 25))
    '9 weeks ago'
    """
    days = (on - then).days
    return words.ago(then=then, on=on) if days < 14 else f"{days // 7} weeks ago"
