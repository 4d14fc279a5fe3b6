"""An open visit asks for what is out of date and for what was planned, behind the week's set."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from clinic.models.care import Episode, Surgery, Visit
from outcomes.models.record import LookAnswer, VisitDraft
from outcomes.queries.visit import VisitSheet
from outcomes.queries.visit_asks import due_words
from outcomes.services.decisions import evidence_today
from tests.cast import MOMENT, TODAY, Cast
from tests.factories.clinic import EpisodeFactory, SurgeryFactory
from tests.factories.outcomes import PlanStepFactory, ReadingFactory, both_limbs, signed_visit
from tests.outcomes.paper import Paper, open_visit
from tests.outcomes.story import limit
from tests.outcomes.test_shell import Ledger
from tests.outcomes.test_visit_page import row_of, statements
from tests.web import signed_in

HOLD, LATERAL, PLANK = "standing_hip_hold", "pelvic_drop_lateral_heel_touch", "side_plank_hold"


def rows_of(page: str) -> list[str]:
    return re.findall(r'id="row-([a-z0-9_-]+)"', page)


def past(cast: Cast, days: int) -> Visit:
    return signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY - timedelta(days=days)
    )


def why(visit: Visit) -> list[tuple[str, str]]:
    """What is asked beyond the set of the week, with the reason as it is shown."""
    sheet = VisitSheet(Visit.objects.select_related("patient", "site").get(pk=visit.pk))
    return [(due.measure, due_words(due=due, on=sheet.visit.date)) for due in sheet.also]


@pytest.fixture
def week_30(cast: Cast) -> Cast:
    """Ines at week 30: a hip hold and a heel touch 60 days old, which that week does not ask."""
    Surgery.objects.update(date=TODAY - timedelta(weeks=30))
    visit = past(cast, days=60)
    both_limbs(visit=visit, measure=HOLD, left=40, right=30)
    high = {"step_height": "20"}
    both_limbs(visit=visit, measure=LATERAL, left=0, right=2, conditions=high)
    return cast


def answered(cast: Cast, **changes: Any) -> None:
    """The uneven heel touch was answered, to be looked at again three days ago."""
    given = {
        "code": f"{LATERAL}_uneven", "size": Decimal(9), "plan": "heel touches, low",
        "look_again_on": TODAY - timedelta(days=3), "answered_at": MOMENT - timedelta(days=21),
    } | changes  # fmt: skip
    LookAnswer.objects.create(episode=cast.episode, answered_by=cast.clinician, **given)


def test_the_page_asks_the_week_then_what_is_stale_then_what_was_planned(week_30: Cast) -> None:
    PlanStepFactory(episode=week_30.episode, level="side_plank", since=TODAY - timedelta(days=14))
    answered(week_30)
    visit, client = open_visit(week_30), signed_in(week_30.clinician)
    address = f"/visits/{visit.uid}/"
    before = statements(client, address)
    paper = Paper(client, visit)
    page = paper.response.content.decode()
    rows = rows_of(page)
    assert (rows[-4:], len(rows)) == (["body_mass", HOLD, PLANK, LATERAL], 18 + 3)
    hints = {
        HOLD: "Out of date since 8 Nov for Step-down work",
        PLANK: "Planned on 11 Nov: Hip control",
        LATERAL: "Planned on 4 Nov: look again",
    }
    assert re.findall(r'<p class="due-line">([^<]*)', page) == list(hints.values())
    assert all(text in row_of(paper.response, row) for row, text in hints.items())
    on_paper = client.get(f"{address}paper").content.decode()
    assert [on_paper.count(text) for text in hints.values()] == [1, 1, 1]
    assert (
        on_paper.index("Body mass") < on_paper.index(hints[HOLD]) < on_paper.index(hints[LATERAL])
    )
    shell = client.get(Ledger(page).shell).content.decode()
    assert rows_of(shell) == rows
    assert "due-line" not in shell
    paper.type({"f:none": "1"}).send_row("flags")
    kept = VisitDraft.objects.get(visit=visit)
    assert [row["measure"] for row in kept.also or ()] == [HOLD, PLANK, LATERAL]
    assert statements(client, address) == before - 3
    both_limbs(visit=past(week_30, days=1), measure=HOLD, left=41, right=38)
    again = client.get(address).content.decode()
    assert (rows_of(again), Ledger(again).shell) == (rows, Ledger(page).shell)
    Visit.objects.filter(pk=visit.pk).update(state="cancelled")
    less = open_visit(week_30)
    assert [row for row, _ in why(less)] == [PLANK, LATERAL]
    asks_less = client.get(f"/visits/{less.uid}/").content.decode()
    behind = re.findall(r'data-behind="([^"]*)"', asks_less + shell)
    assert behind == [f"row-{PLANK} row-{LATERAL} ", f"row-{HOLD} row-{PLANK} row-{LATERAL} "]
    other = Ledger(asks_less)
    assert (other.shell == Ledger(page).shell, other.more) == (False, Ledger(page).more)


def test_what_was_measured_since_or_lies_ahead_is_not_asked(week_30: Cast) -> None:
    visit = open_visit(week_30)
    stale = (HOLD, "Out of date since 8 Nov for Step-down work")
    assert why(visit) == [stale]
    answered(week_30, look_again_on=TODAY + timedelta(days=1))
    PlanStepFactory(episode=week_30.episode, level="side_plank", since=TODAY)
    assert why(visit) == [stale]
    answered(week_30)
    ReadingFactory(visit=past(week_30, days=2), measure=LATERAL, limb="right", value=2)
    assert why(visit) == [stale]
    week_30.episode.care_state = "follow_up_only"
    week_30.episode.save()
    assert why(visit) == []


def test_a_decision_that_is_to_be_looked_at_again_asks_for_what_it_left_open(
    week_30: Cast,
) -> None:
    episode = Episode.objects.select_related("patient", "site").get()
    data = {
        "key": str(uuid4()), "milestone": "step_down_work", "course": "goes_ahead",
        "seen": evidence_today(episode=episode, milestone="step_down_work").mark,
        "agreed": "heel touch, 10 cm", "took_part": ["patient"], "why_unmet": "tests are old",
        "risk_discussed": "swelling", "recheck_on": "2026-12-16",
    }  # fmt: skip
    client = signed_in(week_30.clinician)
    assert client.post(f"/episodes/{episode.uid}/decisions", data).status_code == 302
    due = TODAY + timedelta(days=21)
    running = (LATERAL, "Out of date since 30 Sep for Running")
    assert why(open_visit(week_30, date=due - timedelta(days=1))) == [running]
    later = open_visit(week_30, date=due)
    assert why(later) == [running, (HOLD, "Planned on 25 Nov: Step-down work")]
    both_limbs(visit=past(week_30, days=-21), measure=HOLD, left=40, right=30)
    assert why(later) == [running]


def test_with_two_followed_knees_the_reason_names_its_knee(week_30: Cast) -> None:
    episode = EpisodeFactory(patient=week_30.ines, site=week_30.harbour, knee="left")
    SurgeryFactory(episode=episode, date=TODAY - timedelta(weeks=40), recorded_by=week_30.clinician)
    assert why(open_visit(week_30)) == [
        (HOLD, "Out of date since 8 Nov for Step-down work, right knee")
    ]


def test_a_test_that_a_limit_holds_is_shown_as_held(week_30: Cast) -> None:
    limit(week_30, kind="weight_bearing", limit="10 kg", since=TODAY, until=None)
    row = row_of(Paper(signed_in(week_30.clinician), open_visit(week_30)).response, HOLD)
    assert "Out of date since 8 Nov for Step-down work" in row
    assert "held: open to log" in row
