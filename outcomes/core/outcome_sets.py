"""Published sets of outcomes after ACL treatment, as lines that a record answers or leaves open.

Lynch 2015 names six measures of a good outcome at one and two years; Svantesson 2020 sorts
outcomes into four groups. Nothing here is a verdict on a knee, and no line meets a criterion: a
line says yes, no, or that the record does not know. Only what lies on today's side of day 0
counts, the newest value whatever its age.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

from outcomes.core.compare import holds
from outcomes.core.history import History
from outcomes.core.looks_at_events import GIVING_WAY
from outcomes.core.status import measure_status
from outcomes.core.symmetry import shortfall
from outcomes.core.values import (
    EpisodeFacts,
    Event,
    Limb,
    Mark,
    NotAssessable,
    Operator,
    Source,
    Symmetry,
    Why,
)

LYNCH: Final = Source(
    text="Lynch 2015, Br J Sports Med 49:335: asked what success is one and two years after injury "
    "or reconstruction, 1,779 answers from three associations gave these six a summed importance "
    "of 80 %; no single questionnaire was agreed on",
    mark=Mark.SEEN,
)
SVANTESSON: Final = Source(
    text="Svantesson 2020: four groups of outcomes; two years of follow-up and 80 % of those "
    "treated are asked for",
    mark=Mark.SEEN,
    doi="10.1177/2325967120934751",
)
HOUSE: Final = Source(
    text="Mild is read as at most 1+ in the sweep test, a return to sport as to training or "
    "competition (running where the goal is a straight line), and the groups are filled with what "
    "this record holds",
    mark=Mark.CLINIC_SETTING,
)


class Group(StrEnum):
    """The six of Lynch, and the four groups of Svantesson."""

    SIX = "six"
    ADVERSE = "adverse"
    REPORTED = "reported"
    FAILURE = "failure"
    CLINICAL = "clinical"


TITLES: Final[Mapping[Group, str]] = {
    Group.SIX: "Six measures of a good outcome",
    Group.ADVERSE: "Early adverse events",
    Group.REPORTED: "Patient-reported outcomes",
    Group.FAILURE: "Graft failure and another ligament rupture",
    Group.CLINICAL: "Clinical measures",
}


class Rule(StrEnum):
    """How a line is answered."""

    NO_GIVING_WAY = "no_giving_way"
    RETURN = "return"
    EVENT = "event"
    SYMMETRY = "symmetry"
    SHORT = "short"
    AT_MOST = "at_most"
    READ = "read"
    FORM = "form"


class Answer(StrEnum):
    """What the record says. ``none``: no such event is on record, which is no answer to a
    question; ``unknown``: nothing is recorded; ``apart``: the line does not apply to the goal."""

    YES = "yes"
    NO = "no"
    NONE = "none"
    NOT_ASSESSABLE = "not_assessable"
    UNKNOWN = "unknown"
    APART = "apart"


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One outcome. ``of`` is a measure, a kind of event or a questionnaire, as the rule says."""

    code: str
    group: Group
    label: str
    rule: Rule
    of: str = ""
    threshold: Decimal = Decimal(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """Giving way as it was asked at a visit: yes or no."""

    on: date
    yes: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Form:
    """A completed questionnaire with at least one score. ``limb`` none: for the person."""

    instrument: str
    limb: Limb
    on: date


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What one episode's lines are answered from; ``history`` holds both limbs' readings."""

    history: History
    events: Sequence[Event]
    asked: Sequence[Asked]
    forms: Sequence[Form]

    @property
    def facts(self) -> EpisodeFacts:
        """The episode."""
        return self.history.facts

    def counts(self, on: date) -> bool:
        """Whether a day lies up to today and on today's side of day 0."""
        start, today = self.facts.index_date, self.history.on
        return on <= today and (start is None or today < start or on >= start)


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """A line answered. ``value`` is exact, in the line's unit; ``on`` is what it rests on."""

    line: Line
    answer: Answer
    on: date | None = None
    value: Fraction | None = None


RETURNS_BY_GOAL: Final[Mapping[str, tuple[str, ...]]] = {
    "no_sport": (),
    "straight_line": ("return_to_running", "return_to_training", "return_to_competition"),
}
SPORT: Final = ("return_to_training", "return_to_competition")
NINETY: Final = Decimal(90)
LINES: Final = (
    Line(code="no_giving_way", group=Group.SIX, label="No giving way", rule=Rule.NO_GIVING_WAY),
    Line(code="return_to_sport", group=Group.SIX, label="Return to sport", rule=Rule.RETURN),
    Line(code="quadriceps", group=Group.SIX, label="Quadriceps over 90 % of the other side",
         rule=Rule.SYMMETRY, of="quadriceps_torque", threshold=NINETY),
    Line(code="hamstrings", group=Group.SIX, label="Hamstrings over 90 % of the other side",
         rule=Rule.SYMMETRY, of="hamstring_torque", threshold=NINETY),
    Line(code="mild_effusion", group=Group.SIX, label="At most mild effusion",
         rule=Rule.AT_MOST, of="effusion", threshold=Decimal(2)),
    Line(code="reported", group=Group.SIX, label="A patient-reported outcome", rule=Rule.FORM),
    Line(code="infection", group=Group.ADVERSE, label="Infection", rule=Rule.EVENT,
         of="infection"),
    Line(code="clot", group=Group.ADVERSE, label="Clot", rule=Rule.EVENT, of="clot"),
    Line(code="fracture", group=Group.ADVERSE, label="Fracture", rule=Rule.EVENT, of="fracture"),
    Line(code="reoperation", group=Group.ADVERSE, label="Reoperation", rule=Rule.EVENT,
         of="reoperation"),
    Line(code="stiffness", group=Group.ADVERSE, label="Procedure for stiffness",
         rule=Rule.EVENT, of="stiffness_procedure"),
    Line(code="ikdc", group=Group.REPORTED, label="IKDC", rule=Rule.FORM, of="ikdc"),
    Line(code="koos", group=Group.REPORTED, label="KOOS", rule=Rule.FORM, of="koos"),
    Line(code="acl_rsi", group=Group.REPORTED, label="ACL-RSI", rule=Rule.FORM, of="acl_rsi"),
    Line(code="graft_rupture", group=Group.FAILURE, label="Graft rupture", rule=Rule.EVENT,
         of="graft_rupture"),
    Line(code="other_knee", group=Group.FAILURE, label="ACL injury of the other knee",
         rule=Rule.EVENT, of="other_knee_acl_injury"),
    Line(code="extension", group=Group.CLINICAL, label="Extension under 3° short",
         rule=Rule.SHORT, of="knee_extension", threshold=Decimal(3)),
    Line(code="hop", group=Group.CLINICAL, label="Single hop over 90 % of the other side",
         rule=Rule.SYMMETRY, of="single_hop", threshold=NINETY),
    Line(code="laxity", group=Group.CLINICAL, label="Anterior laxity measured",
         rule=Rule.READ, of="anterior_laxity"),
)  # fmt: skip
"""Every line, in the order of the page. Quadriceps, hamstrings and effusion are told once."""

BY_CODE: Final = {line.code: line for line in LINES}
MEASURES: Final = frozenset(
    line.of for line in LINES
    if line.rule in (Rule.SYMMETRY, Rule.SHORT, Rule.AT_MOST, Rule.READ)
)  # fmt: skip
"""The measures whose readings the lines need."""


def outcomes_of(*, known: Known, lines: Sequence[Line] = LINES) -> tuple[Found, ...]:
    """Each line answered for one episode."""
    return tuple(_answered(line, known) for line in lines)


def _answered(line: Line, known: Known) -> Found:
    match line.rule:
        case Rule.NO_GIVING_WAY:
            return _no_giving_way(line, known)
        case Rule.RETURN:
            return _returned(line, known)
        case Rule.EVENT:
            return _happened(line, known)
        case Rule.FORM:
            return _reported(line, known)
        case Rule.SYMMETRY:
            return _symmetry(line, known)
        case Rule.SHORT:
            return _short(line, known)
        case _:
            return _of_one_limb(line, known)


def _no_giving_way(line: Line, known: Known) -> Found:
    """No once it was told at all; yes only where it was asked and denied."""
    told = [one.on for one in known.events if one.code == GIVING_WAY]
    told += [one.on for one in known.asked if one.yes]
    denied = [one.on for one in known.asked if not one.yes]
    for answer, days in ((Answer.NO, told), (Answer.YES, denied)):
        found = [day for day in days if known.counts(day)]
        if found:
            return Found(line=line, answer=answer, on=max(found))
    return Found(line=line, answer=Answer.UNKNOWN)


def _returned(line: Line, known: Known) -> Found:
    """The first return that the goal counts; also one that was earlier than advised."""
    kinds = RETURNS_BY_GOAL.get(known.facts.goal, SPORT)
    if not kinds:
        return Found(line=line, answer=Answer.APART)
    days = [one.on for one in known.events if one.code in kinds and known.counts(one.on)]
    if not days:
        return Found(line=line, answer=Answer.UNKNOWN)
    return Found(line=line, answer=Answer.YES, on=min(days))


def _happened(line: Line, known: Known) -> Found:
    days = [one.on for one in known.events if one.code == line.of and known.counts(one.on)]
    if not days:
        return Found(line=line, answer=Answer.NONE)
    return Found(line=line, answer=Answer.YES, on=max(days))


def _reported(line: Line, known: Known) -> Found:
    """Any form with a score, of that questionnaire where the line names one."""
    limbs = (known.facts.knee, Limb.NONE)
    days = [
        one.on
        for one in known.forms
        if line.of in ("", one.instrument) and one.limb in limbs and known.counts(one.on)
    ]
    if not days:
        return Found(line=line, answer=Answer.UNKNOWN)
    return Found(line=line, answer=Answer.YES, on=max(days))


def _symmetry(line: Line, known: Known) -> Found:
    history = known.history
    if line.of not in history.codes:
        return Found(line=line, answer=Answer.UNKNOWN)
    status = measure_status(history=history, code=line.of)
    pair = status.pair
    if pair is None or not known.counts(pair.on):
        return Found(line=line, answer=Answer.UNKNOWN)
    if not isinstance(status.symmetry, Symmetry):
        return Found(line=line, answer=_without_number(status.symmetry), on=pair.on)
    value = status.symmetry.value
    over = holds(value=value, operator=Operator.GREATER, threshold=line.threshold)
    return Found(line=line, answer=Answer.YES if over else Answer.NO, on=pair.on, value=value)


def _without_number(why: NotAssessable | None) -> Answer:
    """A limb that was not tested leaves the line open; all else was tested and says nothing."""
    open_ones = (Why.NO_READING, Why.INVOLVED_NOT_TESTED, Why.OTHER_LIMB_NOT_TESTED)
    unknown = why is None or why.why in open_ones
    return Answer.UNKNOWN if unknown else Answer.NOT_ASSESSABLE


def _short(line: Line, known: Known) -> Found:
    """Degrees short of the other side, in the newest pair."""
    history, knee = known.history, known.facts.knee
    if line.of not in history.codes:
        return Found(line=line, answer=Answer.UNKNOWN)
    status = measure_status(history=history, code=line.of)
    if status.pair is None or not known.counts(status.pair.on):
        return Found(line=line, answer=Answer.UNKNOWN)
    if not isinstance(status.symmetry, Symmetry):
        return Found(line=line, answer=_without_number(status.symmetry), on=status.pair.on)
    mine, other = status.pair.of(limb=knee), status.pair.of(limb=knee.opposite)
    if mine is None or other is None or mine.value is None or other.value is None:
        return Found(line=line, answer=Answer.UNKNOWN)
    measure = history.catalogue[line.of]
    value = shortfall(measure=measure, involved=mine.value, other=other.value)
    under = holds(value=value, operator=Operator.LESS, threshold=line.threshold)
    answer = Answer.YES if under else Answer.NO
    return Found(line=line, answer=answer, on=status.pair.on, value=value)


def _of_one_limb(line: Line, known: Known) -> Found:
    """The highest value of the followed knee's newest day: there is one, or within the threshold.

    Effusion after a test counts as much as before it.
    """
    found = known.history.measured(code=line.of, limb=known.facts.knee)
    days = [one for one in found if known.counts(one.on)]
    if not days:
        return Found(line=line, answer=Answer.UNKNOWN)
    newest = max(
        (one for one in days if one.on == days[0].on), key=lambda one: one.value or Decimal(0)
    )
    value = Fraction(newest.value or 0)
    within = line.rule is Rule.READ or holds(
        value=value, operator=Operator.AT_MOST, threshold=line.threshold
    )
    answer = Answer.YES if within else Answer.NO
    return Found(line=line, answer=answer, on=newest.on, value=value)
