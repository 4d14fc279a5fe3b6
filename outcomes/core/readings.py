"""What is typed at a test: conditions, trials, limits, the extension entry, a swap of sides."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Final, Literal

from outcomes.core.quantities import TypedError, canonical, plain, shown, unit_sign
from outcomes.core.trials import summary_of
from outcomes.core.values import (
    Condition,
    EntryKind,
    EpisodeFacts,
    Limb,
    Measure,
    Pair,
    SymmetryForm,
)

SWAP_INDEX: Final = Decimal(130)
"""Our own limit in per cent above which left and right may have been swapped."""

ExtensionChoice = Literal["lacks", "straight", "beyond"]


def comparison_key(*, measure: Measure, conditions: Mapping[str, str]) -> str:
    """The conditions as one text, in one order: ``device=fixed;knee_angle=90``.

    Numbers are normalised, so that "15" and "15.0" are the same condition. A condition that is
    not required may be left out. Raises ``TypedError`` for an unknown or missing condition, a word
    that is not a choice, or no number where one is needed.
    """
    unknown = set(conditions) - {condition.code for condition in measure.conditions}
    if unknown:
        raise TypedError(
            code="condition_unknown",
            message=f"{measure.label} has no condition named {sorted(unknown)[0]}.",
        )
    parts = []
    for condition in sorted(measure.conditions, key=lambda c: c.code):
        typed = conditions.get(condition.code, "").strip()
        if typed:
            parts.append(f"{condition.code}={condition_value(condition=condition, typed=typed)}")
        elif condition.required:
            raise TypedError(
                code="condition_missing", message=f"Choose or type: {condition.label}."
            )
    return ";".join(parts)


def conditions_of(*, key: str) -> dict[str, str]:
    """The conditions that a comparison key was made from; none of a key that is not complete.

    >>> conditions_of(key="device=fixed;knee_angle=90")
    {'device': 'fixed', 'knee_angle': '90'}
    """
    return dict(part.split("=", 1) for part in key.split(";") if "=" in part)


def condition_value(*, condition: Condition, typed: str) -> str:
    """One condition as it stands in the key: a choice's code or a normalised number.

    Raises ``TypedError`` for a word that is not a choice or no number where one is needed.
    """
    if condition.choices:
        if typed not in {choice.code for choice in condition.choices}:
            words = ", ".join(choice.label for choice in condition.choices)
            raise TypedError(code="condition_choice", message=f"Choose {condition.label}: {words}.")
        return typed
    try:
        value = Decimal(typed)
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite() or value < 0:
        unit = unit_sign(unit=condition.unit)
        raise TypedError(
            code="condition_number", message=f"Type {condition.label} as a number in {unit}."
        )
    return plain(value=value)


def summarise(*, measure: Measure, trials: Sequence[Decimal]) -> Decimal:
    """The one value of the trials, as the measure says; ``best`` follows its better direction.

    Raises ``TypedError`` without trials, and for more than one where the measure takes one.
    """
    value = summary_of(trials=trials, summary=measure.summary, better=measure.better)
    return canonical(value=value)


def check_value(*, measure: Measure, value: Decimal) -> tuple[str | None, str | None]:
    """What is wrong (refused) and what is unusual (needs a reason) about a canonical value.

    Both are sentences that say what to type instead, or None.
    """
    return _hard(measure=measure, value=value), _soft(measure=measure, value=value)


def _hard(*, measure: Measure, value: Decimal) -> str | None:
    if measure.entry is EntryKind.GRADE:
        whole = value == value.to_integral_value() and 0 <= value < len(measure.grades)
        return None if whole else f"Choose one of: {', '.join(measure.grades)}."
    if measure.cap is not None and value > measure.cap:
        cap = _with_unit(measure=measure, value=measure.cap)
        return f"The test is stopped at {cap}: type that and choose the cap as its end."
    low, high = measure.hard
    if low <= value <= high:
        return None
    return f"Type a value from {_range(measure=measure, low=low, high=high)}."


def _soft(*, measure: Measure, value: Decimal) -> str | None:
    low, high = measure.soft
    if low <= value <= high:
        return None
    given = _with_unit(measure=measure, value=value)
    usual = _range(measure=measure, low=low, high=high)
    return f"{given} is outside what is usual ({usual}). Check it, or give the reason."


def _range(*, measure: Measure, low: Decimal, high: Decimal) -> str:
    lowest = shown(value=low, decimals=measure.decimals)
    return f"{lowest} to {_with_unit(measure=measure, value=high)}"


def _with_unit(*, measure: Measure, value: Decimal) -> str:
    sign = unit_sign(unit=measure.unit)
    number = shown(value=value, decimals=measure.decimals)
    return f"{number}{'' if sign in ('', '°') else ' '}{sign}"


def extension_value(*, choice: ExtensionChoice, degrees: Decimal | None) -> Decimal:
    """Knee extension in degrees from its three-way entry: lacking is positive, beyond negative.

    The degrees are typed without a sign. Raises ``TypedError`` for a sign, for no degrees where
    they are needed and for degrees beside "straight".

    >>> extension_value(choice="beyond", degrees=Decimal(3))
    Decimal('-3.000000')
    """
    if degrees is not None and degrees < 0:
        raise TypedError(
            code="typed_sign",
            message="Type the degrees without a sign; choose lacks, straight or beyond straight.",
        )
    if choice == "straight":
        if degrees:
            raise TypedError(
                code="straight_is_zero",
                message="Straight is 0: choose lacks or beyond straight, or leave the degrees out.",
            )
        return canonical(value=Decimal(0))
    if not degrees:
        raise TypedError(
            code="degrees_missing", message="Type how many degrees, or choose straight."
        )
    return canonical(value=degrees if choice == "lacks" else -degrees)


def swap_suspected(
    *, measure: Measure, pair: Pair, facts: EpisodeFacts, previous_pair: Pair | None
) -> str | None:
    """A soft warning that left and right may have been swapped, or None.

    Without an own earlier pair under the same key: the involved limb is over 130 % of the other,
    and the graft is not from the other limb. With one: the two limbs differ by that much and the
    swapped values lie nearer to the earlier ones than the typed ones do.
    """
    now = _values(pair=pair)
    if now is None or facts.knee is Limb.NONE or not far_apart(measure=measure, pair=pair):
        return None
    left, right = now
    involved, other = (left, right) if facts.knee is Limb.LEFT else (right, left)
    if measure.symmetry is SymmetryForm.INVERTED_RATIO:
        involved, other = other, involved
    before = (
        _values(pair=previous_pair) if previous_pair and previous_pair.key == pair.key else None
    )
    if before is None:
        suspected = involved > other and facts.graft_from != "other_limb"
    else:
        typed = abs(left - before[0]) + abs(right - before[1])
        suspected = abs(left - before[1]) + abs(right - before[0]) < typed
    if not suspected:
        return None
    return "Left and right swapped? Look at both values again."


def far_apart(*, measure: Measure, pair: Pair) -> bool:
    """Whether one limb is over 130 % of the other, in a test whose limbs are compared as a ratio.

    Without that no swap is suspected, whatever was read before.
    """
    now = _values(pair=pair)
    if measure.symmetry not in (SymmetryForm.RATIO, SymmetryForm.INVERTED_RATIO) or now is None:
        return False
    return min(now) > 0 and max(now) / min(now) * 100 > Fraction(SWAP_INDEX)


def _values(*, pair: Pair) -> tuple[Fraction, Fraction] | None:
    left, right = pair.left, pair.right
    if left is None or right is None or left.value is None or right.value is None:
        return None
    return Fraction(left.value), Fraction(right.value)
