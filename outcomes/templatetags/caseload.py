"""Rows and options of the caseload, written at once: fifty times ten cells are its hot loop."""

import re
from collections.abc import Iterable
from functools import cache
from html import escape
from typing import Final

from django import template
from django.utils.safestring import SafeString

from outcomes.queries.caseload_words import NOT_TESTED, Row

register = template.Library()

SPECIAL: Final = re.compile("[&<>\"']").search
CALM: Final = '<span class="none">{no_look}</span>'
LOOK: Final = (
    '<a class="reason" href="{here}/looks">{look}</a> <span class="soft">{more_looks}</span>'
)
MILESTONE: Final = '<a href="{here}/milestones/{next}">{milestone}</a>'
QUADRICEPS: Final = '<a href="{here}/numbers/quadriceps_torque">{quadriceps}</a>'
HOP: Final = '<a href="{here}/numbers/single_hop">{hop}</a>'
CELLS: Final = """<tr>
  <th scope="row"><a href="{patient_url}">{patient}</a> <span class="soft">{number}</span></th>
  <td class="wide" data-label="Reason to look">LOOK</td>
  <td data-label="Week"><a href="{here}/numbers/weeks">{week}</a></td>
  <td data-label="Knee">{knee}</td>
  <td data-label="Graft">{graft}</td>
  <td data-label="Next milestone">MILESTONE</td>
  <td data-label="Quadriceps LSI">QUADRICEPS <span class="soft">{quadriceps_note}</span></td>
  <td data-label="Hop LSI">HOP <span class="soft">{hop_note}</span></td>
  <td class="brief" data-label="Last visit">{visit}</td>
  <td data-label="Clinician">{clinician}</td>
</tr><tr class="opened"><td colspan="10"></td></tr>"""


@cache
def _pattern(look: bool, milestone: bool, quadriceps: bool, hop: bool) -> str:
    """A row and the one under it, in which what is touched opens; a dash has nothing to open."""
    return (
        CELLS.replace("LOOK", LOOK if look else CALM)
        .replace("MILESTONE", MILESTONE if milestone else "{milestone}")
        .replace("QUADRICEPS", QUADRICEPS if quadriceps else "{quadriceps}")
        .replace("HOP", HOP if hop else "{hop}")
    )


@register.simple_tag
def caseload_rows(rows: Iterable[Row]) -> SafeString:
    """Every row with its cells escaped, and a row under it in which its numbers open."""
    return SafeString("\n".join(_written(row) for row in rows))


@register.simple_tag
def options(choices: Iterable[tuple[str, str, bool]]) -> SafeString:
    """The options of a select: code, label and whether it is chosen."""
    return SafeString("".join(_option(*choice) for choice in choices))


def _option(code: str, label: str, chosen: bool) -> str:
    mark = " selected" if chosen else ""
    return f'<option value="{escape(code)}"{mark}>{escape(label)}</option>'


def _written(row: Row) -> str:
    pattern = _pattern(
        bool(row["look"]),
        bool(row["next"]),
        row["quadriceps"] != NOT_TESTED,
        row["hop"] != NOT_TESTED,
    )
    return pattern.format_map({name: _safe(text) for name, text in row.items()})


def _safe(text: object) -> str:
    """Escaped where there is anything to escape: most cells hold letters and digits alone."""
    said = str(text)
    return escape(said) if SPECIAL(said) else said
