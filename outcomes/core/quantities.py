"""Typed text to exact numbers, units to units, and numbers to what is shown."""

from __future__ import annotations

import re
import unicodedata
from decimal import Context, Decimal
from fractions import Fraction
from functools import lru_cache
from math import floor
from typing import Final

from outcomes.core.compare import holds
from outcomes.core.values import Operator

PLACES: Final = 6
DIGITS: Final = 15
EXACT: Final = Context(prec=60)

NUMBER: Final = re.compile(r"([+-]?)([0-9]+)(?:[.,]([0-9]+))?")
MINUS_SIGNS: Final = str.maketrans({"−": "-", "\u2010": "-", "\u2011": "-"})
PLAIN_FORMS: Final = ("<wide>", "<narrow>", "<noBreak>")

STANDARD_GRAVITY: Final = Decimal("9.80665")
"""Metres per second squared, exact by definition (3rd General Conference on Weights, 1901)."""

UNITS: Final[dict[str, tuple[str, Decimal]]] = {
    "N": ("force", Decimal(1)),
    "kgf": ("force", STANDARD_GRAVITY),
    "[lbf_av]": ("force", Decimal("4.4482216152605")),
    "N.m": ("torque", Decimal(1)),
    "kgf.m": ("torque", STANDARD_GRAVITY),
    "[ft_i].[lbf_av]": ("torque", Decimal("1.3558179483314004")),
    "[in_i].[lbf_av]": ("torque", Decimal("0.1129848290276167")),
    "kg": ("mass", Decimal(1)),
    "[lb_av]": ("mass", Decimal("0.45359237")),
    "[stone_av]": ("mass", Decimal("6.35029318")),
    "cm": ("length", Decimal(1)),
    "m": ("length", Decimal(100)),
    "[in_i]": ("length", Decimal("2.54")),
    "[ft_i]": ("length", Decimal("30.48")),
    "deg": ("angle", Decimal(1)),
    "deg/s": ("angular speed", Decimal(1)),
    "s": ("time", Decimal(1)),
    "ms": ("time", Decimal("0.001")),
    "mm": ("length", Decimal("0.1")),
    "m/s": ("speed", Decimal(1)),
    "N.m/s": ("torque rate", Decimal(1)),
    "/min": ("rate", Decimal(1)),
    "1": ("ratio", Decimal(1)),
    "%": ("ratio", Decimal("0.01")),
    "{score}": ("score", Decimal(1)),
    "{repetition}": ("count", Decimal(1)),
    "{hop}": ("count", Decimal(1)),
    "{session}": ("count", Decimal(1)),
    "{day}": ("count", Decimal(1)),
    "{error}": ("count", Decimal(1)),
}
"""UCUM code to its dimension and exact factor (international definitions of pound, foot, g0)."""

SIGNS: Final = {
    "kgf": "kgf",
    "[lbf_av]": "lbf",
    "N.m": "N·m",
    "N.m/kg": "N·m/kg",
    "kgf.m": "kgf·m",
    "[ft_i].[lbf_av]": "ft·lbf",
    "[in_i].[lbf_av]": "in·lbf",
    "[lb_av]": "lb",
    "[stone_av]": "st",
    "[in_i]": "in",
    "[ft_i]": "ft",
    "deg": "°",
    "deg/s": "°/s",
    "N.m/s": "N·m/s",
    "1": "",
    "{score}": "",
    "{repetition}": "reps",
    "{hop}": "hops",
    "{session}": "sessions",
    "{day}": "days",
    "{error}": "errors",
}
"""How a UCUM code is written on screen where the code itself is not what people write."""


class TypedError(ValueError):
    """What was typed cannot be taken; ``message`` says what to type instead."""

    def __init__(self, *, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


def _plain(*, text: str) -> str:
    """NFKC without the forms that would change the number (5² is not 52), signs made ASCII."""
    for character in text:
        form = unicodedata.decomposition(character).partition(" ")[0]
        if form.startswith("<") and form not in PLAIN_FORMS:
            raise TypedError(
                code="not_a_number", message=f"Type digits only, without the character {character}."
            )
    return unicodedata.normalize("NFKC", text).translate(MINUS_SIGNS).strip()


def _refuse_grouping(*, plain: str, whole: str, part: str) -> None:
    if len(part) == 3 and whole.lstrip("0") and len(whole) <= 3:
        raise TypedError(
            code="grouping",
            message=f"{plain} can be read in two ways: type {whole}{part} or {whole}.{part}0.",
        )


def parse_number(*, text: str, decimals: int | None = None, signed: bool = True) -> Decimal:
    """The number that was typed, with ``,`` or ``.`` as decimal mark.

    Spaces around it (also no-break), full-width digits and the minus sign U+2212 are read; both
    marks, grouping, other digits and anything else are refused. ``decimals`` refuses more decimal
    digits than the measure has; ``signed=False`` refuses a typed sign. Raises ``TypedError``.

    >>> parse_number(text=" 12,5 ")
    Decimal('12.5')
    """
    plain = _plain(text=text)
    if not plain:
        raise TypedError(code="empty", message="Type a number.")
    if "," in plain and "." in plain:
        raise TypedError(
            code="both_marks", message="Type one decimal mark, comma or point: 1234.5 or 1234,5."
        )
    found = NUMBER.fullmatch(plain)
    if found is None:
        raise TypedError(
            code="not_a_number", message="Type a number with digits and one decimal mark: 12.5."
        )
    sign, whole, part = found.group(1), found.group(2), found.group(3) or ""
    if sign and not signed:
        raise TypedError(code="typed_sign", message=f"Type {plain[1:]} without a sign.")
    _refuse_grouping(plain=plain, whole=whole, part=part)
    if decimals is not None and len(part.rstrip("0")) > decimals:
        raise TypedError(code="too_precise", message=_fewer(decimals=decimals))
    if len(whole.lstrip("0")) + len(part) > DIGITS:
        raise TypedError(code="too_long", message=f"Type a number of at most {DIGITS} digits.")
    value = Decimal(f"{sign}{whole}.{part or '0'}") if part else Decimal(f"{sign}{whole}")
    return value if value else abs(value)


def _fewer(*, decimals: int) -> str:
    if decimals == 0:
        return "Type a whole number."
    return f"Type at most {decimals} digit{'s' if decimals > 1 else ''} after the decimal mark."


def convert(*, value: Decimal, source: str, target: str) -> Decimal:
    """A value in another unit as a decimal of up to 60 digits; the same unit leaves it as it is.

    ``source`` and ``target`` are UCUM codes. Raises ``TypedError`` as ``converted`` does.

    >>> convert(value=Decimal(3), source="[ft_i].[lbf_av]", target="N.m")
    Decimal('4.0674538449942012')
    """
    exact = converted(value=value, source=source, target=target)
    if source == target:
        return value
    return EXACT.divide(Decimal(exact.numerator), Decimal(exact.denominator))


def converted(*, value: Decimal | Fraction, source: str, target: str) -> Fraction:
    """A value in another unit, exact; ``source`` and ``target`` are UCUM codes.

    A dynamometer's "kg" means ``kgf``. Raises ``TypedError`` for an unknown unit or another
    dimension. Source: international definitions of pound, inch and standard gravity (NIST SP 811).

    >>> converted(value=Decimal("25.4"), source="cm", target="[in_i]")
    Fraction(10, 1)
    """
    for unit in (source, target):
        if unit not in UNITS:
            raise TypedError(code="unit", message=f"The unit {unit} is not known here.")
    (from_kind, from_factor), (to_kind, to_factor) = UNITS[source], UNITS[target]
    if from_kind != to_kind:
        raise TypedError(
            code="unit",
            message=f"Type a {to_kind} in {unit_sign(unit=target)}: "
            f"{unit_sign(unit=source)} is a {from_kind}.",
        )
    return Fraction(value) * Fraction(from_factor) / Fraction(to_factor)


def unit_sign(*, unit: str) -> str:
    """A UCUM code as it is written on screen: N·m, °, lb; a score has no sign."""
    return SIGNS.get(unit, unit)


def plain(*, value: Decimal) -> str:
    """A number in full (60 digits), without zeros at its end, an exponent or a sign before zero.

    >>> plain(value=Decimal("70.50")), plain(value=Decimal("1E+2")), plain(value=Decimal("-0.0"))
    ('70.5', '100', '0')
    """
    return format(EXACT.add(EXACT.normalize(value), 0), "f")


def canonical(*, value: Decimal | Fraction) -> Decimal:
    """The value as it is kept: six places, at most 15 digits, rounded once (half to even).

    Raises ``TypedError`` when it does not fit or is not finite.

    >>> canonical(value=Decimal("18.9"))
    Decimal('18.900000')
    """
    finite = isinstance(value, Fraction) or value.is_finite()
    if not finite or abs(value) >= 10 ** (DIGITS - PLACES):
        raise TypedError(code="too_large", message="Type a smaller number.")
    return Decimal(round(Fraction(value) * 10**PLACES)).scaleb(-PLACES)


@lru_cache(maxsize=4096)
def shown(
    *,
    value: Fraction | Decimal,
    decimals: int,
    threshold: Decimal | None = None,
    operator: Operator | None = None,
) -> str:
    """The number as it is shown: rounded half away from zero, except near a threshold.

    Where rounding would move it to the other side of the threshold it is cut toward the side it
    is on, so that number and result never disagree.

    >>> shown(value=Decimal("89.95"), decimals=1, threshold=Decimal(90), operator=Operator.AT_LEAST)
    '89.9'
    """
    exact = Fraction(value)
    scale = 10**decimals
    scaled = exact * scale
    below = floor(scaled)
    nearest = (
        below + (scaled - below >= Fraction(1, 2))
        if exact >= 0
        else -floor(-scaled + Fraction(1, 2))
    )
    if threshold is not None and operator is not None:
        truth = holds(value=exact, operator=operator, threshold=threshold)
        if truth != holds(value=Fraction(nearest, scale), operator=operator, threshold=threshold):
            nearest = below if nearest > scaled else below + 1
    sign = "-" if nearest < 0 else ""
    digits = str(abs(nearest)).rjust(decimals + 1, "0")
    return sign + (f"{digits[:-decimals]}.{digits[-decimals:]}" if decimals else digits)
