"""The frame of every page and the shared parts, and that no template holds anything inline."""

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django import forms
from django.template import engines
from django.template.loader import render_to_string
from django.urls import reverse

TEMPLATES = Path(__file__).parents[2] / "templates"
SCRIPTS = Path(__file__).parents[2] / "static" / "js"


SIGNED_IN = {
    "who": SimpleNamespace(full_name="Tamsin <Okafor>"),
    "site": SimpleNamespace(name="Harbour Street"),
    "roles": ["clinician", "front_desk"],
    "nav": [("Today", "/today", False), ("Patients", "/patients", True)],
    "idle_seconds": 600,
    "csrf_token": "token-of-this-page",
}


class Elements(HTMLParser):
    """Every element of a page with its attributes, and the words, in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def all(self, tag: str, **wanted: str) -> list[dict[str, str | None]]:
        """Attributes of the elements of one kind that carry the wanted ones."""
        return [
            attrs for name, attrs in self.found
            if name == tag and all(attrs.get(key) == value for key, value in wanted.items())
        ]  # fmt: skip

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def rendered(source: str, **context: Any) -> Elements:
    return Elements(engines["django"].from_string(source).render(SIGNED_IN | context))


PAGE = """{% extends "base.html" %}
{% block title %}Patient{% endblock %}{% block content %}x{% endblock %}"""


def test_htmx_is_told_what_the_design_decided() -> None:
    (meta,) = rendered(PAGE).all("meta", name="htmx-config")
    assert json.loads(meta["content"] or "") == {
        "allowEval": False,
        "includeIndicatorStyles": False,
        "historyCacheSize": 0,
        "refreshOnHistoryMiss": True,
        "timeout": 20000,
        "responseHandling": [
            {"code": "204", "swap": False},
            {"code": "[23]..", "swap": True},
            {"code": "401|403|404|409|422|429", "swap": True},
            {"code": "503", "swap": True, "error": True},
            {"code": "[45]..", "swap": False, "error": True},
        ],
    }


def test_someone_signed_in_is_named_with_place_parts_and_way_around() -> None:
    page = rendered(PAGE)
    assert "Tamsin <Okafor> Harbour Street, clinician, front desk" in page.text
    links = [a for a in page.all("a") if a["href"] in ("/today", "/patients")]
    assert [(a["href"], a.get("aria-current")) for a in links] == [
        ("/today", None), ("/patients", "page"),
    ]  # fmt: skip
    out = {"method": "post", "action": reverse("account_logout"), "data-sign-out": None}
    assert page.all("form")[-2:] == [out, {"method": "dialog"}]
    assert {form["method"] for form in page.all("form")} == {"post", "dialog"}
    assert [form["action"] for form in page.all("form") if "data-lock" in form] == [
        reverse("lock_now")
    ]
    (body,) = page.all("body")
    assert (body["data-idle-seconds"], body["data-lock-url"]) == ("600", reverse("lock"))
    assert json.loads(body["hx-headers"] or "") == {"X-CSRFToken": "token-of-this-page"}


def test_someone_unknown_gets_no_way_around_no_lock_and_no_name() -> None:
    page = rendered(PAGE, who=None, nav=[], site=None)
    assert page.all("nav") == page.all("form") == []
    assert set(page.all("body")[0]) == {"hx-headers"}
    assert [s["src"] for s in page.all("script") if "lock" in (s["src"] or "")] == []


def test_one_region_for_status_and_one_for_alerts_stand_outside_the_page() -> None:
    tags = [(tag, attrs.get("id")) for tag, attrs in rendered(PAGE).found]
    regions = [tags.index(("div", "alert")), tags.index(("div", "status"))]
    assert max(regions) < tags.index(("main", "main"))
    page = rendered(PAGE)
    assert page.all("div", role="alert") == [{"id": "alert", "role": "alert"}]
    assert page.all("div", role="status") == [{"id": "status", "role": "status"}]


def test_every_page_says_that_it_does_not_decide_and_can_be_skipped_into() -> None:
    page = rendered(PAGE)
    assert page.text.endswith(
        "Kneeledger records and compares; it does not decide. "
        "Follow the surgeon's instructions and your local pathways."
    )
    assert page.all("a")[0] == {"class": "skip", "href": "#main"}
    assert page.all("html") == [{"lang": "en-gb"}] or page.all("html") == [{"lang": "en"}]


def test_messages_stand_at_the_top_of_the_page() -> None:
    page = rendered(PAGE, messages=["Visit <signed>."])
    assert "Visit <signed>." in page.text
    assert page.all("li", **{"class": "notice"}) == [{"class": "notice"}]


PAGES = sorted(file for file in TEMPLATES.rglob("*.html") if file.name != "letter_page.html")
"""Every template but the one that goes to the PDF library alone, never to a browser."""


@pytest.mark.parametrize("file", PAGES, ids=lambda file: file.name)
def test_no_template_holds_anything_inline(file: Path) -> None:
    """The content security policy has no unsafe-inline, and htmx may not evaluate."""
    page = Elements(re.sub(r"{#.*?#}|{%.*?%}", "", file.read_text(encoding="utf-8")))
    names = {name for _, attrs in page.found for name in attrs}
    assert {name for name in names if name == "style" or name.startswith(("on", "hx-on"))} == set()
    kinds = {attrs.get("type") for attrs in page.all("script") if "src" not in attrs}
    assert kinds <= {"application/json"}
    assert page.all("style") == []
    assert re.findall(r"hx-trigger=[\"'][^\"']*\[|js:|javascript:", file.read_text()) == []


KEEPS = {
    "store.js": {"indexedDB"},  # sealed rows, what a reload shows, encrypted
    "reading.js": {"localStorage"},  # when somebody last touched, whether it is locked
    "watch_kept.js": {"sessionStorage"},  # a start, a visit and a row; no name, no value
    "view.js": {"sessionStorage"},  # from behind or in front
}


@pytest.mark.parametrize("file", sorted(SCRIPTS.glob("*.js")), ids=lambda file: file.name)
def test_scripts_are_small_and_keep_only_what_is_said(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 150
    found = set(re.findall(r"localStorage|sessionStorage|indexedDB|innerHTML|\beval\b", text))
    assert found == KEEPS.get(file.name, set())


class Hold(forms.Form):
    hold = forms.CharField(
        label="Standing hip hold, left", help_text="ball at wall",
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )  # fmt: skip
    effusion = forms.ChoiceField(
        label="Effusion, right", choices=[("0", "zero"), ("1", "trace")],
        widget=forms.RadioSelect, required=False,
    )  # fmt: skip
    asked = forms.BooleanField(label="I asked all eight: none", required=False)


def field(name: str, options: str = "", data: dict[str, str] | None = None) -> Elements:
    source = "{% load house %}{% field bound " + options + " %}"
    return rendered(source, bound=Hold(data)[name])


def test_a_number_is_tied_to_its_hint_error_unit_and_last_value() -> None:
    shown = field("hold", 'unit="s" last="5 Nov: 22.9"', {"hold": ""})
    (box,) = shown.all("input")
    assert box["aria-describedby"] == "id_hold_helptext id_hold_error id_hold_unit id_hold_last"
    ids = [
        attrs["id"]
        for _, attrs in shown.found
        if attrs.get("id", "") != "id_hold" and "id" in attrs
    ]
    assert sorted(str(name) for name in ids) == sorted(str(box["aria-describedby"]).split())
    assert box["aria-invalid"] == "true"
    assert "22.9" not in str(box.get("value"))
    assert shown.all("label") == [{"for": "id_hold"}]


def test_a_field_without_any_of_them_is_tied_to_nothing_more() -> None:
    (box,) = field("hold").all("input")
    assert box["aria-describedby"] == "id_hold_helptext"
    assert "aria-invalid" not in box


def test_grades_are_a_group_with_a_name_and_the_last_grade() -> None:
    shown = field("effusion", 'last="5 Nov: 1+" hide_label=True')
    assert shown.all("fieldset") == [
        {"class": "field choices", "aria-describedby": "id_effusion_last"}
    ]
    assert shown.all("legend") == [{"class": "visually-hidden"}]
    assert [box["value"] for box in shown.all("input")] == ["0", "1"]
    assert [box for box in shown.all("input") if "checked" in box] == []


def test_a_tick_is_one_label_around_box_and_words() -> None:
    shown = field("asked")
    assert shown.all("label") == [{"class": "tick"}]
    assert shown.text == "I asked all eight: none"


def test_the_summary_of_errors_leads_to_each_field() -> None:
    form = Hold({"hold": ""})
    shown = Elements(render_to_string("_errors.html", {"form": form}))
    assert [a["href"] for a in shown.all("a")] == ["#id_hold"]
    assert shown.text == "1 entry to put right Standing hip hold, left: This field is required."
    assert render_to_string("_errors.html", {"form": Hold({"hold": "20"})}).strip() == ""


def test_what_could_not_be_saved_is_kept_to_be_sent_again() -> None:
    fault = SimpleNamespace(title="NOT saved", what_to_do="The database is busy.")
    html = render_to_string(
        "problem.html", SIGNED_IN | {"fault": fault, "kept": [("note", '"><script>x')]}
    )
    shown = Elements(html)
    assert shown.all("input", type="hidden", name="note")[0]["value"] == '"><script>x'
    assert [s for s in shown.all("script") if "src" not in s] == []
    assert "NOT saved The database is busy. Send it again" in shown.text
    part = Elements(render_to_string("_problem.html", {"fault": fault}))
    assert part.text == "NOT saved The database is busy."
