"""The beam tips toward the limb that lags, whichever way the measure runs."""

from decimal import Decimal

import pytest

from outcomes.core.symmetry import symmetry
from outcomes.core.values import Symmetry
from outcomes.queries.beams import beam_of
from tests.core.builders import CATALOGUE, L, R, after, both, newest


@pytest.mark.parametrize(
    ("code", "left", "right", "way"),
    [
        ("knee_flexion", "120", "140", -1),
        ("knee_flexion", "140", "120", 1),
        ("thigh_girth", "48.5", "51", -1),
        ("knee_extension", "8", "0", -1),
        ("anterior_laxity", "6", "9.5", 1),
        ("pelvic_drop_angle", "5", "1.5", -1),
        ("knee_projection_angle", "-2", "8.5", 1),
        ("knee_projection_angle", "-8.5", "2", -1),
        ("knee_projection_angle", "-4", "4", 0),
    ],
)
@pytest.mark.parametrize("involved", [L, R])
def test_the_beam_tips_toward_the_limb_that_lags(code, left, right, way, involved):
    measure = CATALOGUE[code]
    pair = newest(measure, both(code, left, right, after(weeks=20), key=""))
    found = symmetry(measure=measure, pair=pair, involved=involved, other_limb_fair=True)
    assert isinstance(found, Symmetry)
    beam = beam_of(measure=measure, symmetry=found, involved=involved, title="")
    assert beam.tilt is not None
    assert (beam.tilt > 0) - (beam.tilt < 0) == way
    assert abs(Decimal(beam.tilt)) <= 1
