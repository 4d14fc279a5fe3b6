"""Status today: the kept row is a fresh judgement, on any day, whatever happened before."""

import json
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic import clock
from clinic.models import care
from clinic.services import acts
from outcomes.core.events import BY_CODE
from outcomes.core.values import Fallback, MilestoneState, Reference
from outcomes.models.record import LookAnswer, RedFlagCheck
from outcomes.models.status import EpisodeStatus
from outcomes.queries.catalogue import in_force
from outcomes.queries.judging import judge_record, records_of
from outcomes.queries.kept import Kept, from_json, to_json
from outcomes.services.status import reasons, rebuild, rejudge_due
from tests.cast import TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory, VisitFactory
from tests.factories.outcomes import (
    EventFactory,
    ReadingFactory,
    both_limbs,
    keyed,
    signed_visit,
)
from tests.outcomes.story import limit, set_aside
from tests.web import signed_in, words_of

INDEX = date(2026, 8, 12)


def at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def sign(cast, on, *values, patient=None):
    visit = signed_visit(
        patient=patient or cast.ines, site=cast.harbour, by=cast.clinician, on=on
    )  # fmt: skip
    for measure, left, right in values:
        both_limbs(visit=visit, measure=measure, left=left, right=right)
    return visit


def fresh(episode: care.Episode, *, on: date) -> Kept:
    episode = care.Episode.objects.get(pk=episode.pk)
    record = records_of(episodes=[episode], rules=in_force())[episode.pk]
    return Kept(facts=record.facts, status=judge_record(record=record, rules=in_force(), on=on))


def kept(episode: care.Episode) -> Kept:
    rules = in_force()
    body = EpisodeStatus.objects.get(episode=episode).body
    return from_json(body=body, measures=rules.measures, protocol=rules.protocols[episode.protocol])


# What may happen on a day, as data: nothing, a visit with some values, a limit, a red flag,
# another goal.
LIMB = st.sampled_from(["left", "right"])
VALUES = st.one_of(
    st.tuples(st.just("quadriceps_torque"), st.integers(40, 200), st.integers(40, 200)),
    st.tuples(st.just("knee_extension"), st.integers(-3, 3), st.integers(-3, 12)),
    st.tuples(st.just("knee_flexion"), st.integers(110, 150), st.integers(70, 150)),
    st.tuples(st.just("standing_hip_hold"), st.integers(10, 45), st.integers(10, 45)),
    st.tuples(st.just("effusion"), st.none(), st.integers(0, 4)),
    st.tuples(st.just("pain_front_of_knee"), st.none(), st.integers(0, 10)),
    st.tuples(st.just("single_hop"), st.integers(60, 180), st.integers(60, 180)),
)
EVENTS = st.one_of(
    st.just(("nothing",)),
    st.tuples(st.just("visit"), st.lists(VALUES, max_size=3, unique_by=lambda v: v[0])),
    st.tuples(st.just("limit"), st.integers(0, 40)),
    st.tuples(st.just("aside"), st.sampled_from(["running", "competition"])),
    st.tuples(st.just("procedure"), st.sampled_from(["meniscal_repair", "lateral_procedure"])),
    st.tuples(st.just("confirmed"), st.sampled_from(["meniscal_repair", "lateral_procedure"])),
    st.tuples(st.just("flag"), st.sampled_from(["calf", "giving_way"]), st.booleans()),
    st.tuples(st.just("event"), st.sampled_from(sorted(BY_CODE))),
    st.tuples(st.just("goal"), st.sampled_from(["pivoting", "straight_line", "no_sport"])),
    st.tuples(st.just("form"), st.sampled_from(["left", "right"]), st.integers(0, 10)),
)
PROTOCOLS = st.sampled_from(["starter@2", "composite@1", "without_surgery@1"])
GRAFT_FROM = st.sampled_from(["same_limb", "other_limb"])
STORY = st.lists(st.tuples(st.integers(0, 60), EVENTS), min_size=1, max_size=4)


def happen(cast, episode, event, on: date) -> None:
    match event:
        case ("visit", values):
            sign(cast, on, *values, patient=episode.patient)
        case ("limit", days):
            care.Restriction.objects.create(
                episode=episode, kind="impact", limit="no impact", since=on,
                until=on + timedelta(days=days), origin="surgeon", told_by="letter",
                recorded_by=cast.clinician, recorded_at=at(on),
            )  # fmt: skip
        case ("aside", milestone):
            set_aside(cast, episode=episode, milestone=milestone, since=on)
        case ("procedure", code):
            care.Surgery.objects.filter(episode=episode).update(procedures=[code])
        case ("confirmed", code):
            limit(cast, episode=episode, procedure=code, since=on, until=on + timedelta(days=9))
        case ("flag", code, yes):
            visit = VisitFactory(patient=episode.patient, site=cast.harbour, date=on, state="open")
            RedFlagCheck.objects.create(
                visit=visit, form="eight", answers={code: yes}, recorded_at=at(on),
                recorded_by=cast.clinician,
            )  # fmt: skip
            care.Visit.objects.filter(pk=visit.pk).update(state="missed")
        case ("event", code):
            EventFactory(episode=episode, event=code, date=on, recorded_by=cast.clinician)
        case ("form", limb, mark):
            given = dict.fromkeys(map(str, range(1, 13)), str(10 * mark))
            keyed(visit=sign(cast, on, patient=episode.patient), instrument="acl_rsi",
                  answers=given, limb=limb)  # fmt: skip
        case ("goal", goal):
            care.Episode.objects.filter(pk=episode.pk).update(goal=goal)
        case _:
            return
    acts.bump(care.Episode.objects.get(pk=episode.pk))


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(story=STORY, later=st.integers(0, 90), protocol=PROTOCOLS, graft=GRAFT_FROM)
def test_law_the_kept_row_is_a_fresh_judgement_on_random_days(cast, story, later, protocol, graft):
    patient = PatientFactory()
    episode = EpisodeFactory(patient=patient, site=cast.harbour, protocol=protocol)
    SurgeryFactory(episode=episode, date=INDEX, recorded_by=cast.clinician, graft_from=graft)
    day = INDEX + timedelta(weeks=8)
    for days, event in story:
        day += timedelta(days=days)
        happen(cast, episode, event, day)
        with clock.held_at(at(day)):
            rejudge_due(site_ids=[cast.harbour.pk])
        assert kept(episode).facts == fresh(episode, on=day).facts
        assert kept(episode).status.kept == fresh(episode, on=day).status.kept
    day += timedelta(days=later)
    with clock.held_at(at(day)):
        rejudge_due(site_ids=[cast.harbour.pk])
    assert kept(episode).status.kept == fresh(episode, on=day).status.kept


def test_what_is_kept_survives_json_exactly(cast):
    sign(cast, date(2026, 10, 14), ("quadriceps_torque", "158.3", "97.1"), ("effusion", None, 1))
    visit = sign(
        cast, date(2026, 11, 18), ("quadriceps_torque", "157", "121"), ("knee_extension", 0, 1)
    )
    ReadingFactory(visit=visit, measure="single_hop", value=None, status="declined")
    ReadingFactory(visit=visit, measure="body_mass", limb="none", value=Decimal("62.5"))
    care.Surgery.objects.update(procedures=["meniscal_root_repair"])
    set_aside(cast, milestone="competition", limit="a trial under the surgeon's eyes")
    made = fresh(cast.episode, on=TODAY)
    assert made.status.reasons
    assert [one.aside is not None for one in made.status.milestones] == [False] * 3 + [True]
    assert made.status.milestones[0].unconfirmed == ("meniscal root repair",)
    text = json.dumps(to_json(kept=made))
    rules = in_force()
    again = from_json(
        body=json.loads(text), measures=rules.measures, protocol=rules.protocols["starter@2"]
    )
    assert again == made


def test_columns_of_the_row(cast):
    sign(cast, date(2026, 9, 16), ("quadriceps_torque", 150, 90))
    sign(cast, date(2026, 11, 18), ("quadriceps_torque", 21, "18.89999"), ("single_hop", 140, None))
    rebuild(episode_ids=[cast.episode.pk])
    row = EpisodeStatus.objects.get()
    assert (row.quadriceps_lsi, row.quadriceps_on, row.quadriceps_until, row.quadriceps_why) == (
        Decimal("89.9999"), date(2026, 11, 18), date(2026, 12, 30), "",
    )  # fmt: skip
    assert (row.hop_lsi, row.hop_on, row.hop_until, row.hop_why) == (
        None, date(2026, 11, 18), None, "involved_not_tested",
    )  # fmt: skip
    assert (row.graft, row.graft_from, row.index_date) == ("hamstring", "same_limb", INDEX)
    assert (row.judged_on, row.episode_version, row.last_visit) == (TODAY, 1, date(2026, 11, 18))
    assert row.next_milestone == "step_down_work"
    assert (row.criteria_met, row.criteria_untested, row.criteria_all) == (0, 4, 4)
    assert (row.look_rank, row.looks, row.look_sentence) == (0, 0, "")
    assert row.rules_version == in_force().rules["starter@2"]


def test_the_first_reason_without_an_answer_is_the_sentence_of_the_row(cast):
    sign(cast, date(2026, 11, 11), ("knee_extension", 0, 6), ("effusion", None, 3))
    rebuild(episode_ids=[cast.episode.pk])
    row = EpisodeStatus.objects.get()
    found = reasons(episode_id=cast.episode.pk, today=TODAY)
    assert [reason.code for reason in found] == ["extension_short_letter", "effusion_regress"]
    assert (row.look_rank, row.looks) == (found[0].rank, 2)
    assert row.look_sentence.startswith("Extension 6° short at week 13")
    LookAnswer.objects.create(
        episode=cast.episode, code=found[0].code, size=found[0].size, plan="letter written",
        look_again_on=date(2026, 12, 1), answered_at=at(TODAY), answered_by=cast.clinician,
    )  # fmt: skip
    rebuild(episode_ids=[cast.episode.pk])
    row = EpisodeStatus.objects.get()
    assert (row.look_rank, row.looks) == (found[1].rank, 1)
    assert row.look_sentence.startswith("Effusion 2+")
    assert row.next_change_on == date(2026, 11, 26)
    with clock.held_at(at(date(2026, 12, 1))):
        assert rejudge_due(site_ids=[cast.harbour.pk]) == 1
    assert EpisodeStatus.objects.get().looks == 2


@pytest.mark.parametrize(
    "change",
    [
        lambda row: EpisodeStatus.objects.filter(pk=row.pk).delete(),
        lambda row: EpisodeStatus.objects.filter(pk=row.pk).update(next_change_on=TODAY),
        lambda row: EpisodeStatus.objects.filter(pk=row.pk).update(rules_version="older"),
        lambda row: EpisodeStatus.objects.filter(pk=row.pk).update(judged_on=date(2026, 11, 26)),
        lambda row: care.Episode.objects.filter(pk=row.episode_id).update(version=2),
    ],
)
def test_what_is_due_is_judged_again_once(cast, change):
    elsewhere = EpisodeFactory(site=cast.millbank)
    assert rejudge_due(site_ids=[cast.harbour.pk]) == 1
    assert rejudge_due(site_ids=[cast.harbour.pk]) == 0
    change(EpisodeStatus.objects.get())
    assert rejudge_due(site_ids=[cast.harbour.pk]) == 1
    assert rejudge_due(site_ids=[cast.harbour.pk]) == 0
    assert not EpisodeStatus.objects.filter(episode=elsewhere).exists()


def test_each_site_is_judged_on_its_own_local_day(cast):
    cast.millbank.zone = "Pacific/Kiritimati"
    cast.millbank.save()
    far = EpisodeFactory(site=cast.millbank)
    with clock.held_at(datetime(2026, 11, 25, 11, 0, tzinfo=UTC)):
        assert rejudge_due(site_ids=[cast.harbour.pk, cast.millbank.pk]) == 2
        assert rejudge_due(site_ids=[cast.harbour.pk, cast.millbank.pk]) == 0
    assert EpisodeStatus.objects.get(episode=far).judged_on == date(2026, 11, 26)
    assert EpisodeStatus.objects.get(episode=cast.episode).judged_on == date(2026, 11, 25)


@pytest.mark.django_db
def test_the_whole_judgement_is_the_last_column_so_that_lists_need_not_read_past_it():
    """SQLite reads a row from its beginning (sqlite.org/fileformat2.html, section 2.1)."""
    with connection.cursor() as cursor:
        columns = connection.introspection.get_table_description(
            cursor, EpisodeStatus._meta.db_table
        )
    assert columns[-1].name == "body"


@pytest.mark.parametrize("count", [1, 12])
def test_judging_again_costs_the_same_for_one_and_for_many(cast, django_assert_num_queries, count):
    for number in range(count - 1):
        episode = EpisodeFactory(site=cast.harbour)
        SurgeryFactory(episode=episode, recorded_by=cast.clinician)
        for week in range(number % 3):
            on = INDEX + timedelta(weeks=10 + week)
            sign(cast, on, ("quadriceps_torque", 150, 120), patient=episode.patient)
    with django_assert_num_queries(18):
        assert rejudge_due(site_ids=[cast.harbour.pk]) == count
    with django_assert_num_queries(3):
        assert rejudge_due(site_ids=[cast.harbour.pk]) == 0


def test_milestones_end_at_the_goal_and_unknown_grafts_wait_longest(cast):
    care.Surgery.objects.update(graft="unknown", graft_asked_on=TODAY)
    last = fresh(cast.episode, on=TODAY).status.milestones[-1]
    assert (last.milestone.code, last.earliest) == ("competition", date(2027, 8, 12))
    assert last.state is MilestoneState.BEFORE_EARLIEST_DATE
    care.Episode.objects.update(goal="no_sport")
    codes = [m.milestone.code for m in fresh(cast.episode, on=TODAY).status.milestones]
    assert codes == ["step_down_work"]


def test_a_note_is_shown_with_the_patient_but_calls_for_no_look(cast):
    sign(cast, TODAY - timedelta(days=4), ("effusion", None, 0))
    sign(cast, TODAY, ("effusion", None, 1))
    rebuild(episode_ids=[cast.episode.pk])
    row = EpisodeStatus.objects.get(episode=cast.episode)
    assert [r.code for r in kept(cast.episode).status.reasons] == ["effusion_note"]
    assert (row.look_rank, row.look_sentence, row.looks) == (0, "", 0)
    sign(cast, TODAY + timedelta(days=1), ("effusion", None, 3))
    with clock.held_at(at(TODAY + timedelta(days=1))):
        rebuild(episode_ids=[cast.episode.pk])
    row.refresh_from_db()
    assert (row.look_rank, row.looks) == (66, 1)


def advisory(cast, code):
    """The criteria of a score in the kept row: result, value and day of each."""
    rejudge_due(site_ids=[cast.harbour.pk])
    return [
        (found.result.value, found.value, found.on)
        for milestone in kept(care.Episode.objects.get(pk=cast.episode.pk)).status.milestones
        for found in milestone.criteria
        if found.criterion.measure == code
    ]


def test_a_criterion_of_a_score_is_judged_on_the_forms_of_this_knee_alone(cast):
    care.Episode.objects.filter(pk=cast.episode.pk).update(protocol="composite@1", version=99)
    assert advisory(cast, "acl_rsi.total") == [("not_tested", None, None)] * 2
    visit = sign(cast, TODAY)
    for limb, mark in (("left", "90"), ("right", "60")):
        keyed(visit=visit, instrument="acl_rsi", limb=limb,
              answers=dict.fromkeys(map(str, range(1, 13)), mark))  # fmt: skip
    care.Episode.objects.filter(pk=cast.episode.pk).update(version=100)
    assert advisory(cast, "acl_rsi.total") == [("met", Fraction(60), TODAY)] * 2


def test_scores_are_asked_of_the_database_only_where_the_protocol_asks_for_one(
    cast, django_assert_num_queries
):
    rules = in_force()
    for protocol, statements in (("starter@2", 10), ("composite@1", 11)):
        care.Episode.objects.filter(pk=cast.episode.pk).update(protocol=protocol)
        episode = care.Episode.objects.get(pk=cast.episode.pk)
        with django_assert_num_queries(statements):
            records_of(episodes=[episode], rules=rules)


def test_what_stands_in_for_an_unfair_other_side_is_kept_and_said(cast):
    sign(cast, INDEX - timedelta(days=9), ("quadriceps_torque", 160, 120))
    sign(cast, TODAY, ("quadriceps_torque", 130, 112))
    care.Surgery.objects.filter(pk=cast.surgery.pk).update(graft_from="other_limb")
    acts.bump(cast.episode)
    rejudge_due(site_ids=[cast.harbour.pk])
    rows = [
        found
        for milestone in kept(cast.episode).status.milestones
        for found in milestone.criteria
        if found.criterion.measure == "quadriceps_torque" and found.instead is not None
    ]
    before = Fallback(reference=Reference.OTHER_BEFORE_SURGERY, value=Fraction(70), unit="%")
    assert [row.instead for row in rows] == [before] * len(rows) != []
    said = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert "Instead: the other side before surgery 70 %." in said
