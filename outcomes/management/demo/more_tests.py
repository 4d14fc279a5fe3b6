"""What else was found at the demo's visits: daily life, trunk and knee, the other hops."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from outcomes.management.demo import curves
from outcomes.management.demo.curves import at, noise, whole
from outcomes.management.demo.stories import SEED, Person, Test

SPREAD = (0.96, 1.0, 0.98)
"""Three trials around the best."""


def more_tests(person: Person, week: int) -> Iterator[Test]:
    """Findings of daily life for everybody; the knee and the battery for every third person."""
    rng = Random(SEED * 2000 + person.number * 200 + week)  # noqa: S311  invented values
    if week >= 0:
        yield from _daily(person, week)
    if person.number % 3 != 1:
        return
    if 8 <= week < 30:
        yield from _seen(person, week, rng)
    if week in (16, 26, 39, 52):
        yield _hamstrings(person, week, rng)
        yield Test(measure="height", texts={"none": f"{_height(person):.1f}"})
    if week in (26, 39, 52) and person.story != "early_loss":
        yield from _battery(person, week, rng)


def _daily(person: Person, week: int) -> Iterator[Test]:
    """Yes or no, as early as is usual; a slow knee is later."""
    late = 2 if person.story in ("slow", "extension_loss") else 0
    if week <= 1:
        if person.row["kind"] != "without_surgery":
            yield Test(measure="wound_closed", texts={person.involved: "yes"})
        yield Test(measure="quad_set_with_glide", texts={person.involved: _yes(late == 0)})
    if week <= 4:
        straight = _yes(week >= 2 + late)
        yield Test(measure="straight_leg_raise_without_lag", texts={person.involved: straight})
        yield Test(measure="gait_without_aids", texts={"none": _yes(week >= 3 + late)})
    if 2 <= week <= 8:
        yield Test(measure="gait_without_limp", texts={"none": _yes(week >= 6 + late)})
    if week == 12 and person.story != "effusion_returns":
        walked = {person.involved: _yes(late == 0)}
        yield Test(measure="brisk_walk_30min_without_swelling", texts=walked)
        yield Test(measure="two_leg_landing_tolerated", texts={"none": _yes(late == 0)})


def _yes(found: bool) -> str:
    return "yes" if found else "no"


def _seen(person: Person, week: int, rng: Random) -> Iterator[Test]:
    """Trunk and knee in the lateral heel touch, and in the forward one once that is done."""
    tasks = ("lateral_heel_touch", "forward_heel_touch") if week >= 12 else ("lateral_heel_touch",)
    for task in tasks:
        worse = whole(at(curves.DROP, week) + noise(rng, 0.3), low=0, high=2)
        for measure, grades in (
            ("trunk_lean", ("upright", "slight", "marked")),
            ("forward_knee_travel", ("full", "short", "held back")),
            ("knee_medial_position", ("over foot", "inside big toe", "inside foot")),
        ):
            texts = {person.other: grades[0], person.involved: grades[worse]}
            yield Test(measure=measure, texts=texts, task=task)


def _hamstrings(person: Person, week: int, rng: Random) -> Test:
    grafted = 12 if person.row["graft"] == "hamstring" else 2
    other = person.torque_other * 0.56 * (1 + noise(rng, 0.03))
    index = min(104.0, 100 - grafted * 26 / max(26, week) + noise(rng, 2))
    return _both("hamstring_torque", person, other, index, form=".0f", conditions={
        "device": "fixed", "knee_angle": "90",
    })  # fmt: skip


def _height(person: Person) -> float:
    return (178 if person.row["sex"] == "male" else 167) + person.number % 7 - 3


def _battery(person: Person, week: int, rng: Random) -> Iterator[Test]:
    """The other hops and the jump for height, whose index lags behind the hops."""
    share = at(curves.HOP, week) + person.hop_shift + noise(rng, 2)
    index = max(60.0, min(106.0, share))
    conditions = {"hands": "free", "shoes": "worn", "brace": "no"}
    for measure, times in (("triple_hop", 2.9), ("crossover_hop", 2.7)):
        other = person.hop_other * times
        yield _both(measure, person, other, index, form=".0f", conditions=conditions)
    jump = {"device": "height", "hands": "held"}
    yield _both(
        "vertical_jump", person, person.hop_other * 0.11, index - 9, form=".1f", conditions=jump
    )
    yield Test(measure="controlled_landing", texts={
        person.other: "yes", person.involved: _yes(index >= 85),
    })  # fmt: skip


def _both(
    measure: str,
    person: Person,
    other: float,
    index: float,
    *,
    form: str,
    conditions: dict[str, str],
) -> Test:
    """Three trials of each limb, the involved one at so much per cent of the other."""
    best = {person.other: other, person.involved: other * index / 100}
    trials = {limb: [format(value * step, form) for step in SPREAD] for limb, value in best.items()}
    texts = {limb: values[1] for limb, values in trials.items()}
    return Test(measure=measure, texts=texts, conditions=conditions, trials=trials)
