"""Drawings, and what stands behind a number, in templates.

Every SVG is written by ``outcomes.charts``, which escapes all words.
"""

import re
from functools import lru_cache
from typing import Any

from django import template
from django.utils.html import escape
from django.utils.safestring import SafeString

from outcomes.charts import beam as beams
from outcomes.charts import caseload as caseloads
from outcomes.charts import ledger as ledgers
from outcomes.charts import line_figure as line_figures
from outcomes.charts import marks, threshold, trend, trend_data
from outcomes.core.values import Result
from outcomes.queries.opened import Opened

register = template.Library()


@register.simple_tag
def beam(data: beams.Beam | None) -> SafeString:
    """The beam beside its words, or nothing where symmetry is not assessable."""
    return SafeString(beams.draw_beam(beam=data, beside_words=True) if data else "")


@register.simple_tag
@lru_cache(maxsize=32)
def threshold_mark(result: Result, words: str) -> SafeString:
    """The mark of one result, beside its words."""
    return SafeString(threshold.draw_threshold(result=result, title=words))


NUMBER_AND_UNIT = re.compile(r"(?<=[0-9]) (?=%|(?:s|cm|kg|N·m|of|points?)\b)")


@register.filter
def together(text: str) -> str:
    """Words in which no line breaks between a number and its unit."""
    return NUMBER_AND_UNIT.sub("\u00a0", text)


@register.simple_tag
def opened(data: Opened) -> SafeString:
    """What stands behind a number: a list of headings, each with its lines."""
    parts = [
        f"<dt>{escape(head)}</dt><dd>{'<br>'.join(escape(line) for line in lines)}</dd>"
        for head, lines in data.parts
    ]
    return SafeString(f"<dl>{''.join(parts)}</dl>")


@register.simple_tag
@lru_cache(maxsize=128)
def limb_mark(mark: marks.LimbMark, words: str) -> SafeString:
    """The mark of one limb, beside its words."""
    return SafeString(marks.limb_mark(mark=mark, title=words))


@register.simple_tag
def line_figure(data: line_figures.LineFigure) -> SafeString:
    """One figure of the line-reading warm-up."""
    return SafeString(line_figures.draw_line_figure(figure=data))


@register.simple_tag
def ledger_drawing(data: ledgers.Ledger) -> SafeString:
    """The ledger as one drawing."""
    return SafeString(ledgers.draw_ledger(ledger=data))


@register.inclusion_tag("_chart.html")
def trend_chart(data: trend_data.Trend, figure_url: str = "") -> dict[str, Any]:
    """The trend as drawing and table; with an address, Plotly draws it where JavaScript runs."""
    return {
        "title": data.title,
        "svg": SafeString(trend.draw_trend(trend=data)),
        "table": trend_data.trend_table(trend=data),
        "figure_url": figure_url,
    }


@register.inclusion_tag("_chart.html")
def caseload_chart(data: caseloads.Caseload, figure_url: str = "") -> dict[str, Any]:
    """The spread over a caseload as drawing and table; with an address, Plotly draws it."""
    return {
        "title": data.title,
        "svg": SafeString(caseloads.draw_caseload(caseload=data)),
        "table": caseloads.caseload_table(caseload=data),
        "figure_url": figure_url,
    }
