"""One JSON line to one JSON answer, exact and without a database: how a stranger checks us.

What may be asked stands in ``compute_calls.CALLS``, and in words in DEVELOPERS.md. Numbers are
read as decimals and never as floats; a value that ends is written in full, one that does not with
34 digits, and only angles come from floating point. A line that cannot be answered says what to
send instead.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Context, Decimal, Inexact, InvalidOperation
from fractions import Fraction
from typing import Any, Final

from outcomes.core.quantities import EXACT
from outcomes.queries.compute_asked import Asked, Refused, shortened
from outcomes.queries.compute_calls import CALLS

DIGITS: Final = Context(prec=34)
WHOLE: Final = Context(prec=400, traps=[Inexact])
"""Room for every decimal that ends: inputs have at most 60 digits, and none is used four times."""
LONGEST: Final = 200_000
"""Characters of a line that are read."""


def answer_line(*, line: str) -> tuple[str, bool]:
    """The answer to one line as one line, and whether it was ok. Never raises.

    >>> answer_line(line='{"calc": "symmetry", "involved": 142, "other": 160, "better": "higher"}')
    ('{"ok": true, "value": 88.75}', True)
    """
    try:
        given = answer(asked=read(line=line))
    except Refused as refused:
        return written({"ok": False, "error": str(refused)}), False
    return written({"ok": True, **given}), True


def answer_bytes(*, line: bytes) -> tuple[str, bool]:
    """The answer to one line as it comes in, with its line end.

    Bytes that are not UTF-8 are refused; a byte order mark before the object is left aside.
    """
    try:
        text = line.decode("utf-8-sig")
    except UnicodeDecodeError:
        error = "Send the line as UTF-8: some of its bytes are not."
        return written({"ok": False, "error": error}), False
    return answer_line(line=text.rstrip("\r\n"))


def read(*, line: str) -> dict[str, Any]:
    """The object of a line, its numbers as decimals. Raises ``Refused`` with what to send."""
    if len(line) > LONGEST:
        raise Refused(f"Send a line of at most {LONGEST} characters.")
    try:
        found = json.loads(
            line,
            parse_float=_number,
            parse_int=_number,
            parse_constant=_no_constant,
            object_pairs_hook=_without_doubles,
        )
    except RecursionError:
        raise Refused("Send one flat JSON object: brackets are nested too deep.") from None
    except ValueError as error:
        if isinstance(error, Refused):
            raise
        raise Refused(f"Send one JSON object a line, such as {EXAMPLE}.") from None
    if not isinstance(found, dict):
        raise Refused(f"Send one JSON object a line, such as {EXAMPLE}.")
    return found


EXAMPLE: Final = '{"calc": "jump_height", "flight_time_s": 0.42}'


def answer(*, asked: Mapping[str, Any]) -> dict[str, Any]:
    """What a call gives, its numbers exact. Raises ``Refused`` with what to send instead."""
    name = asked.get("calc")
    call = CALLS.get(name) if isinstance(name, str) else None
    if call is None:
        known = ", ".join(CALLS)
        what = "Name the calculation" if name is None else f"{shortened(name)} is not known"
        raise Refused(f'{what}: send "calc" as one of {known}.')
    given = Asked(values={key: value for key, value in asked.items() if key != "calc"})
    found = call(given)
    given.done()
    return found


def written(value: object) -> str:
    """JSON on one line: decimals and fractions as numbers, in full."""
    match value:
        case Fraction() | Decimal():
            number = decimal_of(value)
            return format(number if number else abs(number), "f")
        case dict():
            parts = (f"{json.dumps(str(key))}: {written(one)}" for key, one in value.items())
            return f"{{{', '.join(parts)}}}"
        case list() | tuple():
            return f"[{', '.join(written(one) for one in value)}]"
        case _:
            return json.dumps(value)


def decimal_of(value: Fraction | Decimal) -> Decimal:
    """A number as a decimal: exact where it ends, otherwise with 34 digits.

    A decimal as long as the core's own precision is a root that was cut there: it does not end.
    """
    if isinstance(value, Decimal):
        cut = len(value.as_tuple().digits) >= EXACT.prec
        return DIGITS.plus(value) if cut else EXACT.normalize(value)
    over, under = Decimal(value.numerator), Decimal(value.denominator)
    try:
        return WHOLE.divide(over, under)
    except Inexact:
        return DIGITS.divide(over, under)


def _number(text: str) -> Decimal:
    """A number as it is written. One that no decimal holds is refused like one that is too large.

    Python's decimals end at exponents of some eighteen digits: beyond, they raise or are infinite.
    """
    try:
        return Decimal(text)
    except InvalidOperation:
        raise Refused(
            "A number is too large or too small: send numbers such as 142 or 0.42."
        ) from None


def _no_constant(name: str) -> object:
    raise Refused(f"{name} is no number: send a number, or leave the key out.")


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise Refused(f"The key {shortened(twice)} stands there twice: send it once.")
    return found
