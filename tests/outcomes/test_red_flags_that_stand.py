"""Which red flags stand: the newest answer to each question; not asked is not no."""

from datetime import date

import pytest

from outcomes.core.values import RedFlag, Tier
from outcomes.models.record import RedFlagCheck
from outcomes.queries.red_flags import Check, red_flags_of, standing
from tests.cast import MOMENT
from tests.factories.clinic import EpisodeFactory, VisitFactory

MONDAY, TUESDAY = date(2026, 11, 23), date(2026, 11, 24)


def check(on, **answers):
    return Check(patient_id=1, on=on, ref=on.day, answers=answers)


@pytest.mark.parametrize(
    ("checks", "expected"),
    [
        ([check(MONDAY, calf=True), check(TUESDAY)], [("calf", MONDAY)]),
        ([check(MONDAY, calf=True), check(TUESDAY, locking=True)],
         [("calf", MONDAY), ("locking", TUESDAY)]),
        ([check(MONDAY, calf=True), check(TUESDAY, calf=False)], []),
        ([check(MONDAY, calf=True), check(TUESDAY, calf=True)], [("calf", TUESDAY)]),
        ([check(MONDAY, pop=True), check(TUESDAY, short_pop=False)], []),
        ([check(MONDAY, pop=False, giving_way=False), check(TUESDAY, short_pop=True)],
         [("short_pop", TUESDAY)]),
        ([check(MONDAY, short_pop=True), check(TUESDAY, pop=False, giving_way=True)],
         [("giving_way", TUESDAY)]),
    ],
)  # fmt: skip
def test_the_newest_answer_to_each_question_counts(checks, expected):
    assert sorted((flag.code, flag.on) for flag in standing(checks=checks)) == expected


def test_flags_belong_to_the_patient_from_the_day_the_episode_was_opened(
    cast, django_assert_num_queries
):
    later = EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left", opened_on=TUESDAY)
    visit = VisitFactory(patient=cast.ines, site=cast.harbour, date=MONDAY)
    row = RedFlagCheck.objects.create(
        visit=visit, form="eight", answers={"calf": True, "chest": False}, recorded_at=MOMENT,
        recorded_by=cast.clinician,
    )  # fmt: skip
    with django_assert_num_queries(1):
        found = red_flags_of(episodes=[cast.episode, later])
    flag = RedFlag(code="calf", tier=Tier.TODAY, on=MONDAY, ref=row.pk)
    assert found == {cast.episode.pk: [flag], later.pk: []}
