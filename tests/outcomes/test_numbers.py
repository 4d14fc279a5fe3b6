"""No naked number: every derived number opens to what it was made from, on every page."""

import re
from datetime import date
from uuid import uuid4

import pytest
from django.test.html import Element, parse_html

from clinic.permissions import Actor
from outcomes.models.letters import Letter
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.versions import Switch
from outcomes.queries.catalogue import in_force
from outcomes.queries.plan import progressions
from outcomes.services import letters, status
from tests.cast import MOMENT, TODAY
from tests.factories.outcomes import KOOS, EventFactory, PlanStepFactory, keyed
from tests.outcomes.paper import Paper, open_visit
from tests.outcomes.story import WEEK_6, WEEK_12, signed, week_15
from tests.web import signed_in, words_of

DERIVED = re.compile(r"(?<!over \d)\d %|N·m/kg|(?<!under \d)° short|\d points|of 100\b|Worked out")
WHOLE = ("tr", "li", "fieldset", "figure", "article")
"""What belongs together on a page: one row, one entry, one chart with its table."""
SOURCE = re.compile(r"Lynch 2015|Svantesson 2020| asks \d+ %: ")
PUBLISHED = {"one-number", "notes", "how", "caution-line", "honest"}
"""The page of one number, and what is said of a test and not of a knee."""
MUST = {
    "criterion": ("From", "Error", "Threshold from", "Rule", "Version"),
    "score": ("From", "Worked out", "Missing answers", "Error", "How to read it", "Scoring from",
              "Version"),
    "weeks": ("From", "Worked out", "Error", "Source", "Version"),
    "measure": ("From", "Error", "How to read it", "Source", "Version"),
}  # fmt: skip
"""The headings of each kind of panel, in their order; what a number lacks is not among them."""
LEADS = re.compile(r"/numbers/|/questionnaires/|/milestones/|#scores$|#letter-status$")


def attributes(element: Element) -> dict[str, str]:
    return {name: value or "" for name, value in element.attributes}


def opens(element: Element) -> bool:
    """Whether it holds a panel, or leads to one."""
    given = attributes(element)
    if element.name == "details" and "opens" in given.get("class", "").split():
        return True
    if element.name == "a" and LEADS.search(given.get("href", "")):
        return True
    return any(opens(one) for one in element.children if isinstance(one, Element))


def naked(element: Element, whole: Element | None = None, cells: bool = False) -> list[str]:
    """The derived numbers that neither stand in a panel nor have one in their row.

    In the caseload a row holds several numbers: there each cell opens by itself.
    """
    classes = attributes(element).get("class", "").split()
    if element.name in ("script", "style", "head", "nav") or PUBLISHED & set(classes):
        return []
    if element.name == "table":
        cells = "caseload" in classes
    whole = element if element.name in (("td", "th") if cells else WHOLE) else whole
    found = []
    for one in element.children:
        if isinstance(one, Element):
            found += naked(one, whole, cells)
            continue
        one = one.replace("\u00a0", " ")
        if SOURCE.search(one):
            continue
        if DERIVED.search(one) and not (whole is not None and opens(whole)):
            found.append(" ".join(one.split()))
    return found


def panels(element: Element) -> list[tuple[str, ...]]:
    """The headings of every panel of a page."""
    if element.name == "dl":
        return [
            tuple("".join(map(str, one.children)).strip() for one in element.children
                  if isinstance(one, Element) and one.name == "dt")
        ]  # fmt: skip
    return [heads for one in element.children if isinstance(one, Element) for heads in panels(one)]


def kind_of(heads: tuple[str, ...]) -> str:
    for mark, kind in (
        ("Rule", "criterion"),
        ("Scoring from", "score"),
        ("How to read it", "measure"),
    ):
        if mark in heads:
            return kind
    return "weeks"


def body(response) -> Element:
    assert response.status_code == 200
    main = response.content.decode().partition("<main")[2].partition("</main>")[0]
    found: Element = parse_html(main.partition(">")[2])
    return found


@pytest.fixture
def record(cast):
    """Ines at week 15 with scores on two days, both torques, and a visit that is open."""
    Switch.objects.create(code="koos", state="on", changed_at=MOMENT, changed_by=cast.lead)
    week_15(cast)
    for on, torque in ((WEEK_6, (80, 60)), (WEEK_12, (82, 70))):
        visit = signed(cast, on, hamstring_torque=torque)
        keyed(visit=visit, instrument="koos", answers=dict.fromkeys(KOOS, str(1 + (on == WEEK_6))))
    EventFactory(episode=cast.episode, date=TODAY)
    actor = Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=uuid4())
    letters.draft(actor=actor, key=uuid4(), episode=cast.episode)
    status.rejudge_due(site_ids=[cast.harbour.pk])
    return cast


def addresses(cast) -> list[str]:
    episode, patient = cast.episode.uid, cast.ines.uid
    return [
        f"/patients/{patient}/",
        f"/episodes/{episode}/milestones/running",
        f"/episodes/{episode}/courses/quadriceps_torque",
        f"/episodes/{episode}/courses/hamstring_quadriceps_ratio",
        f"/episodes/{episode}/numbers/quadriceps_torque",
        f"/episodes/{episode}/numbers/weeks",
        f"/questionnaires/{CompletedQuestionnaire.objects.latest('pk').uid}/",
        f"/episodes/{episode}/numbers/hamstring_quadriceps_ratio?on={WEEK_12}",
        f"/episodes/{episode}/outcomes",
        f"/episodes/{episode}/published-sets",
        f"/episodes/{episode}/next-step",
        f"/patients/{patient}/scores/koos-pain-rule_2012-right-as_scored",
        f"/letters/{Letter.objects.get().uid}/",
        "/caseload/",
        "/caseload/symmetry",
        "/caseload/outcomes?line=quadriceps&answer=no",
    ]


def test_a_walk_over_every_page_finds_no_naked_number(record):
    client = signed_in(record.clinician)
    visit = open_visit(record)
    paper = Paper(client, visit)
    paper.type(
        {
            "c:quadriceps_torque:device": "fixed",
            "c:quadriceps_torque:knee_angle": "90",
            "v:quadriceps_torque:left": "160",
            "v:quadriceps_torque:right": "131",
        }
    ).save()
    seen = {}
    for address in [f"/visits/{visit.uid}/", *addresses(record)]:
        page = body(client.get(address))
        assert naked(page) == [], address
        seen[address] = panels(page)
    paper.sign()
    signed_page = body(client.get(f"/visits/{visit.uid}/"))
    assert naked(signed_page) == []
    for address, found in [*seen.items(), ("signed", panels(signed_page))]:
        for heads in found:
            must = MUST[kind_of(heads)]
            assert tuple(head for head in heads if head in must) == must, address
    assert sum(len(found) for found in seen.values()) > 20


def test_the_walk_enters_limits_what_the_patient_is_shown_and_moves(record):
    client = signed_in(record.clinician)
    surgery = record.surgery
    surgery.procedures = ["lateral_procedure"]
    surgery.save()
    for code in progressions():
        PlanStepFactory(
            episode=record.episode, progression=code, level=progressions()[code].levels[-1].code
        )
    plan = f"/episodes/{record.episode.uid}/show-patient"
    shown = [plan, *(f"{plan}?progression={code}" for code in progressions())]
    for address in (f"/episodes/{record.episode.uid}/limits/confirm", *shown):
        assert naked(body(client.get(address))) == [], address
    lead, leads = signed_in(record.lead), set()
    for protocol in {*in_force().protocols} - {record.episode.protocol}:
        address = f"/protocols/{protocol.replace('@', '-')}/episodes"
        preview = lead.post(address, {"key": str(uuid4()), "all": "1"})
        assert naked(body(preview)) == [], address
        leads |= set(re.findall(r'href="(/episodes/[^"]*)"', preview.content.decode()))
    assert {lead.get(address).status_code for address in leads} == {200}


def test_the_walk_can_fail():
    row = "<table><tr><td>77 %</td></tr></table>"
    assert naked(parse_html(row)) == ["77 %"]
    assert naked(parse_html(row.replace("77 %", '<a href="/numbers/x">77 %</a>'))) == []
    other = row + '<table><tr><td><details class="opens">x</details></td></tr></table>'
    assert naked(parse_html(other)) == ["77 %"]


def test_a_number_of_a_day_opens_with_all_that_it_was_made_from(record):
    client = signed_in(record.clinician)
    address = f"/episodes/{record.episode.uid}/numbers/quadriceps_torque"
    page = client.get(f"{address}?on={WEEK_12}")
    assert panels(body(page)) == [
        ("From", "Each value", "Change", "Worked out", "Error", "How to read it",
         "In use elsewhere", "Source", "Version")
    ]  # fmt: skip
    said = words_of(page)
    assert "right ÷ left × 100 = 109.0 ÷ 156.0 × 100 = 69.87 %" in said
    assert "Symmetry from 59.87 % (23 Sep 2026) to 69.87 %." in said
    assert "121.0" not in said
    today = words_of(client.get(address))
    assert "By body mass" in today
    assert "Right 121.0 N·m ÷ 62.5 kg (25 Nov 2026) = 1.94 N·m/kg" in today
    region = client.get(address, headers={"HX-Request": "true"}).content.decode()
    assert region.startswith('<div class="one-number">')
    for wrong in ("?on=2026-02-30", "?on=2026-01-01", "?on=x"):
        assert client.get(address + wrong).status_code == 404
    assert client.get(address.replace("quadriceps_torque", "single_hop")).status_code == 404
    assert client.get(address.replace("quadriceps_torque", "nothing")).status_code == 404


def test_a_number_of_a_day_to_come_is_that_of_today(record):
    client = signed_in(record.clinician)
    address = f"/episodes/{record.episode.uid}/numbers/quadriceps_torque"
    assert words_of(client.get(f"{address}?on=2027-01-01")) == words_of(client.get(address))


def test_weeks_open_to_the_operation(record):
    client = signed_in(record.clinician)
    address = f"/episodes/{record.episode.uid}/numbers/weeks"
    said = words_of(client.get(address))
    assert "Weeks : week 15 From Operation 12 Aug 2026 Today 25 Nov 2026" in said
    assert "105 days ÷ 7 = 15 weeks and 0 days" in said
    record.surgery.date = date(2026, 12, 1)
    record.surgery.save()
    assert "6 days before it" in words_of(client.get(address))


def test_a_course_of_what_is_worked_out(record):
    client = signed_in(record.clinician)
    page = client.get(f"/episodes/{record.episode.uid}/courses/hamstring_quadriceps_ratio")
    table = re.findall(r"<tr>(.*?)</tr>", page.content.decode(), flags=re.S)
    rows = [" ".join(re.sub(r"<[^>]+>", " ", row).split()) for row in table]
    assert rows[1:3] == ["week 6, 23 Sep 2026 0.53 0.66", "week 12, 4 Nov 2026 0.53 0.64"]
    assert f'href="/episodes/{record.episode.uid}/numbers/hamstring_quadriceps_ratio?on=' in (
        page.content.decode()
    )


def test_a_number_costs_the_same_for_one_reading_and_for_three(record, django_assert_num_queries):
    client = signed_in(record.clinician)
    address = f"/episodes/{record.episode.uid}/numbers/quadriceps_torque"
    client.get(address)
    for on in (date(2026, 9, 23), TODAY):
        with django_assert_num_queries(11):
            client.get(f"{address}?on={on}")
