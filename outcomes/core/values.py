"""The nouns that the core judges: frozen values, no clock, no database, no Django.

Every number here is an exact ``Decimal`` in the measure's canonical UCUM unit; every date is a
local calendar date. ``None`` is never zero: it always means "not known".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from outcomes.core.kinds import (
    Basis,
    Better,
    EntryKind,
    Examiner,
    Form,
    Formula,
    Group,
    Limb,
    Mark,
    MilestoneState,
    Operator,
    ReadingStatus,
    Reference,
    Relative,
    Result,
    Subject,
    Summary,
    SymmetryForm,
    Tier,
    Why,
)
from outcomes.core.measures import (
    Choice,
    Condition,
    Derivation,
    Detail,
    Item,
    Measure,
    MeasurementError,
    Source,
    Threshold,
)
from outcomes.core.protocols import (
    Band,
    Criterion,
    Gate,
    MeasureSet,
    Milestone,
    Protocol,
    Repeat,
)

__all__ = [
    "Band",
    "Basis",
    "Better",
    "Choice",
    "Condition",
    "Criterion",
    "Derivation",
    "Detail",
    "EntryKind",
    "Examiner",
    "Form",
    "Formula",
    "Gate",
    "Group",
    "Item",
    "Limb",
    "Mark",
    "Measure",
    "MeasureSet",
    "MeasurementError",
    "Milestone",
    "MilestoneState",
    "Operator",
    "Protocol",
    "ReadingStatus",
    "Reference",
    "Relative",
    "Repeat",
    "Result",
    "Source",
    "Subject",
    "Summary",
    "SymmetryForm",
    "Threshold",
    "Tier",
    "Why",
]  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """One signed value of one measure for one limb on one local date.

    ``value`` is None when the test gave none (declined, unable, surgeon's limit). ``key`` is the
    comparison key made from the conditions. ``ref`` is the caller's identity of the row, so that
    a result can be opened to its inputs; a derived one names the rows it was ``made_from``.
    ``tester`` is the caller's identity of who tested, 0 where that is not known.
    """

    measure: str
    limb: Limb
    value: Decimal | None
    on: date
    key: str = ""
    status: ReadingStatus = ReadingStatus.MEASURED
    details: Mapping[str, str] = field(default_factory=dict)
    ref: int = 0
    made_from: tuple[int, ...] = ()
    tester: int = 0

    @property
    def refs(self) -> tuple[int, ...]:
        """The rows of the record that it rests on."""
        return self.made_from or (self.ref,)


@dataclass(frozen=True, kw_only=True, slots=True)
class Score:
    """A score of a completed questionnaire, coded like ``koos.sport``.

    ``value`` is exact, None where too few items were answered, and then ``reason`` says so.
    ``line`` is the key of the line it belongs to (``instruments.line_key``): two scores of
    different lines are never joined or subtracted.
    """

    code: str
    value: Fraction | None
    on: date
    line: str
    answered: int
    reason: str = ""
    ref: int = 0


@dataclass(frozen=True, kw_only=True, slots=True)
class NotAssessable:
    """No number, and the reason why. ``detail`` names what was found (a status, a code)."""

    why: Why
    detail: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Pair:
    """Both limbs of one measure on one date under one comparison key."""

    measure: str
    on: date
    key: str
    left: Reading | None
    right: Reading | None

    def of(self, *, limb: Limb) -> Reading | None:
        """The reading of that limb, or None if it was not tested."""
        return self.left if limb is Limb.LEFT else self.right


@dataclass(frozen=True, kw_only=True, slots=True)
class Symmetry:
    """Limb symmetry of one pair: an exact index in per cent, or a signed difference in the unit.

    ``value`` is involved over other times 100 (inverted where lower is better), or involved minus
    other. ``sem`` is the published error of it, None where none is known.
    """

    form: SymmetryForm
    value: Fraction
    sem: Decimal | None
    pair: Pair


@dataclass(frozen=True, kw_only=True, slots=True)
class Restriction:
    """A surgeon's limit: it beats every criterion while it is in force."""

    kind: str
    limit: str
    since: date
    until: date | None
    ref: int = 0

    def in_force(self, *, on: date) -> bool:
        """Whether the limit holds on that day (both end days included)."""
        return self.since <= on and (self.until is None or on <= self.until)


@dataclass(frozen=True, kw_only=True, slots=True)
class Fallback:
    """What stands in for a symmetry that cannot be assessed: by name, with its number if any.

    ``value`` is in per cent of the other limb before surgery, in N.m/kg, or the change of the
    limb itself since its earlier value, in the unit of the measure.
    """

    reference: Reference
    value: Fraction | None = None
    unit: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Unconfirmed:
    """A procedure whose limits nobody has confirmed, in words, with the kinds it usually has.

    What those kinds hold is held until a clinician confirms; no day ends it.
    """

    words: str
    kinds: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class GateAside:
    """The earliest date of a milestone, set aside by a clinician: when, by whom and why.

    ``until``: the last day on which it counts, where it was taken back.
    """

    milestone: str
    on: date
    by: str
    reason: str
    until: date | None = None

    def counts(self, *, on: date) -> bool:
        """Whether the earliest date is set aside on that day.

        >>> aside = GateAside(milestone="running", on=date(2026, 11, 3), by="", reason="",
        ...                   until=date(2026, 11, 9))
        >>> [aside.counts(on=date(2026, 11, day)) for day in (2, 3, 9, 10)]
        [False, True, True, False]
        """
        return self.on <= on and (self.until is None or on <= self.until)


@dataclass(frozen=True, kw_only=True, slots=True)
class CriterionResult:
    """A criterion judged on one day: the value, its date, the margin of error and the reason.

    ``value`` is exact (per cent, unit or rank); ``margin`` is 1.645 x SEM or None where no error
    is published; ``refs`` are the readings it was judged on; ``instead`` is what to look at where
    the other limb is no fair reference.
    """

    criterion: Criterion
    result: Result
    threshold: Decimal
    value: Fraction | None = None
    on: date | None = None
    margin: Decimal | None = None
    why: NotAssessable | None = None
    refs: tuple[int, ...] = ()
    instead: Fallback | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class MilestoneResult:
    """A milestone judged on one day. Counts are over hard criteria.

    ``unconfirmed``: the procedures, in words, whose limits are not confirmed and hold it;
    ``aside``: its earliest date was set aside and does not count.
    """

    milestone: Milestone
    state: MilestoneState
    earliest: date | None
    criteria: tuple[CriterionResult, ...]
    blocked_by: tuple[Restriction, ...] = ()
    unconfirmed: tuple[str, ...] = ()
    aside: GateAside | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Reason:
    """A reason to look at an episode: a code, its size on the raw value, and the facts.

    ``facts`` carry what the sentence needs (exact strings). ``alarm`` is judged on the raw value,
    never silenced by measurement error. ``size`` grows when the matter gets worse: an answered
    reason returns only if worse or due. The higher the ``rank`` (from 1), the more pressing.
    ``since`` is the date of the reading or visit it rests on, or the day from which it holds.
    """

    code: str
    rank: int
    size: Decimal
    since: date
    facts: Mapping[str, str]
    alarm: bool
    refs: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RedFlag:
    """One red-flag question answered yes on a date. ``code`` is a question of ``core.redflags``."""

    code: str
    tier: Tier
    on: date
    ref: int = 0


@dataclass(frozen=True, kw_only=True, slots=True)
class Event:
    """Something that happened to a patient on a date. ``code`` is a kind of ``core.events``.

    ``detail`` is a code of what was done or hurt; ``early`` a return earlier than advised, which
    is an outcome and meets no criterion. ``ref`` is 0 for one that stands with the operations.
    """

    code: str
    limb: Limb
    on: date
    detail: str = ""
    early: bool = False
    ref: int = 0


@dataclass(frozen=True, kw_only=True, slots=True)
class LateTyping:
    """Texts outside the record: of how many closed visits, the oldest one's date, and the day on
    which the newest text came (of UTC: it tells only that more has come). ``flagged_on`` is the
    date of the oldest visit of which a red flag answered yes is among them, ``flag_came_at`` the
    moment in UTC at which the newest of those came."""

    visits: int
    oldest_on: date
    came_on: date
    flagged_on: date | None = None
    flag_came_at: datetime | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitFacts:
    """What the core must know of the visits of an episode.

    Dates: last one that took place, latest one booked, oldest one not signed, episode taken on.
    ``late_typing``: what was typed without network came after a visit was closed, and nobody has
    read it. ``unconfirmed``: procedures whose surgeon's limits nobody has confirmed.
    """

    last_on: date | None = None
    booked_on: date | None = None
    unsigned_since: date | None = None
    followed_since: date | None = None
    late_typing: LateTyping | None = None
    unconfirmed: tuple[Unconfirmed, ...] = ()

    @property
    def limits_to_confirm(self) -> tuple[str, ...]:
        """The procedures that are not confirmed, in words, each once."""
        return tuple(dict.fromkeys(one.words for one in self.unconfirmed))


@dataclass(frozen=True, kw_only=True, slots=True)
class EpisodeFacts:
    """What the core must know of an episode: facts of the record, no identity.

    Codes are those of the record: ``graft_from`` same_limb, other_limb, donor or unknown; only
    ``other_limb`` healthy is a fair reference; a ``goal`` not stated has every milestone.
    ``other_knee_followed``: the other knee has an open episode too.
    """

    knee: Limb
    kind: str
    index_date: date | None
    graft: str
    graft_from: str
    other_limb: str
    sex: str
    birth_date: date
    goal: str
    care_state: str = "active"
    other_knee_followed: bool = False
