"""The core's hot sums against plain loops that validate the same inline: no names, no reasons."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import ceil
from random import Random
from typing import Any, Final

from outcomes.catalogue.instruments import load_instruments
from outcomes.catalogue.seeds import load_catalogue
from outcomes.core.questionnaires import score
from outcomes.core.symmetry import pairs_of, symmetry
from outcomes.core.values import (
    Limb,
    Measure,
    NotAssessable,
    Pair,
    Reading,
    ReadingStatus,
    Symmetry,
)
from outcomes.management.bench.measuring import Figure, compared, paired, turns

SHEETS: Final = 10_000
PAIRS: Final = 100_000
"""How many there are over all rounds together; each round takes its share."""
SEED: Final = 4
DAY: Final = date(2026, 3, 2)

Sheet = Mapping[str, Any]


class Wrong(ValueError):
    """A plain loop has met something that does not belong."""


def score_koos(*, rounds: int) -> list[Figure]:
    """Ten thousand sheets of 42 answers, one in twenty left open, to five scores each."""
    koos, rng = load_instruments()["koos"], Random(SEED)  # noqa: S311  no secret
    answers = [Decimal(number) for number in range(5)]
    scales = {form.code: (form.items, form.needed) for form in koos.scores}

    def sheet() -> Sheet:
        return {
            item.code: None if rng.random() < 0.05 else rng.choice(answers) for item in koos.items
        }

    sheets = [[sheet() for _ in range(ceil(SHEETS / rounds))] for _ in range(rounds)]
    known = frozenset(item.code for item in koos.items)
    mine, bare = paired(
        product=turns(sheets, lambda one: score(instrument=koos, answers=one)),
        baseline=turns(sheets, lambda one: plain_scores(one, known, scales)),
        rounds=rounds,
    )
    return compared(name="score_koos", product=mine, baseline=bare, aim=2)


def plain_scores(
    sheet: Sheet, known: frozenset[str], scales: Mapping[str, tuple[tuple[str, ...], int]]
) -> dict[str, Fraction | None]:
    """The scores of a sheet of 0 to 4, by the rule of the scale, in one loop."""
    for code, value in sheet.items():
        if code not in known:
            raise Wrong(code)
        if value is not None and (
            not isinstance(value, Decimal) or not value.is_finite() or value not in (0, 1, 2, 3, 4)
        ):
            raise Wrong(code)
    found: dict[str, Fraction | None] = {}
    for name, (items, needed) in scales.items():
        given = [value for code in items if (value := sheet.get(code)) is not None]
        enough = len(given) >= needed
        found[name] = 100 - 100 * Fraction(sum(given)) / (4 * len(given)) if enough else None
    return found


def compare_limbs(*, rounds: int) -> list[Figure]:
    """A hundred thousand pairs of hops to their symmetry."""
    hop, rng = load_catalogue()["single_hop"], Random(SEED)  # noqa: S311  no secret

    def pair() -> Pair:
        rows = [
            Reading(measure=hop.code, limb=limb, value=Decimal(rng.randint(400, 2200)) / 10, on=DAY)
            for limb in (Limb.LEFT, Limb.RIGHT)
        ]
        return pairs_of(measure=hop, readings=rows)[0]

    pairs = [[pair() for _ in range(ceil(PAIRS / rounds))] for _ in range(rounds)]
    mine, bare = paired(
        product=turns(pairs, lambda one: compare_pair(hop, one)),
        baseline=turns(pairs, lambda one: plain_symmetry(one, hop.cap)),
        rounds=rounds,
    )
    return compared(name="symmetry", product=mine, baseline=bare, aim=2)


def compare_pair(hop: Measure, pair: Pair) -> Symmetry | NotAssessable:
    """The core's symmetry of a left knee's pair."""
    return symmetry(measure=hop, pair=pair, involved=Limb.LEFT, other_limb_fair=True)


def plain_symmetry(pair: Pair, cap: Decimal | None) -> Fraction:
    """Left over right in per cent, after the checks that the core makes."""
    left, right = pair.left, pair.right
    if left is None or right is None:
        raise Wrong("limb")
    for reading in (left, right):
        if reading.status is not ReadingStatus.MEASURED or reading.value is None:
            raise Wrong("status")
    if left.value is None or right.value is None or not right.value:
        raise Wrong("value")
    if cap is not None and min(left.value, right.value) >= cap:
        raise Wrong("cap")
    return Fraction(left.value) / Fraction(right.value) * 100
