"""The next step of a patient of whom both knees are followed."""

from dataclasses import replace
from datetime import timedelta

from outcomes.models.plans import PlanStep
from outcomes.models.record import Reading
from tests.cast import TODAY
from tests.factories.clinic import EpisodeFactory, SurgeryFactory
from tests.factories.outcomes import PlanStepFactory, ReadingFactory
from tests.outcomes.planned import good
from tests.outcomes.test_next_step_pages import HOLD, NEXT, SINCE, address, form, post, proposal
from tests.web import signed_in, words_of

ONE_SIDED = ["pain_worst_24h", "pain_front_of_knee", "effusion", "soreness_after_session"]


def test_one_step_up_a_visit_over_both_knees(cast):
    """The left knee could step up as well: its proposal stays, and an older page is refused."""
    good(cast)
    PlanStepFactory(episode=cast.episode, since=SINCE)
    other = EpisodeFactory(
        patient=cast.ines, site=cast.harbour, knee="left", responsible=cast.clinician
    )
    SurgeryFactory(episode=other, recorded_by=cast.clinician)
    for row in Reading.objects.filter(limb="right", measure__in=ONE_SIDED).select_related("visit"):
        ReadingFactory(visit=row.visit, measure=row.measure, limb="left", value=row.value)
    PlanStepFactory(episode=other, since=SINCE - timedelta(days=1))
    left = replace(cast, episode=other)
    first, second = proposal(left), proposal(cast)
    assert (first.move, second.move) == ("progress", "stay")
    assert "one_step_a_visit" in [one["rule"] for one in second.body["reasons_for"]]
    post(left, form(left, "declined:patient"))
    assert proposal(cast).move == "progress"
    seen = form(cast)
    before = PlanStep.objects.get(episode=other, superseded_by__isnull=True)
    PlanStepFactory(episode=other, level=NEXT, since=TODAY, move="progress", supersedes=before)
    assert post(cast, seen).status_code == 409
    held = proposal(cast)
    assert held.move == "stay"
    assert "One step up a visit over all progressions and both knees" in words_of(
        signed_in(cast.clinician).get(address(cast))
    )
    assert post(cast, form(cast)).status_code == 302
    kept = PlanStep.objects.get(episode=cast.episode, superseded_by__isnull=True)
    assert (kept.level, kept.move) == (HOLD, "stay")
