"""Completed questionnaires for the clinician: scores, lines, one form's page, corrections."""

import re
from datetime import date, timedelta
from uuid import uuid4

import pytest

from clinic.models.audit import AuditEntry
from clinic.models.care import Episode, Visit
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.versions import Switch
from outcomes.queries.catalogue import in_force
from outcomes.queries.questionnaire_trend import lines_of
from outcomes.queries.questionnaires import completed_of
from tests.cast import MOMENT, TODAY
from tests.factories.outcomes import KOOS, keyed, signed_visit
from tests.outcomes.test_keying import keep
from tests.web import signed_in, words_of

BEFORE = date(2026, 7, 20)
IKDC_SUM = {
    **dict.fromkeys(("1", "4", "5", "7", "8"), "2"),
    **{f"9{letter}": "2" for letter in "abcdefghi"},
    "2": "5", "3": "5", "6": "1", "10": "5",
}  # fmt: skip
"""Sum 44 of 87: 50.57."""


def visit_on(cast, day):
    return signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=day)


def patient_page(cast, who=None):
    return signed_in(who or cast.clinician).get(f"/patients/{cast.ines.uid}/")


def test_a_score_with_its_changes_and_what_is_behind_it(cast):
    keyed(visit=visit_on(cast, BEFORE), instrument="ikdc", answers=dict.fromkeys(IKDC_SUM, "1"))
    low = dict.fromkeys(IKDC_SUM, "1") | {"10": "3"}
    keyed(visit=visit_on(cast, date(2026, 9, 23)), instrument="ikdc", answers=low)
    keyed(visit=visit_on(cast, TODAY), instrument="ikdc", answers=IKDC_SUM)
    said = words_of(patient_page(cast))
    assert "IKDC, right knee 25 Nov 2026, week 15 IKDC 50.6 of 100" in said
    assert (
        "Up 27.6 since 23 Sep: a real change (MDC 15.6); important (MIC 18.9). "
        "Up 29.9 since 20 Jul, before surgery: a real change (MDC 15.6); substantial (SCB 29.6). "
        "Not at the acceptable state (PASS, at least 75.9)." in said
    )
    assert (
        "100 × sum of the answers ÷ most that the answered items can give = 100 × 44 ÷ 87" in said
    )
    assert "MDC, confidence not stated at least 15.6: knee conditions, upper end of a range" in said
    assert "IKDC Subjective Knee Form, version 1." in said


def test_a_score_that_is_not_formed_says_why_and_is_never_nought(cast):
    keyed(visit=visit_on(cast, TODAY), instrument="koos", answers={"P1": "1", "Q1": "0", "Q2": "4"})
    said = words_of(patient_page(cast))
    assert "Pain not formed 1 of 9 answered, at least 5 are needed" in said
    assert "Quality of life 50 of 100" in said
    assert "Blank: Q3, Q4" in said


def test_weeks_are_told_by_the_knee_that_is_shown_and_by_what_they_count_from(cast):
    keyed(visit=visit_on(cast, TODAY), instrument="ikdc", answers=IKDC_SUM, limb="left")
    said = words_of(patient_page(cast))
    assert "IKDC, left knee 25 Nov 2026 IKDC 50.6" in said
    Episode.objects.update(kind="without_surgery", injury_date=date(2026, 9, 1))
    for day in (BEFORE, TODAY):
        visit = Visit.objects.filter(date=day).first() or visit_on(cast, day)
        keyed(visit=visit, instrument="ikdc", answers=IKDC_SUM)
    said = words_of(patient_page(cast))
    assert "IKDC, right knee 25 Nov 2026, week 12 after the injury IKDC 50.6" in said
    assert "The same since 20 Jul, before the injury: no real change" in said


def test_without_one_nothing_is_invented(cast):
    visit_on(cast, TODAY)
    said = words_of(patient_page(cast))
    assert "Questionnaires Key one for 25 Nov 2026 No questionnaire is keyed yet." in said
    assert "Key one for" not in words_of(patient_page(cast, cast.lead))


@pytest.mark.parametrize("forms", [1, 3])
def test_the_patient_page_asks_once_however_many_there_are(cast, forms, django_assert_num_queries):
    for number in range(forms):
        visit = visit_on(cast, TODAY - timedelta(days=30 * number))
        keyed(visit=visit, instrument="ikdc", answers=IKDC_SUM)
        keyed(visit=visit, instrument="koos", answers=dict.fromkeys(KOOS, "1"))
    client = signed_in(cast.clinician)
    client.get(f"/patients/{cast.ines.uid}/")
    with django_assert_num_queries(20):
        client.get(f"/patients/{cast.ines.uid}/")


def test_another_form_print_or_knee_is_never_on_one_line(cast):
    for number, (instrument, limb, more) in enumerate(
        [
            ("ikdc", "right", {}), ("ikdc", "left", {}), ("pedi_ikdc", "right", {}),
            ("acl_rsi", "right", {}), ("acl_rsi_short", "right", {}),
            ("koos_ps", "right", {}), ("koos_ps", "right", {"layout": turned_layout()}),
        ]
    ):  # fmt: skip
        for days in (40 + number, number):
            items = [item.code for item in in_force().instruments[instrument].items]
            keyed(
                visit=visit_on(cast, TODAY - timedelta(days=days)),
                instrument=instrument,
                limb=limb,
                answers=dict.fromkeys(items, "1" if instrument[:3] != "acl" else "10"),
                **more,
            )
    lines = lines_of(forms=completed_of(patient_id=cast.ines.pk, rules=in_force()))
    assert len(lines) == 7
    assert [len(line.forms) for line in lines] == [2] * 7
    assert sorted(line.label for line in lines) == [
        "ACL-RSI short, right knee",
        "ACL-RSI, right knee",
        "IKDC, left knee",
        "IKDC, right knee",
        "KOOS-PS, right knee",
        "KOOS-PS, right knee (print the other way round)",
        "Pedi-IKDC, right knee",
    ]


def turned_layout():
    """The layout of koos_ps that is published the other way round."""
    return next(one.code for one in in_force().instruments["koos_ps"].layouts if one.turned)


def test_the_course_as_region_page_and_figure(cast):
    for days in (60, 0):
        visit = visit_on(cast, TODAY - timedelta(days=days))
        keyed(visit=visit, instrument="ikdc", answers=IKDC_SUM)
    address = f"/patients/{cast.ines.uid}/scores/ikdc-total-form_2000-right-as_scored"
    client = signed_in(cast.clinician)
    client.get(f"/patients/{cast.ines.uid}/")
    region = client.get(address, headers={"HX-Request": "true"})
    assert region.content.decode().strip().startswith('<div class="course" id="scores">')
    for answer in (region, client.get(address)):
        assert "IKDC, right knee the same since 26 Sep 2026: no real change" in words_of(answer)
        assert "acceptable state: at least 75.9" in words_of(answer)
    assert client.get(f"{address}/figure").json()["data"]
    assert client.get(address.replace("right", "left")).status_code == 404


def test_a_level_is_held_against_the_one_before_the_injury(cast):
    Switch.objects.create(code="tegner", state="on", changed_at=MOMENT, changed_by=cast.lead)
    first = {"1": "3", "before_injury": "9"}
    keyed(visit=visit_on(cast, BEFORE), instrument="tegner", limb="none", answers=first)
    keyed(visit=visit_on(cast, TODAY), instrument="tegner", limb="none", answers={"1": "6"})
    assert "3 below before the injury (9)." in words_of(patient_page(cast))


def form(cast, **answers):
    return keyed(
        visit=visit_on(cast, TODAY),
        instrument="koos",
        answers=dict.fromkeys(KOOS, "1") | answers,
    )


def correct(cast, row, texts, *, who=None, **more):
    body = {"key": str(uuid4()), "reason": "wrong box read", **more}
    fields = {f"i:{item}": text for item, text in texts.items()}
    return signed_in(who or cast.clinician).post(
        f"/questionnaires/{row.uid}/correct", {**body, **fields}
    )


def test_a_correction_is_a_new_row_and_the_history_tells_both(cast):
    row = form(cast)
    texts = dict.fromkeys(KOOS, "1") | {"Q1": "1/3", "Q2": ""}
    answer = correct(cast, row, texts)
    new = CompletedQuestionnaire.objects.get(supersedes=row)
    assert (answer.status_code, answer["Location"]) == (302, f"/questionnaires/{new.uid}/")
    assert (new.kind, new.reason, new.answers["Q1"], new.answers["Q2"]) == (
        "corrected", "wrong box read", "3", None,
    )  # fmt: skip
    assert new.typed == {"Q1": "1/3"}
    assert CompletedQuestionnaire.objects.get(pk=row.pk).answers == row.answers
    client = signed_in(cast.clinician)
    pages = [words_of(client.get(f"/questionnaires/{one.uid}/")) for one in (row, new)]
    for said in pages:
        assert re.search(r"Corrected Pain 75.*Quality of life 58.3.*Entered Pain 75", said)
        assert "Q1 3 marked 1/3 Q2 blank Q3 1" in said
    assert "Quality of life 58.3 of 100" in words_of(patient_page(cast))
    assert AuditEntry.objects.filter(act="correct_questionnaire").count() == 1
    assert correct(cast, row, texts | {"Q3": "0"}).status_code == 409


@pytest.mark.parametrize(
    ("texts", "more", "said"),
    [
        ({}, {}, "Nothing differs from what is on record."),
        ({"Q1": "9"}, {}, "Item Q1 takes 0, 1, 2, 3 or 4, or leave it blank."),
        ({"Q1": "2"}, {"reason": ""}, "Say in a few words why it is corrected."),
    ],
)
def test_a_correction_that_cannot_be_taken_keeps_what_was_typed(cast, texts, more, said):
    row = form(cast)
    answer = correct(cast, row, dict.fromkeys(KOOS, "1") | texts, **more)
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert CompletedQuestionnaire.objects.count() == 1


def test_what_is_withdrawn_counts_nowhere_and_can_be_keyed_anew(cast):
    Switch.objects.create(code="koos", state="on", changed_at=MOMENT, changed_by=cast.lead)
    row = form(cast)
    client = signed_in(cast.clinician)
    body = {"key": str(uuid4()), "reason": "another person's sheet"}
    answer = client.post(f"/questionnaires/{row.uid}/withdraw", body)
    said = words_of(client.get(answer["Location"]))
    assert "Withdrawn: it counts in no score. another person's sheet" in said
    assert "No questionnaire is keyed yet." in words_of(patient_page(cast))
    keep(client, row.visit, {"P1": "2"})
    anew = CompletedQuestionnaire.objects.latest("pk")
    assert (anew.kind, anew.reason, anew.answers["P1"]) == (
        "corrected", "keyed anew after it was withdrawn", "2",
    )  # fmt: skip
    assert "KOOS, right knee" in words_of(patient_page(cast))


def test_a_letter_lists_the_scores_that_are_in_use_with_what_was_before(cast):
    before, now = visit_on(cast, date(2026, 9, 23)), visit_on(cast, TODAY)
    for visit, answers in ((before, dict.fromkeys(IKDC_SUM, "1")), (now, IKDC_SUM)):
        keyed(visit=visit, instrument="ikdc", answers=answers)
        keyed(visit=visit, instrument="ikdc", answers=answers, limb="left")
        keyed(visit=visit, instrument="koos", answers=dict.fromkeys(KOOS, "1"))
    client = signed_in(cast.clinician)
    answer = client.post(f"/episodes/{cast.episode.uid}/letters", {"key": str(uuid4())})
    said = words_of(client.get(answer["Location"]))
    assert "IKDC questionnaire, 25 Nov 50.6 of 100 20.7 (23 Sep): up 29.9: a real change" in said
    assert said.count("IKDC questionnaire") == 1
    assert "KOOS" not in said
