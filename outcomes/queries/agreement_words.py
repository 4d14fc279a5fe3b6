"""Agreement in words: kappa and the share alike with their intervals, and what they came from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from clinic import words
from outcomes.core.agreement import FEW, Kappa, Share, Table, alike, kappa, table_of
from outcomes.core.quantities import shown
from outcomes.queries.opened import Opened

LEAST: Final = 5
"""Under so many pairs no per cent is written (setting of this house)."""
WHY: Final = {
    "no_pairs": "nothing to compare",
    "one_grade": "not defined: both gave one and the same grade throughout",
    "all_alike": "no interval: every pair is alike",
    "no_spread": "no interval: the grades vary too little",
}
METHOD: Final = (
    "Kappa is (found − by chance) ÷ (1 − by chance): 1 is complete agreement, 0 as much as chance. "
    "Linear weights count a difference of one grade less than one of two.",
    "Interval: 95 %, large-sample standard error (Fleiss, Cohen and Everitt 1969); for the share "
    "alike the Wilson interval.",
    "Checked against published tables: see How we check our numbers.",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Agreed:
    """Agreement of two over the same things, in words.

    ``kappa`` has linear weights, ``quadratic`` quadratic ones, ``plain`` none. ``few`` is a
    sentence where the pairs are few, else empty.
    """

    n: int
    counted: str
    kappa: str
    quadratic: str
    plain: str
    alike: str
    few: str
    opened: Opened


def agreed(
    *,
    pairs: Sequence[tuple[int, int]],
    grades: Sequence[str],
    first: str,
    second: str,
    unit: tuple[str, str],
) -> Agreed:
    """Pairs of ranks in words. ``first`` and ``second`` say whose grades are rows and columns."""
    table = table_of(pairs=pairs, grades=len(grades))
    plain, linear, quadratic = (kappa(table=table, power=power) for power in (0, 1, 2))
    same, counted = alike(table=table), words.several(len(pairs), *unit)
    return Agreed(
        n=len(pairs),
        counted=counted,
        kappa=kappa_words(found=linear),
        quadratic=kappa_words(found=quadratic),
        plain=kappa_words(found=plain),
        alike=share_words(found=same),
        few=f"{counted}: under {FEW}, the interval of kappa is rough." if linear.few else "",
        opened=_opened(table, grades, (first, second), (linear, quadratic, plain)),
    )


def kappa_words(*, found: Kappa) -> str:
    """Kappa with its interval, or why there is none."""
    if found.value is None:
        return WHY[found.reason]
    if found.low is None or found.high is None:
        return f"{two(found.value)} ({WHY[found.reason]})"
    return f"{two(found.value)} ({two(found.low)} to {two(found.high)})"


def share_words(*, found: Share) -> str:
    """A count of all, in per cent with its interval from five on."""
    if found.value is None or found.low is None or found.high is None:
        return WHY["no_pairs"]
    said = f"{found.count} of {found.n}"
    if found.n < LEAST:
        return said
    value, low, high = (
        shown(value=100 * one, decimals=0) for one in (found.value, found.low, found.high)
    )
    return f"{said}, {value} % ({low} to {high} %)"


def two(value: Fraction | Decimal) -> str:
    """A number with two places and a real minus sign.

    >>> two(Fraction(-1, 3))
    '−0.33'
    """
    return shown(value=value, decimals=2).replace("-", "−")


def _opened(
    table: Table, grades: Sequence[str], who: tuple[str, str], found: tuple[Kappa, Kappa, Kappa]
) -> Opened:
    """The counts, the sums and the method."""
    counts = [
        f"{who[0]} {grade}: {_row(row, grades, who[1])}"
        for grade, row in zip(grades, table, strict=True)
        if any(row)
    ]
    names = ("linear weights", "quadratic weights", "no weights")
    sums = [_sum(name, one) for name, one in zip(names, found, strict=True)]
    return Opened(
        parts=(("Counts", tuple(counts)), ("Kappa", tuple(sums)), ("How", METHOD)),
    )


def _row(row: Sequence[object], grades: Sequence[str], who: str) -> str:
    return f"{who} " + ", ".join(
        f"{count} {grade}" for count, grade in zip(row, grades, strict=True) if count
    )


def _sum(name: str, found: Kappa) -> str:
    if found.seen is None or found.chance is None:
        return f"{name}: {WHY[found.reason]}"
    seen, chance = two(found.seen), two(found.chance)
    said = f"{name}: found {seen}, by chance {chance}"
    if found.value is None:
        return f"{said}: {WHY[found.reason]}"
    error = f"; standard error {shown(value=found.se, decimals=3)}" if found.se else ""
    return f"{said}, kappa {kappa_words(found=found)}{error}"
