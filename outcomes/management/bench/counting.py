"""Statements and fetched rows, counted while something runs in this thread."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Final

from django.db import connection

VERBS: Final = ("SELECT", "INSERT", "UPDATE", "DELETE", "WITH")
FETCHES: Final = ("fetchone", "fetchmany", "fetchall")


@dataclass
class Counted:
    """What was asked of the database: the statements with their values, and how many rows came."""

    asked: list[tuple[str, Any]] = field(default_factory=list)
    rows: int = 0

    @property
    def statements(self) -> int:
        """How many statements, without the marks of a transaction."""
        return len(self.asked)

    def __call__(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any
    ) -> Any:
        """Note a statement, and count what its cursor fetches."""
        if sql.lstrip("( ").startswith(VERBS):
            self.asked.append((sql, params))
        cursor = context["cursor"]
        for name in FETCHES:
            setattr(cursor, name, self._counting(getattr(cursor.cursor, name)))
        return execute(sql, params, many, context)

    def _counting(self, fetch: Callable[..., Any]) -> Callable[..., Any]:
        def fetched(*args: Any) -> Any:
            found = fetch(*args)
            self.rows += len(found) if isinstance(found, list) else found is not None
            return found

        return fetched


@contextmanager
def counted() -> Iterator[Counted]:
    """Count until the end of the block."""
    counts = Counted()
    with connection.execute_wrapper(counts):
        yield counts


def plans(counts: Counted) -> list[str]:
    """How SQLite goes about each statement that reads, line by line."""
    with connection.cursor() as cursor:
        found = []
        for sql, params in counts.asked:
            if not sql.startswith("INSERT"):
                cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
                found += [row[-1] for row in cursor.fetchall()]
    return found
