"""The caseload as a table for other programs: one row for each episode, values and no sentences.

Symmetry goes out unrounded (four decimals, as it is kept) with its date, the last day on which it
counts and, where there is no index, the code of the reason. Counts stand beside what they are
counts of.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from outcomes.interchange.table import Cell, Column, Kind, write_table

COLUMNS: Final = (
    Column(name="as_of", kind=Kind.DATE),
    Column(name="site"),
    Column(name="record_number"),
    Column(name="patient"),
    Column(name="knee"),
    Column(name="kind"),
    Column(name="care_state"),
    Column(name="clinician"),
    Column(name="graft"),
    Column(name="graft_from"),
    Column(name="index_date", kind=Kind.DATE),
    Column(name="weeks_since_index", kind=Kind.WHOLE, unit="wk"),
    Column(name="last_visit", kind=Kind.DATE),
    Column(name="protocol"),
    Column(name="next_milestone"),
    Column(name="criteria_recorded_as_met", kind=Kind.WHOLE),
    Column(name="criteria_not_tested", kind=Kind.WHOLE),
    Column(name="criteria_out_of_date", kind=Kind.WHOLE),
    Column(name="criteria_not_assessable", kind=Kind.WHOLE),
    Column(name="criteria_in_all", kind=Kind.WHOLE),
    Column(name="decision"),
    Column(name="quadriceps_lsi", kind=Kind.DECIMAL, unit="%"),
    Column(name="quadriceps_tested_on", kind=Kind.DATE),
    Column(name="quadriceps_counts_until", kind=Kind.DATE),
    Column(name="quadriceps_result"),
    Column(name="hop_lsi", kind=Kind.DECIMAL, unit="%"),
    Column(name="hop_tested_on", kind=Kind.DATE),
    Column(name="hop_counts_until", kind=Kind.DATE),
    Column(name="hop_result"),
    Column(name="reasons_to_look", kind=Kind.WHOLE),
    Column(name="first_reason_to_look"),
    Column(name="rules_version"),
)


def write_caseload(rows: Iterable[Mapping[str, Cell]]) -> bytes:
    """The table as bytes; each row maps every column's name to its cell.

    Raises ``KeyError`` for a row that leaves a column out.
    """
    return write_table(
        columns=COLUMNS, rows=([row[column.name] for column in COLUMNS] for row in rows)
    )
