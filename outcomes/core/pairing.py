"""Which stages of two protocols stand beside each other when they are named differently."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from outcomes.core.values import Milestone

Pair = tuple[int | None, int | None]


def pairs(*, before: Sequence[Milestone], after: Sequence[Milestone]) -> tuple[Pair, ...]:
    """Places in both, in their order; None where a milestone has none beside it.

    Milestones of the same code stand beside each other where there are any. Else each stands
    beside the one that it shares most criteria with by what they judge, so that no two pairs
    cross: of all ways to do so, the one that shares most in all, and the earliest of equals. What
    shares nothing stands alone. It says which rows of a table are compared, never that two stages
    are the same (setting of this house).

    >>> from outcomes.core.values import Gate
    >>> gate = Gate(weeks=1, months=None, sources=())
    >>> one, two = (Milestone(code=c, label=c, gate=gate, criteria=()) for c in ("a", "b"))
    >>> pairs(before=[one, two], after=[two])
    ((0, None), (1, 0))
    """
    codes = {one.code for one in before} & {one.code for one in after}
    if codes:
        return _by_code(before, after)

    @cache
    def best(i: int, j: int) -> tuple[int, tuple[Pair, ...]]:
        """Most that is shared from these places on, and how."""
        if i == len(before) or j == len(after):
            left = [(place, None) for place in range(i, len(before))]
            return 0, (*left, *((None, place) for place in range(j, len(after))))
        worth = shared(before=before[i], after=after[j])
        ways = []
        if worth:
            more, rest = best(i + 1, j + 1)
            ways.append((worth + more, ((i, j), *rest)))
        more, rest = best(i + 1, j)
        ways.append((more, ((i, None), *rest)))
        more, rest = best(i, j + 1)
        ways.append((more, ((None, j), *rest)))
        return max(ways, key=lambda way: way[0])

    return best(0, 0)[1]


def _by_code(before: Sequence[Milestone], after: Sequence[Milestone]) -> tuple[Pair, ...]:
    """In the order of the new ones, each after what falls away just before it; then the rest."""
    places = {one.code: place for place, one in enumerate(before)}
    there = {one.code for one in after}
    found: list[Pair] = []
    gone = [place for place, one in enumerate(before) if one.code not in there]
    for place, one in enumerate(after):
        old = places.get(one.code)
        while gone and old is not None and gone[0] < old:
            found.append((gone.pop(0), None))
        found.append((old, place))
    return (*found, *((place, None) for place in gone))


def shared(*, before: Milestone, after: Milestone) -> int:
    """How many different things both judge, a measure in one form or a score."""
    return len(_judged(before) & _judged(after))


def _judged(milestone: Milestone) -> set[tuple[str, str]]:
    return {(one.measure, one.form.value) for one in milestone.criteria if one.measure}
