"""The patient page: who, which knees, status today, milestones, course, and nothing invented."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.models import care
from clinic.models.audit import AuditEntry
from clinic.models.handovers import Handover
from outcomes.models.letters import Letter
from tests.cast import MOMENT, TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory, VisitFactory
from tests.factories.outcomes import ReadingFactory
from tests.outcomes.story import limit, signed, week_15
from tests.web import signed_in, words_of

HTMX = {"HX-Request": "true"}


def get(cast, *, who=None, patient=None, query=""):
    client = signed_in(who or cast.clinician)
    return client.get(f"/patients/{(patient or cast.ines).uid}/{query}")


def rows(page) -> dict[str, tuple[str, str]]:
    """Of each line of the ledger: what stands on the left page and on the right page."""
    html = page.content.decode()
    found = {}
    for line in re.findall(r"<tr[^>]*>\s*<td class=\"left\".*?</tr>", html, flags=re.S):
        left, right = (
            " ".join(re.sub(r"<[^>]+>", " ", cell).split())
            for cell in re.findall(r"<td class=\"(?:left|right)\">(.*?)</td>", line, flags=re.S)
        )
        name = re.search(r'class="measure">(.*?)</span>', line)
        found[name[1] if name else ""] = (left, right)
    return found


def test_who_which_knee_what_was_done_and_which_week(cast):
    care.Surgery.objects.update(procedures=["meniscal_repair"])
    limit(cast)
    said = words_of(get(cast))
    assert "Ines Marlow 25 years born 3 May 2001, record H-0412" in said
    assert (
        "Right knee, operated 12 Aug 2026 , hamstring autograft and meniscal repair week 15" in said
    )
    assert "Surgeon’s limit until 9 Dec: impact, no impact." in said
    assert "Goal: pivoting or contact sport. Starter protocol, version 2." in said


@pytest.mark.parametrize(
    ("changes", "week"),
    [
        ({"date": date(2026, 4, 29)}, "6 months (week 30)"),
        ({"state": "planned", "date": date(2026, 12, 3)}, "before surgery"),
        ({"date": None, "date_asked_on": TODAY}, "date of the operation not known yet"),
    ],
)
def test_the_week_in_the_words_of_the_trade(cast, changes, week):
    care.Surgery.objects.update(**changes)
    assert f'<strong class="week">{week}</strong>' in get(cast).content.decode()


def test_the_ledger_keeps_left_on_the_left_and_says_not_tested(cast):
    week_15(cast)
    ReadingFactory(
        visit=care.Visit.objects.get(date=TODAY), measure="single_hop", limb="left", value=140
    )
    assert rows(get(cast)) == {
        "Front-of-knee pain": ("", "2 of 10"),
        "Effusion": ("", "trace"),
        "Extension": ("straight", "lacks 1°"),
        "Flexion": ("142°", "134°"),
        "Quadriceps, N·m": ("158.0 2.53 N·m/kg", "121.0 1.94 N·m/kg"),
        "Single hop, cm": ("140.0", "not tested"),
        "Body mass": ("", ""),
    }


def test_symmetry_change_and_everything_behind_the_number(cast):
    week_15(cast)
    said = words_of(get(cast))
    assert "LSI 77 %, error about 7 points; up 7 since 4 Nov: no real change" in said
    assert "right ÷ left × 100 = 121.0 ÷ 158.0 × 100 = 76.58 %" in said
    assert "Left 158.0 N·m, 25 Nov 2026 (fixed dynamometer, knee angle 90°)" in said
    assert "Right 121.0 N·m ÷ 62.5 kg (25 Nov 2026) = 1.94 N·m/kg" in said
    assert "Borderline within 6.6 of a threshold (1.645 × SEM)" in said
    assert "Quadriceps strength, knee extension torque, version 2" in said


def test_the_milestone_worked_toward_with_counts_and_the_open_decision(cast):
    week_15(cast)
    said = words_of(get(cast))
    assert (
        "Criteria still missing. 5 of 7 recorded as met, 2 not tested. "
        "Decision open: physiotherapist with surgeon and patient." in said
    )
    assert said.index("Criteria still missing.") < said.index("Goal: pivoting")
    assert "Not met. Standing hip hold" not in said
    assert "Competition Not before month 9 (12 May 2027). 3 of 8 recorded as met" in said


def test_the_other_milestones_open_as_region_or_as_page(cast):
    week_15(cast)
    address = f"/episodes/{cast.episode.uid}/milestones/competition"
    assert f'hx-get="{address}"' in get(cast).content.decode()
    client = signed_in(cast.clinician)
    region, page = client.get(address, headers=HTMX), client.get(address)
    assert region.content.decode().strip().startswith('<article class="milestone">')
    for answer in (region, page):
        assert "Not tested. Single hop symmetry, asks at least 90 %." in words_of(answer)
    assert client.get(address.replace("competition", "nothing")).status_code == 404


def test_a_limit_holds_whatever_the_numbers_say(cast):
    week_15(cast)
    limit(cast)
    said = words_of(get(cast))
    assert "Held by the surgeon's limit: no impact (until 9 Dec). 5 of 7 recorded as met" in said


def test_a_withdrawn_value_is_nowhere_and_a_corrected_one_counts(cast):
    visit = signed(cast, TODAY, quadriceps_torque=(158, 121))
    old = visit.readings.get(limb="right")
    ReadingFactory(
        visit=visit, measure="quadriceps_torque", limb="right", value="124.6", kind="corrected",
        supersedes=old, reason="misread",
    )  # fmt: skip
    page = get(cast)
    assert rows(page) == {"Quadriceps, N·m": ("158.0", "124.6")}
    assert "121.0" not in words_of(page)


def test_two_knees_each_with_its_own_weeks_and_no_symmetry(cast):
    other = EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left")
    SurgeryFactory(episode=other, date=date(2026, 11, 4), recorded_by=cast.clinician)
    week_15(cast)
    page = get(cast)
    said = words_of(page)
    assert "Left knee, operated 4 Nov 2026 , hamstring autograft week 3" in said
    assert "Right knee, operated 12 Aug 2026 , hamstring autograft week 15" in said
    assert 'data-involved="left right"' in page.content.decode()
    assert "LSI" not in said
    assert said.count("symmetry not assessable: both knees are followed") == 3
    assert said.index("Left knee, week 3") < said.index("Right knee, week 15")


def test_an_episode_that_has_ended_is_one_touch_away(cast):
    old = EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left", care_state="discharged")
    assert f"?episode={old.uid}" in get(cast).content.decode()
    said = words_of(get(cast, query=f"?episode={old.uid}"))
    assert "Left knee" in said
    assert "Right knee, operated" not in said


def test_visits_letters_and_cover(cast):
    signed(cast, date(2026, 11, 4))
    VisitFactory(
        patient=cast.ines, site=cast.harbour, date=date(2026, 12, 2), state="booked",
        arrived_at=None, opened_at=None, clinician=cast.colleague,
    )  # fmt: skip
    Letter.objects.create(
        episode=cast.episode, recipient=cast.surgeon, state="draft", bottom_line="as usual",
        drafted_at=MOMENT, drafted_by=cast.clinician,
    )  # fmt: skip
    Handover.objects.create(
        episode=cast.episode, giver=cast.clinician, taker=cast.colleague, since=TODAY,
        until=date(2026, 12, 4), aim_now="hip hold without the hand", watch_for="front of knee",
        recorded_at=MOMENT,
    )  # fmt: skip
    said = words_of(get(cast))
    assert "2 Dec 2026 week 16 booked Bram Solis 4 Nov 2026 week 12 signed Tess Okafor" in said
    assert "25 Nov 2026 , draft, to Mr Aled Pryce by Tess Okafor" in said
    assert (
        "Bram Solis covers for Tess Okafor , 25 Nov to 4 Dec not taken over yet "
        "Aim now: hip hold without the hand Watch for: front of knee" in said
    )


def test_ten_visits_stand_in_the_page_and_the_rest_is_a_touch_away(cast):
    for days in range(12):
        signed(cast, TODAY - timedelta(days=days))
    few, everything = get(cast), get(cast, query="?visits=all")
    assert [words_of(page).count("signed Tess Okafor") for page in (few, everything)] == [10, 12]
    assert "All visits" in words_of(few)
    assert "All visits" not in words_of(everything)


def test_no_line_breaks_between_a_number_and_its_unit(cast):
    week_15(cast)
    assert "symmetry 77\u00a0%, asks at least 70\u00a0%." in get(cast).content.decode()


def test_nothing_measured_yet_is_said_and_nothing_is_met(cast):
    said = words_of(get(cast))
    assert "Nothing is measured yet." in said
    assert "0 of 4 recorded as met, 4 not tested." in said
    assert "A course is drawn once a measure was tested on two days" in said


def test_the_course_states_its_finding_and_has_its_table(cast):
    week_15(cast)
    page = get(cast)
    assert "Quadriceps symmetry rises 17 points in 9 weeks" in words_of(page)
    table = words_of(page).split("The same as a table")[1]
    assert "week 6, 23 Sep 2026 152.0 N·m 91.0 N·m 60 % (error about 6.58)" in table
    assert "Running asks at least 70 %. Most reported running criteria in 201 studies" in table
    address = f"/episodes/{cast.episode.uid}/courses/quadriceps_torque"
    assert f'data-figure-url="{address}/figure"' in page.content.decode()
    figure = signed_in(cast.clinician).get(f"{address}/figure").json()
    assert [(line["name"], line["y"]) for line in figure["data"][:2]] == [
        ("Left, other side", [152.0, 156.0, 158.0]),
        ("Right, operated", [91.0, 109.0, 121.0]),
    ]


def test_another_course_comes_as_its_region_or_as_a_page(cast):
    week_15(cast)
    client = signed_in(cast.clinician)
    address = f"/episodes/{cast.episode.uid}/courses/knee_extension"
    region, page = client.get(address, headers=HTMX), client.get(address)
    assert "<html" in page.content.decode()
    assert region.content.decode().strip().startswith('<section class="section course"')
    for answer in (region, page):
        assert "Extension, right: from lacks 8° to lacks 1° in 9 weeks" in words_of(answer)
    assert client.get(f"/episodes/{cast.episode.uid}/courses/nothing/figure").status_code == 404


def test_values_under_other_conditions_are_never_drawn_on_one_line(cast):
    signed(cast, date(2026, 9, 23), quadriceps_torque=(152, 91))
    signed(cast, date(2026, 11, 4), quadriceps_torque=(156, 109))
    visit = signed(cast, TODAY)
    ReadingFactory(
        visit=visit, measure="quadriceps_torque", value=140,
        conditions={"device": "handheld", "knee_angle": "90"},
    )  # fmt: skip
    said = words_of(get(cast))
    assert "Quadriceps symmetry from 60 % to 69 % in 6 weeks: no real change" in said
    assert "1 value under other conditions not drawn." in said


def test_a_reason_to_look_stands_first_and_can_be_answered(cast):
    signed(cast, TODAY, knee_extension=(0, 6))
    page = get(cast)
    said = words_of(page)
    assert "Needs a look Extension 6° short at week 15" in said
    assert said.index("Needs a look") < said.index("Status today")
    answer = f"/episodes/{cast.episode.uid}/looks?answer=extension_short_letter"
    assert f'hx-get="{answer}"' in page.content.decode()
    region = signed_in(cast.clinician).get(answer, headers=HTMX).content.decode()
    assert region.count("<details open>") == 1
    assert f'action="/episodes/{cast.episode.uid}/looks"' in region


@pytest.mark.parametrize(
    ("who", "status"), [("clinician", 200), ("colleague", 200), ("lead", 200), ("desk", 403),
                        ("outsider", 404)],
)  # fmt: skip
def test_who_may_see_the_record(cast, who, status):
    week_15(cast)
    page = get(cast, who=getattr(cast, who))
    assert page.status_code == status
    assert ("Ines Marlow" in page.content.decode()) == (status == 200)
    episode = f"/episodes/{cast.episode.uid}"
    course = f"{episode}/courses/quadriceps_torque"
    client = signed_in(getattr(cast, who))
    parts = (course, f"{course}/figure", f"{episode}/milestones/running", f"{episode}/decisions")
    assert {client.get(part).status_code for part in parts} == {status}


def test_a_lead_sees_and_does_not_record(cast):
    week_15(cast)
    html = get(cast, who=cast.lead).content.decode()
    assert "Record a decision" not in html
    assert "Open a visit today" not in html


def test_seeing_the_page_writes_one_row(cast):
    get(cast)
    assert list(
        AuditEntry.objects.filter(subject="patient").values_list("act", "subject_ids", "outcome")
    ) == [("see_record", [cast.ines.pk], "done")]


def statements(cast, patient) -> int:
    client = signed_in(cast.clinician)
    client.get(f"/patients/{patient.uid}/")
    with CaptureQueriesContext(connection) as asked:
        assert client.get(f"/patients/{patient.uid}/").status_code == 200
    return len(asked)


def test_the_page_costs_the_same_with_few_and_with_many_visits(cast):
    few, many = cast.ines, PatientFactory()
    SurgeryFactory(
        episode=EpisodeFactory(patient=many, site=cast.harbour), recorded_by=cast.clinician
    )
    for patient, visits in ((few, 2), (many, 12)):
        for week in range(visits):
            signed(
                cast, TODAY - timedelta(weeks=week), patient=patient,
                quadriceps_torque=(158, 121 - week), knee_extension=(0, 6),
                effusion=(None, week % 3),
            )  # fmt: skip
    assert statements(cast, many) == statements(cast, few) == 21
