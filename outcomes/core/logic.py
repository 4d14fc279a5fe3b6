"""Three-valued logic (Kleene): true, false and unknown (None). Unknown never counts as true."""

from __future__ import annotations

from collections.abc import Iterable


def all_of(*, values: Iterable[bool | None]) -> bool | None:
    """False if any is false, else unknown if any is unknown, else true (also for none at all).

    >>> all_of(values=[True, None]) is None
    True
    """
    seen = list(values)
    if False in seen:
        return False
    return None if None in seen else True


def any_of(*, values: Iterable[bool | None]) -> bool | None:
    """True if any is true, else unknown if any is unknown, else false (also for none at all).

    >>> any_of(values=[False, None, True])
    True
    """
    seen = list(values)
    if True in seen:
        return True
    return None if None in seen else False


def n_of(*, n: int, values: Iterable[bool | None]) -> bool | None:
    """True if at least n are true, false if n can no longer be reached, else unknown.

    >>> n_of(n=2, values=[True, None, False]) is None
    True
    """
    seen = list(values)
    true = seen.count(True)
    if true >= n:
        return True
    return None if true + seen.count(None) >= n else False
