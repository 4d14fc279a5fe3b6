"""The demo's people and what was found at each of their visits: invented, from a fixed seed."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from random import Random

from outcomes.management.demo import curves
from outcomes.management.demo.curves import at, noise, whole

SEED = 20261125
GRADES = ("level", "slight", "moderate", "marked")
RUPTURED = 3
"""Weeks ago that the graft of that story ruptured; its visits end there."""
CONVERTED = 26
"""Weeks without surgery after which the person of that story is operated: values start again."""
EFFUSIONS = ("zero", "trace", "1+", "2+", "3+")
SCHEDULE = (
    -4,
    1,
    2,
    3,
    4,
    6,
    7,
    8,
    10,
    12,
    14,
    15,
    16,
    18,
    20,
    23,
    26,
    30,
    34,
    39,
    45,
    52,
    60,
    78,
    104,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Test:
    """What was found in one test at one visit, as a clinician would type it, by limb.

    ``task``: it was seen in that task, in the row that leads it.
    """

    measure: str
    texts: dict[str, str]
    conditions: dict[str, str] = field(default_factory=dict)
    details: dict[str, dict[str, str]] = field(default_factory=dict)
    trials: dict[str, list[str]] = field(default_factory=dict)
    task: str = ""

    @property
    def row(self) -> str:
        """The row of the ledger that it is typed in."""
        return f"{self.measure}-{self.task}" if self.task else self.measure


@dataclass(frozen=True, kw_only=True, slots=True)
class Person:
    """One line of ``patients.csv`` with the traits drawn for this person."""

    number: int
    row: dict[str, str]
    quadriceps_shift: float
    hop_shift: float
    torque_other: float
    hop_other: float
    mass: float

    @property
    def weeks(self) -> int:
        """Weeks since the index date today; negative while it lies ahead."""
        return int(self.row["weeks"])

    @property
    def story(self) -> str:
        """Which story this person lives through."""
        return self.row["story"]

    @property
    def involved(self) -> str:
        """The followed knee."""
        return self.row["knee"]

    @property
    def other(self) -> str:
        """The other limb."""
        return "left" if self.involved == "right" else "right"

    def index_date(self, *, today: date) -> date:
        """The day of the operation (or injury), so that today is in the person's week."""
        days = 2 + self.number % 5 if self.number > 1 else 0
        return today - timedelta(days=7 * self.weeks + days)


def people(folder: Path) -> list[Person]:
    """Everybody in ``patients.csv``, with their traits, always the same."""
    with (folder / "patients.csv").open(encoding="utf-8", newline="") as file:
        return [_person(number, row) for number, row in enumerate(csv.DictReader(file), start=1)]


def _person(number: int, row: dict[str, str]) -> Person:
    rng = Random(SEED + number)  # noqa: S311  invented values, not a secret
    level, man = float(row["level"]), row["sex"] == "male"
    shared = noise(rng, 0.6)
    mass = (78 if man else 65) + noise(rng, 8)
    return Person(
        number=number,
        row=row,
        quadriceps_shift=9 * (0.7 * level + 0.5 * shared + noise(rng, 0.5)) - 3,
        hop_shift=7 * (0.5 * level + 0.5 * shared + noise(rng, 0.5)) - 2,
        torque_other=mass * ((2.75 if man else 2.35) + noise(rng, 0.25)),
        hop_other=(152 if man else 124) + noise(rng, 12),
        mass=mass,
    )


def visit_weeks(person: Person) -> list[int]:
    """The weeks of the person's visits up to today."""
    weeks = [w for w in SCHEDULE if w <= person.weeks]
    if person.story == "waiting" or person.weeks < 0:
        return [-4]
    if person.row["kind"] == "without_surgery":
        weeks = [w for w in weeks if w > 0]
    if person.story == "no_baseline":
        weeks = [w for w in weeks if w > 0]
    if person.story == "converts":
        weeks = [w for w in weeks if w != CONVERTED]
    if person.story == "missed_visits":
        weeks = [w for w in weeks if w <= person.weeks - 9]
    if person.story in ("discharged", "follow_up"):
        weeks = [w for w in weeks if w <= 39]
    if person.story == "ruptures":
        weeks = [w for w in weeks if w <= person.weeks - RUPTURED]
    if person.story == "on_hold":
        weeks = [w for w in weeks if w <= 18]
    return weeks


def visits(person: Person, *, today: date) -> Iterator[tuple[int, date, list[Test]]]:
    """Each visit: its week, its date (never after today) and what was found."""
    index = person.index_date(today=today)
    for week in visit_weeks(person):
        rng = Random(SEED * 1000 + person.number * 200 + week)  # noqa: S311
        on = min(index + timedelta(days=7 * week + rng.randint(0, 3)), today)
        while on.weekday() >= 5 and on > index:
            on -= timedelta(days=1)
        since = week - CONVERTED if person.story == "converts" and week > CONVERTED else week
        yield since, on, list(_tests(person, since, rng))


def _tests(person: Person, week: int, rng: Random) -> Iterator[Test]:
    yield from _first_look(person, week, rng)
    if week >= 6:
        yield _hip_hold(person, week, rng)
    if week >= 8:
        yield _heel_touch(person, week, rng, forward=False)
    if week >= 12:
        yield _heel_touch(person, week, rng, forward=True)
    if week in (-4, 6, 8, 12, 16, 20, 26, 30, 34, 39, 52, 78, 104) or (
        week == person.weeks and week >= 12
    ):
        yield Test(measure="body_mass", texts={"none": f"{person.mass + noise(rng, 0.6):.1f}"})
        yield _torque(person, week, rng)
    if week in (16, 20, 26, 34, 39, 52, 104) and person.story != "early_loss":
        yield from _hops(person, week, rng)
    if week >= 8:
        yield _pain_during(person, week, rng)


def _pain_during(person: Person, week: int, rng: Random) -> Test:
    """Pain during the hardest task of the stage: it is asked for one task at a visit."""
    pain = whole(0.7 * at(curves.PAIN, week) + noise(rng, 0.4), low=0, high=10)
    texts = {person.involved: str(pain)}
    if week >= 30:
        during = {"during": "single_hop"}
        return Test(measure="pain_during_test", texts=texts, conditions=during)
    task = "lateral_heel_touch" if week < 16 else "forward_heel_touch"
    return Test(measure="pain_during_test", texts=texts, task=task)


def _first_look(person: Person, week: int, rng: Random) -> Iterator[Test]:
    knee, other = person.involved, person.other
    pain = whole(at(curves.PAIN, week) + noise(rng, 0.5), low=0, high=10)
    yield Test(measure="pain_worst_24h", texts={knee: str(pain)})
    if week >= 2:
        yield Test(measure="pain_front_of_knee", texts={knee: str(_front_pain(person, week, rng))})
    yield Test(
        measure="effusion",
        texts={knee: EFFUSIONS[_effusion(person, week, rng)]},
        conditions={"moment": "before"},
    )
    own = person.number % 4
    yield Test(
        measure="knee_extension",
        texts={knee: _extension(person, week, rng, own), other: _degrees(-own)},
    )
    if week <= 30:
        full = 141 + person.number % 5
        flexion = min(full, at(curves.FLEXION, week) + noise(rng, 4))
        texts = {knee: f"{flexion:.0f}"}
        if week < 2 or week >= 6:
            texts[other] = str(full)
        yield Test(measure="knee_flexion", texts=texts)


def _front_pain(person: Person, week: int, rng: Random) -> int:
    tendon = person.row["graft"] in ("patellar_tendon", "quadriceps_tendon")
    mean = at(curves.FRONT_PAIN, week) + (0.6 if tendon else -0.8)
    if person.story == "front_pain":
        mean = 5 if week >= 8 else 3.5
    return whole(mean + noise(rng, 0.5), low=0, high=10)


def _effusion(person: Person, week: int, rng: Random) -> int:
    mean = at(curves.EFFUSION, week) + noise(rng, 0.2)
    if person.story == "effusion_returns" and week >= person.weeks - 2:
        return 3 if week == max(visit_weeks(person)) else 2
    if person.story == "overloader" and week >= 6:
        return 2 if visit_weeks(person).index(week) % 2 else 1
    return whole(mean, low=0, high=4)


def _extension(person: Person, week: int, rng: Random, own: int) -> str:
    if person.story == "extension_loss" and week >= 2:
        return _degrees(8 if week < 5 else 6)
    if person.story == "cyclops_removed" and week >= 3:
        return _degrees(7 if week < 16 else 1)
    short = whole(at(curves.EXTENSION, week) + noise(rng, 0.45), low=0, high=9)
    return _degrees(short - own)


def _degrees(lacking: int) -> str:
    """The three-way entry: lacks, straight, beyond."""
    if lacking > 0:
        return f"lacks {lacking}"
    return "straight" if lacking == 0 else f"beyond {-lacking}"


def _hip_hold(person: Person, week: int, rng: Random) -> Test:
    other = min(45.0, 27 + 0.35 * week + noise(rng, 2.5) + person.number % 7)
    share = at(curves.HIP_HOLD, week) + 4 * float(person.row["level"]) + noise(rng, 4)
    involved = min(45.0, max(4.0, other * share / 100))
    ends = {
        limb: {"end_reason": "cap" if seconds >= 45 else "loss_of_level"}
        for limb, seconds in ((person.involved, involved), (person.other, other))
    }
    return Test(
        measure="standing_hip_hold",
        texts={person.other: f"{other:.1f}", person.involved: f"{involved:.1f}"},
        conditions={"hand_support": "yes" if week < 10 else "no", "added_load": "0"},
        details=ends,
    )


def _heel_touch(person: Person, week: int, rng: Random, *, forward: bool) -> Test:
    mean = at(curves.DROP, week) + (0.4 if forward else 0.0) - 0.3 * float(person.row["level"])
    grade = whole(mean + noise(rng, 0.25), low=0, high=3)
    how, when = "upright", "none"
    if person.story == "drop_resolves" and forward:
        grade = 3 if week <= 12 else 2 if week <= 15 else 0
    if person.story == "levels_by_leaning":
        grade, how = 0, "trunk_leans"
    if grade:
        when = "first_movement" if grade == 3 else "on_the_way_down"
    own = 1 if person.number % 9 == 0 and week < 20 else 0
    return Test(
        measure=f"pelvic_drop_{'forward' if forward else 'lateral'}_heel_touch",
        texts={person.other: GRADES[own], person.involved: GRADES[grade]},
        conditions={"step_height": "15" if week < 20 else "20"},
        details={
            person.involved: {"when": when, "kept_level_by": how},
            person.other: {
                "when": "only_at_depth" if own else "none",
                "kept_level_by": "upright",
            },
        },
    )


def _index(person: Person, week: int, rng: Random) -> float:
    graft = person.row["graft"] if person.row["graft"] in curves.QUADRICEPS else "none"
    if person.row["graft"] == "unknown":
        graft = "hamstring"
    index = at(curves.QUADRICEPS[graft], week) + person.quadriceps_shift + noise(rng, 2)
    if person.story == "slow":
        index -= 9
    if person.story == "setback" and week >= 30:
        index -= 17
    if person.story == "weak_other" and week > 0:
        index += 9
    return max(25.0, min(112.0, index))


def _torque(person: Person, week: int, rng: Random) -> Test:
    other = person.torque_other * (1 + noise(rng, 0.03))
    if person.story == "weak_other" and week > 0:
        other *= 0.76
    if person.story == "contralateral" and week > 0:
        other = person.torque_other * min(1.0, 0.62 + week * 0.012)
        involved = person.torque_other * min(1.0, 0.66 + week * 0.010)
    else:
        involved = other * _index(person, week, rng) / 100
    best = {person.other: other, person.involved: involved}
    trials = {
        limb: [f"{value * share:.0f}" for share in (0.94, 1.0, 0.97)]
        for limb, value in best.items()
    }
    return Test(
        measure="quadriceps_torque",
        texts={limb: values[1] for limb, values in trials.items()},
        conditions={"device": "fixed", "knee_angle": "90"},
        trials=trials,
    )


def _hops(person: Person, week: int, rng: Random) -> Iterator[Test]:
    slower = 4 if person.row["graft"] in ("patellar_tendon", "quadriceps_tendon") else 0
    share = at(curves.HOP, week) + person.hop_shift + noise(rng, 3) - (slower if week < 26 else 0)
    if person.story == "early_returner":
        share = max(share, 96)
    share = max(45.0, min(108.0, share)) / 100
    conditions = {"hands": "free", "shoes": "worn", "brace": "no"}
    far = person.hop_other + noise(rng, 4)
    for measure, other, involved, form in (
        ("single_hop", far, far * share, ".0f"),
        ("timed_hop_6m", 300 / far, 300 / far / share, ".2f"),
    ):
        spread = (0.96, 1.0, 0.98) if measure == "single_hop" else (1.05, 1.0, 1.02)
        trials = {
            limb: [format(value * step, form) for step in spread]
            for limb, value in ((person.other, other), (person.involved, involved))
        }
        yield Test(
            measure=measure,
            texts={limb: values[1] for limb, values in trials.items()},
            conditions=conditions,
            trials=trials,
        )
