"""Values relative to the body, against worked examples, with the newest measurement of it."""

from datetime import timedelta
from decimal import Decimal

import pytest

from outcomes.core.quantities import TypedError
from outcomes.core.relative import body_for, relative_value
from outcomes.core.values import ReadingStatus, Relative
from tests.core.builders import CATALOGUE, NONE, L, R, after, both, reading
from tests.core.tables import every_case

DAY = after(weeks=20)


@every_case(
    ("relative", "value", "body", "shown"),
    [
        # Made up and exact; per cent of body weight with 9.80665 m/s2 gives 29.93, not 29.92.
        (Relative.BODY_WEIGHT, "182", "62", "29.93"),
        (Relative.BODY_WEIGHT, "226.5", "70", "33.00"),
        (Relative.BODY_MASS, "142.8", "70", "2.04"),
        (Relative.HEIGHT, "142", "165", "86.06"),
        (Relative.LEG_LENGTH, "62", "88", "70.45"),
    ],
)
def test_worked_examples(relative, value, body, shown):
    found = relative_value(relative=relative, value=Decimal(value), body=Decimal(body))
    assert f"{float(found):.2f}" == shown


@every_case("relative", Relative)
def test_a_body_of_nothing_is_refused(relative):
    with pytest.raises(TypedError):
        relative_value(relative=relative, value=Decimal(1), body=Decimal(0))


def found(relative, of, rows):
    return body_for(relative=relative, reading=of, catalogue=CATALOGUE, readings=rows, on=DAY)


def test_the_newest_that_was_measured_and_is_not_out_of_date_counts():
    hop = reading("single_hop", L, "142", DAY)
    old = reading("height", NONE, "164", DAY - timedelta(days=366))
    kept = reading("height", NONE, "165", DAY - timedelta(days=365))
    refused = reading("height", NONE, None, DAY, status=ReadingStatus.DECLINED)
    later = reading("height", NONE, "166", DAY + timedelta(days=1))
    assert found(Relative.HEIGHT, hop, [old, kept, refused, later]) is kept
    assert found(Relative.HEIGHT, hop, [old, refused, later]) is None


@every_case(("used", "length"), [("own", "88"), ("left", "88"), ("right", "90")])
def test_a_leg_length_is_the_limbs_own_or_the_one_that_the_test_names(used, length):
    reach = reading("reach_anterior", L, "62", DAY, key=f"leg_length_used={used}")
    body = found(Relative.LEG_LENGTH, reach, both("leg_length", "88", "90", DAY))
    assert body is not None
    assert body.value == Decimal(length)
    assert body.limb is (R if used == "right" else L)
