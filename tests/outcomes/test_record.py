"""From rows to what the core judges: nothing withdrawn, nothing superseded, one count of weeks."""

from datetime import date
from decimal import Decimal

import pytest

from clinic.models import care
from outcomes.core.values import EpisodeFacts, Limb, Reading, ReadingStatus, Restriction, VisitFacts
from outcomes.queries.attendance import NOT_KNOWN, WITHOUT_LIMITS, visit_facts_of
from outcomes.queries.events import events_of
from outcomes.queries.record import episode_facts, limited_of, readings_of
from tests.cast import MOMENT, TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory, VisitFactory
from tests.factories.outcomes import ReadingFactory, both_limbs, signed_visit


def visit(cast, on=date(2026, 11, 4)):
    return signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)


def facts(episode: care.Episode) -> EpisodeFacts:
    fresh = care.Episode.objects.get(pk=episode.pk)
    return episode_facts(episodes=[fresh], events=events_of(episodes=[fresh]))[episode.pk]


def test_a_reading_carries_everything_the_core_judges(cast):
    row = ReadingFactory(
        visit=visit(cast), measure="pelvic_drop_lateral_heel_touch", value=Decimal(2),
        details={"when": "only_at_depth", "kept_level_by": "upright"},
    )  # fmt: skip
    assert readings_of(patient_ids=[cast.ines.pk]) == {
        cast.ines.pk: [
            Reading(
                measure="pelvic_drop_lateral_heel_touch",
                limb=Limb.RIGHT,
                value=Decimal(2),
                on=date(2026, 11, 4),
                key="step_height=15",
                status=ReadingStatus.MEASURED,
                details={"when": "only_at_depth", "kept_level_by": "upright"},
                ref=row.pk,
                tester=row.recorded_by_id,
            )
        ]
    }


def test_a_correction_counts_instead_and_a_withdrawal_counts_no_more(cast):
    seen = visit(cast)
    wrong, gone = both_limbs(visit=seen, measure="knee_flexion", left=120, right=128)
    corrected = ReadingFactory(
        visit=seen, limb="left", value=Decimal(130), kind="corrected", supersedes=wrong, reason="x"
    )
    ReadingFactory(visit=seen, value=None, kind="withdrawn", supersedes=gone, reason="other knee")
    found = readings_of(patient_ids=[cast.ines.pk])[cast.ines.pk]
    assert [(r.limb, r.value, r.ref) for r in found] == [(Limb.LEFT, Decimal(130), corrected.pk)]


def test_readings_of_many_patients_cost_one_statement(cast, django_assert_num_queries):
    patients = [cast.ines, *PatientFactory.create_batch(2)]
    for patient in patients:
        for on in (date(2026, 10, 1), date(2026, 11, 1)):
            seen = signed_visit(patient=patient, site=cast.harbour, by=cast.clinician, on=on)
            both_limbs(visit=seen, measure="knee_flexion", left=140, right=120)
    with django_assert_num_queries(1):
        found = readings_of(patient_ids=[patient.pk for patient in patients])
    assert [len(found[patient.pk]) for patient in patients] == [4, 4, 4]


@pytest.mark.parametrize(
    ("kind", "state", "expected"),
    [
        ("reconstruction", "performed", date(2026, 8, 12)),
        ("revision", "performed", date(2026, 8, 12)),
        ("reconstruction", "planned", None),
        ("reconstruction", "cancelled", None),
        ("waiting", "planned", None),
        ("without_surgery", "cancelled", date(2026, 7, 1)),
    ],
)
def test_weeks_count_from_the_performed_operation_and_only_without_surgery_from_the_injury(
    cast, kind, state, expected
):
    care.Episode.objects.filter(pk=cast.episode.pk).update(kind=kind)
    care.Surgery.objects.filter(pk=cast.surgery.pk).update(state=state)
    assert facts(cast.episode).index_date == expected


def test_a_reoperation_never_moves_the_index_date(cast):
    SurgeryFactory(
        episode=cast.episode, operation="reoperation", graft="", date=date(2026, 10, 20),
        procedures=["cyclops_removal"], recorded_by=cast.clinician,
    )  # fmt: skip
    assert facts(cast.episode).index_date == date(2026, 8, 12)


def test_a_performed_operation_without_a_date_has_no_index_date(cast):
    care.Surgery.objects.filter(pk=cast.surgery.pk).update(date=None, date_asked_on=TODAY)
    assert facts(cast.episode).index_date is None


def test_facts_of_a_reconstruction(cast):
    assert facts(cast.episode) == EpisodeFacts(
        knee=Limb.RIGHT,
        kind="reconstruction",
        index_date=date(2026, 8, 12),
        graft="hamstring",
        graft_from="same_limb",
        other_limb="healthy",
        sex="female",
        birth_date=date(2001, 5, 3),
        goal="pivoting",
        care_state="active",
        other_knee_followed=False,
    )


def test_a_graft_that_is_not_known_stays_unknown_and_without_surgery_there_is_none(cast):
    care.Surgery.objects.filter(pk=cast.surgery.pk).update(graft="unknown", graft_asked_on=TODAY)
    assert facts(cast.episode).graft == "unknown"
    care.Episode.objects.filter(pk=cast.episode.pk).update(kind="without_surgery")
    assert (facts(cast.episode).graft, facts(cast.episode).graft_from) == ("", "")


def test_both_knees_followed_at_once_know_of_each_other(cast):
    other = EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left")
    assert facts(cast.episode).other_knee_followed
    assert facts(other).other_knee_followed
    assert facts(other).other_limb == "earlier_surgery"
    assert facts(cast.episode).other_limb == "healthy"


def test_an_episode_of_the_same_knee_is_no_other_knee(cast):
    EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="right", care_state="discharged")
    assert not facts(cast.episode).other_knee_followed
    assert facts(cast.episode).other_limb == "healthy"


def test_facts_visits_and_limits_of_many_cost_a_constant_number(cast, django_assert_num_queries):
    more = [EpisodeFactory(site=cast.harbour) for _ in range(3)]
    for episode in more:
        SurgeryFactory(episode=episode, recorded_by=cast.clinician, procedures=["meniscal_repair"])
    care.Surgery.objects.filter(pk=cast.surgery.pk).update(procedures=["meniscal_repair"])
    ids = [cast.episode.pk, *(episode.pk for episode in more)]
    for wanted in (ids[:1], ids):
        episodes = list(care.Episode.objects.filter(pk__in=wanted))
        with django_assert_num_queries(7):
            events = events_of(episodes=episodes)
            assert len(episode_facts(episodes=episodes, events=events)) == len(wanted)
            assert len(visit_facts_of(episodes=episodes, events=events)) == len(wanted)
            assert len(limited_of(episode_ids=wanted)) == len(wanted)


def limit(cast, **more):
    given = {"kind": "loaded_flexion", "limit": "no loaded bend past 90°", "since": TODAY}
    return care.Restriction.objects.create(
        episode=cast.episode, told_by="Mr Aled Pryce, by letter", recorded_by=cast.clinician,
        recorded_at=MOMENT, **{"origin": "surgeon", **given, **more},
    )  # fmt: skip


def test_a_new_instruction_takes_the_place_of_the_old_one_from_its_first_day(cast):
    old = limit(cast, since=date(2026, 8, 12))
    new = limit(cast, limit="to 110°", until=date(2026, 12, 9), supersedes=old)
    limit(cast, kind="none", limit="asked: no further limit")
    found = limited_of(episode_ids=[cast.episode.pk])
    assert {pk: one.restrictions for pk, one in found.items()} == {
        cast.episode.pk: [
            Restriction(
                kind="loaded_flexion", limit="no loaded bend past 90°", since=date(2026, 8, 12),
                until=date(2026, 11, 24), ref=old.pk,
            ),
            Restriction(
                kind="loaded_flexion", limit="to 110°", since=TODAY, until=date(2026, 12, 9),
                ref=new.pk,
            )
        ]
    }  # fmt: skip


def visits(cast) -> VisitFacts:
    fresh = care.Episode.objects.get(pk=cast.episode.pk)
    return visit_facts_of(episodes=[fresh], events=events_of(episodes=[fresh]))[cast.episode.pk]


def test_visits_in_short(cast):
    visit(cast, on=date(2026, 10, 7))
    VisitFactory(patient=cast.ines, site=cast.harbour, date=date(2026, 11, 23))
    VisitFactory(patient=cast.ines, site=cast.harbour, date=TODAY)
    for state in ("missed", "cancelled", "booked"):
        VisitFactory(
            patient=cast.ines, site=cast.harbour, date=date(2026, 12, 2), state=state,
            arrived_at=None, opened_at=None,
        )  # fmt: skip
    assert visits(cast) == VisitFacts(
        last_on=TODAY,
        booked_on=date(2026, 12, 2),
        unsigned_since=date(2026, 11, 23),
        followed_since=date(2026, 7, 20),
    )


@pytest.mark.parametrize(
    ("procedures", "asked", "expected"),
    [
        (["partial_meniscectomy"], None, ()),
        (
            ["meniscal_root_repair", "partial_meniscectomy", "cartilage_procedure"],
            None,
            ("meniscal root repair", "cartilage procedure"),
        ),
        ([], TODAY, (NOT_KNOWN,)),
        ([], None, ()),
    ],
)
def test_limits_are_asked_for_until_the_surgeon_has_given_them(cast, procedures, asked, expected):
    care.Surgery.objects.update(procedures=procedures, procedures_asked_on=asked)
    limit(cast, since=date(2026, 8, 12))
    for code in (*procedures, "not_known"):
        limit(cast, procedure=code, since=date(2026, 8, 11))
    limit(cast, procedure="meniscal_transplant", since=date(2026, 8, 12))
    assert visits(cast).limits_to_confirm == expected
    for number, code in enumerate([*set(procedures) - WITHOUT_LIMITS] or ["not_known"], start=1):
        limit(cast, procedure=code, since=date(2026, 8, 12))
        assert len(visits(cast).limits_to_confirm) == max(len(expected) - number, 0)
    assert visits(cast).limits_to_confirm == ()
