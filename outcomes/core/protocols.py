"""The nouns of a protocol: criteria, gates, milestones and what a visit asks for, all as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from outcomes.core.kinds import Form, Operator, Subject
from outcomes.core.measures import Source


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """A threshold that is published for some people only: by sex, graft and age in years.

    Empty or None speaks of everybody; ``from_age`` is included, ``below_age`` is not.
    """

    value: Decimal
    sex: str = ""
    graft: str = ""
    from_age: int | None = None
    below_age: int | None = None

    def fits(self, *, sex: str, graft: str, age: int) -> bool:
        """Whether it is published for such a person.

        >>> Band(value=Decimal(85), sex="male", below_age=25).fits(sex="male", graft="", age=25)
        False
        """
        return (
            self.sex in ("", sex)
            and self.graft in ("", graft)
            and (self.from_age is None or age >= self.from_age)
            and (self.below_age is None or age < self.below_age)
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Repeat:
    """A criterion that counts when it was met on two tests, so many days apart.

    The earlier test lies at least ``apart_days`` and at most ``within_days`` before the newest,
    under the same comparison key.
    """

    apart_days: int
    within_days: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Criterion:
    """One condition of a milestone, as data.

    ``measure`` is the code of what is judged: a measure (also a finding), a score such as
    ``koos.sport``, a kind of event, or nothing for a group. ``value`` is the threshold in the
    form's unit (a rank for grades, a count for events and groups). ``key`` names a comparison key
    that is required; empty takes the newest pair. ``alike_to`` is a grade rank up to which
    involved and other limb being alike also counts. ``value_by_sex`` and ``bands`` replace
    ``value`` where a threshold is published by sex, age or graft; ``adults_only`` makes it not
    assessable for a child.

    ``earliest_week``: tests before it say nothing. ``repeat``: met on two tests. ``of`` are the
    criteria of a group, which counts for them. Events: ``side`` is whose, seen from the knee;
    counted ``since`` a date or ``within_days``, and from the index date where neither is given.
    """

    code: str
    label: str
    measure: str
    form: Form
    operator: Operator
    value: Decimal
    unit: str
    hard: bool
    maximum_age_days: int
    sources: tuple[Source, ...]
    key: str = ""
    alike_to: Decimal | None = None
    value_by_sex: Mapping[str, Decimal] = field(default_factory=dict)
    adults_only: bool = False
    subject: Subject = Subject.MEASURE
    earliest_week: int | None = None
    bands: tuple[Band, ...] = ()
    repeat: Repeat | None = None
    of: tuple[str, ...] = ()
    side: str = ""
    since: date | None = None
    within_days: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Gate:
    """The earliest date of a milestone: weeks, or calendar months, after the index date.

    ``later`` raises it: pairs of a code (``graft:allograft``, ``kind:revision``, ``under_16``) and
    months. ``waived_for`` names kinds without such a date: it rests on graft healing. A published
    set of criteria alone has neither weeks nor months, and its date is the index date.
    """

    weeks: int | None
    months: int | None
    sources: tuple[Source, ...]
    later: tuple[tuple[str, int], ...] = ()
    waived_for: tuple[str, ...] = ()

    @property
    def dated(self) -> bool:
        """Whether an earliest date is part of it at all.

        >>> Gate(weeks=None, months=None, sources=()).dated
        False
        """
        return self.weeks is not None or self.months is not None


@dataclass(frozen=True, kw_only=True, slots=True)
class Milestone:
    """A stage of return to activity: an earliest date and criteria, never one alone.

    ``before_surgery``: what was recorded before the operation counts, as it stood on that day.
    """

    code: str
    label: str
    gate: Gate
    criteria: tuple[Criterion, ...]
    blocked_by: tuple[str, ...] = ()
    before_surgery: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class MeasureSet:
    """The measures that a visit asks for in a stretch of weeks, both end weeks included.

    ``first`` None is before surgery; ``last`` None has no end. ``operated`` are those of the
    measures that make sense after an operation only.
    """

    label: str
    first: int | None
    last: int | None
    measures: tuple[str, ...]
    sources: tuple[Source, ...] = ()
    operated: tuple[str, ...] = ()

    def holds(self, *, week: int | None) -> bool:
        """Whether it is the set of that week; None is before surgery."""
        if week is None or self.first is None:
            return week is self.first
        return self.first <= week and (self.last is None or week <= self.last)


@dataclass(frozen=True, kw_only=True, slots=True)
class Protocol:
    """A published, frozen version of the clinic's milestones. ``code`` is like ``starter@1``.

    ``last_by_goal`` names the last milestone of each goal. ``sets``: what a visit asks for, one
    set for each week and one for before surgery.
    """

    code: str
    label: str
    milestones: tuple[Milestone, ...]
    last_by_goal: Mapping[str, str]
    sets: tuple[MeasureSet, ...] = ()

    @property
    def named(self) -> str:
        """Its name with the version, as people tell two apart.

        >>> Protocol(code="starter@2", label="Starter", milestones=(), last_by_goal={}).named
        'Starter, version 2'
        """
        return f"{self.label}, version {self.code.partition('@')[2]}"
