"""Placing values on a drawing: a linear scale, round ticks, and labels that keep apart."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from clinic import words
from outcomes.charts.svg import number

WEEK_STEPS: Final = (1, 2, 4, 6, 12, 13, 26, 52)
MONTH_STEPS: Final = (1, 2, 3, 6, 12, 24, 60)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A straight line of values from ``low`` to ``high`` laid on places ``start`` to ``end``."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return the place of ``value``; strictly monotone in it."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A place on an axis and its words."""

    value: float
    label: str


def round_step(*, span: float, count: int) -> float:
    """Return the step 1, 2 or 5 times a power of ten that cuts ``span`` into ``count`` at most."""
    rough = span / count
    power = 10.0 ** math.floor(math.log10(rough))
    return next(times * power for times in (1, 2, 5, 10) if times * power >= rough * 0.999999)


def value_ticks(*, low: float, high: float, count: int = 5) -> list[Tick]:
    """Return round ticks that enclose ``low`` and ``high``; equal ends are widened."""
    if high - low < 1e-9:
        low, high = low - 1, high + 1
    step = round_step(span=high - low, count=count)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [Tick(value=n * step, label=number(n * step)) for n in range(first, last + 1)]


def grade_ticks(*, names: Sequence[str]) -> list[Tick]:
    """Return one tick for each grade word, rank 0 first."""
    return [Tick(value=float(rank), label=name) for rank, name in enumerate(names)]


def week_ticks(*, low: float, high: float, count: int = 7) -> list[Tick]:
    """Return whole weeks between ``low`` and ``high``, in steps people count in."""
    span = high - low
    step = next((s for s in WEEK_STEPS if span / s <= count), math.ceil(span / count / 52) * 52)
    weeks = [n * step for n in range(math.floor(low / step), math.ceil(high / step) + 1)]
    return [Tick(value=float(week), label=str(week)) for week in weeks if low <= week <= high]


def month_ticks(*, low: float, high: float, count: int = 6) -> list[Tick]:
    """Return first days of months between two day ordinals ("Mar 2026").

    Where fewer than two of them fit, the ends are returned as days ("14 Mar 2026").
    """
    first, last = date.fromordinal(math.ceil(low)), date.fromordinal(math.floor(high))
    start, end = first.year * 12 + first.month - 1, last.year * 12 + last.month - 1
    step = next((s for s in MONTH_STEPS if (end - start) / s <= count), 120)
    ticks = []
    for month in range(start - start % step, end + 1, step):
        day = date(month // 12, month % 12 + 1, 1)
        if low <= day.toordinal() <= high:
            label = f"{words.MONTHS[day.month]} {day.year}"
            ticks.append(Tick(value=float(day.toordinal()), label=label))
    ends = [Tick(value=float(day.toordinal()), label=words.day(day)) for day in (first, last)]
    return ticks if len(ticks) > 1 else ends


def spread(
    *, wanted: Sequence[float], heights: Sequence[float], start: float, end: float, gap: float = 4
) -> list[float]:
    """Return tops for blocks of ``heights`` near their ``wanted`` tops, none overlapping.

    The blocks keep the order of ``wanted`` and stay between ``start`` and ``end``, provided that
    they fit there at all: the caller makes ``end`` large enough (see ``room``).
    """
    order = sorted(range(len(wanted)), key=lambda index: (wanted[index], index))
    tops = [0.0] * len(wanted)
    free = start
    for index in order:
        tops[index] = max(free, wanted[index])
        free = tops[index] + heights[index] + gap
    limit = end
    for index in reversed(order):
        tops[index] = min(tops[index], limit - heights[index])
        limit = tops[index] - gap
    return tops


def room(*, heights: Sequence[float], gap: float = 4) -> float:
    """Return the height that blocks of ``heights`` need one under the other."""
    return sum(heights) + gap * max(0, len(heights) - 1)
