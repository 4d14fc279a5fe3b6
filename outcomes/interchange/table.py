"""Tables for other programs: comma-separated text, typed by column.

The form is RFC 4180 (section 2): a header line, CRLF after each line, quotes around a text with
comma, quote or line break, inner quotes doubled; in UTF-8, as RFC 7111 has it. Dates are ISO
8601, numbers are plain decimals with a point, and a number's unit (UCUM) stands in the column
after it. What is missing is an empty cell, never a zero.

A spreadsheet program runs a text that begins like a formula. Such a text gets one apostrophe in
front (OWASP, CSV injection; ASVS 5.0.0 requirement 1.2.10). Only text columns need that: what a
number column holds is a number, so that -5 stays -5.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Final

MEDIA_TYPE: Final = "text/csv; charset=utf-8; header=present"
FORMULA_STARTS: Final = frozenset("=+-@\t\r\n\0＝＋－＠")  # noqa: RUF001 (full-width variants)

Cell = str | int | Decimal | date | None


class Kind(StrEnum):
    """What a column holds; a cell of another kind is refused."""

    TEXT = "text"
    WHOLE = "whole"
    DECIMAL = "decimal"
    DATE = "date"


_TYPES: Final = {Kind.TEXT: str, Kind.WHOLE: int, Kind.DECIMAL: Decimal, Kind.DATE: date}


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A column: its name in the header, what it holds, and the UCUM unit of its numbers."""

    name: str
    kind: Kind = Kind.TEXT
    unit: str = ""


def write_table(*, columns: Sequence[Column], rows: Iterable[Sequence[Cell]]) -> bytes:
    """The table as bytes: the header, then one line for each row.

    A column with a unit is followed by a column ``<name>_unit``, filled where there is a number.
    Raises ``ValueError`` for a row of another length and ``TypeError`` for a cell of another kind.

    >>> write_table(columns=[Column(name="short", kind=Kind.DECIMAL, unit="deg")],
    ...             rows=[[Decimal("-5")]])
    b'short,short_unit\\r\\n-5,deg\\r\\n'
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_MINIMAL, lineterminator="\r\n")
    writer.writerow(_header(columns))
    for row in rows:
        cells: list[str] = []
        for column, cell in zip(columns, row, strict=True):
            cells.append(_cell(column, cell))
            if column.unit:
                cells.append("" if cell is None else column.unit)
        writer.writerow(cells)
    return out.getvalue().encode()


def harmless(text: str) -> str:
    """The text as a cell that no spreadsheet program runs: one apostrophe in front if need be.

    Apostrophes and blanks in front do not hide a formula, so that they get one too; therefore
    ``plain`` can always take it away again.

    >>> harmless("=1+1"), harmless("'t Hoog"), harmless("'=1+1")
    ("'=1+1", "'t Hoog", "''=1+1")
    """
    return f"'{text}" if _looks_like_a_formula(text) else text


def plain(cell: str) -> str:
    """The text that ``harmless`` was given.

    >>> plain("'=1+1"), plain("'t Hoog")
    ('=1+1', "'t Hoog")
    """
    return cell[1:] if cell.startswith("'") and _looks_like_a_formula(cell) else cell


def _looks_like_a_formula(text: str) -> bool:
    start = text.lstrip("' \u00a0\ufeff")
    return start[:1] in FORMULA_STARTS if start else False


def _header(columns: Sequence[Column]) -> list[str]:
    names: list[str] = []
    for column in columns:
        names += [column.name, f"{column.name}_unit"] if column.unit else [column.name]
    return names


def _cell(column: Column, cell: Cell) -> str:
    if cell is None:
        return ""
    if type(cell) is not _TYPES[column.kind]:
        raise TypeError(f"{column.name} holds {column.kind}, not {type(cell).__name__}")
    if isinstance(cell, str):
        return harmless(cell)
    if isinstance(cell, Decimal):
        if not cell.is_finite():
            raise ValueError(f"{column.name} holds a number, not {cell}")
        return f"{cell:f}"
    return cell.isoformat() if isinstance(cell, date) else str(cell)
