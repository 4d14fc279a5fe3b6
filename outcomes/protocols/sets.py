"""What a visit asks for, week by week: read from a protocol, without a hole and without overlap."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from outcomes.catalogue.fields import Fields, sources_from
from outcomes.core.values import Measure, MeasureSet

FIRST_MEASURES: Final = (
    "pain_worst_24h", "pain_front_of_knee", "effusion", "knee_extension", "knee_flexion",
    "standing_hip_hold", "pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch",
    "quadriceps_torque", "single_hop", "timed_hop_6m", "pain_during_test", "body_mass",
)  # fmt: skip
"""What a protocol without sets asks for, each measure from its own earliest week."""


def sets_from(fields: Fields, catalogue: Mapping[str, Measure]) -> tuple[MeasureSet, ...]:
    """The sets of a protocol: one before surgery, then one for every week from 0, without end.

    Raises ``SeedError`` for an unknown measure, for weeks in two sets and for weeks in none. A
    protocol without sets gets those of the first measures.
    """
    if "sets" not in fields:
        return _by_earliest_week(catalogue)
    sets = tuple(_set(part, catalogue) for part in fields.parts("sets", needed=True))
    if [one.first for one in sets].count(None) != 1:
        raise fields.refuse("sets", "needs exactly one for before surgery")
    _check_weeks([one for one in sets if one.first is not None], fields)
    return sets


def _set(fields: Fields, catalogue: Mapping[str, Measure]) -> MeasureSet:
    before = fields.truth("before_surgery", default=False)
    found = MeasureSet(
        label=fields.text("label"),
        first=None if before else fields.integer("from_week"),
        last=None if before else fields.integer_or_none("to_week"),
        measures=fields.texts("measures"),
        sources=sources_from(fields),
        operated=fields.texts("operated"),
    )
    fields.done()
    if not found.measures:
        raise fields.refuse("measures", "is missing")
    for code in found.measures:
        if code not in catalogue:
            raise fields.refuse("measures", f"{code!r} is not in the catalogue")
        if not catalogue[code].typed:
            raise fields.refuse("measures", f"{code!r} is worked out, not asked")
    if not set(found.operated) <= set(found.measures):
        raise fields.refuse("operated", "must name some of the measures")
    return found


def _check_weeks(sets: list[MeasureSet], fields: Fields) -> None:
    """Each set begins where the one before it ends; the last one has no end."""
    due = 0
    for one in sets:
        first = one.first or 0
        if first < due:
            raise fields.refuse("sets", f"week {first} is in two of them")
        if first > due:
            raise fields.refuse("sets", f"week {due} is in none of them")
        if one is sets[-1]:
            break
        if one.last is None:
            raise fields.refuse("sets", f"only the last one has no end: {one.label}")
        due = one.last + 1
        if due <= first:
            raise fields.refuse("sets", f"{one.label} ends before it begins")
    if not sets or sets[-1].last is not None:
        raise fields.refuse("sets", "the last one has no end: leave to_week out")


def _by_earliest_week(catalogue: Mapping[str, Measure]) -> tuple[MeasureSet, ...]:
    there = [catalogue[code] for code in FIRST_MEASURES if code in catalogue]
    known = {measure.code: measure.earliest_week or 0 for measure in there}
    starts = sorted({0, *known.values()})
    before = MeasureSet(label="Before surgery", first=None, last=None, measures=tuple(known))
    return (
        before,
        *(
            MeasureSet(
                label=f"From week {first}",
                first=first,
                last=following - 1 if following is not None else None,
                measures=tuple(code for code, earliest in known.items() if earliest <= first),
            )
            for first, following in zip(starts, [*starts[1:], None], strict=True)
        ),
    )
