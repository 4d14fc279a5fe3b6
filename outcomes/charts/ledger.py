"""The ledger as one drawing, for letters and print: left page, middle, right page.

The patient's left limb is the left page, always. A row is a measure and reads across.
"""

from dataclasses import dataclass
from typing import Final

from outcomes.charts.beam import HEIGHT as BEAM_HEIGHT
from outcomes.charts.beam import WIDTH as BEAM_WIDTH
from outcomes.charts.beam import Beam, beam_parts
from outcomes.charts.marks import LimbMark, limb_shape
from outcomes.charts.svg import Number, drawing, stroke, tag, words, wrap
from outcomes.charts.tokens import COLOUR

WIDTH: Final = 680
PAGE: Final = 200
DENSE_PAGE: Final = 150
"""Width of each page; the middle column has the rest."""
PAD: Final = 14
VALUE: Final = (20, 24)
"""Size and line height of a value; then of the name of a measure; then of second words."""
NAME: Final = (15, 18)
SMALL: Final = (13, 16)
BEAM_SCALE: Final = 0.8
DENSE_SCALE: Final = 0.55
DENSE_INDENT: Final = 104
"""Where the words start in the middle of a dense ledger, right of the beam."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerRow:
    """One measure, limb against limb. All words come from the caller.

    name: measure and unit ("Quadriceps torque, N·m"); detail: conditions ("90°, sitting").
    left, right: values ("158", "moderate drop", "not tested"); left_detail, right_detail: second
        words ("2.5 per kg", "5 Nov").
    symmetry: words under the name ("LSI 77 %, up 8; borderline to 70"), or the reason why it is
        not assessable; beam: the mark, or None.
    """

    name: str
    left: str
    right: str
    detail: str = ""
    left_detail: str = ""
    right_detail: str = ""
    symmetry: str = ""
    beam: Beam | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """The rows under two heads ("Left, other side", "Right, operated") and the finding.

    dense: the beam stands beside its words instead of among them, for a letter of one page.
    """

    title: str
    left_head: str
    right_head: str
    left_mark: LimbMark
    right_mark: LimbMark
    rows: tuple[LedgerRow, ...]
    dense: bool = False

    @property
    def page(self) -> int:
        """Width of each of the two pages."""
        return DENSE_PAGE if self.dense else PAGE


Block = tuple[str, tuple[int, int], bool, str]
"""Text, (size, line height), whether bold, colour."""


def lines_of(*, blocks: tuple[Block, ...], width: float) -> list[Block]:
    """Return the blocks that say something, wrapped to ``width``, a block for each line."""
    return [
        (line, size, bold, colour)
        for text, size, bold, colour in blocks
        if text
        for line in wrap(text, size=size[0], width=width * (0.93 if bold else 1))
    ]


def height_of(*, lines: list[Block]) -> int:
    """Return how high the lines stand."""
    return sum(size[1] for _, size, _, _ in lines)


def draw_lines(*, lines: list[Block], x: Number, top: float, anchor: str) -> list[str]:
    """Return the lines one under the other from ``top``."""
    parts = []
    for text, size, bold, colour in lines:
        base = top + size[1] * 0.78
        parts.append(
            words(text, x=x, y=base, size=size[0], bold=bold, anchor=anchor, colour=colour)
        )
        top += size[1]
    return parts


def side(*, value: str, detail: str, page: int) -> list[Block]:
    """Return the lines of one limb's cell."""
    blocks: tuple[Block, ...] = (
        (value, VALUE if len(value) < 9 else NAME, True, "ink"),
        (detail, SMALL, False, "soft"),
    )
    return lines_of(blocks=blocks, width=page - 2 * PAD)


def beam_at(*, beam: Beam, x: float, y: float, scale: float) -> str:
    """Return the beam with its box's corner at (x, y)."""
    return tag(
        "g", *beam_parts(beam=beam), transform=f"translate({x:.2f} {y:.2f}) scale({scale})"
    )  # fmt: skip


def middle_words(*, row: LedgerRow, width: float) -> tuple[list[Block], list[Block]]:
    """Return the lines above the beam and those below it."""
    head: tuple[Block, ...] = ((row.name, NAME, True, "ink"), (row.detail, SMALL, False, "soft"))
    foot: tuple[Block, ...] = ((row.symmetry, SMALL, False, "ink"),)
    return lines_of(blocks=head, width=width), lines_of(blocks=foot, width=width)


def draw_middle(*, row: LedgerRow) -> tuple[list[str], float]:
    """Return the middle cell, from 0 downward: words, beam, words; and its height."""
    head, foot = middle_words(row=row, width=WIDTH - 2 * (PAGE + PAD))
    beam_height = BEAM_HEIGHT * BEAM_SCALE if row.beam else 0
    centre, start = WIDTH / 2, height_of(lines=head)
    parts = draw_lines(lines=head, x=centre, top=0, anchor="middle")
    if row.beam:
        x = centre - BEAM_WIDTH * BEAM_SCALE / 2
        parts.append(beam_at(beam=row.beam, x=x, y=start, scale=BEAM_SCALE))
    parts += draw_lines(lines=foot, x=centre, top=start + beam_height, anchor="middle")
    return parts, start + beam_height + height_of(lines=foot)


def draw_dense_middle(*, row: LedgerRow) -> tuple[list[str], float]:
    """Return the middle cell with the beam left of the words, and its height."""
    head, foot = middle_words(row=row, width=WIDTH - 2 * DENSE_PAGE - DENSE_INDENT - PAD)
    lines, beam_height = [*head, *foot], BEAM_HEIGHT * DENSE_SCALE if row.beam else 0
    height = max(height_of(lines=lines), beam_height)
    top = (height - height_of(lines=lines)) / 2
    parts = draw_lines(lines=lines, x=DENSE_PAGE + DENSE_INDENT, top=top, anchor="start")
    if row.beam:
        y = (height - beam_height) / 2
        parts.append(beam_at(beam=row.beam, x=DENSE_PAGE + PAD / 2, y=y, scale=DENSE_SCALE))
    return parts, height


def draw_row(*, row: LedgerRow, top: float, ledger: Ledger) -> tuple[list[str], float]:
    """Return the elements of a row that starts at ``top``, and its height."""
    middle, middle_height = draw_dense_middle(row=row) if ledger.dense else draw_middle(row=row)
    left = side(value=row.left, detail=row.left_detail, page=ledger.page)
    right = side(value=row.right, detail=row.right_detail, page=ledger.page)
    inside = max(middle_height, height_of(lines=left), height_of(lines=right))
    height = inside + (12 if ledger.dense else 20)
    move = f"translate(0 {top + (height - middle_height) / 2:.2f})"
    parts = [tag("g", *middle, transform=move)]
    for lines, x, anchor in (
        (left, ledger.page - PAD, "end"),
        (right, WIDTH - ledger.page + PAD, "start"),
    ):
        cell_top = top + (height - height_of(lines=lines)) / 2
        parts += draw_lines(lines=lines, x=x, top=cell_top, anchor=anchor)
    return parts, height


def draw_heads(*, ledger: Ledger) -> tuple[list[str], float]:
    """Return the two heads with their marks, facing the middle, and their height."""
    width = ledger.page - 2 * PAD - 24
    left = lines_of(blocks=((ledger.left_head, NAME, True, "ink"),), width=width)
    right = lines_of(blocks=((ledger.right_head, NAME, True, "ink"),), width=width)
    height = 12 + max(height_of(lines=left), height_of(lines=right))
    inner_left, inner_right = ledger.page - PAD, WIDTH - ledger.page + PAD
    parts = draw_lines(lines=left, x=inner_left - 24, top=6, anchor="end")
    parts += draw_lines(lines=right, x=inner_right + 24, top=6, anchor="start")
    parts.append(limb_shape(mark=ledger.left_mark, x=inner_left - 7, y=15, radius=7))
    parts.append(limb_shape(mark=ledger.right_mark, x=inner_right + 7, y=15, radius=7))
    return parts, height


def draw_ledger(*, ledger: Ledger) -> str:
    """Return the ledger as SVG, 680 wide and as high as its rows need."""
    heads, head_height = draw_heads(ledger=ledger)
    top, parts = head_height, [*heads, stroke(x1=0, y1=head_height, x2=WIDTH, y2=head_height)]
    for row in ledger.rows:
        drawn, height = draw_row(row=row, top=top, ledger=ledger)
        top += height
        parts += [*drawn, stroke(x1=0, y1=top, x2=WIDTH, y2=top, colour="hairline", width=1)]
    pages = []
    for mark, x in ((ledger.left_mark, 0), (ledger.right_mark, WIDTH - ledger.page)):
        fill = COLOUR["page" if mark == "other" else "involved-page"]
        pages.append(tag("rect", x=x, y=0, width=ledger.page, height=top, fill=fill))
    rules = [
        stroke(x1=x, y1=0, x2=x, y2=top, colour="hairline", width=1)
        for x in (ledger.page, WIDTH - ledger.page)
    ]
    return drawing(
        title=ledger.title, width=WIDTH, height=top + 1, children=[*pages, *rules, *parts]
    )  # fmt: skip
