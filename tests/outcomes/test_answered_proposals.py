"""How proposals were answered, for the lead: each share as a count of all, and why declined."""

from datetime import timedelta

import pytest

from tests.cast import TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory
from tests.factories.outcomes import PlanStepFactory
from tests.outcomes.followed import cells, seen
from tests.web import signed_in, words_of

PAIN, JUDGED = "Pain, swelling or tiredness today: 1", "Judged otherwise by the clinician: 1"
ADDRESS = "/caseload/proposals"


def answered(cast, answer, *, code="hip_control", reason="", site=None):
    episode = EpisodeFactory(
        patient=PatientFactory(), site=site or cast.harbour, responsible=cast.clinician
    )
    return PlanStepFactory(
        episode=episode, progression=code, answer=answer, decline_reason=reason, move="stay",
        proposed={"headline": "Stay"}, proposed_sha256="0" * 64, since=TODAY - timedelta(days=1),
    )  # fmt: skip


def test_shares_have_their_counts_by_progression_and_reason(cast):
    for answer in ("accepted", "accepted", "changed"):
        answered(cast, answer)
    answered(cast, "declined", reason="symptoms")
    answered(cast, "declined", reason="judged", code="landing")
    PlanStepFactory(episode=cast.episode)
    answered(cast, "declined", reason="quality", site=cast.millbank)
    page = signed_in(cast.lead).get(ADDRESS)
    assert cells(page) == [
        ["Hip control", "1 of 4", "2", "1", PAIN],
        ["Landing and hopping", "1 of 1", "0", "0", JUDGED],
        ["All together", "2 of 5", "2", "1", f"{PAIN} {JUDGED}"],
    ]
    assert "Millbank" not in words_of(page)
    assert seen() == [[cast.harbour.pk]]


def test_counts_are_of_a_period_and_of_twelve_weeks_where_nobody_asks(cast):
    """Both days are included; what is no period is refused and counts nothing."""
    for days in (0, 84, 85):
        episode = answered(cast, "accepted").episode
        PlanStepFactory(
            episode=episode, progression="landing", answer="accepted", move="stay",
            since=TODAY - timedelta(days), proposed={"headline": "Stay"}, proposed_sha256="0" * 64,
        )  # fmt: skip
    client = signed_in(cast.lead)

    def landing(asked=""):
        page = client.get(ADDRESS + asked)
        rows = {row[0]: row[2] for row in cells(page)}
        return page.status_code, rows.get("Landing and hopping")

    assert [
        landing(),
        landing("?from=2026-09-01"),
        landing("?to=2026-11-24"),
        landing("?from=2026-09-02&to=2026-09-02"),
        landing("?from=2026-09-03&to=2026-11-24"),
        landing("?from=2026-09-03&to=2026-09-02"),
        landing("?from=soon"),
    ] == [(200, "2"), (200, "3"), (200, "2"), (200, "1"), (200, None), (422, None), (422, None)]
    assert "Answered from 2 Sep 2026 to 25 Nov 2026, both" in words_of(client.get(ADDRESS))


def test_each_site_of_the_person_is_told_apart(cast):
    answered(cast, "declined", reason="quality", site=cast.millbank)
    page = signed_in(cast.outsider).get(ADDRESS)
    assert cells(page) == [
        ["Hip control", "1 of 1", "0", "0", "The movement is not good enough yet: 1"]
    ]
    assert "Harbour Street" not in words_of(page).partition("Proposals and answers")[2]
    assert "No proposal was answered in this period." in words_of(signed_in(cast.lead).get(ADDRESS))


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    for _ in range(count):
        answered(cast, "accepted")
    client = signed_in(cast.lead)
    with django_assert_num_queries(5):
        assert client.get(ADDRESS).status_code == 200
