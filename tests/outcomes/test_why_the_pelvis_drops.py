"""The panel of a drop: every explanation with what was found for and against it, none the cause."""

from datetime import timedelta

import pytest

from clinic.models import care
from outcomes.core.drop_explained import MIGHT_BE, NEXT, NO_DIAGNOSIS
from outcomes.queries.drop_words import drops_of
from outcomes.queries.next_steps import gather
from tests.cast import TODAY
from tests.factories.outcomes import both_limbs, signed_visit
from tests.web import signed_in, words_of

LATERAL = "pelvic_drop_lateral_heel_touch"


def seen(cast, left, right, on=TODAY, measure=LATERAL, **details):
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
    told = {"when": "first_movement", "kept_level_by": "upright", **details}
    both_limbs(visit=visit, measure=measure, left=left, right=right, details=told)
    return visit


def drops(cast):
    return drops_of(gathered=gather(episode=care.Episode.objects.get(pk=cast.episode.pk)))


def test_what_the_findings_support_and_speak_against_and_which_test_tells_them_apart(cast):
    visit = seen(cast, 0, 2)
    both_limbs(visit=visit, measure="quadriceps_torque", left=160, right=120)
    both_limbs(visit=visit, measure="standing_hip_hold", left=40, right=32)
    (drop,) = drops(cast)
    assert drop.no_diagnosis == NO_DIAGNOSIS
    assert drop.seen == (
        "Pelvic drop, lateral, step height 15 cm, 25 Nov 2026: Standing on the right, the left "
        "side of the pelvis drops."
    )
    assert [one.might_be for one in drop.explanations] == list(MIGHT_BE.values())
    assert [one.test for one in drop.explanations] == list(NEXT.values())
    hip, thigh, *_ = drop.explanations
    assert [line.said for line in hip.supports] == [
        "The drop begins at the first movement (25 Nov 2026)"
    ]
    assert [line.said for line in hip.against] == [
        "Standing hip hold 32 s, at least 20 (25 Nov 2026)"
    ]
    assert [(line.said, line.opens) for line in thigh.supports] == [
        (
            "Quadriceps 75.0 % of the other side, under 80 (25 Nov 2026)",
            f"/episodes/{cast.episode.uid}/numbers/quadriceps_torque",
        )
    ]
    assert hip.not_known == "hip abduction force on both sides"


def test_the_evidence_against_reading_much_into_it_stands_beside_it(cast):
    seen(cast, 0, 2)
    said = words_of(signed_in(cast.clinician).get(f"/episodes/{cast.episode.uid}/next-step"))
    assert "A drop is a sign to follow up, not a diagnosis." in said
    assert (
        "Against it: a nerve block that cut hip abductor force changed neither drop nor trunk lean "
        "in walking (n = 8, PMC4560003): read in the source" in said
    )


@pytest.mark.parametrize(
    ("left", "right", "kept", "count"),
    [(0, 0, "upright", 0), (0, 0, "trunk_leans", 1), (2, 0, "upright", 0), (2, 2, "upright", 1)],
)
def test_only_a_drop_of_the_followed_knee_or_a_trick_is_explained(cast, left, right, kept, count):
    seen(cast, left, right, kept_level_by=kept)
    assert len(drops(cast)) == count


def test_a_drop_that_is_out_of_date_is_not_explained(cast):
    seen(cast, 0, 3, on=TODAY - timedelta(days=90))
    assert drops(cast) == []
