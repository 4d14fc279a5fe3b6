"""The bench's arithmetic: paired ratios, their median with an interval, and what counts as ok.

The interval is that of the sign test: between two order statistics whose ranks come from the
binomial distribution with one half, so it needs no assumption about the shape of the noise
(order statistics and the median: real-statistics.com, "Confidence Intervals for Order Statistics,
Medians and Percentiles").
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from itertools import count
from math import comb
from statistics import median
from time import perf_counter
from typing import Any, Final, TypeVar

FEWEST_ROUNDS: Final = 30
MOST_ROUNDS: Final = 150
"""No act meets an episode twice, and there are 500."""
WARM_UP: Final = 3
CONFIDENCE: Final = 0.95

Act = Callable[[], object]
T = TypeVar("T")


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One measured number with its interval; ``aim`` is None for what only stands beside."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    aim: float | None = None

    @property
    def ok(self) -> bool:
        """Not ok only when the whole interval lies above the aim."""
        return self.aim is None or self.low <= self.aim

    def as_json(self) -> dict[str, Any]:
        """The figure as plain values."""
        return {**asdict(self), "ok": self.ok}


def exact(*, name: str, value: float, unit: str, aim: float | None = None) -> Figure:
    """A counted number: it has no interval."""
    return Figure(name=name, value=value, low=value, high=value, unit=unit, aim=aim)


def sampled(*, name: str, values: Sequence[float], unit: str, aim: float | None = None) -> Figure:
    """The median of what was sampled, with its interval, to four digits after the point."""
    low, high = median_interval(values=values)
    return Figure(
        name=name,
        value=round(median(values), 4),
        low=round(low, 4),
        high=round(high, 4),
        unit=unit,
        aim=aim,
    )


def median_interval(*, values: Sequence[float]) -> tuple[float, float]:
    """The narrowest pair of order statistics that holds the median in at least 95 % of samples.

    >>> median_interval(values=range(1, 21))
    (6, 15)

    Raises ``ValueError`` below six values: then no pair reaches 95 %.
    """
    ordered, n = sorted(values), len(values)
    outside, rank = 1.0, 0
    while (outside := outside if rank else 2 / 2**n) <= 1 - CONFIDENCE:
        rank += 1
        outside += 2 * comb(n, rank) / 2**n
    if rank == 0:
        raise ValueError("An interval of the median needs at least six values.")
    return ordered[rank - 1], ordered[n - rank]


def paired(
    *, product: Callable[[], Act], baseline: Callable[[], Act], rounds: int
) -> tuple[list[float], list[float]]:
    """Milliseconds of product and baseline, taken in turns so that noise meets both alike.

    Each is a function that prepares one act, untimed, and answers with the act to be timed. What
    lives after the warm-up is put out of the garbage collector's sight: going through the whole
    process now and then would fall on one side or the other by chance.
    """
    times: tuple[list[float], list[float]] = ([], [])
    for number in range(-WARM_UP, rounds):
        if number == 0:
            gc.collect()
            gc.freeze()
        for kept, prepare in zip(times, (product, baseline), strict=True):
            act = prepare()
            start = perf_counter()
            act()
            spent = perf_counter() - start
            if number >= 0:
                kept.append(spent * 1000)
    return times


def compared(
    *, name: str, product: Sequence[float], baseline: Sequence[float], aim: float
) -> list[Figure]:
    """The ratio of each round, and beside it the milliseconds of either side."""
    ratios = [mine / bare for mine, bare in zip(product, baseline, strict=True)]
    return [
        sampled(name=name, values=ratios, unit="ratio", aim=aim),
        sampled(name=f"{name}.product", values=product, unit="ms"),
        sampled(name=f"{name}.baseline", values=baseline, unit="ms"),
    ]


def turns(batches: Sequence[Sequence[T]], each: Callable[[T], object]) -> Callable[[], Act]:
    """Prepares one act after the other: a batch from end to end."""
    turn = count()

    def prepare() -> Act:
        batch = batches[next(turn) % len(batches)]

        def act() -> None:
            for one in batch:
                each(one)

        return act

    return prepare
