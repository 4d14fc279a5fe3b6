"""Tables for other programs, read back with Python's own csv module."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.interchange.table import Cell, Column, Kind, harmless, plain, write_table

TEXT = Column(name="text")
TRICKY = st.text(st.sampled_from("=+-@\t\r\n\0＝＋－＠'\", \u00a0aé5"), max_size=12)  # noqa: RUF001


def lines(table: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(table.decode("utf-8"), newline="")))


def one_text(text: str) -> bytes:
    return write_table(columns=[TEXT], rows=[[text]])


def test_each_line_ends_with_crlf_and_the_header_comes_first():
    """RFC 4180 section 2, rules 1 to 3."""
    columns = [TEXT, Column(name="on", kind=Kind.DATE)]
    rows: list[list[Cell]] = [["a", date(2026, 3, 14)], ["b", None]]
    assert write_table(columns=columns, rows=rows) == b"text,on\r\na,2026-03-14\r\nb,\r\n"


def test_commas_quotes_and_line_breaks_are_quoted_and_inner_quotes_doubled():
    """RFC 4180 section 2, rules 6 and 7; blanks are part of a field (rule 4)."""
    assert one_text('say "level", then\r\nhold ') == b'text\r\n"say ""level"", then\r\nhold "\r\n'


def test_text_is_utf_8_without_a_mark_in_front():
    """RFC 7111 section 5.1 makes UTF-8 the default of text/csv (from memory, unverified)."""
    assert one_text("Zoë Ağaoğlu 陈") == "text\r\nZoë Ağaoğlu 陈\r\n".encode()


def test_a_number_keeps_its_sign_and_digits_and_is_followed_by_its_unit():
    """OWASP's apostrophe would turn -5 into a text; a number column holds nothing but numbers."""
    columns = [
        Column(name="extension", kind=Kind.DECIMAL, unit="deg"),
        Column(name="visits", kind=Kind.WHOLE),
    ]
    rows: list[list[Cell]] = [[Decimal("-5"), -2], [Decimal("1E+2"), 0], [None, None]]
    assert lines(write_table(columns=columns, rows=rows)) == [
        ["extension", "extension_unit", "visits"],
        ["-5", "deg", "-2"],
        ["100", "deg", "0"],
        ["", "", ""],
    ]


@pytest.mark.parametrize(
    "start",
    ["=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠"],  # noqa: RUF001
)
def test_a_text_that_begins_like_a_formula_gets_an_apostrophe(start):
    """OWASP, CSV injection (= + - @ TAB CR LF, full-width variants); ASVS 5.0.0-1.2.10 (NUL)."""
    assert lines(one_text(f"{start}1+1"))[1] == [f"'{start}1+1"]
    assert lines(one_text(f"1{start}1"))[1] == [f"1{start}1"]


def test_blanks_and_apostrophes_do_not_hide_a_formula():
    """Our own addition to the OWASP rule: some programs trim what stands in front."""
    assert harmless(" =1+1") == "' =1+1"
    assert harmless("\u00a0@SUM(A1)") == "'\u00a0@SUM(A1)"
    assert harmless("'=1+1") == "''=1+1"
    assert harmless("'t Hoog") == "'t Hoog"


@given(st.lists(st.tuples(TRICKY | st.text(max_size=20), st.text(max_size=20)), max_size=5))
def test_texts_come_back_as_they_were_and_none_can_run(rows):
    """RFC 4180 and OWASP together, as a law: read back and unmarked, each text is the same."""
    table = write_table(columns=[TEXT, Column(name="second")], rows=rows)
    read = lines(table)[1:]
    assert [tuple(plain(cell) for cell in row) for row in read] == rows
    assert not [cell for row in read for cell in row if cell.startswith(tuple("=+-@\t\r\n\0"))]


@given(
    st.lists(
        st.tuples(
            st.none() | st.decimals(allow_nan=False, allow_infinity=False, places=6),
            st.none() | st.integers(),
            st.none() | st.dates(),
        ),
        max_size=5,
    )
)
def test_numbers_and_dates_come_back_exactly(rows):
    """ISO 8601 dates; plain decimals without exponent, thousands mark or apostrophe."""
    columns = [
        Column(name="value", kind=Kind.DECIMAL, unit="%"),
        Column(name="count", kind=Kind.WHOLE),
        Column(name="on", kind=Kind.DATE),
    ]
    read = csv.DictReader(io.StringIO(write_table(columns=columns, rows=rows).decode(), newline=""))
    assert [
        (
            Decimal(row["value"]) if row["value"] else None,
            int(row["count"]) if row["count"] else None,
            date.fromisoformat(row["on"]) if row["on"] else None,
        )
        for row in read
    ] == rows


@pytest.mark.parametrize(
    ("kind", "cell"),
    [
        (Kind.DECIMAL, "=1+1"),
        (Kind.DECIMAL, 0.9),
        (Kind.WHOLE, True),
        (Kind.WHOLE, "5"),
        (Kind.DATE, "2026-11-25"),
        (Kind.TEXT, 5),
    ],
)
def test_a_cell_of_another_kind_is_refused(kind, cell):
    """No text can slip past the apostrophe by standing in a number's column."""
    with pytest.raises(TypeError, match=rf"^value holds {kind}"):
        write_table(columns=[Column(name="value", kind=kind)], rows=[[cell]])


def test_a_row_of_another_length_and_what_is_no_number_are_refused():
    with pytest.raises(ValueError, match="argument 2 is longer"):
        write_table(columns=[TEXT], rows=[["a", "b"]])
    with pytest.raises(ValueError, match=r"^value holds a number, not NaN"):
        write_table(columns=[Column(name="value", kind=Kind.DECIMAL)], rows=[[Decimal("NaN")]])
