"""Rows and options of the caseload, written at once: fifty times ten cells are its hot loop."""

from collections.abc import Iterable
from html import escape
from typing import Final

from django import template
from django.utils.safestring import SafeString

from outcomes.queries.caseload_words import Row

register = template.Library()

CALM: Final = '<span class="none">{no_look}</span>'
LOOK: Final = (
    '<a class="reason" href="{looks_url}" hx-get="{looks_url}" hx-target="#open-{id}">{look}</a> '
    '<span class="soft">{more_looks}</span>'
)
CELLS: Final = """<tr>
  <th scope="row"><a href="{patient_url}">{patient}</a> <span class="soft">{number}</span></th>
  <td class="wide" data-label="Reason to look">REASON</td>
  <td data-label="Week">{week}</td>
  <td data-label="Knee">{knee}</td>
  <td data-label="Graft">{graft}</td>
  <td data-label="Next milestone">{milestone}</td>
  <td data-label="Quadriceps LSI">{quadriceps} <span class="soft">{quadriceps_note}</span></td>
  <td data-label="Hop LSI">{hop} <span class="soft">{hop_note}</span></td>
  <td class="brief" data-label="Last visit">{visit}</td>
  <td data-label="Clinician">{clinician}</td>
</tr>"""
OPENED: Final = '<tr class="opened"><td id="open-{id}" colspan="10"></td></tr>'
CALM_ROW: Final = CELLS.replace("REASON", CALM)
LOOK_ROW: Final = CELLS.replace("REASON", LOOK) + OPENED


@register.simple_tag
def caseload_rows(rows: Iterable[Row]) -> SafeString:
    """Every row with its cells escaped; one that needs a look has a row under it to open."""
    return SafeString("\n".join(_written(row) for row in rows))


@register.simple_tag
def options(choices: Iterable[tuple[str, str, bool]]) -> SafeString:
    """The options of a select: code, label and whether it is chosen."""
    return SafeString("".join(_option(*choice) for choice in choices))


def _option(code: str, label: str, chosen: bool) -> str:
    mark = " selected" if chosen else ""
    return f'<option value="{escape(code)}"{mark}>{escape(label)}</option>'


def _written(row: Row) -> str:
    pattern = LOOK_ROW if row["look"] else CALM_ROW
    return pattern.format_map({name: escape(str(text)) for name, text in row.items()})
