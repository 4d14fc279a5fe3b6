"""What is asked once and carried: the body's measurements, with their date, until out of date."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from clinic import words
from outcomes.core.dates import age_on
from outcomes.core.thresholds import ADULT
from outcomes.core.values import Group, Limb, Measure, Reading, ReadingStatus
from outcomes.core.wording import value_words


def carried_words(
    *, measure: Measure, history: Sequence[Reading], birth_date: date, on: date
) -> str:
    """The values that still count, with their date: "65.7 kg, 6 Nov"; empty where it is asked.

    Asked again are a child, a value older than the measure's maximum age, and a limb without one.
    """
    age, child = measure.maximum_age_days, age_on(birth_date=birth_date, on=on) < ADULT
    if measure.group is not Group.BODY or age is None or child:
        return ""
    limbs = (Limb.LEFT, Limb.RIGHT) if measure.per_limb else (Limb.NONE,)
    newest = [_newest(measure, limb, history, on - timedelta(days=age)) for limb in limbs]
    found = [reading for reading in newest if reading is not None]
    if len(found) < len(limbs):
        return ""
    said = [_value(measure, reading) for reading in found]
    return f"{', '.join(said)}, {words.short_day(min(r.on for r in found), today=on)}"


def _newest(
    measure: Measure, limb: Limb, history: Sequence[Reading], oldest: date
) -> Reading | None:
    """The newest value of a limb that is young enough; ``history`` is oldest first."""
    return next(
        (
            reading
            for reading in reversed(history)
            if (reading.measure, reading.limb, reading.status)
            == (measure.code, limb, ReadingStatus.MEASURED)
            and reading.on >= oldest
        ),
        None,
    )


def _value(measure: Measure, reading: Reading) -> str:
    side = "" if reading.limb is Limb.NONE else f"{reading.limb} "
    return side + value_words(measure=measure, value=reading.value)
