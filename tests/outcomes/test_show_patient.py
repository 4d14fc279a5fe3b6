"""What the patient is shown: their exercise in plain words, their two limbs, and nothing else."""

import re
from decimal import Decimal

import pytest

from outcomes.models.plans import PlanStep
from outcomes.queries.next_steps import gather
from outcomes.queries.plan import progressions
from outcomes.queries.show_patient import NOTHING, for_the_patient
from tests.cast import TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory
from tests.factories.outcomes import PlanStepFactory, both_limbs, signed_visit
from tests.web import signed_in, words_of

GRADE = Decimal(6)
"""School grade 6, about eleven years of age."""
EVERY_LEVEL = [(code, level.code) for code, one in progressions().items() for level in one.levels]


def address(cast, query: str = "") -> str:
    return f"/episodes/{cast.episode.uid}/show-patient{query}"


def syllables(word: str) -> int:
    """Groups of vowels, without a silent e at the end; a number counts as one."""
    found = len(re.findall(r"[aeiouy]+", word.lower()))
    silent = re.search(r"[^aeiouyl]e$|[^dt]ed$", word.lower()) is not None
    return max(found - (silent and found > 1), 1)


def grade_of(text: str) -> float:
    """The Flesch-Kincaid grade: Kincaid, Fishburne, Rogers and Chissom 1975, Research Branch
    Report 8-75, Chief of Naval Technical Training: 0.39 words a sentence + 11.8 syllables a word
    - 15.59 (from memory, unverified)."""
    sentences = [one for one in re.split(r"[.!?]+", text) if one.strip()]
    found = re.findall(r"[A-Za-z]+|\d+", text)
    count = sum(syllables(word) for word in found)
    return 0.39 * len(found) / len(sentences) + 11.8 * count / len(found) - 15.59


def test_the_formula_tells_plain_words_from_others() -> None:
    assert grade_of("The cat sat on the mat. It was glad.") < 2
    assert grade_of(
        "Neuromuscular insufficiency necessitates individualised rehabilitation, notwithstanding "
        "considerable postoperative improvement in symmetrical quadriceps performance."
    ) > 15  # fmt: skip


def stand(cast, progression: str, level: str) -> None:
    """A plan at that level with the dose of the progression."""
    found = progressions()[progression]
    one = next(each for each in found.levels if each.code == level)
    PlanStepFactory(
        episode=cast.episode, progression=progression, level=level, sets=one.dose.sets.least,
        reps=one.dose.reps.least if one.dose.reps else None,
        hold_s=one.dose.hold_s.least if one.dose.hold_s else None,
        days_a_week=one.dose.days_a_week.least, at=one.steps.first if one.steps else None,
    )  # fmt: skip


@pytest.mark.parametrize(("progression", "level"), EVERY_LEVEL)
def test_every_exercise_is_told_so_that_an_eleven_year_old_reads_it(cast, progression, level):
    stand(cast, progression, level)
    shown = for_the_patient(gathered=gather(episode=cast.episode), asked="")
    assert shown is not None
    assert grade_of(shown.text) < GRADE, shown.text


def hold(cast, left, right) -> None:
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)
    both_limbs(visit=visit, measure="standing_hip_hold", left=left, right=right)


def test_the_page_says_why_what_to_feel_how_much_and_when_to_stop(cast):
    hold(cast, 40, 22)
    PlanStepFactory(episode=cast.episode)
    said = words_of(signed_in(cast.clinician).get(address(cast)))
    assert said.partition("Skip to the page ")[2].partition(" Why ")[::2] == (
        "Standing hip hold, hand on the wall How long you hold your hips level: Your right leg "
        "does less than your left leg. Your left leg Your right leg How long you hold your hips "
        "level seconds 40 22 How long you hold your hips level, seconds Your left leg Your right "
        "leg 40 22 Your right leg does less than your left leg. Measured 25 Nov 2026",
        "You learn to feel and use the hip that holds your pelvis level. What you feel The side of "
        "the hip you stand on works. How much Hold for 15 seconds. Do this 3 times. On 3 days a "
        "week. When to stop Stop when you lean, when the free side sinks, or when pain is more "
        "than 2 of 10. Stop and tell us if your knee swells, locks or gives way. Do only what we "
        "have agreed, and keep to what your surgeon told you. Close",
    )


def test_there_is_one_button_and_no_way_to_anything_of_other_patients(cast):
    other = EpisodeFactory(patient=PatientFactory(name="Rollo Finch"), site=cast.harbour)
    PlanStepFactory(episode=other, level="side_plank", answered_by=cast.clinician)
    PlanStepFactory(episode=cast.episode)
    html = signed_in(cast.clinician).get(address(cast)).content.decode()
    body = html.partition("<body")[2]
    assert re.findall(r'<a [^>]*href="([^"]*)"', body) == [
        "#main", f"/episodes/{cast.episode.uid}/next-step",
    ]  # fmt: skip
    assert [tag for tag in ("<nav", "<button", "<form", "<header", "<footer") if tag in body] == []
    assert ("Rollo Finch" in html, "Side plank" in html) == (False, False)


@pytest.mark.parametrize(
    ("left", "right", "said"),
    [
        (40, 40, "Both legs do about the same."),
        (40, 39, "Both legs do about the same."),
        (40, 30, "Your right leg does less than your left leg."),
        (30, 40, "Your right leg does more than your left leg."),
    ],
)
def test_the_two_limbs_are_compared_in_plain_words(cast, left, right, said):
    hold(cast, left, right)
    PlanStepFactory(episode=cast.episode)
    shown = for_the_patient(gathered=gather(episode=cast.episode), asked="")
    assert shown is not None
    assert shown.compared == said


@pytest.mark.parametrize(
    ("left", "right", "said"),
    [
        (0, 2, "Your hips drop more on your right leg."),
        (2, 2, "Both legs do about the same."),
        (2, 1, "Your hips stay more level on your right leg."),
    ],
)
def test_grades_are_said_without_a_number(cast, left, right, said):
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)
    both_limbs(
        visit=visit, measure="pelvic_drop_lateral_heel_touch", left=left, right=right,
        details={"when": "only_at_depth" if right else "none", "kept_level_by": "upright"},
    )  # fmt: skip
    PlanStepFactory(episode=cast.episode)
    shown = for_the_patient(gathered=gather(episode=cast.episode), asked="")
    assert shown is not None
    assert shown.compared == said
    assert shown.ledger is not None
    assert not any(char.isdigit() for char in shown.ledger.rows[0].left)


def test_the_exercise_that_is_asked_for_is_shown_else_the_newest(cast):
    PlanStepFactory(episode=cast.episode)
    stand(cast, "quadriceps_loading", "open_chain_knee_extension")
    client = signed_in(cast.clinician)
    assert "<h1>Knee extension, seated</h1>" in client.get(address(cast)).content.decode()
    asked = client.get(address(cast, "?progression=hip_control")).content.decode()
    assert "<h1>Standing hip hold, hand on the wall</h1>" in asked


def test_without_a_plan_nothing_is_shown_but_that(cast):
    assert not PlanStep.objects.exists()
    assert NOTHING in words_of(signed_in(cast.clinician).get(address(cast)))


@pytest.mark.parametrize(("who", "code"), [("lead", 200), ("desk", 403), ("outsider", 404)])
def test_who_sees_the_record_sees_this(cast, who, code):
    assert signed_in(getattr(cast, who)).get(address(cast)).status_code == code
