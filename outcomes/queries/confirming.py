"""Procedures whose limits are not confirmed, with the usual limits that are prefilled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from clinic import words
from clinic.models.care import RESTRICTION_KINDS, Episode
from outcomes.core.holds import KINDS
from outcomes.protocols.limits_reading import limit_templates
from outcomes.queries.attendance import Asked, asked_for, unconfirmed_of
from outcomes.queries.events import events_of
from outcomes.queries.opened import source_lines

KIND = dict(RESTRICTION_KINDS)


@dataclass(frozen=True, kw_only=True, slots=True)
class UsualLimit:
    """One line that is offered: a usual limit with its days and sources, or a kind to fill in.

    Days are None where the operation's is not known; ``weeks``: "to week 6 (4 in some)".
    """

    kind: str
    title: str
    limit: str = ""
    since: date | None = None
    until: date | None = None
    weeks: str = ""
    sources: tuple[str, ...] = ()

    @property
    def usual(self) -> bool:
        """Whether it comes from a template."""
        return bool(self.limit)


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One limit that the surgeon confirmed, as it was typed; ``number`` is its place."""

    number: int
    kind: str
    limit: str
    since: date
    until: date | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Asking:
    """One procedure whose limits are asked for: ``title`` "meniscal repair, 12 Aug 2026"."""

    procedure: str
    words: str
    title: str
    done_on: date | None
    lines: tuple[UsualLimit, ...]

    @property
    def usual(self) -> bool:
        """Whether usual limits are known for it."""
        return any(line.usual for line in self.lines)


def asking_of(*, episode: Episode, answered: str = "") -> list[Asking]:
    """The procedures of an episode that are not confirmed. At most five statements.

    ``answered`` is one that belongs to the list although it may be confirmed by now: its answer is
    being sent.
    """
    events = events_of(episodes=[episode])
    left = unconfirmed_of(episodes=[episode], events=events)[episode.pk]
    asked = asked_for(episode=episode, events=events[episode.pk])
    return [_asking(one) for one in asked if one in left or one.procedure == answered]


def _asking(asked: Asked) -> Asking:
    done = words.day(asked.done_on) if asked.done_on else "date not known"
    return Asking(
        procedure=asked.procedure,
        words=asked.words,
        title=f"{asked.words}, {done}",
        done_on=asked.done_on,
        lines=_lines(asked),
    )


def _lines(asked: Asked) -> tuple[UsualLimit, ...]:
    """The usual limits by the day of the operation; every kind to fill in where none are known."""
    template = limit_templates().get(asked.procedure)
    if template is None:
        return tuple(UsualLimit(kind=kind, title=KIND[kind], since=asked.done_on) for kind in KINDS)
    found = []
    for one in template.limits:
        days = one.days(operated=asked.done_on) if asked.done_on else (None, None)
        found.append(
            UsualLimit(
                kind=one.kind,
                title=KIND[one.kind],
                limit=one.limit,
                since=days[0],
                until=days[1],
                weeks=_weeks(one.until_weeks),
                sources=source_lines(sources=one.sources),
            )
        )
    return tuple(found)


def _weeks(until: tuple[int, int]) -> str:
    short, long = until
    return f"to week {long}" if short == long else f"to week {long}; in some protocols week {short}"
