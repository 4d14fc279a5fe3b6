"""Measurement errors: whose they are, and that what was computed can be worked out again."""

from decimal import Decimal

import pytest

from outcomes.core.values import Basis, Examiner, Mark
from tests.core.builders import CATALOGUE, sem_of
from tests.core.tables import every_case

R = 2**0.5
M = 1.96 * R
"""An MDC95 over this is the SEM of one value."""


HELD = {"device": "handheld"}
FIXED = {"device": "fixed"}


@every_case(
    ("code", "of", "conditions", "tester", "sem"),
    [
        ("quadriceps_torque", Basis.SYMMETRY, FIXED, Examiner.SAME, "4"),
        ("quadriceps_torque", Basis.SYMMETRY, FIXED, Examiner.DIFFERENT, "4"),
        ("quadriceps_torque", Basis.SYMMETRY, HELD, Examiner.SAME, "11.1"),
        ("quadriceps_torque", Basis.SYMMETRY, HELD, Examiner.DIFFERENT, "13.5"),
        ("quadriceps_torque", Basis.SYMMETRY, {"device": "isokinetic"}, Examiner.SAME, "6.4"),
        ("quadriceps_torque", Basis.SYMMETRY, {"device": "isokinetic"}, Examiner.DIFFERENT, None),
        ("quadriceps_torque", Basis.SYMMETRY, {}, Examiner.SAME, None),
        ("quadriceps_torque", Basis.VALUE, FIXED, Examiner.SAME, None),
        ("hamstring_torque", Basis.SYMMETRY, FIXED, Examiner.SAME, None),
        ("knee_extension", Basis.VALUE, {}, Examiner.SAME, "1.26"),
        ("knee_extension", Basis.VALUE, {}, Examiner.DIFFERENT, None),
        ("knee_extension", Basis.VALUE, {"device": "goniometer"}, Examiner.SAME, "1.26"),
        ("knee_extension", Basis.VALUE, {"device": "goniometer"}, Examiner.DIFFERENT, "3.75"),
        ("reach_anterior", Basis.VALUE, {}, Examiner.SAME, "2.0"),
        ("landing_error_score", Basis.VALUE, {"rating": "film"}, Examiner.SAME, "0.3"),
        ("landing_error_score", Basis.VALUE, {"rating": "film"}, Examiner.DIFFERENT, "0.95"),
        ("landing_error_score", Basis.VALUE, {"rating": "live"}, Examiner.SAME, None),
    ],
)
def test_the_error_of_a_reading_is_that_of_its_conditions_and_testers(
    code, of, conditions, tester, sem
):
    found = CATALOGUE[code].error_of(of=of, conditions=conditions, tester=tester)
    assert (None if found is None else str(found.sem)) == sem


@every_case(
    ("code", "of", "conditions", "tester", "expected"),
    [
        # From a printed MDC95 of one value: over 1.96 times the square root of 2.
        ("knee_extension", "value", {"device": "goniometer"}, Examiner.DIFFERENT, 10.4 / M),
        ("knee_extension", "value", {"device": "inclinometer"}, Examiner.DIFFERENT, 3.7 / M),
        ("knee_extension", "value", {"device": "app"}, Examiner.DIFFERENT, 4.0 / M),
        ("heel_raise", "value", {}, Examiner.SAME, 6.35 / M),
        # From an error in per cent of each leg, carried to an index of 90.
        ("quadriceps_torque", "symmetry", HELD, Examiner.SAME, 90 * 0.241 / M * R),
        ("quadriceps_torque", "symmetry", HELD, Examiner.DIFFERENT, 90 * 0.293 / M * R),
        (
            "quadriceps_rate_of_torque",
            "symmetry",
            {"window": "first_100_ms"},
            None,
            90 * 0.164 * R,
        ),
        ("hip_abduction_force", "symmetry", {"position": "side_lying"}, None, 90 * 0.098 * R),
        ("hip_abduction_force", "symmetry", {"position": "supine"}, None, 90 * 0.0564 * R),
        ("hip_abduction_force", "value", HELD, None, 1.8 * 9.80665),
        # From the error of one leg to that of a difference.
        ("reach_anterior", "difference", {}, Examiner.DIFFERENT, 2.0 * R),
        ("reach_posteromedial", "difference", {}, Examiner.DIFFERENT, 2.7 * R),
        ("reach_posterolateral", "difference", {}, Examiner.DIFFERENT, 3.5 * R),
        ("knee_projection_angle", "difference", {}, None, 4 * R),
    ],
)
def test_each_computed_error_is_worked_out_again(code, of, conditions, tester, expected):
    found = CATALOGUE[code].error_of(
        of=Basis(of), conditions=conditions, tester=tester or Examiner.SAME
    )
    assert found is not None
    assert float(found.sem) == pytest.approx(expected, abs=0.051)


def test_errors_carry_population_method_and_a_mark_that_is_published():
    errors = [error for measure in CATALOGUE.values() for error in measure.errors]
    assert len(errors) == 34
    assert {error.source.mark for error in errors} == {Mark.SEEN, Mark.SECOND_HAND, Mark.COMPUTED}
    assert [error for error in errors if not (error.population and error.method)] == []


def test_computed_errors_follow_from_what_their_method_says():
    root = Decimal(2).sqrt()
    of_one = Decimal("3.5") / (Decimal("1.96") * root)
    assert sem_of("knee_extension", "value") == round(of_one, 2)
    assert sem_of("knee_extension", "difference") == round(of_one * root, 2)
    quadriceps = 90 * Decimal("0.031") * root
    assert Decimal("3.5") < quadriceps < sem_of("quadriceps_torque", "symmetry")
