"""Agreement of two people who graded the same things: kappa, weighted kappa, share alike.

A table counts pairs: a row for each grade of the first, a column for each grade of the second,
lowest grade first. A grade that nobody gave keeps its row and column.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.errors import Z, root
from outcomes.core.quantities import EXACT

Table = Sequence[Sequence[int | Decimal | Fraction]]
Weights = Sequence[Sequence[Fraction | Decimal | int]]

FEW: Final = 50
"""Under so many pairs an interval of kappa is rough (setting of this house)."""
NO_PAIRS: Final = "no_pairs"
ONE_GRADE: Final = "one_grade"
ALL_ALIKE: Final = "all_alike"
NO_SPREAD: Final = "no_spread"


@dataclass(frozen=True, kw_only=True, slots=True)
class Kappa:
    """Agreement beyond chance: 1 is complete, 0 as much as chance alone, below 0 less.

    ``value`` is None where kappa is not defined, ``low`` and ``high`` (95 %) where this method
    gives no interval; ``seen`` and ``chance`` are the weighted agreement that was found and that
    chance alone would give. ``reason`` says what is missing: ``no_pairs``, ``one_grade`` (both
    gave one and the same grade throughout, 0 over 0), ``all_alike`` (every pair is alike) or
    ``no_spread`` (the grades vary too little, as where one of the two gave one grade throughout).
    """

    n: int
    value: Fraction | None = None
    seen: Fraction | None = None
    chance: Fraction | None = None
    se: Decimal | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    reason: str = ""

    @property
    def few(self) -> bool:
        """Whether the pairs are so few that the interval is rough."""
        return self.n < FEW


@dataclass(frozen=True, kw_only=True, slots=True)
class Share:
    """How many of how many, with the 95 % interval; no value where there is nothing to count."""

    count: int
    n: int
    value: Fraction | None = None
    low: Decimal | None = None
    high: Decimal | None = None


def table_of(*, pairs: Iterable[tuple[int, int]], grades: int) -> tuple[tuple[int, ...], ...]:
    """Pairs of ranks (0 the lowest grade) counted into a table of so many grades.

    Raises ``ValueError`` for a rank outside the grades.

    >>> table_of(pairs=[(0, 0), (0, 1), (2, 2)], grades=3)
    ((1, 1, 0), (0, 0, 0), (0, 0, 1))
    """
    counts = [[0] * grades for _ in range(grades)]
    for first, second in pairs:
        if not (0 <= first < grades and 0 <= second < grades):
            raise ValueError("a rank lies outside the grades")
        counts[first][second] += 1
    return tuple(tuple(row) for row in counts)


def weights_of(*, grades: int, power: int) -> tuple[tuple[Fraction, ...], ...]:
    """How much each pair of grades agrees: 1 - (steps apart / most steps) ** power.

    ``power`` 0 counts equal grades alone, 1 is linear, 2 quadratic. Raises ``ValueError`` for
    fewer than two grades or another power.

    >>> [str(weight) for weight in weights_of(grades=4, power=1)[0]]
    ['1', '2/3', '1/3', '0']
    """
    if grades < 2 or power not in (0, 1, 2):
        raise ValueError("two grades at least, and the power 0, 1 or 2")
    whole = range(grades)
    if power == 0:
        return tuple(tuple(Fraction(i == j) for j in whole) for i in whole)
    return tuple(tuple(1 - Fraction(abs(i - j), grades - 1) ** power for j in whole) for i in whole)


def kappa(*, table: Table, power: int) -> Kappa:
    """Cohen's kappa (``power`` 0), or weighted linear (1) or quadratic (2), with its interval.

    Source of the value: Cohen 1960 and 1968; of the interval: see ``weighted_kappa``.

    >>> found = kappa(table=((5, 3, 0, 0), (3, 11, 4, 0), (2, 13, 3, 4), (1, 2, 4, 14)), power=1)
    >>> round(float(found.value), 3), round(found.low, 3), round(found.high, 3)
    (0.477, Decimal('0.334'), Decimal('0.620'))
    """
    return weighted_kappa(table=table, weights=weights_of(grades=len(table), power=power))


def weighted_kappa(*, table: Table, weights: Weights) -> Kappa:
    """Kappa with a weight of agreement for each cell (1 for the same grade), exact.

    The standard error is the large-sample one of Fleiss, Cohen and Everitt 1969 (Psychological
    Bulletin 72:323-327), the interval 1.96 of it on both sides, cut at -1 and 1: rough under 50
    pairs. Raises ``ValueError`` for a table that is not square or weights of another shape.

    >>> weighted_kappa(table=((4, 0), (0, 0)), weights=((1, 0), (0, 1))).reason
    'one_grade'
    """
    size = len(table)
    if any(len(row) != size for row in (*table, *weights)) or len(weights) != size:
        raise ValueError("table and weights are square and of one size")
    total = sum(Fraction(cell) for row in table for cell in row)
    if not total:
        return Kappa(n=0, reason=NO_PAIRS)
    p = [[Fraction(cell) / total for cell in row] for row in table]
    w = [[Fraction(weight) for weight in row] for row in weights]
    found = _moments(p, w)
    if found.chance == 1:
        return Kappa(n=int(total), seen=found.seen, chance=found.chance, reason=ONE_GRADE)
    value = (found.seen - found.chance) / (1 - found.chance)
    bare = Kappa(
        n=int(total),
        value=value,
        seen=found.seen,
        chance=found.chance,
        reason=ALL_ALIKE if value == 1 else NO_SPREAD,
    )
    if not found.variance:
        return bare
    se = root(square=found.variance / total)
    half, exact = Z[95] * se, _decimal(value)
    low, high = max(Decimal(-1), exact - half), min(Decimal(1), exact + half)
    return replace(bare, se=se, low=low, high=high, reason="")


@dataclass(frozen=True, kw_only=True, slots=True)
class _Moments:
    """Weighted agreement as seen and by chance, and the variance of kappa for one pair."""

    seen: Fraction
    chance: Fraction
    variance: Fraction


def _moments(p: list[list[Fraction]], w: list[list[Fraction]]) -> _Moments:
    whole = range(len(p))
    cells = [(i, j) for i in whole for j in whole]
    rows = [sum(row, Fraction(0)) for row in p]
    columns = [sum((row[j] for row in p), Fraction(0)) for j in whole]
    seen = sum((w[i][j] * p[i][j] for i, j in cells), Fraction(0))
    chance = sum((w[i][j] * rows[i] * columns[j] for i, j in cells), Fraction(0))
    if chance == 1:
        return _Moments(seen=seen, chance=chance, variance=Fraction(0))
    of_row = [sum((w[i][j] * columns[j] for j in whole), Fraction(0)) for i in whole]
    of_column = [sum((w[i][j] * rows[i] for i in whole), Fraction(0)) for j in whole]
    spread = sum(
        p[i][j] * (w[i][j] * (1 - chance) - (of_row[i] + of_column[j]) * (1 - seen)) ** 2
        for i, j in cells
    )
    centre = (seen * chance - 2 * chance + seen) ** 2
    return _Moments(seen=seen, chance=chance, variance=(spread - centre) / (1 - chance) ** 4)


def alike(*, table: Table) -> Share:
    """How many pairs have the same grade, of how many, with its Wilson interval.

    >>> found = alike(table=((3, 1), (0, 4)))
    >>> found.count, found.n, found.value
    (7, 8, Fraction(7, 8))
    """
    same = sum(int(row[i]) for i, row in enumerate(table))
    return share(count=same, n=sum(int(cell) for row in table for cell in row))


def share(*, count: int, n: int) -> Share:
    """A proportion with its 95 % Wilson score interval (Wilson 1927), no continuity correction.

    Raises ``ValueError`` unless 0 <= count <= n.

    >>> found = share(count=81, n=263)
    >>> round(found.low, 4), round(found.high, 4)
    (Decimal('0.2553'), Decimal('0.3662'))
    """
    if not 0 <= count <= n:
        raise ValueError("a count lies between 0 and what it is counted of")
    if not n:
        return Share(count=0, n=0)
    p, z = Fraction(count, n), Fraction(Z[95])
    scale = 1 + z**2 / n
    centre = (p + z**2 / (2 * n)) / scale
    half = _decimal(z) * root(square=p * (1 - p) / n + z**2 / (4 * n**2)) / _decimal(scale)
    return Share(
        count=count,
        n=n,
        value=p,
        low=max(Decimal(0), _decimal(centre) - half) if count else Decimal(0),
        high=min(Decimal(1), _decimal(centre) + half) if count < n else Decimal(1),
    )


def _decimal(value: Fraction) -> Decimal:
    return EXACT.divide(Decimal(value.numerator), Decimal(value.denominator))
