"""One JSON line to one JSON answer, exact and without a database: how a stranger checks us.

What may be asked stands in ``compute_calls.CALLS``, and in words in DEVELOPERS.md. Numbers are
read as decimals and never as floats; a value that does not end is written with 34 digits, and only
angles come from floating point. A line that cannot be answered says what to send instead.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Context, Decimal
from fractions import Fraction
from typing import Any, Final

from outcomes.core.quantities import plain
from outcomes.queries.compute_asked import Asked, Refused, shortened
from outcomes.queries.compute_calls import CALLS

DIGITS: Final = Context(prec=34)
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


def read(*, line: str) -> dict[str, Any]:
    """The object of a line, its numbers as decimals. Raises ``Refused`` with what to send."""
    if len(line) > LONGEST:
        raise Refused(f"Send a line of at most {LONGEST} characters.")
    try:
        found = json.loads(
            line,
            parse_float=Decimal,
            parse_int=Decimal,
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
        case Fraction():
            return plain(value=decimal_of(value))
        case Decimal():
            return plain(value=value)
        case dict():
            parts = (f"{json.dumps(str(key))}: {written(one)}" for key, one in value.items())
            return f"{{{', '.join(parts)}}}"
        case list() | tuple():
            return f"[{', '.join(written(one) for one in value)}]"
        case _:
            return json.dumps(value)


def decimal_of(value: Fraction) -> Decimal:
    """A fraction as a decimal of up to 34 digits: exact where it ends before."""
    return DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator))


def _no_constant(name: str) -> object:
    raise Refused(f"{name} is no number: send a number, or leave the key out.")


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise Refused(f"The key {shortened(twice)} stands there twice: send it once.")
    return found
