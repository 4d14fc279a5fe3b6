"""Confirming the limits after a procedure, what is held until then, and gates set aside."""

from datetime import date, timedelta

import pytest

from clinic.models import care
from clinic.models.audit import AuditEntry
from clinic.models.care import Restriction
from clinic.queries.care import limits
from outcomes.core.values import Limb, MilestoneState
from outcomes.models.record import Reading
from outcomes.models.status import EpisodeStatus
from outcomes.queries.catalogue import in_force
from outcomes.queries.judging import judge_record, records_of
from outcomes.queries.knee_words import knee_words
from tests.cast import TODAY
from tests.clinic.desk import errors_of, posted
from tests.outcomes.paper import FULL, Paper, open_visit
from tests.outcomes.story import limit, set_aside, week_15
from tests.web import signed_in, words_of

ROOT, LATERAL = "meniscal_root_repair", "lateral_procedure"
OPERATED = date(2026, 8, 12)
SENTENCE = "Surgeon's limits not confirmed (meniscal root repair): ask before loading"
USUAL = {
    "take-0": "on", "limit-0": "none", "since-0": "2026-08-12", "until-0": "2026-09-23",
    "take-1": "on", "limit-1": "0 to 90°; one protocol reaches 120° by week 6",
    "since-1": "2026-08-12", "until-1": "2026-09-23",
    "take-2": "on", "limit-2": "straight for walking and sleep", "since-2": "2026-08-12",
    "until-2": "2026-09-23",
    "take-3": "on", "limit-3": "none past 60 to 90°", "since-3": "2026-08-12",
    "until-3": "2026-12-02",
    "take-4": "on", "limit-4": "none in isolation (medial or posterior root)",
    "since-4": "2026-08-12", "until-4": "2026-11-04",
    "take-5": "on", "limit-5": "no running or jumping", "since-5": "2026-08-12",
    "until-5": "2027-01-27",
}  # fmt: skip
"""What the page fills in after a root repair on 12 August: each for the longer time."""
SAID = {
    "procedure": ROOT, "answer": "hold", "told_by": "Mr Pryce, letter", "told_on": "2026-08-20",
    "seen": 1,
}  # fmt: skip


def done(cast, *procedures):
    cast.surgery.procedures = list(procedures)
    cast.surgery.save()


def address(cast):
    return f"/episodes/{cast.episode.uid}/limits/confirm"


def confirm(cast, *parts, who="clinician", **changes):
    form = posted(SAID, USUAL, *parts, **changes)
    return signed_in(getattr(cast, who)).post(address(cast), form)


def refused(response):
    (form,) = [one for one in response.context["forms"] if one.is_bound]
    return {name: list(said) for name, said in form.errors.items()}


def kept():
    fields = ("kind", "limit", "since", "until", "origin", "procedure", "told_by", "told_on")
    return list(Restriction.objects.order_by("pk").values_list(*fields))


def judged(cast, code):
    episode = care.Episode.objects.get(pk=cast.episode.pk)
    record = records_of(episodes=[episode], rules=in_force())[episode.pk]
    found = judge_record(record=record, rules=in_force(), on=TODAY).milestones
    return next(one for one in found if one.milestone.code == code)


def test_the_usual_limits_are_filled_in_with_their_source_and_the_standing_sentence(cast):
    done(cast, ROOT, LATERAL)
    page = signed_in(cast.clinician).get(address(cast))
    form, other = page.context["forms"]
    shown = {
        f"{part}-{n}": form[f"{part}-{n}"].value()
        for n in range(6)
        for part in ("limit", "since", "until")
    }
    assert {name: str(value) for name, value in shown.items()} == {
        name: value for name, value in USUAL.items() if not name.startswith("take")
    }
    assert all(form[f"take-{n}"].value() for n in range(6))
    assert [one.asking.procedure for one in (form, other)] == [ROOT, LATERAL]
    said = words_of(page)
    assert "Meniscal root repair, 12 Aug 2026" in said
    assert "the operating surgeon’s written protocol for this patient comes first" in said
    assert (
        "Usual to week 16; in some protocols week 12. Several protocols posted by surgeon groups, "
        "which differ from one another: quoted by another source." in said
    )
    assert "from memory, unverified" in said


def test_a_confirmed_limit_keeps_its_origin_and_a_changed_one_is_the_surgeons(cast):
    done(cast, ROOT, LATERAL)
    changes = {f"take-{n}": None for n in (0, 1, 2)}
    answer = confirm(cast, {"limit-3": "none past 70°", "until-4": "2026-12-16"}, **changes)
    assert (answer.status_code, answer["Location"]) == (302, address(cast))
    told = (ROOT, "Mr Pryce, letter", date(2026, 8, 20))
    assert kept() == [
        ("loaded_flexion", "none past 70°", OPERATED, date(2026, 12, 2), "surgeon", *told),
        ("hamstring_load", "none in isolation (medial or posterior root)", OPERATED,
         date(2026, 12, 16), "surgeon", *told),
        ("impact", "no running or jumping", OPERATED, date(2027, 1, 27), "template", *told),
    ]  # fmt: skip
    entry = AuditEntry.objects.get(act="confirm_limits")
    assert entry.subject_ids == list(
        Restriction.objects.order_by("pk").values_list("pk", flat=True)
    )
    assert care.Episode.objects.get(pk=cast.episode.pk).version == 2
    assert EpisodeStatus.objects.get().episode_version == 2
    (left,) = signed_in(cast.clinician).get(address(cast)).context["forms"]
    assert left.asking.procedure == LATERAL


def test_a_doubled_answer_is_kept_once_and_a_stale_page_changes_nothing(cast):
    done(cast, ROOT, LATERAL)
    client, form = signed_in(cast.clinician), posted(SAID, USUAL)
    assert [client.post(address(cast), form).status_code for _ in range(2)] == [302, 302]
    assert Restriction.objects.count() == 6
    stale = confirm(cast, {"procedure": LATERAL, "answer": "none"})
    assert stale.status_code == 409
    again = confirm(cast, seen=2)
    assert (again.status_code, Restriction.objects.count()) == (422, 6)


def test_the_surgeon_may_set_no_limit_and_that_confirms_this_procedure_alone(cast):
    done(cast, ROOT, LATERAL)
    assert confirm(cast, answer="none").status_code == 302
    assert kept() == [
        ("none", "no limit", OPERATED, None, "surgeon", ROOT, "Mr Pryce, letter",
         date(2026, 8, 20)),
    ]  # fmt: skip
    episode = care.Episode.objects.get(pk=cast.episode.pk)
    found = records_of(episodes=[episode], rules=in_force())[episode.pk].visits.limits_to_confirm
    assert found == ("lateral extra-articular procedure",)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"told_by": ""}, "told_by"),
        ({"told_on": ""}, "told_on"),
        ({"told_on": "2026-11-26"}, "told_on"),
        ({"answer": None}, "answer"),
        ({f"take-{n}": None for n in range(6)}, "answer"),
        ({"limit-3": ""}, "limit-3"),
        ({"since-3": ""}, "since-3"),
        ({"since-3": "2026-08-11"}, "since-3"),
        ({"until-3": "2026-08-11"}, "until-3"),
        ({"until-3": "soon"}, "until-3"),
    ],
)
def test_what_an_answer_needs(cast, changes, field):
    done(cast, ROOT, LATERAL)
    response = confirm(cast, **changes)
    assert (response.status_code, list(refused(response))) == (422, [field])
    assert not Restriction.objects.exists()


def test_without_a_date_of_the_operation_the_days_are_asked_for(cast):
    done(cast, ROOT)
    care.Surgery.objects.update(date=None, date_asked_on=TODAY)
    (form,) = signed_in(cast.clinician).get(address(cast)).context["forms"]
    assert (form["since-0"].value(), form["until-0"].value()) == (None, None)
    assert confirm(cast).status_code == 302
    assert {origin for *_, origin, _, _, _ in kept()} == {"surgeon"}


def test_where_no_usual_limits_are_known_every_kind_is_offered_and_none_is_ticked(cast):
    care.Surgery.objects.update(procedures=[], procedures_asked_on=TODAY)
    (form,) = signed_in(cast.clinician).get(address(cast)).context["forms"]
    assert [bool(row.take.value()) for row in form.rows()] == [False] * 8
    brace = {"take-2": "on", "limit-2": "straight", "since-2": "2026-08-12", "until-2": ""}
    said = posted(SAID, brace, procedure="not_known")
    assert signed_in(cast.clinician).post(address(cast), said).status_code == 302
    assert [(kind, origin) for kind, *_, origin, _, _, _ in kept()] == [("brace", "surgeon")]


def test_a_lead_reads_what_is_usual_and_confirms_nothing(cast):
    done(cast, ROOT)
    page = signed_in(cast.lead).get(address(cast))
    assert "Impact: no running or jumping" in words_of(page)
    assert 'name="told_by"' not in page.content.decode()
    assert confirm(cast, who="lead").status_code == 403
    assert not Restriction.objects.exists()
    assert AuditEntry.objects.filter(outcome="refused", act="set_limit").count() == 1


CONFIRM_PAGE = 10
"""Session, person, roles; episode, sites at the door, audit row; operations, events, what was
told; sites for the buttons."""


@pytest.mark.parametrize("procedures", [[ROOT], [ROOT, LATERAL, "meniscal_repair"]])
def test_the_page_costs_the_same_for_one_and_for_three(cast, procedures, django_assert_num_queries):
    done(cast, *procedures)
    client = signed_in(cast.clinician)
    with django_assert_num_queries(CONFIRM_PAGE):
        response = client.get(address(cast))
    assert len(response.context["forms"]) == len(procedures)


def test_until_confirmed_milestones_that_the_limits_break_are_blocked(cast):
    week_15(cast)
    done(cast, ROOT)
    found = judged(cast, "step_down_work")
    assert (found.state, found.unconfirmed) == (MilestoneState.BLOCKED, ("meniscal root repair",))
    page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert f"{SENTENCE}. 4 of 4 recorded as met" in page
    confirm(cast, {"answer": "none"})
    assert judged(cast, "step_down_work").state is MilestoneState.RECORDED_AS_MET


def held(paper, row):
    html = paper.response.content.decode()
    part = html.partition(f'id="name-{row}"')[2].partition("</article>")[0]
    return part.partition('class="name"')[0]


def test_until_confirmed_the_form_greys_the_test_and_still_takes_what_is_typed(cast):
    done(cast, ROOT)
    visit = open_visit(cast)
    paper = Paper(signed_in(cast.clinician), visit)
    squat = held(paper, "pelvic_drop_lateral_heel_touch")
    assert SENTENCE in squat.replace("&#x27;", "'")
    assert squat.count("held: open to log") >= 1
    assert "held" not in held(paper, "knee_extension")
    paper.type({"v:pelvic_drop_lateral_heel_touch:right": "slight"}).save()
    again = held(Paper(signed_in(cast.clinician), visit), "pelvic_drop_lateral_heel_touch")
    assert 'class="right cell typed-grade held"' in again
    confirm(cast, {"answer": "none"})
    free = held(Paper(signed_in(cast.clinician), visit), "pelvic_drop_lateral_heel_touch")
    assert ("held: open to log" in free, ' held"' in free, "held-line" in free) == (False,) * 3


def test_a_gate_is_set_aside_with_a_reason_that_stays_beside_it(cast):
    week_15(cast)
    care.Surgery.objects.update(date=TODAY - timedelta(weeks=10))
    was = judged(cast, "running")
    assert (was.state, was.earliest) == (MilestoneState.BEFORE_EARLIEST_DATE, TODAY + timedelta(14))
    client = signed_in(cast.clinician)
    page = f"/episodes/{cast.episode.uid}/milestones/running"
    assert "Set the earliest date aside" in words_of(client.get(page))
    form = {"reason": "Agreed with Mr Pryce after the scan", "seen": 1}
    for wrong in ({"reason": " "}, {"reason": None}):
        assert list(errors_of(client.post(f"{page}/aside", posted(form, wrong)))) == ["reason"]
    assert client.post(f"{page}/aside", posted(form))["Location"] == page
    row = Restriction.objects.get()
    assert (row.kind, row.origin, row.milestone, row.since) == (
        "set_aside", "clinician", "running", TODAY,
    )  # fmt: skip
    assert AuditEntry.objects.get(act="set_gate_aside").subject_ids == [row.pk]
    assert judged(cast, "running").state is MilestoneState.CRITERIA_MISSING
    said = "set aside on 25 Nov 2026 by Tess Okafor: Agreed with Mr Pryce after the scan"
    for where in (page, f"/patients/{cast.ines.uid}/"):
        assert f"Not before week 12 (9 Dec); {said}" in words_of(client.get(where))
    assert "Set the earliest date aside" not in words_of(client.get(page))
    assert client.post(f"{page}/aside", posted(form, seen=2)).status_code == 422
    assert signed_in(cast.lead).post(f"{page}/aside", posted(form, seen=2)).status_code == 403
    assert Restriction.objects.count() == 1


def test_a_gate_that_was_set_aside_counts_again_once_that_is_taken_back(cast):
    week_15(cast)
    care.Surgery.objects.update(date=TODAY - timedelta(weeks=10))
    client = signed_in(cast.clinician)
    page = f"/episodes/{cast.episode.uid}/milestones/running"
    form = {"reason": "The knee swelled", "seen": 1}
    assert list(errors_of(client.post(f"{page}/aside/back", posted(form)))) == ["__all__"]
    aside = set_aside(cast, milestone="running", since=TODAY - timedelta(days=3))
    assert judged(cast, "running").state is MilestoneState.CRITERIA_MISSING
    assert "Let the earliest date count again" in words_of(client.get(page))
    assert client.post(f"{page}/aside/back", posted(form))["Location"] == page
    row = Restriction.objects.get(supersedes=aside)
    assert (row.kind, row.origin, row.milestone, row.since, row.limit) == (
        "taken_back", "clinician", "running", TODAY, "The knee swelled",
    )  # fmt: skip
    assert AuditEntry.objects.get(act="take_back_gate").subject_ids == [row.pk]
    kept_state = {
        one["code"]: one["state"] for one in EpisodeStatus.objects.get().body["milestones"]
    }
    assert kept_state["running"] == "before_earliest_date"
    assert (judged(cast, "running").aside, Restriction.objects.count()) == (None, 2)
    said = words_of(client.get(page))
    assert (
        "Earliest date set aside on 22 Nov 2026 by Tess Okafor: agreed on the phone; taken back on "
        "25 Nov 2026 by Tess Okafor: The knee swelled." in said
    )
    assert "Set the earliest date aside" in said
    assert client.post(f"{page}/aside", posted(form, seen=2)).status_code == 302
    assert judged(cast, "running").state is MilestoneState.CRITERIA_MISSING


@pytest.mark.parametrize(
    ("operated", "milestone"),
    [(TODAY - timedelta(weeks=12), "running"), (None, "running")],
)
def test_there_is_no_gate_to_set_aside_once_it_is_reached_or_while_none_counts(
    cast, operated, milestone
):
    care.Surgery.objects.update(date=operated, date_asked_on=TODAY)
    page = f"/episodes/{cast.episode.uid}/milestones/{milestone}/aside"
    form = posted({"reason": "x", "seen": 1})
    answer = signed_in(cast.clinician).post(page, form)
    assert (answer.status_code, list(errors_of(answer))) == (422, ["__all__"])
    assert not Restriction.objects.exists()


def test_an_unconfirmed_procedure_stays_held_whatever_is_set_aside(cast):
    week_15(cast)
    done(cast, ROOT)
    set_aside(cast, milestone="step_down_work")
    assert judged(cast, "step_down_work").state is MilestoneState.BLOCKED


@pytest.mark.parametrize(("days", "soon"), [(7, True), (8, False), (0, True)])
def test_a_limit_that_ends_within_a_week_says_so_on_patient_page_and_visit(cast, days, soon):
    limit(cast, until=TODAY + timedelta(days=days))
    client = signed_in(cast.clinician)
    for page in (f"/patients/{cast.ines.uid}/", f"/visits/{open_visit(cast).uid}/"):
        said = words_of(client.get(page))
        assert "impact, no impact" in said
        assert ("Ends within a week: ask what follows." in said) is soon
        care.Visit.objects.update(state="missed")


@pytest.mark.parametrize(
    ("own", "on", "said"),
    [
        ({"until": TODAY + timedelta(8)}, TODAY, ""),
        ({"until": TODAY + timedelta(7)}, TODAY, "ends on 2 Dec"),
        ({"until": TODAY - timedelta(1)}, TODAY, "ended on 24 Nov"),
        ({"until": TODAY - timedelta(1), "limit": "no turns"}, TODAY, ""),
        ({"until": TODAY - timedelta(1), "kind": "impact"}, TODAY, ""),
        ({"until": None}, TODAY, ""),
        ({"until": TODAY - timedelta(1)}, date(2026, 12, 9), "ended on 24 Nov"),
        ({"until": TODAY - timedelta(1)}, date(2026, 12, 10), ""),
        ({"until": date(2026, 12, 9)}, TODAY, ""),
    ],
)
def test_a_usual_limit_that_the_surgeons_own_replaced_and_outlived_says_so(cast, own, on, said):
    """From a week before the surgeon's own limit ends, until the usual one would have ended."""
    usual = {"origin": "template", "procedure": LATERAL, "told_on": OPERATED, "kind": "pivoting"}
    limit(cast, **usual, limit="no turns")
    limit(cast, **{"kind": "pivoting", "limit": "half turns", "since": OPERATED, **own})
    found = limits(episode_ids=[cast.episode.pk])[cast.episode.pk]
    knee = knee_words(
        episode=cast.episode, knees=frozenset({Limb.RIGHT}), limits=found, to_confirm=[], on=on
    )
    assert knee.lapsed == (
        (
            "pivoting, no turns, usually until 9 Dec: the surgeon’s own limit took its place and "
            f"{said}",
        )
        if said
        else ()
    )
    if on == TODAY:
        page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
        assert ("does not come back by itself: ask what follows." in page) is bool(said)


def test_what_was_set_aside_stays_to_be_read_where_the_limit_was_shown(cast):
    usual = limit(
        cast, origin="template", procedure=LATERAL, told_on=OPERATED, kind="pivoting",
        limit="no turns",
    )  # fmt: skip
    set_aside(cast, supersedes=usual)
    client = signed_in(cast.clinician)
    said = "pivoting, no turns: set aside on 25 Nov 2026 by Tess Okafor: agreed on the phone."
    for page in (f"/patients/{cast.ines.uid}/", f"/visits/{open_visit(cast).uid}/"):
        assert said in words_of(client.get(page))
    assert not judged(cast, "competition").blocked_by


def test_entries_of_a_held_test_are_signed_like_any_other(cast):
    done(cast, ROOT)
    Paper(signed_in(cast.clinician), open_visit(cast)).type(FULL).sign()
    found = Reading.objects.filter(measure="standing_hip_hold", limb="right")
    assert found.count() == 1
