"""Pages made from the shared parts with invented content, to look at them in a real browser."""

from collections.abc import Callable
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from django import forms
from django.conf import settings
from django.template import engines
from playwright.sync_api import Page, Route

from outcomes.charts.beam import Beam
from outcomes.charts.trend_data import ThresholdLine, Trend, TrendPoint, TrendSeries
from outcomes.core.values import Result

BEAM = Beam(
    left_mark="other", right_mark="involved", lsi=Decimal(78), error=Decimal(7), title="LSI 78 %"
)
TREND = Trend(
    title="Quadriceps symmetry rises 12 points in 9 weeks",
    symmetry=TrendSeries(
        name="Symmetry (LSI)",
        points=tuple(
            TrendPoint(at=at, when=f"week {at}", value=Decimal(value), shown=f"{value} %")
            for at, value in ((6, 64), (9, 69), (15, 77))
        ),
    ),
    symmetry_axis="symmetry (LSI), %",
    time_axis="week after surgery",
    thresholds=(ThresholdLine(value=Decimal(70), label="our example asks 70 %"),),
)
NUMBER = {"inputmode": "decimal", "autocomplete": "off"}


class LedgerForm(forms.Form):
    """Two measures limb against limb; the right limb is the operated one."""

    hold_left = forms.CharField(
        required=False, label="Hold, left", widget=forms.TextInput(attrs=NUMBER)
    )
    hold_right = forms.CharField(
        required=False, label="Hold, right", widget=forms.TextInput(attrs=NUMBER)
    )
    effusion = forms.ChoiceField(
        label="Effusion, right", widget=forms.RadioSelect, required=False,
        choices=[(grade, grade) for grade in ("zero", "trace", "1+", "2+", "3+")],
    )  # fmt: skip
    load = forms.CharField(
        required=False, label="Load, kg", widget=forms.TextInput(attrs={"data-last": "5"})
    )
    hand = forms.BooleanField(
        label="Hand support", required=False, widget=forms.CheckboxInput(attrs={"data-last": "on"})
    )


VISIT = """{% extends "base.html" %}{% load charts house static %}
{% block title %}Visit{% endblock %}
{% block head %}<script src="{% static 'js/ledger.js' %}" type="module"></script>{% endblock %}
{% block content %}
<div class="person-bar"><div class="person-line"><h1>Ines Marlow</h1><span>born 3 May 2001</span>
  <span class="soft">record H-0412</span></div>
  <p>{% limb_mark "involved" "operated" %} <strong>Right knee, operated</strong> 12 Aug 2026</p>
</div>
<form method="post" action="/save" hx-post="/save" hx-target="#saved" data-ledger
      class="ledger-form" data-involved="right">
  {% csrf_token %}
  <div class="ledger-heads">
    <div class="left"><span class="limb">{% limb_mark "other" "other side" %} Left</span></div>
    <div class="middle">Ines Marlow</div>
    <div class="right"><span class="limb">{% limb_mark "involved" "operated" %} Right</span></div>
  </div>
  <fieldset class="ledger-row" data-conditions>
    <div class="middle"><legend class="measure">Standing hip hold</legend>{% beam beam %}
      <strong class="index">78 %</strong><span class="symmetry">LSI, up 16</span>
      {% field form.load look="load" %}{% field form.hand %}
      <button name="same" value="hold" data-same-conditions>Same conditions as last time</button>
    </div>
    <div class="left">{% field form.hold_left unit="s" last="5 Nov: 22.9" hide_label=True %}</div>
    <div class="right">{% field form.hold_right unit="s" last="5 Nov: 14.1" hide_label=True %}</div>
  </fieldset>
  <fieldset class="ledger-row">
    <div class="middle"><legend class="measure">Effusion</legend></div>
    <div class="left"><p class="hint">other knee not examined</p></div>
    <div class="right">{% field form.effusion last="5 Nov: 1+" hide_label=True %}</div>
  </fieldset>
  <div class="act-bar"><p id="saved">5 of 6 tests done</p>
    <div class="actions"><button class="main">Sign visit</button></div></div>
</form>
<div id="echo" hx-get="/echo" hx-trigger="click" tabindex="0" role="button">Show change</div>
{% endblock %}"""

PATIENT = """{% extends "base.html" %}{% load charts %}
{% block title %}Patient{% endblock %}
{% block head %}{% include "_plotly.html" %}{% endblock %}
{% block content %}
<div class="person-bar"><div class="person-line"><h1>Ines Marlow</h1><div class="actions">
  <a class="button main" href="/visit">New visit</a><a class="button" href="/letter">Letter</a>
</div></div><p>Right knee, operated 12 Aug 2026</p></div>
<section class="section"><h2>Status today</h2>
<table class="ledger" role="table" data-involved="right">
  <caption class="visually-hidden">Status today, limb against limb</caption>
  <thead role="rowgroup"><tr role="row">
    <th role="columnheader" class="left" scope="col">Left, other side</th>
    <th role="columnheader" class="middle" scope="col">Measure</th>
    <th role="columnheader" class="right" scope="col">Right, operated</th></tr></thead>
  <tbody role="rowgroup"><tr role="row">
    <td role="cell" class="left"><span class="value">158</span></td>
    <th role="rowheader" class="middle" scope="row"><span class="measure">Quadriceps, N·m</span>
      <details><summary>{% beam beam %}<span class="symmetry">LSI 77 %</span></summary>
      <dl><dt>formula</dt><dd>121 / 158 × 100</dd></dl></details></th>
    <td role="cell" class="right"><span class="value">121</span></td></tr></tbody>
</table>
<ul class="results">{% for result in results %}<li class="result">
  {% threshold_mark result result.value %}<p><strong>{{ result.value }}</strong></p></li>
{% endfor %}
</ul></section>
{% trend_chart trend figure_url=figure_url %}
{% endblock %}"""

CASELOAD = """{% extends "base.html" %}
{% block title %}Caseload{% endblock %}
{% block content %}
<div class="heading"><h1>Caseload</h1><span class="soft">58 episodes followed</span></div>
<table class="table stacking" role="table"><caption class="visually-hidden">Caseload</caption>
<thead role="rowgroup"><tr role="row">{% for head in heads %}
  <th role="columnheader" scope="col">{{ head }}</th>{% endfor %}</tr></thead>
<tbody role="rowgroup"><tr role="row"><th role="rowheader" scope="row"><a href="/p">O. V.</a></th>
  {% for head in heads|slice:"1:" %}<td role="cell" data-label="{{ head }}">77 % of a long sentence
  </td>{% endfor %}</tr></tbody></table>
{% endblock %}"""

SAMPLES = {"visit": VISIT, "patient": PATIENT, "caseload": CASELOAD}
HEADS = ["Patient", "Knee", "Graft", "Week", "Reason to look", "Next milestone", "Criteria",
         "Quadriceps LSI", "Hop LSI", "Last visit"]  # fmt: skip


def policy() -> str:
    """The very content security policy of the settings."""
    directives = settings.CONTENT_SECURITY_POLICY["DIRECTIVES"]
    return "; ".join(f"{name} {' '.join(values)}" for name, values in directives.items())


def sample(name: str, **context: Any) -> str:
    """One sample page as HTML, as someone signed in sees it."""
    signed_in = {
        "who": SimpleNamespace(full_name="Tamsin Okafor"), "site": SimpleNamespace(name="Harbour"),
        "roles": ["clinician"], "nav": [("Patients", "/patients", True)], "idle_seconds": 600,
        "csrf_token": "t", "beam": BEAM, "trend": TREND, "results": list(Result), "heads": HEADS,
        "form": LedgerForm(), "figure_url": "",
    }  # fmt: skip
    return engines["django"].from_string(SAMPLES[name]).render(signed_in | context)


def show(page: Page, name: str, **context: Any) -> None:
    """Open a sample page; its style sheets and scripts come from the running server."""

    def answer(route: Route) -> None:
        headers = {"Content-Security-Policy": policy()}
        route.fulfill(body=sample(name, **context), content_type="text/html", headers=headers)

    page.route(f"**/{name}-sample", answer)
    page.goto(f"/{name}-sample")


def answers(page: Page, path: str, give: Callable[[Route], None]) -> None:
    """Let every request to one path be answered by the test."""
    page.unroute(f"**{path}")
    page.route(f"**{path}", give)
