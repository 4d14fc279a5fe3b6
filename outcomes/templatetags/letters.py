"""What only a letter draws: lines of an address, and a course as one drawing."""

from collections.abc import Iterable

from django import template
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from outcomes.charts.trend import draw_trend
from outcomes.charts.trend_data import Trend

register = template.Library()
BREAK = SafeString("<br>")


@register.filter
def join_lines(lines: Iterable[str]) -> SafeString:
    """The lines one under the other, each escaped."""
    return format_html_join(BREAK, "{}", ((line,) for line in lines))


@register.simple_tag
def trend_drawing(data: Trend) -> SafeString:
    """The trend as one drawing."""
    return SafeString(draw_trend(trend=data))
