"""A table of small cases as one test: pytest's own parametrising costs more than such a case."""

from collections.abc import Callable, Iterable
from typing import Any

import pytest

Test = Callable[..., None]
FAILURES = (Exception, BaseExceptionGroup, pytest.fail.Exception)


def every_case(
    names: str | tuple[str, ...],
    cases: Iterable[Any],
    ids: Callable[[Any], str] | Iterable[str] | None = None,
) -> Callable[[Test], Test]:
    """Called like ``pytest.mark.parametrize``: runs every case and fails with all that fail.

    Each failure bears the name of its case: from ``ids``, else its values.
    """
    keys = (names,) if isinstance(names, str) else names
    rows = [(case,) if isinstance(names, str) else tuple(case) for case in cases]
    if not rows:
        raise ValueError("a table without cases shows nothing")
    said = [_name(row, ids) for row in rows] if ids is None or callable(ids) else list(ids)

    def over(test: Test) -> Test:
        def run_all(**outer: Any) -> None:
            failed: list[BaseException] = []
            for name, row in zip(said, rows, strict=True):
                try:
                    test(**outer, **dict(zip(keys, row, strict=True)))
                except FAILURES as error:
                    error.add_note(f"The case: {name}")
                    failed.append(error)
            if failed:
                raise BaseExceptionGroup(f"{len(failed)} of {len(rows)} cases", failed)

        run_all.__name__, run_all.__doc__ = test.__name__, test.__doc__
        run_all.__module__ = test.__module__
        return run_all

    return over


def _name(row: tuple[Any, ...], ids: Callable[[Any], str] | None) -> str:
    return ", ".join(repr(value) if ids is None else str(ids(value)) for value in row)
