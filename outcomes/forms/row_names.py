"""The names of rows: a measure, the task it is seen in, and which test of it in this visit.

``knee_flexion``, ``single_hop-2`` (a second test), ``trunk_lean-lateral_heel_touch`` (seen in that
task), ``trunk_lean-lateral_heel_touch-2`` (in the second test of it).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from outcomes.catalogue.order import rank
from outcomes.catalogue.tasks import LED, PAIN, SEEN, TASKS, Task

ROW: Final = re.compile(
    rf"(?P<code>[a-z][a-z0-9_]*)(?:-(?P<task>{'|'.join(TASKS)}))?(?:-(?P<number>[2-9]|[1-9][0-9]))?"
)


@dataclass(frozen=True, kw_only=True, slots=True)
class RowName:
    """A row's name taken apart. ``task`` is None where the row leads or stands for itself."""

    code: str
    task: Task | None
    number: int

    @property
    def lead(self) -> str:
        """The row that leads the task; of every other row the row itself."""
        return _written(self.task.lead if self.task else self.code, "", self.number)

    @property
    def seen(self) -> Iterator[str]:
        """The rows of what else is seen in the task that this row leads; pain is asked once."""
        task = LED.get(self.code) if self.task is None else None
        if task is not None:
            codes = SEEN if self.number > 1 else (*SEEN, PAIN)
            yield from (_written(code, task.code, self.number) for code in codes)

    @property
    def place(self) -> tuple[int, str, int, int]:
        """The order of rows: as a visit goes, what is seen in a task behind what leads it."""
        code = self.task.lead if self.task else self.code
        within = 1 + (*SEEN, PAIN).index(self.code) if self.task else 0
        return rank(code), code, self.number, within


@lru_cache(maxsize=512)
def row_name(row: str) -> RowName | None:
    """A row's name taken apart, or None for what names no row."""
    found = ROW.fullmatch(row)
    if found is None:
        return None
    code, task = found["code"], TASKS.get(found["task"] or "")
    if task is not None and code not in (*SEEN, PAIN):
        return None
    return RowName(code=code, task=task, number=int(found["number"] or 1))


def named(row: str) -> RowName:
    """The same for a row that is known to be one. Raises ``ValueError`` for another text."""
    found = row_name(row)
    if found is None:
        raise ValueError(f"{row!r} names no row")
    return found


def rows_of(
    *,
    rows: Collection[str],
    codes: Collection[str],
    off: Collection[str],
    last: Sequence[str] = (),
) -> list[str]:
    """These rows in the order of a visit, each with the row that leads it and what is seen with it.

    Only ``codes`` have rows. What is ``off`` is not seen with another; named itself, it stays.
    The measures of ``last`` stand behind all others, in their own order.
    """
    given = {row for row in rows if (name := row_name(row)) and name.code in codes}
    leads = {named(row).lead for row in given}
    seen = {row for lead in leads for row in named(lead).seen if named(row).code not in off}
    found = {row for row in given | leads | seen if named(row).code in codes}
    behind = {code: place for place, code in enumerate(last, start=1)}
    return sorted(
        found, key=lambda row: (behind.get(named(named(row).lead).code, 0), named(row).place)
    )


def _written(code: str, task: str, number: int) -> str:
    return "-".join([code, *([task] if task else []), *([str(number)] if number > 1 else [])])
